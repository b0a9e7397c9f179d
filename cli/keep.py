"""``hidewright keep LAYOUT.json --shelf DIR``: a layout was cut; its remnants join the shelf."""

from __future__ import annotations

import json
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from nesting.files.hide import Hide
    from nesting.shelf import Cut, Kept, Reported


def run(
    layout: Annotated[Path, typer.Argument(metavar="LAYOUT.json", help="The layout that was cut.")],
    shelf: Annotated[
        Path, typer.Option(metavar="DIR", help="The folder of hide files that its hides come from.")
    ],
    report: Annotated[
        Path | None,
        typer.Option(
            metavar="REPORT.json",
            help="The layout's report: its cost, and the remnants' credit. Else report.json beside it.",
        ),
    ] = None,
    date_: Annotated[
        str | None, typer.Option("--date", metavar="YYYY-MM-DD", help="When it was cut; else today.")
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Enter that a layout was cut: its hides leave the shelf, what is left of them joins it.

    The layout is judged first. A hide's file moves to the shelf's folder "cut"; remnants wide enough
    for a hand and of a quarter of a square foot or more become hides, with the rough edges, flaws and
    straight cuts that they have. They cost what the report credits for them, or without one their share of
    the hide's price by area. The journal (journal.jsonl) tells what was cut, when, its yield and cost.
    """
    from nesting.errors import InputError, InvalidLayout
    from nesting.files.layout_file import read_layout
    from nesting.shelf import OtherReportError, keep_layout, read_reported

    day = date.today() if date_ is None else _day(date_)
    cut = read_layout(layout)
    reported = _beside(layout) if report is None else read_reported(report)
    try:
        try:
            kept = keep_layout(cut, shelf, day, reported)
        except OtherReportError:
            if report is not None or reported is None:
                raise
            # One that nobody named may be left from another layout.
            print(f"{reported.source}: is not the report of this layout; it is not used", file=sys.stderr)
            reported = None
            kept = keep_layout(cut, shelf, day)
    except InvalidLayout as error:
        raise InputError(f"{layout}: {error}; the shelf is as it was") from error
    _tell(kept, reported)
    if json_:
        print(json.dumps(_result(kept, shelf), indent=2, ensure_ascii=False))


def _beside(layout: Path) -> Reported | None:
    """The report that ``layout`` writes beside its layout, where there is one that can be read."""
    from nesting.errors import InputError
    from nesting.shelf import read_reported

    path = layout.with_name("report.json")
    if not path.is_file() or path == layout:
        return None
    try:
        return read_reported(path)
    except InputError as error:
        print(f"{error}; it is not used", file=sys.stderr)
        return None


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise typer.BadParameter(
            f"{text!r} is not a date; write it like 2026-03-31", param_hint="--date"
        ) from None


def _tell(kept: Kept, reported: Reported | None) -> None:
    cut = kept.cut
    if kept.finished is not None:
        print(f"{_named(kept.finished)} had been broken off; it is entered now", file=sys.stderr)
    for gone in cut.hides:
        print(f"left the shelf:   {gone.hide} (its file is {gone.file} now)", file=sys.stderr)
    for one in kept.remnants:
        print(f"joined the shelf: {_remnant(one.hide)}", file=sys.stderr)
    if not kept.remnants:
        print("nothing is left that is worth keeping", file=sys.stderr)
    elif reported is None and any(one.hide.price for one in kept.remnants):
        print(
            "remnants cost their share of the hide's price by area; --report gives their credit",
            file=sys.stderr,
        )
    if reported is not None:
        print(f"cost and the remnants' credit are those of {reported.source}", file=sys.stderr)
    yields = cut.yields
    print(
        f"{_named(cut)}: yield {100 * yields.of_hide:.1f} % of the hide, "
        f"{100 * yields.of_usable:.1f} % of the usable leather",
        file=sys.stderr,
    )


def _named(cut: Cut) -> str:
    return f'the cut of "{cut.title}" on {cut.date}'


def _remnant(hide: Hide) -> str:
    from nesting.account.areas import priced_area
    from nesting.units import format_area

    price = "" if hide.price is None else f", {hide.price.amount:.2f} {hide.price.currency}"
    edges = len(hide.straight_edges)
    flaws = len(hide.flaws)
    return (
        f"{hide.name}, {format_area(priced_area(hide))}{price}, "
        f"{edges} straight edge{'' if edges == 1 else 's'}, {flaws} flaw{'' if flaws == 1 else 's'}"
    )


def _result(kept: Kept, shelf: Path) -> dict[str, Any]:
    from nesting.shelf.journal import cut_to_json

    finished = None if kept.finished is None else cut_to_json(kept.finished)
    return {"shelf": str(shelf), "cut": cut_to_json(kept.cut), "finished_before": finished}
