"""What a drafted panel must hold: holes, marks and groove inside, and clear of one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import shapely
from shapely import LineString, Point, Polygon

from nesting.errors import InputError
from nesting.files.panel import Panel, Punch
from nesting.rings import flatten
from nesting.units import format_both, format_length

SAGITTA_MM = 0.001
LEAST_SHARE = 1.0
"""Leather between two holes, or a hole and the edge, in hole diameters; less tears out sooner: common
practice, no source."""


def check_panel(panel: Panel) -> None:
    """Raises InputError on the first hole that overlaps another or the edge, or mark out of place."""
    outline = Polygon(flatten(panel.outline, SAGITTA_MM))
    _check_apart(panel.punches)
    for punch in panel.punches:
        _check_inside(outline, punch)
    for mark in panel.marks:
        _check_mark(outline, panel.punches, mark)
    for line in panel.lines:
        groove = LineString(flatten(line.points, SAGITTA_MM))
        for punch in panel.punches:
            if groove.distance(Point(punch.at)) <= punch.diameter / 2.0:
                raise InputError(
                    f"the {line.role} runs through the hole at {_at(punch.at)}; "
                    "bring it nearer the edge, or set the holes in by more"
                )


def _check_apart(punches: Sequence[Punch]) -> None:
    for one, other in combinations(punches, 2):
        apart, least = math.dist(one.at, other.at), (one.diameter + other.diameter) / 2.0
        if apart <= least:
            raise InputError(
                f"holes overlap: those of {format_length(one.diameter)} at {_at(one.at)} and {_at(other.at)} "
                f"lie {format_length(apart)} apart; take fewer or smaller holes, or set them further apart"
            )


def _check_inside(outline: Polygon, punch: Punch) -> None:
    centre = Point(punch.at)
    if not outline.contains(centre):
        raise InputError(
            f"the hole at {_at(punch.at)} lies outside the panel; set it in, or take fewer or closer holes"
        )
    if outline.exterior.distance(centre) <= punch.diameter / 2.0:
        raise InputError(
            f"the hole of {format_both(punch.diameter)} at {_at(punch.at)} reaches over the edge; "
            "set it in by more, or take a smaller hole"
        )


def _check_mark(outline: Polygon, punches: Sequence[Punch], mark: tuple[float, float]) -> None:
    if not outline.contains(Point(mark)):
        raise InputError(
            f"the mark at {_at(mark)} lies outside the panel; "
            "take fewer marks, spread them less, or set them in by less"
        )
    for punch in punches:
        if math.dist(punch.at, mark) <= punch.diameter / 2.0:
            raise InputError(
                f"the mark at {_at(mark)} falls into a hole; spread the marks otherwise, or move the holes"
            )


def thin_leather(panel: Panel) -> list[str]:
    """Where a hole may tear out: a sentence for the narrowest place between holes, and to the edge."""
    found, holes = [], panel.punches
    between = [
        (a, math.dist(a.at, b.at) - (a.diameter + b.diameter) / 2.0) for a, b in combinations(holes, 2)
    ]
    edge = shapely.LinearRing(flatten(panel.outline, SAGITTA_MM))
    rims = [(hole, edge.distance(Point(hole.at)) - hole.diameter / 2.0) for hole in holes]
    for places, what in ((between, "between two holes"), (rims, "between a hole and the edge")):
        if places:
            punch, least = min(places, key=lambda place: place[1])
            if least < LEAST_SHARE * punch.diameter - 1e-6:
                found.append(
                    f"only {format_both(least)} of leather is left {what}: less than a hole's own width "
                    "tears out sooner"
                )
    return found


def _at(point: tuple[float, float]) -> str:
    return f"({point[0]:.1f}, {point[1]:.1f})"
