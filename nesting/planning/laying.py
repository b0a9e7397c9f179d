"""Laying an order greedily, hide after hide: where the search starts from."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from nesting.errors import InputError
from nesting.files.order import Order
from nesting.packing.fill import FillParams, greedy, insert_more
from nesting.packing.stop import Stop
from nesting.packing.strip import seed_state
from nesting.planning.demand import Unit, fill_lines, unit_of, wanted_units
from nesting.planning.laid import Laid, Pool
from nesting.planning.leather import allowed
from nesting.planning.patterns import Pattern, patterns_of
from nesting.planning.score import burdens
from nesting.planning.table import can_hold, headings, opened_leather, set_table
from nesting.planning.tiling import lay_tiled

Floats = NDArray[np.float64]

ASIDE = 0.6
"""Laid again, pieces are drawn aside by up to this for each step back."""

TILED = 60
"""Where so many pieces of the only panel may lie on a hide, a repeat of it is tiled, too."""

MOST_FILL = 2000
"""No more pieces than this fill one hide, of all fill lines together; see ``plan.at_most_filled``."""

MOST_PIECES = 4000
"""More pieces on one hide are refused: the packer keeps numbers for each two of them."""


def most_filling(order: Order) -> int:
    """How many pieces of each fill line are offered to one hide at most."""
    return MOST_FILL // max(1, len(fill_lines(order)))


class Layer:
    """Lays an order on hides. ``patterns``, ``fits`` and ``leather`` tell what the order's hides can take.

    ``fits[h]`` are the lines that hide h takes, ``leather[h]`` is its leather for the easiest panel in mm².
    ``rng`` and ``chance`` are the kernels' state and the generator of one track, shared with its search.
    """

    def __init__(self, order: Order, seed: int, params: FillParams) -> None:
        self.order, self.params = order, params
        self.rng, self.chance = seed_state(seed), np.random.default_rng(seed)
        self.patterns: dict[tuple[int, bool], Pattern] = patterns_of(order)
        self.burden = burdens(order.hides)
        self.fits = [
            {i for i, line in enumerate(order.lines) if line.takes(hide) and self._holds(h, i)}
            for h, hide in enumerate(order.hides)
        ]
        self.leather = [
            max((opened_leather(hide, order, p).area for p in self.patterns.values()), default=0.0)
            for hide in order.hides
        ]
        self.pull = np.array([1.0, 0.02])

    def _holds(self, h: int, line: int) -> bool:
        hide = self.order.hides[h]
        return all(can_hold(hide, self.order, p) for (i, _), p in self.patterns.items() if i == line)

    # --------------------------------------------------------------------------- what goes where

    def hides_in_order(self) -> list[int]:
        """Hides by what their leather costs for each mm², cheapest first."""
        usable = [h for h in range(len(self.order.hides)) if self.fits[h] and self.leather[h] > 0]
        return sorted(usable, key=lambda h: (self.burden[h] / self.leather[h], h))

    def area(self, unit: Unit) -> float:
        """Leather that a unit's pieces cover, mm²."""
        return sum(self.patterns[unit.line, other].area for _, other in unit.members)

    def in_number(self) -> bool:
        """Whether the order is of one panel, and of that so many that a repeat of it may pay."""
        units = {
            *wanted_units(self.order),
            *(unit_of(self.order.lines, i, False) for i in fill_lines(self.order)),
        }
        if len(self.order.lines) != 1 or not units:
            return False
        unit = units.pop()
        asked = len(wanted_units(self.order)) or most_filling(self.order)
        most = max((self._most(h, unit) for h in self.hides_in_order()), default=0)
        return unit.pieces * min(asked, most) >= TILED

    def units_for(self, h: int) -> list[Unit]:
        """The wanted units the hide may take, and fill units: of each line what its area could hold."""
        wanted = [u for u in self._by_difficulty(wanted_units(self.order)) if u.line in self.fits[h]]
        room = {unit.line: self._most(h, unit) for unit in set(wanted)}
        units = []
        for unit in wanted:
            if room[unit.line] > 0:
                room[unit.line] -= 1
                units.append(unit)
        for line in fill_lines(self.order):
            if line in self.fits[h]:
                unit = unit_of(self.order.lines, line, False)
                units += [unit] * min(most_filling(self.order) // unit.pieces, self._most(h, unit))
        pieces = sum(unit.pieces for unit in units)
        if pieces > MOST_PIECES:
            raise InputError(
                f"{self.order.path}: up to {pieces} pieces might lie on {self.order.hides[h].name}, "
                f"more than the {MOST_PIECES} that can be laid on one hide; order fewer at a time"
            )
        return units

    def _by_difficulty(self, units: list[Unit]) -> list[Unit]:
        """Those that fewest hides take first, then the largest."""
        choice = [sum(line in fits for fits in self.fits) for line in range(len(self.order.lines))]
        return sorted(units, key=lambda u: (choice[u.line], -self.area(u), u.line))

    def _most(self, h: int, unit: Unit) -> int:
        """More of a unit than this a hide cannot hold, by area."""
        sets = {self.patterns[unit.line, other].parts[0][1] for _, other in unit.members}
        free = max(allowed(self.order.hides[h], self.order.cutting, accepts).area for accepts in sets)
        return int(1.001 * float(free) / self.area(unit))

    # --------------------------------------------------------------------------------- laying

    def lay(
        self, hides: Iterable[int], turn: int, tile: bool, stop: Stop
    ) -> tuple[dict[int, Laid], list[Unit]]:
        """The order laid greedily on some of the hides, the cheapest leather first; and what is left.

        Each hide is laid from its heading number ``turn``. With ``tile`` a repeat of the only panel first.
        """
        chosen = set(hides)
        laid: dict[int, Laid] = {}
        left = self._by_difficulty(wanted_units(self.order))
        for h in self.hides_in_order():
            units = self.units_for(h) if h in chosen else []
            if not units or not (left or fill_lines(self.order)):
                continue
            choices = headings(self.order.hides[h])
            heading = choices[turn % len(choices)]
            table = set_table(self.order.hides[h], self.order, self.patterns, units, heading)
            here = Laid(table, *table.fresh())
            if tile:
                left = self._tile(here, left, stop)
            left = self._lay_on(here, left, self.pull, stop)
            if not here.on():
                left = self._force_first(here, left, stop)
            if here.on():
                laid[h] = here
        return laid, left

    def lay_again(self, before: dict[int, Laid], stop: Stop) -> tuple[dict[int, Laid], list[Unit]]:
        """The same tables laid greedily once more, pieces drawn aside this time."""
        pull = np.array([1.0, self.chance.uniform(-ASIDE, ASIDE)])
        left = self._by_difficulty(wanted_units(self.order))
        laid = {}
        for h in sorted(before, key=self.hides_in_order().index):
            here = Laid(before[h].table, *before[h].table.fresh())
            left = self._lay_on(here, left, pull, stop)
            if here.on():
                laid[h] = here
        return laid, left

    def _tile(self, laid: Laid, wanted: list[Unit], stop: Stop) -> list[Unit]:
        """Tile the only panel over a table; return the wanted units that have no place by that."""
        slots, _ = Pool(laid).take_all(wanted)
        done = lay_tiled(laid.table, laid.state, laid.limit, slots, self.chance, stop)
        return wanted[sum(laid.table.units[slot].wanted for slot in done) :]

    def _force_first(self, laid: Laid, wanted: list[Unit], stop: Stop) -> list[Unit]:
        """Force one unit onto a table where none could be laid, then lay the rest; return what is left.

        A panel that fits exactly has a single place, which chance does not hit.
        """
        table, tried = laid.table, set()
        for slot in Pool(laid).take_all(wanted)[0]:
            unit, limit = table.units[slot], laid.limit.copy()
            if unit.line in tried or stop():
                continue
            tried.add(unit.line)
            if insert_more(laid.state, table.arrays, limit, table.groups[slot], self.rng, self.params, stop):
                left = list(wanted)
                if unit.wanted:
                    left.remove(unit)
                return self._lay_on(laid, left, self.pull, stop)
        return wanted

    def _lay_on(self, laid: Laid, wanted: list[Unit], pull: Floats, stop: Stop) -> list[Unit]:
        """Greedily insert wanted units, then fill units; return the wanted ones without room."""
        table = laid.table
        slots, left = Pool(laid).take_all(wanted)
        groups = [table.groups[u] for u in slots]
        failed = set(greedy(laid.state, table.arrays, laid.limit, groups, pull, self.rng, self.params, stop))
        return left + [table.units[u] for u in slots if table.groups[u] in failed and table.units[u].wanted]
