"""Neutral strokes: what every output format draws from, in millimetres, y up.

A stroke lies on one layer, in our own plain words:

========  =====================================================
``cut``   outlines and cut-outs of pieces
``punch`` round holes
``mark``  points that are located, not cut
``line``  made without cutting through; ``role`` says groove, stitch, fold ...
``note``  never cut: hide outline, flaws, labels, straight edges, spine, check square
========  =====================================================

Arcs stay arcs: rings and open paths carry bulges as :mod:`nesting.rings` defines them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np

from nesting.rings import Point, Points, Ring, arc_of, flatten

Layer = Literal["cut", "punch", "mark", "line", "note"]
LAYERS: tuple[Layer, ...] = ("note", "mark", "line", "punch", "cut")
"""All layers, in the order a machine that follows the file should meet them."""
Box = tuple[float, float, float, float]
"""``(x_min, y_min, x_max, y_max)`` in mm."""


@dataclass(frozen=True)
class Loop:
    """A closed path."""

    layer: Layer
    role: str
    ring: Ring
    piece: str = ""


@dataclass(frozen=True)
class Path:
    """An open path: vertices with bulges; the bulge of the last vertex means nothing."""

    layer: Layer
    role: str
    points: Ring
    piece: str = ""


@dataclass(frozen=True)
class Circle:
    """A full circle."""

    layer: Layer
    role: str
    at: Point
    diameter: float
    piece: str = ""


@dataclass(frozen=True)
class Dot:
    """A point."""

    layer: Layer
    role: str
    at: Point
    piece: str = ""


@dataclass(frozen=True)
class Text:
    """One line of text; ``at`` is its centre, or the left end of its base line."""

    layer: Layer
    role: str
    at: Point
    text: str
    height: float
    rotation_deg: float = 0.0
    align: Literal["centre", "left"] = "centre"
    piece: str = ""


Stroke = Loop | Path | Circle | Dot | Text
AnyStroke = TypeVar("AnyStroke", bound=Stroke)


def shifted(stroke: Stroke, dx: float, dy: float) -> Stroke:
    """The same stroke moved by ``(dx, dy)`` mm."""
    if isinstance(stroke, Loop):
        return replace(stroke, ring=moved(stroke.ring, dx, dy))
    if isinstance(stroke, Path):
        return replace(stroke, points=moved(stroke.points, dx, dy))
    return replace(stroke, at=(stroke.at[0] + dx, stroke.at[1] + dy))


def moved(ring: Ring, dx: float, dy: float) -> Ring:
    """The same ring or open path moved by ``(dx, dy)`` mm."""
    return tuple((x + dx, y + dy, bulge) for x, y, bulge in ring)


def flat_path(points: Ring, sagitta: float = 0.01) -> Points:
    """Points of shape (n, 2) on an open path; chords stay within ``sagitta`` mm of their arcs."""
    # Without the last bulge, flattening as a ring leaves out only the straight way back.
    return flatten((*points[:-1], (*points[-1][:2], 0.0)), sagitta)


def box_of(strokes: tuple[Stroke, ...]) -> Box:
    """Exact extent of the strokes (arcs included; texts by a generous width). Raises ValueError on none."""
    boxes = np.array([_box(stroke) for stroke in strokes])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _box(stroke: Stroke) -> Box:
    if isinstance(stroke, Loop):
        return ring_box(stroke.ring)
    if isinstance(stroke, Path):
        return ring_box((*stroke.points[:-1], (*stroke.points[-1][:2], 0.0)), closed=False)
    x, y = stroke.at
    if isinstance(stroke, Circle):
        r = stroke.diameter / 2
        return x - r, y - r, x + r, y + r
    if isinstance(stroke, Text):
        # 0.8 of a capital's height is wider than the mean letter of common fonts.
        width = 0.8 * stroke.height * len(stroke.text)
        if stroke.align == "left":
            return x, y, x + width, y + stroke.height
        half = max(width, stroke.height) / 2 if stroke.rotation_deg else width / 2
        tall = half if stroke.rotation_deg else stroke.height / 2
        return x - half, y - tall, x + half, y + tall
    return x, y, x, y


def ring_box(ring: Ring, closed: bool = True) -> Box:
    """Exact extent of a ring or an open path, bulging arcs included."""
    xs, ys = [v[0] for v in ring], [v[1] for v in ring]
    ends = ring[1:] + ring[:1] if closed else ring[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(ring, ends, strict=False):
        if bulge:
            for x, y in _arc_extremes((x0, y0), (x1, y1), bulge):
                xs.append(x)
                ys.append(y)
    return min(xs), min(ys), max(xs), max(ys)


def _arc_extremes(start: Point, end: Point, bulge: float) -> list[Point]:
    """Points of the arc where its tangent is level or upright."""
    (cx, cy), radius, angle, sweep = arc_of(start, end, bulge)
    found = []
    for quarter in range(4):
        turn = (quarter * np.pi / 2 - angle) * np.sign(sweep) % (2 * np.pi)
        if turn < abs(sweep):
            cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter]
            found.append((cx + radius * cos, cy + radius * sin))
    return found
