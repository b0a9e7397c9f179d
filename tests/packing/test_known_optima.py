"""Packings whose best is known: the engine finds them, and never anything better.

Every answer is checked by shapely alone (``puzzles.deepest_fault``).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from puzzles import (
    ANY_TURN,
    DEEPEST,
    HALF_TURN,
    UPRIGHT,
    as_strip,
    deepest_fault,
    in_square,
    jigsaw,
    rectangle,
    round_disc,
    separated,
    shortest_strip,
    shrunk_to,
)
from shape_zoo import regular

from nesting.packing.problem import Interval

TEN_DISCS = 0.148204
"""Largest radius of ten equal discs in a unit square: published tables, from memory."""
FIVE_SQUARES = 2.0 + 1.0 / math.sqrt(2.0)
"""Least side of a square for five unit squares, the middle one at 45 degrees: Friedman, Electronic
Journal of Combinatorics, Dynamic Survey 7, from memory."""
TRAPEZOID = np.array([(0.0, 0.0), (8.5, 0.0), (8.0, 4.5), (0.5, 4.5)])
"""8.5 and 7.5 by 4.5 in: with its half turn it tiles a strip without waste (geometry)."""


def test_ten_discs() -> None:
    """At 0.97 of the best radius, each as the polygon of 32 sides around it, which is 0.5 % wider."""
    problem = in_square(round_disc(0.97 * TEN_DISCS), 10, 1.0)
    found = next((placed for seed in range(4) if (placed := separated(problem, seed, 8))), None)
    assert found is not None
    assert deepest_fault(problem, found, problem.box) < DEEPEST * TEN_DISCS


def test_ten_discs_larger_than_the_best_do_not_fit() -> None:
    """Polygons of 32 sides inside discs of 1.01 times the best radius still hold discs larger than it."""
    assert math.cos(math.pi / 32) * 1.01 > 1.0
    problem = in_square(regular(32, 1.01 * TEN_DISCS), 10, 1.0)
    assert separated(problem, 1, 4) is None


def test_five_squares() -> None:
    """In a square of 2.7072, within 0.0001 of the best: the middle one has to lie at 45 degrees."""
    problem = in_square(rectangle(1.0, 1.0), 5, 2.7072)
    assert 0.0 < 2.7072 - FIVE_SQUARES < 1e-4
    for seed in range(8):
        side, placed = shrunk_to(problem, seed, 60)
        assert side > FIVE_SQUARES
        assert deepest_fault(problem, placed, (0.0, 0.0, side, side)) < DEEPEST
        if side == 2.7072:
            break
    assert side == 2.7072
    tilts = sorted(abs(math.remainder(p.angle, math.pi / 2)) for p in placed)
    assert tilts[-1] == pytest.approx(math.pi / 4, abs=0.02)
    assert tilts[-2] < 0.02


def test_five_squares_do_not_fit_in_less() -> None:
    problem = in_square(rectangle(1.0, 1.0), 5, 2.69)
    side, placed = shrunk_to(problem, 1, 40)
    assert side > FIVE_SQUARES
    assert deepest_fault(problem, placed, (0.0, 0.0, side, side)) < DEEPEST


def test_trapezoids_in_a_strip_as_wide_as_they_are_high() -> None:
    """Six, each second one turned end for end: 8 in each, and half an inch lost at the slanted ends."""
    problem = as_strip([TRAPEZOID] * 6, 4.5, HALF_TURN)
    best = 6 * 8.0 + 0.5
    found = []
    for seed in range(3):
        length, placed = shortest_strip(problem, seed, 400)
        assert deepest_fault(problem, placed, (0.0, 0.0, length, 4.5)) < DEEPEST * 8.0
        assert length > best - 1e-4
        found.append(length)
    assert min(found) < 1.001 * best


def test_trapezoids_turned_freely() -> None:
    """In a strip one per cent wider; tilting into it gains less than it costs to reach 1.005."""
    problem = as_strip([TRAPEZOID] * 6, 1.01 * 4.5)
    found = []
    for seed in range(3):
        length, placed = shortest_strip(problem, seed, 400)
        assert deepest_fault(problem, placed, (0.0, 0.0, length, 1.01 * 4.5)) < DEEPEST * 8.0
        found.append(length)
    assert min(found) < 1.005 * (6 * 8.0 + 0.5)
    assert min(found) * 1.01 * 4.5 > 6 * shapely.Polygon(TRAPEZOID).area


@pytest.mark.parametrize(("columns", "turns"), [(3, ANY_TURN), (4, UPRIGHT)])
def test_jigsaw(columns: int, turns: tuple[Interval, ...]) -> None:
    """Crooked pieces cut from a rectangle go back into one that is 3 % longer and wider."""
    pieces = jigsaw(columns, 2, 5)
    assert sum(shapely.Polygon(piece).area for piece in pieces) == pytest.approx(2.0 * columns)
    problem = replace(as_strip(pieces, 2.0, turns), box=(0.0, 0.0, 1.03 * columns, 1.03 * 2.0))
    found = next((placed for seed in range(3) if (placed := separated(problem, seed, 8))), None)
    assert found is not None
    assert deepest_fault(problem, found, problem.box) < DEEPEST
