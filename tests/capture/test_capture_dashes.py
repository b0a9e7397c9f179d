"""Dashed loops: small hand-made sheets of leather, 1.6 px a mm, no camera; and a rendered photograph."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np
import pytest
import shapely
from conftest import small_scene
from test_capture_marks import COLUMNS, PLAN, ROWS, SCALE, TAN, circle

from benchmarks.capture import SHORT_MM, Row, compare
from benchmarks.render import _drawn, truth
from benchmarks.scenes import Stroke, with_dashes
from benchmarks.shapes import loop
from nesting.capture.flaws import look_of, severity_of
from nesting.capture.marks import Mark, OpenMark, marks_on
from nesting.capture.measure import Wishes, measure_photograph
from nesting.capture.rows import find_rows
from nesting.capture.strokes import Sheet, _narrow, _strength

BLUE, RED = (0.5, 0.1, 0.04), (0.03, 0.04, 0.6)
WIDTH = 2.2  # mm


def sheet(*drawn: tuple[list[np.ndarray], tuple[float, float, float]], width: float = WIDTH) -> Sheet:
    """Tan leather with lines (n, 2) px drawn ``width`` mm wide, each list in its linear BGR colour."""
    rng = np.random.default_rng(3)
    linear = np.broadcast_to(TAN, (ROWS, COLUMNS, 3)).copy()
    for lines, colour in drawn:
        big = np.zeros((ROWS * 8, COLUMNS * 8), np.uint8)
        points = [np.round((line + 0.5) * 8 - 0.5).astype(np.int32) for line in lines]
        cv2.polylines(big, points, False, 255, round(width * SCALE * 8))
        cover = cv2.resize(big, (COLUMNS, ROWS), interpolation=cv2.INTER_AREA)[..., None] / np.float32(255)
        linear = linear * (1 - cover) + np.array(colour, np.float32) * cover
    linear = linear * (1 + 0.02 * rng.standard_normal((ROWS, COLUMNS, 3))).astype(np.float32)
    free = np.zeros((ROWS, COLUMNS), bool)
    free[6:-6, 6:-6] = True
    leather = np.broadcast_to(TAN, linear.shape).copy()
    strength = _strength(cv2.GaussianBlur(linear, (0, 0), 0.45 * SCALE), leather, free, SCALE)
    return Sheet(PLAN, free, _narrow(strength, free, SCALE), strength, linear, leather)


def dashes(line: np.ndarray, length: float, gap: float, uneven: float = 0.2) -> list[np.ndarray]:
    """Pieces of a line (n, 2) px, in mm: as many as make it full, each longer or shorter by up to ``uneven``.

    What is seen of them is longer by the width of the pen, and the gaps are narrower by that.
    """
    rng = np.random.default_rng(1)
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T)))) / SCALE
    count = round(at[-1] / (length + gap))
    step, share = at[-1] / count, length / (length + gap)
    starts = step * np.arange(count)
    ends = starts + step * share * rng.uniform(1 - uneven, 1 + uneven, count)
    steps = (np.linspace(a, b, 12) for a, b in zip(starts, ends, strict=True))
    return [np.column_stack([np.interp(v, at, line[:, i]) for i in (0, 1)]) for v in steps]


def short(loops: list[Mark], line: np.ndarray) -> float:
    """By how many mm the zones are smaller than the whole loop and its stroke."""
    true = shapely.Polygon(PLAN.to_mm(line)).buffer(WIDTH / 2)
    zones = shapely.union_all([shapely.Polygon(loop.outline) for loop in loops])
    return float(shapely.distance(zones, shapely.points(shapely.get_coordinates(true))).max())


def egg(x: float, y: float, radius: float) -> np.ndarray:
    """A closed curve that bends twice as sharply at one end, (n, 2) px."""
    angle = np.linspace(0, 2 * np.pi, 300)
    return np.column_stack(
        (x + radius * (np.cos(angle) + 0.12 * np.cos(2 * angle)), y + 0.75 * radius * np.sin(angle))
    )


@pytest.mark.parametrize(
    ("length", "gap"), [(4.0, 6.0), (4.0, 12.0), (7.0, 7.0), (9.0, 12.0), (14.0, 8.0), (14.0, 16.0)]
)
@pytest.mark.parametrize("line", [circle(115, 100, 45), egg(112, 100, 52)], ids=["circle", "egg"])
def test_dashes_round_a_flaw_are_one_loop_no_smaller_than_it(
    line: np.ndarray, length: float, gap: float
) -> None:
    loops, left = marks_on(sheet((dashes(line, length, gap), BLUE)))
    assert [(loop.colour, loop.dashed) for loop in loops] == [("blue", True)]
    assert left == []
    assert short(loops, line) < 0.01
    true = shapely.Polygon(PLAN.to_mm(line)).buffer(WIDTH / 2)
    assert (shapely.Polygon(loops[0].outline).area - true.area) / true.length < 1.0 + 0.06 * gap


def test_a_corner_within_a_gap_belongs_to_the_loop() -> None:
    low, high, corner = 65.0, 145.0, 9.0 * SCALE
    square = np.array([[low, low], [high, low], [high, high], [low, high], [low, low]])
    drawn = []
    for start, end in pairwise(square):
        on = (end - start) / (high - low)
        middle = 0.5 * (start + end)
        drawn += [np.array([start + corner * on, middle - 4.0 * SCALE * on])]
        drawn += [np.array([middle + 4.0 * SCALE * on, end - corner * on])]
    loops, left = marks_on(sheet((drawn, BLUE)))
    assert ([loop.dashed for loop in loops], left) == ([True], [])
    assert short(loops, square) < 0.01


def test_a_loop_of_few_dashes_with_a_sharp_corner_is_one_loop() -> None:
    # A drop: its point, of 60 degrees, lies within a gap.
    point, middle, radius = np.array([115.0, 148.0]), np.array([115.0, 100.0]), 24.0
    angle = np.radians(np.arange(30.0, -211.0, -1.0))
    bow = middle + radius * np.column_stack((np.cos(angle), np.sin(angle)))
    line = np.vstack((np.linspace(point, bow[0], 30), bow, np.linspace(bow[-1], point, 30)))
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))))
    half = 8.0 * SCALE
    moved = [
        np.column_stack([np.interp(v, at, line[:, i]) for i in (0, 1)])
        for v in (np.linspace(-half, half, 12) + at[-1] * (k + 0.5) / 4 for k in range(4))
    ]
    loops, left = marks_on(sheet((moved, BLUE)))
    assert [(loop.colour, loop.dashed) for loop in loops] == [("blue", True)]
    assert left == []
    assert short(loops, line) < 0.01


def test_four_dashes_that_close_nothing_are_named() -> None:
    drawn = dashes(circle(115, 100, 40, 0.5), 12.0, 8.0)
    assert len(drawn) == 4
    loops, left = marks_on(sheet((drawn, BLUE)))
    assert loops == []
    assert [(mark.colour, mark.dashed) for mark in left] == [("blue", True)]


def test_three_dashes_round_a_spot_are_a_loop() -> None:
    line = circle(115, 100, 24)
    drawn = dashes(line, 18.0, 13.0, 0.0)
    assert len(drawn) == 3
    loops, left = marks_on(sheet((drawn, BLUE)))
    assert ([loop.dashed for loop in loops], left) == ([True], [])
    assert short(loops, line) < 0.01


def test_two_rows_beside_each_other_are_not_joined_at_their_ends() -> None:
    along = [np.array([[x, y], [x + 14.0, y]]) for y in (92.0, 107.0) for x in np.arange(30.0, 200.0, 24.0)]
    loops, left = marks_on(sheet((along, BLUE)))
    assert loops == []
    assert [(mark.dashed, round(mark.length / 10)) for mark in left] == [(True, 11), (True, 11)]


def test_a_plain_loop_is_not_dashed() -> None:
    loops, left = marks_on(sheet(([circle(115, 100, 45)], BLUE)))
    assert ([loop.dashed for loop in loops], left) == ([False], [])
    # Nor is one with a gap, or one that was drawn in three strokes.
    for pieces in ([circle(115, 100, 45, 0.96)], dashes(circle(115, 100, 45), 53.0, 6.0, 0.0)):
        loops, left = marks_on(sheet((pieces, BLUE)))
        assert ([loop.dashed for loop in loops], left) == ([False], [])


def test_dashed_and_plain_loops_side_by_side_are_told_apart() -> None:
    one, other = circle(70, 100, 40), circle(168, 100, 40)
    loops, left = marks_on(sheet((dashes(one, 7.0, 6.0), BLUE), ([other], RED)))
    assert sorted((loop.colour, loop.dashed) for loop in loops) == [("blue", True), ("red", False)]
    assert left == []
    both = marks_on(sheet((dashes(one, 7.0, 6.0), BLUE), (dashes(other, 9.0, 7.0), RED)))[0]
    assert sorted((loop.colour, loop.dashed) for loop in both) == [("blue", True), ("red", True)]
    assert short([loop for loop in both if loop.colour == "red"], other) < 0.01


def test_dashes_that_close_nothing_are_named_once_with_their_place() -> None:
    line = circle(115, 80, 55, 0.5)
    loops, left = marks_on(sheet((dashes(line, 6.0, 6.0), BLUE)))
    assert loops == []
    assert [(mark.colour, mark.dashed) for mark in left] == [("blue", True)]
    assert left[0].length == pytest.approx(np.pi * 55 / SCALE, rel=0.15)
    # The middle of a half circle's stroke.
    assert left[0].at == pytest.approx(tuple(PLAN.to_mm(np.array([[115.0, 80 + 110 / np.pi]]))[0]), abs=3.0)


def test_the_edge_of_the_hide_closes_a_dashed_loop() -> None:
    line = circle(20, 100, 45)
    loops, left = marks_on(sheet((dashes(line, 6.0, 6.0), BLUE)))
    assert ([loop.dashed for loop in loops], left) == ([True], [])
    # The leather reaches 1.6 mm beyond where strokes are looked for.
    leather = shapely.box(3.5 / SCALE, 3.0, (COLUMNS - 4) / SCALE, ROWS / SCALE - 3.0)
    true = shapely.Polygon(PLAN.to_mm(line)).buffer(WIDTH / 2).intersection(leather)
    assert shapely.Polygon(loops[0].outline).covers(true)


def stroke(*points: tuple[float, float]) -> np.ndarray:
    """A polyline through points (px)."""
    return np.array(points, float)


def ring_of(make, count: int = 9) -> list[np.ndarray]:  # type: ignore[no-untyped-def]
    """``count`` small figures evenly round a circle: ``make`` gets a centre, the way on and the way out."""
    out = []
    for angle in 2 * np.pi * np.arange(count) / count:
        outwards = np.array([np.cos(angle), np.sin(angle)])
        out += make(np.array([115.0, 100.0]) + 50 * outwards, outwards[::-1] * [-1, 1], outwards)
    return out


@pytest.mark.parametrize(
    "drawn",
    [
        # Ticks, strokes across the course, slanting strokes, crosses, rings: not along a course.
        ring_of(lambda c, on, out: [np.array([c - 8 * on, c + 9 * out, c + 8 * on])]),
        ring_of(lambda c, on, out: [np.array([c - 8 * out, c + 8 * out])]),
        ring_of(lambda c, on, out: [np.array([c - 8 * on - 9 * out, c + 8 * on + 9 * out])]),
        ring_of(
            lambda c, on, out: [np.array([c - 8 * on, c + 8 * on]), np.array([c - 8 * out, c + 8 * out])]
        ),
        ring_of(
            lambda c, on, out: [np.array([c - 11 * on, c + 11 * on]), np.array([c - 9 * out, c + 9 * out])]
        ),
        ring_of(lambda c, on, out: [circle(c[0], c[1], 7.0)]),
        # Dashes of all lengths.
        [
            circle(115, 100, 50)[a:b]
            for a, b in ((0, 8), (14, 52), (70, 75), (80, 122), (130, 136), (150, 189))
        ],
        # Three dashes in a row, and an arrow.
        [stroke((60, 100), (75, 100)), stroke((85, 100), (100, 100)), stroke((110, 100), (125, 100))],
        [stroke((40, 100), (190, 100)), stroke((170, 88), (190, 100), (170, 112))],
        # Capital letters: H, I, D, E.
        [
            *[stroke((40, 80), (40, 110)), stroke((58, 80), (58, 110)), stroke((44, 95), (54, 95))],
            stroke((75, 80), (75, 110)),
            *[stroke((92, 80), (92, 110)), stroke((92, 80), (106, 85), (106, 105), (92, 110))],
            *[stroke((122, 80), (122, 110)), stroke((122, 80), (136, 80)), stroke((122, 110), (136, 110))],
        ],
    ],
    ids=[
        "ticks",
        "across",
        "slanting",
        "crosses",
        "long crosses",
        "rings",
        "all lengths",
        "three",
        "arrow",
        "letters",
    ],
)
def test_what_is_no_row_of_dashes(drawn: list[np.ndarray]) -> None:
    seen = sheet((drawn, BLUE))
    assert (seen.strength > 8.0).sum() > 100
    assert not find_rows(seen).lines.any()


def test_dots_are_no_dashes() -> None:
    dots = ring_of(lambda c, on, out: [np.array([c, c + on])], 14)
    assert not find_rows(sheet((dots, BLUE), width=5.0)).lines.any()


def test_a_row_is_of_one_colour() -> None:
    pieces = dashes(circle(115, 100, 45), 7.0, 7.0)
    assert not find_rows(sheet((pieces[::2], BLUE), (pieces[1::2], RED))).lines.any()
    assert find_rows(sheet((pieces, RED))).lines.any()


def test_a_row_is_carried_on_and_what_may_have_been_covered_is_kept() -> None:
    line = circle(115, 100, 45)
    rows = find_rows(sheet((dashes(line, 7.0, 9.0), BLUE)))
    r, c = (np.round(line[:, i]).astype(int) for i in (1, 0))
    assert (rows.lines | rows.patches)[r, c].all()
    parts, _ = cv2.connectedComponents(rows.lines.astype(np.uint8))
    assert parts == 2


def test_a_bright_stroke_on_dark_leather_does_not_run_over_into_the_gaps() -> None:
    # What lens and file smear of it is plain to see, though faint beside it.
    seen = sheet((dashes(circle(115, 100, 45), 7.0, 7.0), BLUE))
    clear = np.where(seen.strokes, 4.0 * seen.strength, 0.0).astype(np.float32)
    smeared = np.maximum(clear, cv2.GaussianBlur(clear, (0, 0), 1.6 * SCALE))
    bright = replace(seen, strength=smeared, strokes=smeared > 5.0)
    assert cv2.connectedComponents(bright.strokes.astype(np.uint8))[0] < 4
    loops, left = marks_on(bright)
    assert ([loop.dashed for loop in loops], left) == ([True], [])


@pytest.mark.parametrize(
    ("given", "plain", "dashed", "other"),
    [
        ({}, "weak", "weak", "weak"),
        ({"dashed": "blemish"}, "weak", "blemish", "blemish"),
        ({"blue": "hole"}, "hole", "hole", "weak"),
        ({"blue": "hole", "dashed": "blemish"}, "hole", "blemish", "blemish"),
        ({"blue": "weak", "dashed": "blemish", "blue dashed": "hole"}, "weak", "hole", "blemish"),
    ],
)
def test_dashes_count_before_colour(given: dict, plain: str, dashed: str, other: str) -> None:  # type: ignore[type-arg]
    ring = circle(0, 0, 9)
    blue = Mark(ring, "blue")
    assert severity_of(blue, given) == plain
    assert severity_of(replace(blue, dashed=True), given) == dashed
    assert severity_of(OpenMark(ring, "red", 60.0, (0.0, 0.0), True), given) == other
    assert (look_of(blue), look_of(replace(blue, dashed=True))) == ("blue", "blue dashed")


def test_a_dashed_loop_on_a_photograph(render) -> None:  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(8)
    strokes = (
        Stroke(loop(np.array([-70.0, 0.0]), 22.0, rng), "blue", 1.6, dash=(8.0, 6.0)),
        Stroke(loop(np.array([0.0, 15.0]), 17.0, rng), "blue", 1.6),
    )
    photo = render(small_scene(strokes=strokes, holes=()))
    wishes = Wishes(thickness_mm=1.5, severity={"blue": "weak", "dashed": "blemish"})
    m = measure_photograph(photo.path, 10.0, wishes=wishes)
    kinds = sorted((flaw.kind, flaw.severity) for flaw in m.hide.flaws)
    assert kinds == [("blue dashed loop", "blemish"), ("blue loop", "weak")]
    assert m.open_marks == ()
    row = Row(5, "dashes")
    compare(m, json.loads(photo.path.with_suffix(".truth.json").read_text()), row)
    assert (row.loops, row.found, row.dashed, row.told_dashed, row.solid_told_dashed) == (2, 2, 1, 1, 0)
    assert max(row.short_mm) <= SHORT_MM


def test_dashes_are_drawn_only_where_they_are_asked_for() -> None:
    plain = small_scene()
    assert truth(plain)["flaws"] == truth(with_dashes(plain, 0.0))["flaws"]
    assert all("dash" not in flaw for flaw in truth(plain)["flaws"])
    dashed = with_dashes(plain, 1.0)
    assert all(stroke.dash is not None for stroke in dashed.strokes)
    lines = _drawn(dashed.strokes[0], 5)
    along = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in lines)
    whole = np.hypot(
        *np.diff(np.vstack((plain.strokes[0].points, plain.strokes[0].points[:1])), axis=0).T
    ).sum()
    length, gap = dashed.strokes[0].dash or (0.0, 0.0)
    assert along / whole == pytest.approx(length / (length + gap), rel=0.15)
    assert len(_drawn(plain.strokes[0], 5)) == 1
