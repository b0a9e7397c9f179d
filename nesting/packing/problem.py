"""What is to be packed: shapes, items and regions. Knows nothing of what they are made of.

Lengths are in any one unit, angles in radians, counter-clockwise, y up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Points = NDArray[np.float64]
Interval = tuple[float, float]

ANY_TURN: tuple[Interval, ...] = ((0.0, 2.0 * math.pi),)


@dataclass(frozen=True)
class Part:
    """A part of a shape and the region that it must lie in."""

    outline: Points
    region: int = 0


@dataclass(frozen=True)
class Shape:
    """A simple polygon (n, 2) that may not overlap others, and where its parts must lie.

    ``turns`` are the allowed rotations, as closed intervals; a single angle is (a, a).
    ``parts`` may be empty: then only the limiting box holds it.
    """

    outline: Points
    parts: tuple[Part, ...] = ()
    turns: tuple[Interval, ...] = ANY_TURN


@dataclass(frozen=True)
class Region:
    """Where parts may lie: polygons with holes, each (shell, holes) of point arrays (n, 2)."""

    polygons: tuple[tuple[Points, tuple[Points, ...]], ...]

    def geometry(self) -> shapely.MultiPolygon:
        """The region as one geometry."""
        return shapely.MultiPolygon([(shell, list(holes)) for shell, holes in self.polygons])


@dataclass(frozen=True)
class Item:
    """One thing to place. ``mate`` is the index of another item it must stay near to, or None.

    ``mate_limit`` is the most that the centres of area of both may be apart.
    """

    shape: int
    mate: int | None = None
    mate_limit: float = math.inf


@dataclass(frozen=True)
class Problem:
    """Shapes, items of those shapes, regions, and the bounding box (xmin, ymin, xmax, ymax) of it all."""

    shapes: tuple[Shape, ...]
    items: tuple[Item, ...]
    regions: tuple[Region, ...]
    box: tuple[float, float, float, float]


@dataclass(frozen=True)
class Placed:
    """An item's pose in the frame of its shape's outline: rotate about the origin, then shift."""

    item: int
    angle: float
    x: float
    y: float
