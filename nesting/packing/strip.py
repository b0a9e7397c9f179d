"""Strip packing: all items, least length.

The search takes big bites off the length and, when stuck, goes on from a pool of layouts that overlap
a little, with two large pieces swapped. (A search over infeasible layouts: after Elkeran 2013,
doi 10.1016/j.ejor.2013.06.020, and Umetani et al. 2009.)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State
from nesting.packing.compact import PACK, compact
from nesting.packing.separate import Effort, reach, restore, separate
from nesting.packing.stop import Stop, never

Floats = NDArray[np.float64]
OnBetter = Callable[[float, State], None]

EFFORT = Effort(rough=True)
"""By the tables alone: ``compact`` sees to the rest."""

STILL = replace(PACK, turning=0)
"""For layouts that turning would lead out of the strip: ``compact`` knows its sides by shifts alone."""


@dataclass(frozen=True)
class StripParams:
    """``bite``: share of the length that is taken off; ``pool``: layouts that are remembered."""

    bite: float = 0.01
    pool: int = 8
    start_density: float = 0.7
    effort: Effort = EFFORT


def seed_state(seed: int) -> NDArray[np.uint64]:
    """The kernels' generator state for a seed."""
    return np.random.SeedSequence(seed).generate_state(1, np.uint64) | np.uint64(1)


def pack_strip(
    arrays: Arrays, seed: int, stop: Stop, on_better: OnBetter, params: StripParams = StripParams()
) -> float:
    """Pack all items of ``arrays`` into the shortest strip found; width is the box's height.

    ``on_better(length, state)`` is called for each feasible layout that is shorter than the last.
    Returns the length.
    """
    rng = seed_state(seed)
    chance = np.random.default_rng(seed)
    state = arrays.fresh_state()
    limit = np.array(arrays.problem.box, dtype=np.float64)
    length = first_layout(state, arrays, limit, rng, params)
    on_better(length, state)
    pool: list[tuple[float, Floats]] = []
    ways = (PACK, STILL) if kernels.angle_room(state, arrays.static).any() else (PACK,)
    limit[2] = limit[0] + length * (1.0 - params.bite)
    while not stop():
        loss = separate(state, arrays, limit, rng, params.effort, stop)
        left = state.poses.copy()
        fits = any(compact(state, arrays, limit, moves, within=False) for moves in ways) or loss == 0.0
        if fits and reach(state) - limit[0] < length:
            length = reach(state) - float(limit[0])
            on_better(length, state)
            pool.clear()
            limit[2] = limit[0] + length * (1.0 - params.bite)
            continue
        pool.append((loss, left))
        limit[2] = limit[0] + length * (1.0 - params.bite)
        pool.sort(key=lambda entry: entry[0])
        del pool[params.pool :]
        # Low losses are drawn more often: the square pulls a uniform number towards 0.
        start = pool[int(len(pool) * chance.random() ** 2)][1]
        restore(state, start, arrays, limit)
        swap_two(state, arrays, chance)
    return length


def first_layout(
    state: State, arrays: Arrays, limit: Floats, rng: NDArray[np.uint64], params: StripParams
) -> float:
    """A first feasible layout: pieces drop in by size where they overlap least, then separate."""
    static = arrays.static
    width = limit[3] - limit[1]
    areas = static.sizes[state.shapes, 0]
    length = float(areas.sum()) / (width * params.start_density)
    length = max(length, float(arrays.reach.max()))
    while True:
        limit[2] = limit[0] + length
        for item in np.argsort(-areas, kind="stable"):
            kernels.insert_cheapest(item, 60, False, state, static, arrays.fields, limit, rng)
        loss = separate(state, arrays, limit, rng, params.effort, never)
        if loss == 0.0 or compact(state, arrays, limit, PACK, within=False):
            return reach(state) - float(limit[0])
        length *= 1.1
        state.active[:] = False


def swap_two(state: State, arrays: Arrays, chance: np.random.Generator) -> None:
    """Exchange the places of two large pieces of different shape."""
    areas = arrays.static.sizes[state.shapes, 0] * state.active
    large = np.flatnonzero(areas >= 0.25 * areas.max())
    a = chance.choice(large)
    others = large[state.shapes[large] != state.shapes[a]]
    if not len(others):
        others = large[large != a]
    if not len(others):
        return
    b = chance.choice(others)
    state.poses[[a, b], :2] = state.poses[[b, a], :2]
