"""The search over an order: lay greedily, then keep improving, one small step a round.

Each round is one of: force one more unit in; lay a cheaper set of hides, which takes over once it
holds all; squeeze a hide so that what is left grows. The first that can still matter is tried.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from nesting.errors import InputError
from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.packing import kernels
from nesting.packing.arrays import State
from nesting.packing.compact import NUDGE, squeeze
from nesting.packing.fill import FillParams, greedy, insert_more
from nesting.packing.separate import Effort, reach
from nesting.packing.stop import Stop, never
from nesting.packing.strip import seed_state
from nesting.planning.demand import Unit, fill_lines, unit_of, wanted_units
from nesting.planning.leather import allowed
from nesting.planning.patterns import Pattern, patterns_of
from nesting.planning.score import FRONT_STEP, Plan, Score, burdens
from nesting.planning.table import Table, can_hold, headings, opened_leather, set_table
from nesting.planning.ties import with_ties
from nesting.planning.tiling import lay_tiled
from nesting.rings import Pose

Floats = NDArray[np.float64]

SQUEEZE = Effort(wide=16, near=12, patience=60, strikes=1, rough=True)

HEADINGS = 3
"""So many headings are tried before the best is improved."""

ALL_SETS = 8
"""Of so many hides all sets are thought of, of more only small ones."""

RESTARTS = 12
PIECES_AGAIN = 400
"""All is laid again so often, or until so many pieces were laid."""

ASIDE = 0.6
"""Laid again, pieces are drawn aside by up to this for each step back."""

ROUNDS_OF_RIVAL = 25
"""So many insertions are tried on a cheaper set of hides at a time."""

MOST_ATTEMPTS = 6
"""So often each set is begun, from another heading each time."""

TILED = 60
"""Where so many pieces of the only panel may lie on a hide, a repeat of it is tiled, too."""

MOST_FILL = 2000
"""No more pieces than this fill one hide, of all fill lines together; see ``at_most_filled``."""

MOST_PIECES = 4000
"""More pieces on one hide are refused: the packer keeps numbers for each two of them."""


def most_filling(order: Order) -> int:
    """How many pieces of each fill line are offered to one hide at most."""
    return MOST_FILL // max(1, len(fill_lines(order)))


def at_most_filled(order: Order, layout: Layout) -> list[str]:
    """Sentences on hides that hold as many pieces of a fill line as are ever offered: more may have room."""
    said = []
    for laid in layout.hides:
        for line in (order.lines[i] for i in fill_lines(order)):
            count = sum(p.panel in [panel.name for panel in line.panels] for p in laid.placements)
            if count > most_filling(order) - 2:
                said.append(
                    f'"{laid.hide.name}" is filled with {count} pieces of "{line.panel.name}", the most that '
                    "are laid on one hide: more may have room"
                )
    return said


@dataclass
class Laid:
    """A table in the middle of the search: what is on it and where its front is."""

    table: Table
    state: State
    limit: Floats
    bite: float = 0.02

    def on(self) -> list[int]:
        """Indices of the units that are whole on the table."""
        active = self.state.active
        return [u for u, group in enumerate(self.table.groups) if active[group[0]] and active[group[-1]]]

    def torn(self) -> list[int]:
        """Indices of the pairs of which one piece is on the table and waits for its mate."""
        active = self.state.active
        return [u for u, group in enumerate(self.table.groups) if active[group[0]] != active[group[-1]]]

    def clear_torn(self) -> None:
        """Take pieces without their mate off the table."""
        for u in self.torn():
            for item in self.table.groups[u]:
                kernels.lift(item, self.state)

    def reach(self) -> float:
        """How far the pieces reach on the table."""
        return reach(self.state)

    def taken(self) -> float:
        """Usable leather up to where the pieces reach, mm²."""
        return self.table.taken(self.reach()) if self.state.active.any() else 0.0


@dataclass
class Rival:
    """A cheaper set of hides on which the order is being laid; ``left`` is what has no room there yet."""

    hides: frozenset[int]
    laid: dict[int, Laid] | None = None
    left: list[Unit] = field(default_factory=list)
    rounds: int = 0


_Start = tuple[Score, dict[int, Laid], list[Unit]]


class Search:
    """One track of the search; ``run`` yields a better and better ``Plan``. All chance is the seed's."""

    def __init__(self, order: Order, seed: int, stop: Stop, params: FillParams = FillParams()) -> None:  # noqa: B008
        self.order, self.stop, self.params = order, stop, params
        self.rng = seed_state(seed)
        self.chance = np.random.default_rng(seed)
        self.variant = seed
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
        self.laid: dict[int, Laid] = {}
        self.left: list[Unit] = []
        self.best: Score | None = None
        self.rival: Rival | None = None
        self.attempts: dict[frozenset[int], int] = {}

    def _holds(self, h: int, line: int) -> bool:
        hide = self.order.hides[h]
        return all(can_hold(hide, self.order, p) for (i, _), p in self.patterns.items() if i == line)

    # ---------------------------------------------------------------------------------- rounds

    def run(self) -> Iterator[Plan | None]:
        """Yield a plan whenever it is better than all accepted before, None after each other round.

        Who takes a plan says so with ``accept``; one that is refused hides no other.
        """
        looked_at: Plan | None = None
        for _ in self._rounds():
            plan, score = None, self.score()
            if self.best is None or score < self.best:
                as_laid = self.plan(score)
                if as_laid != looked_at:  # many a round leaves all where it lay
                    looked_at, plan = as_laid, with_ties(self.order, as_laid)
            yield plan if plan is not None and (self.best is None or plan.score < self.best) else None

    def accept(self, plan: Plan) -> None:
        """Only better plans than this one are wanted from now on."""
        self.best = plan.score

    def _rounds(self) -> Iterator[None]:
        best: _Start | None = None
        starts = [(turn, False) for turn in range(HEADINGS)]
        for turn, tile in [*starts, (0, True)] if self._in_number() else starts:
            if best is not None and self.stop():
                break
            self._lay_all(self.variant + turn, tile)
            best = self._better_of(best)
            yield
        assert best is not None
        _, self.laid, self.left = best
        for _ in range(self._restarts()):
            if self.stop():
                break
            self._lay_again()
            best = self._better_of(best)
            yield
            _, self.laid, self.left = best
        while self.laid:
            self._step()
            yield

    def _better_of(self, best: _Start | None) -> _Start:
        """The best start so far, or the present state if that is better."""
        score = with_ties(self.order, self.plan()).score
        return (score, self.laid, self.left) if best is None or score < best[0] else best

    def _restarts(self) -> int:
        """How often it is worth laying all again, which is quick for few pieces, before any is forced in."""
        if not (self.left or fill_lines(self.order)):
            return 0
        pieces = sum(int(laid.state.active.sum()) for laid in self.laid.values())
        return min(RESTARTS, PIECES_AGAIN // max(1, pieces))

    def _step(self) -> None:
        roll = self.chance.random()
        if self.left and roll < 0.8:
            self._force_one()
        elif roll < 0.6 and not self.left and not fill_lines(self.order) and self._has_rival():
            self._further_rival()
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
        return sum(self.patterns[unit.line, other].area for _, other in unit.members)

    def _hides_in_order(self) -> list[int]:
        """Hides by what their leather costs for each mm², cheapest first."""
        usable = [h for h in range(len(self.order.hides)) if self.fits[h] and self.leather[h] > 0]
        return sorted(usable, key=lambda h: (self.burden[h] / self.leather[h], h))

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
                units += [unit] * min(most_filling(self.order) // unit.pieces, self._most(h, unit))
        pieces = sum(unit.pieces for unit in units)
        if pieces > MOST_PIECES:
            raise InputError(
                f"{self.order.path}: up to {pieces} pieces might lie on {self.order.hides[h].name}, "
                f"more than the {MOST_PIECES} that can be laid on one hide; order fewer at a time"
            )
        return units

    def _most(self, h: int, unit: Unit) -> int:
        """More of a unit than this a hide cannot hold, by area."""
        sets = {self.patterns[unit.line, other].parts[0][1] for _, other in unit.members}
        free = max(allowed(self.order.hides[h], self.order.cutting, accepts).area for accepts in sets)
        return int(1.001 * float(free) / self._area(unit))

    def _lay_all(self, turn: int, tile: bool) -> None:
        """Lay the whole order greedily, hide after hide, each from its heading number ``turn``.

        The first hides are laid to the end even when time is up: a piece is only said to have found
        no room where its place was looked for.
        """
        stop = self.stop if self.laid else never
        self.laid, self.left = self._laid_on(self._hides_in_order(), turn, stop, tile)

    def _laid_on(
        self, hides: Iterable[int], turn: int, stop: Stop, tile: bool
    ) -> tuple[dict[int, Laid], list[Unit]]:
        """The order laid greedily on some of the hides, the cheapest leather first; and what is left."""
        laid: dict[int, Laid] = {}
        left = self._by_difficulty(wanted_units(self.order))
        chosen = set(hides)
        for h in self._hides_in_order():
            units = self._units_for(h) if h in chosen else []
            if not units or not (left or fill_lines(self.order)):
                continue
            choices = headings(self.order.hides[h])
            heading = choices[turn % len(choices)]
            table = set_table(self.order.hides[h], self.order, self.patterns, units, heading)
            here = Laid(table, *table.fresh())
            if tile:
                left = self._tile(here, left)
            left = self._lay_on(here, left, stop)
            if here.on():
                laid[h] = here
        return laid, left

    def _lay_again(self) -> None:
        """Lay the same tables greedily once more, pieces drawn aside this time."""
        straight, self.pull = self.pull, np.array([1.0, self.chance.uniform(-ASIDE, ASIDE)])
        left = self._by_difficulty(wanted_units(self.order))
        laid = {}
        for h in sorted(self.laid, key=self._hides_in_order().index):
            here = Laid(self.laid[h].table, *self.laid[h].table.fresh())
            left = self._lay_on(here, left, self.stop)
            if here.on():
                laid[h] = here
        self.laid, self.left, self.pull = laid, left, straight

    def _in_number(self) -> bool:
        """Whether the order is of one panel, and of that so many that a repeat of it may pay."""
        units = {
            *wanted_units(self.order),
            *(unit_of(self.order.lines, i, False) for i in fill_lines(self.order)),
        }
        if len(self.order.lines) != 1 or not units:
            return False
        unit = units.pop()
        asked = len(wanted_units(self.order)) or most_filling(self.order)
        most = max((self._most(h, unit) for h in self._hides_in_order()), default=0)
        return unit.pieces * min(asked, most) >= TILED

    def _tile(self, laid: Laid, wanted: list[Unit]) -> list[Unit]:
        """Tile the only panel over a table; return the wanted units that have no place by that."""
        pool = _Pool(laid.table, laid.state)
        slots = [slot for slot in (pool.take(unit) for unit in wanted) if slot is not None]
        slots += pool.fill_slots()
        done = lay_tiled(laid.table, laid.state, laid.limit, slots, self.chance, self.stop)
        return wanted[sum(laid.table.units[slot].wanted for slot in done) :]

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
        if not self._force(self.laid, self.left):
            self._squeeze_one()

    def _force(self, laid: dict[int, Laid], left: list[Unit]) -> bool:
        """Try to insert one of ``left`` on one of the tables; False when none of them takes it."""
        unit = left[int(self.chance.integers(len(left)))]
        hosts = [h for h in laid if unit.line in self.fits[h]]
        if not hosts:
            return False
        if self._insert(laid[hosts[int(self.chance.integers(len(hosts)))]], unit):
            left.remove(unit)
        return True

    def _insert(self, laid: Laid, unit: Unit) -> bool:
        """Try to insert one more piece of such a unit; say whether that made it whole.

        A pair goes in piece by piece, so that room found for one is not lost for want of room for two.
        """
        torn = (u for u in laid.torn() if laid.table.units[u] == unit)
        slot = next(torn, None)
        if slot is None:
            slot = _Pool(laid.table, laid.state).take(unit)
        if slot is None:
            return False
        group = laid.table.groups[slot]
        off = [item for item in group if not laid.state.active[item]]
        one = (off[int(self.chance.integers(len(off)))],)
        limit = np.array(laid.table.arrays.problem.box)
        done = not greedy(
            laid.state, laid.table.arrays, limit, [one], self.pull, self.rng, self.params, self.stop
        ) or insert_more(laid.state, laid.table.arrays, limit, one, self.rng, self.params, self.stop)
        if done:
            laid.limit[:] = limit
            laid.limit[2] = max(laid.limit[0], laid.reach())
            laid.bite = 0.02
        return done and len(off) == 1

    def _fill_one(self) -> None:
        h = list(self.laid)[int(self.chance.integers(len(self.laid)))]
        lines = [line for line in fill_lines(self.order) if line in self.fits[h]]
        if lines:
            line = lines[int(self.chance.integers(len(lines)))]
            self._insert(self.laid[h], unit_of(self.order.lines, line, False))

    def _has_rival(self) -> bool:
        """Whether a cheaper set of hides is being laid, or one is left that may be begun."""
        if self.rival is not None and self._burden(self.rival.hides) < self._burden(self.laid):
            return True
        chosen = self._cheaper_set()
        self.rival = None if chosen is None else Rival(chosen)
        return chosen is not None

    def _burden(self, hides: Iterable[int]) -> float:
        return sum(self.burden[h] for h in hides)

    def _cheaper_set(self) -> frozenset[int] | None:
        """The least often tried, then cheapest set of hides that costs less and might hold all."""
        now = self._burden(self.laid)
        sets = [s for s in self._sets() if self._burden(s) < now and self.attempts.get(s, 0) < MOST_ATTEMPTS]
        return min(sets, key=lambda s: (self.attempts.get(s, 0), self._burden(s), sorted(s)), default=None)

    def _sets(self) -> list[frozenset[int]]:
        """Sets of hides with leather enough for the order and one that takes each line.

        All sets of few hides; of many, the single ones, the pairs, and the present ones less one.
        """
        hides = self._hides_in_order()
        if len(hides) <= ALL_SETS:
            sizes = range(1, len(hides) + 1)
            sets = [frozenset(c) for size in sizes for c in combinations(hides, size)]
        else:
            sets = [frozenset(c) for size in (1, 2) for c in combinations(hides, size)]
            sets += [frozenset(self.laid) - {h} for h in self.laid]
        wanted = wanted_units(self.order)
        lines = {u.line for u in wanted}
        need = sum(self._area(u) for u in wanted)
        return [
            s
            for s in sets
            if sum(self.leather[h] for h in s) >= need and lines <= set().union(*(self.fits[h] for h in s))
        ]

    def _further_rival(self) -> None:
        """Lay the rival set of hides, or insert one more unit there; it takes over once it holds all."""
        rival = self.rival
        assert rival is not None
        if rival.laid is None:
            turn = self.variant + self.attempts.get(rival.hides, 0)
            rival.laid, rival.left = self._laid_on(rival.hides, turn, self.stop, self._in_number())
        else:
            rival.rounds += 1
            self._force(rival.laid, rival.left)
        if not rival.left:
            self.laid, self.left, self.rival = rival.laid, [], None
        elif rival.rounds >= ROUNDS_OF_RIVAL:
            self.attempts[rival.hides] = self.attempts.get(rival.hides, 0) + 1
            self.rival = None

    def _squeeze_one(self) -> None:
        h = list(self.laid)[int(self.chance.integers(len(self.laid)))]
        laid = self.laid[h]
        laid.clear_torn()
        length = laid.reach() - laid.limit[0]
        # Bites of all sizes about the one that last went well.
        bite = laid.bite * float(np.exp(self.chance.normal(0.0, 0.7))) * length
        done = squeeze(
            laid.state, laid.table.arrays, laid.limit, bite, SQUEEZE, NUDGE, self.rng, self.chance, self.stop
        )
        laid.bite = min(0.03, 1.5 * laid.bite) if done else max(0.0005, 0.9 * laid.bite)

    # --------------------------------------------------------------------------------- result

    def score(self) -> Score:
        """How good the present state is; what only counts among equals is left open."""
        taken = sum(laid.taken() for laid in self.laid.values())
        units = [laid.table.units[u] for laid in self.laid.values() for u in laid.on()]
        return Score(
            missing=sum(u.pieces for u in self.left),
            unfilled=-sum(u.pieces for u in units if not u.wanted),
            burden=sum(self.burden[h] for h in self.laid),
            front=int(taken / (FRONT_STEP * sum(self.leather))) if taken else 0,
            taken=taken,
        )

    def plan(self, score: Score | None = None) -> Plan:
        """The present state as a plan; ``score`` where it is known already."""
        on: list[tuple[tuple[int, bool, tuple[Pose, ...]], ...]] = []
        for h in range(len(self.order.hides)):
            laid = self.laid.get(h)
            poses = {} if laid is None else laid.table.poses(laid.state)
            units = () if laid is None else laid.table.units
            on.append(tuple((units[u].line, units[u].wanted, p) for u, p in poses.items()))
        return Plan(self.score() if score is None else score, tuple(on))


class _Pool:
    """The free slots of a table: units that are not on it, by line and whether wanted."""

    def __init__(self, table: Table, state: State) -> None:
        self.table = table
        self.free: dict[tuple[int, bool], list[int]] = {}
        for u in reversed(range(len(table.units))):
            first, last = table.groups[u][0], table.groups[u][-1]
            if not (state.active[first] or state.active[last]):
                unit = table.units[u]
                self.free.setdefault((unit.line, unit.wanted), []).append(u)

    def take(self, unit: Unit) -> int | None:
        """A free slot for such a unit, None when the table offers none."""
        slots = self.free.get((unit.line, unit.wanted))
        return slots.pop() if slots else None

    def fill_slots(self) -> list[int]:
        """All free slots of fill units."""
        return [u for (_, wanted), slots in self.free.items() if not wanted for u in reversed(slots)]
