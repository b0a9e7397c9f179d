"""The judge, rule by rule: a valid layout, a breach of 0.05 mm that is a fault, 0.01 mm that is none.

Expected distances are plane geometry on rectangles and circles, worked out by hand in each test.
"""

from __future__ import annotations

import math
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

import nesting
from nesting.errors import InvalidLayout
from nesting.files.hide import Flaw, Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Cutting
from nesting.files.panel import HiddenZone, Panel, Stretch
from nesting.judge import assert_layout_valid, cautions, faults
from nesting.rings import Pose, Ring

NAN = float("nan")


def box(x0: float, y0: float, x1: float, y1: float) -> Ring:
    return ((x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0))


def disc(x: float, y: float, r: float) -> Ring:
    return ((x - r, y, 1.0), (x + r, y, 1.0))


def put(piece: str, x: float, y: float, turn: float = 0.0, **rest: Any) -> Placement:
    mirrored = rest.pop("mirrored", False)
    return Placement(piece, rest.pop("panel", "fob"), Pose(mirrored, turn, (x, y)), **rest)


HIDE = Hide("back-01", box(0, 0, 1000, 500), straight_edges=(((0, 0), (1000, 0)),), spine=((0, 0), (0, 1)))
FOB = Panel("fob", box(0, 0, 100, 50))
CUTTING = Cutting(gap_mm=0.5, edge_margin_mm=6, straight_edge_margin_mm=1.5, flaw_margin_mm=3)


def layout(
    *placements: Placement, hide: Hide = HIDE, panels: tuple[Panel, ...] = (FOB,), **rest: Any
) -> Layout:
    rest.setdefault("cutting", CUTTING)
    return Layout("fobs", 1, panels=panels, hides=(LaidHide(hide, placements),), **rest)


def check(make: Callable[[float], Layout], *words: str) -> None:
    """``make(short)`` breaks one rule by ``short`` mm; the fault must name what broke."""
    assert faults(make(0.0)) == []
    assert faults(make(0.01)) == []
    found = faults(make(0.05))
    assert len(found) == 1
    for word in words:
        assert word in found[0]


# --- inside the hide -------------------------------------------------------------------------


def test_rough_edges_keep_the_edge_margin() -> None:
    check(lambda d: layout(put("a", 6 - d, 100)), '"a"', '"back-01"', "rough edge", "5.95 mm", "6 mm")
    check(lambda d: layout(put("a", 894 + d, 100)), "rough edge", "5.95 mm")
    check(lambda d: layout(put("a", 400, 444 + d)), "rough edge", "5.95 mm")


def test_a_straight_edge_keeps_its_own_margin() -> None:
    check(lambda d: layout(put("a", 400, 1.5 - d)), "straight edge", "1.45 mm", "1.5 mm")


def test_the_rough_rest_beside_a_straight_edge_is_a_plain_distance() -> None:
    """The straight edge ends at x = 600; past it the same line is rough: 6 mm from (600, 0)."""
    hide = replace(HIDE, straight_edges=(((0, 0), (600, 0)),))
    reach = math.sqrt(6**2 - 1.5**2)
    check(lambda d: layout(put("a", 500 - reach + d, 1.5), hide=hide), "rough edge", "5.952 mm")
    check(lambda d: layout(put("a", 700, 6 - d), hide=hide), "rough edge", "5.95 mm")


def test_two_straight_edges_meet_without_a_rough_corner() -> None:
    """Ends given to a tenth of a millimetre leave no rough point in the corner."""
    for end in (0.0, 0.1):
        edges = (((end, 0), (1000, 0)), ((0, 500), (0, end)))
        hide = replace(HIDE, straight_edges=edges)
        check(lambda d, hide=hide: layout(put("a", 1.5, 1.5 - d), hide=hide), "straight edge")


def test_a_straight_edge_on_a_wavy_outline() -> None:
    """Waves of 0.8 mm stay straight; a spur of 3 mm is rough."""
    waves = tuple((10.0 * i, 0.8 * (i % 2), 0.0) for i in range(101))
    hide = replace(HIDE, outline=(*waves, (1000.0, 500.0, 0.0), (0.0, 500.0, 0.0)))
    assert faults(layout(put("a", 400, 2.3), hide=hide)) == []
    spur = (*waves[:45], (450.0, 3.0, 0.0), *waves[46:])
    hide = replace(hide, outline=(*spur, (1000.0, 500.0, 0.0), (0.0, 500.0, 0.0)))
    found = faults(layout(put("a", 400, 4.6), hide=hide))
    assert len(found) == 1
    assert "rough edge" in found[0]


def test_a_notch_beside_a_straight_edge_stays_rough() -> None:
    """An edge that turns away from the straight edge is rough from its first point on."""
    corner = ((0.0, 0.0, 0.0), (400.0, 0.0, 0.0), (390.0, -60.0, 0.0), (1000.0, -60.0, 0.0))
    hide = replace(HIDE, outline=(*corner, (1000.0, 500.0, 0.0), (0.0, 500.0, 0.0)))
    hide = replace(hide, straight_edges=(((0, 0), (400, 0)),))
    check(lambda d: layout(put("a", 406 - d, -40), hide=hide), "rough edge", "5.95 mm")


def test_a_piece_outside_is_told_how_far() -> None:
    found = faults(layout(put("a", 400, -20)))
    assert any("20 mm outside" in fault for fault in found)
    assert any("2000 mm outside" in fault for fault in faults(layout(put("a", 2900, 100))))


def test_without_margins_the_outline_itself_is_the_limit() -> None:
    bare = Cutting(gap_mm=0, edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=0)
    check(lambda d: layout(put("a", -d, 0), cutting=bare), "outside", "0.05 mm")


def test_arcs_of_hide_and_panel_are_held_exactly() -> None:
    """A disc of radius 40 in a disc of 100: 54 mm from centre to centre leave 6 mm."""
    hide = Hide("round-01", disc(0, 0, 100))
    panel = Panel("fob", disc(0, 0, 40))
    for turn in (0.0, 17.0, 90.0):
        check(lambda d, turn=turn: layout(put("a", 54 + d, 0, turn), hide=hide, panels=(panel,)), "rough")


def test_an_inward_arc_clears_a_spur_of_the_hide() -> None:
    """A bay of radius 46 over a half-round spur of radius 40, one centre: 6 mm all along."""
    bay = Panel(
        "fob", ((-60, 0, 0), (-46, 0, -1), (46, 0, 0), (60, 0, 0), (0, 90, 0))
    )  # fmt: skip
    spur: Ring = (
        (-200, -50, 0), (-40, -50, 0), (-40, 0, -1), (40, 0, 0), (40, -50, 0), (200, -50, 0), (0, 300, 0)
    )  # fmt: skip
    check(lambda d: layout(put("a", 0, -d), hide=Hide("bay", spur), panels=(bay,)), "rough edge")


# --- apart from each other -------------------------------------------------------------------


def test_pieces_are_kerf_and_gap_apart() -> None:
    cutting = replace(CUTTING, kerf_mm=0.2)
    check(
        lambda d: layout(put("a", 100, 100), put("b", 200.7 - d, 120), cutting=cutting),
        '"a" and piece "b"', '"back-01"', "0.65 mm apart", "0.7 mm",
    )  # fmt: skip


def test_corner_to_edge_at_an_angle() -> None:
    """A square turned by 45° has its corner 50/√2 = 35.355 from its centre line."""
    square = Panel("fob", box(-25, -25, 25, 25))
    reach = 25 * math.sqrt(2)
    check(
        lambda d: layout(put("a", 100, 100, 45), put("b", 125.5 + reach - d, 100), panels=(square,)),
        "0.45 mm",
    )


def test_touching_pieces_where_no_gap_is_asked() -> None:
    cutting = replace(CUTTING, gap_mm=0)
    check(lambda d: layout(put("a", 100, 100), put("b", 200 - d, 100), cutting=cutting), "overlap")


@pytest.mark.parametrize("first", ["fob", "needle"])
def test_a_thin_point_pushed_head_on_into_a_straight_side(first: str) -> None:
    cutting = replace(CUTTING, gap_mm=0)
    needle = Panel("needle", ((0, 0, 0), (-80, 3, 0), (-80, -3, 0)))

    def make(d: float) -> Layout:
        both = [put("a", 100, 100), put("b", 100 + d, 125, panel="needle")]
        return layout(*(both if first == "fob" else both[::-1]), panels=(FOB, needle), cutting=cutting)

    check(make, "overlap")


def test_pieces_on_top_of_each_other() -> None:
    found = faults(layout(put("a", 100, 100), put("b", 100, 100)))
    assert found == [
        'piece "a" and piece "b" on hide "back-01" overlap by 5000.000 mm²; kerf and gap ask for 0.5 mm'
    ]


def test_a_piece_may_lie_in_a_cut_out() -> None:
    frame = Panel("frame", box(0, 0, 200, 200), cutouts=(box(40, 40, 140.5 + 10, 150),))
    check(
        lambda d: layout(
            put("a", 100, 100, panel="frame"), put("b", 140.5 - d, 160), panels=(FOB, frame)
        ),
        "0.45 mm apart",
    )  # fmt: skip
    # A round cut-out of radius 60: its corners are √(50² + 25²) = 55.9 from the centre.
    ring = Panel("frame", disc(0, 0, 100), cutouts=(disc(0, 0, math.hypot(50, 25) + 0.5),))
    assert faults(layout(put("a", 300, 200, panel="frame"), put("b", 250, 175), panels=(FOB, ring))) == []
    assert faults(layout(put("a", 300, 200, panel="frame"), put("b", 250, 175.1), panels=(FOB, ring))) != []


def test_pieces_on_different_hides_do_not_meet() -> None:
    other = replace(HIDE, name="back-02")
    two = replace(layout(), hides=(LaidHide(HIDE, (put("a", 9, 9),)), LaidHide(other, (put("b", 9, 9),))))
    assert faults(two) == []


def test_a_cut_out_that_touches_the_outline_in_a_point() -> None:
    """Turned by any angle, rounding in the last bit must not upset the judge."""
    panel = Panel("fob", box(0, 0, 100, 50), cutouts=(((30, 20, 0), (50, 0, 0), (70, 20, 0), (50, 37, 0)),))
    for turn in range(0, 360, 7):
        assert faults(layout(put("a", 400, 200, turn + 0.1), panels=(panel,))) == []
        double = layout(put("a", 400, 200, turn + 0.1), put("b", 400, 200, turn + 7.1), panels=(panel,))
        assert len(faults(double)) == 1


# --- clear of flaws --------------------------------------------------------------------------


SPOT = box(300, 200, 340, 240)


def flawed(severity: Any, outline: Ring = SPOT) -> Hide:
    return replace(HIDE, flaws=(Flaw("brand", severity, outline),))


@pytest.mark.parametrize("severity", ["hole", "weak", "blemish"])
def test_flaws_keep_their_margin(severity: str) -> None:
    check(
        lambda d: layout(put("a", 343 - d, 200), hide=flawed(severity)),
        '"a"', f'{severity} flaw "brand"', "2.95 mm", "3 mm",
    )  # fmt: skip


def test_a_flaw_around_a_piece_and_one_inside_it() -> None:
    assert (
        "5000.000 mm²" in faults(layout(put("a", 310, 210), hide=flawed("weak", box(300, 200, 500, 300))))[0]
    )
    assert faults(layout(put("a", 310, 210), hide=flawed("weak", box(340, 230, 341, 231))))


def test_what_the_panel_accepts_may_lie_anywhere() -> None:
    tolerant = replace(FOB, accepts=("blemish",))
    assert faults(layout(put("a", 300, 200), hide=flawed("blemish"), panels=(tolerant,))) == []
    assert faults(layout(put("a", 300, 200), hide=flawed("weak"), panels=(tolerant,)))


def test_a_hole_is_accepted_by_no_one() -> None:
    zone = HiddenZone(FOB.outline, ("weak", "blemish", "hole"))
    greedy = replace(FOB, accepts=("hole", "weak"), hidden_zones=(zone,))
    assert faults(layout(put("a", 300, 200), hide=flawed("weak"), panels=(greedy,))) == []
    assert faults(layout(put("a", 300, 200), hide=flawed("hole"), panels=(greedy,)))


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_hidden_zone_takes_the_flaw_but_the_seen_part_keeps_clear(mirrored: bool) -> None:
    """The left 50 mm of the panel are hidden; the flaw ends 3 mm before the seen part begins."""
    zone = HiddenZone(box(-5, -5, 50, 55), ("weak",))
    panel = replace(FOB, hidden_zones=(zone,), pairing="mirrored")
    at = 290 if not mirrored else 350

    def make(d: float) -> Layout:
        pair = (
            put("a", at - d if not mirrored else at + d, 200, mirrored=mirrored, pair="p"),
            put("b", 600, 200, mirrored=not mirrored, pair="p"),
        )
        # The seen part begins 50 mm from the panel's left edge: 3 mm past the flaw's end.
        hide = flawed("weak", box(300, 190, 337, 240) if not mirrored else box(303, 190, 337, 240))
        return layout(*pair, hide=hide, panels=(panel,))

    check(make, "2.95 mm")
    other = replace(panel, hidden_zones=(replace(zone, accepts=("blemish",)),))
    assert faults(replace(make(0), panels=(other,)))


def test_zones_that_share_the_panels_own_edge_leave_no_sliver() -> None:
    """A zone drawn along the panel's sloping edges and arc, with other corners, hides them whole."""
    outline: Ring = ((0, 0, 0), (100, 7.3, 0.7), (96.1, 61.7, 0), (-3.3, 47.9, 0))
    # The arc again, in two: a half arc's bulge is tan(atan(b) / 2); its middle is a sagitta away.
    half = math.tan(math.atan(0.7) / 2)
    dx, dy = -3.9, 54.4
    middle = (98.05 + 0.35 * dy, 34.5 - 0.35 * dx, half)
    zone: Ring = ((0, 0, 0), (33, 33 * 0.073, 0), (100, 7.3, half), middle, (96.1, 61.7, 0), (-3.3, 47.9, 0))
    panel = Panel("fob", outline, hidden_zones=(HiddenZone(zone, ("weak",)),))
    assert faults(layout(put("a", 300, 200, 33.3), hide=flawed("weak"), panels=(panel,))) == []
    spot = flawed("weak", box(360, 200, 460, 340))
    assert faults(layout(put("a", 300, 200, 33.3), hide=spot, panels=(panel,))) == []
    assert faults(layout(put("a", 300, 200, 33.3), hide=spot, panels=(replace(panel, hidden_zones=()),)))


def test_two_zones_together() -> None:
    zones = (HiddenZone(box(0, 0, 50, 50), ("weak",)), HiddenZone(box(50, 0, 100, 50), ("weak", "blemish")))
    panel = replace(FOB, hidden_zones=zones)
    assert faults(layout(put("a", 280, 210), hide=flawed("weak"), panels=(panel,))) == []
    assert faults(layout(put("a", 280, 210), hide=flawed("blemish"), panels=(panel,)))


def test_a_flaw_may_show_through_a_cut_out() -> None:
    frame = Panel("fob", box(0, 0, 100, 100), cutouts=(box(20, 20, 80, 80),))
    check(lambda d: layout(put("a", 277 + d, 170), hide=flawed("hole"), panels=(frame,)), "2.95 mm")


def test_without_a_flaw_margin_touching_is_allowed() -> None:
    bare = replace(CUTTING, flaw_margin_mm=0)
    check(lambda d: layout(put("a", 340 - d, 200), hide=flawed("weak"), cutting=bare), "weak")
    thread = flawed("weak", box(350, 150, 350.03, 300))
    assert faults(layout(put("a", 300, 200), hide=thread, cutting=bare))


# --- turn ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("turn", "ok"), [(0, True), (15, True), (-15, True), (15.1, False), (195, True), (90, False)]
)
def test_stretch_lies_along_the_spine(turn: float, ok: bool) -> None:
    panel = replace(FOB, stretch=Stretch(90, 15))
    found = faults(layout(put("a", 400, 200, turn), panels=(panel,)))
    assert (found == []) is ok
    if not ok:
        assert "off the spine" in found[0]
        assert "15°" in found[0]


def test_mirroring_turns_the_stretch_direction_over() -> None:
    """A panel direction of 60° lies at 120° when mirrored: along a spine of 120° without a turn."""
    panel = replace(FOB, stretch=Stretch(60, 5), pairing="mirrored")
    hide = replace(HIDE, spine=((0, 0), (-0.5, math.sqrt(3) / 2)))
    pair = (put("a", 300, 200, 0, mirrored=True, pair="p"), put("b", 500, 200, 60, pair="p"))
    assert faults(layout(*pair, hide=hide, panels=(panel,))) == []
    wrong = (put("a", 300, 200, 0, mirrored=True, pair="p"), put("b", 500, 200, 0, pair="p"))
    assert "60.00° off" in faults(layout(*wrong, hide=hide, panels=(panel,)))[0]


def test_an_unknown_spine_is_a_caution() -> None:
    panel = replace(FOB, stretch=Stretch(90, 15))
    unknown = layout(put("a", 400, 200, 45), hide=replace(HIDE, spine=None), panels=(panel,))
    assert faults(unknown) == []
    assert any("spine is not known" in text for text in cautions(unknown))
    assert not any("spine" in text for text in cautions(layout(put("a", 400, 200), panels=(panel,))))


@pytest.mark.parametrize(
    ("turn", "ok"), [(180, True), (-180, True), (540, True), (180.02, False), (0, False)]
)
def test_only_listed_turns(turn: float, ok: bool) -> None:
    panel = replace(FOB, turns_deg=(90, 180))
    found = faults(layout(put("a", 400, 200, turn), panels=(panel,)))
    assert (found == []) is ok
    if not ok:
        assert "90°, 180°" in found[0]
    assert faults(layout(put("a", 400, 200, 0.005), panels=(replace(FOB, turns_deg=(0,)),))) == []
    assert faults(layout(put("a", 400, 200, 359.995), panels=(replace(FOB, turns_deg=(0,)),))) == []
    assert "no turn at all" in faults(layout(put("a", 400, 200), panels=(replace(FOB, turns_deg=()),)))[0]


# --- pairs -----------------------------------------------------------------------------------

MIRRORED = replace(FOB, pairing="mirrored")
L, R = put("L", 100, 100, pair="p"), put("R", 400, 100, mirrored=True, pair="p")


def pair(*placements: Placement, **rest: Any) -> list[str]:
    return faults(layout(*placements, panels=(rest.pop("panel", MIRRORED),), **rest))


def test_a_pair_is_whole() -> None:
    assert pair(L, R) == []
    assert "has 1 piece in" in pair(L)[0]
    assert "has 3 pieces" in pair(L, R, replace(L, piece="L2", pose=Pose(False, 0, (600, 100))))[0]
    assert "comes in pairs" in pair(replace(L, pair=None))[0]


def test_one_of_a_mirrored_pair_is_mirrored() -> None:
    assert "neither mirrored" in pair(L, replace(R, pose=Pose(False, 0, (400, 100))))[0]
    assert "both mirrored" in pair(replace(L, pose=Pose(True, 0, (200, 100))), R)[0]


def test_alike_pairs_are_as_drawn() -> None:
    alike = replace(FOB, pairing="alike")
    assert pair(L, replace(R, pose=Pose(False, 180, (400, 200))), panel=alike) == []
    assert "never mirrored" in pair(L, R, panel=alike)[0]


def test_a_single_panel_has_no_pair_and_no_mirror() -> None:
    assert any(
        "has no pairs" in fault
        for fault in pair(L, replace(L, piece="R", pose=Pose(False, 0, (400, 100))), panel=FOB)
    )
    assert "never mirrored" in faults(layout(replace(R, pair=None)))[0]


def test_both_of_a_pair_are_of_one_panel_on_one_hide() -> None:
    other = replace(MIRRORED, name="band")
    assert "fob" in faults(layout(L, replace(R, panel="band"), panels=(MIRRORED, other)))[0]
    hides = (LaidHide(HIDE, (L,)), LaidHide(replace(HIDE, name="back-02"), (R,)))
    assert "back-02" in faults(replace(layout(panels=(MIRRORED,)), hides=hides))[0]


def test_pair_within_is_centre_of_area_to_centre_of_area() -> None:
    """A right triangle's centre of area is a third of the way; mirrored, it lies on the other side."""
    triangle = replace(MIRRORED, outline=((0.0, 0.0, 0.0), (90.0, 0.0, 0.0), (0.0, 60.0, 0.0)))

    def make(d: float) -> Layout:
        right = put("R", 400 + d, 140, mirrored=True, pair="p")
        # (130, 120) and (370, 160): 243.311 mm.
        return layout(L, right, panels=(triangle,), pair_within_mm=(("fob", math.hypot(240, 40)),))

    left = put("L", 100, 100, pair="p")
    assert left == L
    check(make, 'pair "p"', "243.36 mm", "243.311 mm")
    # Cut-outs do not move the centre: it is that of the outline.
    holed = replace(triangle, cutouts=(box(5, 5, 20, 20),))
    assert faults(replace(make(0), panels=(holed,))) == []
    # Another panel's limit is no concern.
    assert faults(replace(make(50), pair_within_mm=(("band", 10.0),))) == []


# --- names and numbers -----------------------------------------------------------------------


def test_nothing_occurs_twice() -> None:
    assert 'piece "a" occurs 2 times' in faults(layout(put("a", 100, 100), put("a", 300, 100)))[0]
    twice = (LaidHide(HIDE, (put("a", 100, 100),)), LaidHide(HIDE, (put("b", 300, 100),)))
    assert 'hide "back-01" occurs 2 times' in faults(replace(layout(), hides=twice))[0]
    assert 'panel "fob" occurs 2 times' in faults(layout(put("a", 100, 100), panels=(FOB, FOB)))[0]


def test_an_unknown_panel() -> None:
    assert 'panel "band" is not in the layout' in faults(layout(put("a", 100, 100, panel="band")))[0]


@pytest.mark.parametrize(
    "broken",
    [
        layout(put("a", NAN, 100)),
        layout(put("a", 100, 100, NAN)),
        layout(put("a", 100, 100, math.inf)),
        layout(put("a", 1e300, 100)),
        layout(put("a", 100, 100), panels=(Panel("fob", ((0, 0, 0), (1, NAN, 0), (0, 1, 0))),)),
        layout(put("a", 100, 100), panels=(Panel("fob", ((0, 0, 0), (1, 0, math.inf), (0, 1, 0))),)),
        layout(put("a", 100, 100), panels=(replace(FOB, stretch=Stretch(NAN, 5)),)),
        layout(put("a", 100, 100), panels=(replace(FOB, turns_deg=(NAN,)),)),
        layout(put("a", 100, 100), panels=(replace(FOB, hidden_zones=(HiddenZone(box(0, 0, NAN, 1), ()),)),)),
        layout(put("a", 100, 100), hide=replace(HIDE, outline=box(0, 0, NAN, 500))),
        layout(put("a", 100, 100), hide=replace(HIDE, spine=((0, 0), (NAN, 1)))),
        layout(put("a", 100, 100), hide=replace(HIDE, straight_edges=(((0, 0), (NAN, 0)),))),
        layout(put("a", 100, 100), hide=flawed("weak", box(1, 1, NAN, 9))),
        layout(put("a", 100, 100), cutting=replace(CUTTING, gap_mm=NAN)),
        layout(put("a", 100, 100), cutting=replace(CUTTING, edge_margin_mm=-1)),
        layout(put("a", 100, 100), pair_within_mm=(("fob", NAN),)),
        # Bow ties, and too few points to bound an area.
        layout(put("a", 100, 100), panels=(Panel("fob", ((0, 0, 0), (9, 9, 0), (9, 0, 0), (0, 9, 0))),)),
        layout(put("a", 100, 100), panels=(Panel("fob", ((0, 0, 0), (9, 9, 0))),)),
        layout(put("a", 100, 100), panels=(Panel("fob", ()),)),
        layout(put("a", 100, 100), panels=(replace(FOB, cutouts=(box(50, 10, 150, 40),)),)),
        layout(hide=replace(HIDE, outline=((0, 0, 0), (9, 9, 0), (9, 0, 0), (0, 9, 0)))),
        layout(hide=flawed("weak", ((0, 0, 0), (9, 9, 0)))),
    ],
)  # fmt: skip
def test_what_cannot_be_judged_is_a_fault(broken: Layout) -> None:
    assert len(faults(broken)) == 1


def test_an_empty_layout_is_valid() -> None:
    assert faults(layout()) == []
    assert faults(replace(layout(), hides=())) == []


def test_a_full_turn_of_the_ring_changes_nothing() -> None:
    """Rings may turn either way."""
    clockwise = replace(FOB, outline=tuple(reversed(FOB.outline)))
    hide = replace(HIDE, outline=tuple(reversed(HIDE.outline)))
    check(lambda d: layout(put("a", 400, 1.5 - d), panels=(clockwise,), hide=hide), "straight edge")


def test_the_public_door() -> None:
    good, bad = layout(put("a", 100, 100)), layout(put("a", 1, 1))
    assert nesting.assert_layout_valid(good) is None
    assert nesting.faults(bad) == faults(bad)
    with pytest.raises(InvalidLayout, match="rough edge") as caught:
        assert_layout_valid(bad)
    assert list(caught.value.faults) == faults(bad)
    assert nesting.__all__ == ["assert_layout_valid", "faults"]
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        nesting.nonsense  # noqa: B018


def test_importing_the_library_stays_cheap() -> None:
    code = "import nesting, sys; sys.exit('shapely' in sys.modules or 'numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# --- cautions --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tannage", "word"),
    [("chrome", "chromium"), ("unknown", "no stated tannage"), ("other", "ask the tanner")],
)
def test_laser_cautions_ask_for_the_tannage(tannage: Any, word: str) -> None:
    laser = replace(CUTTING, tool="laser", kerf_mm=0.2)
    hide = replace(HIDE, tannage=tannage)
    texts = cautions(layout(put("a", 100, 100), hide=hide, cutting=laser))
    assert any(word in text and "safety officer" in text for text in texts)
    assert any("chlorine" in text for text in texts)
    quiet = cautions(layout(put("a", 100, 100), hide=replace(HIDE, tannage="vegetable"), cutting=laser))
    assert not any("safety officer" in text for text in quiet)
    assert not any("chromium" in text for text in cautions(layout(put("a", 100, 100), hide=hide)))
    # A hide that nothing is cut from needs no caution.
    assert not any("safety officer" in text for text in cautions(layout(hide=hide, cutting=laser)))


@pytest.mark.parametrize(
    ("tool", "word"),
    [("knife", "sharp and guarded"), ("die", "two-hand"), ("blade", "guards"), ("waterjet", "waterjet")],
)
def test_each_tool_has_its_caution(tool: Any, word: str) -> None:
    texts = cautions(layout(put("a", 100, 100), cutting=replace(CUTTING, tool=tool)))
    assert any(word in text for text in texts)
    assert any("certifies nothing" in text for text in texts)
