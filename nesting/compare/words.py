"""The comparison in the words of a workshop: tables of texts, no layout."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import groupby

from nesting.compare.buying import HideSet
from nesting.compare.comparison import Comparison, PairSets
from nesting.compare.outcome import Entry, Outcome, to_cents
from nesting.files.report import Cost
from nesting.units import FT2_MM2, format_weight

NOT_KNOWN = "not known"
Row = tuple[str, ...]
"""A row of one cell is a heading over the rows below it."""

LEATHER_HEAD = (
    "hide", "ft²", "usable", "pieces", "yield", "of usable", "margins", "flaws", "between", "remnant",
)  # fmt: skip
PIECES_HEAD = ("panel", "hide", "laid", "no room", "a piece", "of it leather", "a pair", "of it leather")
SETS_HEAD = ("for", "hides", "which", "price", "each at most")


def leather_rows(comparison: Comparison) -> list[Row]:
    """Area, pieces, yields, waste by cause and cost of leather, a row a hide under its weight and cut.

    Typical hides have a second row with the range over their three outlines.
    """
    rows: list[Row] = [(*LEATHER_HEAD, leather_words(comparison))]
    for head, group in groups(comparison):
        rows.append((head,))
        for entry in group:
            rows += _leather(entry, comparison.leather)
    return rows


def leather_words(comparison: Comparison) -> str:
    """``leather for a pair, USD``."""
    return f"leather for {comparison.unit}" + (f", {comparison.currency}" if comparison.currency else "")


def groups(comparison: Comparison) -> Iterator[tuple[str, list[Entry]]]:
    """The entries under their headings: weight and cut, and the panels where these are not all the same."""
    for head, group in groupby(comparison.entries, key=lambda entry: _heading(entry, comparison.mixed)):
        yield head, list(group)


def _heading(entry: Entry, mixed: bool) -> str:
    hide = entry.usual.hide
    weight = "weight not known" if hide.weight_oz is None else format_weight(hide.weight_oz)
    said = [", ".join(entry.trial.panels)] if mixed else []
    said += [entry.trial.outside] if entry.trial.outside else []
    return f"{weight}, {hide.cut or 'cut not known'}" + "".join(f": {words}" for words in said)


def _leather(entry: Entry, leather: Callable[[Outcome], Fraction | None]) -> Iterator[Row]:
    shares: list[Callable[[Outcome], float]] = [
        lambda o: o.report.areas.usable, lambda o: o.report.areas.pieces, lambda o: _usable_yield(o),
        lambda o: o.report.areas.margins, lambda o: o.report.areas.flaws,
        lambda o: o.report.areas.between, lambda o: o.report.areas.remnant,
    ]  # fmt: skip
    outcome, typical = entry.usual, entry.trial.candidate.typical
    feet = f"{outcome.report.areas.hide / float(FT2_MM2):.2f}"
    usable, *others = [_percent(share(outcome) / outcome.report.areas.hide) for share in shares]
    yield (entry.name, feet, usable, str(outcome.pieces), *others, in_cents(leather(outcome)))
    if typical:
        usable, *others = [_shares_range(entry, share) for share in shares]
        span = entry.range(leather)
        cost = NOT_KNOWN if span is None else f"{in_cents(span[0])} to {in_cents(span[1])}"
        low, high = entry.range(lambda o: o.pieces) or (0, 0)
        yield ("  range", "", usable, f"{low:g}-{high:g}", *others, cost)


def _usable_yield(outcome: Outcome) -> float:
    return outcome.report.yields.of_usable * outcome.report.areas.hide


def _shares_range(entry: Entry, share: Callable[[Outcome], float]) -> str:
    low, high = entry.range(lambda o: share(o) / o.report.areas.hide) or (0.0, 0.0)
    return f"{100 * low:.0f}-{100 * high:.0f} %"


def piece_rows(comparison: Comparison) -> list[Row]:
    """What a piece and a pair of each panel cost on each hide, and what found no room."""
    rows: list[Row] = [PIECES_HEAD]
    for panel in dict.fromkeys(p.panel for e in comparison.entries for p in e.usual.placed):
        for entry in comparison.entries:
            for placed in (one for one in entry.usual.placed if one.panel == panel):
                pairs = placed.pieces // 2
                laid = f"{pairs} pair{'' if pairs == 1 else 's'}" if placed.paired else f"{placed.pieces}"
                name = f"{entry.name} (outside)" if entry.trial.outside else entry.name
                missing = str(placed.missing or "")
                rows.append((panel, name, laid, missing, *_cost(placed.piece), *_cost(placed.pair)))
    return rows


def _cost(cost: Cost | None) -> tuple[str, str]:
    if cost is None:
        return "", ""
    return in_cents(cost.total), in_cents(cost.leather)


def in_cents(amount: Decimal | Fraction | None) -> str:
    """``8.72``, halves up; or that it is not known."""
    return NOT_KNOWN if amount is None else f"{to_cents(amount):.2f}"


def set_rows(pairs: PairSets, currency: str | None) -> list[Row]:
    """The cheapest set for each number of pairs; numbers with the same set share a row."""
    rows: list[Row] = [SETS_HEAD, *_runs(pairs, pairs.sets, currency)]
    if pairs.at_best != pairs.sets:
        rows += [("if the hides not yet bought turn out as the best of the typical ones",)]
        rows += _runs(pairs, pairs.at_best, currency)
    return rows


def _runs(pairs: PairSets, sets: Sequence[HideSet | None], currency: str | None) -> list[Row]:
    numbered = enumerate(sets, start=pairs.first)
    runs = groupby(numbered, key=lambda row: None if row[1] is None else row[1].hides)
    return [_set(pairs, [*run], currency) for _, run in runs]


def _set(pairs: PairSets, run: Sequence[tuple[int, HideSet | None]], currency: str | None) -> Row:
    (first, found), last = run[0], run[-1][0]
    span = f"{first}" if first == last else f"{first}-{last}"
    label = f"{span} {'pair' if pairs.paired else 'piece'}{'' if last == 1 else 's'}"
    if found is None:
        return (label, "", "more than these hides hold", "", "")
    feet = found.area_mm2 / float(FT2_MM2)
    price = f"{feet:.2f} ft²" if found.price is None else _money(found.price, currency)
    # The first of the run bears most: it has the fewest to share the set's price.
    each = f"{feet / first:.2f} ft²" if found.price is None else in_cents(Fraction(found.price) / first)
    return (label, str(found.count), hides_in_words(found.hides), price, each)


def _money(amount: Decimal, currency: str | None) -> str:
    return in_cents(amount) + (f" {currency}" if currency else "")


Hides = tuple[tuple[str, int], ...]


def hides_in_words(hides: Hides) -> str:
    """``shoulder-05 + 2 x typical bend 9.50 ft²``."""
    return " + ".join(name if count == 1 else f"{count} x {name}" for name, count in hides)


def best_lines(comparison: Comparison) -> list[str]:
    """``best for half-chap: shoulder-05: ...``, one for each set of panels."""
    lines = []
    for verdict in comparison.best:
        what = "best" if len(comparison.best) == 1 else f"best for {', '.join(verdict.panels)}"
        lines.append(f"{what}: {verdict.hide or 'none'}: {verdict.reason}")
    return lines


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"
