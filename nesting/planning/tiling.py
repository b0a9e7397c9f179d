"""A repeat tiled over a hide: one way to make the first layout of many pieces of one panel.

The lattice is turned and shifted every way that promises something; each time the pieces that lie wholly
in the leather are counted, and the best few ways are varied a little.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product, takewhile

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from nesting.packing import kernels
from nesting.packing.arrays import State
from nesting.packing.problem import Interval, Placed, Points, Problem
from nesting.packing.repeat import Repeat, common_turns, densest_repeats
from nesting.packing.stop import Stop
from nesting.planning.table import Table

Floats = NDArray[np.float64]

SHIFTS = 4
"""The cell is shifted by so many steps along u and along v."""

TURNS = 6
"""So many turns are tried of each interval, besides those that lay a long side along the hide's edge."""

VARIED = 4
"""So many of the best ways are varied, each ``VARIATIONS`` times."""

VARIATIONS = 40

BEST = 3
"""No more repeats than this are tried."""

HAIR = 1e-5
"""Shapes are grown by this share of their size for the repeat, so that contact is no overlap."""


@dataclass(frozen=True)
class Way:
    """A repeat turned by ``angle`` and shifted by shares of its cell."""

    repeat: int
    angle: float
    along_u: float
    along_v: float


@dataclass(frozen=True)
class Piece:
    """A placed member: which shape, its pose, the centre of its shape, and the lattice's row."""

    shape: int
    angle: float
    x: float
    y: float
    centre: tuple[float, float]
    row: int

    def as_item(self, item: int) -> Placed:
        """The piece as an item of the packer."""
        return Placed(item, self.angle, self.x, self.y)


class Tiling:
    """Repeats over the leather of one table. ``repeats``' shapes are those of the problem, by number."""

    def __init__(
        self,
        problem: Problem,
        repeats: Sequence[Repeat],
        lines: Floats,
        chance: np.random.Generator,
        stop: Stop,
    ) -> None:
        self.stop = stop
        self.problem, self.repeats, self.lines, self.chance = problem, repeats, lines, chance
        self.leather = [region.geometry() for region in problem.regions]
        for leather in self.leather:
            shapely.prepare(leather)
        centres = [shapely.Polygon(shape.outline).centroid for shape in problem.shapes]
        self.middles = np.array([(c.x, c.y) for c in centres])

    def best(self) -> list[Piece]:
        """The pieces of the way that lays most."""
        promising = takewhile(lambda _: not self.stop(), self._ways())
        ways = sorted(((len(self.pieces(way)), way) for way in promising), key=lambda found: -found[0])
        for _, way in ways[:VARIED]:
            ways.append(self._varied(way))
        return self.pieces(max(ways, key=lambda found: found[0])[1]) if ways else []

    def _ways(self) -> Iterator[Way]:
        for number, repeat in enumerate(self.repeats):
            for angle in self._angles(repeat):
                for a, b in self._shifts(repeat, angle):
                    yield Way(number, angle, a, b)

    def _shifts(self, repeat: Repeat, angle: float) -> Iterator[tuple[float, float]]:
        """Shares of the cell: evenly spread, and such that a row or its end touches the leather's border."""
        steps = [k / SHIFTS for k in range(SHIFTS)]
        yield from product(steps, steps)
        basis = _turned(np.array([repeat.u, repeat.v]), angle)
        along = basis[0] / np.hypot(*basis[0])
        frame = np.column_stack((along, (-along[1], along[0])))
        member = repeat.members[0]
        part = self.problem.shapes[member.shape].parts[0]
        own = _turned(part.outline, member.angle + angle) @ frame
        room = shapely.get_coordinates(self.leather[part.region]) @ frame
        nudge = 1e-7 * np.ptp(room, axis=0)
        low, high = room.min(axis=0) - own.min(axis=0) + nudge, room.max(axis=0) - own.max(axis=0) - nudge
        shift = _turned(np.array([member.x, member.y]), angle)
        for x, y in product((low[0], high[0]), (low[1], high[1])):
            a, b = ((frame @ (x, y)) - shift) @ np.linalg.inv(basis)
            yield float(a), float(b)
            if x == low[0]:
                yield from ((float(a) + step, float(b)) for step in steps[1:])

    def _angles(self, repeat: Repeat) -> list[float]:
        """Turns of the whole repeat: spread over what is allowed, and with u, v or a side along an edge."""
        found: list[float] = []
        for low, high in self._turns(repeat):
            if high - low < 1e-9:
                found.append(low)
                continue
            found += list(low + (high - low) * (np.arange(TURNS) + self.chance.random()) / TURNS)
            for line in np.unique(self.lines)[:4]:
                for own in (_direction(repeat.u), _direction(repeat.v)):
                    for half in (0.0, math.pi):
                        angle = low + (line + half - own - low) % (2.0 * math.pi)
                        if angle <= high:
                            found.append(angle)
        return found

    def _turns(self, repeat: Repeat) -> list[Interval]:
        shapes = self.problem.shapes
        first = repeat.members[0]
        turns = list(shapes[first.shape].turns)
        for member in repeat.members[1:]:
            turns = common_turns(tuple(turns), shapes[member.shape].turns, member.angle - first.angle)
        return turns

    def _varied(self, way: Way) -> tuple[int, Way]:
        """A climb from one way by small changes."""
        count, step = len(self.pieces(way)), 0.5 / SHIFTS
        intervals = self._turns(self.repeats[way.repeat])
        for _ in takewhile(lambda _: not self.stop(), range(VARIATIONS)):
            da, db, dc = self.chance.normal(0.0, step, 3)
            angle = way.angle + 0.2 * dc
            if not any(low <= angle <= high for low, high in intervals):
                angle = way.angle
            trial = replace(way, angle=angle, along_u=way.along_u + da, along_v=way.along_v + db)
            laid = len(self.pieces(trial))
            if laid >= count:
                count, way = laid, trial
        return count, way

    # --------------------------------------------------------------------------------- laying

    def pieces(self, way: Way) -> list[Piece]:
        """All members of the lattice that lie wholly in the leather."""
        repeat = self.repeats[way.repeat]
        basis = _turned(np.array([repeat.u, repeat.v]), way.angle)
        cells = self._cells(basis)
        origins = (cells + np.array([way.along_u, way.along_v])) @ basis
        found = []
        for member in repeat.members:
            at = origins + _turned(np.array([member.x, member.y]), way.angle)
            angle = member.angle + way.angle
            middle = _turned(self.middles[member.shape], angle)
            for k in np.flatnonzero(self._inside(member.shape, angle, at)):
                x, y = map(float, at[k])
                centre = (x + float(middle[0]), y + float(middle[1]))
                found.append(Piece(member.shape, angle, x, y, centre, int(cells[k, 1])))
        return found

    def _cells(self, basis: Floats) -> Floats:
        """Whole numbers (n, 2) of all cells that may reach into the problem's box."""
        x0, y0, x1, y1 = self.problem.box
        corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]) @ np.linalg.inv(basis)
        low, high = np.floor(corners.min(axis=0)) - 2, np.ceil(corners.max(axis=0)) + 2
        i, j = np.meshgrid(np.arange(low[0], high[0] + 1), np.arange(low[1], high[1] + 1))
        return np.column_stack((i.ravel(), j.ravel()))

    def _inside(self, shape: int, angle: float, at: Floats) -> NDArray[np.bool_]:
        """Which places (n, 2) of a shape's origin keep all its parts in their leather."""
        good = np.ones(len(at), dtype=np.bool_)
        for part in self.problem.shapes[shape].parts:
            outline, leather = _turned(part.outline, angle), self.leather[part.region]
            kept = np.flatnonzero(good)
            # A first look at few corners spares most of the work.
            for corner in outline[:: max(1, len(outline) // 4)]:
                kept = kept[shapely.contains_xy(leather, at[kept] + corner)]
            polygons = shapely.polygons(at[kept][:, None, :] + outline[None, :, :])
            good[:] = False
            good[kept[shapely.covers(leather, polygons)]] = True
        return good


def lay_tiled(
    table: Table,
    state: State,
    limit: Floats,
    slots: Sequence[int],
    chance: np.random.Generator,
    stop: Stop,
) -> list[int]:
    """Tile the only panel of a table over it, into so many slots (unit indices); return those laid.

    Units are single pieces or whole pairs, from low x onwards. What the packer finds overlapping after all
    is taken off again. Once ``stop`` says so, what has been found by then is laid.
    """
    arrays, unit = table.arrays, table.units[0]
    mirrored = len(arrays.problem.shapes) > 1
    pieces = Tiling(arrays.problem, _repeats(arrays.problem, stop), arrays.static.lines, chance, stop).best()
    units: Sequence[tuple[Piece, ...]] = [(piece,) for piece in pieces]
    if unit.pieces > 1:
        units = in_pairs(pieces, mirrored, arrays.problem.items[0].mate_limit)
    units = sorted(units, key=lambda members: max(piece.centre[0] for piece in members))
    chosen = list(zip(slots, units, strict=False))
    arrays.put(state, [
        piece.as_item(item)
        for slot, members in chosen
        for item, piece in zip(table.groups[slot], members, strict=True)
    ])  # fmt: skip
    laid = {slot for slot, _ in chosen}
    while kernels.rebuild(state, arrays.static, arrays.fields, limit) > 0.0:
        worst = max(laid, key=lambda slot: (state.losses[list(table.groups[slot])].sum(), slot))
        state.active[list(table.groups[worst])] = False
        laid.remove(worst)
    return sorted(laid)


def _repeats(problem: Problem, stop: Stop) -> list[Repeat]:
    """The densest few repeats of the problem's shapes."""
    outlines = [_grown(shape.outline) for shape in problem.shapes]
    return densest_repeats(outlines, [shape.turns for shape in problem.shapes], stop)[:BEST]


def in_pairs(pieces: Sequence[Piece], mirrored: bool, limit: float) -> list[tuple[Piece, Piece]]:
    """Whole pairs of pieces no farther apart than ``limit``: with its mirror image, or alike."""
    if mirrored:
        return _by_distance([p for p in pieces if p.shape == 0], [p for p in pieces if p.shape == 1], limit)
    pairs, waiting = [], None
    for piece in sorted(pieces, key=lambda p: (p.row, p.x, p.y)):
        if waiting is not None and math.dist(waiting.centre, piece.centre) <= limit:
            pairs.append((waiting, piece))
            waiting = None
        else:
            waiting = piece
    return pairs


def _by_distance(left: Sequence[Piece], right: Sequence[Piece], limit: float) -> list[tuple[Piece, Piece]]:
    """As many pairs as there are within the limit, near ones first."""
    if not left or not right:
        return []
    a, b = (np.array([p.centre for p in side]) for side in (left, right))
    apart = np.hypot(*(a[:, None, :] - b[None, :, :]).transpose(2, 0, 1))
    far = 1e3 * float(apart.max() + 1.0)
    rows, columns = linear_sum_assignment(np.where(apart <= limit, apart, far))
    return [(left[i], right[j]) for i, j in zip(rows, columns, strict=True) if apart[i, j] <= limit]


def _direction(vector: tuple[float, float]) -> float:
    return math.atan2(vector[1], vector[0])


def _turned(points: Floats, angle: float) -> Floats:
    cos, sin = math.cos(angle), math.sin(angle)
    turned: Floats = points @ np.array([[cos, sin], [-sin, cos]])
    return turned


def _grown(outline: Points) -> Points:
    """The outline counter-clockwise, as repeats are reckoned, and a hair larger."""
    polygon = shapely.Polygon(outline)
    larger = polygon.buffer(HAIR * math.sqrt(polygon.area), join_style="mitre", mitre_limit=10.0)
    points: Points = shapely.get_coordinates(shapely.orient_polygons(larger).exterior)[:-1]
    return points
