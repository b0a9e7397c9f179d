"""The report in the words of a workshop, line by line."""

from __future__ import annotations

from decimal import Decimal

from nesting.files.report import Areas, CostTable, PairMatch, Report, Yield
from nesting.units import format_area, format_length

Line = tuple[str, str]


def report_lines(report: Report) -> list[Line]:
    """Label and value of each line: areas, yield, cost, pairs, what found no room. Text, no layout."""
    return [
        *area_lines(report.areas),
        *yield_lines(report.yields),
        *(cost_lines(report.cost) if report.cost else []),
        *pair_lines(report.pairs),
        *((f"no room for {left.pieces} of {left.panel}", left.why) for left in report.unplaced),
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


def cost_lines(table: CostTable) -> list[Line]:
    """Total, and what a piece and a pair of each panel cost on average."""
    total, currency = table.total, table.currency
    lines = [
        ("leather", _money(total.leather, currency)),
        ("hardware", _money(total.hardware, currency)),
        ("labour", _money(total.labour, currency)),
        ("cost in all", _money(total.total, currency)),
    ]
    for panel in table.panels:
        each = None if panel.cost.total is None else panel.cost.total / panel.pieces
        lines.append((f"cost of one {panel.name}", _money(each, currency)))
    return lines


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
