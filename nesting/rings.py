"""Rings: closed outlines of straight segments and circular arcs.

A ring is a tuple of vertices ``(x, y, bulge)`` in millimetres, not closed (the last vertex joins
the first), in either turn, y up. ``bulge`` is tan(arc angle / 4) of the segment that starts at the
vertex, positive to the left: the open DXF convention. Arcs stay exact here; ``flatten`` is for
consumers that only know straight segments.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vertex = tuple[float, float, float]
Ring = tuple[Vertex, ...]
Point = tuple[float, float]
Points = NDArray[np.float64]
STRAIGHT = 1e-12
"""A bulge no larger is straight to any measure; its radius would run out of numbers."""


@dataclass(frozen=True)
class Pose:
    """Where a panel lies: mirror first (x -> -x), then rotate about the origin, then shift."""

    mirrored: bool
    rotation_deg: float
    at: Point

    def matrix(self) -> tuple[float, float, float, float]:
        """Linear part ``(a, b, c, d)``: x' = a x + b y, y' = c x + d y."""
        cos, sin = cos_sin_deg(self.rotation_deg)
        sign = -1.0 if self.mirrored else 1.0
        return sign * cos, -sin, sign * sin, cos

    def apply(self, points: Points) -> Points:
        """Points of shape (n, 2) in the panel's frame to points (n, 2) on the hide."""
        a, b, c, d = self.matrix()
        x, y = points[:, 0], points[:, 1]
        return np.column_stack((a * x + b * y + self.at[0], c * x + d * y + self.at[1]))

    def apply_point(self, point: Point) -> Point:
        """One point in the panel's frame to the hide."""
        a, b, c, d = self.matrix()
        x, y = point
        return a * x + b * y + self.at[0], c * x + d * y + self.at[1]

    def apply_ring(self, ring: Ring) -> Ring:
        """A ring to the hide; mirroring turns every arc the other way."""
        sign = -1.0 if self.mirrored else 1.0
        return tuple((*self.apply_point((x, y)), sign * bulge) for x, y, bulge in ring)


def cos_sin_deg(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at multiples of 90."""
    quarter, rest = divmod(angle_deg, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)


def ring_from_points(points: Points) -> Ring:
    """A straight-sided ring from points of shape (n, 2)."""
    return tuple((float(x), float(y), 0.0) for x, y in points)


def signed_area(ring: Ring) -> float:
    """Exact area in mm², arcs included; positive when the ring turns counter-clockwise."""
    total = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(ring, ring[1:] + ring[:1], strict=True):
        total += 0.5 * (x0 * y1 - x1 * y0)
        if abs(bulge) > STRAIGHT:
            # The segment of the circle between chord and arc: r²(θ - sin θ)/2, signed like the
            # bulge. A positive bulge bends to the right of the chord, that is outward on a
            # counter-clockwise ring, and so adds area.
            theta = 4.0 * math.atan(bulge)
            chord = math.hypot(x1 - x0, y1 - y0)
            radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
            total += 0.5 * radius * radius * (theta - math.sin(theta))
    return total


def area(ring: Ring) -> float:
    """Exact area in mm², arcs included, whichever way the ring turns."""
    return abs(signed_area(ring))


def reverse(ring: Ring) -> Ring:
    """The same outline turned the other way."""
    count = len(ring)
    return tuple((ring[i][0], ring[i][1], -ring[(i - 1) % count][2]) for i in reversed(range(count)))


def counter_clockwise(ring: Ring) -> Ring:
    """The ring itself, or its reverse when it turns clockwise."""
    return ring if signed_area(ring) >= 0 else reverse(ring)


def arc_of(start: Point, end: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Centre, radius, start angle and signed sweep (radians) of an arc segment; bulge ≠ 0."""
    (x0, y0), (x1, y1) = start, end
    sweep = 4.0 * math.atan(bulge)
    # The centre lies on the chord's perpendicular bisector, at (1 - b²)/(4b) chords to the left.
    k = (1.0 - bulge * bulge) / (4.0 * bulge)
    cx = 0.5 * (x0 + x1) - k * (y1 - y0)
    cy = 0.5 * (y0 + y1) + k * (x1 - x0)
    return (cx, cy), math.hypot(x0 - cx, y0 - cy), math.atan2(y0 - cy, x0 - cx), sweep


def flatten(ring: Ring, sagitta: float = 0.01) -> Points:
    """Points of shape (n, 2) on the ring; chords stay within ``sagitta`` mm of their arcs."""
    points: list[Point] = []
    for (x0, y0, bulge), (x1, y1, _) in zip(ring, ring[1:] + ring[:1], strict=True):
        points.append((x0, y0))
        if abs(bulge) <= STRAIGHT:
            continue
        (cx, cy), radius, start, sweep = arc_of((x0, y0), (x1, y1), bulge)
        step = 2.0 * math.acos(max(0.0, 1.0 - sagitta / radius)) if radius > sagitta else math.pi / 2
        count = max(1, math.ceil(abs(sweep) / max(step, 1e-3)))
        for i in range(1, count):
            angle = start + sweep * i / count
            points.append((cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
    return np.array(points, dtype=np.float64).reshape(-1, 2)


def centroid(points: Points) -> Point:
    """Centre of area of a simple polygon, points of shape (n, 2)."""
    origin = points[0]
    p = points - origin
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - q[:, 0] * p[:, 1]
    total = float(cross.sum())
    if total == 0.0:
        mean = points.mean(axis=0)
        return float(mean[0]), float(mean[1])
    centre = ((p + q) * cross[:, None]).sum(axis=0) / (3.0 * total)
    return float(centre[0] + origin[0]), float(centre[1] + origin[1])
