"""Curves to arcs: measured against the curves themselves, densely sampled."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from nesting.drawings.curves import TOLERANCE_MM, arc, arcs_along, bulge_through, circle
from nesting.rings import area, flatten


def ellipse(t: np.ndarray) -> np.ndarray:
    return np.column_stack((140 * np.cos(t), 35 * np.sin(t)))


def bezier(*controls: tuple[float, float]):
    p = np.array(controls, dtype=float)

    def at(t: np.ndarray) -> np.ndarray:
        s = 1 - t
        weights = np.column_stack((s**3, 3 * s**2 * t, 3 * s * t**2, t**3))
        return weights @ p

    return at


CURVES = {
    "ellipse": (ellipse, [0, math.pi, 2 * math.pi]),
    "quarter": (bezier((0, 0), (0, 55.2), (44.8, 100), (100, 100)), [0, 0.5, 1]),
    "s-shaped": (bezier((0, 0), (150, 0), (-50, 100), (100, 100)), [0, 0.5, 1]),
    "cusp": (bezier((0, 0), (100, 100), (0, 100), (100, 0)), [0, 1]),
    "loop": (bezier((0, 0), (300, 100), (-200, 100), (100, 0)), [0, 1]),
    "symmetric without a break": (bezier((0, 0), (50, 200), (50, -200), (100, 0)), [0, 1]),
    "small": (bezier((0, 0), (0.3, 0.5), (0.6, -0.5), (1, 0)), [0, 1]),
    "straight": (bezier((0, 0), (10, 10), (20, 20), (30, 30)), [0, 1]),
}


@pytest.mark.parametrize("name", CURVES)
def test_arcs_stay_within_the_tolerance_both_ways(name: str) -> None:
    curve, breaks = CURVES[name]
    run = arcs_along(curve, breaks)
    fine = curve(np.linspace(breaks[0], breaks[-1], 4001))
    arcs = flatten(tuple(run), 1e-4)
    assert shapely.distance(shapely.points(fine), shapely.LineString(arcs)).max() <= TOLERANCE_MM
    assert shapely.distance(shapely.points(arcs), shapely.LineString(fine)).max() <= TOLERANCE_MM
    assert run[0][:2] == pytest.approx(tuple(fine[0]), abs=1e-12)
    assert run[-1][:2] == pytest.approx(tuple(fine[-1]), abs=1e-12)


def test_arcs_need_fewer_pieces_than_chords() -> None:
    run = arcs_along(ellipse, [0, math.pi, 2 * math.pi])
    chord = 2 * math.acos(1 - TOLERANCE_MM / 140)  # the step of chords on the circle of the long axis
    assert len(run) < 2 * math.pi / chord


def test_straight_curve_is_one_chord() -> None:
    assert arcs_along(*CURVES["straight"]) == [(0, 0, 0), (30, 30, 0)]


def test_ellipse_area_against_pi_a_b() -> None:
    ring = tuple(arcs_along(ellipse, [0, math.pi, 2 * math.pi])[:-1])
    assert area(ring) == pytest.approx(math.pi * 140 * 35, abs=600 * TOLERANCE_MM)  # perimeter x tolerance


@pytest.mark.parametrize("angle", [-350, -270, -180, -90, -1, 1, 45, 180, 200, 270, 359])
def test_bulge_through_three_points_of_a_circle(angle: float) -> None:
    on = [
        (5 + 3 * math.cos(math.radians(a)), 7 + 3 * math.sin(math.radians(a))) for a in (10, 10 + angle / 2)
    ]
    end = (5 + 3 * math.cos(math.radians(10 + angle)), 7 + 3 * math.sin(math.radians(10 + angle)))
    assert bulge_through(*on, end) == pytest.approx(math.tan(math.radians(angle) / 4), rel=1e-9)


@pytest.mark.parametrize("clockwise", [False, True])
def test_circle_is_exact(clockwise: bool) -> None:
    ring = tuple(circle((3, 4), 7, clockwise=clockwise))
    assert area(ring) == pytest.approx(math.pi * 49, rel=1e-14)
    assert (ring[0][2] < 0) is clockwise


@pytest.mark.parametrize("sweep", [math.pi, -math.pi, 0.3, 4.5, -6.0])
def test_arc_area_against_the_circular_segment(sweep: float) -> None:
    start, end = (10.0, 0.0), (10 * math.cos(sweep), 10 * math.sin(sweep))
    run = arc(start, end, sweep)
    assert all(abs(bulge) <= 1 for *_, bulge in run)
    expected = 50 * abs(sweep - math.sin(sweep))  # r²(θ - sin θ)/2, plane geometry
    assert area(tuple(run)) == pytest.approx(expected, rel=1e-12)
