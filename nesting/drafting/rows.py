"""Rows of holes along the sides and of marks along the edges, spread evenly."""

from __future__ import annotations

import math

from nesting.drafting.edges import Edge, edges_of, set_in
from nesting.drafting.fit import hole_mm
from nesting.drafting.shapes import Blank
from nesting.errors import InputError
from nesting.files.measures import BuckleHoles, Holes, Marks
from nesting.files.panel import Punch
from nesting.rings import Point, Ring, arc_of
from nesting.units import format_both


def side_rows(plan: Blank, holes: Holes) -> tuple[tuple[Punch, ...], tuple[Punch, ...]]:
    """The rows on the left and on the right, from the lowest hole up.

    Each hole lies square ``inset_mm`` off its side; both rows have the same heights, evenly spread
    between ``ends_mm`` above the lower and below the upper edge. Raises InputError without room.
    """
    inward = [holes.inset_mm if i in plan.sides else 0.0 for i in range(len(plan.ring))]
    inner = set_in(plan.ring, inward)
    if inner is None:
        raise InputError(
            f"holes {format_both(holes.inset_mm)} in from both sides find no room on the panel; "
            "set them in by less"
        )
    size = hole_mm(holes.size)
    left, right = [], []
    for y in _levels(holes, plan.height):
        xs = crossings(inner, y)
        left.append(Punch((min(xs), y), size))
        right.append(Punch((max(xs), y), size))
    return tuple(left), tuple(right)


def _levels(holes: Holes, height: float) -> list[float]:
    if holes.count == 1:
        return [height / 2.0]
    low, high = holes.ends_mm, height - holes.ends_mm
    if high <= low:
        raise InputError(
            f"rows of holes that keep {format_both(holes.ends_mm)} from the lower and the upper edge "
            f"find no room on a height of {format_both(height)}; let them begin nearer the edges"
        )
    return [low + (high - low) * i / (holes.count - 1) for i in range(holes.count)]


def round_row(diameter: float, holes: Holes) -> tuple[Punch, ...]:
    """On a disc: the first hole at the top of the centre line, the rest evenly around. Raises InputError."""
    radius = diameter / 2.0 - holes.inset_mm
    if radius < 0.0:
        raise InputError(
            f"holes {format_both(holes.inset_mm)} in from the edge lie beyond the middle of a disc of "
            f"{format_both(diameter)}; set them in by less"
        )
    angles = [math.pi / 2.0 + 2.0 * math.pi * i / holes.count for i in range(holes.count)]
    middle = diameter / 2.0
    return tuple(
        Punch((radius * math.cos(angle), middle + radius * math.sin(angle)), hole_mm(holes.size))
        for angle in angles
    )


def buckle_row(length: float, holes: BuckleHoles) -> tuple[Punch, ...]:
    """On a strap's centre line, from the hole nearest the tip down."""
    size = hole_mm(holes.size)
    return tuple(
        Punch((0.0, length - holes.start_mm - holes.spacing_mm * i), size) for i in range(holes.count)
    )


def mark_row(plan: Blank, marks: Marks, top: bool) -> tuple[Point, ...]:
    """Marks along an edge from left to right, evenly spread from the centre line outward."""
    y = plan.height - marks.inset_mm if top else marks.inset_mm
    spread = marks.spread_mm
    if spread is None:
        spread = edge_width(plan, top) / marks.count
    return tuple((spread * (i - (marks.count - 1) / 2.0), y) for i in range(marks.count))


def edge_width(plan: Blank, top: bool) -> float:
    """Width of the lower or the upper edge with its corners sharp, mm."""
    level = plan.height if top else 0.0
    xs = [x for x, y, _ in plan.ring if y == level]
    return max(xs) - min(xs)


def crossings(ring: Ring, y: float) -> list[float]:
    """The x at which a ring crosses or touches a level, in no order."""
    return [x for edge in edges_of(ring) for x in _on_edge(edge, y)]


def _on_edge(edge: Edge, y: float) -> list[float]:
    (x0, y0), (x1, y1) = edge.start, edge.end
    if edge.bulge == 0.0:
        if y0 == y1:
            return [x0, x1] if y == y0 else []
        return [x0 + (x1 - x0) * (y - y0) / (y1 - y0)] if min(y0, y1) <= y <= max(y0, y1) else []
    (cx, cy), radius, start, sweep = arc_of(edge.start, edge.end, edge.bulge)
    if abs(y - cy) > radius:
        return []
    half = math.sqrt(radius**2 - (y - cy) ** 2)
    found = []
    for x in (cx - half, cx + half):
        turned = math.copysign(1.0, sweep) * (math.atan2(y - cy, x - cx) - start) % (2.0 * math.pi)
        # A hair is allowed, so that a level through a corner is not lost to rounding.
        if turned <= abs(sweep) + 1e-9 or turned >= 2.0 * math.pi - 1e-9:
            found.append(x)
    return found
