"""Where each pattern lies, as a hand measures it: along a straight line and square off it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from nesting.files.hide import Hide
from nesting.output.notes import outward
from nesting.rings import Point, flatten


@dataclass(frozen=True)
class Baseline:
    """A line on the hide to measure from: ``zero``, unit direction ``along``, ``end``.

    ``off`` is the unit direction into the leather, square to ``along``. ``trued`` says whether it is a
    straight edge of the hide; else it is a rule laid against the hide so that it touches at both ends.
    """

    zero: Point
    end: Point
    along: Point
    off: Point
    trued: bool

    def measure(self, point: Point) -> Point:
        """Distance along and off the line, mm."""
        x, y = point[0] - self.zero[0], point[1] - self.zero[1]
        return x * self.along[0] + y * self.along[1], x * self.off[0] + y * self.off[1]


def baseline(hide: Hide) -> Baseline:
    """The longest straight edge; without one the longest side of the hide's hull."""
    edges = [edge for edge in hide.straight_edges if math.dist(*edge) > 0]
    if edges:
        edge = max(edges, key=lambda edge: round(math.dist(*edge), 6))
        nx, ny = outward(edge, hide.outline)
        return _facing(edge, (-nx, -ny), trued=True)
    hull = np.array(shapely.MultiPoint(flatten(hide.outline, 0.05)).convex_hull.exterior.coords)
    sides = list(pairwise(hull))
    start, end = max(sides, key=lambda side: round(float(np.hypot(*(side[1] - side[0]))), 3))
    middle = hull.mean(axis=0)
    (x0, y0), (x1, y1) = start, end
    inward = (-(y1 - y0), x1 - x0)
    if (middle[0] - x0) * inward[0] + (middle[1] - y0) * inward[1] < 0:
        inward = (-inward[0], -inward[1])
    return _facing(((x0, y0), (x1, y1)), inward, trued=False)


def _facing(edge: tuple[Point, Point], inward: Point, trued: bool) -> Baseline:
    """The line running so that the leather lies to its left; a person stands on the other side of it."""
    (x0, y0), (x1, y1) = edge
    if (x1 - x0) * inward[1] - (y1 - y0) * inward[0] < 0:
        (x0, y0), (x1, y1) = (x1, y1), (x0, y0)
    length = math.dist((x0, y0), (x1, y1))
    along = (float(x1 - x0) / length, float(y1 - y0) / length)
    zero, end = (float(x0), float(y0)), (float(x1), float(y1))
    return Baseline(zero, end, along, (-along[1], along[0]), trued)
