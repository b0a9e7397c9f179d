"""What tells two plans apart that take as many pieces and leave as large a remnant."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide
from nesting.files.order import Order
from nesting.planning.demand import unit_of
from nesting.planning.leather import laid_outline, ring_polygon
from nesting.planning.mates import mismatch, well_mated
from nesting.planning.score import Plan

PRIME_STEP_MM2 = 100.0
"""Prime leather saved is counted in square centimetres: less is no difference to anybody."""

MATCH_STEP_MM = 1.0


def with_ties(order: Order, plan: Plan) -> Plan:
    """The plan with its pairs well mated, and those terms of its score that only count among equals."""
    mated = well_mated(order, plan)
    score = replace(
        plan.score,
        unsaved=-round(prime_saved(order, mated) / PRIME_STEP_MM2),
        mismatch=round(mismatch(order, mated) / MATCH_STEP_MM),
    )
    return replace(mated, score=score)


def prime_saved(order: Order, plan: Plan) -> float:
    """Marked leather, weak or blemished, that lies under pieces, in mm².

    Pieces take as much leather wherever they lie: each mm² of them on marked leather leaves one of prime.
    """
    saved = 0.0
    for hide, units in zip(order.hides, plan.on, strict=True):
        marked = _marked(hide)
        if not any(panel.accepts or panel.hidden_zones for panel in order.panels) or marked.is_empty:
            continue
        shapes = [
            laid_outline(order.lines[line].panel_of(other).outline, pose)
            for line, wanted, poses in units
            for (_, other), pose in zip(unit_of(order.lines, line, wanted).members, poses, strict=True)
        ]
        saved += float(shapely.area(shapely.intersection(shapes, marked)).sum())
    return saved


@lru_cache(maxsize=64)
def _marked(hide: Hide) -> BaseGeometry:
    """All of a hide's leather that is there and not prime."""
    flaws = {
        hole: [ring_polygon(flaw.outline) for flaw in hide.flaws if (flaw.severity == "hole") == hole]
        for hole in (False, True)
    }
    leather = ring_polygon(hide.outline).difference(shapely.union_all(flaws[True]))
    return shapely.union_all(flaws[False]).intersection(leather)
