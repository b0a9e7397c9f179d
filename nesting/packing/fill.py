"""Filling a fixed container: greedy first, then insert one more and separate.

Groups are tuples of items that go in together or not at all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State
from nesting.packing.compact import NUDGE, compact, fits_nearly
from nesting.packing.separate import Effort, restore, separate
from nesting.packing.stop import Stop

Floats = NDArray[np.float64]
Group = tuple[int, ...]


INSERT = Effort(patience=60, strikes=2, rough=True)
RECOVER = Effort(patience=25, strikes=1)


@dataclass(frozen=True)
class FillParams:
    """``tries``: random poses a greedy insertion looks at; ``keep``: how many of them slide on."""

    tries: int = 2400
    keep: int = 8
    insert_tries: int = 300
    effort: Effort = INSERT


def greedy(
    state: State, arrays: Arrays, limit: Floats, groups: Sequence[Group], pull: Floats,
    rng: NDArray[np.uint64], params: FillParams, stop: Stop,
) -> list[Group]:  # fmt: skip
    """Insert groups one after the other, each piece drawn against ``pull``; return those without room.

    Once a shape has found no room, later groups of the same shapes are not tried.
    """
    static, fields = arrays.static, arrays.fields
    left: list[Group] = []
    hopeless: set[tuple[int, ...]] = set()
    for group in groups:
        kind = tuple(int(state.shapes[i]) for i in group)
        if kind in hopeless or stop():
            left.append(group)
            continue
        for item in group:
            if not kernels.insert_free(
                item, params.tries, params.keep, pull, state, static, fields, limit, rng
            ):
                for other in group:
                    kernels.lift(other, state)
                left.append(group)
                hopeless.add(kind)
                break
    return left


def insert_more(
    state: State, arrays: Arrays, limit: Floats, group: Group,
    rng: NDArray[np.uint64], params: FillParams, stop: Stop,
) -> bool:  # fmt: skip
    """Force a group in where it overlaps least and separate; say whether that went well.

    When it fails, the others stay where the attempt has pushed them, if they can be set apart there:
    the next attempt then starts from another layout of the same pieces. Otherwise all is as before.
    """
    poses, active = state.poses.copy(), state.active.copy()
    rough = params.effort.rough
    static = arrays.seen(rough)
    for item in group:
        kernels.insert_cheapest(item, params.insert_tries, rough, state, static, arrays.fields, limit, rng)
    loss = separate(state, arrays, limit, rng, params.effort, stop)
    if loss == 0.0 or (fits_nearly(loss, state, arrays) and compact(state, arrays, limit, NUDGE)):
        return True
    for item in group:
        kernels.lift(item, state)
    if separate(state, arrays, limit, rng, RECOVER, stop) > 0.0:
        state.active[:] = active
        restore(state, poses, arrays, limit)
    return False
