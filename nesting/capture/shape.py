"""From a dense outline to the one that is kept: few points, inside the leather, straight edges straight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture.inside import simplified_inside

Points = NDArray[np.float64]
Edge = tuple[tuple[float, float], tuple[float, float]]

STRAIGHT_LENGTH = 250.0  # mm: shorter runs are not taken for an edge cut true
STRAIGHT_WITHIN = 0.7  # mm, nearly everywhere
SAMPLE = 2.0  # mm between the points that are judged
MOST_VERTICES = 600
FINE, SLACK = 0.05, 0.2  # mm


@dataclass(frozen=True)
class Kept:
    """``outline`` (n, 2) counter-clockwise, inside the measured one by ``margin`` mm nearly everywhere."""

    outline: Points
    straight: tuple[Edge, ...]


def clean_polygon(points: Points) -> shapely.Polygon:
    """The largest valid polygon of a ring (n, 2)."""
    return largest_polygon(shapely.make_valid(shapely.Polygon(points)))


def largest_polygon(geometry: shapely.Geometry) -> shapely.Polygon:
    """The largest polygon in a geometry, without its holes."""
    parts = [g for g in shapely.get_parts(geometry, return_index=False) if g.geom_type == "Polygon"]
    flat = [q for p in parts for q in shapely.get_parts(p)]
    if not flat:
        return shapely.Polygon()
    return shapely.Polygon(max(flat, key=lambda p: float(p.area)).exterior)


def keep(polygon: shapely.Polygon, margin: float) -> Kept:
    """Offset inward by the margin, then give up points without leaving the rest; straight runs become sides.

    All that goes without moving a spot by more than ``SLACK`` goes, and more until 600 points are left;
    containment is checked, not assumed.
    """
    inner = largest_polygon(polygon.buffer(-(margin + 1.02 * FINE), join_style="mitre", mitre_limit=3.0))
    # Plain simplification by a hair first: it is quick, and the offset makes up for it.
    ring = np.asarray(shapely.simplify(inner, FINE).exterior.coords)[:-1]
    ring = ring if shapely.Polygon(ring).exterior.is_ccw else ring[::-1]
    ring = simplified_inside(ring, MOST_VERTICES, SLACK)
    ring, straight = straightened(ring)
    kept = shapely.Polygon(ring)
    if not kept.is_valid or not polygon.buffer(0.02).covers(kept):
        kept = largest_polygon(shapely.make_valid(kept).intersection(polygon))
        ring = np.asarray(kept.exterior.coords)[:-1]
        ring = ring if kept.exterior.is_ccw else ring[::-1]
        straight = tuple(e for e in straight if _on(kept, e))
    return Kept(ring, straight)


def _on(polygon: shapely.Polygon, edge: Edge) -> bool:
    return bool(polygon.exterior.buffer(0.95).covers(shapely.LineString(edge)))


def straightened(ring: Points) -> tuple[Points, tuple[Edge, ...]]:
    """Replace each long straight run by one side that leaves the run's roughness outside.

    ``ring`` (n, 2) is counter-clockwise. Returns the ring and the sides that are straight.
    """
    dense, place = _dense(ring, SAMPLE)
    edges: list[Edge] = []
    cuts: list[tuple[float, float, Points, Points]] = []
    count = len(dense)
    taken = np.zeros(count, bool)
    for first, last in _runs(dense):
        index = np.arange(first, last + 1) % count
        if taken[index].any():
            continue
        taken[index] = True
        start, end = _side(dense[index])
        edges.append(((float(start[0]), float(start[1])), (float(end[0]), float(end[1]))))
        cuts.append((float(place[index[0]]), float(place[index[-1]]), start, end))
    return _replaced(ring, cuts), tuple(edges)


def _dense(ring: Points, step: float) -> tuple[Points, Points]:
    """Points about every ``step`` mm along a ring, and their places counted in vertices."""
    closed = np.vstack((ring, ring[:1]))
    length = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))))
    at = np.linspace(0.0, length[-1], max(8, int(length[-1] / step)), endpoint=False)
    place = np.interp(at, length, np.arange(len(closed)))
    return np.column_stack((np.interp(at, length, closed[:, 0]), np.interp(at, length, closed[:, 1]))), place


def _line(points: Points) -> tuple[Points, Points, Points]:
    """A point and the direction of the line through points, their distances to its left; robust."""
    weight = np.ones(len(points))
    for _ in range(3):
        centre = np.average(points, axis=0, weights=weight)
        _, _, vt = np.linalg.svd((points - centre) * np.sqrt(weight)[:, None], full_matrices=False)
        direction = vt[0] * np.sign(vt[0] @ (points[-1] - points[0]) or 1.0)
        off = (points - centre) @ np.array([-direction[1], direction[0]])
        weight = 1.0 / (1.0 + (off / 0.3) ** 2)
    return centre, direction, off


def _straight(points: Points) -> bool:
    away = np.abs(_line(points)[2])
    tips = max(float(np.median(away[:5])), float(np.median(away[-5:])))
    return bool(np.mean(away <= STRAIGHT_WITHIN) >= 0.94 and away.max() <= 1.6 and tips <= 0.5)


def _side(points: Points) -> tuple[Points, Points]:
    """The two ends of the side that replaces a straight run of a counter-clockwise ring."""
    centre, direction, off = _line(points)
    inward = np.array([-direction[1], direction[0]])
    base = centre + inward * float(np.quantile(off, 0.95))
    return base + direction * float((points[0] - base) @ direction), base + direction * float(
        (points[-1] - base) @ direction
    )


def _runs(dense: Points) -> list[tuple[int, int]]:
    """Index runs (first, last; last may pass the end) that are straight and long, longest first."""
    n = len(dense)
    twice = np.vstack((dense, dense))
    least = int(STRAIGHT_LENGTH / SAMPLE) + 1
    found = []
    for first in range(0, n, 4):
        if least >= n or not _straight(twice[first : first + least + 1]):
            continue
        last = first + least
        for step in (64, 16, 4, 1):
            while last + step < first + n and _straight(twice[first : last + step + 1]):
                last += step
        found.append((last - first, first, last))
    found.sort(key=lambda f: (-f[0], f[1]))
    return [(first, last) for _, first, last in found]


def _replaced(ring: Points, cuts: list[tuple[float, float, Points, Points]]) -> Points:
    """The ring with the vertices between each pair of places given up for the pair's two ends."""
    n = len(ring)
    vertices = [(float(k), ring[k]) for k in range(n)]
    for a, b, _, _ in cuts:
        # A run may pass the end of the list.
        vertices = [v for v in vertices if not (a <= v[0] <= b if a <= b else v[0] >= a or v[0] <= b)]
    for a, b, start, end in cuts:
        vertices += [(a, start), (b, end)]
    vertices.sort(key=lambda v: v[0])
    return np.array([v[1] for v in vertices])
