"""A late find: keep every piece that is still valid where it lies, and lay the others moving few.

First the loose pieces go into the room that is free while all others stay. Those that do not fit get
more and more neighbours pushed aside, the nearest first, until they do; of these neighbours each is put
back where it lay if it can be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import cycle, islice

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Order
from nesting.judge import assert_layout_valid
from nesting.packing.fill import FillParams
from nesting.packing.separate import Effort
from nesting.packing.stop import Stop, never
from nesting.packing.strip import seed_state
from nesting.planning.bench import Bench, Entry, shape_at
from nesting.planning.patterns import patterns_of
from nesting.planning.plan import unplaced
from nesting.planning.score import burdens
from nesting.planning.standing import Loose, Rules, what_stands
from nesting.planning.table import can_hold, headings

GROW = 2
"""Each further attempt frees so many times the neighbours of the one before."""

PLACES = 2
"""Besides its old place, a piece is tried at so many others where it overlaps least."""

PASSES = 2
"""So often all numbers of neighbours are gone through before a piece has no room."""

AGAIN = 6
"""Once pushing aside has worked, so many more attempts look for a way that moves fewer."""

PARAMS = FillParams(effort=Effort(patience=30, strikes=2))


@dataclass(frozen=True)
class Relaid:
    """What became of an earlier layout, by names of pieces.

    ``moved`` lay elsewhere before, ``added`` were not laid before, ``lost`` found no room any more,
    ``dropped`` are not ordered any more.
    """

    layout: Layout
    stayed: tuple[str, ...]
    moved: tuple[str, ...]
    added: tuple[str, ...]
    lost: tuple[str, ...]
    dropped: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Snapshot:
    """What an attempt changes: pieces of one hide, those that still stand, what is to be laid."""

    on: tuple[Placement, ...]
    stood: frozenset[str]
    left: tuple[Loose, ...]


class Relay:
    """One re-laying; ``run`` makes one attempt a step, ``result`` may be asked at any time.

    Raises InputError for the layout of another order (see ``standing.what_stands``).
    """

    def __init__(self, order: Order, layout: Layout, seed: int, stop: Stop) -> None:
        self.order, self.earlier, self.stop = order, layout, stop
        self.rules = Rules(order)
        standing = what_stands(order, layout, self.rules)
        self.on, self.left = standing.on, standing.loose
        self.dropped, self.notes = standing.dropped, standing.notes
        self.patterns = patterns_of(order)
        self.lines = {line.panel.name: i for i, line in enumerate(order.lines)}
        self.before = {p.piece: p for laid in layout.hides for p in laid.placements}
        self.stood = {p.piece for placements in self.on for p in placements}
        self.rng, self.seed = seed_state(seed), seed
        self.left.sort(key=lambda unit: -self._area(unit))

    # ---------------------------------------------------------------------------------- steps

    def run(self) -> Iterator[None]:
        """Lay what is loose, moving as few others as possible; one step is one attempt."""
        used = [h for h in range(len(self.order.hides)) if self.on[h] or self._home_of(h)]
        yield from self._into_room(used, at_home=True)
        for unit in [unit for unit in self.left if _alone(unit)]:
            yield from self._with_mate(unit, used)
            if unit in self.left and not self.stop():
                self._in_turn(unit)
                yield
        yield from self._into_room(used, at_home=False)
        yield from self._among_neighbours(used, at_home=True)
        # Nothing is said to have no room where free room was not looked for, even when time is up.
        stop, self.stop = self.stop, never
        for unit in [unit for unit in self.left if _alone(unit)]:
            self._lift_mate(unit)
        cost = burdens(self.order.hides)
        unused = [h for h in range(len(self.order.hides)) if h not in used]
        yield from self._into_room(used, at_home=False)
        yield from self._into_room(sorted(unused, key=lambda h: (cost[h], h)), at_home=False)
        self.stop = stop
        yield from self._among_neighbours(used, at_home=True)
        yield from self._among_neighbours(used, at_home=False)

    def _home_of(self, h: int) -> list[Loose]:
        return [unit for unit in self.left if unit.home == h]

    def _into_room(self, hides: Sequence[int], at_home: bool) -> Iterator[None]:
        """Lay loose units in free room: at home, or on any of these hides."""
        for h in hides:
            units = [unit for unit in self.left if self._may(unit, h, at_home)]
            if units and not self.stop():
                self._attempt(h, [], units)
                yield

    def _among_neighbours(self, hides: Sequence[int], at_home: bool) -> Iterator[None]:
        """Lay loose units one at a time, with more and more of their neighbours free to move.

        Not for what the earlier layout had not laid either: nothing moves for that.
        """
        for unit in [unit for unit in self.left if unit.was]:
            for h in hides:
                if self._may(unit, h, at_home) and unit in self.left:
                    yield from self._push_aside(unit, h)

    def _push_aside(self, unit: Loose, h: int) -> Iterator[None]:
        places = self._places(unit, h)
        for _ in range(PASSES):
            count, last = 1, 0
            while last < len(self.on[h]) or last == 0:
                for place in places:
                    if self.stop():
                        return
                    before = self._snapshot(h)
                    done = self._attempt(h, self._nearest(h, place, count), [unit])
                    yield
                    if done:
                        yield from self._fewer(unit, h, places, (last, count), before)
                        return
                last, count = count, GROW * count

    def _fewer(
        self, unit: Loose, h: int, places: Sequence[BaseGeometry], between: tuple[int, int], before: Snapshot
    ) -> Iterator[None]:
        """Try again from before with fewer neighbours free, or other places; keep what moved fewest."""
        low, high = between
        best = self._snapshot(h)
        for place in islice(cycle(places), AGAIN):
            fewest = len(before.stood - best.stood)
            if fewest <= 1 or self.stop():
                return
            count = max(low + 1, (low + high) // 2)
            self._restore(h, before)
            try:
                if self._attempt(h, self._nearest(h, place, count), [unit]):
                    if len(before.stood - self.stood) < fewest:
                        best = self._snapshot(h)
                    high = count
                else:
                    low = min(count, high - 1)
            finally:
                self._restore(h, best)
            yield

    def _snapshot(self, h: int) -> Snapshot:
        return Snapshot(tuple(self.on[h]), frozenset(self.stood), tuple(self.left))

    def _restore(self, h: int, state: Snapshot) -> None:
        self.on[h], self.stood, self.left = list(state.on), set(state.stood), list(state.left)

    def _with_mate(self, unit: Loose, hides: Sequence[int]) -> Iterator[None]:
        """Lay one of a pair together with its mate in free room; without room the mate stays."""
        whole, mate = self._lift_mate(unit)
        for h in sorted(hides, key=lambda h: h != unit.home):
            if self._may(whole, h, at_home=False) and not self.stop():
                done = self._attempt(h, [], [whole])
                yield
                if done:
                    return
        assert unit.home is not None
        self.on[unit.home].append(mate)
        self.left[self.left.index(whole)] = unit

    def _lift_mate(self, unit: Loose) -> tuple[Loose, Placement]:
        """Make one of a pair and its mate, which stays so far, a whole pair to be laid."""
        assert unit.home is not None
        mate = next(p for p in self.on[unit.home] if p.pair == unit.pair)
        self.on[unit.home].remove(mate)
        members = tuple(sorted([*unit.members, (mate.piece, mate.pose.mirrored)]))
        was = tuple(self.before[piece] for piece, _ in members)
        whole = replace(unit, members=members, was=was)
        self.left[self.left.index(unit)] = whole
        return whole, mate

    def _in_turn(self, unit: Loose) -> None:
        """Let one of a pair take the place of its like, which goes into the free room near its own mate."""
        h, (piece, mirrored) = unit.home, unit.members[0]
        assert h is not None
        panel = self.order.lines[unit.line].panel.name
        likes = [p for p in self.on[h] if p.panel == panel and p.pose.mirrored == mirrored]
        units = [Loose(unit.line, ((p.piece, mirrored),), p.pair, h, (p,)) for p in likes]
        bench = Bench(self.order, h, self.patterns, self.on[h], [], units, self.rng)
        for i, like in enumerate(likes if bench.possible else []):
            new = bench.room(i, self._pull(h), PARAMS, self.stop)
            if not new:
                continue
            laid = [p for p in self.on[h] if p != like] + [*new, replace(like, piece=piece, pair=unit.pair)]
            if not self.rules.broken(h, laid):
                self.on[h] = laid
                self.stood.discard(like.piece)
                self.left.remove(unit)
                return

    # ------------------------------------------------------------------------------- attempts

    def _attempt(self, h: int, free: Sequence[Placement], units: Sequence[Loose]) -> bool:
        """Lay units on hide ``h`` while all but ``free``, and what has moved anyway, stays.

        What the judge refuses is not taken over. Returns whether any unit was laid.
        """
        # What has found a new place may find another one: that moves nothing more.
        moved = [p for p in self.on[h] if p.piece not in self.stood and p not in free]
        entries = [self._entry(p) for p in (*free, *moved)]
        fixed = [p for p in self.on[h] if p not in free and p not in moved]
        bench = Bench(self.order, h, self.patterns, fixed, entries, units, self.rng)
        if not bench.possible:
            return False
        done = [unit for i, unit in enumerate(units) if self._laid(bench, i, h, bool(free))]
        laid = self._put_back(h, fixed, bench.placements())
        if not done or self.rules.broken(h, [*fixed, *laid]):
            return False
        self.on[h] = [*fixed, *laid]
        self.stood -= {p.piece for p in laid if p != self.before.get(p.piece)}
        self.left = [unit for unit in self.left if unit not in done]
        return True

    def _laid(self, bench: Bench, number: int, h: int, among: bool) -> bool:
        """Lay a unit on a bench: in free room, or ``among`` neighbours, first of all about where it lay."""
        unit = bench.loose[number]
        if not among and bench.lay(number, self._pull(h), PARAMS, self.stop):
            return True
        old = unit.was if unit.home == h else ()
        starts = [old, ()] if old and among else [()]
        return any(bench.push(number, at, PARAMS, self.stop) for at in starts)

    def _put_back(self, h: int, fixed: Sequence[Placement], laid: list[Placement]) -> list[Placement]:
        """Neighbours that were pushed aside go back where they lay, as far as the judge lets them."""
        for i, now in enumerate(laid):
            old = self.before.get(now.piece)
            if old is None or old == now or now.piece not in self.stood:
                continue
            trial = [*laid[:i], old, *laid[i + 1 :]]
            if not self.rules.broken(h, [*fixed, *trial]):
                laid = trial
        return laid

    def _places(self, unit: Loose, h: int) -> list[BaseGeometry]:
        """Where the unit may come to lie: its old place on this hide, then where it overlaps least."""
        places = [self._shape(unit.was)] if unit.was and unit.home == h else []
        mates = [p for p in self.on[h] if p.pair is not None and p.pair == unit.pair]
        entries = [self._entry(p) for p in self.on[h] if p not in mates]
        bench = Bench(self.order, h, self.patterns, mates, entries, [unit], self.rng)
        if not bench.possible:
            return places
        found = [bench.cheapest(0, PARAMS.insert_tries) for _ in range(2 * PLACES)]
        found.sort(key=lambda place: place[0])
        return places + [self._shape(place) for _, place in found[:PLACES] if place]

    def _nearest(self, h: int, place: BaseGeometry, count: int) -> list[Placement]:
        """The pieces that still stand nearest to a place; of those that reach into it the deepest first."""
        standing = [p for p in self.on[h] if p.piece in self.stood]
        shapes = [shape_at(self.order, p) for p in standing]
        gaps, overlaps = shapely.distance(shapes, place), shapely.area(shapely.intersection(shapes, place))
        return [standing[i] for i in np.lexsort((-overlaps, gaps))[:count]]

    def _may(self, unit: Loose, h: int, at_home: bool) -> bool:
        """Whether a unit may lie on a hide. One of a pair stays with its mate."""
        hide, line = self.order.hides[h], self.order.lines[unit.line]
        if (at_home or _alone(unit)) and unit.home != h:
            return False
        return line.takes(hide) and all(
            can_hold(hide, self.order, self.patterns[unit.line, mirrored]) for _, mirrored in unit.members
        )

    def _pull(self, h: int) -> NDArray[np.float64]:
        """New places are sought towards the end that hides are laid from."""
        heading = headings(self.order.hides[h])[0]
        return np.array([np.cos(heading), np.sin(heading)])

    def _entry(self, p: Placement) -> Entry:
        return Entry(p.piece, self.lines[p.panel], p.pose.mirrored, p.pair, p)

    def _shape(self, placements: Iterable[Placement]) -> BaseGeometry:
        return shapely.union_all([shape_at(self.order, p) for p in placements])

    def _area(self, unit: Loose) -> float:
        return sum(self.patterns[unit.line, mirrored].area for _, mirrored in unit.members)

    # --------------------------------------------------------------------------------- result

    def in_words(self) -> str:
        """``11 pieces where they lay, 1 moved, 2 to lay``."""
        laid = sum(len(placements) for placements in self.on)
        stand = sum(p.piece in self.stood for placements in self.on for p in placements)
        to_lay = sum(len(unit.members) for unit in self.left)
        pieces = f"{stand} {'piece' if stand == 1 else 'pieces'} where they lay"
        return f"{pieces}, {laid - stand} moved, {to_lay} to lay"

    def result(self) -> Relaid:
        """The layout as it is now, judged, and what became of each piece. Raises InvalidLayout."""
        alone = {unit.pair for unit in self.left if unit.pair is not None}
        on = [[p for p in placements if p.pair is None or p.pair not in alone] for placements in self.on]
        now = {p.piece: p for placements in on for p in placements}
        layout = self._layout(on)
        assert_layout_valid(layout)
        known = self.before.keys() - set(self.dropped)
        return Relaid(
            layout,
            stayed=tuple(name for name, p in self.before.items() if now.get(name) == p),
            moved=tuple(name for name, p in self.before.items() if name in now and now[name] != p),
            added=tuple(name for name in now if name not in self.before),
            lost=tuple(name for name in self.before if name in known and name not in now),
            dropped=tuple(self.dropped),
            notes=tuple(self.notes),
        )

    def _layout(self, on: list[list[Placement]]) -> Layout:
        """Pieces in the order in which the earlier layout lists them, new ones last."""
        place = {piece: i for i, piece in enumerate(self.before)}
        laid = tuple(
            LaidHide(hide, tuple(sorted(placements, key=lambda p: place.get(p.piece, len(place)))))
            for hide, placements in zip(self.order.hides, on, strict=True)
            if placements
        )
        count = [0] * len(self.order.lines)
        for p in (p for placements in on for p in placements):
            count[self.lines[p.panel]] += 1
        return Layout(
            title=self.order.title,
            seed=self.seed,
            cutting=self.order.cutting,
            panels=tuple(line.panel for line in self.order.lines),
            hides=laid,
            unplaced=tuple(unplaced(self.order, count)),
            pair_within_mm=self.rules.within,
        )


def _alone(unit: Loose) -> bool:
    """One of a pair whose mate stays."""
    return unit.pair is not None and len(unit.members) == 1
