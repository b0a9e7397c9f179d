"""The hide's outline in two portions: what is already cut straight, and the rough rest.

An edge of the outline is straight where it stays within ``NEAR_MM`` of one of the hide's straight
edges, between that one's ends: an edge wholly inside this band, or the inside part of an edge that
runs along it. A rough remainder shorter than the band between two straight portions is rounding.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.files.hide import Hide, Segment
from nesting.judge.shapes import Complexes, corner_points

NEAR_MM = 1.02
"""A hide file lets a straight edge stray 1 mm from its outline; 0.02 mm is the judge's tolerance."""
_ALONG_DEG = 30.0
"""An edge that turns further from the straight edge leaves it; it does not run along it."""

Shares = NDArray[np.float64]


def portions(hide: Hide) -> tuple[shapely.Geometry, shapely.Geometry]:
    """The rough and the straight portion of the outline, as line work; either may be empty."""
    corners = corner_points(hide.outline)
    start: Complexes = corners[:, 0] + 1j * corners[:, 1]
    end = np.roll(start, -1)
    found: list[list[tuple[float, float]]] = [[] for _ in start]
    for straight in hide.straight_edges:
        low, high = _straight_shares(start, end, straight)
        for i in np.flatnonzero(high > low):
            found[i].append((float(low[i]), float(high[i])))
    pieces = [(start[i], end[i], found[i]) for i in range(len(start))]
    rough = _lines([(a, b, span) for a, b, spans in pieces for span in _rest(spans)])
    straight_lines = _lines([(a, b, span) for a, b, spans in pieces for span in spans])
    parts = shapely.get_parts(shapely.line_merge(rough))
    # Without straight edges the outline is one closed line, however short.
    kept = [part for part in parts if part.length >= NEAR_MM or not hide.straight_edges]
    left = [part for part in parts if part.length < NEAR_MM and hide.straight_edges]
    return shapely.union_all(kept), shapely.union_all([straight_lines, *left])


def _straight_shares(start: Complexes, end: Complexes, straight: Segment) -> tuple[Shares, Shares]:
    """Per edge from where to where it is straight, as shares of its length; low ≥ high = nowhere."""
    (x0, y0), (x1, y1) = straight
    length = math.hypot(x1 - x0, y1 - y0)
    if length == 0.0:
        return np.ones(len(start)), np.zeros(len(start))
    unit = complex(x1 - x0, y1 - y0) / length
    a, b = (start - complex(x0, y0)) / unit, (end - complex(x0, y0)) / unit
    along, across = (b - a).real, (b - a).imag
    low, high = _clip(a.real, along, 0.0, length)
    low2, high2 = _clip(a.imag, across, -NEAR_MM, NEAR_MM)
    low, high = np.maximum(low, low2), np.minimum(high, high2)
    whole = (low <= 1e-9) & (high >= 1.0 - 1e-9)
    runs_along = np.abs(across) <= math.tan(math.radians(_ALONG_DEG)) * np.abs(along)
    return low, np.where(whole | runs_along, high, low)


def _clip(at: Shares, by: Shares, least: float, most: float) -> tuple[Shares, Shares]:
    """Shares t in [0, 1] between which at + t by stays inside [least, most]."""
    inside = (at >= least) & (at <= most)
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (least - at) / by, (most - at) / by
    low = np.where(by == 0.0, np.where(inside, 0.0, 1.0), np.minimum(first, second))
    high = np.where(by == 0.0, np.where(inside, 1.0, 0.0), np.maximum(first, second))
    return np.maximum(low, 0.0), np.minimum(high, 1.0)


def _rest(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What ``spans`` leave of [0, 1]."""
    rest, at = [], 0.0
    for low, high in [*sorted(spans), (1.0, 1.0)]:
        if low > at:
            rest.append((at, low))
        at = max(at, high)
    return rest


def _lines(parts: list[tuple[complex, complex, tuple[float, float]]]) -> shapely.Geometry:
    """One geometry of the given shares of the given edges."""
    ends = [(_at(a, b, low), _at(a, b, high)) for a, b, (low, high) in parts]
    lines = [shapely.LineString([(p.real, p.imag), (q.real, q.imag)]) for p, q in ends]
    return shapely.MultiLineString(lines)


def _at(start: complex, end: complex, share: float) -> complex:
    """A point of an edge; its ends to the last bit, so that neighbours still meet."""
    return end if share == 1.0 else start + share * (end - start)
