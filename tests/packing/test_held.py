"""Items that are held: obstacles to the others, never moved, and at odds with none that is held too."""

from __future__ import annotations

import numpy as np

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State, build_arrays
from nesting.packing.problem import Item, Part, Placed, Problem, Region, Shape
from nesting.packing.separate import Effort, separate
from nesting.packing.stop import never
from nesting.packing.strip import seed_state

SQUARE = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], dtype=float)
BAY = np.array([(0, 0), (4, 0), (4, 1.2), (0, 1.2)], dtype=float)
BOX = (-1.0, -1.0, 5.0, 3.0)


def bay(*lefts: float, held: tuple[int, ...]) -> tuple[Arrays, State, np.ndarray]:
    """Unit squares side by side in a bay of 4 by 1.2, by their left sides; some are held."""
    shape = Shape(SQUARE, (Part(SQUARE, 0),), ((0.0, 0.0),))
    arrays = build_arrays(Problem((shape,), (Item(0),) * len(lefts), (Region(((BAY, ()),)),), BOX))
    state, limit = arrays.fresh_state(), np.array(BOX)
    arrays.put(state, [Placed(i, 0.0, left, 0.1) for i, left in enumerate(lefts)])
    state.held[list(held)] = True
    return arrays, state, limit


def test_what_is_held_is_no_collision_by_itself() -> None:
    arrays, state, limit = bay(0.0, 0.5, -0.5, held=(0, 1, 2))
    assert kernels.rebuild(state, arrays.static, arrays.fields, limit) == 0.0
    state.held[:] = False
    assert kernels.rebuild(state, arrays.static, arrays.fields, limit) > 0.0


def test_only_the_others_move() -> None:
    """The free one goes to the only gap; the held ones keep their poses to the last bit."""
    arrays, state, limit = bay(0.0, 2.95, 0.5, held=(0, 1))
    before = state.poses.copy()
    assert separate(state, arrays, limit, seed_state(1), Effort(), never) == 0.0
    assert np.array_equal(state.poses[:2], before[:2])
    assert 1.0 <= state.poses[2, 0] - 0.5 <= 1.95


def test_without_room_the_held_still_stay() -> None:
    arrays, state, limit = bay(0.7, 2.4, 0.5, held=(0, 1))
    before = state.poses.copy()
    assert separate(state, arrays, limit, seed_state(1), Effort(patience=5), never) > 0.0
    assert np.array_equal(state.poses[:2], before[:2])
    state.held[:] = False
    assert separate(state, arrays, limit, seed_state(1), Effort(), never) == 0.0
    assert not np.array_equal(state.poses[:2], before[:2])
