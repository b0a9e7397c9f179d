"""The report in the words of a workshop, line by line."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal

from nesting.files.report import Areas, Cost, CostLine, CostTable, PairMatch, Report, Yield
from nesting.units import format_area, format_length

Line = tuple[str, str]
Kind = tuple[str, ...]
"""What a pair is made of: the name of one panel, or of two that are mates."""
Each = tuple[str, Cost]
"""A piece or pair in words, and what it comes to on average."""


def report_lines(report: Report) -> list[Line]:
    """Label and value of each line: areas, yield, cost, pairs, what found no room, notes. Text only."""
    return [
        *area_lines(report.areas),
        *yield_lines(report.yields),
        *common_lines(report.common_cut_mm),
        *(cost_lines(report.cost, {match.kind for match in report.pairs}) if report.cost else []),
        *pair_lines(report.pairs),
        *((f"no room for {left.pieces} of {left.panel}", left.why) for left in report.unplaced),
        *(("note", note) for note in report.notes),
    ]


def area_lines(areas: Areas) -> list[Line]:
    """The partition of the hide, each with its share of the hide."""
    named = (
        ("leather area", areas.hide),
        ("margins along the edge", areas.margins),
        ("flaws", areas.flaws),
        ("usable", areas.usable),
        ("pieces", areas.pieces),
        ("waste between pieces", areas.between),
        ("remnant to keep", areas.remnant),
    )
    return [(label, f"{format_area(area)}, {_percent(area, areas.hide)}") for label, area in named]


def yield_lines(yields: Yield) -> list[Line]:
    """Both yields in per cent: of all leather bought, and of what could be used."""
    return [
        ("yield of the hide", f"{100 * yields.of_hide:.1f} %"),
        ("yield of the usable leather", f"{100 * yields.of_usable:.1f} %"),
    ]


def common_lines(common_cut_mm: float) -> list[Line]:
    """The straight cuts that two pieces share, where there are any."""
    return [("straight cuts in common", f"{format_length(common_cut_mm)}, cut once")] if common_cut_mm else []


def cost_lines(table: CostTable, kinds: Collection[Kind] = ()) -> list[Line]:
    """Every share, the total and the price; then each panel's; then leather charged three ways.

    What a piece and a pair come to is the panel's average; ``kinds`` are the pairs there are.
    """
    total, currency = table.total, table.currency
    lines = [(name, _money(amount, currency)) for name, amount in total.shares()]
    lines.append(("cost in all", _money(total.total, currency)))
    if total.price is not None:
        lines += [("margin", _money(total.margin, currency)), ("price in all", _money(total.price, currency))]
    pairs = {panels[-1].name: panels for panels in _pairs_in(table.panels, kinds)}
    for panel in table.panels:
        lines += _each_lines(_one(panel), currency)
        if panel.name in pairs:
            lines += _each_lines(_pair(pairs[panel.name]), currency)
    return [*lines, *_way_lines(table, kinds)]


def sold(panels: Sequence[CostLine], kinds: Collection[Kind]) -> list[Each]:
    """What one asks the cost of: a pair where there are pairs, else one piece; in the order of the panels."""
    pairs = {panels[-1].name: panels for panels in _pairs_in(panels, kinds)}
    in_pairs = {panel.name for found in pairs.values() for panel in found}
    singly = [panel for panel in panels if panel.name in pairs or panel.name not in in_pairs]
    return [_pair(pairs[panel.name]) if panel.name in pairs else _one(panel) for panel in singly]


def _pairs_in(panels: Sequence[CostLine], kinds: Collection[Kind]) -> list[tuple[CostLine, ...]]:
    """The panels of each kind of pair that is there in whole."""
    found = [tuple(panel for panel in panels if panel.name in kind) for kind in kinds]
    return [pair for pair, kind in zip(found, kinds, strict=True) if len(pair) == len(kind)]


def _one(panel: CostLine) -> Each:
    return f"one {panel.name}", average(panel, 1)


def _pair(panels: tuple[CostLine, ...]) -> Each:
    cost = average(panels[0], 2) if len(panels) == 1 else added(*(average(panel, 1) for panel in panels))
    return f"a pair of {' and '.join(panel.name for panel in panels)}", cost


def _each_lines(one: Each, currency: str | None) -> list[Line]:
    """What one piece or pair costs on average, the shares of that, and the price."""
    what, each = one
    lines = [(f"cost of {what}", _money(each.total, currency))]
    if each.total is not None:
        lines.append((f"shares of {what}", shares_in_words(each)))
    if each.price is not None:
        lines.append((f"price of {what}", _money(each.price, currency)))
    return lines


def _way_lines(table: CostTable, kinds: Collection[Kind]) -> list[Line]:
    """The three ways to charge leather, side by side: the leather, all, and a pair or piece of each panel."""
    lines = []
    for one in table.leather_ways:
        if one.total.leather is None:
            continue
        parts = [f"leather {one.total.leather:.2f}", _cost_and_price("in all", one.total)]
        parts += [_cost_and_price(what, each) for what, each in sold(one.panels, kinds)]
        lines.append((f"leather charged by {one.way}", "; ".join(parts)))
    return lines


def _cost_and_price(what: str, cost: Cost) -> str:
    words = f"{what} {cost.total:.2f}"
    return words if cost.price is None else f"{words}, price {cost.price:.2f}"


def average(panel: CostLine, count: int) -> Cost:
    """What ``count`` pieces of a panel come to on average; not rounded."""

    def part(amount: Decimal | None) -> Decimal | None:
        return None if amount is None else amount / panel.pieces * count

    return Cost(**{name: part(amount) for name, amount in vars(panel.cost).items()})  # type: ignore[arg-type]


def added(*costs: Cost) -> Cost:
    """Costs added up, kind by kind; not known as soon as one is not."""

    def sum_of(amounts: Sequence[Decimal | None]) -> Decimal | None:
        known = [amount for amount in amounts if amount is not None]
        return sum(known, Decimal(0)) if len(known) == len(amounts) else None

    return Cost(**{name: sum_of([getattr(cost, name) for cost in costs]) for name in vars(costs[0])})  # type: ignore[arg-type]


def shares_in_words(cost: Cost) -> str:
    """``leather 9.50, hardware 1.08, labour 28.00``."""
    known = [(name, amount) for name, amount in cost.shares() if amount is not None]
    return ", ".join(f"{name} {amount:.2f}" for name, amount in known)


def pair_lines(matches: tuple[PairMatch, ...]) -> list[Line]:
    """The widest pair and the worst difference in stretch: the two to look at."""
    if not matches:
        return []
    widest = max(matches, key=lambda match: match.distance_mm)
    lines = [("farthest apart of a pair", f"{format_length(widest.distance_mm)} ({widest.pair})")]
    known = [(m.stretch_difference_deg, m.pair) for m in matches if m.stretch_difference_deg is not None]
    if known:
        worst, pair = max(known)
        lines.append(("greatest difference in stretch of a pair", f"{worst:.0f}° ({pair})"))
    if unknown := len(matches) - len(known):
        words = "1 pair" if unknown == 1 else f"{unknown} pairs"
        lines.append(("difference in stretch", f"not known for {words}"))
    return lines


def _percent(part: float, whole: float) -> str:
    return f"{100 * part / whole if whole else 0.0:.1f} %"


def _money(amount: Decimal | None, currency: str | None) -> str:
    if amount is None:
        return "not known: a hide has no price"
    return " ".join(part for part in (f"{amount:.2f}", currency) if part)
