"""Repeats against figures proven elsewhere, and each cell laid out and measured with shapely."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import affinity

from nesting.packing.problem import ANY_TURN
from nesting.packing.repeat import Repeat, densest_lattice, densest_pair, densest_repeats

Points = NDArray[np.float64]


def regular(corners: int, radius: float = 1.0) -> Points:
    turns = 2 * math.pi * np.arange(corners) / corners
    return radius * np.column_stack((np.cos(turns), np.sin(turns)))


def star(seed: int, corners: int = 9) -> Points:
    chance = np.random.default_rng(seed)
    turns = 2 * math.pi * (np.arange(corners) + chance.uniform(-0.3, 0.3, corners)) / corners
    radii = 50 * chance.uniform(0.5, 1.0, corners)
    return np.column_stack((radii * np.cos(turns), radii * np.sin(turns))) + chance.uniform(-90, 90, 2)


def mirrored(outline: Points) -> Points:
    return (outline * (-1.0, 1.0))[::-1].copy()


def checked(repeat: Repeat, outlines: list[Points]) -> float:
    """The density, after the cell and its neighbours have been laid out: nothing may overlap."""
    pieces = []
    areas = sum(shapely.Polygon(outlines[m.shape]).area for m in repeat.members)
    # Sides that coincide almost to the last bit confuse an intersection: pieces are shrunk by a hair first.
    hair = 2e-5 * math.sqrt(areas)
    shrunk = [shapely.Polygon(outline).buffer(-hair, join_style="mitre") for outline in outlines]
    for i in range(-3, 4):
        for j in range(-3, 4):
            x, y = np.array(repeat.u) * i + np.array(repeat.v) * j
            for m in repeat.members:
                shape = affinity.rotate(shrunk[m.shape], math.degrees(m.angle), origin=(0, 0))
                pieces.append(affinity.translate(shape, m.x + x, m.y + y))
    one, other = shapely.STRtree(pieces).query(pieces)
    pairs = one < other
    lap = shapely.area(shapely.intersection(np.array(pieces)[one[pairs]], np.array(pieces)[other[pairs]]))
    assert lap.max(initial=0.0) == 0.0
    cell = abs(repeat.u[0] * repeat.v[1] - repeat.u[1] * repeat.v[0])
    assert repeat.density == pytest.approx(areas / cell, rel=1e-9)
    return repeat.density


def test_the_check_bites() -> None:
    outline = regular(5)
    found = densest_lattice(outline)
    closer = (0.999 * found.v[0], 0.999 * found.v[1])
    with pytest.raises(AssertionError):
        checked(replace(found, v=closer, density=found.density / 0.999), [outline])


def test_regular_pentagons() -> None:
    """(5 - √5) / 3 (Kuperberg & Kuperberg 1990; densest of all packings, Hales & Kusner 2016)."""
    outline = regular(5)
    density = checked(densest_pair(outline, outline, math.pi), [outline])
    assert density == pytest.approx((5 - math.sqrt(5)) / 3, rel=1e-3)
    assert density <= (5 - math.sqrt(5)) / 3 + 1e-6


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.1])
def test_regular_heptagons_however_turned(turn: float) -> None:
    """0.8926... is the densest double lattice (Kuperberg & Kuperberg 1990; figure from memory)."""
    cos, sin = math.cos(turn), math.sin(turn)
    outline = regular(7) @ np.array([[cos, sin], [-sin, cos]])
    assert checked(densest_pair(outline, outline, math.pi), [outline]) == pytest.approx(0.8927, abs=2e-4)


@pytest.mark.parametrize("seed", range(4))
def test_triangles(seed: int) -> None:
    """Two thirds is the densest lattice of any triangle (Fáry 1950); with its half turn it tiles."""
    outline = star(seed, 3)
    assert checked(densest_lattice(outline), [outline]) == pytest.approx(2 / 3, rel=1e-3)
    assert checked(densest_pair(outline, outline, math.pi), [outline]) == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize("seed", range(6))
def test_any_quadrilateral_and_its_half_turn_tile(seed: int) -> None:
    """Convex or not: half turns about the middles of the sides (school geometry)."""
    outline = star(seed, 4)
    assert checked(densest_pair(outline, outline, math.pi), [outline]) == pytest.approx(1.0, rel=1e-3)


def test_a_trapezoid() -> None:
    outline = np.array([(0, 0), (50, 0), (40, 20), (15, 20.0)])
    best = densest_repeats([outline], [ANY_TURN])[0]
    assert checked(best, [outline]) == pytest.approx(1.0, rel=1e-3)
    assert len(best.members) == 2


def test_a_rectangle_needs_one_piece() -> None:
    outline = np.array([(5, 5), (35, 5), (35, 15), (5, 15.0)])
    assert checked(densest_lattice(outline), [outline]) == pytest.approx(1.0, rel=1e-6)


def test_discs() -> None:
    """π / √12 (Lagrange; Thue 1910): the lattice of all circles, here with 96 corners."""
    outline = regular(96, 20.0)
    assert checked(densest_lattice(outline), [outline]) == pytest.approx(math.pi / math.sqrt(12), rel=1e-3)


def test_only_turns_that_are_allowed() -> None:
    outline = star(2, 5)
    along = ((0.2, 0.4),)
    assert all(len(r.members) == 1 for r in densest_repeats([outline], [along]))
    both_ways = ((0.2, 0.4), (0.2 + math.pi, 0.4 + math.pi))
    assert any(len(r.members) == 2 for r in densest_repeats([outline], [both_ways]))
    for repeat in densest_repeats([outline, mirrored(outline)], [along, along]):
        assert abs(math.remainder(repeat.members[1].angle, 2 * math.pi)) <= 0.2 + 1e-9


def test_mirror_images_of_a_right_triangle() -> None:
    """Leg along leg they make an isosceles triangle, whose lattice has two thirds; others are denser."""
    outline = np.array([(0, 0), (40, 0), (0, 25.0)])
    pair = [outline, mirrored(outline)]
    best = densest_repeats(pair, [ANY_TURN, ANY_TURN])[0]
    assert checked(best, pair) > 2 / 3 + 0.05
    assert {m.shape for m in best.members} == {0, 1}


@pytest.mark.parametrize("seed", range(6))
def test_stars_do_not_overlap(seed: int) -> None:
    outline = star(seed)
    single = checked(densest_lattice(outline), [outline])
    assert 0.5 < single <= 1.0
    pair = [outline, mirrored(outline)]
    assert 0.5 < checked(densest_pair(*pair, 0.7), pair) <= 1.0
