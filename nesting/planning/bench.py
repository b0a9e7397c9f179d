"""One hide on which some pieces stay, some may be pushed aside, and others are to be laid among them.

What stays is no item of the packer: its shape is cut out of the leather, as a flaw is. So it cannot
move, and costs the search nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
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
from nesting.planning.leather import allowed, grown, ring_polygon, spine_angle
from nesting.planning.patterns import Pattern, allowed_turns
from nesting.planning.standing import Loose
from nesting.planning.table import accepted_sets, region_of
from nesting.rings import Point, Pose

Floats = NDArray[np.float64]
Patterns = dict[tuple[int, bool], Pattern]

FINE_MM = 0.002
"""How close the true outline of a piece that stays is followed."""

SPECK_MM = 0.005
"""Half the size of the speck by which a panel's centre is held near its mate."""


@dataclass(frozen=True)
class Entry:
    """A piece that the packer may move: of which line, and where it lies now (None: nowhere yet)."""

    piece: str
    line: int
    mirrored: bool
    pair: str | None
    placement: Placement | None = None


class Bench:
    """A packing problem in the hide's own frame.

    ``fixed`` stay, ``free`` lie where they lay and may be pushed, ``loose`` are laid by ``lay``.
    ``possible`` is False where no leather is left.
    """

    def __init__(
        self, order: Order, h: int, patterns: Patterns, fixed: Sequence[Placement],
        free: Sequence[Entry], loose: Sequence[Loose], rng: NDArray[np.uint64],
    ) -> None:  # fmt: skip
        self.order, self.hide, self.patterns, self.rng = order, order.hides[h], patterns, rng
        self.fixed, self.loose = fixed, loose
        self.entries = [*free, *(e for unit in loose for e in _entries(unit))]
        starts = np.cumsum([len(free), *(len(unit.members) for unit in loose)])
        self.groups: list[Group] = [tuple(range(a, b)) for a, b in pairwise(starts)]
        arrays = self._arrays()
        self.possible = arrays is not None
        if arrays is None:
            return
        self.arrays = arrays
        self.state, self.limit = arrays.fresh_state(), np.array(arrays.problem.box)
        arrays.put(self.state, [_placed(i, e.placement) for i, e in enumerate(free) if e.placement])
        self.start = self.state.poses.copy()
        restore(self.state, self.start, arrays, self.limit)

    def lay(self, number: int, pull: Floats, params: FillParams, stop: Stop) -> bool:
        """Lay unit ``number`` of the loose ones where there is room."""
        group = self.groups[number]
        return not greedy(self.state, self.arrays, self.limit, [group], pull, self.rng, params, stop)

    def push(self, number: int, at: Sequence[Placement], params: FillParams, stop: Stop) -> bool:
        """Put unit ``number`` at ``at``, or ([]) where it overlaps least, and push the free ones aside.

        When that fails all is as before.
        """
        group, poses = self.groups[number], self.state.poses.copy()
        if at:
            active = np.flatnonzero(self.state.active)
            self.arrays.put(self.state, [_placed(i, p) for i, p in zip(group, at, strict=True)])
            self.state.active[active] = True
        else:
            for item in group:
                self._force(item, params.insert_tries)
        if separate(self.state, self.arrays, self.limit, self.rng, params.effort, stop) == 0.0:
            return True
        self.state.active[list(group)] = False
        restore(self.state, poses, self.arrays, self.limit)
        return False

    def room(self, number: int, pull: Floats, params: FillParams, stop: Stop) -> list[Placement]:
        """Where unit ``number`` has free room, [] where it has none; it is not laid there."""
        group = self.groups[number]
        left = greedy(self.state, self.arrays, self.limit, [group], pull, self.rng, params, stop)
        found = [] if left else self._where(group)
        self._lift(group)
        return found

    def _where(self, group: Group) -> list[Placement]:
        names = {self.entries[i].piece for i in group}
        return [p for p in self.placements() if p.piece in names]

    def _lift(self, group: Group) -> None:
        for item in group:
            kernels.lift(item, self.state)

    def _force(self, item: int, tries: int) -> float:
        """Put an item where it overlaps least; how much that is."""
        static, fields = self.arrays.static, self.arrays.fields
        loss: float = kernels.insert_cheapest(item, tries, self.state, static, fields, self.limit, self.rng)
        return loss

    def cheapest(self, number: int, tries: int) -> tuple[float, list[Placement]]:
        """Where unit ``number`` overlaps the others least, and how much; it is not laid there."""
        group = self.groups[number]
        loss = sum(self._force(item, tries) for item in group)
        found = self._where(group)
        self._lift(group)
        return loss, found

    def placements(self) -> list[Placement]:
        """Where the free and the laid pieces lie; what has not moved is the placement that was given."""
        result = []
        for placed in self.arrays.placed(self.state):
            entry = self.entries[placed.item]
            if entry.placement is not None and np.array_equal(
                self.state.poses[placed.item], self.start[placed.item]
            ):
                result.append(entry.placement)
                continue
            pose = Pose(entry.mirrored, math.degrees(placed.angle) % 360.0, (placed.x, placed.y))
            panel = self.order.lines[entry.line].panel.name
            result.append(Placement(entry.piece, panel, rounded_pose(pose), entry.pair))
        return result

    # ------------------------------------------------------------------------------- problem

    def _arrays(self) -> Arrays | None:
        spine, cutting = spine_angle(self.hide), self.order.cutting
        kinds = sorted({(e.line, e.mirrored) for e in self.entries})
        if not kinds or not all(allowed_turns(self.patterns[kind], spine) for kind in kinds):
            return None
        accepted = accepted_sets(self.patterns, kinds)
        taken = self._taken()
        leather = [allowed(self.hide, cutting, accepts).difference(taken) for accepts in accepted]
        if any(free.is_empty for free in leather):
            return None
        x0, y0, x1, y1 = shapely.union_all(leather).bounds
        regions = [region_of(free) for free in leather]
        if not all(region.polygons for region in regions):
            return None
        shapes: list[Shape] = []
        items = []
        for entry, (mate, near) in zip(self.entries, self._mates(), strict=True):
            pattern = self.patterns[entry.line, entry.mirrored]
            parts = [Part(points, accepted.index(accepts)) for points, accepts in pattern.parts]
            limit = self._limit(entry, pattern)
            if near is not None and limit is not None:
                disc = shapely.Point(near).buffer(limit).intersection(shapely.box(x0, y0, x1, y1))
                if disc.is_empty:
                    return None
                parts.insert(0, Part(_speck(pattern), len(regions)))
                regions.append(region_of(disc))
            items.append(Item(len(shapes), mate, math.inf if limit is None else limit))
            shapes.append(Shape(pattern.body, tuple(parts), allowed_turns(pattern, spine)))
        box = (x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)
        return build_arrays(_merged(Problem(tuple(shapes), tuple(items), tuple(regions), box)))

    def _taken(self) -> BaseGeometry:
        """The leather of what stays, with the distance to its neighbours."""
        apart = self.order.cutting.kerf_mm + self.order.cutting.gap_mm
        return shapely.union_all([grown(shape_at(self.order, p), apart) for p in self.fixed])

    def _limit(self, entry: Entry, pattern: Pattern) -> float | None:
        """How far the centres of a pair's bodies may be apart, as ``table.set_table`` has it."""
        within = self.order.lines[entry.line].pair_within_mm
        return None if within is None else max(0.1, within - 0.02 - 2.0 * pattern.off_centre)

    def _mates(self) -> list[tuple[int | None, Point | None]]:
        """Per entry the item of its mate, or the centre of the mate that stays."""
        items: dict[str, list[int]] = {}
        for i, entry in enumerate(self.entries):
            if entry.pair is not None:
                items.setdefault(entry.pair, []).append(i)
        centres = {p.pair: shape_at(self.order, p).centroid for p in self.fixed if p.pair is not None}
        found: list[tuple[int | None, Point | None]] = []
        for i, entry in enumerate(self.entries):
            others = [k for k in items.get(entry.pair or "", []) if k != i]
            centre = None if others or entry.pair is None else centres.get(entry.pair)
            found.append((others[0] if others else None, centre and (centre.x, centre.y)))
        return found


def _merged(problem: Problem) -> Problem:
    """Like shapes once: the packer keeps a table for each two of them."""
    keys = [
        (s.outline.tobytes(), s.turns, tuple((p.outline.tobytes(), p.region) for p in s.parts))
        for s in problem.shapes
    ]
    unique = list(dict.fromkeys(keys))
    shapes = tuple(problem.shapes[keys.index(key)] for key in unique)
    items = tuple(Item(unique.index(keys[i.shape]), i.mate, i.mate_limit) for i in problem.items)
    return Problem(shapes, items, problem.regions, problem.box)


def shape_at(order: Order, placement: Placement) -> BaseGeometry:
    """The whole outline of a piece where it lies."""
    panel = next(line.panel for line in order.lines if line.panel.name == placement.panel)
    a, b, c, d = placement.pose.matrix()
    return affinity.affine_transform(ring_polygon(panel.outline, FINE_MM), [a, b, c, d, *placement.pose.at])


def _entries(unit: Loose) -> list[Entry]:
    return [Entry(piece, unit.line, mirrored, unit.pair) for piece, mirrored in unit.members]


def _placed(item: int, placement: Placement) -> Placed:
    pose = placement.pose
    return Placed(item, math.radians(pose.rotation_deg), pose.at[0], pose.at[1])


def _speck(pattern: Pattern) -> Floats:
    """A tiny triangle about the panel's centre of area, in the pattern's frame."""
    centre = ring_polygon(pattern.panel.outline, FINE_MM).centroid
    x = -centre.x if pattern.mirrored else centre.x
    corners = np.array([(-1.0, -0.8), (1.0, -0.8), (0.0, 1.0)])
    return np.asarray(corners * SPECK_MM + (x, centre.y))
