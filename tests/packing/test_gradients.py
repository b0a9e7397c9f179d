"""Gradients of the depth tables, and the descent along them, against differences, shapely and scipy."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import plain_twins as plain
import pytest
import shapely
from scipy import optimize
from shape_zoo import ZOO
from shapely import affinity

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State, build_arrays
from nesting.packing.problem import Interval, Item, Part, Placed, Problem, Region, Shape

QUARTERS: tuple[Interval, ...] = tuple((k * math.pi / 2, k * math.pi / 2) for k in range(4))
CROOKED: tuple[Interval, ...] = ((0.0, 0.0), (0.05, 0.05), (1.0, 1.0))
"""No step of a full turn hits them all: values between two tables are taken, also the last and the first."""
CONVEX = ("triangle", "pentagon", "trapezoid")
AWKWARD = ("L", "comb", "star")
BOX = (-1.0, -1.0, 4.0, 3.0)
LEATHER = Region(((np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 1.5), (2.0, 3.0), (0.0, 3.0)]), ()),))


@cache
def arrays_of(names: tuple[str, ...], turns: tuple[Interval, ...], leather: bool = False) -> Arrays:
    """Two items of each shape, each the other's mate."""
    parts = {name: (Part(ZOO[name], 0),) if leather else () for name in names}
    shapes = tuple(Shape(ZOO[name], parts[name], turns) for name in names)
    items = tuple(Item(i // 2, i ^ 1, 0.8) for i in range(2 * len(shapes)))
    return build_arrays(Problem(shapes, items, (LEATHER,) if leather else (), BOX))


def scattered(arrays: Arrays, chance: np.random.Generator, turns: tuple[Interval, ...]) -> State:
    """All items somewhere, overlapping a good deal, with weights of their own; losses by the tables."""
    state = arrays.fresh_state()
    arrays.put(
        state,
        [
            Placed(item, turns[chance.integers(len(turns))][0], *chance.uniform((-0.5, -0.5), (1.8, 1.5)))
            for item in range(len(arrays.problem.items))
        ],
    )
    kernels.rebuild(state, arrays.static, arrays.fields, np.array(arrays.problem.box))
    weights = np.triu(chance.uniform(1.0, 3.0, state.weights.shape))
    count = len(weights)
    weights[:, :count] += weights[:, :count].T
    state.weights[:] = weights
    return state


@pytest.mark.parametrize("names", [CONVEX, AWKWARD])
@pytest.mark.parametrize("turns", [QUARTERS, CROOKED])
def test_gradient_of_a_depth(names: tuple[str, ...], turns: tuple[Interval, ...]) -> None:
    """The table's value, and what it grows by when a body is moved a hair, from both bodies' side."""
    arrays, chance = arrays_of(names, turns), np.random.default_rng(3)
    hair, overlapping = 1e-6, 0
    for _ in range(60):
        bodies = scattered(arrays, chance, turns).bodies
        for a, b in ((0, 3), (3, 0), (1, 4), (2, 3)):
            depth, along, across = kernels.gradient_at(bodies, a, bodies, b, arrays.static)
            assert depth == pytest.approx(kernels.depth_at(bodies, a, bodies, b, arrays.static)[0], abs=1e-12)
            if depth <= 0.0:
                continue
            for column, gradient in ((kernels.PX, along), (kernels.PY, across)):
                sides = []
                for way in (hair, -hair):
                    shifted = bodies.copy()
                    shifted[a, column] += way
                    there = kernels.depth_at(shifted, a, bodies, b, arrays.static)[0]
                    sides.append((there - depth) / way)
                # In mid-field the mean is exact; at a node of the table the gradient is that of one side.
                assert min(abs(gradient - side) for side in (*sides, np.mean(sides))) < 1e-6
            overlapping += 1
    assert overlapping > 60


def test_a_move_against_the_gradient_by_the_depth_sets_convex_pieces_apart() -> None:
    """By shapely: over a whole step of the table they no longer overlap, at half the depth they do."""
    arrays, chance = arrays_of(CONVEX, QUARTERS), np.random.default_rng(4)
    tried = 0
    for _ in range(200):
        state = scattered(arrays, chance, QUARTERS)
        depth, along, across = kernels.gradient_at(state.bodies, 0, state.bodies, 2, arrays.static)
        step = arrays.static.frame[arrays.static.pair[0, 1], 2]
        if depth < 3.0 * step or math.hypot(along, across) < 0.99:
            continue  # on a ridge of the table, where two ways out are as short
        tried += 1
        first, second = (
            shapely.Polygon(plain.moved(arrays.problem.shapes[p.item // 2].outline, p.angle, p.x, p.y))
            for p in (arrays.placed(state)[0], arrays.placed(state)[2])
        )
        for way, apart in ((depth + step, True), (0.5 * depth, False)):
            moved = affinity.translate(first, -way * along, -way * across)
            assert moved.disjoint(second) == apart
    assert tried > 20


@pytest.mark.parametrize("leather", [False, True])
def test_gradient_of_a_trial(leather: bool) -> None:
    """With box, leather and a mate too far away, weighted: against a trial's price and its differences."""
    arrays, chance = arrays_of(AWKWARD, QUARTERS, leather), np.random.default_rng(5)
    static, limit = arrays.with_leaving, np.array((0.0, 0.0, 2.5, 2.0))
    room = kernels.make_room(static)
    out = within = 0
    for _ in range(100):
        state = scattered(arrays, chance, QUARTERS)
        x, y, angle = state.poses[2]

        def price(x: float, y: float, state: State = state, angle: float = angle) -> float:
            return float(kernels.evaluate_by_tables(2, x, y, angle, kernels.HUGE, state, static, limit, room))

        found, along, across = kernels.gradient_by_tables(2, x, y, angle, state, static, limit, room)
        assert found == pytest.approx(price(x, y), rel=1e-9)
        hair = 1e-4 * static.sizes[1, 1]
        ahead, beside = (price(x + hair, y) - found) / hair, (price(x, y + hair) - found) / hair
        back, aside = (found - price(x - hair, y)) / hair, (found - price(x, y - hair)) / hair
        if abs(ahead - back) + abs(beside - aside) > 1e-3:
            continue  # on a crease
        assert (along, across) == pytest.approx((ahead, beside), abs=2e-3)
        sticks_out = kernels.out_by_tables(2, x, y, angle, state, static, limit, room[0]) > 0.0
        out += sticks_out
        within += not sticks_out
    assert out > 20
    assert within > 3


def test_the_crease_between_two_gradients() -> None:
    """Their shortest mean is square to what lies between both; opposite ones have none."""
    t = kernels.crease(1.0, -2.0, 1.0, 3.0)
    assert (1.0 - t) * -2.0 + t * 3.0 == pytest.approx(0.0, abs=1e-12)
    assert kernels.crease(2.0, 1.0, -2.0, -1.0) == 0.0
    assert kernels.crease(1.0, 0.0, 2.0, 0.5) == 0.0
    assert kernels.crease(1.0, 1.0, 1.0, 1.0) == 0.0


def test_descent_along_the_gradient() -> None:
    """Never dearer than its start, and a tenth deeper than scipy's simplex goes in a hundred trials."""
    arrays, chance = arrays_of(AWKWARD, QUARTERS), np.random.default_rng(6)
    static, limit = arrays.with_leaving, np.array((-0.5, -0.5, 3.0, 2.2))
    room, table = kernels.make_room(static), np.empty((3, 4))
    size = static.sizes[1, 1]
    ours, theirs, starts, colliding = [], [], [], 0
    for _ in range(150):
        state = scattered(arrays, chance, QUARTERS)
        x, y, angle = state.poses[2]

        def price(at: np.ndarray, state: State = state, angle: float = angle) -> float:
            return float(kernels.gradient_by_tables(2, at[0], at[1], angle, state, static, limit, room)[0])

        start = price(np.array((x, y)))
        table[1] = start, x, y, angle
        kernels.descend_by_gradient(2, table, 1, 0.02 * size, 0.0005 * size, state, static, limit, room)
        assert table[1, 0] == pytest.approx(price(table[1, 1:3]), rel=1e-9)
        assert table[1, 0] <= start
        assert table[1, 3] == angle
        colliding += start > 0.0
        simplex = np.array((x, y)) + 0.02 * size * np.array(((0, 0), (1, 0), (0, 1)))
        options = {"maxfev": 100, "xatol": 0.0005 * size, "fatol": 0.0, "initial_simplex": simplex}
        theirs.append(optimize.minimize(price, (x, y), method="Nelder-Mead", options=options).fun)
        ours.append(table[1, 0])
        starts.append(start)
    assert colliding > 100
    assert np.mean(ours) < 0.6 * np.mean(starts)
    assert np.mean(ours) <= 0.9 * np.mean(theirs)
