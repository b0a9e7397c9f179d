"""Small shelves and layouts on rectangles, made by hand for the tests of the shelf."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from nesting.files.hide import Hide, Price
from nesting.files.hide_file import write_hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.rings import Pose, Ring

DAY = date(2026, 3, 31)
CUTTING = Cutting(gap_mm=0.5, edge_margin_mm=6, straight_edge_margin_mm=1.5, flaw_margin_mm=3)
SLACK = 0.05
"""Pieces are grown by this much besides kerf and gap."""


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0))


def hide(name: str = "shoulder-04", **rest: Any) -> Hide:
    """1000 × 500 mm, its lower edge straight, 4-5 oz, 50 USD."""
    rest = {
        "outline": box(0, 0, 1000, 500),
        "cut": "single shoulder",
        "weight_oz": (4.0, 5.0),
        "tannage": "vegetable",
        "price": Price(Decimal(50), "USD", "hide"),
        "straight_edges": (((0.0, 0.0), (1000.0, 0.0)),),
        "spine": ((0.0, 0.0), (0.0, 1.0)),
    } | rest
    return Hide(name, **rest)


PANEL = Panel("apron", box(0, 0, 394, 492.5))
"""Set at (6, 1.5) it fills the hide's height between the margins of ``CUTTING``."""


def put(piece: str, x: float, y: float, panel: str = "apron", turn: float = 0.0) -> Placement:
    return Placement(piece, panel, Pose(False, turn, (x, y)))


def layout(
    *laid: LaidHide, panels: tuple[Panel, ...] = (PANEL,), title: str = "Aprons", **rest: Any
) -> Layout:
    rest.setdefault("cutting", CUTTING)
    return Layout(title, 1, panels=panels, hides=laid, **rest)


def one_cut(of: Hide, title: str = "Aprons") -> Layout:
    """One apron from the left end of a hide."""
    return layout(LaidHide(of, (put(f"apron-{of.name}", 6, 1.5),)), title=title)


def make_shelf(folder: Path, hides: Iterable[Hide]) -> Path:
    folder.mkdir(parents=True)
    for one in hides:
        write_hide(folder / f"{one.name}.hide.json", one)
    return folder


def state(folder: Path) -> dict[str, bytes]:
    """Every file that matters, by its path in the shelf."""
    files = (path for path in folder.rglob("*") if path.is_file() and path.name != ".shelf-lock")
    return {str(path.relative_to(folder)): path.read_bytes() for path in files}
