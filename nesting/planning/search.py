"""The search over an order: lay greedily, then keep improving, one small step a round.

Each round is one of: force one more unit in; empty a hide into the others; squeeze a hide so that
what is left grows. The first that can still matter is tried.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nesting.errors import InputError
from nesting.files.order import Order
from nesting.packing import kernels
from nesting.packing.arrays import State
from nesting.packing.fill import FillParams, greedy, insert_more, squeeze
from nesting.packing.separate import Effort
from nesting.packing.stop import Stop, never
from nesting.packing.strip import seed_state
from nesting.planning.demand import Unit, fill_lines, unit_of, wanted_units
from nesting.planning.leather import allowed
from nesting.planning.patterns import Pattern, pattern_of
from nesting.planning.score import Plan, Score, burdens
from nesting.planning.table import Table, can_hold, headings, opened_leather, set_table

Floats = NDArray[np.float64]

SQUEEZE = Effort(wide=16, near=12, patience=60, strikes=1)

HEADINGS = 3
"""So many headings are tried before the best is improved."""

MOST_FILL = 400
"""No more fill units than this are offered to one hide."""

MOST_PIECES = 4000
"""More pieces on one hide are refused: the packer keeps numbers for each two of them."""


@dataclass
class Laid:
    """A table in the middle of the search: what is on it and where its front is."""

    table: Table
    state: State
    limit: Floats
    bite: float = 0.02
    misses: int = 0
    emptied: bool = field(default=False)

    def on(self) -> list[int]:
        """Indices of the units on the table."""
        return [u for u, group in enumerate(self.table.groups) if self.state.active[group[0]]]

    def reach(self) -> float:
        """How far the pieces reach on the table."""
        return float(self.state.bodies[self.state.active, 2].max())

    def taken(self) -> float:
        """Usable leather up to where the pieces reach, mm²."""
        return self.table.taken(self.reach()) if self.state.active.any() else 0.0


class Search:
    """One track of the search; ``run`` yields a better and better ``Plan``. All chance is the seed's."""

    def __init__(self, order: Order, seed: int, stop: Stop, params: FillParams = FillParams()) -> None:  # noqa: B008
        self.order, self.stop, self.params = order, stop, params
        self.rng = seed_state(seed)
        self.chance = np.random.default_rng(seed)
        self.variant = seed
        apart = order.cutting.kerf_mm + order.cutting.gap_mm
        self.patterns: dict[tuple[int, bool], Pattern] = {
            (i, mirrored): pattern_of(line.panel, mirrored, apart)
            for i, line in enumerate(order.lines)
            for mirrored in ({False, True} if line.panel.pairing == "mirrored" else {False})
        }
        self.burden = burdens(order.hides)
        self.fits = [
            {i for i, line in enumerate(order.lines) if line.takes(hide) and self._holds(h, i)}
            for h, hide in enumerate(order.hides)
        ]
        self.pull = np.array([1.0, 0.02])
        self.laid: dict[int, Laid] = {}
        self.left: list[Unit] = []

    def _holds(self, h: int, line: int) -> bool:
        hide = self.order.hides[h]
        return all(can_hold(hide, self.order, p) for (i, _), p in self.patterns.items() if i == line)

    # ---------------------------------------------------------------------------------- rounds

    def run(self) -> Iterator[Plan | None]:
        """Yield a plan whenever it is better than all before, None after each other round."""
        best: Score | None = None
        for _ in self._rounds():
            plan = self.plan()
            if best is None or plan.score < best:
                best = plan.score
                yield plan
            else:
                yield None

    def _rounds(self) -> Iterator[None]:
        best: tuple[Score, dict[int, Laid], list[Unit]] | None = None
        for turn in range(HEADINGS):
            if best is not None and self.stop():
                break
            self._lay_all(self.variant + turn)
            score = self.plan().score
            if best is None or score < best[0]:
                best = (score, self.laid, self.left)
            yield
        assert best is not None
        self.laid, self.left = best[1], best[2]
        while self.laid:
            self._step()
            yield

    def _step(self) -> None:
        roll = self.chance.random()
        if self.left and roll < 0.8:
            self._force_one()
        elif len(self.laid) > 1 and roll < 0.6 and self._spare():
            self._empty_one()
        elif fill_lines(self.order) and roll < 0.85:
            self._fill_one()
        else:
            self._squeeze_one()

    # --------------------------------------------------------------------------------- laying

    def _by_difficulty(self, units: list[Unit]) -> list[Unit]:
        """Those that fewest hides take first, then the largest."""
        choice = [sum(line in fits for fits in self.fits) for line in range(len(self.order.lines))]
        return sorted(units, key=lambda u: (choice[u.line], -self._area(u), u.line))

    def _area(self, unit: Unit) -> float:
        return sum(self.patterns[unit.line, mirrored].area for _, mirrored in unit.members)

    def _hides_in_order(self) -> list[int]:
        """Hides by what their leather costs for each mm², cheapest first."""
        areas = [
            max((opened_leather(hide, self.order, p).area for p in self.patterns.values()), default=0.0)
            for hide in self.order.hides
        ]
        order = [h for h in range(len(self.order.hides)) if self.fits[h] and areas[h] > 0]
        return sorted(order, key=lambda h: (self.burden[h] / areas[h], h))

    def _units_for(self, h: int) -> list[Unit]:
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
                units += [unit] * min(MOST_FILL, self._most(h, unit))
        pieces = sum(unit.pieces for unit in units)
        if pieces > MOST_PIECES:
            raise InputError(
                f"{self.order.path}: up to {pieces} pieces might lie on {self.order.hides[h].name}, "
                f"more than the {MOST_PIECES} that can be laid on one hide; order fewer at a time"
            )
        return units

    def _most(self, h: int, unit: Unit) -> int:
        """More of a unit than this a hide cannot hold, by area."""
        accepts = self.patterns[unit.line, False].parts[0][1]
        free = allowed(self.order.hides[h], self.order.cutting, accepts)
        return int(1.001 * float(free.area) / self._area(unit))

    def _lay_all(self, turn: int) -> None:
        """Lay the whole order greedily, hide after hide, each from its heading number ``turn``.

        The first hides are laid to the end even when time is up: a piece is only said to have found
        no room where its place was looked for.
        """
        first = not self.laid
        self.laid, self.left = {}, self._by_difficulty(wanted_units(self.order))
        for h in self._hides_in_order():
            units = self._units_for(h)
            if not units or not (self.left or fill_lines(self.order)):
                continue
            choices = headings(self.order.hides[h])
            heading = choices[turn % len(choices)]
            table = set_table(self.order.hides[h], self.order, self.patterns, units, heading)
            laid = Laid(table, *table.fresh())
            self.left = self._lay_on(laid, self.left, never if first else self.stop)
            if laid.on():
                self.laid[h] = laid

    def _lay_on(self, laid: Laid, wanted: list[Unit], stop: Stop) -> list[Unit]:
        """Greedily insert wanted units, then fill units; return the wanted ones without room."""
        table = laid.table
        pool = _Pool(table, laid.state)
        chosen, left = [], []
        for unit in wanted:
            slot = pool.take(unit)
            if slot is None:
                left.append(unit)
            else:
                chosen.append(slot)
        chosen += pool.fill_slots()
        groups = [table.groups[u] for u in chosen]
        failed = set(
            greedy(laid.state, table.arrays, laid.limit, groups, self.pull, self.rng, self.params, stop)
        )
        missing = [table.units[u] for u in chosen if table.groups[u] in failed and table.units[u].wanted]
        return left + missing

    # ------------------------------------------------------------------------------- improving

    def _force_one(self) -> None:
        unit = self.left[int(self.chance.integers(len(self.left)))]
        hosts = [h for h in self.laid if unit.line in self.fits[h]]
        if not hosts:
            self._squeeze_one()
            return
        if self._insert(self.laid[hosts[int(self.chance.integers(len(hosts)))]], unit):
            self.left.remove(unit)

    def _insert(self, laid: Laid, unit: Unit) -> bool:
        slot = _Pool(laid.table, laid.state).take(unit)
        if slot is None:
            return False
        limit = np.array(laid.table.arrays.problem.box)
        group = laid.table.groups[slot]
        done = not greedy(
            laid.state, laid.table.arrays, limit, [group], self.pull, self.rng, self.params, self.stop
        ) or insert_more(laid.state, laid.table.arrays, limit, group, self.rng, self.params, self.stop)
        if done:
            laid.limit[:] = limit
            laid.limit[2] = max(laid.limit[0], laid.reach())
            laid.bite, laid.misses = 0.02, 0
        return done

    def _fill_one(self) -> None:
        h = list(self.laid)[int(self.chance.integers(len(self.laid)))]
        lines = [line for line in fill_lines(self.order) if line in self.fits[h]]
        if lines:
            line = lines[int(self.chance.integers(len(lines)))]
            self._insert(self.laid[h], unit_of(self.order.lines, line, False))

    def _free(self, h: int) -> float:
        laid = self.laid[h]
        return float(laid.table.leather.area) - sum(self._area(laid.table.units[u]) for u in laid.on())

    def _spare(self) -> bool:
        """Whether the other hides might have room for what the least filled one holds."""
        source = self._least_filled()
        if self.laid[source].misses > 40:
            return False
        held = sum(self._area(self.laid[source].table.units[u]) for u in self.laid[source].on())
        return sum(self._free(h) for h in self.laid if h != source) > 1.1 * held

    def _least_filled(self) -> int:
        return min(
            self.laid,
            key=lambda h: (
                sum(self._area(self.laid[h].table.units[u]) for u in self.laid[h].on())
                / max(self.burden[h], 1e-9)
            ),
        )

    def _empty_one(self) -> None:
        """Move one unit off the least filled hide to another; drop the hide when nothing is left on it."""
        source = self._least_filled()
        laid = self.laid[source]
        on = laid.on()
        u = on[int(self.chance.integers(len(on)))]
        unit = laid.table.units[u]
        others = [h for h in self.laid if h != source and unit.line in self.fits[h]]
        if not others or not self._insert(self.laid[others[int(self.chance.integers(len(others)))]], unit):
            laid.misses += 1
            return
        for item in laid.table.groups[u]:
            kernels.lift(item, laid.state)
        if len(on) == 1:
            del self.laid[source]

    def _squeeze_one(self) -> None:
        h = list(self.laid)[int(self.chance.integers(len(self.laid)))]
        laid = self.laid[h]
        length = laid.reach() - laid.limit[0]
        # Bites of all sizes about the one that last went well.
        bite = laid.bite * float(np.exp(self.chance.normal(0.0, 0.7))) * length
        done = squeeze(
            laid.state, laid.table.arrays, laid.limit, bite, 0, SQUEEZE, self.rng, self.chance, self.stop
        )
        laid.bite = min(0.03, 1.5 * laid.bite) if done else max(0.0005, 0.9 * laid.bite)

    # --------------------------------------------------------------------------------- result

    def plan(self) -> Plan:
        """The present state as a plan with its score."""
        fill = 0
        on: list[tuple[tuple[int, bool, tuple[object, ...]], ...]] = []
        for h in range(len(self.order.hides)):
            laid = self.laid.get(h)
            if laid is None:
                on.append(())
                continue
            poses = laid.table.poses(laid.state)
            units = laid.table.units
            on.append(tuple((units[u].line, units[u].wanted, p) for u, p in poses.items()))
            fill += sum(units[u].pieces for u in poses if not units[u].wanted)
        score = Score(
            missing=sum(u.pieces for u in self.left),
            unfilled=-fill,
            burden=sum(self.burden[h] for h in self.laid),
            taken=sum(laid.taken() for laid in self.laid.values()),
        )
        return Plan(score, tuple(on))  # type: ignore[arg-type]


class _Pool:
    """The free slots of a table: units that are not on it, by line and whether wanted."""

    def __init__(self, table: Table, state: State) -> None:
        self.table = table
        self.free: dict[tuple[int, bool], list[int]] = {}
        for u in reversed(range(len(table.units))):
            if not state.active[table.groups[u][0]]:
                unit = table.units[u]
                self.free.setdefault((unit.line, unit.wanted), []).append(u)

    def take(self, unit: Unit) -> int | None:
        """A free slot for such a unit, None when the table offers none."""
        slots = self.free.get((unit.line, unit.wanted))
        return slots.pop() if slots else None

    def fill_slots(self) -> list[int]:
        """All free slots of fill units."""
        return [u for (_, wanted), slots in self.free.items() if not wanted for u in reversed(slots)]
