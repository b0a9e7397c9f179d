"""A comparison as a whole: what was laid, the best of it, what to buy, and what a reader must know."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from nesting.account.money import one_currency
from nesting.compare.best import Verdict, ranked, verdicts
from nesting.compare.buying import HideSet, cheapest_sets, offers
from nesting.compare.laying import Bounds
from nesting.compare.outcome import FOOT_OF_PIECES, Entry, Outcome
from nesting.files.order import Order

_PAIR_NOTES = (
    "sets of hides: each hide at hand once, those not yet bought as often as needed, reckoned with the "
    "fewest pairs that the typical outlines hold; whole prices, without credit for what is left",
)


@dataclass(frozen=True)
class PairSets:
    """The cheapest sets for ``first`` to ``last`` pairs of ``panel``, one each; None where hides run out.

    ``sets`` reckon with the least that the typical outlines hold, ``at_best`` with the most.
    """

    panel: str
    paired: bool
    first: int
    last: int
    sets: tuple[HideSet | None, ...]
    at_best: tuple[HideSet | None, ...]


@dataclass(frozen=True)
class Comparison:
    """``entries`` are grouped by weight, thinnest first, and cut, the best of each group first."""

    title: str
    fill: bool
    seed: int
    bounds: Bounds
    currency: str | None
    entries: tuple[Entry, ...]
    best: tuple[Verdict, ...]
    pairs: PairSets | None
    notes: tuple[str, ...]

    @property
    def unit(self) -> str:
        """What the cost of leather is shown for; a foot of pieces where hides hold different panels."""
        return FOOT_OF_PIECES if self.mixed else self.entries[0].unit

    @property
    def mixed(self) -> bool:
        """Whether not all hides were laid with the same panels."""
        return len({entry.trial.panels for entry in self.entries}) > 1

    def leather(self, outcome: Outcome) -> Fraction | None:
        """Cost of the leather for one ``unit``, exact; None where not known."""
        return outcome.leather_per_ft2 if self.unit == FOOT_OF_PIECES else outcome.leather_per_unit


def compared(
    order: Order,
    entries: Sequence[Entry],
    fill: bool,
    seed: int,
    bounds: Bounds,
    pairs: tuple[int, int] | None = None,
    notes: Sequence[str] = (),
) -> Comparison:
    """The comparison of the entries; ``pairs`` asks for the cheapest sets from the first number to the last.

    Entries must be of one panel for that. Raises InputError on prices in several currencies.
    """
    hides = [hide for entry in entries for hide in entry.trial.candidate.hides]
    return Comparison(
        order.title,
        fill,
        seed,
        bounds,
        one_currency(hides, order.costs.currency),
        tuple(grouped(entries, fill)),
        tuple(verdicts(entries)),
        None if pairs is None else _pair_sets(entries, *pairs),
        (*notes, *_notes(entries, bounds), *(_PAIR_NOTES if pairs else ())),
    )


def grouped(entries: Sequence[Entry], fill: bool = False) -> list[Entry]:
    """By weight (thinnest first, unknown last) and cut, within a group the best first.

    With ``fill``, where each panel is laid by itself, by panel before that.
    """
    unknown = (float("inf"), float("inf"))
    panels = list(dict.fromkeys(entry.trial.panels for entry in entries))
    groups: dict[tuple[int, tuple[float, float], str], list[Entry]] = {}
    for entry in entries:
        hide, first = entry.usual.hide, panels.index(entry.trial.panels) if fill else 0
        groups.setdefault((first, hide.weight_oz or unknown, hide.cut), []).append(entry)
    return [entry for _, group in sorted(groups.items()) for entry in ranked(group)]


def _pair_sets(entries: Sequence[Entry], first: int, last: int) -> PairSets:
    placed = entries[0].usual.placed[0]
    sets, at_best = (cheapest_sets(offers(entries, most), last)[first - 1 :] for most in (False, True))
    return PairSets(placed.panel, placed.paired, first, last, tuple(sets), tuple(at_best))


def _notes(entries: Sequence[Entry], bounds: Bounds) -> list[str]:
    """What a reader of the figures must know."""
    notes = []
    many, what = (bounds.seconds, "second") if bounds.rounds is None else (bounds.rounds, "round")
    each = f"{many:g} {what}{'' if many == 1 else 's'}"
    notes.append(f"each hide was searched for {each}; a longer search may fit more on any of them")
    if any(entry.trial.candidate.typical for entry in entries):
        notes.append(
            "typical hides are none that anyone measured: three drawn outlines of the stated cut and area "
            "stand in, with 1, 4 and 9 % of it flawed (assumed); figures are for 4 %, ranges over the three"
        )
    if any(entry.trial.left_out for entry in entries):
        notes.append("each hide is laid with the panels whose weights it meets, and with no others")
    outside = dict.fromkeys(e.name for e in entries if e.trial.outside is not None)
    if outside:
        notes.append(
            f"laid as if the weight were right, but not compared: {', '.join(outside)}, outside the weights "
            "that the order asks for"
        )
    unpriced = dict.fromkeys(e.name for e in entries if e.usual.hide.price is None)
    if unpriced:
        notes.append(f"without a price, so that the cost is not known: {', '.join(unpriced)}")
    cost = any(e.usual.report.cost is not None and e.usual.report.areas.remnant for e in entries)
    if cost:
        notes.append("cost of leather is the hide's price less the credit that the order gives for remnants")
    return notes
