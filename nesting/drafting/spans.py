"""Which dimensions a drafted panel shows, by the edge of the panel that they stand at."""

from __future__ import annotations

import math

from nesting.drafting.dimensions import Edge, Span
from nesting.drafting.draft import Draft
from nesting.drafting.rows import crossings
from nesting.files.measures import BuckleHoles, Disc, LegPanel, Strap
from nesting.files.panel import Punch
from nesting.rings import Point
from nesting.units import format_both

Tier = tuple[Span, ...]
"""Dimensions that stand on one line."""


def spans(one: Draft) -> dict[Edge, list[Tier]]:
    """Dimensions at each edge of the panel, the nearest tier first."""
    plan, shape, measures = one.plan, one.shape, one.measures
    if isinstance(shape, Disc):
        r = shape.diameter_mm / 2.0
        return {"left": [], "right": [], "top": [], "bottom": [_across((-r, r), r)]}
    marks, count = one.panel.marks, measures.marks_top.count if measures.marks_top else 0
    top, bottom = _chain(marks[:count]), _chain(marks[count:])
    for _, y in plan.levels:
        if y == 0.0:
            bottom.append(_across(ends(one, y), y))
        elif y == plan.height:
            top += [
                *(_halves(ends(one, y), y) if isinstance(shape, LegPanel) else []),
                _across(ends(one, y), y),
            ]
    return {"left": _heights(one), "right": [], "top": top, "bottom": bottom}


def ends(one: Draft, y: float) -> tuple[float, float]:
    """Where the sharp outline begins and ends at a level."""
    xs = crossings(one.plan.ring, y)
    return min(xs), max(xs)


def _across(at: tuple[float, float], y: float) -> Tier:
    return (Span((at[0], y), (at[1], y), format_both(at[1] - at[0])),)


def _halves(at: tuple[float, float], y: float) -> list[Tier]:
    """The two sides of the centre line where they differ."""
    if math.isclose(-at[0], at[1], abs_tol=0.05):
        return []
    halves = [Span((0.0, y), (end, y), format_both(abs(end))) for end in at]
    return [tuple(halves)]


def _chain(row: tuple[Point, ...]) -> list[Tier]:
    """First to last of an even row, as so many steps."""
    if len(row) < 2:
        return []
    return [(Span(row[0], row[-1], _steps(len(row) - 1, math.dist(row[0], row[1]))),)]


def _steps(count: int, step: float) -> str:
    return format_both(step) if count == 1 else f"{count} × {format_both(step)}"


def _heights(one: Draft) -> list[Tier]:
    """Along the left side: holes, what lies between the edges, the whole."""
    plan, row, buckle = one.plan, one.rows[0], one.measures.buckle_holes
    found: list[Tier] = []
    if len(row) > 1:
        found.append((Span(row[0].at, row[-1].at, _steps(len(row) - 1, row[1].at[1] - row[0].at[1])),))
    if buckle is not None:
        found += _buckle(one.panel.punches[-buckle.count :], buckle, plan.height)
    if isinstance(one.shape, Strap):
        found += _mark_insets(one)
    low, high = ends(one, 0.0)[0], ends(one, plan.height)[0]
    between = [y for _, y in plan.levels if 0.0 < y < plan.height]
    found += [(Span((low, 0.0), (ends(one, y)[0], y), format_both(y)),) for y in between]
    return [*found, (Span((low, 0.0), (high, plan.height), format_both(plan.height)),)]


def _mark_insets(one: Draft) -> list[Tier]:
    """How far the marks lie from the ends of a strap, as a leader would have to run all along it."""
    marks, measures, height = one.panel.marks, one.measures, one.plan.height
    found: list[Tier] = []
    if measures.marks_top:
        found.append((Span(marks[0], (0.0, height), format_both(measures.marks_top.inset_mm)),))
    if measures.marks_bottom:
        first = marks[-measures.marks_bottom.count]
        found.append((Span((first[0], 0.0), first, format_both(measures.marks_bottom.inset_mm)),))
    return found


def _buckle(row: tuple[Punch, ...], buckle: BuckleHoles, tip: float) -> list[Tier]:
    """Along the row, and from the tip to the first hole.

    Each has its words beside it, before the row: those of the farther tier meet no extension line there.
    """
    found: list[Tier] = [(Span(row[0].at, (0.0, tip), format_both(buckle.start_mm)),)]
    if buckle.count > 1:
        found.insert(0, (Span(row[-1].at, row[0].at, _steps(buckle.count - 1, buckle.spacing_mm)),))
    return found
