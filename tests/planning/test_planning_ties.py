"""What decides among plans of as many pieces and as large a remnant: prime leather, then how pairs match."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from shapely import Point
from small_orders import BARE, disc, improvements, order_of, placements, rectangle

from nesting.account.pairs import pair_matches
from nesting.files.hide import Flaw, Hide
from nesting.files.order import OrderLine
from nesting.files.panel import Panel
from nesting.judge.scene import Pattern, scene_of
from nesting.planning.mates import STRETCH_MM
from nesting.planning.plan import layout_of
from nesting.planning.score import Plan, Score
from nesting.planning.ties import MATCH_STEP_MM, PRIME_STEP_MM2, prime_saved, with_ties
from nesting.rings import Pose

TILE = Panel("tile", rectangle(80, 60), accepts=("blemish", "weak"))
SCARRED = Hide(
    "scarred",
    rectangle(300, 200),
    flaws=(
        Flaw("scar", "blemish", rectangle(100, 200)),
        Flaw("thin", "weak", rectangle(50, 200, 80, 0)),  # 20 mm of it on the scar: marked once
        Flaw("nail", "hole", rectangle(10, 10, 200, 100)),
    ),
)


def planned(*poses: Pose) -> Plan:
    return Plan(Score(0, 0, 0.0, 0), (tuple((0, True, (pose,)) for pose in poses),))


@pytest.mark.parametrize(
    ("at", "saved"),
    [((10.0, 10.0), 80 * 60), ((90.0, 10.0), 40 * 60), ((130.0, 10.0), 0.0), ((50.0, 100.0), 80 * 60)],
)
def test_prime_leather_saved_is_marked_leather_under_pieces(at: tuple[float, float], saved: float) -> None:
    """Marked is what lies at x < 130."""
    order = order_of(SCARRED, OrderLine(TILE, pieces=1), cutting=BARE)
    assert prime_saved(order, planned(Pose(False, 0.0, at))) == pytest.approx(saved)


def test_a_hole_saves_nothing() -> None:
    hide = replace(SCARRED, flaws=(*SCARRED.flaws, Flaw("burn", "hole", rectangle(100, 100))))
    order = order_of(hide, OrderLine(TILE, pieces=1), cutting=BARE)
    at = Pose(False, 0.0, (60.0, 70.0))
    assert prime_saved(order, planned(at)) == pytest.approx(70 * 60 - 40 * 30)


def test_an_order_that_takes_no_marked_leather_saves_none() -> None:
    order = order_of(SCARRED, OrderLine(replace(TILE, accepts=()), pieces=1), cutting=BARE)
    assert prime_saved(order, planned(Pose(False, 0.0, (10.0, 10.0)))) == 0.0


def test_the_terms_in_their_order() -> None:
    """Each term decides only where all before it are equal; a remnant larger by less than a step does not."""
    best = Score(0, -5, 60.0, 300, -40, 500, 1000.0)
    worse = [
        replace(best, taken=1000.1),
        replace(best, mismatch=501, taken=0.0),
        replace(best, unsaved=-39, mismatch=0),
        replace(best, front=301, unsaved=-1000),
        replace(best, burden=60.5, front=0),
        replace(best, unfilled=-4, burden=0.0),
        replace(best, missing=1, unfilled=-50),
    ]
    assert all(one < two for one, two in pairwise([best, *worse]))
    assert Score(0, -5, 60.0, 300, taken=2000.0) < best < Score(0, -5, 60.0, 301, taken=2000.0)


def test_scores_of_the_search_agree_with_the_account() -> None:
    """The account measures pairs by itself, and the scar is a circle drawn by shapely here."""
    wing = Panel("wing", ((0, 0, 0), (70, 0, 0), (55, 40, 0.3), (5, 25, 0)), pairing="mirrored")
    wing = replace(wing, accepts=("blemish",))
    hide = Hide(
        "h",
        rectangle(300, 200),
        flaws=(Flaw("scar", "blemish", disc(60, 90, 90)),),
        spine=((0.0, 0.0), (1, 0)),
    )
    order, scar = order_of(hide, OrderLine(wing, pairs=3)), Point(90, 90).buffer(60, quad_segs=200)
    for found in improvements(order, 12):
        patterns = {panel.name: Pattern(panel) for panel in found.layout.panels}
        scenes = [scene_of(on, patterns)[0] for on in found.layout.hides]
        matches = pair_matches(scenes)
        badness = sum(m.distance_mm + STRETCH_MM * (m.stretch_difference_deg or 0.0) for m in matches)
        assert abs(found.plan.score.mismatch - badness) <= MATCH_STEP_MM
        saved = sum(piece.filled.intersection(scar).area for scene in scenes for piece in scene.pieces)
        assert abs(-found.plan.score.unsaved * PRIME_STEP_MM2 - saved) <= PRIME_STEP_MM2
        assert with_ties(order, found.plan) == found.plan
        assert layout_of(order, found.plan, 1) == found.layout


@pytest.mark.parametrize("end", [0, 420])
def test_of_two_ends_the_scarred_one_is_taken(end: int) -> None:
    """Two tolerant tiles at either end of a strip leave the same remnant: they go where the scar is.

    They reach 76.8 steps of the front: rounding does not part the two ends.
    """
    tile = replace(TILE, turns_deg=(0.0,))
    scar = Flaw("scar", "blemish", rectangle(100, 140, end, 0))
    order = order_of(Hide("strip", rectangle(520, 140), flaws=(scar,)), OrderLine(tile, pieces=2))
    found = improvements(order, 8)[-1]
    assert found.plan.score.unsaved == -96
    assert all(end <= p.pose.at[0] <= end + 20 for p in placements(found.layout))
