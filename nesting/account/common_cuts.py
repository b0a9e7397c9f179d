"""Straight cuts that two pieces have in common: with no kerf and no gap one cut frees both.

Worked out from the pieces alone, by other means than the drawing that leaves out what is cut already
(``nesting.output.shared``): the one is the other's check.
"""

from __future__ import annotations

import shapely

from nesting.files.order import Cutting
from nesting.judge.scene import Piece, Scene

ON_ONE_LINE_MM = 0.02
"""So far sides may lie apart, or overlap, and still be on one line: what a valid layout may be off."""
LEAST_MM = 0.1
"""A shorter touch, as at a corner, is no cut in common."""
_ROUNDING_MM = 1e-6


def common_cut_mm(scene: Scene, cutting: Cutting) -> float:
    """How much straight cut, in mm, two pieces of the hide have in common; 0 with a kerf or a gap."""
    if cutting.kerf_mm + cutting.gap_mm > 0.0:
        return 0.0
    found = [(number, side) for number, piece in enumerate(scene.pieces) for side in _sides(piece)]
    if not found:
        return 0.0
    sides = [side for _, side in found]
    reach = ON_ONE_LINE_MM + _ROUNDING_MM
    one, other = shapely.STRtree(sides).query(sides, predicate="dwithin", distance=reach)
    pairs = zip(one.tolist(), other.tolist(), strict=True)
    return sum(_together(sides[i], sides[j], reach) for i, j in pairs if found[i][0] < found[j][0])


def _sides(piece: Piece) -> list[shapely.LineString]:
    """The straight sides of outline and cut-outs, on the hide; an arc is none, however it is flattened."""
    rings = [piece.placement.pose.apply_ring(ring) for ring in (piece.panel.outline, *piece.panel.cutouts)]
    ends = [end for ring in rings for end in zip(ring, ring[1:] + ring[:1], strict=True)]
    return [shapely.LineString([one[:2], next_[:2]]) for one, next_ in ends if one[2] == 0.0]


def _together(side: shapely.LineString, other: shapely.LineString, reach: float) -> float:
    """How long the part of ``side`` is that ``other`` lies along; 0 where it leaves its line on the way."""
    low, high = sorted(side.project(shapely.Point(end)) for end in other.coords)
    if high - low < LEAST_MM:
        return 0.0
    part = (side.interpolate(low), side.interpolate(high))
    return float(high - low) if max(other.distance(end) for end in part) <= reach else 0.0
