"""Keeping an outline: inside, few points, straight edges; thin lines and their ends."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nesting.capture.inside import simplified_inside
from nesting.capture.shape import MOST_VERTICES, SLACK, clean_polygon, keep
from nesting.capture.thin import line_ends, thinned


def rough(seed: int = 0, straight: bool = True) -> np.ndarray:
    """A blob of about 900 × 500 mm with a rough edge; its lower side cut true at y = -150."""
    rng = np.random.default_rng(seed)
    t = np.linspace(0, 2 * np.pi, 6000, endpoint=False)
    noise = np.convolve(rng.normal(0, 1, 6000), np.ones(25) / 25, "same")
    r = 1 + 0.01 * noise
    p = np.column_stack((450 * r * np.cos(t), 250 * r * np.sin(t)))
    if straight:
        p[:, 1] = np.maximum(p[:, 1], -150 + rng.normal(0, 0.08, 6000))
    return p


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_kept_outline_lies_inside_and_is_nearly_as_large(seed: int) -> None:
    measured = clean_polygon(rough(seed))
    kept = keep(measured, 0.15)
    polygon = shapely.Polygon(kept.outline)
    assert polygon.is_valid
    assert measured.buffer(0.05).covers(polygon)
    # A rough edge costs its own dents: the margin alone takes 0.1 %.
    assert 0.996 < polygon.area / measured.area < 1.0
    assert len(kept.outline) <= MOST_VERTICES + 4


@pytest.mark.parametrize("seed", range(6))
def test_fewer_points_never_leave_the_ring_and_stay_close_to_it(seed: int) -> None:
    ring = rough(seed, straight=False)[::8]
    whole = shapely.Polygon(ring)
    assert whole.is_valid
    few = shapely.Polygon(simplified_inside(ring, 150, 0.2))
    assert len(few.exterior.coords) - 1 == 150
    assert few.is_valid
    assert whole.buffer(1e-6).covers(few)
    # Plain simplification to as many points, pushed inwards until it lies inside, is what it must beat.
    step = next(s for s in np.arange(0.1, 9.0, 0.1) if len(whole.simplify(s).exterior.coords) <= 151)
    plain = shapely.simplify(whole.buffer(-step, join_style="mitre"), step)
    assert whole.area - few.area < 0.7 * (whole.area - plain.area)


def test_points_that_move_nothing_go_and_slack_bounds_what_goes() -> None:
    square = np.array([[0.0, 0.0], [50, 0], [100, 0], [100, 100], [50, 99.5], [0, 100]])
    # The dent of 0.5 mm may be bridged within at the price of its corners, the middle of a side is free.
    assert len(simplified_inside(np.vstack((square, [[0, 66], [0, 33]])), 8, 0.0)) == 8
    ring = np.vstack((square, [[0, 75], [0, 50], [0, 25]]))
    assert len(simplified_inside(ring, 3, 0.0)) == 8
    blob = rough(3, straight=False)
    for slack in (0.1, 0.4):
        few = shapely.Polygon(simplified_inside(blob, 6000, slack))
        away = shapely.distance(few.exterior, shapely.points(blob))
        assert away.max() <= slack + 1e-9


def test_the_cut_edge_is_found_and_lies_on_the_outline() -> None:
    kept = keep(clean_polygon(rough()), 0.15)
    assert len(kept.straight) == 1
    (x0, y0), (x1, y1) = kept.straight[0]
    assert x1 - x0 == pytest.approx(2 * 450 * 0.8, abs=15)  # the chord of the ellipse at y = -150
    # Inside the true edge by the margin, by what simplifying may take, and by the edge's own roughness.
    assert -150 < y0 < -150 + 0.15 + SLACK + 0.3
    assert y1 == pytest.approx(y0, abs=0.3)
    edge = shapely.Polygon(kept.outline).exterior.buffer(1.0)
    assert edge.covers(shapely.LineString(kept.straight[0]))


def test_a_round_hide_has_no_straight_edge() -> None:
    assert keep(clean_polygon(rough(straight=False)), 0.15).straight == ()


def test_a_broad_stroke_thins_to_one_line_with_two_ends() -> None:
    mask = np.zeros((60, 90), bool)
    mask[28:33, 10:80] = True
    line = thinned(mask)
    assert 60 <= line.sum() <= 72
    assert set(np.nonzero(line)[0]) <= {29, 30, 31}
    ends = sorted(line_ends(line, 6, 8), key=lambda e: e.at[1])
    assert [round(e.direction[1]) for e in ends] == [-1, 1]


def test_a_closed_ring_has_no_end() -> None:
    y, x = np.mgrid[-40:41, -40:41]
    ring = np.abs(np.hypot(x, y) - 28) < 2.6
    line = thinned(ring)
    assert line.any()
    assert line_ends(line, 6, 8) == []


def test_an_open_ring_has_two_ends_that_face_each_other() -> None:
    y, x = np.mgrid[-40:41, -40:41]
    ring = (np.abs(np.hypot(x, y) - 28) < 2.6) & ~((x > 0) & (np.abs(y) < 5))
    ends = line_ends(thinned(ring), 6, 8)
    assert len(ends) == 2
    assert ends[0].direction[0] * ends[1].direction[0] < 0
