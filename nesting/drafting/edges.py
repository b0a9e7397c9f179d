"""What a drafter does with an outline of straight and round edges: set it in, and round its corners.

Rings are :mod:`nesting.rings` rings, counter-clockwise, so that inside is to the left of every edge.
Neighbouring edges meet in a corner that turns left, or run on smoothly. Arcs stay arcs throughout.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.rings import Point, Ring, arc_of

_SMOOTH = 1e-9
"""Radians: edges that turn by no more run on smoothly."""
_NO_LENGTH_MM = 1e-9


@dataclass(frozen=True)
class Edge:
    """One segment of a ring."""

    start: Point
    end: Point
    bulge: float

    def heading(self, at_end: bool) -> float:
        """Direction of travel at the start or the end, radians."""
        chord = math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])
        half = 2.0 * math.atan(self.bulge)
        return chord + half if at_end else chord - half


@dataclass(frozen=True)
class Straight:
    """The endless line through ``point``, with unit direction ``along``."""

    point: Point
    along: Point


@dataclass(frozen=True)
class Round:
    """The whole circle."""

    centre: Point
    radius: float


Carrier = Straight | Round


def edges_of(ring: Ring) -> list[Edge]:
    """The segments of a ring, the last back to the first vertex."""
    ends = ring[1:] + ring[:1]
    return [Edge((x0, y0), (x1, y1), b) for (x0, y0, b), (x1, y1, _) in zip(ring, ends, strict=True)]


def set_in(ring: Ring, inward: Sequence[float]) -> Ring | None:
    """The ring with its edges set in by ``inward`` mm, one figure an edge; None without room."""
    edges = edges_of(ring)
    carriers = [carrier(edge, distance) for edge, distance in zip(edges, inward, strict=True)]
    corners: list[Point] = []
    for i, edge in enumerate(edges):
        before, here = carriers[i - 1], carriers[i]
        if before is None or here is None:
            return None
        if abs(turn(edges[i - 1], edge)) <= _SMOOTH:
            heading = edge.heading(at_end=False)
            x, y = edge.start
            corner: Point | None = (x - inward[i] * math.sin(heading), y + inward[i] * math.cos(heading))
        else:
            corner = meet(before, here, edge.start)
        if corner is None:
            return None
        corners.append(corner)
    moved = []
    for i, edge in enumerate(edges):
        one = _between(edge, carriers[i], corners[i], corners[(i + 1) % len(edges)])
        if one is None or math.dist(one.start, one.end) <= _NO_LENGTH_MM:
            return None
        moved.append(one)
    return tuple((*edge.start, edge.bulge) for edge in moved)


def round_off(ring: Ring, radii: Sequence[float]) -> Ring | None:
    """The ring with its corners rounded to ``radii`` mm (one a vertex, 0 leaves it); None without room."""
    if not any(radii):
        return ring
    edges = edges_of(ring)
    arcs = [_rounding(edges[i - 1], edges[i], radii[i]) for i in range(len(edges))]
    vertices: list[tuple[float, float, float]] = []
    for i, edge in enumerate(edges):
        arc, after = arcs[i], arcs[(i + 1) % len(edges)]
        if arc is None or after is None:
            return None
        trimmed = _between(edge, carrier(edge, 0.0), arc.end, after.start)
        if trimmed is None:
            return None
        if arc.bulge:
            vertices.append((*arc.start, arc.bulge))
        if math.dist(trimmed.start, trimmed.end) > _NO_LENGTH_MM:
            vertices.append((*trimmed.start, trimmed.bulge))
    return tuple(vertices)


def turn(before: Edge, after: Edge) -> float:
    """How far the heading turns left from one edge to the next, radians in (-π, π]."""
    return math.remainder(after.heading(at_end=False) - before.heading(at_end=True), 2.0 * math.pi)


def carrier(edge: Edge, inward: float) -> Carrier | None:
    """The line or circle of an edge set in by ``inward`` mm; None where a circle would shrink to nothing."""
    if edge.bulge == 0.0:
        heading = edge.heading(at_end=False)
        cos, sin = math.cos(heading), math.sin(heading)
        return Straight((edge.start[0] - inward * sin, edge.start[1] + inward * cos), (cos, sin))
    centre, radius, _, _ = arc_of(edge.start, edge.end, edge.bulge)
    radius -= math.copysign(1.0, edge.bulge) * inward
    return Round(centre, radius) if radius > 0.0 else None


def meet(one: Carrier, other: Carrier, near: Point) -> Point | None:
    """Of the points that two carriers share the one nearest ``near``, or None."""
    if isinstance(one, Straight):
        found = _line_meets(one, other)
    elif isinstance(other, Straight):
        found = _line_meets(other, one)
    else:
        found = _circles_meet(one, other)
    return min(found, key=lambda point: math.dist(point, near), default=None)


def _line_meets(line: Straight, other: Carrier) -> list[Point]:
    (px, py), (ux, uy) = line.point, line.along
    if isinstance(other, Straight):
        (qx, qy), (vx, vy) = other.point, other.along
        cross = ux * vy - uy * vx
        if cross == 0.0:
            return []
        stops = [((qx - px) * vy - (qy - py) * vx) / cross]
    else:
        middle = (other.centre[0] - px) * ux + (other.centre[1] - py) * uy
        off = math.dist(other.centre, (px + middle * ux, py + middle * uy))
        if off > other.radius:
            return []
        half = math.sqrt(other.radius**2 - off**2)
        stops = [middle - half, middle + half]
    return [(px + stop * ux, py + stop * uy) for stop in stops]


def _circles_meet(one: Round, other: Round) -> list[Point]:
    (x0, y0), (x1, y1) = one.centre, other.centre
    apart = math.dist(one.centre, other.centre)
    if apart == 0.0 or not abs(one.radius - other.radius) <= apart <= one.radius + other.radius:
        return []
    along = (apart**2 + one.radius**2 - other.radius**2) / (2.0 * apart)
    off = math.sqrt(max(0.0, one.radius**2 - along**2))
    ux, uy = (x1 - x0) / apart, (y1 - y0) / apart
    return [(x0 + along * ux - sign * off * uy, y0 + along * uy + sign * off * ux) for sign in (1.0, -1.0)]


def _rounding(before: Edge, after: Edge, radius: float) -> Edge | None:
    """The arc that replaces a corner; an edge of no length where the corner is left as it is."""
    if radius <= 0.0 or abs(turn(before, after)) <= _SMOOTH:
        return Edge(after.start, after.start, 0.0)
    lines = carrier(before, radius), carrier(after, radius)
    if lines[0] is None or lines[1] is None:
        return None
    centre = meet(lines[0], lines[1], after.start)
    if centre is None:
        return None
    start, end = _foot(carrier(before, 0.0), centre), _foot(carrier(after, 0.0), centre)
    angles = [math.atan2(y - centre[1], x - centre[0]) for x, y in (start, end)]
    return Edge(start, end, math.tan((angles[1] - angles[0]) % (2.0 * math.pi) / 4.0))


def _foot(line: Carrier | None, point: Point) -> Point:
    """The nearest point of a carrier."""
    assert line is not None  # an edge itself always has one
    if isinstance(line, Round):
        scale = line.radius / math.dist(line.centre, point)
        x, y = line.centre
        return x + scale * (point[0] - x), y + scale * (point[1] - y)
    (px, py), (ux, uy) = line.point, line.along
    stop = (point[0] - px) * ux + (point[1] - py) * uy
    return px + stop * ux, py + stop * uy


def _between(edge: Edge, line: Carrier | None, start: Point, end: Point) -> Edge | None:
    """The part of a carrier from ``start`` to ``end``, run as ``edge`` runs; None where it would run back."""
    if isinstance(line, Straight):
        along = (end[0] - start[0]) * line.along[0] + (end[1] - start[1]) * line.along[1]
        return Edge(start, end, 0.0) if along >= -_NO_LENGTH_MM else None
    assert line is not None  # told apart before
    angles = [math.atan2(y - line.centre[1], x - line.centre[0]) for x, y in (start, end)]
    sign = math.copysign(1.0, edge.bulge)
    sweep = sign * (angles[1] - angles[0]) % (2.0 * math.pi)
    before = 4.0 * math.atan(abs(edge.bulge))
    # An arc that ran back would seem to run nearly all the way round.
    if sweep > before / 2.0 + math.pi:
        back = (2.0 * math.pi - sweep) * line.radius
        return Edge(start, end, 0.0) if back <= _NO_LENGTH_MM else None
    return Edge(start, end, sign * math.tan(sweep / 4.0))
