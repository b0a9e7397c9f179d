"""What the pieces cost, and their price: every share of it, to the cent.

A hide's leather costs its price less the credit for its remnants, and its pieces bear that in
proportion to their outlines' areas, so each bears its own leather and its share of the waste. Hardware,
lace and labour are stated per piece; dye and finish go by a piece's surface; overhead is a share of all
that, and so much an hour; the margin comes on top. Each kind is rounded once, over all the pieces that
bear it, and shared by largest remainder: pieces add up to hides, panels and the total, pairs to their
pieces.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from nesting.account.charges import Bill, Charge, CutHide, bill, charges
from nesting.account.money import money, one_currency
from nesting.files.order import Order
from nesting.files.report import WAYS, Cost, CostLine, CostTable, HideCost, LeatherWay, Way

__all__ = ["CutHide", "cost_table"]


def cost_table(cut: Sequence[CutHide], order: Order) -> CostTable:
    """All costs of the pieces on ``cut``. A hide without pieces costs nothing: it is not cut.

    Raises InputError when prices are in several currencies.
    """
    cut = [one for one in cut if one.pieces]
    currency = one_currency([one.hide for one in cut], order.costs.currency)
    bills, charged = _charged(cut, order, "area taken")
    by_hide = _grouped((charge.hide, charge) for charge in charged)
    return CostTable(
        currency=currency,
        total=_sum(charged),
        hides=tuple(
            HideCost(one.hide.name, _money(bill.price), _money(bill.credit), _sum(by_hide[one.hide.name]))
            for one, bill in zip(cut, bills, strict=True)
        ),
        panels=_panels(charged),
        pieces=_lines((charge.piece.placement.piece, charge) for charge in charged),
        pairs=_lines((pair, charge) for charge in charged if (pair := charge.piece.placement.pair)),
        leather_ways=tuple(_way(cut, order, way) for way in WAYS),
    )


def _charged(cut: Sequence[CutHide], order: Order, way: Way) -> tuple[list[Bill], list[Charge]]:
    bills = [bill(one, Fraction(order.costs.remnant_credit), way) for one in cut]
    return bills, charges(cut, bills, order)


def _way(cut: Sequence[CutHide], order: Order, way: Way) -> LeatherWay:
    _, charged = _charged(cut, order, way)
    return LeatherWay(way, _sum(charged), _panels(charged))


Named = Iterable[tuple[str, Charge]]


def _grouped(named: Named) -> dict[str, list[Charge]]:
    groups: dict[str, list[Charge]] = defaultdict(list)
    for name, charge in named:
        groups[name].append(charge)
    return dict(groups)


def _panels(charged: Sequence[Charge]) -> tuple[CostLine, ...]:
    return _lines((charge.piece.panel.name, charge) for charge in charged)


def _lines(named: Named) -> tuple[CostLine, ...]:
    return tuple(CostLine(name, len(found), _sum(found)) for name, found in _grouped(named).items())


def _sum(charged: Sequence[Charge]) -> Cost:
    total = _added(charge.cost for charge in charged)
    margin = _added(charge.margin for charge in charged) if charged else None
    return Cost(
        leather=_money(_added(charge.leather for charge in charged)),
        hardware=money(sum(charge.hardware for charge in charged)),
        labour=money(sum(charge.labour for charge in charged)),
        total=_money(total),
        lace=money(sum(charge.lace for charge in charged)),
        dye=money(sum(charge.dye for charge in charged)),
        finish=money(sum(charge.finish for charge in charged)),
        overhead=_money(_added(charge.overhead for charge in charged)),
        margin=_money(margin),
        price=None if total is None or margin is None else money(total + margin),
    )


def _added(amounts: Iterable[int | None]) -> int | None:
    """The sum; None as soon as one is not known."""
    total = 0
    for amount in amounts:
        if amount is None:
            return None
        total += amount
    return total


def _money(amount_cents: int | None) -> Decimal | None:
    return None if amount_cents is None else money(amount_cents)
