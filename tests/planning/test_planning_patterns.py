"""Panels as the packer sees them, against shapely on the judge's own outlines; turns against the judge."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from random_orders import blob, moved, random_panel
from small_orders import disc, rectangle

from nesting.errors import InputError
from nesting.files.hide import SEVERITIES, Hide
from nesting.files.layout import LaidHide, Placement
from nesting.files.panel import HiddenZone, Panel, Stretch
from nesting.judge.scene import Pattern as Judged
from nesting.judge.scene import scene_of
from nesting.judge.shapes import polygon
from nesting.judge.turning import turn_faults
from nesting.packing.depths import convex_parts, no_fit_polygon
from nesting.planning.patterns import MOST_VERTICES, Pattern, allowed_turns, pattern_of, require_simple
from nesting.rings import Pose

PANELS = [
    Panel("disc", disc(40)),
    Panel("large disc", disc(300, 50, 20)),
    Panel("cut out", rectangle(80, 60), cutouts=(disc(20, 40, 30),)),
    Panel("round slot", ((0, 0, 0), (60, 0, 0), (60, 40, 0), (40, 40, -1.0), (20, 40, 0), (0, 40, 0))),
    *(random_panel(np.random.default_rng(seed), f"random {seed}") for seed in range(10)),
]


def flipped(shape: shapely.Geometry) -> shapely.Geometry:
    return shapely.transform(shape, lambda p: p * (-1.0, 1.0))


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("apart", [0.0, 0.5, 2.3])
@pytest.mark.parametrize("panel", PANELS, ids=lambda panel: panel.name)
def test_the_body_covers_the_panel_and_half_the_distance(panel: Panel, apart: float, mirrored: bool) -> None:
    """Two bodies that do not overlap then belong to panels at least ``apart`` from each other."""
    exact = polygon(panel.outline)
    exact = flipped(exact) if mirrored else exact
    pattern = pattern_of(panel, mirrored, apart)
    body = shapely.Polygon(pattern.body)
    assert body.is_valid
    assert len(pattern.body) <= MOST_VERTICES
    room = exact.buffer(apart / 2, quad_segs=500)
    # Corners may be cut: what they lose is regained where the corner of the other is blunt.
    assert room.difference(body.buffer(0.005)).area <= 1e-6 * exact.area
    assert body.area <= 1.025 * exact.buffer(apart / 2, join_style="mitre").area
    assert pattern.area == pytest.approx(exact.area, rel=2e-3)
    assert pattern.narrowest == pytest.approx(shapely.maximum_inscribed_circle(exact).length, rel=0.02)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("panel", PANELS, ids=lambda panel: panel.name)
def test_each_point_that_does_not_accept_a_flaw_lies_in_a_part_that_refuses_it(
    panel: Panel, mirrored: bool
) -> None:
    pattern = pattern_of(panel, mirrored, 0.5)
    parts = [(shapely.Polygon(points), accepts) for points, accepts in pattern.parts]
    assert all(part.is_valid for part, _ in parts)
    for severity in SEVERITIES:
        exposed = Judged(panel).exposed(severity)
        exposed = flipped(exposed) if mirrored else exposed
        refusing = shapely.union_all([part for part, accepts in parts if severity not in accepts])
        assert exposed.difference(refusing.buffer(0.01)).area <= 1.0  # mm²: slivers by a zone's border


def parts_of(*zones: HiddenZone) -> list[tuple[float, list[str]]]:
    """Area and accepted severities of each part of a panel of 100 by 50."""
    pattern = pattern_of(Panel("p", rectangle(100, 50), hidden_zones=zones), False, 0.0)
    return [(round(shapely.Polygon(points).area), sorted(accepts)) for points, accepts in pattern.parts]


def test_parts_by_hand() -> None:
    """A zone over the left 30 mm: the whole accepts what it does, the right 70 mm refuse it."""
    assert parts_of() == [(5000, [])]
    assert parts_of(HiddenZone(rectangle(30, 50), ("weak",))) == [(5000, ["weak"]), (3500, [])]
    assert parts_of(HiddenZone(rectangle(30, 50), ("weak", "blemish"))) == [
        (5000, ["blemish", "weak"]), (3500, ["weak"]), (3500, ["blemish"]),
    ]  # fmt: skip
    assert parts_of(HiddenZone(rectangle(200, 90, -20, -20), ("weak",))) == [(5000, ["weak"])]
    # A zone in the middle leaves a frame, which goes in two halves: no part has a hole.
    assert parts_of(HiddenZone(rectangle(20, 30, 40, 10), ("weak",))) == [
        (5000, ["weak"]), (2200, []), (2200, []),
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(40))
def test_turns_are_those_the_judge_lets_pass(seed: int) -> None:
    """Rotations drawn from the intervals pass; so do no others, but for a hair at the ends."""
    chance = np.random.default_rng(seed)
    mirrored = bool(chance.random() < 0.5)
    lean = float(chance.uniform(0, 2 * math.pi))
    spine = None if seed % 5 == 0 else ((0.0, 0.0), (math.cos(lean), math.sin(lean)))
    stretch = Stretch(float(chance.uniform(0, 180)), float(chance.choice([0.0, 3.0, 40.0, 89.0, 90.0])))
    turns = None if seed % 2 else tuple(map(float, chance.choice(np.arange(0, 360, 15), 9)))
    panel = Panel("p", blob(chance, 40.0), pairing="mirrored", stretch=stretch, turns_deg=turns)
    hide = Hide("h", rectangle(300, 200), spine=spine)

    def passes(rotation_deg: float) -> bool:
        on = LaidHide(hide, (Placement("p-1", "p", Pose(mirrored, rotation_deg, (100, 100)), "p"),))
        return turn_faults(scene_of(on, {"p": Judged(panel)})[0]) == []

    intervals = allowed_turns(pattern_of(panel, mirrored, 0.0), None if spine is None else lean)
    for low, high in intervals:
        for share in (0.0, 0.3, 1.0):
            assert passes(math.degrees(low + share * (high - low)) % 360.0)
    for rotation in [*chance.uniform(0, 360, 40), *(turns or ())]:
        near = [_off(math.radians(rotation), low, high) for low, high in intervals]
        if passes(rotation):
            assert near
            assert math.degrees(min(near)) < 0.011
        else:
            assert not near or min(near) > 0.0


def _off(angle: float, low: float, high: float) -> float:
    """How far an angle is from an interval, modulo a full turn."""
    past = (angle - low) % (2 * math.pi)
    return 0.0 if past <= high - low else min(past - (high - low), 2 * math.pi - past)


def test_turns_and_stretch_that_exclude_each_other() -> None:
    panel = Panel("p", rectangle(20, 100), stretch=Stretch(90, 10), turns_deg=(45.0, 250.0))
    pattern = pattern_of(panel, False, 0.0)
    assert allowed_turns(pattern, math.pi / 2) == ()
    assert len(allowed_turns(pattern, None)) == 2
    assert len(allowed_turns(pattern, math.radians(135))) == 1


def test_an_outline_without_area_is_refused() -> None:
    with pytest.raises(InputError, match="encloses no area"):
        require_simple(Panel("line", ((0, 0, 0), (50, 0, 0), (100, 0, 0))))
    require_simple(Panel("moved", moved(disc(5), 1000, 0)))


def test_the_centre_is_off_by_what_the_body_has_too_much() -> None:
    """A half disc of many sides is drawn coarser: its centre of area moves, and by no more than is said."""
    panel = Panel("half", ((-80, 0, 0), (80, 0, 1.0)))
    pattern: Pattern = pattern_of(panel, False, 3.0)
    apart = shapely.Polygon(pattern.body).centroid.distance(polygon(panel.outline).centroid)
    assert 0.01 < apart <= pattern.off_centre + 0.01


def test_the_no_fit_polygon_of_a_half_turn() -> None:
    """A hundred-thousandth of a radian changes no area by a thousandth; a part lost from it does."""
    outline = (
        (25.317874755489825, 8.338242302916113, 0.0),
        (4.885129559909863, 29.07778818874348, 0.0),
        (-27.160757880376362, 13.209603305641219, -0.15),
        (-15.175925744611288, -17.354081492149554, 0.0),
        (22.59625787596235, -29.567169198735012, -0.15),
    )
    body = pattern_of(Panel("p", outline), True, 0.8).body
    body = body - shapely.get_coordinates(shapely.Polygon(body).centroid)
    parts = convex_parts(body if shapely.LinearRing(body).is_ccw else body[::-1])
    half, more = (no_fit_polygon(parts, parts, turn).area for turn in (math.pi, math.pi + 1e-5))
    assert half == pytest.approx(more, rel=1e-3)
