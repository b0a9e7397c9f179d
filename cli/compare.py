"""``hidewright compare ORDER.toml --out DIR [HIDE...]``: the same order on each of several hides."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nesting.compare.comparison import Comparison
    from nesting.compare.laying import Bounds
    from nesting.compare.outcome import Entry
    from nesting.compare.trials import Candidate, Trial
    from nesting.compare.typical import Described
    from nesting.files.order import Order

MOST_PAIRS = 1000


def run(
    order: Annotated[Path, typer.Argument(metavar="ORDER.toml", help="What is to be cut.")],
    hides: Annotated[
        list[Path] | None,
        typer.Argument(metavar="[HIDE...]", help="Hide files, instead of the order's hides."),
    ] = None,
    *,
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the results.")],
    fill: Annotated[
        bool, typer.Option("--fill", help="As many as fit of each panel by itself, not the ordered numbers.")
    ] = False,
    panel: Annotated[str | None, typer.Option(metavar="NAME", help="Only this panel of the order.")] = None,
    pairs: Annotated[
        str | None,
        typer.Option(metavar="N|A..B", help="The cheapest set of hides for so many pairs of a panel."),
    ] = None,
    cut: Annotated[
        list[str] | None,
        typer.Option(help="A hide not yet bought: single shoulder, double shoulder, side, bend or belly."),
    ] = None,
    area: Annotated[
        list[str] | None, typer.Option(help='Its area: "7 1/4 ft2". Else what is usual for the cut.')
    ] = None,
    weight: Annotated[
        list[str] | None, typer.Option(help='Its weight: "4-5 oz". Else what the order asks for.')
    ] = None,
    price: Annotated[list[str] | None, typer.Option(help='Its price: "9.50 USD/ft2" or "62 USD".')] = None,
    seconds: Annotated[
        float | None, typer.Option(min=0.1, help="How long to search on each hide. Default 5.")
    ] = None,
    rounds: Annotated[
        int | None, typer.Option(min=1, help="Bound the work instead: same seed, same rounds, same bytes.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Another seed, other layouts.")] = 1,
    json_: Annotated[bool, typer.Option("--json", help="The comparison on stdout.")] = False,
) -> None:
    """The same order on each of several hides, laid and judged on each alone: compare.json and pictures.

    The layout on each hide at hand is kept as HIDE/layout.json in DIR, to be exported and cut.
    Area, yield, waste by cause and cost of each, the best one and why. For a hide not yet bought (--cut,
    --area, may be repeated) three typical outlines stand in, with few, usual and many flaws. A hide
    outside the order's weights is laid too, shown as such, and not called best. --pairs reckons with each
    hide once, and with as many as needed of those not yet bought.
    """
    if seconds is not None and rounds is not None:
        raise typer.BadParameter("give --seconds or --rounds, not both")
    span = None if pairs is None else _span(pairs)
    from cli.layout import ready_folder
    from cli.to_buy import described_hides
    from nesting.compare.laying import Bounds
    from nesting.compare.trials import trials

    described = described_hides(cut or (), area or (), weight or (), price or ())
    read, candidates = _read(order, hides or (), described, panel)
    if span is not None and len(read.lines) > 1:
        names = ", ".join(line.panel.name for line in read.lines)
        raise typer.BadParameter(f"say of which panel: --panel NAME, one of {names}", param_hint="--pairs")
    folder = ready_folder(out)
    bounds = Bounds(5.0 if seconds is None else seconds, rounds)
    fill = fill or span is not None
    entries = _laid(trials(read, candidates, fill), read, seed, bounds)
    _refuse_nothing(entries, read)
    notes = [note for one in described if (note := one.unusual)]
    from nesting.compare.comparison import compared

    comparison = compared(read, entries, fill, seed, bounds, span, notes)
    written = _write(comparison, folder)
    _tell(comparison, folder, written, json_)


def _span(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(\d{1,4})\s*(?:\.\.\s*(\d{1,4})\s*)?", text)
    first, last = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= first <= last <= MOST_PAIRS:
        raise typer.BadParameter(
            f'{text!r}: write a number or a range, as in "12" or "1..20", up to {MOST_PAIRS}',
            param_hint="--pairs",
        )
    return first, last


def _read(
    path: Path, files: Sequence[Path], described: Sequence[Described], panel: str | None
) -> tuple[Order, list[Candidate]]:
    """The order, its lines only those of ``panel``, and all hides to lay it on."""
    from cli.shelved import from_shelves
    from nesting.account.money import one_currency
    from nesting.compare.trials import as_it_is, not_yet_bought
    from nesting.errors import InputError
    from nesting.files.order_file import read_order_bare
    from nesting.files.order_rules import hides_in, hides_of
    from nesting.shelf.steady import refuse_cut

    order, patterns = read_order_bare(path)
    if panel is not None:
        chosen = tuple(line for line in order.lines if panel in (one.name for one in line.panels))
        if not chosen:
            names = ", ".join(one.name for one in order.panels)
            raise InputError(f'{path}: has no panel "{panel}"; it has {names}')
        order = replace(order, lines=chosen)
    source = str(path)
    if files:
        chosen_files = list(dict.fromkeys(files))
        hides = from_shelves(lambda: hides_in(chosen_files, source), (), path.parent, chosen_files)
    elif patterns or not described:
        refuse_cut(patterns, path.parent)
        hides = from_shelves(lambda: hides_of(patterns, path, source), patterns, path.parent)
    else:
        # An order for leather still to be bought may name no hides.
        hides = ()
    candidates = [as_it_is(hide) for hide in hides] + [not_yet_bought(one, order) for one in described]
    names_of = [one.name for one in candidates]
    if twice := [name for name in dict.fromkeys(names_of) if names_of.count(name) > 1]:
        raise InputError(f'"{twice[0]}" is there twice; describe each hide not yet bought once')
    one_currency([hide for one in candidates for hide in one.hides], order.costs.currency)
    return replace(order, hides=hides), candidates


def _laid(trials: Sequence[Trial], order: Order, seed: int, bounds: Bounds) -> list[Entry]:
    """Every trial laid, with a bar. Ctrl-C ends it, and nothing is written."""
    from cli.bar import SearchBar
    from cli.engine import ready_engine
    from nesting.compare.laying import lay

    ready_engine()
    total = sum(len(trial.candidate.hides) for trial in trials)
    done = 0
    entries = []
    with SearchBar(float(total), sys.stderr.isatty()) as bar:

        def laid() -> None:
            nonlocal done
            done += 1
            bar.update(float(done))

        for trial in trials:
            bar.update(float(done), f"{trial.candidate.name}, {done + 1} of {total}")
            entries.append(lay(trial, order, seed, bounds, laid))
    return entries


def _refuse_nothing(entries: Sequence[Entry], order: Order) -> None:
    """InputError, with sizes, where no piece found room on any hide."""
    from nesting.errors import InputError
    from nesting.planning.room import nothing_laid

    if any(outcome.pieces for entry in entries for outcome in entry.outcomes):
        return
    hides = tuple(hide for entry in entries for hide in entry.trial.candidate.hides)
    lines = tuple(replace(line, weight_oz=None) for line in order.lines)
    raise InputError(nothing_laid(replace(order, hides=hides, lines=lines)))


def _write(comparison: Comparison, folder: Path) -> list[str]:
    """Draw everything, then write it; the names of the files."""
    from cli.layout import make_folder
    from nesting.compare.chart import comparison_chart
    from nesting.compare.pairs_chart import pairs_chart
    from nesting.compare.record import compare_to_json
    from nesting.files.compare_file import check_compare
    from nesting.files.json_text import dump_json, parse_json
    from nesting.files.whole import write_together

    text = dump_json(compare_to_json(comparison))
    check_compare(parse_json(text, "compare.json"), "compare.json")
    files: dict[str, bytes | str] = {"compare.json": text, "compare.png": comparison_chart(comparison)}
    if comparison.pairs is not None and any(comparison.pairs.sets):
        files["pairs.png"] = pairs_chart(comparison.pairs, comparison.currency)
    layouts = _layouts(comparison)
    for path in dict.fromkeys((folder / name).parent for name in (*files, *layouts)):
        make_folder(path)
    write_together({folder / name: data for name, data in (files | layouts).items()})
    return [*files, *(name for name in layouts if name.endswith("layout.json"))]


def _layouts(comparison: Comparison) -> dict[str, bytes | str]:
    """The layout that each hide at hand was compared by, and its report, by file name."""
    from nesting.compare.folders import LAYOUT, REPORT, folders
    from nesting.files.json_text import dump_json
    from nesting.files.layout_file import layout_to_json
    from nesting.files.report import report_to_json

    files: dict[str, bytes | str] = {}
    for entry, kept in zip(comparison.entries, folders(comparison.entries), strict=True):
        if kept is not None:
            files[f"{kept}/{LAYOUT}"] = dump_json(layout_to_json(entry.usual.layout))
            files[f"{kept}/{REPORT}"] = dump_json(report_to_json(entry.usual.report))
    return files


def _tell(comparison: Comparison, folder: Path, written: Sequence[str], as_json: bool) -> None:
    """The tables, the best, the notes on stderr; as JSON on stdout when asked for."""
    from nesting.compare.record import compare_to_json
    from nesting.compare.words import best_lines, leather_rows, piece_rows, set_rows

    tables = [leather_rows(comparison), piece_rows(comparison)]
    if comparison.pairs is not None:
        tables.append(set_rows(comparison.pairs, comparison.currency))
    for rows in tables:
        _table(rows)
        print(file=sys.stderr)
    for line in [*best_lines(comparison), *(f"note: {note}" for note in comparison.notes)]:
        print(line, file=sys.stderr)
    print(f"written to {folder}: {', '.join(written)}", file=sys.stderr)
    if as_json:
        print(json.dumps(compare_to_json(comparison), indent=2, ensure_ascii=False))


_WORDS = {"hide", "leather for", "panel", "which", "for"}


def _table(rows: Sequence[tuple[str, ...]]) -> None:
    """Columns as wide as they need, numbers to the right; a row of one cell is a heading."""
    head = rows[0]
    widths = [max(len(row[i]) for row in rows if len(row) > 1) for i in range(len(head))]
    for row in rows:
        cells = row if len(row) == 1 else [
            text.ljust(width) if title in _WORDS else text.rjust(width)
            for text, width, title in zip(row, widths, head, strict=True)
        ]  # fmt: skip
        print("  ".join(cells).rstrip(), file=sys.stderr)
