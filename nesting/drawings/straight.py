"""Straight edges of a hide's outline, and the direction of its spine."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

import numpy as np
import shapely

from nesting.drawings.drawing import place
from nesting.drawings.meaning import Shape
from nesting.errors import InputError
from nesting.files.hide import Segment
from nesting.files.hide_file import STRAIGHT_EDGE_MM
from nesting.files.ring_rules import lies_on
from nesting.rings import Point, Points, Ring

STRAIGHT_MM = 0.5  # a run of segments that strays less than this is one straight edge
LEAST_MM = 50.0
LEAST_SHARE = 0.1  # of the perimeter
SIDES = ("left", "right", "top", "bottom")


def straight_runs(outline: Shape) -> list[Segment]:
    """Long straight parts of the outline, the longest first: at least 5 cm and a tenth of the perimeter."""
    least = max(LEAST_MM, LEAST_SHARE * outline.polygon.length)
    runs = [run for run in _all_runs(outline.stroke.vertices) if math.dist(*run) >= least]
    return sorted(runs, key=lambda run: -math.dist(*run))


def _all_runs(ring: Ring) -> list[Segment]:
    first = _sharpest(ring)
    ring = (*ring[first:], *ring[: first + 1])
    points = np.array([vertex[:2] for vertex in ring])
    runs: list[Segment] = []
    at = 0
    while at < len(ring) - 1:
        end = at + 1
        if ring[at][2] == 0.0:
            while end < len(ring) - 1 and ring[end][2] == 0.0 and _in_line(points[at : end + 2]):
                end += 1
            runs.append((ring[at][:2], ring[end][:2]))
        at = end
    return runs


def _sharpest(ring: Ring) -> int:
    """The vertex where the outline turns most: no straight run goes through it."""
    points = np.array([vertex[:2] for vertex in ring])
    back, ahead = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
    return int(np.argmax(np.abs(np.arctan2(cross, (back * ahead).sum(axis=1)))))


def _in_line(points: Points) -> bool:
    along = points[-1] - points[0]
    length = float(np.hypot(*along))
    if length == 0.0:
        return False
    offset = points - points[0]
    across = (offset[:, 0] * along[1] - offset[:, 1] * along[0]) / length
    return bool(np.abs(across).max() <= STRAIGHT_MM and (np.diff(offset @ along) > 0).all())


def on_the_outline(segment: Segment, outline: Shape, source: str) -> Segment:
    """The segment with both ends moved onto the outline (at most 1 mm).

    Raises InputError where the segment strays from it.
    """
    exterior = outline.polygon.exterior
    snapped: list[Point] = []
    for point in segment:
        near = exterior.interpolate(exterior.project(shapely.Point(point)))
        snapped.append((float(near.x), float(near.y)))
    start, end = snapped
    moved = max(math.dist(a, b) for a, b in zip(segment, snapped, strict=True))
    if moved > STRAIGHT_EDGE_MM or not lies_on(outline.polygon, start, end, within=STRAIGHT_EDGE_MM):
        raise InputError(
            f"{source}: the straight edge from {place(segment[0])} to {place(segment[1])} mm strays from the "
            f"outline by more than {STRAIGHT_EDGE_MM:g} mm; give two points on one straight part of it"
        )
    return start, end


def side_named(text: str) -> str | None:
    """``left`` from ``left edge``, and so on; None when the text names no side."""
    words = text.lower().split()
    return words[0] if words[:1] and words[0] in SIDES and words[1:] in ([], ["edge"], ["side"]) else None


def edge_on_side(side: str, runs: Sequence[Segment], source: str) -> Segment:
    """The straight run nearest to a side of the drawing. Raises InputError when none faces it."""
    axis = 0 if side in ("left", "right") else 1
    facing = [(a, b) for a, b in runs if abs(b[axis] - a[axis]) <= abs(b[1 - axis] - a[1 - axis])]
    if not facing:
        raise InputError(
            f"{source}: the outline has no long straight part on its {side}; "
            f'give two points in mm, like "0,0 0,640"'
        )
    sign = 1.0 if side in ("left", "bottom") else -1.0
    return min(facing, key=lambda run: sign * (run[0][axis] + run[1][axis]))


def typed_segment(text: str, option: str) -> Segment:
    """Two points in mm from ``x1,y1 x2,y2``, or from the origin along a direction ``x y``.

    Raises InputError for anything else.
    """
    form = f'{option} "{text}" is not understood; write two points in mm, like "0,0 0,640"'
    try:
        numbers = [float(part) for part in re.split(r"[,\s]+", text.strip())]
    except ValueError:
        raise InputError(form) from None
    if not all(math.isfinite(number) for number in numbers):
        raise InputError(form)
    if len(numbers) == 2:
        numbers = [0.0, 0.0, *numbers]
    if len(numbers) != 4 or numbers[:2] == numbers[2:]:
        raise InputError(form)
    return (numbers[0], numbers[1]), (numbers[2], numbers[3])
