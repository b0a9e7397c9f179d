"""Panels as the packer sees them: polygons a little larger than the truth, never smaller."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.errors import InputError
from nesting.files.hide import Severity
from nesting.files.order import Order, OrderLine
from nesting.files.panel import Panel
from nesting.packing.problem import ANY_TURN, Interval
from nesting.planning.leather import ring_polygon

Points = NDArray[np.float64]

MOST_VERTICES = 36
"""A pattern with more vertices is drawn coarser, outward."""

TURN_SLACK = 1e-6

FINE_MM = 0.002
"""How close hidden zones are followed."""


@dataclass(frozen=True)
class Pattern:
    """A panel as drawn or mirrored: what must not overlap, and what must lie where.

    ``body`` is the outline grown by half the distance between pieces; ``parts`` pairs each part of
    the true outline with the severities that it accepts.
    """

    panel: Panel
    mirrored: bool
    body: Points
    parts: tuple[tuple[Points, frozenset[Severity]], ...]
    area: float
    narrowest: float  # radius of the largest disc inside
    off_centre: float  # how far the centres of area of body and panel are apart


def pattern_of(panel: Panel, mirrored: bool, apart_mm: float) -> Pattern:
    """A panel's pattern for pieces that lie ``apart_mm`` apart (kerf + gap)."""
    exact = _side(ring_polygon(panel.outline), mirrored)
    outline = _outer(exact)
    body = _outer(exact, 0.5 * apart_mm) if apart_mm > 0 else outline
    return Pattern(
        panel,
        mirrored,
        _points(body),
        tuple((_points(part), accepts) for part, accepts in _parts(panel, outline, mirrored)),
        float(exact.area),
        float(shapely.maximum_inscribed_circle(exact).length),
        float(exact.centroid.distance(body.centroid)),
    )


def patterns_of(order: Order) -> dict[tuple[int, bool], Pattern]:
    """The patterns of each line of an order, by (line, whether it is the other shape of a pair)."""
    apart = order.cutting.kerf_mm + order.cutting.gap_mm
    return {
        (i, bool(k)): pattern
        for i, line in enumerate(order.lines)
        for k, pattern in enumerate(patterns_of_line(line, apart))
    }


def patterns_of_line(line: OrderLine, apart_mm: float) -> list[Pattern]:
    """A line's panel as drawn, and the other shape of its pairs where they have two."""
    if line.mate is not None:
        return [pattern_of(panel, False, apart_mm) for panel in line.panels]
    sides = (False, True) if line.panel.pairing == "mirrored" else (False,)
    return [pattern_of(line.panel, mirrored, apart_mm) for mirrored in sides]


def _parts(
    panel: Panel, outline: BaseGeometry, mirrored: bool
) -> list[tuple[BaseGeometry, frozenset[Severity]]]:
    """The outline split by what its parts accept.

    The whole outline needs what every part needs; a part outside the hidden zones that accept a
    severity needs leather free of it. Slivers of the panel's edge by a zone that is drawn along it
    are no part that shows.
    """
    base: frozenset[Severity] = frozenset(s for s in panel.accepts if s != "hole")
    zones = [
        (_side(ring_polygon(zone.outline, FINE_MM), mirrored), frozenset(zone.accepts))
        for zone in panel.hidden_zones
    ]
    everywhere = base.union(*(accepts for _, accepts in zones)) if zones else base
    parts = [(outline, frozenset[Severity](everywhere))]
    fine = _side(ring_polygon(panel.outline, FINE_MM), mirrored)
    for severity in sorted(everywhere - base):
        hidden = shapely.union_all([zone for zone, accepts in zones if severity in accepts])
        core = fine.difference(hidden.buffer(2.0 * FINE_MM, join_style="mitre"))
        shows = fine.difference(hidden).intersection(core.buffer(5.0 * FINE_MM, join_style="mitre"))
        for piece in shapely.get_parts(shows.buffer(FINE_MM, join_style="mitre")):
            parts += [(_outer(p), everywhere - {severity}) for p in _without_holes(piece)]
    return parts


def _side(shape: BaseGeometry, mirrored: bool) -> BaseGeometry:
    return shapely.transform(shape, lambda p: p * (-1.0, 1.0)) if mirrored else shape


def _without_holes(piece: BaseGeometry) -> list[BaseGeometry]:
    """A polygon cut through its holes into polygons that have none and cover it."""
    if piece.geom_type != "Polygon" or piece.area <= 0.0:
        return []
    if not piece.interiors:
        return [piece]
    x0, y0, x1, y1 = piece.bounds
    middle = shapely.Polygon(piece.interiors[0]).representative_point().x
    halves = [shapely.box(x0, y0, middle, y1), shapely.box(middle, y0, x1, y1)]
    parts = [part for half in halves for part in shapely.get_parts(piece.intersection(half))]
    return [whole for part in parts for whole in _without_holes(part)]


def _outer(exact: BaseGeometry, grow: float = 0.0) -> BaseGeometry:
    """A simple polygon of few vertices that covers ``exact`` grown by ``grow`` mm."""
    target = exact.buffer(grow, join_style="mitre", mitre_limit=1.6) if grow > 0 else exact
    target = shapely.Polygon(target.exterior)
    if len(target.exterior.coords) <= 13:
        return target
    tolerance = 0.04
    while True:
        loose = target.buffer(tolerance, join_style="mitre", mitre_limit=1.6).simplify(0.98 * tolerance)
        loose = shapely.Polygon(loose.exterior) if loose.geom_type == "Polygon" else loose
        few = len(shapely.get_coordinates(loose)) <= MOST_VERTICES + 1
        if few and loose.geom_type == "Polygon" and loose.covers(target):
            return loose
        tolerance *= 1.4
        if tolerance > 5.0:
            return target


def _points(polygon: BaseGeometry) -> Points:
    points: Points = shapely.get_coordinates(shapely.normalize(polygon))[:-1]
    return points


def allowed_turns(pattern: Pattern, spine: float | None) -> tuple[Interval, ...]:
    """Rotations of the pattern that the panel's turns and stretch allow, in radians, as intervals.

    An unknown spine (None) leaves the stretch unchecked. Empty when turns and stretch exclude each
    other.
    """
    panel = pattern.panel
    turns = None if panel.turns_deg is None else [math.radians(t) for t in panel.turns_deg]
    if panel.stretch is None or spine is None or panel.stretch.tolerance_deg >= 90.0:
        return ANY_TURN if turns is None else tuple((t, t) for t in turns)
    along = math.radians(panel.stretch.angle_deg)
    if pattern.mirrored:
        along = math.pi - along
    tolerance = max(0.0, math.radians(panel.stretch.tolerance_deg) - TURN_SLACK)
    middle = (spine - along) % math.pi
    if turns is None:
        return tuple((m - tolerance, m + tolerance) for m in (middle, middle + math.pi))
    limit = math.radians(panel.stretch.tolerance_deg) + TURN_SLACK
    kept = [t for t in turns if abs((t - middle + math.pi / 2) % math.pi - math.pi / 2) <= limit]
    return tuple((t, t) for t in kept)


def require_simple(panel: Panel) -> None:
    """Raise InputError for an outline that encloses no area."""
    if ring_polygon(panel.outline).area <= 0.0:
        raise InputError(f"panel {panel.name}: its outline encloses no area; draw it again")
