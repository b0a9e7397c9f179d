"""Compaction: all pieces move at once, by a linear program, until they touch.

Two convex bodies are apart when a line separates them. For each two convex pieces near each other, and
for each piece near a border edge, the line that separates them best is kept while all move; small
turns are taken as linear and mended in the next round. (Li & Milenkovic 1995, European Journal of
Operational Research 84:539.) It finds what a search by trial cannot: places that fit exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, sparse

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State
from nesting.packing.separate import Effort, reach, restore, separate
from nesting.packing.stop import Stop

Floats = NDArray[np.float64]

EXACT = 1e-10
"""How far a solution may break a constraint, in sizes of the smallest piece; HiGHS goes no finer."""

OVERLAP = 100.0
"""What overlap costs against length."""

DRIFT = 0.02
"""What all pieces together count against the foremost one, so that those behind move up too."""


@dataclass(frozen=True)
class Moves:
    """A piece moves up to ``span`` of the pieces' mean size a round.

    First come ``turning`` rounds of shorter and shorter moves with turns, where turns are free, then
    ``rounds`` without, so that the last one fits exactly.
    """

    span: float = 0.1
    turning: int = 6
    rounds: int = 12


PACK = Moves()
"""For layouts that may still change much."""

NUDGE = Moves(span=0.03, turning=5, rounds=4)
"""For layouts that almost fit as they are."""

NEARLY = 0.2
"""Layouts that overlap by less than this part of their smallest piece are given to the linear program."""


def compact(state: State, arrays: Arrays, limit: Floats, moves: Moves, within: bool = True) -> bool:
    """Set a nearly feasible layout apart and draw it together towards low x.

    ``within`` keeps the far side of ``limit`` (xmin, ymin, xmax, ymax) too; without, only its others hold.
    On success the state is a feasible layout and the far side is what it reaches; otherwise both are as
    before.
    """
    longest = float(limit[2]) if within else math.inf
    poses, before = state.poses.copy(), limit.copy()
    step = moves.span * float(np.mean(arrays.static.sizes[state.shapes[state.active], 1]))
    still = np.zeros((len(state.shapes), 2))
    turning = moves.turning if kernels.angle_room(state, arrays.static).any() else 0
    for k in range(turning):
        _move(state, arrays, limit, longest, step * 0.5**k, kernels.angle_room(state, arrays.static))
    cost = math.inf
    for _ in range(moves.rounds):
        now = _move(state, arrays, limit, longest, step, still)
        if now > cost - 1e-4:
            break
        cost = now
    limit[2] = min(reach(state), longest)
    if restore(state, state.poses, arrays, limit) == 0.0:
        return True
    limit[:] = before
    restore(state, poses, arrays, limit)
    return False


def squeeze(
    state: State, arrays: Arrays, limit: Floats, bite: float, effort: Effort, moves: Moves,
    rng: NDArray[np.uint64], chance: np.random.Generator, stop: Stop,
) -> bool:  # fmt: skip
    """Take ``bite`` off the far side of ``limit`` along x, separate within it and compact.

    What lies beyond a random cut is shifted by the bite first. On success ``limit`` is what the pieces
    now reach; otherwise state and limit are as before.
    """
    poses, before = state.poses.copy(), limit.copy()
    far = reach(state)
    cut = limit[0] + chance.random() * (far - limit[0])
    limit[2] = far - bite
    state.poses[state.active & (state.poses[:, 0] > cut), 0] -= bite
    loss = separate(state, arrays, limit, rng, effort, stop)
    if fits_nearly(loss, state, arrays) and compact(state, arrays, limit, moves):
        return True
    if loss == 0.0:
        limit[2] = reach(state)
        return True
    limit[:] = before
    restore(state, poses, arrays, limit)
    return False


def fits_nearly(loss: float, state: State, arrays: Arrays) -> bool:
    """Whether the loss of a layout is so small that a linear program may set it apart."""
    return loss < NEARLY * float(arrays.static.sizes[state.shapes[state.active], 0].min())


def _move(
    state: State, arrays: Arrays, limit: Floats, longest: float, step: float, angle_room: Floats
) -> float:
    """Solve one linear program and move the pieces as it says; returns its cost, infinite without a solution.

    ``angle_room`` (n, 2): how far each piece may turn back and on.
    """
    items = np.flatnonzero(state.active)
    count = len(items)
    column = np.zeros(len(state.shapes), dtype=np.int64)
    column[items] = np.arange(count)
    # Lengths are measured in the smallest piece's size, turns by how far they move a piece's rim.
    unit = float(arrays.static.sizes[:, 1].min())
    rim = 0.5 * arrays.reach[state.shapes[items]]
    turns = bool(angle_room.any())
    leeway = 0.5 * step if turns else 0.0
    near = (5.0 if turns else 3.0) * step
    contacts = kernels.contact_rows(state, arrays.static, arrays.fields, arrays.facets, near, leeway)
    fronts = kernels.front_rows(state, leeway)
    broken = np.flatnonzero(contacts[:, 4] < -1e-9 * unit)
    matrix = _matrix(contacts, fronts, broken, column, rim)
    right = np.concatenate((contacts[:, 4], -fronts[:, 1])) / unit
    cost = np.concatenate((np.full(count, DRIFT / count), np.zeros(2 * count), [1.0]))
    found = optimize.linprog(
        np.concatenate((cost, np.full(len(broken), OVERLAP))), A_ub=matrix, b_ub=right, method="highs-ds",
        bounds=np.concatenate((
            _bounds(state.bodies[items, :4], limit, longest, step, angle_room[items] * rim[:, None]) / unit,
            np.tile((0.0, np.inf), (len(broken), 1)),
        )), options={"primal_feasibility_tolerance": EXACT},
    )  # fmt: skip
    if found.x is None:
        return math.inf
    move = found.x[: 3 * count].reshape(3, count).T * unit
    state.poses[items, :2] += move[:, :2]
    if turns:
        state.poses[items, 2] += move[:, 2] / rim
    restore(state, state.poses, arrays, limit)
    return float(found.fun)


def _bounds(boxes: Floats, limit: Floats, longest: float, step: float, rim_room: Floats) -> Floats:
    """Least and most, (3n + 1, 2), of all moves along x and y, of all turns at the rim, of the far side."""
    low = np.maximum(-step, limit[:2] - boxes[:, :2])
    high = np.column_stack((np.full(len(boxes), step), np.minimum(step, limit[3] - boxes[:, 3])))
    # Who is out of bounds by more than a step comes in at one go.
    high = np.maximum(high, low)
    turn = np.minimum(step, rim_room)
    least = np.concatenate((low[:, 0], low[:, 1], -turn[:, 0], [-np.inf]))
    most = np.concatenate((high[:, 0], high[:, 1], turn[:, 1], [longest]))
    return np.column_stack((least, most))


def _matrix(
    contacts: Floats, fronts: Floats, broken: NDArray[np.int64], column: NDArray[np.int64], rim: Floats
) -> sparse.csr_array:
    """Left sides: contact rows, then front rows; columns all x, y, turns, far side, overlaps."""
    count = len(rim)
    number = np.arange(len(contacts))
    a = column[contacts[:, 0].astype(np.int64)]
    nx, ny = contacts[:, 2], contacts[:, 3]
    two = np.flatnonzero(contacts[:, 1] >= 0)
    b = column[contacts[two, 1].astype(np.int64)]
    front = len(contacts) + np.arange(len(fronts))
    f = column[fronts[:, 0].astype(np.int64)]
    far = 3 * count
    entries = [
        (number, a, nx), (number, a + count, ny), (number, a + 2 * count, contacts[:, 5] / rim[a]),
        (two, b, -nx[two]), (two, b + count, -ny[two]), (two, b + 2 * count, -contacts[two, 6] / rim[b]),
        (front, f, np.ones(len(f))), (front, f + 2 * count, fronts[:, 2] / rim[f]),
        (front, np.full(len(f), far), np.full(len(f), -1.0)),
        (broken, far + 1 + np.arange(len(broken)), np.full(len(broken), -1.0)),
    ]  # fmt: skip
    row, col, value = (np.concatenate(part) for part in zip(*entries, strict=True))
    shape = (len(contacts) + len(fronts), far + 1 + len(broken))
    return sparse.csr_array((value, (row, col)), shape=shape)
