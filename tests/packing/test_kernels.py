"""Each kernel of one piece and of regions against its slow plain twin, on a zoo of awkward shapes.

``test_kernel_modes.py`` runs this file and ``test_pairs.py`` again without compilation, and with
bounds checked; KERNEL_EXAMPLES then says how many random examples are enough.
"""

from __future__ import annotations

import math
import os
from functools import cache
from typing import Any

import numpy as np
import plain_twins as plain
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shape_zoo import ZOO, regular

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, build_arrays
from nesting.packing.problem import Item, Part, Problem, Region, Shape

NAMES = tuple(ZOO)
AS_DRAWN = ((0.0, 0.0),)
EPS = 1e-7
SURE = 1e-4
"""What sticks out or overlaps by more than this, of shapes one unit wide, has to be seen."""

SHELL = np.array([(0, 0), (6, 0), (6, 2), (4, 2), (4, 3), (6, 3), (6, 5), (0, 5), (1, 2.5)], dtype=float)
HOLES = (np.add(regular(12, 0.4), (2.0, 1.0)), np.array([(3.0, 3.5), (3.5, 3.5), (3.5, 4.5), (3.0, 4.5)]))
ISLAND = np.array([(7, 0), (9, 0), (9, 3), (7, 3)], dtype=float)
REGIONS = (Region(((SHELL, HOLES), (ISLAND, ()))), Region(((0.8 * SHELL + 0.5, ()),)))
"""A notch, a dent, a round and a square hole, an island; and a second region on the same grid."""

RANDOM = int(os.environ.get("KERNEL_EXAMPLES", "300"))
many = settings(max_examples=RANDOM, deadline=None, derandomize=True)
names = st.sampled_from(NAMES)
angles = st.one_of(st.floats(0.0, 2.0 * math.pi), st.integers(0, 23).map(lambda k: k * math.pi / 12))
shifts = st.one_of(st.floats(-1.2, 1.2), st.integers(-9, 9).map(lambda k: k / 8))


@cache
def zoo() -> Arrays:
    """The zoo; each shape asks for region 0."""
    shapes = tuple(Shape(outline, (Part(outline, 0),), AS_DRAWN) for outline in ZOO.values())
    return build_arrays(Problem(shapes, (Item(0),), REGIONS, (-1.0, -1.0, 10.0, 6.0)))


def at_pose(
    arrays: Arrays, shape: int, angle: float, x: float, y: float, *, part: bool = False
) -> tuple[Any, shapely.Polygon]:
    """A body (1, row), turned about its centre of area and shifted, and the plain polygon of the same.

    With ``part`` it is the body of the shape's only part, which is the whole of it.
    """
    source = arrays.static.parts if part else arrays.static.bodies
    body = np.zeros((1, arrays.static.bodies.shape[1]))
    cos, sin = math.cos(angle), math.sin(angle)
    kernels.place_body(source, shape, angle, cos, sin, x, y, body, 0)
    outline = arrays.problem.shapes[shape].outline - arrays.centres[shape]
    return body, shapely.Polygon(plain.moved(outline, angle, x, y))


@many
@given(names, angles, shifts, shifts)
def test_place_body(name: str, angle: float, x: float, y: float) -> None:
    body, polygon = at_pose(zoo(), NAMES.index(name), angle, x, y)
    count = int(body[0, kernels.NV])
    down = kernels.y_offset(body)
    placed = shapely.Polygon(np.column_stack([body[0, kernels.VX + k :][:count] for k in (0, down)]))
    assert placed.exterior.is_ccw
    assert placed.hausdorff_distance(polygon) < 1e-12
    assert placed.area == pytest.approx(polygon.area, abs=1e-12)
    assert body[0, :4] == pytest.approx(polygon.bounds, abs=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_circles_lie_inside_their_shape(name: str) -> None:
    body, polygon = at_pose(zoo(), NAMES.index(name), 1.0, 0.3, -0.2)
    circles = body[0, kernels.CX : kernels.NV].reshape(3, -1).T
    centres = shapely.points(circles[:, :2])
    assert polygon.covers(centres).all()
    assert (circles[:, 2] <= shapely.distance(polygon.exterior, centres) + 1e-9).all()
    assert circles[0, 2] == pytest.approx(shapely.maximum_inscribed_circle(polygon).length, rel=0.02)


@many
@given(names, angles, shifts, shifts)
def test_point_in_body(name: str, angle: float, x: float, y: float) -> None:
    body, polygon = at_pose(zoo(), NAMES.index(name), angle, 0.0, 0.0)
    assume(polygon.exterior.distance(shapely.Point(x, y)) > 1e-9)
    assert bool(kernels.point_in_body(x, y, body, 0)) is bool(shapely.contains_xy(polygon, x, y))


on_grid = st.tuples(st.integers(-3, 3), st.integers(-3, 3)).map(lambda p: (p[0] / 2, p[1] / 2))
anywhere = st.tuples(st.floats(-2, 2), st.floats(-2, 2))


@many
@given(on_grid, on_grid, on_grid, on_grid)
def test_segments_on_a_grid(a: plain.Point, b: plain.Point, c: plain.Point, d: plain.Point) -> None:
    """Ends on the other segment, collinear ones, some of no length: on this grid nothing is nearly so."""
    assert bool(kernels.segments_cross(*a, *b, *c, *d, EPS)) is plain.cross_properly(a, b, c, d)


@many
@given(anywhere, anywhere, anywhere, anywhere)
def test_segments_anywhere(a: plain.Point, b: plain.Point, c: plain.Point, d: plain.Point) -> None:
    one, other = shapely.LineString([a, b]), shapely.LineString([c, d])
    ends = [one.distance(shapely.Point(p)) for p in (c, d)] + [
        other.distance(shapely.Point(p)) for p in (a, b)
    ]
    assume(min(ends) > 10 * EPS)
    assert bool(kernels.segments_cross(*a, *b, *c, *d, EPS)) is plain.cross_properly(a, b, c, d)


# --- regions ---------------------------------------------------------------------------------


@pytest.mark.parametrize("corner", [(-0.7, -0.3), (-1.0, -0.5)])
def test_signed_distance_grid(corner: tuple[float, float]) -> None:
    """Of rings with holes, some corners on grid lines. Blocks at the grid's end are cut short; an edge of no
    length counts as a point."""
    region = plain.geometry(REGIONS[0])
    rings = [shapely.get_coordinates(r) for r in shapely.get_rings(shapely.get_parts(region))]
    edges = np.vstack([*(np.column_stack((r[:-1], r[1:])) for r in rings), [(9.5, 1.0, 9.5, 1.0)]])
    (x0, y0), step = corner, 0.25
    grid = kernels.signed_distance_grid(edges, x0, y0, step, 27, 45)
    x, y = np.meshgrid(x0 + step * np.arange(45), y0 + step * np.arange(27))
    inside = shapely.contains_xy(region, x, y).ravel()
    expected = plain.distances(edges, np.column_stack((x.ravel(), y.ravel())))
    assert 100 < inside.sum() < inside.size - 100
    assert grid.ravel() == pytest.approx(np.where(inside, expected, -expected), abs=1e-12)


@many
@given(st.integers(0, 1), st.floats(-3, 12), st.floats(-3, 8))
def test_field(number: int, x: float, y: float) -> None:
    """As its bilinear twin says; on the grid also the true signed distance, to within 1.5 steps."""
    fields = zoo().fields
    x0, y0, step, _ = fields.frame
    found = kernels.field_at(fields.grid, number, fields.frame, x, y)
    assert found == pytest.approx(plain.bilinear(fields.grid[number], x0, y0, step, x, y), abs=0.01 * step)
    shape, point = plain.geometry(REGIONS[number]), shapely.Point(x, y)
    rows, columns = fields.grid[number].shape
    if x0 <= x <= x0 + step * (columns - 1) and y0 <= y <= y0 + step * (rows - 1):
        truth = shape.boundary.distance(point) * (1 if shape.covers(point) else -1)
        assert abs(found - truth) <= 1.5 * step
    else:
        assert found < 0.0


region_x = st.one_of(st.floats(-0.5, 9.5), st.integers(0, 72).map(lambda k: k / 8))
region_y = st.one_of(st.floats(-0.5, 5.5), st.integers(0, 40).map(lambda k: k / 8))


def leaves(arrays: Arrays, body: Any, region: int) -> bool:
    fields, down = arrays.fields, kernels.y_offset(body)
    with_field = np.concatenate((body, np.zeros_like(body)))
    for k in range(kernels.VX, kernels.VX + int(body[0, kernels.NV]) + 1):
        at = body[0, k], body[0, k + down]
        with_field[1, k] = kernels.field_at(fields.grid, region, fields.frame, *at)
    return bool(kernels.leaves_region(with_field, 0, region, fields, EPS))


@many
@given(st.integers(0, 1), names, angles, region_x, region_y)
def test_leaves_region_anywhere(number: int, name: str, angle: float, x: float, y: float) -> None:
    """Lying against the border is inside; what sticks out deeper than SURE is not."""
    body, polygon = at_pose(zoo(), NAMES.index(name), angle, x, y, part=True)
    deep = plain.sticks_out(polygon, plain.geometry(REGIONS[number]))
    assume(deep < 0.1 * EPS or deep > SURE)
    assert leaves(zoo(), body, number) is (deep > SURE)


@pytest.mark.parametrize("deep", [-1e-6, 0.0005, 0.005, 0.02, 0.1])
def test_leaves_region_by_little(deep: float) -> None:
    """Pushed from inside against the border, any turn, and on by ``deep``."""
    chance = np.random.default_rng(7)
    leather = plain.geometry(REGIONS[0])
    wrong, tried = [], 0
    for _ in range(RANDOM):
        at, angle, heading = int(chance.integers(len(NAMES))), *chance.uniform(0.0, 2.0 * math.pi, 2)
        x, y = (5.2, 4.0) if chance.random() < 0.5 else (8.0, 1.5)
        ahead = np.array((math.cos(heading), math.sin(heading)))
        flat = at_pose(zoo(), at, angle, x, y)[1]
        if not leather.covers(flat):
            continue

        def inside(far: float, flat: Any = flat, ahead: Any = ahead) -> bool:
            return bool(leather.covers(shapely.transform(flat, lambda c: c + far * ahead)))

        far = plain.first_without(inside, 0.0, 9.0) + deep
        body, polygon = at_pose(zoo(), at, angle, x + far * ahead[0], y + far * ahead[1], part=True)
        width = plain.sticks_out(polygon, leather)
        if deep < 0 or width > SURE:
            tried += 1
            if leaves(zoo(), body, 0) is not (deep > 0):
                wrong.append((NAMES[at], angle, far, width))
    assert tried > RANDOM / 3
    assert wrong == []


@pytest.mark.parametrize("deep", [0.0, 2 * SURE, 0.001, 0.01, 0.03, 0.1, 0.5])
def test_leaves_region_flush(deep: float) -> None:
    """As wide as the region, its long sides on the region's own, and out at the end: nothing crosses."""
    bar = np.array([(0, 0), (4, 0), (4, 1), (0, 1)], dtype=float)
    region = Region(((np.array([(0, 0), (9, 0), (9, 1), (0, 1)], dtype=float), ()),))
    arrays = build_arrays(
        Problem((Shape(bar, (Part(bar, 0),), AS_DRAWN),), (Item(0),), (region,), (-1, -1, 20, 5))
    )
    body, _ = at_pose(arrays, 0, 0.0, 7.0 + deep, 0.5, part=True)
    assert leaves(arrays, body, 0) is (deep > 0)


def test_a_hole_under_a_piece_is_seen() -> None:
    """The hole lies wholly inside the piece: no border is crossed."""
    big = regular(24, 0.6)
    arrays = build_arrays(
        Problem((Shape(big, (Part(big, 0),), AS_DRAWN),), (Item(0),), REGIONS, (-1, -1, 10, 6))
    )
    body, _ = at_pose(arrays, 0, 0.0, 2.0, 1.0, part=True)
    assert leaves(arrays, body, 0)
