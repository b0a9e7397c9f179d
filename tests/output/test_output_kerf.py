"""Kerf compensation: exact against worked geometry, and against shapely's offset of the flattened outline."""

from __future__ import annotations

import dataclasses
import math

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.errors import InputError
from nesting.output.dxf import layout_to_dxf
from nesting.output.kerf import beside
from nesting.output.record import record
from nesting.output.strokes import Circle, Loop, Path, Text
from nesting.output.svg import layout_to_svg
from nesting.rings import area, flatten, reverse, signed_area

SQUARE = ((0, 0, 0.0), (50, 0, 0.0), (50, 50, 0.0), (0, 50, 0.0))


def with_kerf(layout, kerf, gap=0.5):
    return dataclasses.replace(layout, cutting=dataclasses.replace(layout.cutting, kerf_mm=kerf, gap_mm=gap))


def test_a_square_outward():
    """Minkowski sum of a square and a disc: a² + 4 a d + π d² (Steiner's formula)."""
    out = beside(SQUARE, 0.1, "a square")
    assert signed_area(out) == pytest.approx(2500 + 4 * 50 * 0.1 + math.pi * 0.01, rel=1e-9)
    assert len(out) == 8
    assert sorted({round(v[2], 9) for v in out}) == [0.0, round(math.tan(math.pi / 8), 9)]


def test_a_square_inward_keeps_its_corners():
    hole = beside(SQUARE, -0.1, "a square")
    assert signed_area(hole) == pytest.approx(49.8**2, rel=1e-12)
    assert len(hole) == 4


def test_a_disc_keeps_two_arcs():
    disc = ((-21, 0, 1.0), (21, 0, 1.0))
    for distance in (0.15, -0.15):
        ring = beside(disc, distance, "a disc")
        assert len(ring) == 2
        assert area(ring) == pytest.approx(math.pi * (21 + distance) ** 2, rel=1e-9)


def test_either_turn_goes_outward():
    assert area(beside(reverse(SQUARE), 0.1, "a square")) == pytest.approx(
        area(beside(SQUARE, 0.1, "a square"))
    )


def test_the_workshops_panels_stay_exact_arcs(workshop):
    for panel in workshop().panels:
        for distance in (0.1, -0.1):
            ring = beside(panel.outline, distance, panel.name)
            flat = shapely.Polygon(flatten(panel.outline, 1e-4)).buffer(distance, quad_segs=256)
            assert area(ring) == pytest.approx(flat.area, rel=1e-5)
            assert len(ring) <= 2 * len(panel.outline)
            assert any(v[2] for v in ring) == any(v[2] for v in panel.outline) or distance > 0


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(20, 60), st.floats(-0.4, 0.6)), min_size=3, max_size=9),
    st.sampled_from([0.075, 0.3, -0.075, -0.3]),
)
def test_any_star_agrees_with_shapely(spokes, distance):
    """Random star-shaped rings with arcs: within 0.011 mm of shapely's offset, corners and all.

    The path itself is held to 0.01 mm; the rest is what flattening costs at sharp corners.
    """
    count = len(spokes)
    ring = tuple(
        (r * math.cos(2 * math.pi * i / count), r * math.sin(2 * math.pi * i / count), b)
        for i, (r, b) in enumerate(spokes)
    )
    body = shapely.Polygon(flatten(ring, 1e-4))
    assume(body.is_valid)
    assume(isinstance(body.buffer(distance), shapely.Polygon))
    mine = shapely.Polygon(flatten(beside(ring, distance, "a star"), 1e-4))
    assert shapely.hausdorff_distance(mine, body.buffer(distance, quad_segs=128)) < 0.011


def test_the_layout_is_compensated_where_it_is_cut(workshop):
    layout = with_kerf(workshop(), 0.2)
    true, moved = record(layout)[0], record(layout, kerf_compensated=True)[0]
    sizes = {"outline": 0.1, "cut-out": -0.1}
    for one, other in zip(true.strokes, moved.strokes, strict=True):
        if isinstance(one, Loop) and one.layer == "cut":
            assert isinstance(other, Loop)
            flat = shapely.Polygon(flatten(one.ring, 1e-4)).buffer(sizes[one.role], quad_segs=64)
            assert area(other.ring) == pytest.approx(flat.area, rel=1e-5)
        elif isinstance(one, Circle):
            assert isinstance(other, Circle)
            assert other.diameter == pytest.approx(one.diameter - 0.2)
        elif one.role != "fact":
            assert one == other
    facts = [s.text for s in moved.strokes if isinstance(s, Text) and s.role == "fact"]
    assert any("half the kerf of 0.2 mm" in text for text in facts)
    assert not any("true size" in text for text in facts)


def test_neighbours_with_no_gap_share_one_compensated_cut(touching):
    """Each of two pieces a kerf apart loses half of it: both cuts fall on one line, cut once."""
    layout = with_kerf(touching(), 0.2, gap=0.0)
    laid = layout.hides[0]
    second = laid.placements[1]
    apart = dataclasses.replace(second, pose=dataclasses.replace(second.pose, at=(80.2, 0.0)))
    laid = dataclasses.replace(laid, placements=(laid.placements[0], apart))
    (drawing,) = record(dataclasses.replace(layout, hides=(laid,)), kerf_compensated=True)
    cuts = [s for s in drawing.strokes if s.role == "outline"]
    assert [type(s) for s in cuts] == [Loop, Path]


def test_no_kerf_stated_is_refused(workshop):
    with pytest.raises(InputError, match="no kerf"):
        layout_to_dxf(workshop(), kerf_compensated=True)


def test_a_punch_no_wider_than_the_kerf_is_refused(workshop):
    with pytest.raises(InputError, match="punch"):
        layout_to_svg(with_kerf(workshop(), 4.0), kerf_compensated=True)


def test_a_cutout_narrower_than_the_kerf_is_refused():
    slit = ((0, 0, 0.0), (30, 0, 0.0), (30, 0.15, 0.0), (0, 0.15, 0.0))
    with pytest.raises(InputError, match="too narrow"):
        beside(slit, -0.1, "the cut-out")


def test_the_check_square_says_whether_the_kerf_is_compensated(workshop):
    layout = with_kerf(workshop(), 0.2)
    for compensated, words in ((False, "kerf is not compensated here"), (True, "not on this square")):
        (drawing,) = record(layout, kerf_compensated=compensated)
        (note,) = [s.text for s in drawing.strokes if isinstance(s, Text) and "check square" in s.text]
        assert words in note
