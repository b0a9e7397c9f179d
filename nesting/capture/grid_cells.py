"""The cells of a mat's grid: which lie open, which are covered, and where they are on a plan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.lattice import Lattice
from nesting.capture.plan import Plan

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]


def cells(lattice: Lattice) -> tuple[Flags, Flags]:
    """Cells (a, b) with all four sides seen, and cells of the largest patch that shows none."""
    r, u, t = lattice.right, lattice.up, lattice.tried
    number = r[:-1, :-1].astype(int) + r[:-1, 1:] + u[:-1, :-1] + u[1:, :-1]
    inside = t[:-1, :-1] & t[1:, :-1] & t[:-1, 1:] & t[1:, 1:]
    centres = np.argwhere(np.ones(number.shape, bool)) + np.array(lattice.low) + 0.5
    hull = cv.hull(lattice.labels)
    within = _in_hull(hull, centres).reshape(number.shape)
    covered = cv.largest((number == 0) & inside & within)
    return (number == 4) & inside, covered > 0


def _in_hull(hull: Points, points: Points) -> Flags:
    edge = np.roll(hull, -1, axis=0) - hull
    inward = np.sign(np.sum(hull[:, 0] * np.roll(hull[:, 1], -1) - np.roll(hull[:, 0], -1) * hull[:, 1]))
    inside = np.ones(len(points), bool)
    for a, e in zip(hull, edge, strict=True):
        inside &= inward * (e[0] * (points[:, 1] - a[1]) - e[1] * (points[:, 0] - a[0])) >= 0
    return inside


def painted(plan: Plan, lattice: Lattice, pitch: float, chosen: Flags) -> NDArray[np.uint8]:
    """The chosen cells as a mask on the plan."""
    index = np.argwhere(chosen) + np.array(lattice.low)
    corner = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    squares = [plan.to_pixels((cell + corner) * pitch) for cell in index.astype(float)]
    return cv.fill_polygons(plan.shape, squares)


def hull_mask(plan: Plan, lattice: Lattice, pitch: float) -> NDArray[np.uint8]:
    """The hull (0/1) of the intersections that were read."""
    return cv.fill_polygons(plan.shape, [plan.to_pixels(cv.hull(lattice.labels) * pitch)])
