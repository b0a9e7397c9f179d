"""Compaction: what its rows say, and that it makes exact fits that a search by trial does not find."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import affinity

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State, build_arrays
from nesting.packing.compact import NUDGE, PACK, compact, squeeze
from nesting.packing.problem import ANY_TURN, Item, Part, Problem, Region, Shape
from nesting.packing.separate import Effort, reach, separate
from nesting.packing.stop import never
from nesting.packing.strip import seed_state

Floats = NDArray[np.float64]
UPRIGHT = ((0.0, 0.0),)
SQUARE = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
ELL = np.array([(0.0, 0.0), (3.0, 0.0), (3.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)])
KITE = np.array([(0.0, 0.0), (2.0, -0.5), (3.0, 0.0), (2.0, 0.5)])


def _laid(arrays: Arrays, poses: list[tuple[float, float, float]]) -> tuple[State, Floats]:
    state, limit = arrays.fresh_state(), np.array(arrays.problem.box)
    state.poses[:] = poses
    state.active[:] = True
    kernels.rebuild(state, arrays.static, arrays.fields, limit)
    return state, limit


def _strip(outlines: list[Floats], width: float, turns=UPRIGHT) -> Arrays:
    shapes = tuple(Shape(outline, (), turns) for outline in outlines)
    return build_arrays(
        Problem(shapes, tuple(Item(k) for k in range(len(shapes))), (), (0.0, 0.0, 100.0, width))
    )


def _polygons(arrays: Arrays, state: State) -> list[shapely.Polygon]:
    found = []
    for p in arrays.placed(state):
        ring = shapely.Polygon(arrays.problem.shapes[p.item].outline)
        found.append(affinity.translate(affinity.rotate(ring, p.angle, (0, 0), use_radians=True), p.x, p.y))
    return found


def _rows(arrays: Arrays, state: State, near: float) -> Floats:
    rows: Floats = kernels.contact_rows(state, arrays.static, arrays.fields, arrays.facets, near, 0.0)
    return rows


@pytest.mark.parametrize("angle", [0.0, 0.3, 1.1, 2.5, 4.0])
@pytest.mark.parametrize("away", [0.4, 1.2, 2.5, 4.0])
def test_a_gap_along_the_normal_is_what_shapely_says(angle: float, away: float) -> None:
    arrays = _strip([SQUARE, KITE], 50.0, ANY_TURN)
    state, _ = _laid(arrays, [(10.0, 10.0, 0.2), (10.0 + away, 10.5, angle)])
    (row,) = _rows(arrays, state, 100.0)
    square, kite = _polygons(arrays, state)
    normal, gap = row[2:4], row[4]
    assert np.hypot(*normal) == pytest.approx(1.0)
    # Two convex bodies: the way by the gap along the normal brings them just to touch.
    touching = affinity.translate(kite, *(-gap * normal))
    assert square.intersection(touching).area < 1e-12
    if gap >= 0:
        assert gap <= square.distance(kite) + 1e-12
        assert gap > 0.7 * square.distance(kite)
    else:
        assert square.intersection(kite).area > 0


def test_lever_arms_are_how_the_gap_grows_with_a_turn() -> None:
    arrays = _strip([SQUARE, KITE], 50.0, ANY_TURN)
    poses = [(10.0, 10.0, 0.2), (12.5, 10.5, 0.4)]
    state, _ = _laid(arrays, poses)
    (row,) = _rows(arrays, state, 100.0)

    def gap_along(poses: list[tuple[float, float, float]]) -> float:
        square, kite = (shapely.get_coordinates(p) for p in _polygons(arrays, _laid(arrays, poses)[0]))
        return float((kite @ row[2:4]).min() - (square @ row[2:4]).max())

    small = 1e-6
    first = [(10.0, 10.0, 0.2 + small), poses[1]]
    second = [poses[0], (12.5, 10.5, 0.4 + small)]
    assert (gap_along(first) - row[4]) / small == pytest.approx(-row[5], abs=1e-4)
    assert (gap_along(second) - row[4]) / small == pytest.approx(row[6], abs=1e-4)


def test_overlapping_shapes_with_notches_come_to_fit_exactly() -> None:
    # An L and its half turn make a 4 by 3 block less nothing: by construction the strip of width 3 needs 4.
    other = np.array([(0.0, 2.0), (2.0, 2.0), (2.0, 0.0), (3.0, 0.0), (3.0, 3.0), (0.0, 3.0)])
    arrays = _strip([ELL, other], 3.0)
    centre = arrays.centres
    state, limit = _laid(
        arrays, [(centre[0, 0] + 0.2, centre[0, 1], 0.0), (centre[1, 0] + 1.1, centre[1, 1], 0.0)]
    )
    assert compact(state, arrays, limit, PACK, within=False)
    assert limit[2] == pytest.approx(4.0, abs=1e-8)
    a, b = _polygons(arrays, state)
    assert a.intersection(b).area < 1e-8


def test_squares_turn_until_they_lie_flush() -> None:
    square = Shape(SQUARE, (Part(SQUARE),))
    arrays = build_arrays(
        Problem((square,), (Item(0), Item(0)), (Region(((4.0 * SQUARE, ()),)),), (-1.0, -1.0, 5.0, 5.0))
    )
    state, limit = _laid(arrays, [(1.7, 1.5, 0.1), (2.6, 2.7, 0.3)])
    for _ in range(3):
        assert compact(state, arrays, limit, PACK)
    assert limit[2] == pytest.approx(1.0, abs=1e-6)
    assert np.allclose(np.sin(2.0 * state.poses[:, 2]), 0.0, atol=1e-5)


def test_turns_stay_within_what_is_allowed() -> None:
    turns = ((0.1, 0.3),)
    square = Shape(SQUARE, (Part(SQUARE),), turns)
    arrays = build_arrays(
        Problem((square,), (Item(0), Item(0)), (Region(((4.0 * SQUARE, ()),)),), (-1.0, -1.0, 5.0, 5.0))
    )
    state, limit = _laid(arrays, [(1.7, 1.5, 0.2), (2.6, 2.9, 0.3)])
    assert compact(state, arrays, limit, PACK)
    assert (state.poses[:, 2] >= 0.1 - 1e-9).all()
    assert (state.poses[:, 2] <= 0.3 + 1e-9).all()
    # As upright as allowed, against the left side: a square's half width at the turn of 0.1 rad.
    assert state.bodies[:, 0].min() == pytest.approx(0.0, abs=1e-6)


def test_pieces_stay_out_of_a_hole_with_many_corners() -> None:
    around = np.linspace(0.0, 2.0 * math.pi, 40, endpoint=False)
    hole = np.column_stack((2.0 + 0.5 * np.cos(around), 2.0 + 0.5 * np.sin(around)))
    square = Shape(SQUARE, (Part(SQUARE),), UPRIGHT)
    arrays = build_arrays(
        Problem((square,), (Item(0),), (Region(((4.0 * SQUARE, (hole,)),)),), (-1.0, -1.0, 5.0, 5.0))
    )
    # Behind the hole: drawn to low x it comes to rest against it, at the hole's foremost point.
    state, limit = _laid(arrays, [(3.3, 2.0, 0.0)])
    assert compact(state, arrays, limit, PACK)
    (polygon,) = _polygons(arrays, state)
    assert polygon.intersection(shapely.Polygon(hole)).area < 1e-8
    assert polygon.bounds[0] == pytest.approx(2.5, abs=1e-6)


def test_what_cannot_be_set_apart_is_left_as_it_was() -> None:
    arrays = _strip([SQUARE, SQUARE], 1.0)
    state, limit = _laid(arrays, [(0.5, 0.5, 0.0), (0.9, 0.5, 0.0)])
    limit[2] = 1.5
    poses, before = state.poses.copy(), limit.copy()
    assert not compact(state, arrays, limit, PACK)
    assert (state.poses == poses).all()
    assert (limit == before).all()


def test_what_almost_fits_is_set_apart_within_its_limit() -> None:
    arrays = _strip([SQUARE, SQUARE, SQUARE], 1.0)
    state, limit = _laid(arrays, [(0.5, 0.5, 0.0), (1.49, 0.5, 0.0), (2.5, 0.5, 0.0)])
    limit[2] = 3.0
    assert kernels.rebuild(state, arrays.static, arrays.fields, limit) > 0
    assert compact(state, arrays, limit, NUDGE)
    assert limit[2] == pytest.approx(3.0, abs=1e-8)


def _blocks() -> tuple[Arrays, State, Floats]:
    """Twelve squares of 1 in a strip of 3, drawn out to a length of 5; 4 is the least."""
    outlines = [SQUARE] * 12
    arrays = _strip(outlines, 3.0)
    poses = [(1.25 * (k // 3), float(k % 3), 0.0) for k in range(12)]
    return arrays, *_laid(arrays, poses)


@pytest.mark.parametrize("rough", [False, True])
def test_a_squeeze_brings_the_far_side_nearer_and_all_stay_apart(rough: bool) -> None:
    arrays, state, limit = _blocks()
    effort = Effort(rough=rough)
    chance = np.random.default_rng(1)
    assert squeeze(state, arrays, limit, 0.2, effort, PACK, seed_state(1), chance, never)
    assert limit[2] == reach(state) <= 4.75 - 0.2
    polygons = _polygons(arrays, state)
    assert shapely.union_all(polygons).area == pytest.approx(12.0, abs=1e-6)


@pytest.mark.parametrize("rough", [False, True])
def test_a_squeeze_that_cannot_be_leaves_all_as_it_was(rough: bool) -> None:
    arrays, state, limit = _blocks()
    before, far = state.poses.copy(), limit.copy()
    effort = Effort(patience=5, strikes=1, rough=rough)
    chance = np.random.default_rng(1)
    assert not squeeze(state, arrays, limit, 1.2, effort, PACK, seed_state(1), chance, never)
    assert (state.poses == before).all()
    assert (limit == far).all()


def test_a_rough_separation_tells_the_exact_loss_it_leaves() -> None:
    arrays = _strip([ELL, ELL, SQUARE, KITE, ELL, KITE], 4.0)
    said = []
    for seed in range(8):
        state, limit = _laid(arrays, [(0.6 * k, 0.3 * k, 0.0) for k in range(6)])
        limit[2] = 6.6
        loss = separate(state, arrays, limit, seed_state(seed), Effort(patience=20, rough=True), never)
        assert loss == kernels.rebuild(state, arrays.static, arrays.fields, limit)
        polygons = _polygons(arrays, state)
        lapped = sum(p.area for p in polygons) - shapely.union_all(polygons).area
        assert loss > 0.0 or lapped < 1e-5
        said.append(loss)
    assert max(said) > 0.0


def test_what_sticks_out_by_more_than_its_moves_is_not_said_to_be_within() -> None:
    arrays = _strip([SQUARE, SQUARE], 3.0)
    state, limit = _laid(arrays, [(0.0, 0.0, 0.0), (10.0, 0.0, 0.0)])
    limit[2] = 5.0
    before = state.poses.copy()
    assert not compact(state, arrays, limit, NUDGE)
    assert (state.poses == before).all()
    assert limit[2] == 5.0
