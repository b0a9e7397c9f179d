"""Separation: move overlapping pieces apart until none overlaps or sticks out.

Overlap minimisation with guided local search (Umetani et al. 2009,
doi 10.1111/j.1475-3995.2009.00707.x): each colliding piece in turn moves to its cheapest weighted
pose; the weights of pairs that stay in collision grow, so that stubborn ones are given room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State
from nesting.packing.stop import Stop

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Effort:
    """How hard a separation tries before it gives up.

    ``wide`` and ``near``: random poses tried for each piece and sweep, all over and close by.
    ``patience``: sweeps without a better loss before a strike; ``strikes`` until it fails.
    """

    wide: int = 24
    near: int = 12
    patience: int = 60
    strikes: int = 3
    grow_least: float = 1.2
    grow_most: float = 2.0
    fade: float = 0.95
    rough: bool = False
    """By the depth tables alone, a third faster; the last hair is left to ``compact``."""


def separate(
    state: State, arrays: Arrays, limit: Floats, rng: NDArray[np.uint64], effort: Effort, stop: Stop
) -> float:
    """Separate the active pieces within ``limit`` (xmin, ymin, xmax, ymax); return the loss left.

    0 means a feasible layout. Otherwise the state holds the least overlapping layout that was met; after a
    rough effort it may well be feasible but for a hair.
    """
    static, fields = arrays.static, arrays.fields
    best: float = kernels.rebuild(state, static, fields, limit)
    if best == 0.0:
        return best
    seen = arrays.seen(effort.rough)
    state.weights[:] = 1.0
    best_poses = state.poses.copy()
    for _ in range(effort.strikes):
        since, base = 0, best
        while best > 0.0 and since < effort.patience and not stop():
            loss = kernels.sweep(effort.wide, effort.near, effort.rough, state, seen, fields, limit, rng)
            since = 0 if loss < 0.98 * base else since + 1
            if loss < best:
                best, best_poses = loss, state.poses.copy()
                if since == 0:
                    base = loss
            kernels.reweigh(effort.grow_least, effort.grow_most, effort.fade, state)
        if best == 0.0 or stop():
            break
        restore(state, best_poses, arrays, limit)
    return restore(state, best_poses, arrays, limit)


def restore(state: State, poses: Floats, arrays: Arrays, limit: Floats) -> float:
    """Put all pieces at ``poses`` (n, 3) and return the loss there."""
    state.poses[:] = poses
    loss: float = kernels.rebuild(state, arrays.static, arrays.fields, limit)
    return loss


def reach(state: State) -> float:
    """How far the pieces reach along x."""
    return float(state.bodies[state.active, 2].max())
