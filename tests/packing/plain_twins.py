"""Slow plain twins of the packer's geometric kernels: numpy, fractions and shapely only."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.packing.problem import Region

Points = NDArray[np.float64]
Point = tuple[float, float]


def moved(outline: Points, angle: float, x: float, y: float) -> Points:
    """Points (n, 2) turned about the origin by ``angle`` radians, then shifted."""
    turn = complex(math.cos(angle), math.sin(angle))
    at = (outline[:, 0] + 1j * outline[:, 1]) * turn + complex(x, y)
    return np.column_stack((at.real, at.imag))


def geometry(region: Region) -> shapely.Geometry:
    """A region as one shapely geometry."""
    return shapely.union_all([shapely.Polygon(shell, holes) for shell, holes in region.polygons])


def deeper(a: shapely.Polygon, b: shapely.Polygon, deep: float) -> bool:
    """Whether both outlines still meet after each has drawn back by half of ``deep``."""
    if not a.intersects(b):
        return False
    p, q = (shapely.buffer(part, -0.5 * deep, join_style="mitre") for part in (a, b))
    return bool(shapely.intersection(p, q).area > 0.0)


def first_without(holds: Callable[[float], bool], low: float, high: float) -> float:
    """By bisection a value in [low, high] from which on ``holds`` is false; it is true at ``low``."""
    for _ in range(45):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if holds(middle) else (low, middle)
    return high


def sticks_out(polygon: shapely.Polygon, leather: shapely.Geometry) -> float:
    """Width of the widest part of the polygon outside ``leather``; 0 = inside."""
    rest = shapely.get_parts(shapely.difference(polygon, leather))
    return max(
        (2.0 * shapely.maximum_inscribed_circle(part).length for part in rest if part.area > 1e-12),
        default=0.0,
    )


def turns_left(a: Point, b: Point, c: Point) -> int:
    """On which side of the line ab c lies, in exact fractions: 1 left, 0 on it, -1 right."""
    (ax, ay), (bx, by), (cx, cy) = ((Fraction(p[0]), Fraction(p[1])) for p in (a, b, c))
    cross = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    return (cross > 0) - (cross < 0)


def cross_properly(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether segments ab and cd cross at a point inside both, in exact fractions."""
    return turns_left(a, b, c) * turns_left(a, b, d) < 0 and turns_left(c, d, a) * turns_left(c, d, b) < 0


def distances(edges: Points, points: Points) -> NDArray[np.float64]:
    """Distance of each point (n, 2) to the nearest of ``edges`` (e, 4), by shapely."""
    lines = shapely.MultiLineString([((ax, ay), (bx, by)) for ax, ay, bx, by in edges])
    return np.asarray(shapely.distance(lines, shapely.points(points)))


def bilinear(grid: Points, x0: float, y0: float, step: float, x: float, y: float) -> float:
    """The grid's value at (x, y), linear along rows, then along columns; beyond it, less the way back."""
    rows, columns = grid.shape
    u, v = (x - x0) / step, (y - y0) / step
    cu, cv = min(max(u, 0.0), columns - 1.0), min(max(v, 0.0), rows - 1.0)
    across = [np.interp(cu, np.arange(columns), row) for row in grid]
    value = float(np.interp(cv, np.arange(rows), across))
    return value - step * (abs(u - cu) + abs(v - cv))
