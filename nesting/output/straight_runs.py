"""Outlines taken apart for a knife: straight sides, and the curves between them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import shapely

from nesting.output.shared import COINCIDE_MM, Segment, heading, segments_of
from nesting.output.strokes import Loop, Path
from nesting.rings import Point, Ring, Vertex

STRAIGHT_MM = 10.0
"""A shorter side without sharp corners is part of a curve drawn in short steps."""
SHARP = math.radians(30.0)
"""A blade follows a lesser turn without being lifted (this and the above: common practice, no source)."""
BRIDGE_MM = 2.0
"""A straight cut runs on through waste no wider than this."""


def runs(strokes: Sequence[Loop | Path]) -> tuple[list[Path], list[Loop | Path]]:
    """Straight sides, each two points, and what is left: curves that end where a blade must be lifted."""
    straight: list[Path] = []
    curves: list[Loop | Path] = []
    for stroke in strokes:
        sides, closed = _sides(stroke)
        sharp = _sharp_before(sides, closed)
        kinds = [_is_straight(side, sharp[i], sharp[(i + 1) % len(sides)]) for i, side in enumerate(sides)]
        straight += [
            _path(stroke, [side]) for side, is_straight in zip(sides, kinds, strict=True) if is_straight
        ]
        if closed and not any(kinds) and not any(sharp):
            curves.append(stroke)
        else:
            curves += [_path(stroke, chain) for chain in _chains(sides, kinds, sharp)]
    return straight, curves


def _sides(stroke: Loop | Path) -> tuple[list[Segment], bool]:
    if isinstance(stroke, Loop):
        sides, closed = segments_of(stroke.ring), True
    else:
        sides = [((x0, y0), (x1, y1), b) for (x0, y0, b), (x1, y1, _) in pairwise(stroke.points)]
        closed = False
    return [side for side in sides if side[0] != side[1]], closed


def _sharp_before(sides: Sequence[Segment], closed: bool) -> list[bool]:
    """Whether there is a corner where each side begins; the ends of an open path count as such."""
    turns = [
        abs(math.remainder(heading(side, False) - heading(sides[i - 1], True), 2 * math.pi))
        for i, side in enumerate(sides)
    ]
    return [(i == 0 and not closed) or turn > SHARP for i, turn in enumerate(turns)]


def _is_straight(side: Segment, sharp_before: bool, sharp_after: bool) -> bool:
    start, end, bulge = side
    # The hundredth keeps a side of just that length straight, whichever way its piece is turned.
    return not bulge and (math.dist(start, end) > STRAIGHT_MM - 0.01 or (sharp_before and sharp_after))


def _chains(sides: Sequence[Segment], kinds: Sequence[bool], sharp: Sequence[bool]) -> list[list[Segment]]:
    """Neighbouring sides that are not straight, parted at sharp corners; across the first vertex too."""
    count = len(sides)
    # Begin where a chain may begin, so that none is parted by the start of the ring.
    first = next((i for i in range(count) if kinds[i - 1] or sharp[i]), 0)
    chains: list[list[Segment]] = []
    open_chain = False
    for i in ((first + k) % count for k in range(count)):
        if kinds[i]:
            open_chain = False
        elif open_chain and not sharp[i]:
            chains[-1].append(sides[i])
        else:
            chains.append([sides[i]])
            open_chain = True
    return chains


def _path(stroke: Loop | Path, chain: Sequence[Segment]) -> Path:
    vertices: list[Vertex] = [(*start, bulge) for start, _, bulge in chain]
    return Path(stroke.layer, stroke.role, (*vertices, (*chain[-1][1], 0.0)), stroke.piece)


def joined(
    straight: Sequence[Path], waste: Callable[[Point, Point], bool]
) -> list[tuple[Path, tuple[Path, ...]]]:
    """Straight cuts in line become one, with the cuts it is made of.

    Two are in line when neither strays from the other's line by more than what counts as one cut, and no
    more than 2 mm lies between them, which ``waste(start, end)`` says holds no piece.
    """
    next_end = _meetings(straight, waste)
    seen: set[int] = set()
    found: list[tuple[Path, tuple[Path, ...]]] = []
    for k in range(len(straight)):
        if k in seen:
            continue
        chain = _chain_through(k, next_end)
        seen |= {member for member, _ in chain}
        parts = tuple(straight[member] for member, _ in chain)
        whole = _spanning(parts, _outer(straight, chain[0]), _outer(straight, chain[-1], last=True))
        found += [(whole, parts)] if whole else [(part, (part,)) for part in parts]
    return found


End = tuple[int, int]
"""Number of a straight cut, and 0 for its start or 1 for its end."""


def _meetings(straight: Sequence[Path], waste: Callable[[Point, Point], bool]) -> dict[End, End]:
    """For each end the end of another cut that goes on from there, if there is one."""
    places = [(k, side) for k in range(len(straight)) for side in (0, 1)]
    if not places:
        return {}
    points = shapely.points([straight[k].points[side][:2] for k, side in places])
    one, other = shapely.STRtree(points).query(points, predicate="dwithin", distance=BRIDGE_MM)
    near = shapely.distance(points[one], points[other])
    taken: dict[End, End] = {}
    for i in np.lexsort((other, one, np.round(near, 6))):
        a, b = places[one[i]], places[other[i]]
        if a[0] < b[0] and a not in taken and b not in taken and _go_on(straight, a, b, waste):
            taken[a], taken[b] = b, a
    return taken


def _go_on(straight: Sequence[Path], a: End, b: End, waste: Callable[[Point, Point], bool]) -> bool:
    """Whether cut ``b`` continues cut ``a`` past these ends."""
    back, tip = _at(straight[a[0]], 1 - a[1]), _at(straight[a[0]], a[1])
    near, far = _at(straight[b[0]], b[1]), _at(straight[b[0]], 1 - b[1])
    along = _unit(back, tip)
    if any(abs(_across(p, tip, along)) > COINCIDE_MM for p in (near, far)):
        return False
    if abs(_across(back, near, _unit(near, far))) > COINCIDE_MM:
        return False
    ahead = (far[0] - near[0]) * along[0] + (far[1] - near[1]) * along[1]
    gap = (near[0] - tip[0]) * along[0] + (near[1] - tip[1]) * along[1]
    return ahead > 0 and gap > -2 * COINCIDE_MM and (gap < 2 * COINCIDE_MM or waste(tip, near))


def _chain_through(k: int, next_end: dict[End, End]) -> list[tuple[int, int]]:
    """The cuts in line with cut ``k`` from one end to the other, each with the side that it is entered by."""
    at: End = (k, 0)
    seen = {k}
    while at in next_end and next_end[at][0] not in seen:
        neighbour, side = next_end[at]
        seen.add(neighbour)
        at = (neighbour, 1 - side)
    chain = [at]
    while (leaving := (at[0], 1 - at[1])) in next_end and len(chain) <= len(seen) + len(next_end):
        at = next_end[leaving]
        chain.append(at)
    return chain


def _outer(straight: Sequence[Path], end: End, last: bool = False) -> Point:
    return _at(straight[end[0]], 1 - end[1] if last else end[1])


def _spanning(parts: Sequence[Path], start: Point, end: Point) -> Path | None:
    """One straight cut for all parts, or None where one of them would lie beside it."""
    along = _unit(start, end)
    points = [vertex[:2] for part in parts for vertex in part.points]
    if len(parts) > 1 and any(abs(_across(point, start, along)) > COINCIDE_MM for point in points):
        return None
    first = parts[0]
    ring: Ring = ((*start, 0.0), (*end, 0.0))
    return Path(first.layer, first.role, ring, first.piece)


def _at(path: Path, side: int) -> Point:
    return path.points[side][:2]


def _unit(start: Point, end: Point) -> Point:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def _across(point: Point, origin: Point, along: Point) -> float:
    return (point[1] - origin[1]) * along[0] - (point[0] - origin[0]) * along[1]
