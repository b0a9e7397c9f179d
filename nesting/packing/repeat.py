"""Repeats: the densest arrangement of one shape, or of two, that fills the plane by translations alone.

A lattice of u and v repeats a cell of one or two pieces. No piece overlaps another when each difference of
two places lies outside the no-fit polygon of the two shapes (Milenkovic 2002, on packing repeats). Along u
pieces touch, so that u runs along the border of the no-fit polygon of the shape with itself; the row that u
makes forbids a band to the next row, and the lowest free corner of that band is v. A second piece goes to
a corner of the band that the first one's row leaves for it. For convex shapes and the half turn these are the
double lattices of Kuperberg & Kuperberg (Discrete Comput. Geom. 5:389, 1990).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from nesting.packing.depths import convex_parts, no_fit_polygon, union_on_grid
from nesting.packing.problem import Interval, Points
from nesting.packing.stop import Stop, never

Floats = NDArray[np.float64]

ALONG = 60
"""So many directions of u are looked at before the best are refined."""

REFINED = 3
"""So many of the best directions are refined."""

NESTS = 4
"""So many of the lowest corners of a band are tried for the second piece."""

MOST_TURNS = 4
"""A mirror image is tried with no more turns than this."""

TINY = 1e-7
"""Overlap, as a share of a shape's size, that counts as contact."""


@dataclass(frozen=True)
class Member:
    """A piece of a cell: shape number, turn in rad, place of its origin."""

    shape: int
    angle: float
    x: float
    y: float


@dataclass(frozen=True)
class Repeat:
    """``members`` at every whole combination of ``u`` and ``v``; ``density`` is their share of the plane."""

    u: tuple[float, float]
    v: tuple[float, float]
    members: tuple[Member, ...]
    density: float


def densest_repeats(
    outlines: Sequence[Points], turns: Sequence[tuple[Interval, ...]], stop: Stop = never
) -> list[Repeat]:
    """Repeats of a shape, the densest first; the first member is as drawn, so turn the whole as allowed.

    ``outlines`` are simple polygons (n, 2), counter-clockwise: one shape, or a shape and its mirror image,
    of which a cell then holds one each. ``turns`` are the rotations allowed to each. ``stop`` is asked
    before each one; a repeat that is known from before costs nothing.
    """
    keys = [np.ascontiguousarray(outline, dtype=np.float64).tobytes() for outline in outlines]
    if len(outlines) == 1:
        trials: list[tuple[bytes, bytes | None, float]] = [(keys[0], None, 0.0)]
        if _allowed_together(turns[0], turns[0], math.pi):
            trials.append((keys[0], keys[0], math.pi))
    else:
        aligned = [
            turn
            for turn in _aligning_turns(outlines[0], outlines[1])
            if _allowed_together(turns[0], turns[1], turn)
        ]
        trials = [(keys[0], keys[1], turn) for turn in aligned[:MOST_TURNS]]
    found = []
    for trial in trials:
        if stop():
            break
        found.append(_known(*trial))
    return sorted(found, key=lambda repeat: -repeat.density)


@lru_cache(maxsize=64)
def _known(outline: bytes, other: bytes | None, turn: float) -> Repeat:
    """The same shapes come again with every heading and hide."""
    first = np.frombuffer(outline, dtype=np.float64).reshape(-1, 2)
    if other is None:
        return densest_lattice(first)
    same = other == outline
    return densest_pair(first, first if same else np.frombuffer(other, dtype=np.float64).reshape(-1, 2), turn)


def densest_lattice(outline: Points) -> Repeat:
    """The densest repeat of one piece by translations alone."""
    search = _Search(outline, None, 0.0)
    return search.best()


def densest_pair(outline: Points, other: Points, turn: float) -> Repeat:
    """The densest repeat found of two pieces, the second being ``other`` turned by ``turn``."""
    search = _Search(outline, other, turn)
    return search.best()


def common_turns(first: tuple[Interval, ...], second: tuple[Interval, ...], turn: float) -> list[Interval]:
    """Where the first piece may be turned so that the second, turned by ``turn`` more, may be too."""
    whole, found = 2.0 * math.pi, []
    for low, high in first:
        for other_low, other_high in second:
            shifted = other_low - turn
            for k in range(math.floor((low - shifted) / whole) - 1, math.ceil((high - shifted) / whole) + 2):
                least = max(low, shifted + k * whole)
                most = min(high, other_high - turn + k * whole)
                if least <= most + 1e-9:
                    found.append((least, max(least, most)))
    return found


def _allowed_together(first: tuple[Interval, ...], second: tuple[Interval, ...], turn: float) -> bool:
    return bool(common_turns(first, second, turn))


def _aligning_turns(first: Points, second: Points) -> list[float]:
    """Turns of the second shape that lay its long sides along long sides of the first, the longest first."""
    turns: list[float] = []
    sides = [(a[0] * b[0], a[1], b[1]) for a in _long_sides(first) for b in _long_sides(second)]
    for _, a, b in sorted(sides, reverse=True):
        turn = (a + math.pi - b) % (2.0 * math.pi)
        if all(abs(math.remainder(turn - t, 2.0 * math.pi)) > 0.02 for t in turns):
            turns.append(turn)
    return turns


def _long_sides(outline: Points) -> list[tuple[float, float]]:
    """Length and direction of the sides of the convex hull that are at least a third of the longest."""
    hull = shapely.get_coordinates(shapely.MultiPoint(outline).convex_hull.simplify(0.0))
    steps = np.diff(hull, axis=0)
    length = np.hypot(*steps.T)
    kept = steps[length >= length.max() / 3.0]
    return [(math.hypot(x, y), math.atan2(y, x)) for x, y in kept]


class _Search:
    """The search over directions of u for one shape, or for two with a given turn between them."""

    def __init__(self, outline: Points, other: Points | None, turn: float) -> None:
        first, x0 = _centred(outline)
        self.turn, self.areas = turn, [shapely.Polygon(outline).area]
        own = no_fit_polygon(convex_parts(first), convex_parts(first), 0.0)
        self.other_shape = 0 if other is None or other is outline else 1
        self.shifts = [-x0]
        self.between: BaseGeometry | None = None
        if other is not None:
            second, x1 = _centred(other)
            cos, sin = math.cos(turn), math.sin(turn)
            self.shifts.append(np.array([sin * x1[1] - cos * x1[0], -sin * x1[0] - cos * x1[1]]))
            self.areas.append(shapely.Polygon(other).area)
            twin = no_fit_polygon(convex_parts(second), convex_parts(second), 0.0)
            own = _union([own, affinity.rotate(twin, math.degrees(turn), origin=(0, 0))])
            self.between = no_fit_polygon(convex_parts(first), convex_parts(second), turn)
        self.own = shapely.Polygon(max(shapely.get_parts(own), key=lambda p: p.area).exterior)
        self.full = own
        self.size = math.sqrt(max(self.areas))
        self.border = shapely.LinearRing(self.own.exterior.coords)

    def best(self) -> Repeat:
        """The densest cell over all directions."""
        ends = np.linspace(0.0, self.border.length, ALONG, endpoint=False)
        steps = np.hypot(*np.diff(np.array(self.border.coords), axis=0).T)
        corners = np.cumsum([0.0, *steps[:-1]])
        middles = (corners + 0.5 * steps)[steps > 0.05 * self.border.length]
        # Turned by half, u makes the same row.
        at = sorted({float(s) for s in (*ends, *corners, *middles) if _upper(self._u(s))})
        cells = [self._cell(self._u(s)) for s in at]
        ranked = sorted(range(len(at)), key=lambda i: cells[i][0])
        for i in ranked[:REFINED]:
            cells.append(self._refined(at[max(0, i - 1)], at[min(len(at) - 1, i + 1)]))
        return self._repeat(*min(cells, key=self._rank))

    def _rank(self, cell: tuple[float, Floats, Floats, Floats]) -> tuple[float, float]:
        """Least area; of like ones, as rows of rectangles slide freely, the squarest cell."""
        area, u, v, _ = cell
        return round(area / sum(self.areas), 7), abs(float(u @ v)) / float(np.hypot(*u) * np.hypot(*v))

    def _refined(self, low: float, high: float) -> tuple[float, Floats, Floats, Floats]:
        if high <= low:
            return self._cell(self._u(low))
        cost: Callable[[float], float] = lambda s: self._cell(self._u(s))[0]  # noqa: E731
        found = minimize_scalar(cost, bounds=(low, high), method="bounded", options={"maxiter": 22})
        return self._cell(self._u(float(found.x)))

    def _u(self, s: float) -> Floats:
        point = self.border.interpolate(s)
        return np.array([point.x, point.y])

    def _cell(self, u: Floats) -> tuple[float, Floats, Floats, Floats]:
        """The least cell with this u: area, u, v, and the place of the second piece."""
        none = np.zeros(2)
        row = _Row(u, self.size)
        own = row.band(self.full)
        if self.between is None:
            return min(((area, u, v, none) for area, v in row.lowest([own])), default=(math.inf, u, u, none),
                       key=lambda cell: cell[0])  # fmt: skip
        between = row.band(self.between)
        best = (math.inf, u, u, none)
        for c in row.nests(between, NESTS):
            back = affinity.scale(between, -1.0, -1.0, origin=(0, 0))
            bands = [
                own,
                affinity.translate(between, -c[0], -c[1]),
                affinity.translate(back, c[0], c[1]),
            ]
            for area, v in row.lowest(bands):
                if area < best[0]:
                    best = (area, u, v, c)
        return best

    def _repeat(self, area: float, u: Floats, v: Floats, c: Floats) -> Repeat:
        places = [self.shifts[0], *(c + shift for shift in self.shifts[1:])]
        members = [Member(0, 0.0, *map(float, places[0]))]
        if len(places) > 1:
            members.append(Member(self.other_shape, self.turn, *map(float, places[1])))
        pair = (float(u[0]), float(u[1])), (float(v[0]), float(v[1]))
        return Repeat(*pair, tuple(members), sum(self.areas) / area)


class _Row:
    """Pieces repeated along u; heights are measured across it."""

    def __init__(self, u: Floats, size: float) -> None:
        self.u, self.size, self.length = u, size, float(np.hypot(*u))
        self.along = u / self.length
        self.across = np.array([-self.along[1], self.along[0]])

    def band(self, forbidden: BaseGeometry) -> BaseGeometry:
        """What a row forbids, complete for three periods about the origin."""
        reach = shapely.get_coordinates(forbidden) @ self.along
        low, high = float(reach.min()), float(reach.max())
        first, last = (
            math.floor((-1.5 * self.length - high) / self.length),
            math.ceil((1.5 * self.length - low) / self.length),
        )
        copies = [affinity.translate(forbidden, *(k * self.u)) for k in range(first, last + 1)]
        return _union(copies)

    def nests(self, band: BaseGeometry, count: int) -> list[Floats]:
        """The lowest corners at or above the row's own line where the band leaves room."""
        corners = self._corners(band, -TINY * self.size)
        return corners[:count]

    def lowest(self, bands: Sequence[BaseGeometry]) -> list[tuple[float, Floats]]:
        """Cell area and v for the lowest corner that makes a lattice; [] when none does."""
        band = _union(list(bands)) if len(bands) > 1 else bands[0]
        inner = [b.buffer(-4.0 * TINY * self.size, join_style="mitre") for b in bands]
        for v in self._corners(band, 1e-3 * self.size)[:12]:
            height = float(v @ self.across)
            top = max(float((shapely.get_coordinates(b) @ self.across).max()) for b in bands)
            if not any(self._inside(m * v, inner) for m in range(2, int(top / height) + 1)):
                return [(self.length * height, v)]
        return []

    def _corners(self, band: BaseGeometry, least: float) -> list[Floats]:
        points = np.unique(shapely.get_coordinates(band), axis=0)
        t, h = points @ self.along, points @ self.across
        keep = (t >= -0.5 * self.length) & (t < 0.5 * self.length) & (h > least)
        chosen = points[keep]
        return [chosen[i] for i in np.argsort(h[keep], kind="stable")]

    def _inside(self, point: Floats, bands: Sequence[BaseGeometry]) -> bool:
        back = round(float(point @ self.along) / self.length)
        x, y = point - back * self.u
        return any(bool(shapely.contains_xy(band, x, y)) for band in bands)


def _centred(outline: Points) -> tuple[Points, Floats]:
    """The outline about its centre of area, and that centre."""
    centre = shapely.Polygon(outline).centroid
    at = np.array([centre.x, centre.y])
    return outline - at, at


def _upper(u: Floats) -> bool:
    return bool(u[1] > 0.0 or (u[1] == 0.0 and u[0] > 0.0))


def _union(parts: list[BaseGeometry]) -> BaseGeometry:
    """A union that does not fail on nearly coincident sides."""
    try:
        return shapely.union_all(parts)
    except shapely.GEOSException:
        return union_on_grid(np.array(parts))
