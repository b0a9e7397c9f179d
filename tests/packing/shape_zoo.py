"""Awkward simple polygons, most about one unit wide, for the tests of the packer."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


def regular(sides: int, radius: float = 0.5) -> Points:
    """A regular polygon around the origin."""
    angle = 2.0 * math.pi * np.arange(sides) / sides
    return radius * np.column_stack((np.cos(angle), np.sin(angle)))


def star(points: int, outer: float = 0.5, inner: float = 0.18) -> Points:
    """A star around the origin."""
    angle = math.pi * np.arange(2 * points) / points
    radius = np.where(np.arange(2 * points) % 2 == 0, outer, inner)
    return radius[:, None] * np.column_stack((np.cos(angle), np.sin(angle)))


def _shape(*points: tuple[float, float]) -> Points:
    return np.array(points, dtype=np.float64)


ZOO: dict[str, Points] = {
    "square": _shape((0, 0), (1, 0), (1, 1), (0, 1)),
    "clockwise square": _shape((0, 0), (0, 1), (1, 1), (1, 0)),
    "triangle": _shape((0, 0), (1, 0), (0.25, 0.75)),
    "sliver": _shape((0, 0), (1.5, 0), (1.5, 0.03), (0, 0.05)),
    "trapezoid": _shape((0, 0), (1, 0), (0.875, 0.5), (0.125, 0.5)),
    "L": _shape((0, 0), (1, 0), (1, 0.25), (0.25, 0.25), (0.25, 1), (0, 1)),
    "U": _shape((0, 0), (1, 0), (1, 1), (0.75, 1), (0.75, 0.25), (0.25, 0.25), (0.25, 1), (0, 1)),
    "C": _shape(
        (0, 0), (1, 0), (1, 0.45), (0.9, 0.45), (0.9, 0.1), (0.1, 0.1), (0.1, 0.9), (0.9, 0.9),
        (0.9, 0.55), (1, 0.55), (1, 1), (0, 1),
    ),
    "comb": _shape(
        (0, 0), (1, 0), (1, 0.75), (0.875, 0.75), (0.875, 0.125), (0.625, 0.125), (0.625, 0.75),
        (0.5, 0.75), (0.5, 0.125), (0.25, 0.125), (0.25, 0.75), (0, 0.75),
    ),
    "cross": _shape(
        (0.25, 0), (0.5, 0), (0.5, 0.25), (0.75, 0.25), (0.75, 0.5), (0.5, 0.5), (0.5, 0.75),
        (0.25, 0.75), (0.25, 0.5), (0, 0.5), (0, 0.25), (0.25, 0.25),
    ),
    "arrow": _shape((0, 0), (0.5, 0.25), (1, 0), (0.5, 1)),
    "pentagon": regular(5),
    "round": regular(24),
    "star": star(5),
    "corner on a side": _shape((0, 0), (0.5, 0), (1, 0), (1, 0.5), (1, 1), (0, 1)),
}  # fmt: skip
