"""Any smooth curve to a run of arcs and chords that stays within a tolerance of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from nesting.rings import Point, Points, Vertex, arc_of

Curve = Callable[[Points], Points]
"""Parameters of shape (n,) to points of shape (n, 2), in mm."""

TOLERANCE_MM = 0.02
SAMPLES = 16  # even, so that one sample lies at the middle
SAFETY = 0.75  # the largest deviation may fall between two samples
DEPTH = 24


def arcs_along(curve: Curve, breaks: Sequence[float], tolerance: float = TOLERANCE_MM) -> list[Vertex]:
    """Vertices ``(x, y, bulge)`` of an open run along ``curve`` from ``breaks[0]`` to ``breaks[-1]``.

    ``breaks`` (at least two, ascending) are parameters where the curve may have a corner; each gets
    a vertex. Between them arcs through three points of the curve are halved until 17 samples lie within three
    quarters of ``tolerance``.
    """
    vertices: list[Vertex] = []
    for low, high in pairwise(breaks):
        vertices += _arcs_between(curve, low, high, tolerance * SAFETY, DEPTH)
    x, y = curve(np.array([breaks[-1]]))[0]
    return [*vertices, (float(x), float(y), 0.0)]


def _arcs_between(curve: Curve, low: float, high: float, tolerance: float, depth: int) -> list[Vertex]:
    points = curve(np.linspace(low, high, SAMPLES + 1))
    start, middle, end = (_pair(points[i]) for i in (0, SAMPLES // 2, SAMPLES))
    bulge = bulge_through(start, middle, end)
    if depth == 0 or _follows(points, start, end, bulge, tolerance):
        return [(*start, bulge)]
    half = 0.5 * (low + high)
    return [
        *_arcs_between(curve, low, half, tolerance, depth - 1),
        *_arcs_between(curve, half, high, tolerance, depth - 1),
    ]


def bulge_through(start: Point, middle: Point, end: Point) -> float:
    """Bulge of the arc from ``start`` to ``end`` through ``middle``; 0 when the three are in line."""
    ax, ay = start[0] - middle[0], start[1] - middle[1]
    bx, by = end[0] - middle[0], end[1] - middle[1]
    cross, dot = ax * by - ay * bx, ax * bx + ay * by
    if abs(cross) <= 1e-12 * (abs(dot) + abs(cross)) or cross == 0.0:
        return 0.0
    # The angle at the middle is inscribed over the rest of the circle: sweep = 2 (pi - angle).
    return math.copysign(math.tan(0.5 * (math.pi - abs(math.atan2(cross, dot)))), -cross)


def _follows(points: Points, start: Point, end: Point, bulge: float, tolerance: float) -> bool:
    """True when the points lie on the arc within the tolerance and run along it one way."""
    if abs(bulge) > 1.0:
        return False
    if bulge == 0.0:
        return _follows_chord(points, start, end, tolerance)
    centre, radius, first, sweep = arc_of(start, end, bulge)
    offset = points - np.array(centre)
    if np.abs(np.hypot(offset[:, 0], offset[:, 1]) - radius).max() > tolerance:
        return False
    turned = np.unwrap(np.arctan2(offset[:, 1], offset[:, 0])) - first
    return bool((np.diff(turned) * math.copysign(radius, sweep) > -tolerance).all())


def _follows_chord(points: Points, start: Point, end: Point, tolerance: float) -> bool:
    along = np.array([end[0] - start[0], end[1] - start[1]])
    length = float(np.hypot(*along))
    offset = points - np.array(start)
    if length <= 1e-9:
        return bool(np.hypot(offset[:, 0], offset[:, 1]).max() <= tolerance)
    along /= length
    across = offset[:, 0] * along[1] - offset[:, 1] * along[0]
    run = np.diff(offset @ along)
    return bool(np.abs(across).max() <= tolerance and (run > -tolerance).all())


def _pair(point: Points) -> Point:
    return float(point[0]), float(point[1])


def circle(centre: Point, radius: float, *, clockwise: bool = False) -> list[Vertex]:
    """A whole circle as a closed run of four exact quarter arcs."""
    x, y = centre
    quarter = math.tan(math.pi / 8.0)
    corners = ((1, 0), (0, -1), (-1, 0), (0, 1)) if clockwise else ((1, 0), (0, 1), (-1, 0), (0, -1))
    bulge = -quarter if clockwise else quarter
    return [(x + radius * dx, y + radius * dy, bulge) for dx, dy in corners]


def arc(start: Point, end: Point, sweep: float) -> list[Vertex]:
    """An arc of ``sweep`` radians (ccw positive, under a full turn) as one or two exact segments, open."""
    bulge = math.tan(sweep / 4.0)
    if math.isclose(abs(bulge), 1.0, rel_tol=1e-12):
        bulge = math.copysign(1.0, sweep)
    if abs(bulge) <= 1.0:
        return [(*start, bulge), (*end, 0.0)]
    centre, radius, first, _ = arc_of(start, end, bulge)
    angle = first + 0.5 * sweep
    middle = (centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle))
    half = math.tan(sweep / 8.0)
    return [(*start, half), (*middle, half), (*end, 0.0)]
