"""Small rectangle orders against a solver that proves its optimum (ortools CP-SAT, no overlap in 2D).

The packer may never be shorter than the proven strip: that would be an overlap unseen. How far
above it stays is printed (pytest -rP) and bounded.
"""

from __future__ import annotations

import numpy as np
import pytest
from ortools.sat.python import cp_model
from puzzles import DEEPEST, QUARTER_TURN, as_strip, deepest_fault, rectangle, shortest_strip

Sizes = list[tuple[int, int]]


def proven_length(sizes: Sizes, width: int) -> int:
    """The least length of a strip of ``width`` that holds all rectangles, each as drawn or turned by 90°."""
    model = cp_model.CpModel()
    most = sum(max(size) for size in sizes)
    length = model.new_int_var(0, most, "length")
    along, across = [], []
    for i, (a, b) in enumerate(sizes):
        turned = model.new_bool_var(f"turned {i}")
        x, y = model.new_int_var(0, most, f"x{i}"), model.new_int_var(0, width, f"y{i}")
        w, h = a + (b - a) * turned, b + (a - b) * turned
        end, top = model.new_int_var(0, most, f"end{i}"), model.new_int_var(0, width, f"top{i}")
        along.append(model.new_interval_var(x, w, end, f"along {i}"))
        across.append(model.new_interval_var(y, h, top, f"across {i}"))
        model.add(end <= length)
    model.add_no_overlap_2d(along, across)
    model.add(length * width >= sum(a * b for a, b in sizes))
    model.minimize(length)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = 20.0
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def drawn_order(seed: int, pieces: int) -> Sizes:
    """Rectangles of 2 to 9 by 2 to 9."""
    drawn = np.random.default_rng(seed).integers(2, 10, size=(pieces, 2))
    return [(int(a), int(b)) for a, b in drawn]


def test_the_solver_on_cases_by_hand() -> None:
    """Two of 2 by 4 fill a square; two of 3 by 3 do not fit side by side in 4; a bar of 6 stays 6 long."""
    assert proven_length([(2, 4), (2, 4)], 4) == 4
    assert proven_length([(3, 3), (3, 3)], 4) == 6
    assert proven_length([(1, 6), (2, 3), (3, 2)], 3) == 6


def lengths(sizes: Sizes, width: float, seeds: int, rounds: int) -> list[float]:
    """The packer's lengths, one a seed, each layout checked by shapely."""
    problem = as_strip([rectangle(a, b) for a, b in sizes], width, QUARTER_TURN)
    found = []
    for seed in range(seeds):
        length, placed = shortest_strip(problem, seed, rounds)
        assert deepest_fault(problem, placed, (0.0, 0.0, length, width)) < 10 * DEEPEST
        found.append(length)
    return found


@pytest.mark.parametrize(
    ("drawn", "pieces"),
    [(1, 5), (2, 6), (3, 7), (4, 8), (5, 9)],
)
def test_never_shorter_than_proven(drawn: int, pieces: int) -> None:
    """0.2 % more width changes no sum of whole numbers, so the proven length is that of 13 as well."""
    sizes = drawn_order(drawn, pieces)
    best = proven_length(sizes, 13)
    found = lengths(sizes, 1.002 * 13, 2, 500)
    above = ", ".join(f"{100 * (length / best - 1):.2f} %" for length in found)
    print(f"{pieces} rectangles in a strip of 13: proven {best}, ours longer by {above}")
    assert min(found) >= best - 1e-4
    assert min(found) <= 1.08 * best


def test_a_width_filled_exactly() -> None:
    """8 + 5 = 13: the best has no room to spare across the strip."""
    sizes = drawn_order(1, 5)
    assert min(lengths(sizes, 13.0, 2, 500)) <= 1.02 * proven_length(sizes, 13)
