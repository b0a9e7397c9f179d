"""From a dense outline to the one that is kept: few points, inside the leather, straight edges straight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]
Edge = tuple[tuple[float, float], tuple[float, float]]

STRAIGHT_LENGTH = 250.0  # mm: shorter runs are not taken for an edge cut true
STRAIGHT_WITHIN = 0.7  # mm
MOST_VERTICES = 600


@dataclass(frozen=True)
class Kept:
    """``outline`` (n, 2) counter-clockwise, inside the measured one by at least ``margin`` mm nearly everywhere."""

    outline: Points
    straight: tuple[Edge, ...]
    step: float


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
    """Simplify inside: offset inward by the margin and a little more than the step, then simplify by the step.

    The step starts small and grows until at most 600 points are left; containment is checked, not assumed.
    """
    step = 0.2
    while True:
        inner = largest_polygon(polygon.buffer(-(margin + 1.02 * step), join_style="mitre", mitre_limit=3.0))
        ring = np.asarray(shapely.simplify(inner, step).exterior.coords)[:-1]
        if len(ring) <= MOST_VERTICES or step > 3.0:
            break
        step *= 1.3
    ring = ring if shapely.Polygon(ring).exterior.is_ccw else ring[::-1]
    ring, straight = straightened(ring)
    kept = shapely.Polygon(ring)
    if not kept.is_valid or not polygon.buffer(0.02).covers(kept):
        kept = largest_polygon(shapely.make_valid(kept).intersection(polygon))
        ring = np.asarray(kept.exterior.coords)[:-1]
        ring = ring if kept.exterior.is_ccw else ring[::-1]
        ring, straight = ring, tuple(e for e in straight if _on(kept, e))
    return Kept(ring, straight, step)


def _on(polygon: shapely.Polygon, edge: Edge) -> bool:
    return bool(polygon.exterior.buffer(0.95).covers(shapely.LineString(edge)))


def straightened(ring: Points) -> tuple[Points, tuple[Edge, ...]]:
    """Replace each long straight run of vertices by one side, moved inward so that nothing is added.

    ``ring`` (n, 2) is counter-clockwise. Returns the ring and the sides that are straight.
    """
    n = len(ring)
    edges: list[Edge] = []
    drop = np.zeros(n, bool)
    moved = ring.copy()
    taken = np.zeros(n, bool)
    for first, last in _runs(ring):
        index = np.arange(first, last + 1) % n
        if taken[index].any():
            continue
        taken[index] = True
        a, b = ring[index[0]], ring[index[-1]]
        direction = (b - a) / np.hypot(*(b - a))
        inward = np.array([-direction[1], direction[0]])
        # The innermost vertex of the run decides: everything further out is given up.
        shift = max(float(((ring[index] - a) @ inward).max()), 0.0)
        moved[index[0]], moved[index[-1]] = a + inward * shift, b + inward * shift
        drop[index[1:-1]] = True
        start, end = moved[index[0]], moved[index[-1]]
        edges.append(((float(start[0]), float(start[1])), (float(end[0]), float(end[1]))))
    return moved[~drop], tuple(edges)


def _runs(ring: Points) -> list[tuple[int, int]]:
    """Index runs (first, last; last may pass n) that are straight and long, longest first."""
    n = len(ring)
    twice = np.vstack((ring, ring))
    found = []
    for first in range(n):
        last = first + 1
        reach = first + 1
        while reach < first + n - 1:
            a, b = twice[first], twice[reach]
            length = float(np.hypot(*(b - a)))
            if length > 1e-9 and reach > first + 1:
                normal = np.array([a[1] - b[1], b[0] - a[0]]) / length
                if np.abs((twice[first + 1 : reach] - a) @ normal).max() > STRAIGHT_WITHIN:
                    break
            last = reach
            reach += 1
        length = float(np.hypot(*(twice[last] - twice[first])))
        if length > STRAIGHT_LENGTH:
            found.append((length, first, last))
    found.sort(key=lambda f: (-f[0], f[1]))
    return [(first, last) for _, first, last in found]
