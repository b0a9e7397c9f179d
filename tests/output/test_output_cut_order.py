"""The steps of cutting: nothing missed or cut twice, inner before outer, and no blade run into a piece."""

from __future__ import annotations

import dataclasses
import io
import itertools
import math

import ezdxf
import numpy as np
import pytest
import shapely

from nesting.files.hide import Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Cutting
from nesting.files.panel import Panel, Punch
from nesting.judge import faults
from nesting.output.cut_order import cut_steps
from nesting.output.dxf import layout_to_dxf
from nesting.output.record import record
from nesting.output.strokes import Circle, Loop, Path, flat_path
from nesting.rings import Pose, flatten

RUN_OUT_MM = 5.0


def box(x0, y0, x1, y1):
    return ((x0, y0, 0), (x1, y0, 0), (x1, y1, 0), (x0, y1, 0))


def laid(panels, *places, hide=None, tool="knife", gap=0.5):
    """Panels on a hide, each at ``(name, x, y)``, lower left corner first."""
    hide = hide or Hide("offcut", box(-50, -50, 400, 300))
    placements = tuple(
        Placement(f"{name}-{i}", name, Pose(False, 0.0, (x, y))) for i, (name, x, y) in enumerate(places, 1)
    )
    cutting = Cutting(tool, gap_mm=gap, straight_edge_margin_mm=0.0)
    return Layout("t", 1, cutting, tuple(panels), (LaidHide(hide, placements),))


def steps_of(layout):
    (drawing,) = record(layout)
    return cut_steps(drawing, layout.cutting.tool)


def line_of(stroke):
    points = flatten(stroke.ring) if isinstance(stroke, Loop) else flat_path(stroke.points)
    return shapely.LinearRing(points) if isinstance(stroke, Loop) else shapely.LineString(points)


def straight(steps):
    return [step for step in steps if step.kind == "straight"]


SLIP = Panel("slip", box(0, 0, 80, 50))


# --- nothing missed, nothing twice -----------------------------------------------------------


@pytest.mark.parametrize("tool", ["knife", "laser"])
def test_the_steps_are_all_cuts_once(workshop, tool):
    (drawing,) = record(workshop(tool=tool))
    steps = cut_steps(drawing, tool)
    punches = sum(isinstance(stroke, Circle) for stroke in drawing.strokes)
    assert sum(step.kind == "punch" for step in steps) == punches
    made = shapely.union_all([line_of(step.stroke) for step in steps if step.kind != "punch"])
    rings = [ring for piece in drawing.pieces for ring in (piece.outline, *piece.cutouts)]
    asked = shapely.union_all([shapely.LinearRing(flatten(ring)) for ring in rings])
    # Arcs are flattened to 0.01 mm of themselves, whole here and in parts there.
    assert made.buffer(0.03).covers(asked)
    assert asked.buffer(0.03).covers(made)
    lengths = sum(line_of(step.stroke).length for step in steps if step.kind != "punch")
    assert lengths == pytest.approx(asked.length, rel=1e-4)


@pytest.mark.parametrize("share", [1.0, 0.4])
def test_a_shared_side_is_one_step_for_both_pieces(touching, share):
    layout = dataclasses.replace(touching(share), cutting=Cutting("knife", gap_mm=0.0))
    steps = straight(steps_of(layout))
    shared = [step for step in steps if set(step.pieces) == {"slip-1", "slip-2"}]
    assert len(shared) == (3 if share == 1.0 else 1)
    assert sum(math.dist(step.start, step.end) for step in steps) == pytest.approx(2 * 260 - 50 * share)


# --- order -----------------------------------------------------------------------------------


@pytest.mark.parametrize("tool", ["knife", "laser"])
def test_punches_then_cutouts_then_outlines(workshop, tool):
    ranks = {"punch": 0, "cut-out": 1, "outline": 2}
    order = [ranks[step.stroke.role] for step in steps_of(workshop(tool=tool))]
    assert order == sorted(order)


def test_with_a_knife_straight_outlines_come_before_curves(workshop):
    kinds = [step.kind for step in steps_of(workshop()) if step.stroke.role == "outline"]
    assert set(kinds) == {"straight", "curve"}
    assert kinds == sorted(kinds, reverse=True)


@pytest.mark.parametrize("tool", ["knife", "laser"])
def test_a_piece_in_a_cutout_is_cut_before_the_cutout(tool):
    frame = Panel("frame", box(0, 0, 200, 200), cutouts=(box(20, 20, 180, 180),))
    tag = Panel("tag", box(0, 0, 60, 40), cutouts=(box(20, 10, 30, 20),), punches=(Punch((50, 20), 4),))
    layout = laid((frame, tag), ("frame", 0, 0), ("tag", 70, 70), tool=tool)
    assert faults(layout) == []
    order = [(step.pieces[0], step.stroke.role) for step in steps_of(layout)]
    runs = [key for key, _ in itertools.groupby(order)]
    assert runs == [
        ("tag-2", "punch"), ("tag-2", "cut-out"), ("tag-2", "outline"),
        ("frame-1", "cut-out"), ("frame-1", "outline"),
    ]  # fmt: skip


def test_ways_between_cuts_are_short(workshop):
    """Against the order of the layout's list, in which pieces of a row follow one another already."""
    layout = workshop(tool="laser")
    (drawing,) = record(layout)
    steps = cut_steps(drawing, "laser")
    order = {piece.placement.piece: i for i, piece in enumerate(drawing.pieces)}

    def way(steps):
        return sum(math.dist(one.end, other.start) for one, other in itertools.pairwise(steps))

    for role, share in (("punch", 0.75), ("cut-out", 0.85), ("outline", 0.85)):
        made = [step for step in steps if step.stroke.role == role]
        listed = sorted(made, key=lambda step: order[step.pieces[0]])
        assert way(made) < share * way(listed)


@pytest.mark.parametrize("tool", ["knife", "laser"])
def test_dxf_entities_come_in_that_order(workshop, tool):
    layout = workshop(tool=tool)
    document = ezdxf.read(io.StringIO(layout_to_dxf(layout).decode("cp1252")))
    drawn = [entity for entity in document.modelspace() if entity.dxf.layer in ("punch", "cut")]
    first = {}
    for step in steps_of(layout):
        key = ("punch", step.stroke.at) if step.kind == "punch" else (step.stroke.role, *step.pieces)
        first.setdefault(key, len(first))
    (drawing,) = record(layout)
    rings = {
        (stroke.role, stroke.piece): stroke.ring[0][:2]
        for stroke in drawing.strokes
        if isinstance(stroke, Loop)
    }
    expected = [key[1] if key[0] == "punch" else rings[key] for key in first]
    found = [tuple(e.dxf.center)[:2] if e.dxftype() == "CIRCLE" else e.get_points("xy")[0] for e in drawn]
    assert np.allclose(found, expected, atol=1e-6)


# --- the blade and the next piece ------------------------------------------------------------


def runs_into(point, toward, bodies):
    """Whether 5 mm past ``point``, away from ``toward``, lies a piece; bodies a tenth of a mm inside."""
    dx, dy = point[0] - toward[0], point[1] - toward[1]
    far = math.hypot(dx, dy)
    way = shapely.LineString([point, (point[0] + RUN_OUT_MM * dx / far, point[1] + RUN_OUT_MM * dy / far)])
    return any(body.buffer(-0.1).intersects(way) for body in bodies)


@pytest.mark.parametrize("hides", [1, 2])
def test_an_end_that_is_not_tied_runs_into_nothing(workshop, hides):
    for drawing in record(workshop(hides)):
        bodies = [
            shapely.Polygon(flatten(piece.outline), [flatten(ring) for ring in piece.cutouts])
            for piece in drawing.pieces
        ]
        cuts = straight(cut_steps(drawing, "knife"))
        tied = [bool(step.begins_at) for step in cuts] + [bool(step.stops_at) for step in cuts]
        ahead = [runs_into(step.start, step.end, bodies) for step in cuts]
        ahead += [runs_into(step.end, step.start, bodies) for step in cuts]
        assert tied == ahead
        assert 0 < sum(tied) < len(tied)
        # A cut with one tied end begins there.
        assert not [step for step in cuts if step.stops_at and not step.begins_at]


def test_a_cut_between_two_pieces_stops_at_the_next():
    """A slip in an alley: its long sides run into the slips that stand across both ends."""
    post = Panel("post", box(0, 0, 50, 150))
    layout = laid((SLIP, post), ("slip", 0, 50), ("post", 80.5, 0), ("post", -50.5, 0),
                  hide=Hide("offcut", box(-80, -20, 300, 200)))  # fmt: skip
    assert faults(layout) == []
    long = [s for s in straight(steps_of(layout)) if s.pieces == ("slip-1",) and s.start[1] == s.end[1]]
    assert len(long) == 2
    assert all({step.begins_at, step.stops_at} == {"post-2", "post-3"} for step in long)


def test_a_hollow_corner_ties_the_cut_to_its_own_piece():
    angle = Panel("angle", ((0, 0, 0), (100, 0, 0), (100, 40, 0), (40, 40, 0), (40, 100, 0), (0, 100, 0)))
    steps = straight(steps_of(laid((angle,), ("angle", 0, 0))))
    tied = {(step.start, step.end) for step in steps if step.begins_at == "angle-1"}
    assert tied == {((40, 40), (100, 40)), ((40, 40), (40, 100))}
    assert not [step for step in steps if step.stops_at]


# --- straight cuts in line -------------------------------------------------------------------


@pytest.mark.parametrize(("between", "long_cuts"), [(0.5, 2), (1.9, 2), (2.5, 0)])
def test_sides_in_line_are_one_cut_over_a_little_waste(between, long_cuts):
    layout = laid((SLIP,), ("slip", 0, 0), ("slip", 80 + between, 0), ("slip", 2 * (80 + between), 0))
    steps = straight(steps_of(layout))
    long = [step for step in steps if len(step.pieces) == 3]
    assert len(long) == long_cuts
    assert len(steps) == (2 + 6 if long_cuts else 12)
    for step in long:
        assert math.dist(step.start, step.end) == pytest.approx(240 + 2 * between)
        assert set(step.pieces) == {"slip-1", "slip-2", "slip-3"}


def test_sides_a_little_beside_each_other_are_not_one_cut():
    layout = laid((SLIP,), ("slip", 0, 0), ("slip", 80.5, 0.2))
    assert all(len(step.pieces) == 1 for step in steps_of(layout))


def test_a_side_on_a_straight_edge_is_cut_already():
    hide = Hide("trued", box(0, 0, 400, 300), straight_edges=(((0, 0), (400, 0)),))
    steps = steps_of(laid((SLIP,), ("slip", 20, 0), hide=hide))
    assert len(steps) == 3
    assert all(max(step.start[1], step.end[1]) > 0 for step in steps)


def test_curves_are_parted_at_corners_and_kept_whole_without():
    leaf = Panel("leaf", ((0, 0, 0.5), (60, 0, 0.5)))
    disc = Panel("disc", ((0, 0, 1.0), (40, 0, 1.0)))
    steps = steps_of(laid((leaf, disc), ("leaf", 0, 0), ("disc", 100, 0)))
    assert [(step.kind, type(step.stroke)) for step in steps if step.pieces == ("leaf-1",)] == [
        ("curve", Path), ("curve", Path),
    ]  # fmt: skip
    assert [(step.kind, type(step.stroke)) for step in steps if step.pieces == ("disc-2",)] == [
        ("curve", Loop)
    ]


def test_a_curve_drawn_in_short_sides_is_one_curve():
    """A disc of 60 sides of 2.1 mm, each turning 6 degrees."""
    turn = np.linspace(0, 2 * np.pi, 61)[:-1]
    ring = tuple((20 * math.cos(t), 20 * math.sin(t), 0.0) for t in turn)
    steps = steps_of(laid((Panel("fob", ring),), ("fob", 50, 50)))
    assert [step.kind for step in steps] == ["curve"]


def test_a_piece_is_cut_alike_whichever_way_it_is_turned():
    """A slot with round ends and straight sides of just the least length that counts as straight."""
    slot = ((0, 0, 0), (10, 0, 1), (10, 4, 0), (0, 4, 1))
    fob = Panel("fob", box(-20, -20, 30, 24), cutouts=(slot,))
    for turn in range(0, 360, 7):
        layout = laid((fob,), ("fob", 150, 120))
        placement = layout.hides[0].placements[0]
        posed = dataclasses.replace(placement, pose=Pose(turn % 2 == 1, float(turn), (150.0, 120.0)))
        layout = dataclasses.replace(layout, hides=(LaidHide(layout.hides[0].hide, (posed,)),))
        kinds = [step.kind for step in steps_of(layout) if step.stroke.role == "cut-out"]
        assert kinds == ["straight", "straight", "curve", "curve"]
