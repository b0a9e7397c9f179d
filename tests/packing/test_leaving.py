"""Tables of how far a shape leaves its leather, and trials by tables alone, against shapely."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import plain_twins as plain
import pytest
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shape_zoo import ZOO, regular

from nesting.packing import kernels, leaving
from nesting.packing.arrays import Arrays, build_arrays
from nesting.packing.leaving import build_leaving
from nesting.packing.problem import Interval, Item, Part, Placed, Points, Problem, Region, Shape

SHELL = np.array([(0, 0), (60, 0), (60, 20), (40, 20), (40, 30), (60, 30), (60, 50), (0, 50), (10, 25)])
HOLES = (np.add(regular(12, 1.5), (20.0, 12.0)), np.array([(30, 35), (34, 35), (34, 39), (30, 39)]))
ISLAND = np.array([(70, 0), (90, 0), (90, 30), (70, 30)])
LEATHER = Region(((SHELL.astype(float), HOLES), (ISLAND.astype(float), ())))
PRIME = Region(((0.6 * SHELL + 1.0, ()),))
BOX = (-1.0, -1.0, 95.0, 55.0)
SHAPES = ("L", "comb", "U")
SEVERAL: tuple[Interval, ...] = ((0.2, 0.7), (0.2 + math.pi, 0.7 + math.pi))
SQUARE = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)])
ONE_TURN: tuple[Interval, ...] = ((0.5, 0.5),)
WHOLE: tuple[Interval, ...] = ((0.0, 2.0 * math.pi),)


def outline(name: str, size: float = 9.0) -> Points:
    points = np.asarray(ZOO[name], dtype=float)
    return points * size / math.sqrt(shapely.Polygon(points).area)


@cache
def arrays_of(turns: tuple[Interval, ...]) -> Arrays:
    shapes = tuple(Shape(outline(name), (Part(outline(name), 0),), turns) for name in SHAPES)
    return build_arrays(Problem(shapes, tuple(Item(k) for k in range(3)), (LEATHER, PRIME), BOX))


def feasible(arrays: Arrays, shape: int, angle: float, places: NDArray[np.float64]) -> NDArray[np.bool_]:
    """At which places (n, 2) of its centre the shape lies within the leather."""
    body = arrays.problem.shapes[shape].outline - arrays.centres[shape]
    turned = plain.moved(body, angle, 0.0, 0.0)
    polygons = shapely.polygons(turned[None, :, :] + places[:, None, :])
    leather = plain.geometry(LEATHER)
    shapely.prepare(leather)
    inside: NDArray[np.bool_] = shapely.covers(leather, polygons)
    return inside


@pytest.mark.parametrize("turns", [SEVERAL, ONE_TURN, WHOLE])
@pytest.mark.parametrize("shape", range(len(SHAPES)))
def test_how_far_a_shape_leaves(shape: int, turns: tuple[Interval, ...]) -> None:
    """The way to the nearest place inside, to within steps, and its sign: by a notch, holes and an island."""
    arrays = arrays_of(turns)
    static = arrays.with_leaving
    step = static.leaving_frame[2]
    x, y = np.meshgrid(np.arange(0.0, 91.0, 0.5), np.arange(0.0, 51.0, 0.5))
    fine = np.column_stack((x.ravel(), y.ravel()))
    chance = np.random.default_rng(shape)
    for low, high in turns:
        angle = chance.uniform(low, high)
        inside = feasible(arrays, shape, angle, fine)
        assert inside.any()
        assert not inside.all()
        places = chance.uniform((0.0, 0.0), (90.0, 50.0), (400, 2))
        truth = feasible(arrays, shape, angle, places)
        far, _ = KDTree(fine[inside]).query(places)
        clear, _ = KDTree(fine[~inside]).query(places)
        found = np.array([kernels.leaving_at(shape, *place, angle, static) for place in places])
        # Layers 5 degrees apart, nodes a step apart, chamfers 3 % long at most, places 0.5 apart.
        slack = 1.5 * step + 0.7
        assert (found[truth] < slack).all()
        assert (found[~truth] > -slack).all()
        assert (found[~truth] <= 1.03 * far[~truth] + slack).all()
        # Where it leaves by little all along a slot the table tells that, not the way out of the slot.
        assert np.quantile(np.abs(found - far)[~truth], 0.9) < slack
        assert (-found[truth] <= clear[truth] + slack).all()
        wrong = (found > 0.0) == truth
        assert np.minimum(far, clear)[wrong].max(initial=0.0) < slack


def test_each_part_has_its_own_region() -> None:
    """A shape of which a spike must lie on prime leather is at home only where the spike does, to its tip."""
    whole, spike = SQUARE, np.array([(10.0, 5.0), (0.0, 5.5), (0.0, 4.5)])
    shapes = (Shape(whole, (Part(whole, 0), Part(spike, 1)), ((0.0, 0.0),)),)
    arrays = build_arrays(Problem(shapes, (Item(0),), (LEATHER, PRIME), BOX))
    step = arrays.with_leaving.leaving_frame[2]
    leather, prime = plain.geometry(LEATHER), plain.geometry(PRIME)
    seen = {True: 0, False: 0}
    for x, y in np.random.default_rng(3).uniform((0.0, 0.0), (45.0, 40.0), (900, 2)):
        corner = np.array((x, y)) - arrays.centres[0]
        pieces = [(shapely.Polygon(p + corner), r) for p, r in ((whole, leather), (spike, prime))]
        found = kernels.leaving_at(0, x, y, 0.0, arrays.with_leaving)
        if all(r.covers(p.buffer(step)) for p, r in pieces):
            assert found < 0.0
            seen[True] += 1
        elif any(not r.intersects(p) or p.difference(r.buffer(step)).area > 0 for p, r in pieces):
            assert found > 0.0
            seen[False] += 1
    assert min(seen.values()) > 20


def test_a_hole_like_a_pinprick_is_seen_all_over_a_shape() -> None:
    """Also where none of its circles is."""
    prick = np.add(regular(6, 0.05), (30.0, 20.0))
    leather = Region(((np.array([(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)]), (prick,)),))
    shapes = (Shape(SQUARE, (Part(SQUARE, 0),), ((0.0, 0.0),)),)
    arrays = build_arrays(Problem(shapes, (Item(0),), (leather,), BOX))
    step = arrays.with_leaving.leaving_frame[2]
    for x, y in np.random.default_rng(6).uniform(-5.0 + step, 5.0 - step, (400, 2)):
        assert kernels.leaving_at(0, 30.0 + x, 20.0 + y, 0.0, arrays.with_leaving) > 0.0


def test_without_parts_there_is_nothing_to_leave() -> None:
    shapes = (Shape(outline("L")),)
    arrays = build_arrays(Problem(shapes, (Item(0),), (), BOX))
    assert arrays.with_leaving.leaving.shape[0] == 0


def test_layers_keep_to_their_numbers(monkeypatch: pytest.MonkeyPatch) -> None:
    arrays = arrays_of(WHOLE)
    monkeypatch.setattr(leaving, "MOST_VALUES", 200_000)
    coarse = build_leaving(arrays.static, arrays.fields)
    assert coarse.layers.shape[0] == arrays.with_leaving.leaving.shape[0]
    assert 100_000 < coarse.layers.size < 300_000 < arrays.with_leaving.leaving.size


def test_bounding_boxes_of_trials() -> None:
    """To within what a rim point moves off its chord between two of 720 angles."""
    arrays = arrays_of(WHOLE)
    body = np.zeros((1, arrays.static.bodies.shape[1]))
    for angle in (*np.random.default_rng(5).uniform(-9.0, 9.0, 50), 0.0, math.pi / 2, -math.pi):
        for shape, reach in enumerate(arrays.reach):
            kernels.box_at(shape, 3.0, -2.0, angle, arrays.static, body)
            points = arrays.problem.shapes[shape].outline - arrays.centres[shape]
            bounds = shapely.Polygon(plain.moved(points, angle, 3.0, -2.0)).bounds
            assert body[0, :4] == pytest.approx(bounds, abs=0.5 * reach * (math.pi / 720) ** 2)


def test_a_rough_trial_prices_what_a_rough_sweep_would_settle() -> None:
    """Weighted: the container's and each pair's loss by the tables."""
    arrays = arrays_of(WHOLE)
    static, state, limit = arrays.with_leaving, arrays.fresh_state(), np.array((-1.0, -1.0, 50.0, 45.0))
    chance, room = np.random.default_rng(8), kernels.make_room(arrays.static)
    priced = 0
    for _ in range(50):
        poses = [Placed(k, *chance.uniform((0.0, 5.0, 5.0), (6.0, 55.0, 45.0))) for k in range(3)]
        arrays.put(state, poses)
        kernels.rebuild(state, static, arrays.fields, limit)
        state.weights[:] = np.triu(chance.uniform(1.0, 3.0, state.weights.shape))
        state.weights[:, :3] += state.weights[:, :3].T
        x, y, angle = state.poses[1]
        found = kernels.evaluate(
            1, x, y, angle, kernels.HUGE, True, state, static, arrays.fields, limit, room
        )
        kernels.settle(1, x, y, angle, True, state, static, arrays.fields, limit, room)
        expected = float(np.sum(state.weights[1] * state.losses[1]))
        assert found == pytest.approx(expected, rel=1e-3, abs=1e-3)
        assert static.leaving.shape[0] > 0
        outside = max(0.0, kernels.leaving_at(1, x, y, angle, static)) * static.sizes[1, 1]
        assert state.losses[1, 3] >= outside - 1e-9
        priced += expected > 0.0
    assert priced > 25
