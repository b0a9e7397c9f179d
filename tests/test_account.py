"""The account on rectangles worked out by hand, and on random layouts against shapely.

Expected areas are arithmetic on widths and heights, written out where they are used.
"""

from __future__ import annotations

import json
import math
from dataclasses import astuple, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.account import Keep, account, remnants, report_lines, report_to_json
from nesting.account.money import shared
from nesting.account.regions import regions
from nesting.errors import InputError, InvalidLayout
from nesting.files.hide import Flaw, Hide, Measured, Price
from nesting.files.layout import LaidHide, Layout, Placement, Unplaced
from nesting.files.order import Costs, Cutting, Hardware, Order, OrderLine
from nesting.files.panel import HiddenZone, Panel
from nesting.files.report import Areas, Cost, Report
from nesting.files.report_file import check_report
from nesting.judge import faults
from nesting.judge.scene import Pattern, Scene
from nesting.judge.shapes import encloses
from nesting.rings import Pose, Ring, area, flatten

FT2 = 304.8**2
"""One square foot in mm², from the foot of 304.8 mm."""


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0))


def put(piece: str, x: float, y: float, panel: str = "fob", **rest: Any) -> Placement:
    return Placement(piece, panel, Pose(rest.pop("mirrored", False), rest.pop("turn", 0.0), (x, y)), **rest)


HIDE = Hide("back-01", box(0, 0, 1000, 500), straight_edges=(((0, 0), (1000, 0)),), spine=((0, 0), (0, 1)))
FOB = Panel("fob", box(0, 0, 100, 50))
CUTTING = Cutting(gap_mm=0.5, edge_margin_mm=6, straight_edge_margin_mm=1.5, flaw_margin_mm=3)
SPOT = box(300, 200, 340, 240)
USABLE = 988 * 492.5
"""1000 × 500 less 6 mm on three sides and 1.5 mm along the straight one."""
GROWN = 40 * 40 + 4 * 40 * 3 + math.pi * 3**2
"""The spot with 3 mm around it."""


def layout(
    *placements: Placement, hide: Hide = HIDE, panels: tuple[Panel, ...] = (FOB,), **rest: Any
) -> Layout:
    rest.setdefault("cutting", CUTTING)
    return Layout("fobs", 1, panels=panels, hides=(LaidHide(hide, placements),), **rest)


def flawed(severity: Any, outline: Ring = SPOT) -> Hide:
    return replace(HIDE, flaws=(Flaw("brand", severity, outline),))


def assert_partition(a: Areas) -> None:
    """To the last bit, and nothing negative."""
    assert a.margins + a.flaws + a.usable == a.hide
    assert a.pieces + a.between + a.remnant == a.usable
    assert min(astuple(a)) >= 0.0


# --- areas -----------------------------------------------------------------------------------


def test_a_rectangle_without_pieces() -> None:
    areas = account(layout()).areas
    assert_partition(areas)
    assert areas.hide == 500_000
    assert areas.usable == pytest.approx(USABLE, abs=1e-5)
    assert areas.margins == pytest.approx(500_000 - USABLE, abs=1e-5)
    assert (areas.flaws, areas.pieces, areas.between) == (0, 0, 0)
    assert areas.remnant == pytest.approx(USABLE, abs=1e-5)


def test_one_piece_in_the_corner() -> None:
    """It takes 100.5 × 50.5 with its gap, less what a rounded corner of radius 0.5 leaves."""
    report = account(layout(put("a", 6, 1.5)))
    assert_partition(report.areas)
    assert report.areas.pieces == 5000
    gap = 100.5 * 50.5 - 0.25 * (1 - math.pi / 4) - 5000
    assert report.areas.between == pytest.approx(gap, abs=1e-3)
    assert report.areas.remnant == pytest.approx(USABLE - 5000 - gap, abs=1e-3)
    assert report.yields.of_hide == 0.01
    assert report.yields.of_usable == pytest.approx(5000 / USABLE)
    assert (report.hides[0].hide, report.hides[0].pieces) == ("back-01", 1)
    assert report.hides[0].areas == report.areas


@pytest.mark.parametrize(
    ("severity", "panel", "lost"),
    [
        ("hole", FOB, GROWN),
        ("weak", FOB, GROWN),
        ("weak", replace(FOB, accepts=("blemish",)), GROWN),
        ("weak", replace(FOB, accepts=("weak",)), 0.0),
        ("weak", replace(FOB, hidden_zones=(HiddenZone(box(0, 0, 100, 30), ("weak",)),)), 0.0),
        ("weak", replace(FOB, hidden_zones=(HiddenZone(box(0, 0, 100, 50), ("weak",)),)), 0.0),
        ("weak", replace(FOB, hidden_zones=(HiddenZone(box(0, 0, 50, 50), ("blemish",)),)), GROWN),
        ("hole", replace(FOB, accepts=("hole", "weak", "blemish")), GROWN),
    ],
)
def test_flaws_count_where_no_panel_accepts_them(severity: str, panel: Panel, lost: float) -> None:
    areas = account(layout(hide=flawed(severity), panels=(panel,))).areas
    assert_partition(areas)
    assert areas.flaws == pytest.approx(lost, abs=0.02)
    assert areas.margins == pytest.approx(500_000 - USABLE, abs=1e-5)


def test_a_flaw_deeper_than_a_hidden_zone_stays_a_flaw() -> None:
    """A strip of 10 mm along the panel's side may lie over a flaw's rim of 10 mm, and no deeper.

    The spot with its margin is 46 mm wide, so 26 mm remain, in the middle.
    """
    flap = replace(FOB, hidden_zones=(HiddenZone(box(0, 0, 100, 10), ("weak",)),))
    areas = account(layout(hide=flawed("weak"), panels=(flap,))).areas
    assert_partition(areas)
    assert areas.flaws == pytest.approx(26 * 26, abs=10)
    # Nearer, sharper: what the strip is laid over is usable, and the middle is not.
    found = regions(Scene(flawed("weak"), ()), [Pattern(flap)], CUTTING, Keep()).usable
    assert found.contains(shapely.Point(305.5, 220))
    assert not found.contains(shapely.Point(308.5, 220))


def test_one_tolerant_panel_makes_the_leather_usable() -> None:
    both = (FOB, replace(FOB, name="underlay", accepts=("weak",)))
    assert account(layout(hide=flawed("weak"), panels=both)).areas.flaws == 0.0


def test_a_panel_hidden_all_over_lies_on_a_flaw_of_any_size() -> None:
    lining = replace(FOB, hidden_zones=(HiddenZone(box(0, 0, 100, 50), ("weak",)),))
    big = flawed("weak", box(200, 100, 800, 400))
    assert account(layout(hide=big, panels=(lining,))).areas.flaws == 0.0


def test_a_flaw_in_the_margin_takes_nothing_more() -> None:
    areas = account(layout(hide=flawed("weak", box(-10, 200, 2, 300)))).areas
    assert areas.flaws == 0.0
    across = account(layout(hide=flawed("weak", box(0, 200, 20, 300)))).areas
    # From 6 mm to 23 mm, 3 mm above and below, with two rounded corners.
    assert across.flaws == pytest.approx(17 * 106 - 2 * 9 * (1 - math.pi / 4), abs=0.02)


def test_a_flaw_hidden_under_a_piece_is_counted_with_the_piece() -> None:
    panel = replace(FOB, hidden_zones=(HiddenZone(box(0, 0, 60, 50), ("weak",)),), name="flap")
    placed = layout(put("a", 300, 195, "flap"), hide=flawed("weak"), panels=(FOB, panel))
    assert faults(placed) == []
    areas = account(placed).areas
    assert_partition(areas)
    assert areas.pieces == 5000
    assert areas.flaws == 0.0


def test_dead_ends_and_islands_are_not_usable() -> None:
    """A panel 100 × 50 holds a disc of 50 and reaches 55.9 mm from its centre.

    A strip 30 mm wide is too narrow for it: only its first part, which a panel might reach into,
    counts. The square of 40 at the strip's far end is an island to it.
    """
    cutting = Cutting(gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
    strip: Ring = (
        (0, 0, 0), (200, 0, 0), (200, 35, 0), (600, 35, 0), (600, 30, 0), (640, 30, 0),
        (640, 70, 0), (600, 70, 0), (600, 65, 0), (200, 65, 0), (200, 100, 0), (0, 100, 0),
    )  # fmt: skip
    areas = account(layout(hide=Hide("strip", strip), cutting=cutting)).areas
    assert_partition(areas)
    # The disc enters the strip until it touches its corners, 15 mm off the axis: its centre comes
    # to √(25² - 15²) = 20 mm from x = 200; the reach is √(50² + 25²) = 55.9.
    longest = 30 * (math.hypot(50, 25) - 20)
    assert 200 * 100 < areas.usable < 200 * 100 + longest + 40
    assert areas.margins == areas.hide - areas.usable
    # The same neck made by flaws counts as flaws.
    walls = (Flaw("scar", "weak", box(200, 65, 640, 100)), Flaw("scar", "weak", box(200, 0, 640, 35)))
    areas = account(layout(hide=Hide("strip", box(0, 0, 640, 100), flaws=walls), cutting=cutting)).areas
    assert_partition(areas)
    assert areas.margins == 0.0
    assert 440 * 100 - longest - 40 < areas.flaws < 440 * 100


def test_a_panel_larger_than_the_hide_leaves_nothing_usable() -> None:
    report = account(layout(panels=(Panel("cape", box(0, 0, 900, 600)),)))
    assert report.areas.usable == 0.0
    assert report.yields == replace(report.yields, of_hide=0.0, of_usable=0.0)


def test_arcs_are_exact() -> None:
    disc: Ring = ((-300.0, 0.0, 1.0), (300.0, 0.0, 1.0))
    coin = Panel("coin", ((-20.0, 0.0, 1.0), (20.0, 0.0, 1.0)))
    areas = account(layout(put("a", 0, 0, "coin"), hide=Hide("round", disc), panels=(coin,))).areas
    assert_partition(areas)
    assert areas.hide == pytest.approx(math.pi * 300**2, abs=1e-5)
    assert areas.pieces == pytest.approx(math.pi * 20**2, abs=1e-5)
    assert areas.usable == pytest.approx(math.pi * 294**2, rel=1e-4)


def test_a_piece_in_a_cut_out_is_counted_once() -> None:
    frame = Panel("frame", box(0, 0, 200, 200), cutouts=(box(40, 40, 160, 160),))
    nested = layout(put("f", 100, 100, "frame"), put("a", 145, 150), panels=(FOB, frame))
    assert faults(nested) == []
    report = account(nested)
    assert_partition(report.areas)
    assert report.areas.pieces == pytest.approx(200 * 200)
    assert "cut-outs included" in report.notes[0]


def test_pieces_that_overlap_within_the_tolerance() -> None:
    """Full yield, and not more."""
    bare = Cutting(gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
    small = Hide("two", box(0, 0, 199.99, 50))
    tight = layout(put("a", 0, 0), put("b", 99.99, 0), hide=small, cutting=bare)
    assert faults(tight) == []
    report = account(tight)
    assert_partition(report.areas)
    assert report.areas.pieces == report.areas.hide == pytest.approx(199.99 * 50)
    assert report.yields.of_hide == 1.0


def test_remnants() -> None:
    """A column of pieces across the hide leaves two parts; 80 mm wide and a quarter foot to be kept."""
    wall = Panel("wall", box(0, 0, 100, 492.5))
    placed = layout(put("a", 500, 1.5, "wall"), panels=(wall,))
    parts = remnants(placed, 0)
    assert [part.area for part in parts] == pytest.approx([493.5 * 492.5, 393.5 * 492.5], abs=1e-6)
    assert account(placed).areas.remnant == pytest.approx(sum(part.area for part in parts))
    # 79 mm are too narrow, 81 mm wide enough; of 40 × 493 mm² there is not a quarter of a foot.
    narrow = layout(put("a", 85.5, 1.5, "wall"), panels=(wall,))
    assert len(remnants(narrow, 0)) == 1
    assert len(remnants(replace(narrow, hides=(LaidHide(HIDE, (put("a", 87.5, 1.5, "wall"),)),)), 0)) == 2
    assert len(remnants(narrow, 0, keep=Keep(width_mm=30))) == 2
    assert remnants(narrow, 0, keep=Keep(least_mm2=9e5)) == []
    slim = layout(put("a", 46.5, 1.5, "wall"), panels=(wall,))
    assert len(remnants(slim, 0, keep=Keep(width_mm=30))) == 1


def test_weights_decide_what_is_usable() -> None:
    """A panel that the order keeps off this hide by weight makes nothing usable on it."""
    hide = replace(HIDE, weight_oz=(4, 5))
    for weights, usable in (((4, 6), USABLE), ((8, 9), 0.0)):
        order = Order("o", (hide,), (OrderLine(FOB, pieces=1, weight_oz=weights),))
        assert account(layout(hide=hide), order).areas.usable == pytest.approx(usable)


def test_a_piece_where_nothing_may_lie_is_still_usable_leather() -> None:
    """An order keeps the tag off this hide by weight; it lies there all the same, in the annex.

    The cape only fits the wide part, and loses the grown spot there to the flaw: no more, no less.
    """
    outline: Ring = (
        (0, 0, 0), (600, 0, 0), (600, 200, 0), (900, 200, 0), (900, 300, 0), (600, 300, 0),
        (600, 500, 0), (0, 500, 0),
    )  # fmt: skip
    cape, tag = Panel("cape", box(0, 0, 190, 190)), Panel("tag", box(0, 0, 40, 20))
    hide = Hide("annex", outline, weight_oz=(4, 5), flaws=(Flaw("brand", "weak", SPOT),))
    order = Order("o", (hide,), (OrderLine(cape, pieces=1), OrderLine(tag, pieces=1, weight_oz=(8, 9))))
    empty = account(layout(hide=hide, panels=(cape, tag)), order).areas
    areas = account(layout(put("t", 800, 240, "tag"), hide=hide, panels=(cape, tag)), order).areas
    assert_partition(areas)
    assert areas.usable == pytest.approx(empty.usable + 800)
    assert areas.flaws == pytest.approx(GROWN, abs=0.02)
    assert areas.flaws == pytest.approx(empty.flaws)


def test_leather_beyond_a_gap_and_islands_smaller_than_the_panel() -> None:
    """Where no disc fits, being within reach of one across a gap is no help; nor is area alone."""
    bare = Cutting(gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
    strap = Panel("strap", box(0, 0, 300, 20))
    wall = Flaw("cut", "hole", box(400, 0, 402, 300))
    comb = tuple(Flaw("cut", "weak", box(402, y, 690, y + 5)) for y in range(15, 300, 20))
    hide = Hide("comb", box(0, 0, 700, 300), flaws=(wall, *comb))
    areas = account(layout(hide=hide, panels=(strap,), cutting=bare)).areas
    assert_partition(areas)
    assert areas.usable == pytest.approx(400 * 300, abs=1e-3)
    # A disc of 50 fits a square of 60, the panel of 100 × 50 does not.
    assert account(layout(hide=Hide("scrap", box(0, 0, 60, 60)), cutting=bare)).areas.usable == 0.0


def test_a_remnant_has_no_specks() -> None:
    """Where the arcs of offsets meet a hole of a thousandth of a mm² was left: a flaw on the shelf later."""
    zone = HiddenZone(box(-1, 80, 161, 121), ("weak", "blemish"))
    panel = Panel("knee", box(0, 0, 160, 120), pairing="mirrored", hidden_zones=(zone,))
    spot = Flaw("hole", "hole", ((438.0, 330.0, 1.0), (462.0, 330.0, 1.0)))
    flaws = (Flaw("fold", "weak", box(0, 180, 600, 215)), spot)
    hide = Hide("bend", box(0, 0, 600, 420), flaws=flaws)
    holes = [ring for part in remnants(layout(hide=hide, panels=(panel,)), 0) for ring in part.interiors]
    # One hole is left: the spot of radius 12 with its margin of 3.
    assert [shapely.Polygon(ring).area for ring in holes] == [pytest.approx(math.pi * 15**2, rel=1e-3)]


def test_a_fringe_is_no_remnant() -> None:
    """Of a tail 30 mm wide only the first bit goes with the remnant, as a square corner would."""
    bare = Cutting(gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
    tail: Ring = (
        (0, 0, 0), (600, 0, 0), (600, 185, 0), (900, 185, 0), (900, 215, 0), (600, 215, 0),
        (600, 400, 0), (0, 400, 0),
    )  # fmt: skip
    tag = Panel("tag", box(0, 0, 15, 15))
    areas = account(layout(hide=Hide("tail", tail), panels=(tag,), cutting=bare)).areas
    assert areas.usable == pytest.approx(600 * 400 + 300 * 30, abs=1e-3)
    assert 600 * 400 <= areas.remnant < 600 * 400 + 30 * 0.5 * 40


def test_a_round_piece_that_takes_the_whole_hide() -> None:
    """Exact arcs hold more than their chords: the sums must stand that."""
    bare = Cutting(gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
    disc: Ring = ((-300.0, 0.0, 1.0), (300.0, 0.0, 1.0))
    whole = layout(put("a", 0, 0, "coin"), hide=Hide("h", disc), panels=(Panel("coin", disc),), cutting=bare)
    report = account(whole)
    assert_partition(report.areas)
    assert report.yields.of_hide == report.yields.of_usable == 1.0


# --- random layouts --------------------------------------------------------------------------


@st.composite
def blobs(draw: Any, size: float) -> Ring:
    count = draw(st.integers(3, 7))
    ring = []
    for i in range(count):
        angle = 2 * math.pi * (i + draw(st.floats(-0.3, 0.3))) / count
        radius = size * draw(st.floats(0.5, 1.0))
        bulge = draw(st.sampled_from([0.0, 0.0, 0.3, -0.2]))
        ring.append((radius * math.cos(angle), radius * math.sin(angle), bulge))
    return tuple(ring)


places = st.builds(
    lambda m, r, x, y: Pose(m, r, (x, y)),
    st.booleans(), st.floats(0, 360), st.floats(-250, 250), st.floats(-250, 250),
)  # fmt: skip


def as_polygon(ring: Ring, pose: Pose | None = None) -> shapely.Polygon:
    points = flatten(ring, 0.001)
    return shapely.Polygon(points if pose is None else pose.apply(points))


@settings(max_examples=40, deadline=None)
@given(
    blobs(300.0), blobs(60.0), blobs(80.0), st.lists(places, max_size=4),
    st.sampled_from(["hole", "weak", "blemish"]), st.floats(-250, 250), st.floats(-250, 250),
)  # fmt: skip
def test_areas_are_partitions_of_any_layout(
    outline: Ring, piece: Ring, flaw: Ring, where: list[Pose], severity: Any, x: float, y: float
) -> None:
    flaw = tuple((a + x, b + y, c) for a, b, c in flaw)
    assume(all(encloses(ring) for ring in (outline, piece, flaw)))
    # Arcs that all but touch cross in the one flattening and not in the other.
    assume(all(as_polygon(ring).is_valid for ring in (outline, piece, flaw)))
    hide = Hide("h", outline, flaws=(Flaw("f", severity, flaw),))
    panel = Panel("p", piece, accepts=("blemish",))
    placements = tuple(Placement(f"p{i}", "p", pose) for i, pose in enumerate(where))
    found = Layout("t", 1, CUTTING, (panel,), (LaidHide(hide, placements),))
    areas = account(found).areas
    assert_partition(areas)
    leather = as_polygon(outline)
    cut = shapely.union_all([as_polygon(piece, pose) for pose in where])
    assert areas.hide == pytest.approx(area(outline), abs=1e-6)
    assert areas.pieces == pytest.approx(cut.intersection(leather).area, abs=2.0)
    # Never more usable than leather off the rough edge, and off the flaw if it is not accepted.
    most = leather.buffer(-6, quad_segs=64)
    if severity != "blemish":
        most = most.difference(as_polygon(flaw).buffer(3, quad_segs=64))
    most = most.union(cut.intersection(leather))
    assert areas.usable <= most.area + 2.0


@settings(max_examples=80, deadline=None)
@given(
    blobs(200.0), blobs(50.0), blobs(30.0), blobs(45.0), places, st.floats(-100, 100), st.floats(-100, 100)
)  # fmt: skip
def test_whatever_the_judge_lets_lie_lies_in_usable_leather(
    outline: Ring, piece: Ring, flaw: Ring, zone: Ring, pose: Pose, x: float, y: float
) -> None:
    """The usable region bounds every valid pose of the panel from outside, also with a hidden zone."""
    flaw = tuple((a + x, b + y, c) for a, b, c in flaw)
    zone = tuple((a + 20, b, c) for a, b, c in zone)
    pose = Pose(False, pose.rotation_deg, (pose.at[0] / 4, pose.at[1] / 4))
    assume(all(encloses(ring) for ring in (outline, piece, flaw, zone)))
    hide = Hide("h", outline, flaws=(Flaw("f", "weak", flaw),))
    panel = Panel("p", piece, hidden_zones=(HiddenZone(zone, ("weak",)),))
    placed = Layout("t", 1, CUTTING, (panel,), (LaidHide(hide, (Placement("a", "p", pose),)),))
    assume(faults(placed) == [])
    free = regions(Scene(hide, ()), [Pattern(panel)], CUTTING, Keep()).usable
    outside = as_polygon(piece, pose).difference(free)
    # What the judge's tolerance of 0.02 mm lets stand over.
    assert outside.is_empty or outside.buffer(-0.025).is_empty


# --- money -----------------------------------------------------------------------------------

PRICED = replace(HIDE, price=Price(Decimal("62.00"), "USD", "hide"))
LINE = OrderLine(
    FOB, pieces=3, hardware=(Hardware("stud", 2, Decimal("0.11")), Hardware("ring", 1, Decimal("0.045"))),
    labour_minutes=6.5,
)  # fmt: skip


def ordered(hide: Hide = PRICED, **costs: Any) -> Order:
    return Order("fobs", (hide,), (LINE,), CUTTING, Costs(**costs))


def three(hide: Hide = PRICED) -> Layout:
    return layout(put("a", 100, 100), put("b", 300, 100), put("c", 600, 100), hide=hide)


def cost_of(leather: str, hardware: str, labour: str, total: str) -> Cost:
    return Cost(Decimal(leather), Decimal(hardware), Decimal(labour), Decimal(total))


def table(report: Report) -> Any:
    assert report.cost is not None
    return report.cost


def test_costs_by_hand() -> None:
    """Leather 62.00 / 3; hardware 0.265 and labour 6.5 / 60 × 25 = 2.7083 on each piece."""
    costs = table(account(three(), ordered(labour_per_hour=Decimal(25))))
    assert costs.currency == "USD"
    # 3 × 0.265 = 0.795, rounded up; 3 × 2.70833 = 8.125, rounded up.
    assert costs.total == cost_of("62.00", "0.80", "8.13", "70.93")
    assert [line.cost.leather for line in costs.pieces] == [
        Decimal("20.67"),
        Decimal("20.67"),
        Decimal("20.66"),
    ]
    assert [line.cost.hardware for line in costs.pieces] == [
        Decimal("0.27"),
        Decimal("0.27"),
        Decimal("0.26"),
    ]
    assert [line.name for line in costs.pieces] == ["a", "b", "c"]
    assert costs.hides[0].price == Decimal("62.00")
    assert costs.hides[0].cost == costs.panels[0].cost == costs.total
    assert (costs.panels[0].name, costs.panels[0].pieces) == ("fob", 3)
    assert costs.pairs == ()


def test_left_over_cents_go_to_those_that_lost_most() -> None:
    assert shared(10, [Fraction(16), Fraction(62), Fraction(22)]) == [2, 6, 2]
    assert shared(10, [Fraction(1), Fraction(2), Fraction(1)]) == [3, 5, 2]
    assert shared(5, [Fraction(0), Fraction(0)]) == [3, 2]
    assert shared(0, []) == []
    with pytest.raises(ValueError, match="no one to bear it"):
        shared(1, [])


def test_a_kept_remnant_is_credited() -> None:
    """Half the area price of the remnant: 62.00 × remnant / 500 000 × 0.5."""
    report = account(three(), ordered(remnant_credit=Decimal("0.5")))
    costs = table(report)
    credit = round(62.00 * report.areas.remnant / 500_000 * 0.5, 2)
    assert 20 < credit < 31
    assert costs.hides[0].remnant_credit == Decimal(str(credit))
    assert costs.total.leather == Decimal("62.00") - Decimal(str(credit))


@pytest.mark.parametrize(
    ("basis", "amount", "price"),
    [
        ("hide", "62", "62.00"),
        ("ft2", "8.00", "43.06"),  # 500 000 / 92 903.04 = 5.38196 ft²
        ("dm2", "0.75", "37.50"),
        ("m2", "80", "40.00"),
    ],
)
def test_prices_by_area(basis: Any, amount: str, price: str) -> None:
    hide = replace(HIDE, price=Price(Decimal(amount), "EUR", basis))
    assert table(account(three(hide), ordered(hide))).hides[0].price == Decimal(price)


def test_open_holes_are_not_paid_for_and_the_measured_area_is() -> None:
    hole = replace(flawed("hole", box(10, 400, 110, 500)), price=Price(Decimal("80"), "EUR", "m2"))
    report = account(three(hole), ordered(hole))
    assert report.hides[0].priced_area_mm2 == pytest.approx(490_000)
    assert table(report).hides[0].price == Decimal("39.20")
    assert any("open holes" in note for note in report.notes)
    scar = replace(hole, flaws=(replace(hole.flaws[0], severity="weak"),))
    assert account(three(scar), ordered(scar)).hides[0].priced_area_mm2 == 500_000
    measured = Measured(505_000, 500_000, 3000, 2, 0, 0.1, 0.1, 2, 1, "")
    assert account(three(replace(scar, measured=measured))).hides[0].priced_area_mm2 == 505_000


def test_a_hide_without_a_price() -> None:
    """Unknown, not free: also in every sum that it is part of."""
    other = LaidHide(replace(HIDE, name="back-02"), (put("d", 100, 100),))
    both = replace(three(), hides=(*three().hides, other))
    report = account(both, replace(ordered(), hides=(PRICED, other.hide)))
    costs = table(report)
    assert costs.hides[1].cost.leather is costs.hides[1].cost.total is costs.hides[1].price is None
    assert costs.hides[0].cost.leather == Decimal("62.00")
    assert costs.total.leather is costs.total.total is costs.panels[0].cost.total is None
    assert costs.total.hardware == Decimal("1.06")
    assert 'hide "back-02" has no price' in report.notes[0]
    assert ("cost in all", "not known: a hide has no price") in report_lines(report)
    assert ("note", report.notes[0]) in report_lines(report)


def test_a_hide_that_is_not_cut_is_not_charged() -> None:
    idle = LaidHide(replace(PRICED, name="back-02"), ())
    report = account(replace(three(), hides=(*three().hides, idle)), ordered())
    assert table(report).total.leather == Decimal("62.00")
    assert [hide.hide for hide in table(report).hides] == ["back-01"]
    assert report.areas.hide == 1_000_000
    assert "is not cut" in report.notes[0]


def test_several_currencies_are_refused() -> None:
    other = LaidHide(
        replace(HIDE, name="back-02", price=Price(Decimal(50), "EUR", "hide")), (put("d", 9, 9),)
    )
    mixed = replace(three(), hides=(*three().hides, other))
    with pytest.raises(InputError, match="EUR and USD"):
        account(mixed, ordered())
    with pytest.raises(InputError, match="GBP and USD"):
        account(three(), ordered(currency="GBP"))
    assert table(account(three(HIDE), ordered(HIDE, currency="GBP"))).currency == "GBP"
    assert table(account(three(HIDE), ordered(HIDE))).currency is None


def test_without_an_order_there_are_no_costs() -> None:
    report = account(three())
    assert report.cost is None
    assert report_to_json(report)["cost"] is None
    stranger = account(
        layout(put("a", 9, 9, "tag"), panels=(replace(FOB, name="tag"),), hide=PRICED), ordered()
    )
    assert any('does not name "tag"' in note for note in stranger.notes)


def test_pieces_bear_leather_by_area() -> None:
    """A panel of 100 × 50 and one of 100 × 150 bear a quarter and three quarters."""
    tall = Panel("tall", box(0, 0, 100, 150))
    both = layout(put("a", 100, 100), put("b", 300, 100, "tall"), panels=(FOB, tall), hide=PRICED)
    costs = table(account(both, ordered()))
    assert [line.cost.leather for line in costs.pieces] == [Decimal("15.50"), Decimal("46.50")]


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.integers(0, 1), min_size=1, max_size=12), st.decimals(0, 500, places=2),
    st.floats(0, 90), st.decimals(0, 3, places=3),
)  # fmt: skip
def test_every_cent_is_found_again(kinds: list[int], price: Decimal, minutes: float, each: Decimal) -> None:
    tall = replace(FOB, name="tall", outline=box(0, 0, 70, 110), pairing="alike")
    hides = tuple(replace(PRICED, name=f"h{i}", price=Price(price + i, "USD", "hide")) for i in range(2))
    placed: list[list[Placement]] = [[], []]
    for i, kind in enumerate(kinds):
        pair = f"q{i // 2}" if kind else None
        placed[i % 2].append(put(f"p{i}", 10 + 75 * i, 100, "tall" if kind else "fob", pair=pair))
    lines = tuple(
        OrderLine(panel, pieces=1, labour_minutes=minutes, hardware=(Hardware("x", 3, each),))
        for panel in (FOB, tall)
    )
    order = Order("o", hides, lines, CUTTING, Costs(Decimal("23.5"), Decimal("0.4")))
    laid = tuple(LaidHide(hide, tuple(pieces)) for hide, pieces in zip(hides, placed, strict=True))
    costs = table(account(Layout("t", 1, CUTTING, (FOB, tall), laid), order))
    for rows in (costs.hides, costs.panels, costs.pieces):
        for kind in ("leather", "hardware", "labour", "total"):
            assert sum(getattr(row.cost, kind) for row in rows) == getattr(costs.total, kind)
    by_name = {line.name: line.cost for line in costs.pieces}
    for pair in costs.pairs:
        members = [p.piece for one in laid for p in one.placements if p.pair == pair.name]
        assert pair.pieces == len(members)
        assert sum(by_name[name].total or 0 for name in members) == pair.cost.total
    for hide in costs.hides:
        assert hide.price is not None
        assert hide.remnant_credit is not None
        assert hide.cost.leather == hide.price - hide.remnant_credit
    for line in costs.pieces:
        assert line.cost.total == (line.cost.leather or 0) + line.cost.hardware + line.cost.labour
        assert abs(line.cost.hardware - 3 * each) < Decimal("0.011")


# --- pairs -----------------------------------------------------------------------------------


def two(turn: float, other_turn: float, mirrored: bool = True, hide: Hide = HIDE) -> float | None:
    panel = replace(FOB, pairing="mirrored" if mirrored else "alike")
    pair = (
        put("L", 300, 200, turn=turn, pair="p"),
        put("R", 700, 200, turn=other_turn, mirrored=mirrored, pair="p"),
    )
    (match,) = account(layout(*pair, panels=(panel,), hide=hide)).pairs
    assert (match.pair, match.panel, match.hide) == ("p", "fob", "back-01")
    return match.stretch_difference_deg


@pytest.mark.parametrize(
    ("turn", "other", "difference"),
    [
        (0, 0, 0),
        (20, -20, 0),
        (20, 160, 0),
        (20, 0, 20),
        (20, 20, 40),
        (50, 40, 90),
        (100, 0, 80),
        (0, 180, 0),
    ],
)
def test_mirrored_pairs_stretch_as_mirror_images_about_the_spine(
    turn: float, other: float, difference: float
) -> None:
    """Mirrored about the backbone the one turns left as the other turns right: no difference."""
    assert two(turn, other) == pytest.approx(difference)
    # A hide that lies turned by 30° with its pieces: nothing changes.
    slanted = replace(HIDE, spine=((0, 0), (-0.5, math.sqrt(3) / 2)))
    assert two(turn + 30, other + 30, hide=slanted) == pytest.approx(difference)


@pytest.mark.parametrize(
    ("turn", "other", "difference"), [(20, 20, 0), (20, 200, 0), (20, -20, 40), (0, 90, 90)]
)
def test_alike_pairs_stretch_alike_when_turned_alike(turn: float, other: float, difference: float) -> None:
    assert two(turn, other, mirrored=False) == pytest.approx(difference)
    assert two(turn, other, mirrored=False, hide=replace(HIDE, spine=None)) == pytest.approx(difference)


def test_an_unknown_spine_leaves_the_difference_unknown() -> None:
    assert two(0, 0, hide=replace(HIDE, spine=None)) is None


def test_the_distance_of_a_pair_is_centre_to_centre() -> None:
    panel = replace(FOB, pairing="mirrored")
    pair = (put("L", 100, 100, pair="p"), put("R", 500, 130, mirrored=True, pair="p"))
    (match,) = account(layout(*pair, panels=(panel,))).pairs
    # Centres (150, 125) and (450, 155).
    assert match.distance_mm == pytest.approx(math.hypot(300, 30))


# --- the report ------------------------------------------------------------------------------


def test_the_report_file_holds_what_the_contract_says() -> None:
    panel = replace(FOB, pairing="mirrored")
    pair = (put("L", 100, 100, pair="p"), put("R", 500, 130, mirrored=True, pair="p"))
    unplaced = (Unplaced("fob", 2, "no room left"),)
    placed = layout(*pair, panels=(panel,), hide=PRICED, unplaced=unplaced)
    data = json.loads(json.dumps(report_to_json(account(placed, ordered())), allow_nan=False))
    check_report(data, "report.json")
    assert list(data)[:2] == ["kind", "version"]
    assert (data["kind"], data["version"]) == ("report", 1)
    assert set(data["areas_mm2"]) == {"hide", "margins", "flaws", "usable", "pieces", "between", "remnant"}
    assert_partition(Areas(**data["areas_mm2"]))
    assert set(data["yield"]) == {"of_hide", "of_usable"}
    assert data["pairs"] == [
        {
            "pair": "p", "panel": "fob", "hide": "back-01",
            "distance_mm": pytest.approx(301.496, abs=1e-3), "stretch_difference_deg": 0.0,
        }
    ]  # fmt: skip
    cost = data["cost"]
    for rows in ("per_hide", "per_panel", "per_piece", "per_pair"):
        assert [set(row) & {"leather", "hardware", "labour", "total"} for row in cost[rows]] == [
            {"leather", "hardware", "labour", "total"} for _ in cost[rows]
        ]
        assert round(sum(row["leather"] for row in cost[rows]), 2) == cost["total"]["leather"] == 62.0
    assert [row["piece"] for row in cost["per_piece"]] == ["L", "R"]
    assert cost["per_pair"][0]["pair"] == "p"
    assert cost["per_hide"][0]["hide"] == "back-01"
    # What the hide was bought for, beside what its pieces would sell for: this order asks for no price.
    assert (cost["per_hide"][0]["hide_price"], cost["per_hide"][0]["price"]) == (62.0, None)
    assert data["unplaced"] == [{"panel": "fob", "pieces": 2, "why": "no room left"}]
    assert any("certifies nothing" in text for text in data["cautions"])


def test_the_report_in_words() -> None:
    panel = replace(FOB, pairing="mirrored")
    pair = (put("L", 100, 100, pair="p"), put("R", 500, 130, mirrored=True, pair="p"))
    placed = layout(*pair, panels=(panel,), hide=PRICED, unplaced=(Unplaced("fob", 2, "no room left"),))
    lines = dict(report_lines(account(placed, ordered(labour_per_hour=Decimal(24)))))
    assert lines["leather area"] == "5.38 ft² (50.0 dm²), 100.0 %"
    assert lines["yield of the hide"] == "2.0 %"
    assert lines["leather"] == "62.00 USD"
    # 31.00 leather, 0.265 hardware, 6.5 minutes at 24.00: 2.60.
    assert lines["cost of one fob"] in {"33.86 USD", "33.87 USD"}
    assert lines["farthest apart of a pair"] == "301.5 mm (p)"
    assert lines["greatest difference in stretch of a pair"] == "0° (p)"
    assert lines["no room for 2 of fob"] == "no room left"
    unknown = dict(report_lines(account(replace(placed, hides=(LaidHide(replace(HIDE, spine=None), pair),)))))
    assert unknown["difference in stretch"] == "not known for 1 pair"


def test_several_hides_add_up() -> None:
    other = replace(flawed("hole"), name="back-02")
    both = replace(three(HIDE), hides=(*three(HIDE).hides, LaidHide(other, (put("d", 9, 9),))))
    report = account(both)
    assert_partition(report.areas)
    for kind in ("hide", "margins", "flaws", "usable", "pieces", "between", "remnant"):
        assert sum(getattr(hide.areas, kind) for hide in report.hides) == getattr(report.areas, kind)
    assert report.areas.pieces == 20_000
    assert report.hides[1].yields.of_hide == 0.01


def test_what_cannot_be_measured_is_refused() -> None:
    with pytest.raises(InvalidLayout, match="not a finite number"):
        account(layout(put("a", float("nan"), 0)))
    with pytest.raises(InvalidLayout, match="crosses"):
        account(layout(hide=replace(HIDE, outline=((0, 0, 0), (9, 9, 0), (9, 0, 0), (0, 9, 0)))))
    with pytest.raises(InvalidLayout, match="crosses"):
        account(layout(panels=(Panel("fob", ((0, 0, 0), (9, 9, 0), (9, 0, 0), (0, 9, 0))),)))


def test_an_empty_layout() -> None:
    report = account(replace(layout(), hides=()))
    assert astuple(report.areas) == (0.0,) * 7
    assert (report.yields.of_hide, report.yields.of_usable) == (0.0, 0.0)


def test_a_fill_that_found_no_room_is_noted() -> None:
    rest = (OrderLine(replace(FOB, name="gusset"), fill=True), OrderLine(replace(FOB, name="tab"), fill=True))
    placed = layout(put("a", 100, 100), put("tab-01", 300, 100, "tab"), hide=PRICED)
    panels = (FOB, *(line.panel for line in rest))
    notes = account(replace(placed, panels=panels), replace(ordered(), lines=(LINE, *rest))).notes
    assert [note for note in notes if "fills what room" in note] == [
        '"gusset" fills what room the others leave: there was none for it'
    ]
