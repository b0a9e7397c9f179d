"""What the picture says in words: figures first, cautions in small print."""

from __future__ import annotations

from collections import Counter
from collections.abc import Set
from dataclasses import dataclass
from decimal import Decimal

from nesting.account.words import Each, shares_in_words, sold
from nesting.files.layout import Layout
from nesting.files.panel import Panel
from nesting.files.report import Areas, CostTable, Report
from nesting.judge.cautions import cautions
from nesting.output.wording import sentence
from nesting.rings import area
from nesting.units import format_area


@dataclass(frozen=True)
class Caption:
    """``title``, the ``headline`` one looks for, the ``figures``, how it is cut, and ``cautions``."""

    title: str
    headline: str
    figures: tuple[str, ...]
    settings: str
    cautions: tuple[str, ...]


def caption(layout: Layout, report: Report | None = None, anew: Set[str] | None = None) -> Caption:
    """The words of a layout's picture; without a report only what the layout itself tells.

    ``anew`` names the pieces that do not lie where an earlier layout had them; None: there was none.
    """
    figures = [counted(layout), *_unplaced(layout), *([] if anew is None else [_stayed(layout, anew)])]
    if report is None:
        figures.append(_areas(layout))
    else:
        figures += [_yield(report), _waste(report.areas)]
        figures += _costs(report.cost, layout) if report.cost is not None else []
    warned = tuple(sentence(words) for words in cautions(layout))
    return Caption(layout.title, _headline(layout, report), tuple(figures), _settings(layout), warned)


def _headline(layout: Layout, report: Report | None) -> str:
    """Yield, and the cost of a pair where the order is of one panel, else of all; empty without a report."""
    if report is None:
        return ""
    words = f"yield {100 * report.yields.of_hide:.0f} %"
    table = report.cost
    if table is None or table.total.total is None:
        return words
    each = sold(table.panels, layout.pair_kinds)
    if len(each) == 1:
        return f"{words}, {_in_words(each[0], table)}"
    return f"{words}, {_money(table.total.total, table)} in all"


def counted(layout: Layout) -> str:
    """``6 pairs of half-chap, 2 of brow-band``."""
    kinds = {name: kind for kind in layout.pair_kinds for name in kind}
    pairs: dict[tuple[str, ...], set[str]] = {}
    singles: Counter[str] = Counter()
    for placement in (placement for laid in layout.hides for placement in laid.placements):
        if placement.pair is None:
            singles[placement.panel] += 1
        else:
            pairs.setdefault(kinds[placement.panel], set()).add(placement.pair)
    words = [
        f"{len(names)} {'pair' if len(names) == 1 else 'pairs'} of {' and '.join(kind)}"
        for kind, names in pairs.items()
    ]
    words += [f"{count} of {panel}" for panel, count in singles.items()]
    return ", ".join(words) or "no pieces"


def _unplaced(layout: Layout) -> list[str]:
    return [f"not placed: {left.pieces} of {left.panel} ({left.why})" for left in layout.unplaced]


def _stayed(layout: Layout, anew: Set[str]) -> str:
    """What a late find moved: ``11 pieces lie where they lay; laid anew: half-chap-01-L``."""
    names = [p.piece for laid in layout.hides for p in laid.placements]
    moved = [name for name in names if name in anew]
    count = len(names) - len(moved)
    stayed = "1 piece lies where it lay" if count == 1 else f"{count} pieces lie where they lay"
    return f"{stayed}; laid anew: {', '.join(moved) or 'none'}"


def _areas(layout: Layout) -> str:
    panels = layout.panel_by_name
    hide = sum(area(laid.hide.outline) for laid in layout.hides)
    pieces = sum(_net(panels[p.panel]) for laid in layout.hides for p in laid.placements)
    return f"hide {format_area(hide)}, pieces {format_area(pieces)}"


def _net(panel: Panel) -> float:
    return area(panel.outline) - sum(area(ring) for ring in panel.cutouts)


def _yield(report: Report) -> str:
    of_hide, of_usable = 100 * report.yields.of_hide, 100 * report.yields.of_usable
    leather = "hide" if len(report.hides) == 1 else f"{len(report.hides)} hides"
    return f"yield {of_hide:.1f} % of the {leather}, {of_usable:.1f} % of the usable leather"


def _waste(areas: Areas) -> str:
    """Shares of the gross area, as the trade asks one to say first."""
    named = (("margins", areas.margins), ("flaws", areas.flaws), ("between pieces", areas.between))
    whole = areas.hide or 1.0
    parts = ", ".join(f"{name} {100 * part / whole:.1f} %" for name, part in named)
    waste = sum(part for _, part in named)
    kept = f"{format_area(areas.remnant)}, {100 * areas.remnant / whole:.1f} %, is left to keep"
    return f"waste {100 * waste / whole:.1f} % of all the leather: {parts}; {kept}"


def _costs(table: CostTable, layout: Layout) -> list[str]:
    """The total with its shares, and what a pair or a piece of each panel costs on average."""
    total = table.total
    if total.total is None:
        return ["cost not known: a hide has no price"]
    priced = "" if total.price is None else f", price {_money(total.price, table)}"
    lines = [f"cost {_money(total.total, table)} ({shares_in_words(total)}){priced}"]
    each = [
        _in_words(one, table) + ("" if one[1].price is None else f", price {one[1].price:.2f}")
        for one in sold(table.panels, layout.pair_kinds)
    ]
    return [*lines, "; ".join(each)] if each else lines


def _in_words(one: Each, table: CostTable) -> str:
    what, cost = one
    return f"{what}: cost not known" if cost.total is None else f"{what} {_money(cost.total, table)}"


def _money(amount: Decimal, table: CostTable) -> str:
    return f"{amount:.2f} {table.currency or ''}".rstrip()


def _settings(layout: Layout) -> str:
    cutting = layout.cutting
    return (
        f"{cutting.tool}, kerf {cutting.kerf_mm:g} mm, gap {cutting.gap_mm:g} mm; margins: "
        f"edge {cutting.edge_margin_mm:g}, straight edge {cutting.straight_edge_margin_mm:g}, "
        f"flaws {cutting.flaw_margin_mm:g} mm; seed {layout.seed}"
    )
