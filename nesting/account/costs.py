"""What the pieces cost: leather with its share of the waste, hardware, labour; to the cent.

A hide's leather costs its price less the credit for its remnants, and its pieces bear that in
proportion to their outlines' areas, so each bears its own leather and its share of the waste.
Hardware and labour are stated per piece. Each kind is rounded once, over all the pieces that bear it,
and shared by largest remainder: pieces add up to hides, panels and the total, pairs to their pieces.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting import rings
from nesting.account.money import cents, money, one_currency, shared, whole_price
from nesting.files.hide import Hide
from nesting.files.order import Order, OrderLine
from nesting.files.report import Cost, CostLine, CostTable, HideCost
from nesting.judge.scene import Piece


@dataclass(frozen=True)
class CutHide:
    """A hide with the pieces cut from it and the areas that its money hangs on."""

    hide: Hide
    pieces: tuple[Piece, ...]
    priced_area_mm2: float
    remnant_mm2: float


@dataclass(frozen=True)
class _Bill:
    """What a hide's leather costs, in cents; all None without a price."""

    price: int | None
    credit: int | None
    shares: list[int | None]


@dataclass(frozen=True)
class _Charge:
    """What one piece bears, in cents; leather None = its hide has no price."""

    hide: str
    piece: Piece
    leather: int | None
    hardware: int
    labour: int


def cost_table(cut: Sequence[CutHide], order: Order) -> CostTable:
    """All costs of the pieces on ``cut``. A hide without pieces costs nothing: it is not cut.

    Raises InputError when prices are in several currencies.
    """
    cut = [one for one in cut if one.pieces]
    currency = one_currency([one.hide for one in cut], order.costs.currency)
    bills = [_bill(one, Fraction(order.costs.remnant_credit)) for one in cut]
    charges = _charges(cut, bills, order)
    by_hide = _grouped((charge.hide, charge) for charge in charges)
    return CostTable(
        currency=currency,
        total=_sum(charges),
        hides=tuple(
            HideCost(one.hide.name, _money(bill.price), _money(bill.credit), _sum(by_hide[one.hide.name]))
            for one, bill in zip(cut, bills, strict=True)
        ),
        panels=_lines((charge.piece.panel.name, charge) for charge in charges),
        pieces=_lines((charge.piece.placement.piece, charge) for charge in charges),
        pairs=_lines((pair, charge) for charge in charges if (pair := charge.piece.placement.pair)),
    )


def _bill(cut: CutHide, credit_share: Fraction) -> _Bill:
    if cut.hide.price is None:
        return _Bill(None, None, [None] * len(cut.pieces))
    whole = whole_price(cut.hide.price, cut.priced_area_mm2)
    remnant_share = Fraction(cut.remnant_mm2) / Fraction(cut.priced_area_mm2) if cut.priced_area_mm2 else 0
    price = cents(whole)
    credit = min(cents(credit_share * whole * remnant_share), price)
    weights = [Fraction(rings.area(piece.panel.outline)) for piece in cut.pieces]
    return _Bill(price, credit, [*shared(price - credit, weights)])


def _charges(cut: Sequence[CutHide], bills: Sequence[_Bill], order: Order) -> list[_Charge]:
    lines = {line.panel.name: line for line in order.lines}
    placed = [(one.hide.name, piece) for one in cut for piece in one.pieces]
    mine = [lines.get(piece.panel.name) for _, piece in placed]
    rate = Fraction(order.costs.labour_per_hour)
    hardware = _rounded([_hardware(line) for line in mine])
    labour = _rounded([_labour(line, rate) for line in mine])
    leather = [share for bill in bills for share in bill.shares]
    return [
        _Charge(hide, piece, *kinds)
        for (hide, piece), kinds in zip(placed, zip(leather, hardware, labour, strict=True), strict=True)
    ]


def _hardware(line: OrderLine | None) -> Fraction:
    return (
        sum((Fraction(one.each) * one.count for one in line.hardware), Fraction(0)) if line else Fraction(0)
    )


def _labour(line: OrderLine | None, per_hour: Fraction) -> Fraction:
    # Through the decimal text: 0.1 minutes are a tenth of a minute.
    return Fraction(str(line.labour_minutes)) / 60 * per_hour if line else Fraction(0)


def _rounded(amounts: Sequence[Fraction]) -> list[int]:
    """The amounts in cents, so that they add up to their rounded sum."""
    return shared(cents(sum(amounts, Fraction(0))), amounts)


Named = Iterable[tuple[str, _Charge]]


def _grouped(named: Named) -> dict[str, list[_Charge]]:
    groups: dict[str, list[_Charge]] = defaultdict(list)
    for name, charge in named:
        groups[name].append(charge)
    return dict(groups)


def _lines(named: Named) -> tuple[CostLine, ...]:
    return tuple(CostLine(name, len(charges), _sum(charges)) for name, charges in _grouped(named).items())


def _sum(charges: Sequence[_Charge]) -> Cost:
    hardware = sum(charge.hardware for charge in charges)
    labour = sum(charge.labour for charge in charges)
    shares = [charge.leather for charge in charges if charge.leather is not None]
    if len(shares) < len(charges):
        return Cost(None, money(hardware), money(labour), None)
    return Cost(money(sum(shares)), money(hardware), money(labour), money(sum(shares) + hardware + labour))


def _money(amount_cents: int | None) -> Decimal | None:
    return None if amount_cents is None else money(amount_cents)
