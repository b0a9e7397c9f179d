"""``hidewright layout ORDER.toml --out DIR``: lay an order on its hides."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nesting.files.layout import Layout
    from nesting.files.order import Order
    from nesting.files.report import Report
    from nesting.planning.plan import Improvement
    from nesting.planning.workers import Bounds

SOME_UNPLACED = 3
WIDEST_LABEL = 44


def run(
    order: Annotated[Path, typer.Argument(metavar="ORDER.toml", help="What to cut, from which hides.")],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for the results.")],
    seconds: Annotated[
        float | None, typer.Option(min=0.1, help="How long to look for better layouts. Default 20.")
    ] = None,
    rounds: Annotated[
        int | None, typer.Option(min=1, help="Bound the work instead: same seed, same rounds, same bytes.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, help="Another seed, another layout.")] = 1,
    workers: Annotated[
        int | None, typer.Option(min=1, max=64, help="Processes that search. Default: one a core, at most 4.")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(
            metavar="LAYOUT.json",
            help="After a late find: what is still valid stays where this layout has it, few others move. "
            "Ends as soon as no way can be better.",
        ),
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="The report on stdout.")] = False,
) -> None:
    """Lay an order: writes layout.json, report.json, layout.png, layout.svg and cut.dxf to DIR."""
    if seconds is not None and rounds is not None:
        raise typer.BadParameter("give --seconds or --rounds, not both")
    from cli.shelved import read_order_steadily
    from nesting.planning.workers import Bounds

    read = read_order_steadily(order)
    folder = ready_folder(out)
    bounds = Bounds(20.0 if seconds is None else seconds, rounds)
    workers = workers or min(4, os.cpu_count() or 1)
    if keep is not None:
        lay_again(read, keep, seed, bounds, workers, folder, json_)
        return
    refuse_hopeless(read)
    layout = search(read, seed, bounds, workers)
    report = write_results(layout, read, folder)
    tell(layout, report, folder, json_)
    tell_limits(read, layout)
    if layout.unplaced:
        raise typer.Exit(SOME_UNPLACED)


def refuse_hopeless(order: Order) -> None:
    """InputError when no panel of the order has room on any hide: before the search, and its folder."""
    from nesting.errors import InputError
    from nesting.planning.room import hopeless

    why = hopeless(order)
    if why is not None:
        raise InputError(why)


def ready_folder(out: Path) -> Path:
    """The results' folder, or the one it will be made in, may be written; InputError when not.

    Asked before the search, so that nobody waits for a result that has no place. Nothing is made yet.
    """
    from nesting.errors import InputError

    there = next(folder for folder in (out, *out.absolute().parents) if folder.exists())
    if not there.is_dir():
        raise InputError(f"{there}: is a file, not a folder; choose another --out")
    if not os.access(there, os.W_OK):
        raise InputError(f"{there}: may not be written; choose another --out")
    return out


def search(order: Order, seed: int, bounds: Bounds, workers: int) -> Layout:
    """Look for the best layout within bounds, with a bar; Ctrl-C keeps the best so far."""
    from cli.bar import SearchBar
    from cli.engine import ready_engine
    from nesting.errors import InputError
    from nesting.planning.room import nothing_laid
    from nesting.planning.workers import TRACKS_OF_ROUNDS, best_layout

    ready_engine()
    total = bounds.seconds if bounds.rounds is None else float(bounds.rounds * TRACKS_OF_ROUNDS)
    start = time.monotonic()
    with SearchBar(total, sys.stderr.isatty()) as bar:

        def progress(better: Improvement | None, done: int) -> None:
            at = done if bounds.rounds is not None else time.monotonic() - start
            # A first layout without a piece is no news: whether it stays so is said in the end.
            laid = better is not None and better.layout.hides
            bar.update(at, in_words(better) if better is not None and laid else None)

        found = best_layout(order, seed, bounds, workers, progress)
    if found is None:
        raise InputError(f"{order.path}: stopped before a first layout was found; give it more time")
    if not found[0].hides:
        raise InputError(nothing_laid(order))
    return found[0]


def in_words(better: Improvement) -> str:
    """``24 pieces, yield 71 %``, and what is missing."""
    from nesting.rings import area

    layout = better.layout
    areas = {panel.name: area(panel.outline) for panel in layout.panels}
    pieces = [p for laid in layout.hides for p in laid.placements]
    leather = sum(area(laid.hide.outline) for laid in layout.hides)
    share = 100 * sum(areas[p.panel] for p in pieces) / leather if leather else 0.0
    missing = f", {better.plan.score.missing} without room" if better.plan.score.missing else ""
    hides = f"{len(layout.hides)} {'hide' if len(layout.hides) == 1 else 'hides'}"
    return f"{len(pieces)} pieces, {hides}, yield {share:.0f} %{missing}"


def lay_again(
    order: Order, keep: Path, seed: int, bounds: Bounds, workers: int, folder: Path, as_json: bool
) -> None:
    """Lay an order after a late find: what still stands stays, and few others move.

    A piece that lay and finds no room any more is one that found no room, were it one that filled.
    """
    from cli.relaid import relaid, tell_relaid

    after = relaid(order, keep, seed, bounds, workers)
    report = write_results(after.layout, order, folder, frozenset((*after.moved, *after.added)))
    tell_relaid(after, report, as_json)
    tell(after.layout, report, folder, as_json=False)
    if after.layout.unplaced or after.lost:
        raise typer.Exit(SOME_UNPLACED)


def write_results(layout: Layout, order: Order, folder: Path, anew: frozenset[str] | None = None) -> Report:
    """Judge, account, draw everything, then write it all to the folder."""
    from nesting.account import account
    from nesting.files.json_text import dump_json
    from nesting.files.layout_file import layout_to_json
    from nesting.files.report import report_to_json
    from nesting.files.whole import write_together
    from nesting.judge import assert_layout_valid
    from nesting.output import all_files

    assert_layout_valid(layout)
    report = account(layout, order)
    files: dict[str, bytes | str] = {
        "layout.json": dump_json(layout_to_json(layout)),
        "report.json": dump_json(report_to_json(report)),
        **all_files(layout, report, order, anew),
    }
    make_folder(folder)
    write_together({folder / name: data for name, data in files.items()})
    return report


def make_folder(folder: Path) -> None:
    """Make a folder with those above it; InputError when that cannot be."""
    from nesting.errors import InputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be made ({error.strerror}); choose another --out") from error


def tell_limits(order: Order, layout: Layout) -> None:
    """Say on stderr where the engine, not the leather, has ended a fill."""
    from nesting.planning.plan import at_most_filled

    for words in at_most_filled(order, layout):
        print(f"note: {words}", file=sys.stderr)


def tell(layout: Layout, report: Report, folder: Path, as_json: bool) -> None:
    """The report: as lines on stderr, or as JSON on stdout."""
    from nesting.account.words import report_lines
    from nesting.files.report import report_to_json
    from nesting.judge import cautions

    if as_json:
        print(json.dumps(report_to_json(report), ensure_ascii=False, default=str))
    lines = report_lines(report)
    # A panel with a long name must not push all values off the terminal.
    width = max(len(label) for label, _ in lines if len(label) <= WIDEST_LABEL)
    for label, value in lines:
        print(f"{label:<{width}}  {value}", file=sys.stderr)
    for words in cautions(layout):
        print(f"caution: {words}", file=sys.stderr)
    print(f"written to {folder}: layout.json report.json layout.png layout.svg cut.dxf", file=sys.stderr)
