"""The edges of a remnant that are cut true: the cuts just made, and what is left of older ones."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LinearRing, LineString, MultiLineString, Polygon

from nesting.files.hide import Hide, Segment
from nesting.files.hide_file import STRAIGHT_EDGE_MM
from nesting.judge.shapes import polygon

Span = tuple[float, float]

LEAST_MM = 60.0
"""A shorter cut is no edge to work from (common practice, no source)."""
_STRAY_MM = 0.15
"""How far a cut may stray from a line and still be straight."""
_RUN_ON_MM = 20.0
"""A cut runs on so far through sound leather: over the mouth of a slot, or out through a margin."""


def straight_edges(leather: Polygon, cuts: shapely.Geometry, hide: Hide) -> tuple[Segment, ...]:
    """Straight edges along the outline of ``leather``, cut from ``hide`` along ``cuts``; mm.

    A cut counts where it is ``LEAST_MM`` long and straight; an edge of the hide's own where as much of
    it is left, or all of it. Each lies along the outline as closely as a hide file asks.
    """
    outline = leather.exterior
    return (*_new(outline, cuts, polygon(hide.outline).exterior), *_old(outline, hide))


def _new(outline: LinearRing, cuts: shapely.Geometry, rough: LinearRing) -> list[Segment]:
    """What is cut of the long chords of the outline, simplified after Douglas and Peucker (1973)."""
    corners = shapely.get_coordinates(_from_a_corner(outline).simplify(_STRAY_MM))
    near, rough = shapely.buffer([cuts, rough], 1.5 * _STRAY_MM)
    found = []
    for (x0, y0), (x1, y1) in zip(corners[:-1].tolist(), corners[1:].tolist(), strict=True):
        chord = LineString([(x0, y0), (x1, y1)])
        if chord.length >= LEAST_MM:
            found += [_part(chord, *span) for span in _spans(chord, near, rough)]
    return found


def _spans(chord: LineString, cut: shapely.Geometry, rough: shapely.Geometry) -> list[Span]:
    """From where to where along the chord it is cut, in mm, where that is long enough."""
    spans = _along(chord, shapely.intersection(chord, cut))
    if not spans:
        return []
    edges = _along(chord, shapely.difference(shapely.intersection(chord, rough), cut))
    ends = [(0.0, 0.0), *spans, (chord.length, chord.length)]
    merged = [ends[0]]
    for low, high in ends[1:]:
        last = merged[-1][1]
        in_leather = sum(max(0.0, min(low, b) - max(last, a)) for a, b in edges) < 1.0
        if low - last <= _RUN_ON_MM and in_leather:
            merged[-1] = (merged[-1][0], max(high, last))
        else:
            merged.append((low, high))
    return [(low, high) for low, high in merged if high - low >= LEAST_MM]


def _along(chord: LineString, parts: shapely.Geometry) -> list[Span]:
    """Where on the chord its parts begin and end, mm from its start, in order."""
    lines = [part for part in shapely.get_parts(parts) if isinstance(part, LineString) and not part.is_empty]
    found = []
    for line in lines:
        low, high = sorted(chord.project(shapely.Point(end)) for end in (line.coords[0], line.coords[-1]))
        found.append((low, high))
    return sorted(found)


def _part(chord: LineString, low: float, high: float) -> Segment:
    start, end = chord.interpolate(low), chord.interpolate(high)
    return (start.x, start.y), (end.x, end.y)


def _from_a_corner(outline: LinearRing) -> LineString:
    """The outline as a line that starts and ends at the point farthest from its middle: surely a corner."""
    points = shapely.get_coordinates(outline)[:-1]
    first = int(np.argmax(np.hypot(*(points - points.mean(axis=0)).T)))
    turned = np.roll(points, -first, axis=0)
    return LineString(np.vstack((turned, turned[:1])))


def _old(outline: LinearRing, hide: Hide) -> list[Segment]:
    """What still lies along the outline of each straight edge that the hide had."""
    found = []
    for edge in hide.straight_edges:
        line = LineString(edge)
        least = max(min(LEAST_MM, line.length - 2.0 * STRAIGHT_EDGE_MM), STRAIGHT_EDGE_MM)
        # A little narrower than the file's own measure, so that rounding cannot push an edge out of it;
        # measured where the outline lies along the edge, so that none reaches past a corner just cut.
        strip = shapely.buffer(line, 0.99 * STRAIGHT_EDGE_MM, cap_style="flat")
        parts = shapely.get_parts(shapely.intersection(outline, strip))
        lines = [part for part in parts if isinstance(part, LineString) and not part.is_empty]
        along = shapely.line_merge(MultiLineString(lines))
        found += [_part(line, low, high) for low, high in _along(line, along) if high - low >= least]
    return found
