"""A late find: keep every piece that is still valid where it lies, and lay the others moving few.

First the loose pieces go into the room that is free while all others stay. Those that do not fit get
more and more neighbours pushed aside, the nearest first, until they do; of these neighbours as many as can
be are put back where they lay. As long as there is time all this is tried again from the start, in another
order and with other places, and the way that moves fewest is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

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
from nesting.planning.demand import is_other
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
    """What attempts change: the pieces of each hide, those that still stand, what is to be laid."""

    on: tuple[tuple[Placement, ...], ...]
    stood: frozenset[str]
    left: tuple[Loose, ...]


@dataclass(frozen=True, order=True)
class Cost:
    """Smaller is better, compared field by field."""

    unlaid: int  # pieces that are not laid
    burden: float  # price (or area) of hides that are begun for this
    moved: int  # pieces that stood and stand no more


class Relay:
    """One re-laying; ``run`` makes one attempt a step, ``result`` may be asked at any time.

    ``named_seed`` is the seed that the layout states, where this is one of several tracks. Raises
    InputError for the layout of another order (see ``standing.what_stands``).
    """

    def __init__(
        self, order: Order, layout: Layout, seed: int, stop: Stop, named_seed: int | None = None
    ) -> None:
        self.order, self.earlier, self.stop = order, layout, stop
        self.rules = Rules(order)
        standing = what_stands(order, layout, self.rules)
        self.on, self.left = standing.on, standing.loose
        self.dropped, self.notes = standing.dropped, standing.notes
        self.patterns = patterns_of(order)
        self.lines = {panel.name: i for i, line in enumerate(order.lines) for panel in line.panels}
        self.before = {p.piece: p for laid in layout.hides for p in laid.placements}
        self.stood = {p.piece for placements in self.on for p in placements}
        self.rng, self.chance = seed_state(seed), np.random.default_rng(seed)
        self.seed = seed if named_seed is None else named_seed
        self.left.sort(key=lambda unit: -self._area(unit))
        self.benches: dict[int, Bench] = {}
        self.room: dict[tuple[int, int, bool], bool] = {}
        self.start = self.best = self._snapshot()
        self.burdens = burdens(order.hides)
        self.used = [h for h, on in enumerate(self.on) if on or any(unit.home == h for unit in self.left)]

    # ---------------------------------------------------------------------------------- steps

    def run(self) -> Iterator[None]:
        """Lay what is loose, moving as few others as possible; one step is one attempt.

        It ends when all is laid and no piece moved that stood, or when time is up.
        """
        yield from self._first_pass(self.used)
        attempts = 1
        while attempts and not self.least() and not self.stop():
            self._restore(self.start)
            self.chance.shuffle(self.left)
            attempts = 0
            for attempts, _ in enumerate(self._further_pass(self.used), start=1):  # noqa: B007
                yield
            self._keep_better()

    def least(self) -> bool:
        """Whether all is laid, on no other hide, and none moved that stood: no way is better."""
        return self.cost() <= Cost(0, 0.0, 0)

    def cost(self) -> Cost:
        """The least cost so far."""
        self._keep_better()
        return self._cost(self.best)

    def _keep_better(self) -> None:
        now = self._snapshot()
        if self._cost(now) < self._cost(self.best):
            self.best = now

    def _cost(self, state: Snapshot) -> Cost:
        alone = {unit.pair for unit in state.left if _alone(unit)}
        mates = sum(p.pair in alone for placements in state.on for p in placements if p.pair is not None)
        unlaid = sum(len(unit.members) for unit in state.left) + mates
        begun = [h for h, placements in enumerate(state.on) if placements and h not in self.used]
        return Cost(unlaid, sum(self.burdens[h] for h in begun), len(self.start.stood - state.stood))

    def _first_pass(self, used: Sequence[int]) -> Iterator[None]:
        yield from self._into_free_room(used)
        yield from self._among_neighbours(used, at_home=True)
        # Nothing is said to have no room where free room was not looked for, even when time is up.
        stop, self.stop = self.stop, never
        yield from self._elsewhere(used)
        self.stop = stop
        yield from self._among_neighbours(used, at_home=True)
        yield from self._among_neighbours(used, at_home=False)
        self._keep_better()

    def _further_pass(self, used: Sequence[int]) -> Iterator[None]:
        """The same from the start, given up when it comes out no better than the best."""
        for steps in (
            self._into_free_room(used),
            self._among_neighbours(used, at_home=True),
            self._elsewhere(used),
            self._among_neighbours(used, at_home=True),
            self._among_neighbours(used, at_home=False),
        ):
            yield from steps
            if self.stop() or self._in_vain():
                return

    def _in_vain(self) -> bool:
        """Whether what is laid costs as much already as the best way so far."""
        return replace(self._cost(self._snapshot()), unlaid=0) >= self._cost(self.best)

    def _into_free_room(self, used: Sequence[int]) -> Iterator[None]:
        """Lay what is loose where there is room; of a pair the mate may move, or one like it."""
        yield from self._into_room(used, at_home=True)
        for unit in [unit for unit in self.left if _alone(unit)]:
            yield from self._with_mate(unit, used)
            if unit in self.left and not self.stop():
                self._in_turn(unit)
                yield
        yield from self._into_room(used, at_home=False)

    def _elsewhere(self, used: Sequence[int]) -> Iterator[None]:
        """Lay pairs as a whole in free room, on hides that are not used yet at last."""
        for unit in [unit for unit in self.left if _alone(unit)]:
            self._lift_mate(unit)
        unused = [h for h in range(len(self.order.hides)) if h not in used]
        yield from self._into_room(used, at_home=False)
        yield from self._into_room(sorted(unused, key=lambda h: (self.burdens[h], h)), at_home=False)

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
                if self._may(unit, h, at_home) and unit in self.left and not self._in_vain():
                    yield from self._push_aside(unit, h)

    def _push_aside(self, unit: Loose, h: int) -> Iterator[None]:
        places = self._places(unit, h)
        for _ in range(PASSES):
            count, last = 1, 0
            while last < len(self.on[h]) or last == 0:
                for place in places:
                    if self.stop():
                        return
                    done = self._attempt(h, self._nearest(h, place, count), [unit])
                    yield
                    if done:
                        yield from self._send_back(h)
                        return
                last, count = count, GROW * count

    def _send_back(self, h: int) -> Iterator[None]:
        """What had to move goes back where it stood, many at a time, then fewer; the others give way."""
        share = len(self._moved(h)) // 2
        while share:
            moved = self._moved(h)
            self.chance.shuffle(moved)
            for group in (moved[k : k + share] for k in range(0, len(moved), share)):
                if self.stop():
                    return
                self._return(h, group)
                yield
            share //= 2

    def _moved(self, h: int) -> list[str]:
        """What stood on a hide and stands no more."""
        return [p.piece for p in self.on[h] if p.piece in self.start.stood - self.stood]

    def _return(self, h: int, group: Sequence[str]) -> None:
        """Let pieces lie where they stood, and what has moved give way to them, if it can."""
        bench = self._bench(h)
        back = [self.before[p.piece] if p.piece in group else p for p in self.on[h]]
        bench.set_out(back, {p.piece for p in self.on[h]} - self.stood - set(group))
        if bench.settle(PARAMS, self.stop) and (laid := self._put_back(h, bench.placements())):
            self.on[h] = laid
            self._tell_stood(h)

    def _snapshot(self) -> Snapshot:
        return Snapshot(
            tuple(tuple(placements) for placements in self.on), frozenset(self.stood), tuple(self.left)
        )

    def _restore(self, state: Snapshot) -> None:
        self.on[:] = [list(placements) for placements in state.on]
        self.stood, self.left = set(state.stood), list(state.left)

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
        members = tuple(sorted([*unit.members, (mate.piece, self._other(mate))]))
        was = tuple(self.before[piece] for piece, _ in members)
        whole = replace(unit, members=members, was=was)
        self.left[self.left.index(unit)] = whole
        return whole, mate

    def _in_turn(self, unit: Loose) -> None:
        """Let one of a pair take the place of its like, which goes into the free room near its own mate."""
        h, (piece, other) = unit.home, unit.members[0]
        assert h is not None
        bench, panel = self._bench(h), self.order.lines[unit.line].panel_of(other).name
        likes = [p for p in self.on[h] if p.panel == panel and self._other(p) == other]
        for like in likes if bench.takes([piece]) else []:
            there = replace(like, piece=piece, pair=unit.pair)
            others = [*(p for p in self.on[h] if p != like), there]
            if self.stop() or self.rules.broken(h, others):
                continue
            bench.set_out(others)
            if not bench.lay([like.piece], self._pull(h), PARAMS, self.stop):
                continue
            laid = bench.placements()
            if not self.rules.broken(h, laid):
                self.on[h] = laid
                self._tell_stood(h)
                self.left.remove(unit)
                return

    # ------------------------------------------------------------------------------- attempts

    def _attempt(self, h: int, free: Sequence[Placement], units: Sequence[Loose]) -> bool:
        """Lay units on hide ``h`` while all but ``free``, and what has moved anyway, stays.

        What the judge refuses is not taken over. Returns whether any unit was laid.
        """
        bench = self._bench(h)
        units = [unit for unit in units if bench.takes(_pieces(unit))]
        if not units:
            return False
        # What has found a new place may find another one: that moves nothing more.
        moved = {p.piece for p in self.on[h] if p.piece not in self.stood}
        bench.set_out(self.on[h], {p.piece for p in free} | moved)
        done = [unit for unit in units if self._laid(bench, unit, h, bool(free))]
        laid = bench.placements() if done else []
        if not done or not (laid := self._put_back(h, laid)):
            return False
        self.on[h] = laid
        self._tell_stood(h)
        self.left = [unit for unit in self.left if unit not in done]
        return True

    def _laid(self, bench: Bench, unit: Loose, h: int, among: bool) -> bool:
        """Lay a unit on a bench: in free room, or ``among`` neighbours, first of all about where it lay."""
        pieces = _pieces(unit)
        if not among and bench.lay(pieces, self._pull(h), PARAMS, self.stop):
            return True
        old = unit.was if unit.home == h else ()
        starts = [old, ()] if old and among else [()]
        return any(bench.push(pieces, at, PARAMS, self.stop) for at in starts)

    def _tell_stood(self, h: int) -> None:
        """Say anew which of the pieces on a hide lie where they stood at first."""
        here = {p.piece for p in self.on[h]} & self.start.stood
        self.stood -= here
        self.stood |= {p.piece for p in self.on[h] if p.piece in here and p == self.before[p.piece]}

    def _put_back(self, h: int, laid: list[Placement]) -> list[Placement]:
        """Neighbours that were pushed aside go back where they lay, as far as the judge lets them.

        [] when the judge refuses the pieces as they lie.
        """
        if self.rules.broken(h, laid):
            return []
        here = {p.piece for p in self.start.on[h]}
        for i, now in enumerate(laid):
            if now.piece not in here or now == self.before[now.piece]:
                continue
            old = self.before[now.piece]
            trial = [*laid[:i], old, *laid[i + 1 :]]
            if not self.rules.broken(h, self._about(old, trial)):
                laid = trial
        return laid

    def _about(self, one: Placement, placements: Sequence[Placement]) -> list[Placement]:
        """Those of the pieces that can be at odds with one of them: it, its mate and its neighbours."""
        apart = self.order.cutting.kerf_mm + self.order.cutting.gap_mm
        shapes = [shape_at(self.order, p) for p in placements]
        near = shapely.dwithin(shapes, shape_at(self.order, one), apart + 1.0)
        return [
            p
            for p, is_near in zip(placements, near, strict=True)
            if is_near or (p.pair is not None and p.pair == one.pair)
        ]

    def _places(self, unit: Loose, h: int) -> list[BaseGeometry]:
        """Where the unit may come to lie: its old place on this hide, then where it overlaps least."""
        places = [self._shape(unit.was)] if unit.was and unit.home == h else []
        bench, pieces = self._bench(h), _pieces(unit)
        if not bench.takes(pieces):
            return places
        bench.set_out(self.on[h])
        found = [bench.cheapest(pieces, PARAMS.insert_tries) for _ in range(2 * PLACES)]
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
        return line.takes(hide) and all(self._has_room(h, unit.line, other) for _, other in unit.members)

    def _has_room(self, h: int, line: int, other: bool) -> bool:
        """``can_hold``, asked once."""
        key = (h, line, other)
        if key not in self.room:
            self.room[key] = can_hold(self.order.hides[h], self.order, self.patterns[line, other])
        return self.room[key]

    def _bench(self, h: int) -> Bench:
        """The packing problem of a hide, built when it is first asked for."""
        if h not in self.benches:
            entries = [self._entry(p) for p in self.start.on[h]]
            known = {entry.piece for entry in entries}
            entries += [e for e in self._may_go() if e.piece not in known and self._takes(h, e.line)]
            self.benches[h] = Bench(self.order, h, self.patterns, entries, self.rng)
        return self.benches[h]

    def _may_go(self) -> Iterator[Entry]:
        """The pieces that may come to lie on another hide: the loose ones, and mates that stand alone."""
        alone = {unit.pair for unit in self.start.left if _alone(unit)}
        for unit in self.start.left:
            yield from (Entry(piece, unit.line, other, unit.pair) for piece, other in unit.members)
        yield from (self._entry(p) for placements in self.start.on for p in placements if p.pair in alone)

    def _takes(self, h: int, line: int) -> bool:
        return self.order.lines[line].takes(self.order.hides[h])

    def _entry(self, p: Placement) -> Entry:
        return Entry(p.piece, self.lines[p.panel], self._other(p), p.pair)

    def _other(self, p: Placement) -> bool:
        return is_other(self.order.lines[self.lines[p.panel]], p)

    def _pull(self, h: int) -> NDArray[np.float64]:
        """New places are sought towards the end that hides are laid from."""
        heading = headings(self.order.hides[h])[0]
        return np.array([np.cos(heading), np.sin(heading)])

    def _shape(self, placements: Iterable[Placement]) -> BaseGeometry:
        return shapely.union_all([shape_at(self.order, p) for p in placements])

    def _area(self, unit: Loose) -> float:
        return sum(self.patterns[unit.line, other].area for _, other in unit.members)

    # --------------------------------------------------------------------------------- result

    def in_words(self) -> str:
        """``11 pieces where they lay, 1 moved, 2 to lay``, of the best so far."""
        self._keep_better()
        laid = sum(len(placements) for placements in self.best.on)
        stand = sum(p.piece in self.best.stood for placements in self.best.on for p in placements)
        to_lay = sum(len(unit.members) for unit in self.best.left)
        pieces = f"{stand} {'piece' if stand == 1 else 'pieces'} where they lay"
        return f"{pieces}, {laid - stand} moved, {to_lay} to lay"

    def result(self) -> Relaid:
        """The best layout so far, judged, and what became of each piece. Raises InvalidLayout."""
        self._keep_better()
        alone = {unit.pair for unit in self.best.left if unit.pair is not None}
        on = [[p for p in placements if p.pair is None or p.pair not in alone] for placements in self.best.on]
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
            panels=self.order.panels,
            hides=laid,
            unplaced=tuple(unplaced(self.order, count)),
            pair_within_mm=self.rules.within,
            mates=self.order.mates,
        )


def _alone(unit: Loose) -> bool:
    """One of a pair whose mate stays."""
    return unit.pair is not None and len(unit.members) == 1


def _pieces(unit: Loose) -> list[str]:
    return [piece for piece, _ in unit.members]
