"""Straight and rough edges: what planning leaves of a hide keeps the margins that the judge measures."""

from __future__ import annotations

import math

import pytest

from nesting.files.hide import Hide
from nesting.files.order import Cutting
from nesting.judge import TOLERANCE_MM
from nesting.judge.edges import portions
from nesting.planning.leather import inside_margins

CUTTING = Cutting(gap_mm=0.5, edge_margin_mm=6, straight_edge_margin_mm=1.5, flaw_margin_mm=3)


@pytest.mark.parametrize("lean", [-390.0, -150.0, -40.0, 0.0, 0.5, 30.0, 150.0, 390.0])
def test_the_corner_at_the_end_of_a_straight_edge(lean: float) -> None:
    """The rough side begins in the corner itself, however it leans, and keeps its 6 mm from there on."""
    outline = ((0, 0, 0), (1000, 0, 0), (1000 - lean, 400, 0), (lean, 400, 0))
    hide = Hide("offcut", outline, straight_edges=(((0.0, 0.0), (1000.0, 0.0)),))
    rough, straight = portions(hide)
    free = inside_margins(hide, CUTTING)
    assert free.distance(rough) >= 6 - TOLERANCE_MM
    assert free.distance(straight) >= 1.5 - TOLERANCE_MM
    assert free.distance(straight) < 1.6  # and no more than that is given away


def test_a_straight_edge_that_ends_where_the_outline_turns_out() -> None:
    """Beyond the end of a cut the hide goes on, a step lower: that step is rough from its first point."""
    outline = ((0, 0, 0), (400, 0, 0), (399.6, -60, 0), (1000, -60, 0), (1000, 500, 0), (0, 500, 0))
    hide = Hide("offcut", outline, straight_edges=(((0.0, 0.0), (400.0, 0.0)),))
    assert inside_margins(hide, CUTTING).distance(portions(hide)[0]) >= 6 - TOLERANCE_MM


def test_a_wavy_straight_edge_stays_straight() -> None:
    """Waves within the band, though they turn by 45 degrees, keep the straight-edge margin only."""
    waves = tuple((i / 2, 0.4 * (i % 2), 0.0) for i in range(2001))
    hide = Hide("offcut", (*waves, (1000, 500, 0), (0, 500, 0)), straight_edges=(((0, 0), (1000, 0)),))
    # 1.5 mm from two crests that lie 0.4 mm high and 1 mm apart (Pythagoras).
    lowest = 0.4 + math.sqrt(1.5**2 - 0.5**2)
    assert inside_margins(hide, CUTTING).bounds[1] == pytest.approx(lowest, abs=0.03)
