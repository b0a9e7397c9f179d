"""Setting in and rounding off against shapely's offsets and the formula for a rounded corner."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from nesting.drafting.edges import round_off, set_in
from nesting.drafting.rows import crossings
from nesting.rings import Ring, arc_of, area, flatten

TRAPEZOID: Ring = ((-95.25, 0, 0), (95.25, 0, 0), (107.95, 114.3, 0), (-107.95, 114.3, 0))
KITE: Ring = ((0, 0, 0), (60, 40, 0), (10, 120, 0), (-70, 50, 0))
BELLIED: Ring = ((-50, 0, 0), (50, 0, 0.12), (80, 90, 0.08), (70, 140, 0), (-60, 140, 0.15))
"""Two smooth or nearly smooth joints and arcs of three radii."""
LENS: Ring = ((0, 0, 0.4), (100, 0, 0.4))


def corner_angles(ring: Ring) -> list[float]:
    """Inner angles of a straight-sided ring."""
    found = []
    for i in range(len(ring)):
        (ax, ay, _), (bx, by, _), (cx, cy, _) = ring[i - 1], ring[i], ring[(i + 1) % len(ring)]
        one, other = math.atan2(ay - by, ax - bx), math.atan2(cy - by, cx - bx)
        found.append((one - other) % (2 * math.pi))
    return found


@pytest.mark.parametrize("ring", [TRAPEZOID, KITE])
@pytest.mark.parametrize("radius", [0.5, 3.175, 15.0])
def test_rounding_takes_what_the_formula_says(ring: Ring, radius: float) -> None:
    """Geometry: r²(cot(θ/2) − (π − θ)/2) at each corner of angle θ, to 1e-6 mm²."""
    taken = sum(
        radius**2 * (1 / math.tan(theta / 2) - (math.pi - theta) / 2) for theta in corner_angles(ring)
    )
    rounded = round_off(ring, (radius,) * len(ring))
    assert rounded is not None
    assert taken > 0.02
    assert area(ring) - area(rounded) == pytest.approx(taken, abs=1e-6)


def test_rounded_corners_are_arcs_of_the_radius() -> None:
    rounded = round_off(TRAPEZOID, (15.0,) * 4)
    assert rounded is not None
    ends = rounded[1:] + rounded[:1]
    arcs = [
        arc_of(here[:2], after[:2], here[2]) for here, after in zip(rounded, ends, strict=True) if here[2]
    ]
    assert len(arcs) == 4
    for _, radius, _, sweep in arcs:
        assert radius == pytest.approx(15.0, abs=1e-9)
        assert 0 < sweep < math.pi
    assert sum(sweep for *_, sweep in arcs) == pytest.approx(2 * math.pi, abs=1e-9)


@pytest.mark.parametrize("ring", [TRAPEZOID, KITE, BELLIED])
@pytest.mark.parametrize("radius", [2.0, 12.0])
def test_rounding_against_shapely(ring: Ring, radius: float) -> None:
    """What a disc of the radius can sweep inside: shapely's offset in and out again."""
    rounded = round_off(ring, (radius,) * len(ring))
    assert rounded is not None
    swept = Polygon(flatten(ring, 1e-4)).buffer(-radius, quad_segs=256).buffer(radius, quad_segs=256)
    assert Polygon(flatten(rounded, 1e-4)).symmetric_difference(swept).area < 0.05


@pytest.mark.parametrize("ring", [TRAPEZOID, KITE, BELLIED, LENS])
@pytest.mark.parametrize("depth", [0.3, 3.175, 9.525])
def test_setting_in_against_shapely(ring: Ring, depth: float) -> None:
    inner = set_in(ring, (depth,) * len(ring))
    assert inner is not None
    expected = Polygon(flatten(ring, 1e-4)).buffer(-depth, quad_segs=256)
    assert Polygon(flatten(inner, 1e-4)).symmetric_difference(expected).area < 0.05


def test_each_edge_by_its_own_figure() -> None:
    inner = set_in(TRAPEZOID, (1.0, 9.525, 2.0, 9.525))
    assert inner is not None
    lean = math.atan2(12.7, 114.3)
    assert [y for _, y, _ in inner] == pytest.approx([1.0, 1.0, 112.3, 112.3])
    level = 50.0
    side = 95.25 + 12.7 * level / 114.3
    assert max(crossings(inner, level)) == pytest.approx(side - 9.525 / math.cos(lean), abs=1e-9)


def test_without_room() -> None:
    assert set_in(TRAPEZOID, (57.2,) * 4) is None
    assert set_in(TRAPEZOID, (57.1,) * 4) is not None
    assert set_in(LENS, (60.0,) * 2) is None
    square: Ring = ((0, 0, 0), (20, 0, 0), (20, 20, 0), (0, 20, 0))
    assert round_off(square, (10.01,) * 4) is None
    disc = round_off(square, (10.0,) * 4)
    assert disc is not None
    assert len(disc) == 4
    assert area(disc) == pytest.approx(math.pi * 100, abs=1e-9)


def test_left_as_it_is() -> None:
    assert round_off(BELLIED, (0.0,) * 5) == BELLIED
    one = round_off(TRAPEZOID, (0.0, 5.0, 0.0, 0.0))
    assert one is not None
    assert len(one) == 5
    assert one[0] == TRAPEZOID[0]


@given(st.floats(0.01, 8), st.floats(20, 300), st.floats(20, 300), st.floats(20, 300))
def test_setting_in_and_out_again(depth: float, lower: float, upper: float, height: float) -> None:
    ring = ((-lower / 2, 0, 0), (lower / 2, 0, 0), (upper / 2, height, 0), (-upper / 2, height, 0))
    inner = set_in(ring, (depth,) * 4)
    if inner is None:
        assert Polygon(flatten(ring)).buffer(-depth, join_style="mitre").exterior.length < lower + upper
        return
    back = set_in(inner, (-depth,) * 4)
    assert back is not None
    for (x0, y0, _), (x1, y1, _) in zip(ring, back, strict=True):
        assert math.dist((x0, y0), (x1, y1)) < 1e-6
