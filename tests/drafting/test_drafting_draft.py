"""Drafted panels against the figures of practice, geometry, and what shapely measures on them."""

from __future__ import annotations

import math
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from nesting.drafting import Draft, draft
from nesting.drafting.fit import added_mm, hole_mm
from nesting.drafting.lacing import criss_cross_mm
from nesting.errors import InputError
from nesting.files.measures import Fit, HoleSize
from nesting.files.measures_file import measures_from_options
from nesting.files.panel import Panel, Stretch
from nesting.files.panel_file import panel_from_json, panel_to_json
from nesting.output.strokes import ring_box
from nesting.rings import arc_of, area, flatten, signed_area
from nesting.units import parse_length

IN = 25.4
WRAP = {
    "lower": "7 in", "upper": "8 in", "height": "4 1/2 in", "ease": "1/2 in", "holes": 4, "hole": "4 mm",
    "hole_inset": "3/8 in", "groove": "1/8 in", "marks_top": 5, "marks_bottom": 5, "spread_top": "1 1/4 in",
    "spread_bottom": "1 1/8 in", "radius": "15 mm", "lace": "1/8 in",
}  # fmt: skip
"""The check figures: common practice, no source."""
LEG = {"ankle": "10 in", "calf": "14 in", "top": "13 in", "height": "13 in", "calf_height": "9 in"}


def one(shape: str, options: dict[str, Any]) -> Draft:
    (drafted,) = draft(measures_from_options(shape, options))
    return drafted


def outline(panel: Panel) -> Polygon:
    return Polygon(flatten(panel.outline, 1e-4))


def mirrored(panel: Panel) -> Polygon:
    return Polygon([(-x, y) for x, y in flatten(panel.outline, 1e-4)])


def assert_symmetrical(panel: Panel) -> None:
    assert outline(panel).symmetric_difference(mirrored(panel)).area < 1e-6
    for points in ([p.at for p in panel.punches], panel.marks):
        there = sorted((round(x, 6) + 0.0, round(y, 6)) for x, y in points)
        back = sorted((round(-x, 6) + 0.0, round(y, 6)) for x, y in points)
        assert there == back


def assert_reads(panel: Panel) -> None:
    """The strict reader takes it, and gives it back to a nanometre."""
    read = panel_from_json(panel_to_json(panel), "drafted")
    assert flatten(read.outline) == pytest.approx(flatten(panel.outline), abs=2e-6)
    assert (len(read.punches), len(read.marks), len(read.lines)) == (
        len(panel.punches), len(panel.marks), len(panel.lines)
    )  # fmt: skip


def test_girths_to_widths() -> None:
    """7 and 8 in, 4 1/2 apart, 1/2 of ease: 7 1/2 and 8 1/2 by 4 1/2 in (common practice, no source)."""
    sharp = one("wrap", {"lower": "7 in", "upper": "8 in", "height": "4 1/2 in", "ease": "1/2 in"}).panel
    xs = [x / IN for x, _, _ in sharp.outline]
    ys = [y / IN for _, y, _ in sharp.outline]
    assert xs == pytest.approx([-3.75, 3.75, 4.25, -4.25])
    assert ys == pytest.approx([0, 0, 4.5, 4.5])
    assert area(sharp.outline) == pytest.approx(36 * IN**2)


def test_the_wrap_of_practice() -> None:
    """Inset 3/8 in, groove 1/8 in, spreads 1 1/4 and 1 1/8 in, radius 15 mm (common practice, no source)."""
    drafted = one("wrap", WRAP)
    panel, plan = drafted.panel, Polygon([v[:2] for v in drafted.plan.ring])
    assert_reads(panel)
    assert_symmetrical(panel)
    sides = {"left": shapely.LineString(plan.exterior.coords[3:5]),
             "right": shapely.LineString(plan.exterior.coords[1:3])}  # fmt: skip
    for row, side in zip(drafted.rows, ("left", "right"), strict=True):
        assert [sides[side].distance(Point(p.at)) / IN for p in row] == pytest.approx([0.375] * 4)
        assert [p.at[1] / IN for p in row] == pytest.approx([0.375, 1.625, 2.875, 4.125])
    top, bottom = panel.marks[:5], panel.marks[5:]
    assert [x / IN for x, _ in top] == pytest.approx([-2.5, -1.25, 0, 1.25, 2.5])
    assert [x / IN for x, _ in bottom] == pytest.approx([-2.25, -1.125, 0, 1.125, 2.25])
    assert {round(y / IN, 9) for _, y in top} == {4.125}
    assert {round(y / IN, 9) for _, y in bottom} == {0.375}
    (groove,) = panel.lines
    assert groove.points[0][:2] == groove.points[-1][:2]
    inner = Polygon(flatten(groove.points[:-1], 1e-4))
    assert inner.symmetric_difference(outline(panel).buffer(-0.125 * IN, quad_segs=256)).area < 0.05
    # Corners of the outline keep 15 mm, those of the groove what is left of it.
    for ring, radius in ((panel.outline, 15.0), (groove.points[:-1], 15.0 - 0.125 * IN)):
        arcs = [arc_of(v[:2], w[:2], v[2]) for v, w in zip(ring, ring[1:] + ring[:1], strict=True) if v[2]]
        assert [r for _, r, _, _ in arcs] == pytest.approx([radius] * 4)


@pytest.mark.parametrize(
    ("shape", "measures", "height"),
    [
        ("wrap", WRAP, 4.5 * IN),
        ("leg", {"ankle": "9 in", "calf": "13 in", "height": "12 in"}, 12 * IN),
        ("disc", {"diameter": "2 in"}, 2 * IN),
    ],
)
def test_the_centre_line_goes_with_the_panel(shape: str, measures: dict[str, Any], height: float) -> None:
    panel = one(shape, measures).panel
    assert panel.centre_line == ((0.0, 0.0), (0.0, pytest.approx(height)))


def test_lace_of_practice() -> None:
    """Four holes a side, 1/8 in lace: about 30 in of lace (common practice, no source)."""
    lace = one("wrap", WRAP).lace_mm
    assert lace is not None
    assert one("wrap", WRAP).panel.lace_mm == lace
    assert lace / IN == pytest.approx(30.0, rel=0.05)


def walked(steps: list[float], across: float) -> float:
    """A lace followed hole by hole: across the first pair, then both ends over to the other row."""
    height, ends = 0.0, [(0.0, 0.0), (across, 0.0)]
    length = math.dist(*ends)
    for step in steps:
        height += step
        crossed = [(across - x, height) for x, _ in ends]
        length += sum(math.dist(a, b) for a, b in zip(ends, crossed, strict=True))
        ends = crossed
    return length


@given(st.lists(st.floats(2, 60), min_size=1, max_size=20), st.floats(1, 80), st.floats(0, 500))
def test_lace_against_a_walk(steps: list[float], across: float, tail: float) -> None:
    assert criss_cross_mm(steps, across, tail) == pytest.approx(walked(steps, across) + 2 * tail)
    through = criss_cross_mm(steps, across, tail, 2.0) - criss_cross_mm(steps, across, tail)
    assert through == pytest.approx(2.0 * 2 * (len(steps) + 1))


def test_a_gap_takes_lace_and_width() -> None:
    closed, open_ = one("wrap", WRAP), one("wrap", WRAP | {"gap": "1 in"})
    assert closed.lace_mm is not None
    assert open_.lace_mm is not None
    assert open_.lace_mm > closed.lace_mm + IN
    assert closed.plan.ring[1][0] - open_.plan.ring[1][0] == pytest.approx(IN / 2)


@given(
    st.lists(st.tuples(st.floats(-80, 80), st.floats(-80, 80)), min_size=3, max_size=9), st.floats(0.1, 12)
)
def test_ease_grows_with_what_is_worn(points: list[tuple[float, float]], layer: float) -> None:
    """Around any convex girth a layer of thickness t adds 2πt: shapely's buffer as the layer."""
    body = shapely.MultiPoint(points).convex_hull
    if body.area < 1.0:
        return
    around = body.buffer(layer, quad_segs=512).exterior.length
    added = added_mm(Fit(ease_mm=5.0, worn_mm=layer))
    assert around - body.exterior.length == pytest.approx(added - 5.0, abs=1e-3)


def test_layers_add_up() -> None:
    plain = one("wrap", WRAP).plan.ring[1][0]
    lined = one("wrap", WRAP | {"worn": ["1 mm", "0.5 mm"]}).plan.ring[1][0]
    assert 2 * (lined - plain) == pytest.approx(2 * math.pi * 1.5)


@pytest.mark.parametrize(
    ("barrel", "hole"),
    [("4 mm", 4.0), ("4.0 mm", 4.0), ("4.1 mm", 4.5), ("3/16 in", 5.0), ("1/4 in", 6.5), ("5 mm", 5.0)],
)
def test_a_hole_is_snug(barrel: str, hole: float) -> None:
    """The first punch in half millimetres that lets the barrel through (common practice, no source)."""
    size = HoleSize(barrel_mm=parse_length(barrel))
    assert hole_mm(size) == hole
    assert 0.0 <= hole_mm(size) - parse_length(barrel) < 0.5
    drafted = one("disc", {"diameter": "2 in", "holes": 1, "barrel": barrel})
    assert drafted.panel.punches[0].diameter == hole


def test_a_leg_has_a_back() -> None:
    left, right = one("leg", LEG), one("leg", LEG | {"leg": "right"})
    assert left.panel.pairing == "mirrored"
    assert outline(left.panel).symmetric_difference(mirrored(right.panel)).area < 1e-6
    assert outline(left.panel).symmetric_difference(mirrored(left.panel)).area > 100
    low_x, _, high_x, _ = ring_box(left.panel.outline)
    # The widest place is the calf, a third of its growth of 4 in on the front: common practice, no source.
    assert (high_x - low_x) / IN == pytest.approx(14.0)
    assert high_x / IN == pytest.approx(5.0 + 4.0 / 3.0)
    assert signed_area(left.panel.outline) > 0
    assert_reads(left.panel)


def test_a_leg_may_be_symmetrical() -> None:
    drafted = one(
        "leg", LEG | {"front": 0.5, "holes": 7, "hole": "4 mm", "radius": "15 mm", "groove": "3 mm"}
    )
    assert_symmetrical(drafted.panel)
    assert_reads(drafted.panel)


def test_a_leg_is_smooth_through_the_calf() -> None:
    """Both arcs of a side run upright where the calf is widest, so that the side has no corner there."""
    ring = one("leg", LEG).panel.outline
    calf = next(i for i, (_, y, _) in enumerate(ring) if y == pytest.approx(9 * IN))
    for start, end in ((ring[calf - 1], ring[calf]), (ring[calf], ring[calf + 1])):
        centre, _, _, _ = arc_of(start[:2], end[:2], start[2])
        assert centre[1] == pytest.approx(9 * IN)


def test_leg_girths_are_kept_at_every_level() -> None:
    ring = one("leg", LEG | {"ease": "1/2 in", "gap": "3/4 in"}).plan.ring
    widths: dict[float, list[float]] = {}
    for x, y, _ in ring:
        widths.setdefault(round(y / IN, 6), []).append(x / IN)
    assert {y: max(xs) - min(xs) for y, xs in widths.items()} == pytest.approx(
        {0.0: 9.75, 9.0: 13.75, 13.0: 12.75}
    )


def test_legs_that_differ_are_two_panels() -> None:
    drafts = draft(measures_from_options("leg", LEG | {"right": {"calf": "14 1/2 in"}}, "chap"))
    left, right = (drafted.panel for drafted in drafts)
    assert (left.name, right.name) == ("chap-left", "chap-right")
    assert left.pairing == right.pairing == "none"
    assert ring_box(left.outline)[2] / IN == pytest.approx(5 + 4 / 3)
    assert -ring_box(right.outline)[0] / IN == pytest.approx(5 + 4.5 / 3)
    for panel in (left, right):
        assert_reads(panel)


def test_leg_holes_lie_level_and_square_off_the_edge() -> None:
    drafted = one("leg", LEG | {"holes": 9, "hole": "4 mm", "hole_inset": "12 mm", "hole_ends": "20 mm"})
    edge = outline(drafted.panel).exterior
    left, right = drafted.rows
    assert [p.at[1] for p in left] == pytest.approx([p.at[1] for p in right])
    assert [edge.distance(Point(p.at)) for p in (*left, *right)] == pytest.approx([12.0] * 18, abs=1e-3)
    assert left[0].at[1] == pytest.approx(20.0)
    assert left[-1].at[1] == pytest.approx(13 * IN - 20.0)


@pytest.mark.parametrize("tip", ["square", "round", "pointed"])
def test_straps(tip: str) -> None:
    options = {"length": "500 mm", "width": "25 mm", "tip": tip, "groove": "3 mm", "buckle_holes": 5,
               "buckle_start": "75 mm", "buckle_spacing": "25 mm", "hole": "4 mm"}  # fmt: skip
    panel = one("strap", options).panel
    assert_reads(panel)
    assert_symmetrical(panel)
    # Common practice, no source: straps lie along the back.
    assert panel.stretch == Stretch(90.0, 15.0)
    assert [p.at[1] for p in panel.punches] == pytest.approx([425, 400, 375, 350, 325])
    assert ring_box(panel.outline) == pytest.approx((-12.5, 0, 12.5, 500), abs=1e-9)
    lost = {"square": 0.0, "round": 25**2 / 2 - math.pi * 12.5**2 / 2, "pointed": 12.5**2}[tip]
    assert area(panel.outline) == pytest.approx(500 * 25 - lost, abs=1e-6)


def test_disc() -> None:
    options = {"diameter": "42 mm", "holes": 6, "hole": "4 mm", "hole_inset": "8 mm", "groove": "2 mm"}
    panel = one("disc", options).panel
    assert_reads(panel)
    assert_symmetrical(panel)
    assert area(panel.outline) == pytest.approx(math.pi * 21**2)
    assert panel.punches[0].at == pytest.approx((0, 34))
    assert [math.dist(p.at, (0, 21)) for p in panel.punches] == pytest.approx([13.0] * 6)
    assert area(panel.lines[0].points[:-1]) == pytest.approx(math.pi * 19**2)


def test_rectangle() -> None:
    panel = one("rectangle", {"width": "80 mm", "height": "50 mm", "radius": "25 mm"}).panel
    assert_reads(panel)
    assert area(panel.outline) == pytest.approx(30 * 50 + math.pi * 25**2)
    assert one("rectangle", {"width": "80 mm", "height": "50 mm"}).panel.outline == (
        (-40, 0, 0), (40, 0, 0), (40, 50, 0), (-40, 50, 0)
    )  # fmt: skip


def test_marks_spread_over_the_edge_unless_told() -> None:
    panel = one(
        "rectangle", {"width": "100 mm", "height": "50 mm", "marks_bottom": 4, "mark_inset": "6 mm"}
    ).panel
    assert [x for x, _ in panel.marks] == pytest.approx([-37.5, -12.5, 12.5, 37.5])
    assert {y for _, y in panel.marks} == {6.0}


def millimetres(low: float, high: float) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda mm: f"{mm:.3f} mm")


sizes, small = millimetres(5, 500), millimetres(0.1, 25)
rows = st.fixed_dictionaries(
    {"holes": st.integers(1, 12), "hole": millimetres(1, 8)},
    optional={"hole_inset": small, "hole_ends": small},
)
marks = st.fixed_dictionaries(
    {"marks_top": st.integers(1, 7)}, optional={"spread_top": small, "mark_inset": small}
)
finish = st.fixed_dictionaries({}, optional=dict.fromkeys(("ease", "worn", "gap", "radius", "groove"), small))
wraps = st.fixed_dictionaries(dict.fromkeys(("lower", "upper", "height"), sizes))
legs = st.fixed_dictionaries(
    {"ankle": millimetres(100, 300), "calf": millimetres(250, 500), "height": millimetres(100, 500)},
    optional={"top": millimetres(200, 400), "calf_height": millimetres(80, 300)},
)


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(st.tuples(st.just("wrap"), wraps), st.tuples(st.just("leg"), legs)),
    st.tuples(finish, st.one_of(st.just({}), rows), st.one_of(st.just({}), marks)),
)
def test_a_panel_or_one_message(shape: tuple[str, dict[str, Any]], parts: tuple[dict[str, Any], ...]) -> None:
    (name, options), extra = shape, parts[0] | parts[1] | parts[2]
    drafted, message = None, ""
    try:
        drafted = one(name, options | extra)
    except InputError as error:
        message = str(error)
    if drafted is None:
        assert message
        assert "\n" not in message
        return
    panel = drafted.panel
    assert_reads(panel)
    if name == "wrap":
        assert_symmetrical(panel)
    body = outline(panel)
    for punch in panel.punches:
        assert body.buffer(1e-3).contains(Point(punch.at).buffer(punch.diameter / 2))
    for line in panel.lines:
        depth = parse_length(extra["groove"])
        groove = shapely.LineString(flatten(line.points[:-1], 1e-3))
        assert body.exterior.distance(groove) == pytest.approx(depth, abs=5e-3)
