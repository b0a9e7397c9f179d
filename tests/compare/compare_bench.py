"""Small parts for the tests of comparing: panels, hides, and entries from bare figures."""

from __future__ import annotations

from decimal import Decimal

from nesting.compare.outcome import Entry, Outcome, Placed
from nesting.compare.trials import Candidate, Trial
from nesting.files.hide import Hide, Price
from nesting.files.layout import Layout
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import Panel
from nesting.files.report import Areas, Cost, CostLine, CostTable, HideAccount, Report, Yield
from nesting.rings import Ring


def rectangle(width: float, height: float) -> Ring:
    return ((0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0))


CUFF = Panel("cuff", rectangle(150, 100), pairing="mirrored")
STRAP = Panel("strap", rectangle(200, 25))


def hide(name: str, weight: tuple[float, float] | None = (4, 5), cut: str = "bend") -> Hide:
    return Hide(name, rectangle(400, 300), cut, weight)


def order(*lines: OrderLine) -> Order:
    return Order("test", (), lines, Cutting())


def outcome(
    one: Hide, pieces: int, asked: int | None = None, price: str | None = None, area: float = 120_000
) -> Outcome:
    """Cuffs on a hide: its whole price is charged, and each cuff takes 15 000 mm²."""
    money = None if price is None else Decimal(price)
    if money is not None:
        one = Hide(one.name, one.outline, one.cut, one.weight_oz, price=Price(money, "USD", "hide"))
    cost = Cost(money if pieces else Decimal(0), Decimal(0), Decimal(0), money if pieces else Decimal(0))
    line = CostLine("cuff", pieces, cost)
    areas = Areas(area, 0.0, 0.0, area, pieces * 15_000.0, area - pieces * 15_000.0, 0.0)
    report = Report(
        "test",
        areas,
        Yield(areas.pieces / area, areas.pieces / area),
        (HideAccount(one.name, pieces, areas, Yield(0, 0), area),),
        CostTable("USD", cost, (), (line,) if pieces else (), (), ()),
    )
    placed = Placed("cuff", True, pieces, asked, line if pieces else None)
    return Outcome(one, Layout("test", 1, Cutting(), (CUFF,), ()), report, (placed,))


def entry(*outcomes: Outcome, outside: str | None = None) -> Entry:
    hides = tuple(one.hide for one in outcomes)
    candidate = Candidate(hides[0].name, hides, typical=len(outcomes) > 1)
    return Entry(Trial(candidate, (OrderLine(CUFF, pairs=4),), outside), outcomes)
