"""Puzzles with a known answer, ways to have the packer try them, and a check that is not the packer's."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import plain_twins as plain
import shapely
from shape_zoo import regular

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, build_arrays
from nesting.packing.problem import ANY_TURN, Interval, Item, Placed, Problem, Shape
from nesting.packing.separate import Effort, restore, separate
from nesting.packing.stop import MaxRounds, never
from nesting.packing.strip import pack_strip, seed_state

HALF_TURN: tuple[Interval, ...] = ((0.0, 0.0), (math.pi, math.pi))
QUARTER_TURN: tuple[Interval, ...] = ((0.0, 0.0), (math.pi / 2, math.pi / 2))
UPRIGHT: tuple[Interval, ...] = ((0.0, 0.0),)
FULL, LIGHT = Effort(), Effort(wide=6, patience=40, strikes=2)
"""No linear program follows these, so they are exact to the end."""
DEEPEST = 2e-6
"""What pieces one unit wide may overlap or stick out by: twenty times the packer's own tolerance."""


def rectangle(width: float, height: float) -> plain.Points:
    """A rectangle with its lower left corner at the origin."""
    return np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=np.float64)


def in_square(outline: plain.Points, count: int, side: float) -> Problem:
    """So many of one shape, turned freely, in a square."""
    return Problem((Shape(outline),), (Item(0),) * count, (), (0.0, 0.0, side, side))


def round_disc(radius: float, sides: int = 32) -> plain.Points:
    """A polygon around the disc, so a little larger than it."""
    return regular(sides, radius / math.cos(math.pi / sides))


def as_strip(outlines: list[plain.Points], width: float, turns: tuple[Interval, ...] = ANY_TURN) -> Problem:
    """One of each outline, for a strip of a width along x."""
    shapes = tuple(Shape(outline, (), turns) for outline in outlines)
    return Problem(shapes, tuple(Item(i) for i in range(len(shapes))), (), (0.0, 0.0, 1e4, width))


def deepest_fault(problem: Problem, placed: list[Placed], box: tuple[float, float, float, float]) -> float:
    """By shapely alone: how far pieces overlap or leave the box, at most; all items have to be there."""
    assert sorted(p.item for p in placed) == list(range(len(problem.items)))
    shapes = []
    for p in placed:
        shape = problem.shapes[problem.items[p.item].shape]
        assert any(_allows(turn, p.angle) for turn in shape.turns)
        shapes.append(shapely.Polygon(plain.moved(shape.outline, p.angle, p.x, p.y)))
    x0, y0, x1, y1 = shapely.MultiPolygon(shapes).bounds
    worst = max(box[0] - x0, box[1] - y0, x1 - box[2], y1 - box[3], 0.0)
    for i, a in enumerate(shapes):
        for b in shapes[:i]:
            common = a.intersection(b)
            if common.area > 0.0:
                worst = max(worst, 2.0 * common.area / common.length)
    return worst


def _allows(turn: Interval, angle: float) -> bool:
    low, high = turn
    return (angle - low + 1e-9) % (2.0 * math.pi) <= high - low + 2e-9


def separated(problem: Problem, seed: int, rounds: int) -> list[Placed] | None:
    """Drop all pieces where they overlap least and separate them, up to ``rounds`` times."""
    arrays, rng = build_arrays(problem), seed_state(seed)
    limit = np.array(problem.box, dtype=np.float64)
    for _ in range(rounds):
        state = arrays.fresh_state()
        for item in range(len(problem.items)):
            kernels.insert_cheapest(item, 60, False, state, arrays.static, arrays.fields, limit, rng)
        if separate(state, arrays, limit, rng, FULL, never) == 0.0:
            return arrays.placed(state)
    return None


def shrunk_to(problem: Problem, seed: int, rounds: int, start: float = 1.02) -> tuple[float, list[Placed]]:
    """Separate in a square a little too large, then draw it in to the problem's box, as far as it goes."""
    arrays, rng = build_arrays(problem), seed_state(seed)
    goal = problem.box[2]
    side = start * goal
    state, limit = arrays.fresh_state(), np.array((0.0, 0.0, side, side))
    _first(arrays, state, limit, rng)
    bite, kept = 0.01 * goal, state.poses.copy()
    for _ in range(rounds):
        smaller = max(goal, side - bite)
        limit[2:] = smaller
        state.poses[:, :2] *= smaller / side
        if separate(state, arrays, limit, rng, LIGHT, never) == 0.0:
            side, kept, bite = smaller, state.poses.copy(), 1.5 * bite
            if side == goal:
                break
        else:
            limit[2:], bite = side, 0.5 * bite
            restore(state, kept, arrays, limit)
    return side, arrays.placed(state)


def _first(arrays: Arrays, state: object, limit: plain.Points, rng: object) -> None:
    while True:
        arrays.put(state, [])  # type: ignore[arg-type]
        for item in range(len(arrays.problem.items)):
            kernels.insert_cheapest(item, 60, False, state, arrays.static, arrays.fields, limit, rng)
        if separate(state, arrays, limit, rng, FULL, never) == 0.0:  # type: ignore[arg-type]
            return


def shortest_strip(problem: Problem, seed: int, rounds: int) -> tuple[float, list[Placed]]:
    """The packer's shortest strip within ``rounds`` of its search."""
    arrays = build_arrays(problem)
    best: list[tuple[float, list[Placed]]] = []
    pack_strip(
        arrays, seed, MaxRounds(rounds),
        lambda length, state: best.append((float(length), arrays.placed(state))),
    )  # fmt: skip
    assert [length for length, _ in best] == sorted((length for length, _ in best), reverse=True)
    return best[-1]


def jigsaw(columns: int, rows: int, seed: int) -> list[plain.Points]:
    """A rectangle of columns × rows cells cut up along crooked lines, one piece a cell."""
    chance = np.random.default_rng(seed)
    knot = np.stack(np.meshgrid(np.arange(columns + 1.0), np.arange(rows + 1.0)), axis=-1)
    inner = chance.uniform(-0.25, 0.25, knot.shape)
    inner[:, [0, -1], 0] = inner[[0, -1], :, 1] = 0.0
    knot += inner
    upright = (knot[:-1] + knot[1:]) / 2 + _bend(chance, (rows, columns + 1), (slice(None), [0, -1], 0))
    level = (knot[:, :-1] + knot[:, 1:]) / 2 + _bend(chance, (rows + 1, columns), ([0, -1], slice(None), 1))
    return [
        np.array([
            knot[r, c], level[r, c], knot[r, c + 1], upright[r, c + 1],
            knot[r + 1, c + 1], level[r + 1, c], knot[r + 1, c], upright[r, c],
        ])
        for r, c in _cells(rows, columns)
    ]  # fmt: skip


def _bend(chance: np.random.Generator, size: tuple[int, int], border: tuple[object, ...]) -> plain.Points:
    bend = chance.uniform(-0.2, 0.2, (*size, 2))
    bend[border] = 0.0
    return bend


def _cells(rows: int, columns: int) -> Iterator[tuple[int, int]]:
    return ((r, c) for r in range(rows) for c in range(columns))
