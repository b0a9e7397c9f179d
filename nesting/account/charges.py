"""What one piece bears, in whole cents: leather, hardware, lace, dye, finish, labour, overhead, margin."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from nesting import rings
from nesting.account.money import cents, shared
from nesting.files.hide import Hide
from nesting.files.order import Costs, Order, OrderLine, Rate
from nesting.files.panel import Panel
from nesting.files.report import Way
from nesting.judge.scene import Piece
from nesting.prices import whole_price


@dataclass(frozen=True)
class CutHide:
    """A hide with the pieces cut from it and the areas that its money hangs on."""

    hide: Hide
    pieces: tuple[Piece, ...]
    priced_area_mm2: float
    remnant_mm2: float


@dataclass(frozen=True)
class Bill:
    """What a hide's leather costs, in cents, and each piece's share; all None without a price."""

    price: int | None
    credit: int | None
    shares: list[int | None]


@dataclass(frozen=True)
class Charge:
    """What one piece bears, in cents; None = unknown, for its hide has no price.

    ``margin`` is None too where the order asks for no price.
    """

    hide: str
    piece: Piece
    leather: int | None
    hardware: int
    lace: int
    dye: int
    finish: int
    labour: int
    overhead: int | None
    margin: int | None

    @property
    def cost(self) -> int | None:
        """All but the margin."""
        if self.leather is None or self.overhead is None:
            return None
        work = self.hardware + self.lace + self.dye + self.finish + self.labour
        return self.leather + work + self.overhead


def bill(cut: CutHide, credit_share: Fraction, way: Way) -> Bill:
    """The leather of one hide, charged one of three ways (see ``nesting.files.report.LeatherWay``)."""
    if cut.hide.price is None:
        return Bill(None, None, [None] * len(cut.pieces))
    whole = whole_price(cut.hide.price, cut.priced_area_mm2)
    by_area = whole / Fraction(cut.priced_area_mm2) if cut.priced_area_mm2 else Fraction(0)
    weights = [Fraction(rings.area(piece.panel.outline)) for piece in cut.pieces]
    price = cents(whole)
    credit = min(cents(credit_share * by_area * Fraction(cut.remnant_mm2)), price)
    charged = {"net area": cents(by_area * sum(weights)), "area taken": price - credit, "whole hide": price}
    return Bill(price, credit, [*shared(charged[way], weights)])


def charges(cut: Sequence[CutHide], bills: Sequence[Bill], order: Order) -> list[Charge]:
    """The charges of all pieces, hide by hide. Each kind is rounded once, over all pieces that bear it."""
    placed = [(one.hide.name, piece) for one in cut for piece in one.pieces]
    panels = [piece.panel for _, piece in placed]
    mine = [order.line_of.get(panel.name) for panel in panels]
    leather = [share for bill in bills for share in bill.shares]
    kinds = [
        _rounded([
            Fraction(0) if line is None else stated(line, panel, order.costs)
            for line, panel in zip(mine, panels, strict=True)
        ])
        for stated in _STATED
    ]  # fmt: skip
    labour_hours = [Fraction(0) if line is None else _hours(line) for line in mine]
    work = [sum(parts) for parts in zip(*kinds, strict=True)]
    direct = [None if skin is None else skin + rest for skin, rest in zip(leather, work, strict=True)]
    overhead = _overhead(direct, labour_hours, order.costs)
    margin = _margin(direct, overhead, order.costs.on_cost)
    borne = zip(leather, *kinds, overhead, margin, strict=True)
    return [Charge(hide, piece, *amounts) for (hide, piece), amounts in zip(placed, borne, strict=True)]


def _overhead(direct: Sequence[int | None], hours: Sequence[Fraction], costs: Costs) -> list[int | None]:
    """A share of what is known of each piece's cost so far, and so much an hour of its labour."""
    if not costs.overhead and not costs.overhead_per_hour:
        return [0] * len(direct)
    share, rate = Fraction(costs.overhead), Fraction(costs.overhead_per_hour)
    return _where_known(
        [
            None if sofar is None else share * Fraction(sofar, 100) + rate * worked
            for sofar, worked in zip(direct, hours, strict=True)
        ]
    )


def _margin(
    direct: Sequence[int | None], overhead: Sequence[int | None], on_cost: Fraction | None
) -> list[int | None]:
    if on_cost is None:
        return [None] * len(direct)
    return _where_known(
        [
            None if sofar is None or over is None else on_cost * Fraction(sofar + over, 100)
            for sofar, over in zip(direct, overhead, strict=True)
        ]
    )


def _hardware(line: OrderLine, panel: Panel, costs: Costs) -> Fraction:
    return sum((Fraction(one.each) * one.count for one in line.hardware), Fraction(0))


def _lace(line: OrderLine, panel: Panel, costs: Costs) -> Fraction:
    return _by(costs.lace, line.lace_of(panel))


def _dye(line: OrderLine, panel: Panel, costs: Costs) -> Fraction:
    return _by(costs.dye, line.dyed_sides * surface(panel))


def _finish(line: OrderLine, panel: Panel, costs: Costs) -> Fraction:
    return _by(costs.finish, line.finished_sides * surface(panel))


def _labour(line: OrderLine, panel: Panel, costs: Costs) -> Fraction:
    return _hours(line) * Fraction(costs.labour_per_hour)


def _hours(line: OrderLine) -> Fraction:
    # Through the decimal text: 0.1 minutes are a tenth of a minute.
    return Fraction(str(line.labour_minutes)) / 60


def _by(rate: Rate | None, amount: float) -> Fraction:
    return Fraction(0) if rate is None else rate.of(amount)


def surface(panel: Panel) -> float:
    """One side of a piece, mm²: without its cut-outs, for no dye goes there; punches count as leather."""
    return rings.area(panel.outline) - sum(map(rings.area, panel.cutouts))


_STATED: list[Callable[[OrderLine, Panel, Costs], Fraction]] = [_hardware, _lace, _dye, _finish, _labour]
"""What the order states of a piece; one that it does not name has none of it."""


def _rounded(amounts: Sequence[Fraction]) -> list[int]:
    """The amounts in cents, so that they add up to their rounded sum."""
    return shared(cents(sum(amounts, Fraction(0))), amounts)


def _where_known(amounts: Sequence[Fraction | None]) -> list[int | None]:
    known = iter(_rounded([amount for amount in amounts if amount is not None]))
    return [None if amount is None else next(known) for amount in amounts]
