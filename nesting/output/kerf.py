"""Cut paths beside the drawn line by half the kerf, so that the piece comes out true size.

Arcs stay arcs: a line moves beside itself, an arc takes another radius about its centre, and where two
sides part at a corner the path goes round the corner on an arc of half the kerf, which leaves it sharp.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from nesting.errors import InputError
from nesting.output.shared import Segment, heading, segments_of
from nesting.output.strokes import AnyStroke, Circle, Loop
from nesting.rings import Point, Ring, Vertex, arc_of, counter_clockwise, flatten, ring_from_points

NEAR_MM = 1e-3
"""Ends closer than this meet: a join that short is no cut."""
BEND_MM = 1e-6
FINE_MM = 1e-4
"""Sagitta of the chords that stand for arcs where the path is checked: at sharp corners it counts tenfold."""
AGREE_MM = 0.01
"""How closely the path must agree with an offset of the flattened outline by shapely."""


def beside(ring: Ring, distance: float, what: str) -> Ring:
    """The path ``distance`` mm outside a closed ring, inside where it is negative; counter-clockwise.

    Where a side is too short to keep its kind, the path is the flattened offset instead. Raises InputError
    when nothing in one piece is left; ``what`` names the ring.
    """
    ring = _cleaned(counter_clockwise(ring))
    flat = shapely.Polygon(flatten(ring, FINE_MM)).buffer(distance, quad_segs=64)
    if not isinstance(flat, shapely.Polygon) or flat.is_empty:
        raise InputError(f"{what} is too narrow for a kerf of {2 * abs(distance):g} mm; give it more room")
    try:
        exact = _path(ring, distance)
    except (ValueError, ZeroDivisionError):
        exact = ()
    if len(exact) > 1 and _agrees(exact, flat):
        return exact
    return counter_clockwise(ring_from_points(np.array(flat.simplify(0.002).exterior.coords[:-1])))


def _cleaned(ring: Ring) -> Ring:
    """Without sides of no length, and with sides that bend less than any tool can follow made straight."""
    kept = [
        (*start, bulge if abs(bulge) * math.dist(start, end) > BEND_MM else 0.0)
        for start, end, bulge in segments_of(ring)
        if start != end
    ]
    return tuple(kept)


def compensated(stroke: AnyStroke, kerf_mm: float) -> AnyStroke:
    """A cut moved into the waste by half the kerf: outlines outward, cut-outs and punches inward.

    Strokes that no tool cuts through stay as they are. Raises InputError where a hole is no wider than
    the kerf.
    """
    if isinstance(stroke, Circle) and stroke.layer == "punch":
        if stroke.diameter <= kerf_mm:
            raise InputError(
                f'a punch of "{stroke.piece}" is {stroke.diameter:g} mm wide, no wider than the kerf of '
                f"{kerf_mm:g} mm; punch it by hand as a mark, or leave the kerf to the machine"
            )
        return replace(stroke, diameter=stroke.diameter - kerf_mm)
    if isinstance(stroke, Loop) and stroke.layer == "cut":
        half = kerf_mm / 2 if stroke.role == "outline" else -kerf_mm / 2
        return replace(stroke, ring=beside(stroke.ring, half, f'the {stroke.role} of "{stroke.piece}"'))
    return stroke


def _agrees(path: Ring, flat: shapely.Polygon) -> bool:
    body = shapely.Polygon(flatten(path, FINE_MM))
    return bool(body.is_valid and shapely.hausdorff_distance(body, flat) <= AGREE_MM)


def _path(ring: Ring, distance: float) -> Ring:
    sides = [_side(segment, distance) for segment in segments_of(ring)]
    starts: list[Point] = []
    joins: list[tuple[Point, float] | None] = []
    for i, side in enumerate(sides):
        before = sides[i - 1]
        turn = _turn(ring, i)
        if math.dist(before[1], side[0]) < NEAR_MM:
            starts.append(side[0])
            joins.append(None)
        elif turn * distance > 0:
            starts.append(side[0])
            joins.append((before[1], math.tan(turn / 4)))
        else:
            starts.append(_meeting(before, side))
            joins.append(None)
    path: list[Vertex] = []
    for i, side in enumerate(sides):
        after = (i + 1) % len(sides)
        join = joins[after]
        end = starts[after] if join is None else join[0]
        path.append((*starts[i], _bulge(side, starts[i], end)))
        if join is not None:
            path.append((*join[0], join[1]))
    return tuple(path)


def _side(segment: Segment, distance: float) -> Segment:
    """A segment moved to its right, which is outward on a counter-clockwise ring."""
    (x0, y0), (x1, y1), bulge = segment
    if not bulge:
        length = math.dist((x0, y0), (x1, y1))
        ox, oy = distance * (y1 - y0) / length, -distance * (x1 - x0) / length
        return (x0 + ox, y0 + oy), (x1 + ox, y1 + oy), 0.0
    (cx, cy), radius, _, _ = arc_of((x0, y0), (x1, y1), bulge)
    grown = (radius + math.copysign(distance, bulge * distance)) / radius
    if grown <= 0:
        raise ValueError("the arc is too tight")
    return (
        (cx + grown * (x0 - cx), cy + grown * (y0 - cy)),
        (cx + grown * (x1 - cx), cy + grown * (y1 - cy)),
        bulge,
    )


def _turn(ring: Ring, i: int) -> float:
    """How far the outline turns left at vertex ``i``, radians in (-π, π]."""
    segments = segments_of(ring)
    arriving = heading(segments[i - 1], at_end=True)
    leaving = heading(segments[i], at_end=False)
    return math.remainder(leaving - arriving, 2 * math.pi)


def _meeting(before: Segment, after: Segment) -> Point:
    """Where two moved sides cross, nearest to where they were parted. Raises ValueError when they do not."""
    near = np.add(before[1], after[0]) / 2
    found = [p for p in _crossings(before, after) if np.all(np.isfinite(p))]
    if not found:
        raise ValueError("the sides do not meet")
    best = min(found, key=lambda p: float(np.hypot(*(np.array(p) - near))))
    return float(best[0]), float(best[1])


def _crossings(one: Segment, other: Segment) -> list[Point]:
    if one[2] and other[2]:
        return _circle_circle(one, other)
    if one[2] or other[2]:
        return _line_circle(other, one) if one[2] else _line_circle(one, other)
    (x0, y0), (x1, y1), _ = one
    (x2, y2), (x3, y3), _ = other
    cross = (x1 - x0) * (y3 - y2) - (y1 - y0) * (x3 - x2)
    share = ((x2 - x0) * (y3 - y2) - (y2 - y0) * (x3 - x2)) / cross
    return [(x0 + share * (x1 - x0), y0 + share * (y1 - y0))]


def _line_circle(line: Segment, arc: Segment) -> list[Point]:
    (cx, cy), radius, _, _ = arc_of(*arc)
    (x0, y0), (x1, y1), _ = line
    length = math.dist((x0, y0), (x1, y1))
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = (cx - x0) * ux + (cy - y0) * uy
    half = math.sqrt(radius**2 - ((cx - x0) * uy - (cy - y0) * ux) ** 2)
    return [(x0 + t * ux, y0 + t * uy) for t in (along - half, along + half)]


def _circle_circle(one: Segment, other: Segment) -> list[Point]:
    (ax, ay), r, _, _ = arc_of(*one)
    (bx, by), s, _, _ = arc_of(*other)
    apart = math.dist((ax, ay), (bx, by))
    ux, uy = (bx - ax) / apart, (by - ay) / apart
    along = (apart**2 + r**2 - s**2) / (2 * apart)
    half = math.sqrt(r**2 - along**2)
    return [(ax + along * ux - k * uy, ay + along * uy + k * ux) for k in (half, -half)]


def _bulge(side: Segment, start: Point, end: Point) -> float:
    """Bulge of a moved arc between its new ends, on its circle."""
    if not side[2]:
        return 0.0
    (cx, cy), _, _, _ = arc_of(*side)
    sweep = math.atan2(end[1] - cy, end[0] - cx) - math.atan2(start[1] - cy, start[0] - cx)
    sign = math.copysign(1.0, side[2])
    return sign * math.tan((sign * sweep) % (2 * math.pi) / 4)
