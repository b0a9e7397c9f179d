"""Strokes, loops and zones on small hand-made sheets of leather: 1.6 px a mm, no camera."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import shapely

from nesting.capture.loop_zone import _at_full_width, _merged
from nesting.capture.marks import marks_on
from nesting.capture.plan import Plan
from nesting.capture.strokes import Sheet, _narrow, _strength
from nesting.capture.words import name_of
from nesting.capture.zones import UNCERTAINTY, zone_ring

SCALE = 1.6
ROWS, COLUMNS = 200, 240
PLAN = Plan(0.0, ROWS / SCALE, SCALE, COLUMNS, ROWS)
TAN = np.array([0.25, 0.42, 0.62], np.float32)


def sheet(line: np.ndarray, width: float, closed: bool = True, shadow: int | None = None) -> Sheet:
    """Tan leather with one blue stroke along ``line`` (n, 2) px; left of column ``shadow`` it is lit."""
    rng = np.random.default_rng(3)
    big = np.zeros((ROWS * 8, COLUMNS * 8), np.uint8)
    points = np.round((line + 0.5) * 8 - 0.5).astype(np.int32)
    cv2.polylines(big, [points], closed, 255, round(width * 8))
    cover = cv2.resize(big, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA)[..., None] / np.float32(255)
    linear = TAN * (1 - cover) + np.array([0.5, 0.1, 0.04], np.float32) * cover
    if shadow is not None:
        linear[:, shadow:] *= np.float32(0.6)
    linear = linear * (1 + 0.02 * rng.standard_normal((ROWS, COLUMNS, 3))).astype(np.float32)
    free = np.zeros((ROWS, COLUMNS), bool)
    free[6:-6, 6:-6] = True
    leather = np.broadcast_to(TAN, linear.shape).copy()
    if shadow is not None:
        # As a local mean sees it: the step is smeared over a centimetre and more.
        ramp = 1 - 0.4 / (1 + np.exp(-(np.arange(COLUMNS) - shadow) / 12.0))
        leather *= ramp[None, :, None].astype(np.float32)
    soft = cv2.GaussianBlur(linear, (0, 0), 0.45 * SCALE)
    strength = _strength(soft, leather, free, SCALE)
    return Sheet(PLAN, free, _narrow(strength, free, SCALE), strength, linear, leather)


def circle(x: float, y: float, radius: float, share: float = 1.0) -> np.ndarray:
    angle = np.linspace(0, 2 * np.pi * share, 200)
    return np.column_stack((x + radius * np.cos(angle), y + radius * np.sin(angle)))


def covered(outline: np.ndarray, line: np.ndarray, width: float) -> tuple[bool, float]:
    """Whether a zone covers the loop and its stroke, and by how many mm it is larger."""
    true = shapely.Polygon(PLAN.to_mm(line)).buffer(width / 2 / SCALE)
    zone = shapely.Polygon(outline)
    return bool(zone.covers(true)), (zone.area - true.area) / true.length


def test_a_loop_is_covered_and_hardly_more() -> None:
    line = circle(110, 100, 40)
    loops, left = marks_on(sheet(line, 4.0))
    assert len(loops) == 1
    assert left == []
    assert loops[0].colour == "blue"
    inside, more = covered(loops[0].outline, line, 4.0)
    assert inside
    assert more < 1.2


@pytest.mark.parametrize("share", [0.99, 0.97, 0.95])
def test_the_gap_of_a_nearly_closed_loop_is_bridged_with_its_bend(share: float) -> None:
    loops, left = marks_on(sheet(circle(110, 100, 45, share), 3.0, closed=False))
    assert (len(loops), left) == (1, [])
    inside, more = covered(loops[0].outline, circle(110, 100, 45), 3.0)
    assert inside
    assert more < 1.5


def test_a_half_circle_stays_open_and_is_named() -> None:
    loops, left = marks_on(sheet(circle(110, 100, 40, 0.5), 4.0, closed=False))
    assert loops == []
    assert len(left) == 1
    assert left[0].length == pytest.approx(np.pi * 40 / SCALE, rel=0.1)
    # The middle of a half circle's stroke, 2 r / pi below its centre in the picture.
    assert left[0].at == pytest.approx(tuple(PLAN.to_mm(np.array([[110.0, 100 + 80 / np.pi]]))[0]), abs=1.5)


def test_the_edge_of_the_hide_closes_a_loop_right_up_to_it() -> None:
    line = circle(20, 100, 40)
    loops, _ = marks_on(sheet(line, 4.0))
    assert len(loops) == 1
    # The leather reaches 1.6 mm beyond where strokes are looked for.
    left, right = 3.5 / SCALE, (COLUMNS - 4) / SCALE
    leather = shapely.box(left, 3.0, right, ROWS / SCALE - 3.0)
    true = shapely.Polygon(PLAN.to_mm(line)).buffer(2.0 / SCALE).intersection(leather)
    assert shapely.Polygon(loops[0].outline).covers(true)


def test_the_soft_sides_of_a_strong_stroke_do_not_make_it_broad() -> None:
    # On dark leather what lens and file smear of a bright stroke is above the threshold for 6 mm each way.
    away = np.abs(np.arange(ROWS) - 100.0)[:, None] / SCALE
    strength = np.broadcast_to(60.0 * np.exp(-((away / 3.8) ** 2)), (ROWS, COLUMNS)).astype(np.float32)
    free = np.ones((ROWS, COLUMNS), bool)
    assert _narrow(strength, free, SCALE)[100].all()
    # A patch as broad as that all over is none.
    assert not _narrow(np.where(away < 6.0, strength * 0 + 30.0, 0.0).astype(np.float32), free, SCALE).any()


@pytest.mark.parametrize(("strength", "number"), [(6.5, 0), (12.0, 1)])
def test_what_encloses_nothing_must_be_plain_to_see(strength: float, number: int) -> None:
    strokes = np.zeros((ROWS, COLUMNS), bool)
    strokes[90:96, 80:140] = True
    shown = np.where(strokes, strength, 0.0).astype(np.float32)
    shown[93, 100:105] = 9.0
    bare = sheet(np.array([[-50.0, -50.0], [-40.0, -40.0]]), 1.0)
    loops, left = marks_on(Sheet(PLAN, bare.free, strokes, shown, bare.linear, bare.leather))
    assert (len(loops), len(left)) == (0, number)


def test_a_stroke_keeps_its_width_where_little_is_seen_of_it() -> None:
    stroke = np.zeros((60, 120), bool)
    stroke[27:34, 5:115] = True
    seen = stroke.copy()
    seen[27:30, 50:60] = seen[31:34, 50:60] = False
    line = np.zeros_like(stroke)
    line[30, 9:111] = True
    drawn = _at_full_width(line, seen, SCALE)
    assert drawn[27:34, 50:60].all()
    assert not drawn[:26].any()
    assert not drawn[35:].any()


def test_strokes_that_run_together_belong_to_the_loop_right_to_their_end() -> None:
    # Two strokes of 6 px that meet in a point: their inside ends where they touch.
    mine = np.zeros((100, 60), np.uint8)
    cv2.line(mine, (10, 5), (29, 90), 1, 6)
    cv2.line(mine, (50, 5), (31, 90), 1, 6)
    reach = np.zeros(mine.shape, bool)
    reach[:72] = True
    reach |= _merged(mine > 0, reach, 0.7 * 6)
    assert reach[:90][mine[:90] > 0].all()
    lone = np.zeros((100, 60), np.uint8)
    cv2.line(lone, (30, 5), (30, 90), 1, 6)
    assert not _merged(lone > 0, np.arange(100)[:, None] < np.full(60, 40), 0.7 * 6).any()


def test_the_edge_of_a_shadow_is_no_stroke() -> None:
    bare = sheet(np.array([[-50.0, -50.0], [-40.0, -40.0]]), 1.0, shadow=120)
    assert not bare.strokes.any()


def test_a_loop_across_the_edge_of_a_shadow_is_whole() -> None:
    line = circle(118, 100, 40)
    loops, left = marks_on(sheet(line, 4.0, shadow=120))
    assert (len(loops), left) == (1, [])
    inside, more = covered(loops[0].outline, line, 4.0)
    assert inside
    assert more < 1.5


def test_a_zone_is_grown_by_what_it_says() -> None:
    zone = np.zeros((40, 40), bool)
    zone[10:30, 10:30] = True
    ring = shapely.Polygon(zone_ring(zone, (0, 0), PLAN))
    # Twenty pixels from border to border, not from middle to middle.
    true = shapely.Polygon(PLAN.to_mm(np.array([[9.5, 9.5], [29.5, 9.5], [29.5, 29.5], [9.5, 29.5]])))
    assert ring.covers(true)
    assert np.sqrt(ring.area) == pytest.approx(20 / SCALE + 2 * UNCERTAINTY, abs=0.25)


@pytest.mark.parametrize(
    ("rgb", "word"),
    [
        ((0.55, 0.02, 0.02), "red"),
        ((0.02, 0.06, 0.43), "blue"),
        ((0.8, 0.62, 0.06), "yellow"),
        ((0.85, 0.85, 0.84), "white"),
        ((0.01, 0.01, 0.01), "black"),
        ((0.5, 0.02, 0.16), "pink"),
    ],
)
def test_colours_have_plain_names(rgb: tuple[float, float, float], word: str) -> None:
    assert name_of(np.array(rgb), np.array([0.3, 0.2, 0.1])) == word
