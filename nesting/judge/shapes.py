"""The judge's own geometry: rings with arcs to shapely polygons, and panels to where they lie.

Written apart from ``nesting.rings``' flattening and poses on purpose, and by other methods (complex
numbers; a Möbius map for arcs), so that a bug in either shows as a layout that is not valid.
"""

from __future__ import annotations

import cmath
import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from nesting.rings import Pose, Ring

SAGITTA_MM = 0.002
"""Chords stay this close to their arcs: a tenth of the judge's tolerance."""

Complexes = NDArray[np.complex128]
Floats = NDArray[np.float64]


FARTHEST_MM = 1e7
"""Beyond this no number is a place on a cutting table, and doubles lose the tolerance."""


def sane(*numbers: float) -> bool:
    """Whether all are numbers (neither NaN nor infinite) of a workshop's size."""
    return all(math.isfinite(number) and abs(number) <= FARTHEST_MM for number in numbers)


def encloses(outline: Ring, cutouts: tuple[Ring, ...] = ()) -> bool:
    """Whether the rings are sane numbers and bound one area without crossing or touching themselves."""
    rings = (outline, *cutouts)
    if not all(sane(*vertex) for ring in rings for vertex in ring) or not all(rings):
        return False
    if any(len(corner_points(ring)) < 3 for ring in rings):
        return False
    shape = polygon(outline, cutouts)
    return bool(shape.is_valid and shape.area > 0.0)


def corner_points(ring: Ring, sagitta: float = SAGITTA_MM) -> Floats:
    """The ring as straight corners, shape (n, 2): chords within ``sagitta`` mm of their arcs."""
    parts = [
        _arc(complex(x0, y0), complex(x1, y1), bulge, sagitta)
        for (x0, y0, bulge), (x1, y1, _) in zip(ring, ring[1:] + ring[:1], strict=True)
    ]
    return _as_points(np.concatenate(parts))


def _arc(start: complex, end: complex, bulge: float, sagitta: float) -> Complexes:
    """Points on one segment, its start included and its end left out.

    From every point of an arc its two ends are seen under the same angle, so
    (z - start) / (end - z) has one argument, minus half the arc's angle, and as modulus the ratio of
    the two chords: that gives z without a centre or a radius, however flat the arc.
    """
    if bulge == 0.0 or start == end:
        return np.array([start])
    angle = 4.0 * math.atan(bulge)
    radius = abs(end - start) * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    step = 4.0 * math.asin(min(1.0, math.sqrt(sagitta / (2.0 * radius))))
    count = max(1, math.ceil(abs(angle) / step))
    swept = angle * np.arange(count) / count
    ratio = np.sin(swept / 2.0) / np.sin((angle - swept) / 2.0) * cmath.exp(-0.5j * angle)
    points: Complexes = (start + ratio * end) / (1.0 + ratio)
    return points


def polygon(outline: Ring, cutouts: tuple[Ring, ...] = ()) -> Polygon:
    """The leather inside ``outline`` and outside ``cutouts``."""
    return Polygon(corner_points(outline), [corner_points(ring) for ring in cutouts])


def laid(shape: shapely.Geometry, pose: Pose) -> shapely.Geometry:
    """A shape of the panel's frame where the piece lies: mirrored, then turned, then shifted."""
    turn = cmath.exp(1j * math.radians(math.fmod(pose.rotation_deg, 360.0)))
    shift = complex(*pose.at)

    def move(points: Floats) -> Floats:
        x = -points[:, 0] if pose.mirrored else points[:, 0]
        return _as_points((x + 1j * points[:, 1]) * turn + shift)

    moved: shapely.Geometry = shapely.transform(shape, move)
    return moved


def _as_points(values: Complexes) -> Floats:
    return np.column_stack((values.real, values.imag))
