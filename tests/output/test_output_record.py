"""The recorded strokes: order of work, exact geometry, no cut twice."""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections import Counter

import numpy as np
import pytest
import shapely

from nesting.account import account
from nesting.files.hide import Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.judge import faults
from nesting.output.cut_order import cut_steps
from nesting.output.labels import name_parts
from nesting.output.notes import outward
from nesting.output.record import SIDE_GAP_MM, record, side_by_side
from nesting.output.shared import once_only, segments_of
from nesting.output.strokes import Circle, Loop, Path, Text, box_of, ring_box
from nesting.rings import Pose, area, flatten


def open_segments(points):
    return [(a[:2], b[:2]) for a, b in itertools.pairwise(points)]


def cut_lines(strokes):
    """Every straight cut of the strokes as a shapely line."""
    lines = []
    for stroke in strokes:
        if isinstance(stroke, Loop) and stroke.layer == "cut":
            lines += [(start, end) for start, end, _ in segments_of(stroke.ring)]
        elif isinstance(stroke, Path) and stroke.layer == "cut":
            lines += open_segments(stroke.points)
    return [shapely.LineString(line) for line in lines]


def test_the_example_itself_is_valid(workshop, touching):
    assert faults(workshop(3)) == []
    assert faults(touching()) == []
    assert faults(touching(0.4)) == []


def test_inner_cuts_come_before_their_outline(workshop):
    (drawing,) = record(workshop())
    outline_at = {s.piece: i for i, s in enumerate(drawing.strokes) if s.role == "outline"}
    assert len(outline_at) == 23
    inner = [(i, s) for i, s in enumerate(drawing.strokes) if s.piece and s.role not in ("outline", "piece")]
    assert inner
    assert all(i < outline_at[stroke.piece] for i, stroke in inner)
    order = [s.layer for s in drawing.strokes]
    assert order == sorted(order, key=["note", "mark", "line", "punch", "cut"].index)


def test_counts_follow_the_panels(workshop):
    layout = workshop()
    (drawing,) = record(layout)
    counted = Counter(stroke.layer for stroke in drawing.strokes)
    panels = [layout.panel_by_name[p.panel] for p in layout.hides[0].placements]
    assert counted["punch"] == sum(len(panel.punches) for panel in panels)
    assert counted["mark"] == sum(len(panel.marks) for panel in panels)
    assert counted["line"] == sum(len(panel.lines) for panel in panels)
    assert counted["cut"] == sum(1 + len(panel.cutouts) for panel in panels)


def test_placed_outlines_keep_area_and_mirror(workshop):
    layout = workshop()
    (drawing,) = record(layout)
    chap = layout.panel_by_name["half-chap"]
    rings = {s.piece: s.ring for s in drawing.strokes if s.role == "outline"}
    for side in "LR":
        assert area(rings[f"half-chap-03-{side}"]) == pytest.approx(area(chap.outline), rel=1e-12)
    # The contract's rule, done by hand for one point: mirror, turn by 180, shift.
    placement = next(p for p in layout.hides[0].placements if p.piece == "half-chap-03-R")
    x, y, bulge = chap.outline[1]
    expected = (x + placement.pose.at[0], -y + placement.pose.at[1], -bulge)
    assert rings["half-chap-03-R"][1] == pytest.approx(expected)


def test_a_doubled_punch_is_recorded_once(workshop):
    layout = workshop()
    fob = layout.panel_by_name["key-fob"]
    doubled = dataclasses.replace(fob, punches=fob.punches * 2, marks=fob.marks * 2)
    layout = dataclasses.replace(layout, panels=(*layout.panels[:2], doubled))
    circles = [s for s in record(layout)[0].strokes if isinstance(s, Circle) and s.piece == "key-fob-01"]
    assert len(circles) == 1


def test_with_a_gap_every_outline_stays_closed(workshop):
    for drawing in record(workshop(3)):
        assert all(isinstance(s, Loop) for s in drawing.strokes if s.layer == "cut")


@pytest.mark.parametrize("share", [1.0, 0.4])
def test_a_shared_cut_is_cut_once(touching, share):
    (drawing,) = record(touching(share))
    lines = cut_lines(drawing.strokes)
    total = sum(line.length for line in lines)
    # Two slips of 260 mm around, less what they share.
    assert total == pytest.approx(2 * 260 - 50 * share)
    assert shapely.union_all(lines).length == pytest.approx(total)
    first, *others = [s for s in drawing.strokes if s.role == "outline"]
    assert isinstance(first, Loop)
    assert others
    assert all(isinstance(s, Path) and s.piece != first.piece for s in others)
    # Both pieces still come free: the cuts enclose both areas.
    faces = shapely.polygonize([shapely.node(shapely.union_all(lines))])
    areas = [face.area for face in shapely.get_parts(faces)]
    assert areas == pytest.approx([4000.0, 4000.0])


def test_sharing_off_leaves_doubled_cuts(touching):
    """The check above bites: without sharing, the same measure sees the double cut."""
    (drawing,) = record(touching())
    loops = [Loop("cut", "outline", piece.outline, piece.placement.piece) for piece in drawing.pieces]
    lines = cut_lines(loops)
    assert shapely.union_all(lines).length == pytest.approx(sum(line.length for line in lines) - 50.0)
    assert len(once_only(loops)) == 2


def test_shared_arcs_are_cut_once():
    bump = Loop("cut", "outline", ((0, 0, 0), (40, 0, 0), (40, 30, 0.4), (0, 30, 0)), "a")
    nest = Loop("cut", "outline", ((0, 30, -0.4), (40, 30, 0), (40, 60, 0), (0, 60, 0)), "b")
    (first,), (second,) = once_only([bump, nest])
    assert first == bump
    assert isinstance(second, Path)
    assert [vertex[:2] for vertex in second.points] == [(40, 30), (40, 60), (0, 60), (0, 30)]


FRAME = Panel("frame", ((0, 0, 0), (200, 0, 0), (200, 160, 0), (0, 160, 0)),
              cutouts=(((40, 30, 0), (140, 30, 0), (140, 110, 0), (40, 110, 0)),))  # fmt: skip


@pytest.mark.parametrize("tool", ["laser", "knife"])
@pytest.mark.parametrize(("width", "shared"), [(100, 360), (60, 200)])
def test_a_piece_along_the_edge_of_a_cut_out_shares_its_cut(tool, width, shared):
    """A slip 80 mm high in a cut-out of 100 x 80 mm: all around, or along three sides (80 + 60 + 60)."""
    slip = Panel("slip", ((0, 0, 0), (width, 0, 0), (width, 80, 0), (0, 80, 0)))
    placements = (
        Placement("frame-1", "frame", Pose(False, 0.0, (10, 10))),
        Placement("slip-1", "slip", Pose(False, 0.0, (50, 40))),
    )
    cutting = Cutting(tool, gap_mm=0.0, edge_margin_mm=0.0)
    hide = Hide("back", ((0, 0, 0), (300, 0, 0), (300, 300, 0), (0, 300, 0)))
    layout = Layout("Frames", 1, cutting, (FRAME, slip), (LaidHide(hide, placements),))
    assert faults(layout) == []
    (drawing,) = record(layout)
    lines = cut_lines(drawing.strokes)
    total = sum(line.length for line in lines)
    assert total == pytest.approx(720 + 360 + 2 * (width + 80) - shared)
    assert shapely.union_all(lines).length == pytest.approx(total)
    # The slip is cut whole, before the rest of the cut-out that it lies in.
    cuts = [stroke for stroke in drawing.strokes if stroke.layer == "cut"]
    assert isinstance(cuts[0], Loop)
    assert cuts[0].piece == "slip-1"
    assert all(isinstance(stroke, Path) for stroke in cuts if stroke.role == "cut-out")
    assert account(layout).common_cut_mm == pytest.approx(shared)
    steps = cut_steps(drawing, tool)
    assert steps[-1].pieces == ("frame-1",)
    if tool == "knife":
        both = [step for step in steps if set(step.pieces) == {"slip-1", "frame-1"}]
        assert sum(math.dist(step.start, step.end) for step in both) == pytest.approx(shared)


def test_hides_stand_side_by_side(workshop):
    sheet = side_by_side(record(workshop(3)))
    assert sheet[0].strokes[0] == record(workshop(3))[0].strokes[0]
    boxes = [box_of(drawing.strokes) for drawing in sheet]
    for left, right in itertools.pairwise(boxes):
        assert right[0] - left[2] == pytest.approx(SIDE_GAP_MM, abs=0.5)
    zero = [s.text for d in sheet for s in d.strokes if isinstance(s, Text) and "zero of this hide" in s.text]
    assert len(zero) == 3
    hide = sheet[1].strokes[0]
    assert isinstance(hide, Loop)
    shift = hide.ring[0][0] - sheet[1].hide.outline[0][0]
    assert f"x {shift:g}," in zero[1]


def test_check_square_is_100_mm_and_off_the_hide(workshop):
    for drawing in record(workshop(3)):
        (square,) = [s for s in drawing.strokes if s.role == "check square"]
        low_x, low_y, high_x, high_y = ring_box(square.ring)
        assert (high_x - low_x, high_y - low_y) == (100.0, 100.0)
        hide = shapely.Polygon(flatten(drawing.hide.outline))
        assert hide.distance(shapely.Polygon(flatten(square.ring))) > 10.0


@pytest.mark.parametrize("turned", [False, True])
def test_a_straight_edge_is_marked_outside_the_leather(workshop, turned):
    hide = workshop().hides[0].hide
    edge = hide.straight_edges[0][::-1] if turned else hide.straight_edges[0]
    assert outward(edge, hide.outline) == pytest.approx((0.0, -1.0))
    assert outward(edge, hide.outline[::-1]) == pytest.approx((0.0, -1.0))


def test_extent_of_arcs_is_exact():
    """A disc's extent is its diameter, whichever two points its arcs start from (geometry)."""
    for angle in np.linspace(0, 2 * math.pi, 9):
        x, y = 21 * math.cos(angle), 21 * math.sin(angle)
        assert ring_box(((x, y, 1.0), (-x, -y, 1.0))) == pytest.approx((-21, -21, 21, 21))
        assert ring_box(((x, y, -1.0), (-x, -y, -1.0))) == pytest.approx((-21, -21, 21, 21))


def test_labels_lie_on_their_pieces(workshop):
    for drawing in record(workshop(3)):
        for piece in drawing.pieces:
            body = shapely.Polygon(flatten(piece.outline), [flatten(ring) for ring in piece.cutouts])
            assert body.buffer(-3.0).contains(shapely.Point(piece.label.at))


@pytest.mark.parametrize(
    ("piece", "panel", "parts"),
    [
        ("half-chap-03-R", "half-chap", ("half-chap", "3 R")),
        ("key-fob-10", "key-fob", ("key-fob", "10")),
        ("half-chap-00-L", "half-chap", ("half-chap", "0 L")),
        ("odd one", "half-chap", ("odd one", "")),
    ],
)
def test_short_names(piece, panel, parts):
    assert name_parts(piece, panel) == parts
