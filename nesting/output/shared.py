"""Cuts that two pieces share are cut once.

With no kerf and no gap, pieces may lie edge to edge, or in the cut-out of another along its edge. The first
piece keeps its closed outline; a later piece keeps only the parts of its outline or cut-out that no earlier
one has cut, as open paths. So every cut is in
the drawing exactly once and no line lies on another; where nothing is shared every outline stays closed.
Straight cuts are shared in whole or in part, arcs only where they coincide from end to end.
"""

from __future__ import annotations

import math
from collections import defaultdict

import numpy as np
import shapely

from nesting.output.strokes import Loop, Path
from nesting.rings import Point, Ring, Vertex

SHARED_MM = 0.02 + 1e-6
"""Cuts this close are one cut: what a valid layout may be off, and a hair for rounding. So neither piece is
farther off its true size for sharing than the layout may have it."""
COINCIDE_MM = 0.05
"""Cuts of one piece after another that stray less from one line are made along one rule."""
LEAST_MM = 0.1
"""A shorter part is not worth a cut of its own."""
Segment = tuple[Point, Point, float]
Span = tuple[float, float]


def once_only(loops: list[Loop]) -> list[list[Loop | Path]]:
    """What is left of each outline or cut-out when every shared cut is left to the first that has it."""
    if not loops:
        return []
    segments = [segment for loop in loops for segment in segments_of(loop.ring)]
    owners = np.repeat(np.arange(len(loops)), [len(loop.ring) for loop in loops])
    spans = _cut_before(segments, owners)
    result: list[list[Loop | Path]] = []
    first = 0
    for loop in loops:
        last = first + len(loop.ring)
        if any(index in spans for index in range(first, last)):
            kept = [_keep(segments[i], spans.get(i, [])) for i in range(first, last)]
            result.append([Path(loop.layer, loop.role, chain, loop.piece) for chain in _chains(kept)])
        else:
            result.append([loop])
        first = last
    return result


def segments_of(ring: Ring) -> list[Segment]:
    """Start, end and bulge of each segment of a closed ring."""
    ends = ring[1:] + ring[:1]
    return [((x0, y0), (x1, y1), b) for (x0, y0, b), (x1, y1, _) in zip(ring, ends, strict=True)]


def heading(segment: Segment, at_end: bool) -> float:
    """The direction, in radians, in which a segment leaves its start or reaches its end."""
    (x0, y0), (x1, y1), bulge = segment
    # At its ends an arc runs half its sweep off its chord.
    return math.atan2(y1 - y0, x1 - x0) + (2 * math.atan(bulge) if at_end else -2 * math.atan(bulge))


def _cut_before(
    segments: list[Segment], owners: np.ndarray[tuple[int], np.dtype[np.int_]]
) -> dict[int, list[Span]]:
    """For each segment index, the spans (as shares 0 to 1 of its length) that an earlier loop cuts."""
    lines = shapely.linestrings([(start, end) for start, end, _ in segments])
    one, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=SHARED_MM)
    spans: dict[int, list[Span]] = defaultdict(list)
    for i, j in zip(one.tolist(), other.tolist(), strict=True):
        if owners[i] < owners[j] and (span := _overlap(segments[j], segments[i])):
            spans[j].append(span)
    return spans


def _overlap(mine: Segment, earlier: Segment) -> Span | None:
    """The share of ``mine`` that lies on ``earlier``, or None."""
    if mine[2] or earlier[2]:
        return (0.0, 1.0) if _same_arc(mine, earlier) else None
    (x0, y0), (x1, y1), _ = mine
    length = math.hypot(x1 - x0, y1 - y0)
    if min(length, math.dist(*earlier[:2])) <= LEAST_MM:
        return None
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    along = [((x - x0) * ux + (y - y0) * uy) for x, y in earlier[:2]]
    across = [((y - y0) * ux - (x - x0) * uy) for x, y in earlier[:2]]
    low, high = max(0.0, min(along)), min(length, max(along))
    if high - low <= LEAST_MM:
        return None
    rise = (across[1] - across[0]) / (along[1] - along[0])
    if max(abs(across[0] + rise * (t - along[0])) for t in (low, high)) > SHARED_MM:
        return None
    return (0.0 if low < LEAST_MM else low / length), (1.0 if length - high < LEAST_MM else high / length)


def _same_arc(mine: Segment, earlier: Segment) -> bool:
    (a, b, bulge), (c, d, other) = mine, earlier
    if math.dist(a, d) < SHARED_MM and math.dist(b, c) < SHARED_MM:
        c, d, other = d, c, -other
    # The sagitta is half the chord times the bulge.
    sagitta = abs(bulge - other) * math.dist(a, b) / 2
    return math.dist(a, c) < SHARED_MM and math.dist(b, d) < SHARED_MM and sagitta < SHARED_MM


def _keep(segment: Segment, spans: list[Span]) -> list[Segment]:
    """What is left of a segment when ``spans`` are taken out."""
    start, end, bulge = segment
    if not spans:
        return [segment]
    left: list[Segment] = []
    at = 0.0
    for low, high in [*sorted(spans), (1.0, 1.0)]:
        if low > at:
            left.append((_between(start, end, at), _between(start, end, low), bulge))
        at = max(at, high)
    return left


def _between(start: Point, end: Point, share: float) -> Point:
    if share in (0.0, 1.0):
        return start if share == 0.0 else end
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _chains(kept: list[list[Segment]]) -> list[Ring]:
    """Kept segments joined end to start into open paths, across the ring's first vertex too."""
    chains: list[list[Segment]] = []
    for segment in (segment for part in kept for segment in part):
        if chains and chains[-1][-1][1] == segment[0]:
            chains[-1].append(segment)
        else:
            chains.append([segment])
    if len(chains) > 1 and chains[-1][-1][1] == chains[0][0][0]:
        chains[0] = chains.pop() + chains[0]
    return [_path(chain) for chain in chains]


def _path(chain: list[Segment]) -> Ring:
    vertices: list[Vertex] = [(*start, bulge) for start, _, bulge in chain]
    return (*vertices, (*chain[-1][1], 0.0))
