"""Flaws, stretch, shapes at the limit: what the rules of a panel do to the layouts that the search finds."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from small_orders import (
    BARE,
    USUAL,
    count,
    disc,
    laid,
    on_hides,
    order_of,
    placements,
    rectangle,
)

from nesting.files.hide import Flaw, Hide
from nesting.files.layout_file import layout_to_json
from nesting.files.order import Cutting, OrderLine
from nesting.files.panel import HiddenZone, Panel, Stretch
from nesting.planning.workers import Bounds, best_layout

TEN = Cutting(gap_mm=0, edge_margin_mm=10, straight_edge_margin_mm=10, flaw_margin_mm=0)
OFFCUT = Hide("offcut", rectangle(300, 200))
TILE = Panel("tile", rectangle(80, 60))
WING = Panel("wing", ((0, 0, 0), (70, 0, 0), (55, 40, 0.3), (5, 25, 0)), pairing="mirrored")


# --- flaws -----------------------------------------------------------------------------------

SCAR = Flaw("scar", "weak", rectangle(20, 220, 140, -10))
"""Right across the middle of a hide of 300 by 200."""


def test_what_accepts_a_flaw_lies_over_it() -> None:
    """Beside the scar there is no room for 150 mm: 140 - 3 - 6 on its left, 300 - 160 - 9 on its right."""
    hide = replace(OFFCUT, flaws=(SCAR,))
    long = Panel("long", rectangle(150, 30))
    # Upright it would go in: only lying is allowed.
    lying = replace(long, turns_deg=(0.0, 180.0))
    assert count(laid(order_of(hide, OrderLine(lying, pieces=2)), 3)) == 0
    assert count(laid(order_of(hide, OrderLine(replace(lying, accepts=("weak",)), pieces=2)), 3)) == 2
    hole = replace(hide, flaws=(replace(SCAR, severity="hole"),))
    assert count(laid(order_of(hole, OrderLine(replace(lying, accepts=("weak",)), pieces=2)), 3)) == 0


@pytest.mark.parametrize("zone", [rectangle(40, 30), rectangle(40, 40, -5, -5), rectangle(40, 30, 60, 0)])
def test_a_hidden_zone_takes_the_flaw(zone: tuple[tuple[float, float, float], ...]) -> None:
    """A zone of 40 mm, along the edge, across it, or in the middle, covers the scar and its margins."""
    hide = replace(OFFCUT, flaws=(SCAR,))
    panel = Panel("flap", rectangle(150, 30), turns_deg=(0.0, 180.0))
    tolerant = replace(panel, hidden_zones=(HiddenZone(zone, ("weak",)),))
    assert count(laid(order_of(hide, OrderLine(panel, pieces=1)), 3)) == 0
    assert count(laid(order_of(hide, OrderLine(tolerant, pieces=3)), 6)) == 3


# --- stretch ---------------------------------------------------------------------------------


@pytest.mark.parametrize("tolerance", [0.0, 12.0])
def test_stretch_of_both_sides_of_a_pair(tolerance: float) -> None:
    """The direction drawn at 30° lies along a spine at 70°; on the mirrored piece it is drawn at 150°."""
    spine = ((0.0, 0.0), (math.cos(math.radians(70)), math.sin(math.radians(70))))
    panel = replace(WING, stretch=Stretch(30, tolerance))
    layout = laid(order_of(replace(OFFCUT, spine=spine), OrderLine(panel, pairs=4)), 4)
    assert count(layout) == 8
    for p in placements(layout):
        drawn = 150.0 if p.pose.mirrored else 30.0
        off = (drawn + p.pose.rotation_deg - 70.0 + 90.0) % 180.0 - 90.0
        assert abs(off) <= tolerance + 0.01


def test_an_unknown_spine_leaves_the_stretch_open() -> None:
    """140 by 95 goes into 112 by 162 only upright: across, where its stretch may not lie on a spine at 0°."""
    tall = Hide("tall", rectangle(112, 162))
    order = order_of(tall, OrderLine(Panel("p", rectangle(140, 95), stretch=Stretch(0, 10)), pieces=1))
    assert count(laid(order, 3)) == 1
    known = replace(order, hides=(replace(tall, spine=((0, 0), (1, 0))),))
    assert count(laid(known, 3)) == 0


def test_turns_and_stretch_that_exclude_each_other() -> None:
    hide = replace(OFFCUT, spine=((0.0, 0.0), (0.0, 1.0)))
    panel = Panel("p", rectangle(50, 20), stretch=Stretch(0, 5), turns_deg=(0.0,))
    layout = laid(order_of(hide, OrderLine(panel, pieces=1), OrderLine(TILE, pieces=1)), 3)
    assert on_hides(layout) == {"offcut": ["tile"]}
    assert [(u.panel, u.pieces) for u in layout.unplaced] == [("p", 1)]


# --- shapes at the limit ---------------------------------------------------------------------


def test_discs_on_a_round_hide() -> None:
    """Six discs around one fill a disc of three radii: 30 mm and 0.5 between need 91 of 94."""
    layout = laid(order_of(Hide("round", disc(100)), OrderLine(Panel("disc", disc(30)), pieces=7)), 25)
    assert count(layout) == 7


def test_a_panel_with_a_cut_out() -> None:
    panel = Panel("frame", rectangle(90, 70), cutouts=(rectangle(60, 40, 15, 15),))
    assert count(laid(order_of(OFFCUT, OrderLine(panel, pieces=5)), 10)) == 5


@pytest.mark.parametrize("less", [0.1, 1.0])
def test_a_panel_almost_as_large_as_the_inside(less: float) -> None:
    panel = Panel("sheet", rectangle(280 - less, 180 - less))
    assert count(laid(order_of(OFFCUT, OrderLine(panel, pieces=1), cutting=TEN), 8)) == 1


@pytest.mark.parametrize(("margins", "size"), [(TEN, (280, 180)), (BARE, (300, 200))], ids=["ten", "bare"])
def test_a_panel_exactly_as_large_as_the_inside(margins: Cutting, size: tuple[float, float]) -> None:
    layout = laid(order_of(OFFCUT, OrderLine(Panel("sheet", rectangle(*size)), pieces=1), cutting=margins), 8)
    assert count(layout) == 1


def test_no_margins_and_no_gap() -> None:
    """Four of 149.8 by 99.8 in 300 by 200: two tenths to spare each way."""
    order = order_of(OFFCUT, OrderLine(Panel("quarter", rectangle(149.8, 99.8)), pieces=4), cutting=BARE)
    assert count(laid(order, 30)) == 4


def test_a_strip_of_trapezoids_along_a_straight_edge() -> None:
    """8.5 and 7.5 by 4.5 tile a strip: six take 48.5 of its length, half a unit lost at the ends (geometry).

    Ten times that in mm, with 1 % to spare each way.
    """
    length, height = 1.01 * 485.0, 1.01 * 45.0
    hide = Hide("strip", rectangle(length, height), straight_edges=(((0.0, 0.0), (length, 0.0)),))
    panel = Panel("trapezoid", ((0, 0, 0), (85, 0, 0), (80, 45, 0), (5, 45, 0)))
    assert count(laid(order_of(hide, OrderLine(panel, pieces=6), cutting=BARE), 40)) == 6


# --- the same again --------------------------------------------------------------------------


def test_the_same_seed_and_rounds_give_the_same_layout() -> None:
    order = order_of(OFFCUT, OrderLine(WING, pairs=3), OrderLine(TILE, fill=True))
    first, again, other = (layout_to_json(laid(order, 6, seed)) for seed in (5, 5, 6))
    assert first == again
    assert first["hides"] != other["hides"]


def test_the_same_with_any_number_of_workers() -> None:
    order = order_of(OFFCUT, OrderLine(WING, pairs=2), cutting=USUAL)
    found = [best_layout(order, 5, Bounds(rounds=3), workers, lambda *_: None) for workers in (1, 2)]
    assert found[0] is not None
    assert found[0] == found[1]
