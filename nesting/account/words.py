"""The report in the words of a workshop, line by line."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from nesting.files.report import Areas, Cost, CostLine, CostTable, PairMatch, Report, Yield
from nesting.units import format_area, format_length

Line = tuple[str, str]


def report_lines(report: Report) -> list[Line]:
    """Label and value of each line: areas, yield, cost, pairs, what found no room, notes. Text only."""
    return [
        *area_lines(report.areas),
        *yield_lines(report.yields),
        *common_lines(report.common_cut_mm),
        *(cost_lines(report.cost, {match.panel for match in report.pairs}) if report.cost else []),
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


def cost_lines(table: CostTable, paired: Collection[str] = ()) -> list[Line]:
    """Every share, the total and the price; then each panel's; then leather charged three ways.

    What a piece and a pair come to is the panel's average; ``paired`` names the panels that have pairs.
    """
    total, currency = table.total, table.currency
    lines = [(name, _money(amount, currency)) for name, amount in total.shares()]
    lines.append(("cost in all", _money(total.total, currency)))
    if total.price is not None:
        lines += [("margin", _money(total.margin, currency)), ("price in all", _money(total.price, currency))]
    for panel in table.panels:
        lines += _panel_lines(panel, 1, f"one {panel.name}", currency)
        if panel.name in paired:
            lines += _panel_lines(panel, 2, f"a pair of {panel.name}", currency)
    return [*lines, *_way_lines(table, paired)]


def _panel_lines(panel: CostLine, count: int, what: str, currency: str | None) -> list[Line]:
    """What ``count`` pieces cost on average, the shares of that, and the price."""
    each = average(panel, count)
    lines = [(f"cost of {what}", _money(each.total, currency))]
    if each.total is not None:
        lines.append((f"shares of {what}", shares_in_words(each)))
    if each.price is not None:
        lines.append((f"price of {what}", _money(each.price, currency)))
    return lines


def _way_lines(table: CostTable, paired: Collection[str]) -> list[Line]:
    """The three ways to charge leather, side by side: the leather, all, and a pair or piece of each panel."""
    lines = []
    for one in table.leather_ways:
        if one.total.leather is None:
            continue
        parts = [f"leather {one.total.leather:.2f}", _cost_and_price("in all", one.total)]
        for panel in one.panels:
            count = 2 if panel.name in paired else 1
            what = f"a pair of {panel.name}" if count == 2 else f"one {panel.name}"
            parts.append(_cost_and_price(what, average(panel, count)))
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
