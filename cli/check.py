"""``hidewright check FILE...``: validate any file; judge a layout afresh."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nesting.errors import InputError, InvalidLayout

if TYPE_CHECKING:
    from nesting.files.hide import Hide
    from nesting.files.layout import Layout
    from nesting.files.measures import Measures
    from nesting.files.order import Order, OrderLine
    from nesting.files.panel import Panel


def run(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help="Hides, panels, orders, layouts, reports, comparisons."),
    ],
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Validate any file; a layout is judged afresh. Every file is looked at, even after a bad one."""
    results = [_checked(file) for file in files]
    for result in results:
        if not result["ok"]:
            print(f"hidewright: {result['error']}", file=sys.stderr)
        elif not json_:
            print(f"ok  {result['file']}: {result['summary']}")
    if json_:
        print(json.dumps({"files": results}, indent=2, ensure_ascii=False))
    if not all(result["ok"] for result in results):
        raise typer.Exit(1)


def _checked(file: Path) -> dict[str, Any]:
    """``file``, ``ok`` and either ``kind``, ``summary`` and figures, or ``error``."""
    try:
        return {"file": str(file), "ok": True, **_told(file)}
    except (InputError, InvalidLayout) as error:
        message = str(error)
        named = message if message.startswith(str(file)) else f"{file}: {message}"
        return {"file": str(file), "ok": False, "error": named}


def _told(file: Path) -> dict[str, Any]:
    from nesting.files.any_file import read_any
    from nesting.files.hide import Hide
    from nesting.files.layout import Layout
    from nesting.files.measures import Measures
    from nesting.files.order import Order
    from nesting.files.panel import Panel

    match read_any(file):
        case Hide() as hide:
            return _hide(hide)
        case Panel() as panel:
            return _panel(panel)
        case Order() as order:
            return _order(order)
        case Measures() as measures:
            return _measures(measures)
        case Layout() as layout:
            return _layout(layout)
        case {"kind": "compare"} as comparison:
            return _compare(comparison)
        case _:
            return {"kind": "report", "summary": "report: its areas add up"}


def _hide(hide: Hide) -> dict[str, Any]:
    from nesting.rings import area
    from nesting.units import format_area, format_weight

    weight = "weight unknown" if hide.weight_oz is None else format_weight(hide.weight_oz)
    figures = {
        "name": hide.name,
        "area_mm2": area(hide.outline),
        "points": len(hide.outline),
        "flaws": len(hide.flaws),
    }
    words = f"{format_area(area(hide.outline))}, {weight}, {_count(len(hide.flaws), 'flaw')}"
    return {"kind": "hide", "summary": f'hide "{hide.name}": {words}', **figures}


def _panel(panel: Panel) -> dict[str, Any]:
    from nesting.rings import area
    from nesting.units import format_area, format_both

    net = area(panel.outline) - sum(map(area, panel.cutouts))
    pairing = "no pairs" if panel.pairing == "none" else f"{panel.pairing} pairs"
    lace = f", lace {format_both(panel.lace_mm)}" if panel.lace_mm else ""
    holes = f"{_count(len(panel.cutouts), 'cut-out')}, {_count(len(panel.punches), 'punch', 'punches')}"
    figures = {
        "name": panel.name,
        "area_mm2": net,
        "cutouts": len(panel.cutouts),
        "punches": len(panel.punches),
        "lace_mm": panel.lace_mm or None,
    }
    return {
        "kind": "panel",
        "summary": f'panel "{panel.name}": {format_area(net)}, {pairing}, {holes}{lace}',
        **figures,
    }


def _order(order: Order) -> dict[str, Any]:
    from nesting.rings import area
    from nesting.units import format_area

    total = sum(area(hide.outline) for hide in order.hides)
    lines = ", ".join(_amount(line) for line in order.lines)
    words = f"{lines} from {_count(len(order.hides), 'hide')} of {format_area(total)}"
    figures = {"name": order.title, "area_mm2": total, "hides": len(order.hides), "panels": len(order.lines)}
    return {"kind": "order", "summary": f'order "{order.title}": {words}', **figures}


def _measures(measures: Measures) -> dict[str, Any]:
    """Measures are good when a panel can be drafted of them."""
    from nesting.drafting import draft
    from nesting.drafting.words import what_it_is
    from nesting.rings import area
    from nesting.units import format_area

    drafts = draft(measures)
    words = ", ".join(f"{what_it_is(one)}, {format_area(area(one.panel.outline))}" for one in drafts)
    total = sum(area(one.panel.outline) for one in drafts)
    figures = {"name": measures.name, "area_mm2": total, "panels": len(drafts)}
    return {"kind": "measures", "summary": f'measures "{measures.name}": {words}', **figures}


def _amount(line: OrderLine) -> str:
    if line.fill:
        return f"as many {line.name} as fit"
    if line.pairs is not None:
        return f"{_count(line.pairs, 'pair')} of {line.name}"
    return f"{_count(line.pieces or 0, 'piece')} of {line.name}"


def _layout(layout: Layout) -> dict[str, Any]:
    from nesting.judge import faults
    from nesting.rings import area
    from nesting.units import format_area

    found = faults(layout)
    if found:
        raise InvalidLayout(found)
    placed = [placement for laid in layout.hides for placement in laid.placements]
    total = sum(area(layout.panel_by_name[placement.panel].outline) for placement in placed)
    missing = sum(unplaced.pieces for unplaced in layout.unplaced)
    rest = f", {missing} found no room" if missing else ""
    words = (
        f"{_count(len(placed), 'piece')} ({format_area(total)}) on {_count(len(layout.hides), 'hide')}{rest}"
    )
    figures = {"name": layout.title, "area_mm2": total, "pieces": len(placed), "hides": len(layout.hides)}
    return {
        "kind": "layout",
        "summary": f'layout "{layout.title}": valid, {words}',
        **figures,
        "unplaced": missing,
    }


def _compare(comparison: dict[str, Any]) -> dict[str, Any]:
    hides = len({entry["hide"] for entry in comparison["entries"]})
    words = f'comparison "{comparison["title"]}": {_count(hides, "hide")}; its areas and yields add up'
    return {"kind": "compare", "summary": words, "name": comparison["title"], "hides": hides}


def _count(number: int, word: str, plural: str = "") -> str:
    return f"{number} {word}" if number == 1 else f"{number} {plural or word + 's'}"
