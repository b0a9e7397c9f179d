"""However short the time, every hide is tried before a piece is said to have found no room."""

from __future__ import annotations

from nesting.files.hide import Hide
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import Panel
from nesting.planning.plan import improving_layouts
from nesting.rings import Ring


def square(side: float) -> Ring:
    return ((0, 0, 0), (side, 0, 0), (side, side, 0), (0, side, 0))


def test_time_up_from_the_start() -> None:
    hides = (Hide("one", square(100)), Hide("two", square(100)))
    order = Order("o", hides, (OrderLine(Panel("tile", square(80)), pieces=2),), Cutting())
    first = next(improving_layouts(order, 1, stop=lambda: True))
    assert first is not None
    assert first.layout.unplaced == ()
    assert [len(laid.placements) for laid in first.layout.hides] == [1, 1]
