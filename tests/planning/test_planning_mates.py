"""Pairs are made of the pieces that match best; checked against all ways of pairing them."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.account.pairs import pair_matches
from nesting.files.hide import Hide
from nesting.files.layout import Layout
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import Panel
from nesting.judge.scene import Pattern, Scene, scene_of
from nesting.planning.mates import STRETCH_MM, well_mated
from nesting.planning.plan import layout_of
from nesting.planning.score import Plan, Score
from nesting.rings import Pose

OUTLINE = ((0.0, 0.0, 0.0), (100.0, 0.0, 0.0), (120.0, 60.0, 0.0), (0.0, 60.0, 0.0))
HIDE = Hide("h", ((0.0, 0.0, 0.0), (3000.0, 0.0, 0.0), (3000.0, 3000.0, 0.0), (0.0, 3000.0, 0.0)))

Drawn = list[tuple[float, float, float]]
places = st.tuples(st.floats(200, 2800), st.floats(200, 2800), st.floats(0, 359))


def drawn_order(pairing: str, within: float | None = None, spine: bool = True) -> Order:
    panel = Panel("p", OUTLINE, pairing=pairing)
    hide = replace(HIDE, spine=((0.0, 0.0), (1.0, 2.0)) if spine else None)
    return Order("o", (hide,), (OrderLine(panel, pairs=4, pair_within_mm=within),), Cutting(), path=Path("o"))


def planned(pairs: list[tuple[Pose, ...]]) -> Plan:
    return Plan(Score(0, 0, 0.0, 0.0), (tuple((0, True, pair) for pair in pairs),))


def scenes(layout: Layout) -> list[Scene]:
    patterns = {panel.name: Pattern(panel) for panel in layout.panels}
    return [scene_of(laid, patterns)[0] for laid in layout.hides]


def badness(order: Order, plan: Plan) -> float:
    """By the account's own figures, which share no code with planning."""
    matches = pair_matches(scenes(layout_of(order, plan, 1)))
    return sum(m.distance_mm + STRETCH_MM * (m.stretch_difference_deg or 0.0) for m in matches)


def poses(drawn: Drawn, mirrored: list[bool]) -> list[Pose]:
    return [Pose(m, turn, (x, y)) for (x, y, turn), m in zip(drawn, mirrored, strict=True)]


@pytest.mark.parametrize("spine", [True, False])
@given(drawn=st.lists(places, min_size=8, max_size=8))
def test_mirrored_pairs_are_the_best_of_all_ways(spine: bool, drawn: Drawn) -> None:
    order = drawn_order("mirrored", spine=spine)
    lefts, rights = poses(drawn[:4], [False] * 4), poses(drawn[4:], [True] * 4)
    plan = planned(list(zip(lefts, rights, strict=True)))
    found = well_mated(order, plan)
    best = min(
        badness(order, planned(list(zip(lefts, chosen, strict=True)))) for chosen in permutations(rights)
    )
    assert badness(order, found) == pytest.approx(best, abs=0.05)
    assert sorted(str(p) for _, _, pair in found.on[0] for p in pair) == sorted(
        str(p) for p in (*lefts, *rights)
    )


@given(drawn=st.lists(places, min_size=8, max_size=8))
def test_alike_pairs_are_never_worse_and_hold_the_same_pieces(
    drawn: Drawn,
) -> None:
    order = drawn_order("alike")
    laid = poses(drawn, [False] * 8)
    plan = planned(list(zip(laid[:4], laid[4:], strict=True)))
    found = well_mated(order, plan)
    assert badness(order, found) <= badness(order, plan) + 0.05
    assert sorted(str(p) for _, _, pair in found.on[0] for p in pair) == sorted(str(p) for p in laid)


@given(drawn=st.lists(places, min_size=8, max_size=8))
def test_no_pair_comes_to_lie_too_far_apart(drawn: Drawn) -> None:
    lefts, rights = poses(drawn[:4], [False] * 4), poses(drawn[4:], [True] * 4)
    plan = planned(list(zip(lefts, rights, strict=True)))
    before = pair_matches(scenes(layout_of(drawn_order("mirrored"), plan, 1)))
    within = math.ceil(max(m.distance_mm for m in before)) + 1.0
    order = drawn_order("mirrored", within)
    after = pair_matches(scenes(layout_of(order, well_mated(order, plan), 1)))
    assert max(m.distance_mm for m in after) <= within


def test_neighbours_become_a_pair() -> None:
    order = drawn_order("mirrored")
    near = Pose(False, 0.0, (300.0, 300.0)), Pose(True, 0.0, (420.0, 400.0))
    far = Pose(False, 0.0, (2300.0, 2300.0)), Pose(True, 0.0, (2420.0, 2400.0))
    found = well_mated(order, planned([(near[0], far[1]), (far[0], near[1])]))
    assert [pair for _, _, pair in found.on[0]] == [near, far]
