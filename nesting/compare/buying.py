"""How many hides, and which, for so many pairs: the cheapest set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from nesting.account.money import money
from nesting.compare.outcome import Entry, Outcome


@dataclass(frozen=True)
class Offer:
    """A hide that holds so many ``pairs``; ``often``: as many of it as are needed can be bought."""

    name: str
    pairs: int
    cents: int | None
    area_mm2: float
    often: bool = False


@dataclass(frozen=True)
class HideSet:
    """The hides to take for ``pairs``; each holds what its layout holds, all together ``holds`` pairs."""

    pairs: int
    hides: tuple[tuple[str, int], ...]
    holds: int
    price: Decimal | None
    area_mm2: float

    @property
    def count(self) -> int:
        """How many hides."""
        return sum(count for _, count in self.hides)


def offers(entries: Sequence[Entry], most: bool = False) -> list[Offer]:
    """What can be bought or taken; of typical hides the least pairs of the three outlines, or the ``most``.

    Hides outside the order's weights, and those with no room for a pair, are left out.
    """
    pick = max if most else min
    within = [entry for entry in entries if entry.trial.outside is None]
    found = [_offer(entry, pick(entry.outcomes, key=lambda o: o.pieces)) for entry in within]
    return [offer for offer in found if offer.pairs]


def _offer(entry: Entry, outcome: Outcome) -> Offer:
    price = outcome.price
    pairs = outcome.pieces // (2 if outcome.placed[0].paired else 1)
    whole_cents = None if price is None else int(price.scaleb(2))
    return Offer(entry.name, pairs, whole_cents, outcome.report.areas.hide, entry.trial.candidate.typical)


Burden = tuple[float, int, float]
"""What is made least: price in cents (or area), then the number of hides, then their area."""


def cheapest_sets(offered: Sequence[Offer], most_pairs: int) -> list[HideSet | None]:
    """The cheapest sets for 1 to ``most_pairs`` pairs; None where all the hides together hold fewer.

    By price when every offer has one, else by area. Exact: dynamic programming over the pairs still to
    cover, one hide after another (the covering form of the knapsack problem; Bellman, *Dynamic
    Programming*, 1957).
    """
    priced = all(offer.cents is not None for offer in offered)
    best: list[tuple[Burden, tuple[int, ...]] | None] = [((0, 0, 0.0), ())] + [None] * most_pairs
    for i, offer in enumerate(offered):
        # Upwards a hide just taken may be taken again, downwards not.
        order = range(1, most_pairs + 1) if offer.often else range(most_pairs, 0, -1)
        for pairs in order:
            without = best[max(0, pairs - offer.pairs)]
            if without is None:
                continue
            burden, taken = without
            first = float(offer.cents) if priced and offer.cents is not None else offer.area_mm2
            added = (burden[0] + first, burden[1] + 1, burden[2] + offer.area_mm2), (*taken, i)
            present = best[pairs]
            if present is None or added[0] < present[0]:
                best[pairs] = added
    return [
        None if found is None else _set(pairs, found[1], offered, priced)
        for pairs, found in enumerate(best)
        if pairs
    ]


def _set(pairs: int, taken: tuple[int, ...], offered: Sequence[Offer], priced: bool) -> HideSet:
    chosen = [offered[i] for i in taken]
    counts = {offer.name: chosen.count(offer) for offer in chosen}
    return HideSet(
        pairs,
        tuple(counts.items()),
        sum(offer.pairs for offer in chosen),
        money(sum(offer.cents or 0 for offer in chosen)) if priced else None,
        sum(offer.area_mm2 for offer in chosen),
    )
