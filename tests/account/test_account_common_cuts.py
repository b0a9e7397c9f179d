"""Straight cuts in common: by hand on rectangles, and against the drawing that cuts them once."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.account import account, report_lines, report_to_json
from nesting.files.hide import Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.files.report_file import check_report
from nesting.output.record import record
from nesting.output.strokes import Loop, Path, flat_path
from nesting.rings import Pose, Ring, flatten

ROUND_END: Ring = ((0, 0, 0), (80, 0, 1), (80, 50, 0), (0, 50, 0))
"""A slip with a half circle at its right end."""


SLIP: Ring = ((0, 0, 0), (80, 0, 0), (80, 50, 0), (0, 50, 0))


def laid(
    *slips: tuple[float, float, float], ring: Ring = SLIP, gap: float = 0.0, kerf: float = 0.0
) -> Layout:
    """Pieces of one outline, each at (x, y) and turned by so many degrees about its corner."""
    placements = tuple(
        Placement(f"slip-{i}", "slip", Pose(False, turn, (x, y))) for i, (x, y, turn) in enumerate(slips)
    )
    cutting = Cutting("laser", kerf_mm=kerf, gap_mm=gap)
    hide = Hide("back", ((-500, -500, 0), (1500, -500, 0), (1500, 1500, 0), (-500, 1500, 0)))
    return Layout("Slips", 1, cutting, (Panel("slip", ring),), (LaidHide(hide, placements),))


def common(layout: Layout) -> float:
    return account(layout).common_cut_mm


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        ((80.0, 0.0, 0.0), 50.0),
        ((80.0, 30.0, 0.0), 20.0),  # 50 - 30
        ((80.0, -49.95, 0.0), 0.0),  # a touch at the corner
        ((80.02, 0.0, 0.0), 50.0),
        ((79.98, 0.0, 0.0), 50.0),
        ((80.03, 0.0, 0.0), 0.0),
        # 50 mm at 0.05 degrees part by 0.044 mm, at 0.02 degrees by 0.017 mm.
        ((80.0, 0.0, -0.05), 0.0),
        ((80.0, 0.0, -0.02), 50.0),
        ((160.0, 50.0, 180.0), 50.0),
        ((0.0, 50.0, 0.0), 80.0),
    ],
)
def test_two_slips(at: tuple[float, float, float], expected: float) -> None:
    assert common(laid((0.0, 0.0, 0.0), at)) == pytest.approx(expected, abs=0.03)


def test_a_kerf_or_a_gap_leaves_nothing_in_common() -> None:
    slips = (0.0, 0.0, 0.0), (80.0, 0.0, 0.0)
    assert common(laid(*slips)) == pytest.approx(50.0)
    assert common(laid(*slips, gap=0.01)) == 0.0
    assert common(laid(*slips, kerf=0.2)) == 0.0


def test_arcs_are_no_straight_sides() -> None:
    """Two round ends back to back touch at one point; beside one another they share their long sides."""
    assert common(laid((0, 0, 0), (210.0, 50.0, 180.0), ring=ROUND_END)) == 0.0
    assert common(laid((0, 0, 0), (0, 50.0, 0), ring=ROUND_END)) == pytest.approx(80.0)


def test_the_report_says_so() -> None:
    """Two hides of a report are added up; a report without the field is still one."""
    first = laid((0.0, 0.0, 0.0), (80.0, 0.0, 0.0))
    (hide,) = first.hides
    more = tuple(replace(p, piece=f"{p.piece}b") for p in hide.placements)
    both = replace(first, hides=(hide, LaidHide(replace(hide.hide, name="side"), more)))
    report = account(both)
    data = report_to_json(report)
    assert data["common_cut_mm"] == pytest.approx(100.0)
    assert [one["common_cut_mm"] for one in data["hides"]] == pytest.approx([50.0, 50.0])
    check_report(data, "report.json")
    del data["common_cut_mm"]
    check_report(data, "report.json")
    assert ("straight cuts in common", "100 mm, cut once") in report_lines(report)
    apart = account(laid((0.0, 0.0, 0.0), (90.0, 0.0, 0.0)))
    assert "straight cuts in common" not in dict(report_lines(apart))


@settings(max_examples=30, deadline=None)
@given(
    starts=st.lists(st.floats(0.0, 60.0), min_size=2, max_size=4),
    turn=st.floats(-180.0, 180.0),
    gaps=st.lists(st.sampled_from([0.0, 0.0, 0.015, 0.4]), min_size=4, max_size=4),
)
def test_what_is_in_common_is_missing_from_the_drawing(
    starts: list[float], turn: float, gaps: list[float]
) -> None:
    """Courses of slips as in a wall, turned as a whole: drawn once is outlines less what they share."""
    angle = math.radians(turn)
    slips, y = [], 0.0
    for start, gap in zip(starts, gaps, strict=False):
        for k in range(3):
            x = start + 80.0 * k
            slips.append(
                (
                    500 + x * math.cos(angle) - y * math.sin(angle),
                    500 + x * math.sin(angle) + y * math.cos(angle),
                    turn,
                )
            )
        y += 50.0 + gap
    layout = laid(*slips)
    (drawing,) = record(layout)
    strokes = [s for s in drawing.strokes if isinstance(s, Loop | Path) and s.role == "outline"]
    drawn = sum(map(length, strokes))
    # Ends within 0.1 mm of a corner are drawn to the corner.
    assert common(layout) == pytest.approx(260.0 * len(slips) - drawn, abs=0.1 * len(slips))
    assert common(layout) >= 100.0 * len(starts) - 1e-6


def length(stroke: Loop | Path) -> float:
    if isinstance(stroke, Loop):
        return float(shapely.LinearRing(flatten(stroke.ring)).length)
    return float(shapely.LineString(flat_path(stroke.points)).length)
