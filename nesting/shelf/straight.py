"""The edges of a remnant that are cut true: the cuts just made, and what is left of older ones."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LinearRing, LineString, Polygon

from nesting.files.hide import Hide, Segment
from nesting.files.hide_file import STRAIGHT_EDGE_MM

LEAST_MM = 60.0
"""A shorter cut is no edge to work from (common practice, no source)."""
_STRAY_MM = 0.3
"""How far a cut may stray from a line and still be straight."""
_MOUTH_MM = 20.0
"""A straight edge runs on across the mouth of a slot as narrow between two pieces: leather lies there."""


def straight_edges(leather: Polygon, cuts: shapely.Geometry, hide: Hide) -> tuple[Segment, ...]:
    """Straight edges along the outline of ``leather``, cut from ``hide`` along ``cuts``; mm.

    A cut counts where it is ``LEAST_MM`` long and straight; an edge of the hide's own where as much of
    it is left, or all of it. Each lies along the outline as closely as a hide file asks.
    """
    outline = leather.exterior
    return (*_new(outline, cuts), *_old(outline, hide))


def _new(outline: LinearRing, cuts: shapely.Geometry) -> list[Segment]:
    """What is cut of the long chords of the outline, simplified after Douglas and Peucker (1973)."""
    corners = shapely.get_coordinates(_from_a_corner(outline).simplify(_STRAY_MM))
    near = shapely.buffer(cuts, 1.5 * _STRAY_MM)
    found = []
    for (x0, y0), (x1, y1) in zip(corners[:-1].tolist(), corners[1:].tolist(), strict=True):
        chord = LineString([(x0, y0), (x1, y1)])
        if chord.length >= LEAST_MM:
            found += [_part(chord, span) for span in _spans(chord, near)]
    return found


def _spans(chord: LineString, near: shapely.Geometry) -> list[list[float]]:
    """From where to where along the chord it is cut, in mm, where that is long enough."""
    parts = shapely.get_parts(shapely.intersection(chord, near))
    ends = sorted(
        sorted(chord.project(shapely.Point(end)) for end in (part.coords[0], part.coords[-1]))
        for part in parts
        if isinstance(part, LineString) and not part.is_empty
    )
    spans: list[list[float]] = []
    for low, high in ends:
        if spans and low - spans[-1][1] <= _MOUTH_MM:
            spans[-1][1] = max(high, spans[-1][1])
        else:
            spans.append([low, high])
    return [span for span in spans if span[1] - span[0] >= LEAST_MM]


def _part(chord: LineString, span: list[float]) -> Segment:
    start, end = (chord.interpolate(at) for at in span)
    return (start.x, start.y), (end.x, end.y)


def _from_a_corner(outline: LinearRing) -> LineString:
    """The outline as a line that starts and ends at the point farthest from its middle: surely a corner."""
    points = shapely.get_coordinates(outline)[:-1]
    first = int(np.argmax(np.hypot(*(points - points.mean(axis=0)).T)))
    turned = np.roll(points, -first, axis=0)
    return LineString(np.vstack((turned, turned[:1])))


def _old(outline: LinearRing, hide: Hide) -> list[Segment]:
    """What still lies along the outline of each straight edge that the hide had."""
    # A little narrower than the file's own measure, so that rounding cannot push an edge out of it.
    near = shapely.buffer(outline, 0.99 * STRAIGHT_EDGE_MM, quad_segs=32)
    found = []
    for edge in hide.straight_edges:
        least = min(LEAST_MM, math.dist(*edge) - 2.0 * STRAIGHT_EDGE_MM)
        for part in shapely.get_parts(shapely.intersection(LineString(edge), near)):
            if isinstance(part, LineString) and part.length >= max(least, STRAIGHT_EDGE_MM):
                start, end = part.coords[0], part.coords[-1]
                found.append(((start[0], start[1]), (end[0], end[1])))
    return found
