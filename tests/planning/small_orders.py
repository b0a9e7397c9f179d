"""Small hides, panels and orders, and the search over them for so many rounds."""

from __future__ import annotations

from itertools import islice
from math import pi, tan
from typing import Any

from nesting.files.hide import Hide
from nesting.files.layout import Layout
from nesting.files.order import Cutting, Order, OrderLine
from nesting.judge import faults
from nesting.packing.stop import never
from nesting.planning.plan import Improvement, improving_layouts
from nesting.rings import Ring

BARE = Cutting(kerf_mm=0, gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
USUAL = Cutting(gap_mm=0.5, edge_margin_mm=6, straight_edge_margin_mm=1.5, flaw_margin_mm=3)
QUARTER = tan(pi / 8)


def rectangle(width: float, height: float, x: float = 0.0, y: float = 0.0) -> Ring:
    """Lower left corner at (x, y)."""
    return ((x, y, 0.0), (x + width, y, 0.0), (x + width, y + height, 0.0), (x, y + height, 0.0))


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> Ring:
    """Two half circles: a ring of two vertices."""
    return ((x - radius, y, 1.0), (x + radius, y, 1.0))


def order_of(hides: Hide | tuple[Hide, ...], *lines: OrderLine, cutting: Cutting = USUAL) -> Order:
    return Order("an order", hides if isinstance(hides, tuple) else (hides,), lines, cutting)


def improvements(order: Order, rounds: int, seed: int = 1) -> list[Improvement]:
    """All that the search yields in so many rounds, each judged again, each better than the last."""
    found = [i for i in islice(improving_layouts(order, seed, never), rounds) if i is not None]
    assert [i for i in found if faults(i.layout)] == []
    scores = [i.plan.score for i in found]
    assert scores == sorted(scores, reverse=True)
    assert len(set(scores)) == len(scores)
    return found


def laid(order: Order, rounds: int, seed: int = 1) -> Layout:
    """The best layout of so many rounds."""
    return improvements(order, rounds, seed)[-1].layout


def on_hides(layout: Layout) -> dict[str, list[str]]:
    """Panels of the pieces on each hide that is used, sorted."""
    return {on.hide.name: sorted(p.panel for p in on.placements) for on in layout.hides}


def count(layout: Layout, panel: str | None = None) -> int:
    """Pieces laid, of one panel or in all."""
    return sum(panel in (None, p.panel) for on in layout.hides for p in on.placements)


def placements(layout: Layout) -> list[Any]:
    return [p for on in layout.hides for p in on.placements]
