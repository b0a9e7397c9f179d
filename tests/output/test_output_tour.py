"""The order of cuts: against all orders of a few, against a library's route, and as a local optimum."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.output.tour import length_mm, tour

HOME = (0.0, 0.0)


def drawn(count, seed, open_share=0.5, stiff_share=0.5):
    """Random cuts: some closed (they end where they start), some that may be made one way only."""
    chance = np.random.default_rng(seed)
    starts = chance.uniform(0, 100, (count, 2))
    away = starts + chance.uniform(-30, 30, (count, 2))
    ends = np.where(chance.random((count, 1)) < open_share, away, starts)
    return starts, ends, chance.random(count) > stiff_share


def ways(turnable):
    """Every order, each cut either way where it may be."""
    for order in itertools.permutations(range(len(turnable))):
        for turns in itertools.product(*[(False, True) if turnable[i] else (False,) for i in order]):
            yield list(zip(order, turns, strict=True))


def assert_sound(order, starts, ends, turnable):
    """Each cut once, and none the way that it may not be made."""
    assert sorted(cut for cut, _ in order) == list(range(len(starts)))
    assert all(turnable[cut] or not back or (starts[cut] == ends[cut]).all() for cut, back in order)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 12), st.integers(0, 10**6))
def test_no_single_change_shortens_the_way(count, seed):
    starts, ends, turnable = drawn(count, seed)
    order = tour(starts, ends, turnable, HOME)
    assert_sound(order, starts, ends, turnable)
    way = length_mm(starts, ends, order, HOME)
    for i, j in itertools.combinations(range(count + 1), 2):
        part = order[i:j]
        if all(turnable[cut] or (starts[cut] == ends[cut]).all() for cut, _ in part):
            turned = order[:i] + [(cut, not back) for cut, back in reversed(part)] + order[j:]
            assert length_mm(starts, ends, turned, HOME) > way - 1e-5
        if j - i <= 3:
            rest = order[:i] + order[j:]
            for k in range(len(rest) + 1):
                assert length_mm(starts, ends, rest[:k] + part + rest[k:], HOME) > way - 1e-5


@pytest.mark.parametrize("seed", range(8))
def test_near_the_best_of_all_orders(seed):
    starts, ends, turnable = drawn(5, seed)
    found = length_mm(starts, ends, tour(starts, ends, turnable, HOME), HOME)
    best = min(length_mm(starts, ends, way, HOME) for way in ways(turnable))
    assert best - 1e-9 <= found <= 1.3 * best


def test_near_the_route_of_a_library():
    """OR-tools (Apache 2.0) on 80 random points, open at the end: cheapest arc, then its local search."""
    routing = pytest.importorskip("ortools.constraint_solver.pywrapcp")
    points = np.random.default_rng(5).uniform(0, 1000, (80, 2))
    # An end that is no way from anywhere leaves the route open.
    stops = np.vstack(([0.0, 0.0], points))
    apart = np.zeros((82, 82), dtype=int)
    apart[:81, :81] = np.round(100 * np.hypot(*(stops[:, None] - stops[None]).transpose(2, 0, 1)))
    manager = routing.RoutingIndexManager(82, 1, [0], [81])
    model = routing.RoutingModel(manager)
    cost = model.RegisterTransitCallback(
        lambda a, b: int(apart[manager.IndexToNode(a), manager.IndexToNode(b)])
    )
    model.SetArcCostEvaluatorOfAllVehicles(cost)
    reference = model.Solve().ObjectiveValue() / 100
    order = tour(points, points, np.ones(80, dtype=bool), HOME)
    assert length_mm(points, points, order, HOME) <= 1.08 * reference


def test_one_way_cuts_are_made_that_way():
    starts, ends = np.array([[0.0, 0], [100, 0]]), np.array([[50.0, 0], [60, 0]])
    assert tour(starts, ends, np.array([False, False]), HOME) == [(0, False), (1, False)]
    assert tour(starts, ends, np.array([True, True]), HOME) == [(0, False), (1, True)]


def test_the_same_every_time_and_nothing_from_nothing():
    starts, ends, turnable = drawn(40, 3)
    assert tour(starts, ends, turnable, HOME) == tour(starts, ends, turnable, HOME)
    assert tour(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0, dtype=bool), HOME) == []
