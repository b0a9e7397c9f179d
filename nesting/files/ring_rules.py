"""What makes a ring usable, and where shapes of one file must lie to one another (shapely)."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.validation import explain_validity

from nesting.errors import FileFormatError
from nesting.files.json_text import join
from nesting.rings import Ring, flatten

TOUCH_MM = 0.01
"""Chords stray this far from their arcs, so closer calls than this are not made."""
_LEAST_AREA_MM2 = 1e-6
_FARTHEST_MM = 1e6


def checked_ring(raw: Sequence[Sequence[float]], source: str, place: str) -> tuple[Ring, Polygon]:
    """A ring and its polygon from points ``[x, y]`` or ``[x, y, bulge]`` in mm.

    Raises FileFormatError on too few points, a repeated point, no area, or an outline that crosses or
    touches itself (arcs included, flattened to 0.01 mm).
    """
    ring = ring_of(raw)
    least = 2 if any(bulge for *_, bulge in ring) else 3
    if len(ring) < least:
        raise FileFormatError(source, place, "needs at least three points, or two joined by arcs; add points")
    for i, (here, after) in enumerate(zip(ring, ring[1:] + ring[:1], strict=True)):
        if here[:2] == after[:2]:
            hint = "repeats the first: rings are not closed" if i == len(ring) - 1 else "is given twice"
            raise FileFormatError(source, join(place, i), f"the point {_xy(*here[:2])} {hint}; drop one")
    points = flatten(ring, TOUCH_MM)
    if np.abs(points).max() > _FARTHEST_MM:
        raise FileFormatError(source, place, "bulges out farther than a kilometre; mend the bulge")
    if len(points) < 3:
        raise FileFormatError(source, place, "encloses no area; draw it around the leather")
    polygon = Polygon(points)
    if not polygon.is_valid:
        raise FileFormatError(source, place, _crossing(polygon))
    if polygon.area <= _LEAST_AREA_MM2:
        raise FileFormatError(source, place, "encloses no area; draw it around the leather")
    shapely.prepare(polygon)
    return ring, polygon


def ring_of(raw: Sequence[Sequence[float]]) -> Ring:
    """Vertices from points of two or three numbers; a bulge left out is 0."""
    return tuple((float(p[0]), float(p[1]), float(p[2]) if len(p) > 2 else 0.0) for p in raw)


def raw_ring(ring: Ring) -> list[list[float]]:
    """A ring as the files write it: micrometre thousandths kept, bulges as they are, none where straight."""
    return [[rounded(x), rounded(y), bulge] if bulge else [rounded(x), rounded(y)] for x, y, bulge in ring]


def rounded(value: float) -> float:
    """To 1e-6 (a nanometre, or a millionth of a degree); never minus zero."""
    return round(value, 6) + 0.0


def _crossing(polygon: Polygon) -> str:
    reason = explain_validity(polygon)
    found = re.search(r"\[(\S+) (\S+)\]", reason)
    near = f" near {_xy(float(found[1]), float(found[2]))}" if found else ""
    if not polygon.buffer(0).area:
        return "encloses no area; draw it around the leather"
    return f"crosses or touches itself{near}; move the points there so that the outline runs around once"


def _xy(x: float, y: float) -> str:
    return f"({x:.6g}, {y:.6g})"


def overlaps(polygon: Polygon, other: Polygon) -> bool:
    """Whether two shapes share area, not only an edge."""
    return bool(polygon.intersects(other)) and polygon.intersection(other).area > _LEAST_AREA_MM2


def strictly_inside(outer: Polygon, inner: Polygon) -> bool:
    """Whether ``inner`` lies in ``outer`` and leaves some of it all around."""
    return bool(outer.contains_properly(inner))


def disc_inside(outer: Polygon, at: tuple[float, float], diameter: float) -> bool:
    """Whether a round hole lies within ``outer``; it may touch the edge."""
    centre = Point(at)
    return bool(outer.covers(centre)) and outer.exterior.distance(centre) >= diameter / 2 - TOUCH_MM


def lies_on(outline: Polygon, start: tuple[float, float], end: tuple[float, float], within: float) -> bool:
    """Whether a segment keeps within ``within`` mm of the outline all along."""
    return bool(outline.exterior.buffer(within, quad_segs=32).covers(LineString([start, end])))
