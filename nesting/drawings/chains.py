"""Join the ends of open strokes of one layer: who meets whom, and where the joint comes to lie."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.spatial import cKDTree

from nesting.drawings.collect import SAME_MM
from nesting.drawings.drawing import Note, Stroke, on_layer, place, repair
from nesting.drawings.junctions import split_junctions
from nesting.rings import Point, Vertex

End = tuple[int, int]  # number of the stroke, and 0 for its start or 1 for its end


def join_ends(strokes: Sequence[Stroke], tolerance: float) -> tuple[list[Stroke], list[Note]]:
    """Strokes of one layer joined where their ends meet: rings first closed, the rest still open."""
    notes: list[Note] = []
    joined = _joined(strokes, _mates(strokes, SAME_MM))
    for part, more in split_junctions(joined, SAME_MM):
        notes += more
        chosen = {id(stroke) for stroke in part}
        rest = [stroke for stroke in joined if id(stroke) not in chosen]
        joined = [*rest, *_joined(part, _mates(part, SAME_MM))]
    loose = [stroke for stroke in joined if not stroke.closed]
    mates = _nearest_mates(loose, tolerance)
    notes += _notes_of(loose, mates)
    return [*(stroke for stroke in joined if stroke.closed), *_joined(loose, mates)], notes


def _points(strokes: Sequence[Stroke]) -> list[Point]:
    return [point for stroke in strokes for point in (stroke.start, stroke.end)]


def _mates(strokes: Sequence[Stroke], radius: float) -> dict[End, End]:
    """Ends that lie on one point and are exactly two there."""
    open_ends = [(i, side) for i, stroke in enumerate(strokes) if not stroke.closed for side in (0, 1)]
    if not open_ends:
        return {}
    points = np.array([_end_point(strokes, end) for end in open_ends])
    near = cKDTree(points).query_ball_point(points, radius * 1.5)
    mates = {}
    for number, found in enumerate(near):
        if len(found) == 2:
            other = found[0] if found[1] == number else found[1]
            if len(near[other]) == 2:
                mates[open_ends[number]] = open_ends[other]
    return mates


def _nearest_mates(strokes: Sequence[Stroke], tolerance: float) -> dict[End, End]:
    """Loose ends within the tolerance, the nearest two first, each used once."""
    if not strokes:
        return {}
    points = np.array(_points(strokes))
    pairs = cKDTree(points).query_pairs(tolerance, output_type="ndarray")
    gaps = np.hypot(*(points[pairs[:, 0]] - points[pairs[:, 1]]).T)
    mates: dict[End, End] = {}
    for a, b in pairs[np.argsort(gaps, kind="stable")].tolist():
        here, there = divmod(a, 2), divmod(b, 2)
        if here in mates or there in mates:
            continue
        if here[0] == there[0] and _length(strokes[here[0]]) < 4.0 * tolerance:
            continue  # a short line is not a ring just because it is short
        mates[here], mates[there] = there, here
    return mates


def _length(stroke: Stroke) -> float:
    return sum(math.dist(a[:2], b[:2]) for a, b in pairwise(stroke.vertices))


def _end_point(strokes: Sequence[Stroke], end: End) -> Point:
    stroke = strokes[end[0]]
    return stroke.end if end[1] else stroke.start


def _notes_of(strokes: Sequence[Stroke], mates: dict[End, End]) -> list[Note]:
    notes = []
    for here, there in mates.items():
        if here > there:
            continue
        a, b = _end_point(strokes, here), _end_point(strokes, there)
        gap, where = math.dist(a, b), f"{on_layer(strokes[here[0]].layer)} at {place(a)}"
        if here[0] == there[0]:
            notes.append(repair("closed-gap", f"closed a gap of {gap:.3f} mm{where}"))
        else:
            notes.append(repair("joined-ends", f"joined 2 ends {gap:.3f} mm apart{where}"))
    return notes


def _joined(strokes: Sequence[Stroke], mates: dict[End, End]) -> list[Stroke]:
    """Follow the mates from stroke to stroke: first from loose ends, then round the rings."""
    done: set[int] = set()
    result: list[Stroke] = []
    starts = [(i, side) for i in range(len(strokes)) for side in (0, 1) if (i, side) not in mates]
    for first in [*starts, *((i, 0) for i in range(len(strokes)))]:
        if first[0] in done:
            continue
        path, closed = _follow(first, mates)
        done.update(number for number, _ in path)
        result.append(_merged([_oriented(strokes[n], side) for n, side in path], closed))
    return result


def _follow(first: End, mates: dict[End, End]) -> tuple[list[End], bool]:
    """Strokes in the order of travel, each with the end it is entered at, and whether they close."""
    path = [first]
    while True:
        number, side = path[-1]
        following = mates.get((number, 1 - side))
        if following is None:
            return path, False
        if following == first:
            return path, True
        path.append(following)


def _oriented(stroke: Stroke, entered: int) -> Stroke:
    if entered == 0 or stroke.closed:
        return stroke
    vertices = stroke.vertices
    turned = [
        (*vertices[i][:2], 0.0 - vertices[i - 1][2] if i else 0.0) for i in reversed(range(len(vertices)))
    ]
    return Stroke(stroke.layer, stroke.names, tuple(turned), False)


def _merged(strokes: Sequence[Stroke], closed: bool) -> Stroke:
    if len(strokes) == 1 and not closed:
        return strokes[0]
    run = list(strokes[0].vertices)
    for stroke in strokes[1:]:
        at = _joint(run[-2], run[-1], stroke.vertices[0], stroke.vertices[1])
        run[-1:] = [(*at, stroke.vertices[0][2]), *stroke.vertices[1:]]
    if closed:
        at = _joint(run[-2], run[-1], run[0], run[1])
        run[:1] = [(*at, run[0][2])]
        run.pop()
    names = tuple(dict.fromkeys(name for stroke in strokes for name in stroke.names))
    return Stroke(strokes[0].layer, names, tuple(run), closed)


def _joint(before: Vertex, end: Vertex, start: Vertex, after: Vertex) -> Point:
    """Where two ends become one: an arc's end stays, straight lines meet in their corner."""
    arrives_straight, leaves_straight = before[2] == 0.0, start[2] == 0.0
    if arrives_straight != leaves_straight:
        return start[:2] if arrives_straight else end[:2]
    gap = math.dist(end[:2], start[:2])
    if gap <= SAME_MM:
        return start[:2]
    middle = (0.5 * (end[0] + start[0]), 0.5 * (end[1] + start[1]))
    if not arrives_straight:
        return middle
    corner = _crossing(before[:2], end[:2], start[:2], after[:2])
    return corner if corner and math.dist(corner, middle) <= gap else middle


def _crossing(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """Where the line through a, b meets the line through c, d; None when they are all but parallel."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-3 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return None
    t = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / cross
    return a[0] + t * ux, a[1] + t * uy
