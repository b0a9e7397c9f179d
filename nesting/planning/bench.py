"""One hide with all pieces that lie on it or may come to lie there, as one packing problem.

What is to stay is held: it lies as an obstacle where it lay. The problem is built once, in the hide's own
frame; which pieces lie on the hide and which of them are free to move is set afresh for each attempt.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.files.layout import Placement
from nesting.files.layout_file import rounded_pose
from nesting.files.order import Order
from nesting.packing import kernels
from nesting.packing.arrays import Arrays, build_arrays
from nesting.packing.fill import FillParams, Group, greedy
from nesting.packing.problem import Item, Part, Placed, Problem, Shape
from nesting.packing.separate import restore, separate
from nesting.packing.stop import Stop
from nesting.planning.leather import allowed, laid_outline, spine_angle
from nesting.planning.patterns import Pattern, allowed_turns
from nesting.planning.table import accepted_sets, region_of
from nesting.rings import Pose

Floats = NDArray[np.float64]
Patterns = dict[tuple[int, bool], Pattern]

FINE_MM = 0.002
"""How close the true outline of a piece that stays is followed."""


@dataclass(frozen=True)
class Entry:
    """A piece that the hide may take: of which line and shape (see ``demand.Unit``), and of which pair."""

    piece: str
    line: int
    other: bool
    pair: str | None


class Bench:
    """The packing problem of hide ``h`` and the pieces that may lie there; see ``set_out``."""

    def __init__(
        self, order: Order, h: int, patterns: Patterns, entries: Sequence[Entry], rng: NDArray[np.uint64]
    ) -> None:
        self.order, self.hide, self.patterns, self.rng = order, order.hides[h], patterns, rng
        self.entries = [entry for entry in entries if self._holds(entry)]
        self.item = {entry.piece: i for i, entry in enumerate(self.entries)}
        if self.entries:
            self.arrays = self._arrays()
            self.state, self.limit = self.arrays.fresh_state(), np.array(self.arrays.problem.box)
        self.given: dict[str, Placement] = {}
        self.beside: list[Placement] = []

    def takes(self, pieces: Collection[str]) -> bool:
        """Whether there is leather for all these pieces, and a turn that they may have."""
        return all(piece in self.item for piece in pieces)

    def set_out(self, placements: Sequence[Placement], free: Collection[str] = ()) -> None:
        """Put pieces where they lie and nothing else; all but those named in ``free`` are held."""
        self.given = {p.piece: p for p in placements if p.piece in self.item}
        self.beside = [p for p in placements if p.piece not in self.item]
        self.state.held[:] = False
        self._put(list(self.given.values()))
        for piece in self.given.keys() - set(free):
            self.state.held[self.item[piece]] = True
        self.start = self.state.poses.copy()
        restore(self.state, self.start, self.arrays, self.limit)

    def lay(self, pieces: Sequence[str], pull: Floats, params: FillParams, stop: Stop) -> bool:
        """Lay pieces, all of them or none, where there is room."""
        group = self._group(pieces)
        return not greedy(self.state, self.arrays, self.limit, [group], pull, self.rng, params, stop)

    def push(self, pieces: Sequence[str], at: Sequence[Placement], params: FillParams, stop: Stop) -> bool:
        """Put pieces at ``at``, or ([]) where they overlap least, and push the free ones aside.

        When that fails all is as before.
        """
        group, poses = self._group(pieces), self.state.poses.copy()
        if at:
            active = np.flatnonzero(self.state.active)
            self._put(at)
            self.state.active[active] = True
        else:
            for item in group:
                self._force(item, params.insert_tries)
        if self.settle(params, stop):
            return True
        self.state.active[list(group)] = False
        restore(self.state, poses, self.arrays, self.limit)
        return False

    def settle(self, params: FillParams, stop: Stop) -> bool:
        """Move what is not held until nothing overlaps; whether that went well."""
        return separate(self.state, self.arrays, self.limit, self.rng, params.effort, stop) == 0.0

    def cheapest(self, pieces: Sequence[str], tries: int) -> tuple[float, list[Placement]]:
        """Where pieces overlap the others least, and how much; they are not laid there."""
        loss = sum(self._force(self.item[piece], tries) for piece in pieces)
        found = [p for p in self.placements() if p.piece in pieces]
        for item in self._group(pieces):
            kernels.lift(item, self.state)
        return loss, found

    def placements(self) -> list[Placement]:
        """Where all pieces lie now; what has not moved is the placement that was given."""
        result = list(self.beside)
        for placed in self.arrays.placed(self.state):
            entry = self.entries[placed.item]
            given = self.given.get(entry.piece)
            if given is not None and np.array_equal(self.state.poses[placed.item], self.start[placed.item]):
                result.append(given)
                continue
            pattern = self.patterns[entry.line, entry.other]
            pose = Pose(pattern.mirrored, math.degrees(placed.angle) % 360.0, (placed.x, placed.y))
            result.append(Placement(entry.piece, pattern.panel.name, rounded_pose(pose), entry.pair))
        return result

    def _group(self, pieces: Sequence[str]) -> Group:
        return tuple(self.item[piece] for piece in pieces)

    def _put(self, placements: Sequence[Placement]) -> None:
        self.arrays.put(
            self.state,
            [
                Placed(self.item[p.piece], math.radians(p.pose.rotation_deg), p.pose.at[0], p.pose.at[1])
                for p in placements
            ],
        )

    def _force(self, item: int, tries: int) -> float:
        """Put an item where it overlaps least; how much that is."""
        static, fields = self.arrays.static, self.arrays.fields
        loss: float = kernels.insert_cheapest(
            item, tries, False, self.state, static, fields, self.limit, self.rng
        )
        return loss

    # ------------------------------------------------------------------------------- problem

    def _holds(self, entry: Entry) -> bool:
        """Whether there is a turn and some leather for each part of a piece."""
        pattern = self.patterns[entry.line, entry.other]
        return bool(allowed_turns(pattern, spine_angle(self.hide))) and all(
            region_of(allowed(self.hide, self.order.cutting, accepts)).polygons
            for _, accepts in pattern.parts
        )

    def _arrays(self) -> Arrays:
        spine = spine_angle(self.hide)
        kinds = sorted({(e.line, e.other) for e in self.entries})
        accepted = accepted_sets(self.patterns, kinds)
        leather = [allowed(self.hide, self.order.cutting, accepts) for accepts in accepted]
        shapes = []
        for kind in kinds:
            pattern = self.patterns[kind]
            parts = tuple(Part(points, accepted.index(accepts)) for points, accepts in pattern.parts)
            shapes.append(Shape(pattern.body, parts, allowed_turns(pattern, spine)))
        mates = self._mates()
        items = tuple(
            Item(kinds.index((e.line, e.other)), mates.get(i), self._limit(e))
            for i, e in enumerate(self.entries)
        )
        x0, y0, x1, y1 = shapely.union_all(leather).bounds
        box = (x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)
        return build_arrays(Problem(tuple(shapes), items, tuple(region_of(r) for r in leather), box))

    def _limit(self, entry: Entry) -> float:
        """How far the centres of a pair's bodies may be apart, as ``table.set_table`` has it."""
        within = self.order.lines[entry.line].pair_within_mm
        if within is None:
            return math.inf
        off = max(pattern.off_centre for (line, _), pattern in self.patterns.items() if line == entry.line)
        return max(0.1, within - 0.02 - 2.0 * off)

    def _mates(self) -> dict[int, int]:
        """Per item the item of its mate."""
        first: dict[str, int] = {}
        mates: dict[int, int] = {}
        for i, entry in enumerate(self.entries):
            if entry.pair is not None and (other := first.setdefault(entry.pair, i)) != i:
                mates |= {i: other, other: i}
        return mates


def shape_at(order: Order, placement: Placement) -> BaseGeometry:
    """The whole outline of a piece where it lies."""
    panel = next(panel for panel in order.panels if panel.name == placement.panel)
    return laid_outline(panel.outline, placement.pose, FINE_MM)
