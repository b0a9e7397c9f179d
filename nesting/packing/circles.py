"""Inscribed circles: a polygon's inside in a handful of numbers.

The multi-sphere scheme of Imamichi & Nagamochi (SLS 2007) stands for a piece by circles; here each
next circle is the largest that fits into what the ones before have left (poles of inaccessibility).
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.packing.problem import Points


def inscribed_circles(outline: Points, most: int = 8, cover: float = 0.93) -> Points:
    """Circles (k, 3) of x, y, radius inside a simple polygon (n, 2), largest first.

    Ends at ``most`` circles, when ``cover`` of the area is covered, or when circles get tiny.
    """
    polygon: BaseGeometry = shapely.Polygon(outline)
    size = float(np.sqrt(polygon.area))
    rest = polygon
    circles: list[tuple[float, float, float]] = []
    covered = 0.0
    while len(circles) < most and covered < cover * polygon.area:
        radius, x, y = _largest(rest, polygon, 0.004 * size)
        if radius < 0.03 * size and circles:
            break
        circles.append((x, y, radius))
        disc = shapely.Point(x, y).buffer(radius, quad_segs=12)
        covered += disc.intersection(rest).area
        rest = rest.difference(disc)
        if rest.is_empty:
            break
    circles.sort(key=lambda c: -c[2])
    return np.array(circles, dtype=np.float64)


def _largest(rest: BaseGeometry, whole: BaseGeometry, tolerance: float) -> tuple[float, float, float]:
    """Radius and centre of the largest circle in any component of ``rest``, tightened to ``whole``."""
    best = (0.0, 0.0, 0.0)
    for component in shapely.get_parts(rest):
        if component.area <= 3.0 * best[0] ** 2:
            continue
        spoke = shapely.maximum_inscribed_circle(component, tolerance)
        if spoke.length > best[0]:
            x, y = spoke.coords[0]
            best = (spoke.length, x, y)
    radius, x, y = best
    return min(radius, whole.boundary.distance(shapely.Point(x, y))), x, y
