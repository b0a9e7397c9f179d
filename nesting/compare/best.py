"""The best line, and why: for all hides on which the same panels were laid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from nesting.compare.outcome import Entry, to_cents


@dataclass(frozen=True)
class Verdict:
    """The best hide for ``panels`` (None where there is none) and the reason, a sentence."""

    panels: tuple[str, ...]
    hide: str | None
    reason: str


def verdicts(entries: Sequence[Entry]) -> list[Verdict]:
    """One for each set of panels that was laid on the same hides, in the order of the entries.

    Hides outside the order's weights are not looked at. What holds all that is asked for goes first, then
    what has the least cost of leather (the price less the credit for what is kept), per pair, piece or
    area of pieces; where a hide has no price the yield of the hide decides.
    """
    sets = dict.fromkeys(entry.trial.panels for entry in entries)
    within = [entry for entry in entries if entry.trial.outside is None]
    return [
        _verdict(panels, found)
        for panels in sets
        if (found := [entry for entry in within if entry.trial.panels == panels]) or len(sets) == 1
    ]


def ranked(entries: Sequence[Entry]) -> list[Entry]:
    """The best first; those with nothing on them last, before them those that hold not all."""
    laid = [entry for entry in entries if entry.usual.pieces]
    costs = [entry.usual.leather_per_unit for entry in laid]
    by_cost = all(cost is not None for cost in costs)

    def key(entry: Entry) -> tuple[bool, bool, Fraction | float]:
        outcome, empty = entry.usual, not entry.usual.pieces
        figure = outcome.leather_per_unit if by_cost else -outcome.report.yields.of_hide
        return empty, not entry.whole, 0.0 if empty or figure is None else figure

    return sorted(entries, key=key)


def _verdict(panels: tuple[str, ...], entries: Sequence[Entry]) -> Verdict:
    if not entries:
        return Verdict(panels, None, "no hide is of the weight that the order asks for")
    best, *others = ranked(entries)
    if not best.usual.pieces:
        return Verdict(panels, None, "none of the hides has room for it")
    rivals = [entry for entry in others if entry.usual.pieces]
    parts = [_amount(best, rivals), _lead(best, rivals, len(others))]
    if best.trial.candidate.typical or (rivals and rivals[0].trial.candidate.typical):
        parts.append(_doubt(best, rivals))
    return Verdict(panels, best.name, "; ".join(part for part in parts if part))


def _amount(best: Entry, rivals: Sequence[Entry]) -> str:
    outcome = best.usual
    asked = [one for one in outcome.placed if one.asked is not None]
    if not asked:
        return f"it holds {_held(best)}"
    if best.whole:
        alone = bool(rivals) and not any(rival.whole for rival in rivals)
        return "it alone holds all that is asked for" if alone else "it holds all that is asked for"
    pieces = f"{outcome.pieces} of {outcome.pieces + outcome.missing} pieces"
    return f"no hide holds all that is asked for, it holds {pieces}"


def _held(entry: Entry) -> str:
    pieces, paired = entry.usual.pieces, entry.usual.placed[0].paired
    if len(entry.usual.placed) > 1 or not paired:
        return f"{pieces} piece{'' if pieces == 1 else 's'}"
    return f"{pieces // 2} pair{'' if pieces == 2 else 's'}"


def _lead(best: Entry, rivals: Sequence[Entry], others: int) -> str:
    """By what it leads, and who comes next; ``others`` counts those without room for anything, too."""
    rival = next((one for one in rivals if one.whole == best.whole), None)
    if not rivals:
        alone = "no other hide has room for any of it" if others else "no other hide is there for it"
        return f"{_figure(best, best.usual.leather_per_unit is not None)}; {alone}"
    by_cost = all(one.usual.leather_per_unit is not None for one in (best, *rivals))
    why = "" if by_cost else "not every hide has a price, so the yield decides: "
    if rival is None:
        return _figure(best, by_cost)
    lead = f"{why}{_figure(best, by_cost)}, the {'least' if by_cost else 'most'}"
    return f"{lead}; next is {rival.name} with {_value(rival, by_cost)}"


def _figure(entry: Entry, by_cost: bool) -> str:
    return (
        f"its leather comes to {_value(entry, True)}" if by_cost else f"its yield is {_value(entry, False)}"
    )


def _value(entry: Entry, by_cost: bool) -> str:
    outcome = entry.usual
    about = "about " if entry.trial.candidate.typical else ""
    if not by_cost or outcome.leather_per_unit is None:
        return f"{about}{100 * outcome.report.yields.of_hide:.1f} % of the hide"
    return f"{about}{in_money(outcome.leather_per_unit, entry)} for {entry.unit}"


def in_money(amount: Fraction, entry: Entry) -> str:
    """``7.72 USD``."""
    price = entry.usual.hide.price
    return f"{to_cents(amount):.2f}" + (f" {price.currency}" if price else "")


def _doubt(best: Entry, rivals: Sequence[Entry]) -> str:
    """What a typical hide in the lead, or next to it, leaves open."""
    if not rivals:
        return "typical outlines, no hide was measured"
    span, other = _span(best), _span(rivals[0])
    if span is None or other is None:
        return ""
    if span[0] <= other[1] and other[0] <= span[1]:
        return "their ranges overlap, so only the hide itself will tell"
    return "also over the range of typical outlines and flaws"


def _span(entry: Entry) -> tuple[float, float] | None:
    """The range of what decided: the cost of leather, or without prices the yield."""
    cost = entry.range(lambda o: o.leather_per_unit)
    if cost is None:
        return entry.range(lambda o: o.report.yields.of_hide)
    return float(cost[0]), float(cost[1])
