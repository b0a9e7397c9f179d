"""``hidewright shelf DIR``: what lies on the shelf, area and worth by weight, and yields so far."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from nesting.files.hide import Hide
    from nesting.shelf import Cut, Group, Shelf

Row = tuple[str, ...]
_SHARES = ("of the hide", "of the usable", "of what was used up")
_NUMBERS = {"ft²", "dm²", "pieces", *_SHARES}


def run(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="The shelf: a folder of hide files.")],
    chart: Annotated[
        Path | None, typer.Option(metavar="F.png", help="Picture of the yields over time to write.")
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """What lies on a shelf: area and worth by weight, and the yields so far.

    Worth is what the hides cost. A hide file that cannot be read is told of, and the exit status is 1.
    """
    from nesting.shelf import open_shelf

    found = open_shelf(folder)
    if json_:
        print(json.dumps(_result(found), indent=2, ensure_ascii=False))
    else:
        _show(found)
    _tell(found)
    # What lies there is shown even where there is nothing to draw.
    if chart is not None:
        from nesting.files.whole import write_whole
        from nesting.shelf.chart import yield_chart

        write_whole(chart, yield_chart(found.journal))
        print(f"written: {chart}", file=sys.stderr)
    if found.broken:
        raise typer.Exit(1)


def _tell(found: Shelf) -> None:
    """What is not in the table."""
    if found.finished is not None:
        cut = found.finished
        print(
            f'the cut of "{cut.title}" on {cut.date} had been broken off; it is entered now', file=sys.stderr
        )
    if found.strange:
        names = ", ".join(found.strange[:5]) + (", ..." if len(found.strange) > 5 else "")
        print(f"left alone, no hide files (NAME.hide.json): {names}", file=sys.stderr)
    for name in _twice(found):
        print(f'hidewright: two files are of a hide "{name}"; keep one of them', file=sys.stderr)
    for message in found.broken:
        print(f"hidewright: {message}", file=sys.stderr)


def _twice(found: Shelf) -> list[str]:
    names = [one.hide.name for one in found.hides]
    return sorted({name for name in names if names.count(name) > 1})


def _show(found: Shelf) -> None:
    from nesting.shelf.stock import by_weight, group

    groups = by_weight(one.hide for one in found.hides)
    if not groups:
        print("the shelf is empty: put hide files (NAME.hide.json) into the folder")
    else:
        rows: list[Row] = [("weight", "hide", "cut", "ft²", "dm²", "worth")]
        for one in groups:
            rows += [_hide(hide, _weight(one) if i == 0 else "") for i, hide in enumerate(one.hides)]
            rows += [_sum(one, f"{_weight(one)} in all"), ()] if len(one.hides) > 1 else [()]
        rows.append(_sum(group(one.hide for one in found.hides), "on the shelf"))
        _table(rows)
    if found.journal:
        print()
        _table(_yields(found.journal))


def _weight(one: Group) -> str:
    from nesting.units import format_weight

    return "weight unknown" if one.weight_oz is None else format_weight(one.weight_oz)


def _hide(hide: Hide, weight: str) -> Row:
    from nesting.shelf.stock import group

    single = group([hide])
    return (weight, hide.name, hide.cut, *_areas(single.area_mm2), _worth(single))


def _sum(one: Group, words: str) -> Row:
    count, remnants = len(one.hides), one.remnants
    held = f"{count} hide{'' if count == 1 else 's'}"
    if remnants:
        held += f", {remnants} of them remnant{'' if remnants == 1 else 's'}"
    return (words, held, "", *_areas(one.area_mm2), _worth(one))


def _areas(area_mm2: float) -> tuple[str, str]:
    from nesting.units import DM2_MM2, FT2_MM2

    return f"{area_mm2 / float(FT2_MM2):.2f}", f"{area_mm2 / float(DM2_MM2):.1f}"


def _worth(one: Group) -> str:
    sums = " + ".join(f"{amount:.2f} {currency}" for currency, amount in one.worth)
    if not one.unpriced:
        return sums
    unknown = "not known" if len(one.hides) == one.unpriced else f"{one.unpriced} without a price"
    return f"{sums}, {unknown}" if sums else unknown


def _yields(cuts: Sequence[Cut]) -> list[Row]:
    """A line a cut. The sum is of leather used up: a remnant cut again would count twice in hides."""
    from nesting.shelf.stock import share_of_used

    rows: list[Row] = [("cut on", "layout", "pieces", *_SHARES, "cost")]
    for cut in cuts:
        shares = map(_percent, (cut.yields.of_hide, cut.yields.of_usable, share_of_used([cut])))
        rows.append((cut.date.isoformat(), cut.title, str(cut.pieces), *shares, _cost(cut)))
    pieces = str(sum(cut.pieces for cut in cuts))
    rows.append(("so far", "", pieces, "", "", _percent(share_of_used(cuts)), ""))
    return rows


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _cost(cut: Cut) -> str:
    total = cut.cost.get("total")
    if total is None:
        return "not known"
    return " ".join(part for part in (f"{total:.2f}", cut.currency) if part)


def _table(rows: Sequence[Row]) -> None:
    """Columns as wide as they need; numbers to the right."""
    widths = [max(len(row[i]) for row in rows if row) for i in range(len(rows[0]))]
    for row in rows:
        cells = [
            text.rjust(width) if rows[0][i] in _NUMBERS else text.ljust(width)
            for i, (text, width) in enumerate(zip(row, widths, strict=False))
        ]
        print("  ".join(cells).rstrip())


def _result(found: Shelf) -> dict[str, Any]:
    from nesting.shelf.journal import cut_to_json
    from nesting.shelf.stock import by_weight, group, share_of_used

    return {
        "shelf": str(found.folder),
        "hides": [{"file": one.file, **_hide_json(one.hide)} for one in found.hides],
        "by_weight": [
            {"weight_oz": one.weight_oz, **_group_json(one)}
            for one in by_weight(one.hide for one in found.hides)
        ],
        "total": _group_json(group(one.hide for one in found.hides)),
        "journal": [cut_to_json(cut) for cut in found.journal],
        "share_of_used": share_of_used(found.journal) if found.journal else None,
        "strange": list(found.strange),
        "broken": list(found.broken),
        "finished_before": None if found.finished is None else cut_to_json(found.finished),
    }


def _hide_json(hide: Hide) -> dict[str, Any]:
    from nesting.shelf.stock import group

    single = group([hide])
    return {
        "name": hide.name,
        "cut": hide.cut,
        "weight_oz": hide.weight_oz,
        "area_mm2": single.area_mm2,
        "worth": {currency: float(amount) for currency, amount in single.worth} or None,
        "ancestry": list(hide.ancestry),
    }


def _group_json(one: Group) -> dict[str, Any]:
    return {
        "hides": len(one.hides),
        "remnants": one.remnants,
        "area_mm2": one.area_mm2,
        "worth": {currency: float(amount) for currency, amount in one.worth},
        "unpriced": one.unpriced,
    }
