"""Cheaper sets of hides, on which an order is tried while a dearer one holds it already."""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass, field
from itertools import combinations

from nesting.planning.demand import Unit, wanted_units
from nesting.planning.laid import Laid
from nesting.planning.laying import Layer

ALL_SETS = 8
"""Of so many hides all sets are thought of, of more only small ones."""

MOST_ROUNDS = 25
"""So many insertions are tried on a cheaper set of hides at a time."""

MOST_ATTEMPTS = 6
"""So often each set is begun, from another heading each time."""


@dataclass
class Rival:
    """A cheaper set of hides on which the order is being laid; ``left`` is what has no room there yet.

    ``attempt`` counts how often the set was begun before.
    """

    hides: frozenset[int]
    attempt: int = 0
    laid: dict[int, Laid] | None = None
    left: list[Unit] = field(default_factory=list)
    rounds: int = 0


class Rivals:
    """Which set of hides is tried, ``present``, and how often each was begun in vain."""

    def __init__(self, layer: Layer) -> None:
        self.layer = layer
        self.attempts: dict[frozenset[int], int] = {}
        self.present: Rival | None = None

    def burden(self, hides: Iterable[int]) -> float:
        """What using these hides costs."""
        return sum(self.layer.burden[h] for h in hides)

    def any_cheaper_than(self, hides: Set[int]) -> bool:
        """Whether a set cheaper than ``hides`` is being laid, or one is left that may be begun."""
        if self.present is None or self.burden(self.present.hides) >= self.burden(hides):
            chosen = self._choose(hides)
            self.present = None if chosen is None else Rival(chosen, self.attempts.get(chosen, 0))
        return self.present is not None

    def give_up(self, rival: Rival) -> None:
        """The rival has had its rounds: the next set's turn."""
        self.attempts[rival.hides] = rival.attempt + 1
        self.present = None

    def _choose(self, hides: Set[int]) -> frozenset[int] | None:
        """The least often tried, then cheapest set of hides that costs less and might hold all."""
        now = self.burden(hides)
        sets = [
            s for s in self._sets(hides) if self.burden(s) < now and self.attempts.get(s, 0) < MOST_ATTEMPTS
        ]
        return min(sets, key=lambda s: (self.attempts.get(s, 0), self.burden(s), sorted(s)), default=None)

    def _sets(self, used: Set[int]) -> list[frozenset[int]]:
        """Sets of hides with leather enough for the order and one that takes each line.

        All sets of few hides; of many, the single ones, the pairs, and the ``used`` ones less one.
        """
        layer = self.layer
        hides = layer.hides_in_order()
        if len(hides) <= ALL_SETS:
            sizes = range(1, len(hides) + 1)
            sets = [frozenset(c) for size in sizes for c in combinations(hides, size)]
        else:
            sets = [frozenset(c) for size in (1, 2) for c in combinations(hides, size)]
            sets += [frozenset(used) - {h} for h in used]
        wanted = wanted_units(layer.order)
        lines = {u.line for u in wanted}
        need = sum(layer.area(u) for u in wanted)
        return [
            s
            for s in sets
            if sum(layer.leather[h] for h in s) >= need and lines <= set().union(*(layer.fits[h] for h in s))
        ]
