"""Whether two pieces overlap: the packer's losses against shapely, from deep overlap to bare contact."""

from __future__ import annotations

import math
import os
from functools import cache

import numpy as np
import plain_twins as plain
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shape_zoo import ZOO, regular

from nesting.packing import kernels
from nesting.packing.arrays import Arrays, build_arrays
from nesting.packing.depths import convex_parts, no_fit_polygon
from nesting.packing.problem import Item, Placed, Points, Problem, Shape

EPS = 1e-7
SURE = 1e-4
RANDOM = int(os.environ.get("KERNEL_EXAMPLES", "300"))
PUSHED = min(RANDOM, 60)
BOX = (-50.0, -50.0, 50.0, 50.0)

BELT = np.array([(0, 0), (20, 0), (20, 0.5), (0, 0.5)], dtype=float)
"""A shape far longer than wide, beside which others are small."""
SETS = {"zoo": tuple(ZOO), "belts": ("belt", "square", "L"), "two": ("U", "comb")}
ALL = {**ZOO, "belt": BELT}

STRICT = "KERNEL_EXAMPLES" not in os.environ
WIDE = pytest.mark.xfail(
    strict=STRICT, reason="tables are interpolated over turn, and in places off by more than BORDER steps"
)

many = settings(max_examples=RANDOM, deadline=None, derandomize=True)
shapes = st.integers(0, len(ZOO) - 1)
crooked = st.integers(0, 10**6).map(lambda k: 0.012345 + 6.28e-6 * k)
aslant = st.integers(0, 10**6).map(lambda k: 3e-6 * k - 1.512345)
round_angles = st.integers(0, 23).map(lambda k: k * math.pi / 12)
round_shifts = st.integers(-12, 12).map(lambda k: k / 8)


@cache
def arrays_of(chosen: str) -> Arrays:
    """Two items of each shape of a set, free to turn."""
    shapes = tuple(Shape(ALL[name]) for name in SETS[chosen])
    items = tuple(Item(i // 2) for i in range(2 * len(shapes)))
    return build_arrays(Problem(shapes, items, (), BOX))


def both_losses(arrays: Arrays, one: Placed, other: Placed) -> tuple[float, float]:
    """The loss of two placed items, as the table and as a trial of the second item see it."""
    state, limit = arrays.fresh_state(), np.array(BOX)
    arrays.put(state, [one, other])
    kernels.rebuild(state, arrays.static, arrays.fields, limit)
    x, y, angle = state.poses[other.item]
    room = kernels.make_room(arrays.static)
    trial = kernels.evaluate(
        other.item, x, y, angle, kernels.HUGE, False, state, arrays.static, arrays.fields, limit, room
    )
    assert state.losses[one.item, other.item] == state.losses[other.item, one.item]
    return float(state.losses[one.item, other.item]), float(trial)


def overlaps(arrays: Arrays, one: Placed, other: Placed) -> bool:
    """What the packer says of two placed items; a trial may not see more than that, nor see it otherwise."""
    loss, trial = both_losses(arrays, one, other)
    assert loss >= 0.0
    assert trial in (0.0, pytest.approx(loss, rel=1e-9))
    return loss > 0.0


def polygon(arrays: Arrays, placed: Placed) -> shapely.Polygon:
    outline = arrays.problem.shapes[arrays.problem.items[placed.item].shape].outline
    return shapely.Polygon(plain.moved(outline, placed.angle, placed.x, placed.y))


def check(one: int, other: int, turn: float, other_turn: float, x: float, y: float) -> None:
    """One shape of the zoo at home, another at a place; what is neither deep nor contact is left open."""
    arrays = arrays_of("zoo")
    a, b = Placed(2 * one, turn, 0.0, 0.0), Placed(2 * other + 1, other_turn, x, y)
    p, q = polygon(arrays, a), polygon(arrays, b)
    deep = plain.deeper(p, q, SURE)
    assume(deep or not plain.deeper(p, q, 0.1 * EPS))
    assert overlaps(arrays, a, b) is deep


@many
@given(shapes, shapes, crooked, crooked, aslant, aslant)
def test_anywhere(one: int, other: int, turn: float, other_turn: float, x: float, y: float) -> None:
    check(one, other, turn, other_turn, x, y)


@many
@given(shapes, shapes, round_angles, round_angles, round_shifts, round_shifts)
def test_on_a_grid(one: int, other: int, turn: float, other_turn: float, x: float, y: float) -> None:
    """Corners on sides, sides along sides, pieces in the same place."""
    check(one, other, turn, other_turn, x, y)


def pushed_together(arrays: Arrays, chance: np.random.Generator, turns: str) -> tuple[Placed, Placed, Points]:
    """Two pieces of any shapes that just touch, and the direction (2,) in which the second came."""
    one, other = 2 * chance.integers(len(arrays.problem.shapes), size=2)
    quarters = chance.integers(4, size=2) * math.pi / 2
    turn, heading = chance.uniform(0.0, 2.0 * math.pi, 2)
    first = {"any": chance.uniform(0.0, 2.0 * math.pi), "parallel": turn, "flush": 0.0}[turns]
    second = {"any": turn, "parallel": turn, "flush": 0.0}[turns] + (turns != "any") * quarters[1]
    a, b = Placed(int(one), first, 0.0, 0.0), Placed(int(other) + 1, second, 0.0, 0.0)
    p, q = polygon(arrays, a), polygon(arrays, b)
    if turns == "flush":
        ahead, start = np.array((1.0, 0.0)), np.array((0.0, p.bounds[1] - q.bounds[1]))
    else:
        ahead = np.array((math.cos(heading), math.sin(heading)))
        start = np.array((-ahead[1], ahead[0])) * chance.uniform(-0.3, 0.3)
    middle = shapely.get_coordinates(p.centroid)[0] - shapely.get_coordinates(q.centroid)[0]
    start = start + (middle if turns != "flush" else (middle[0], 0.0))

    def meet(far: float) -> bool:
        return bool(p.intersection(shapely.transform(q, lambda c: c + start + far * ahead)).area > 1e-15)

    far = plain.first_without(meet, 0.0, 30.0)
    x, y = start + far * ahead
    return a, Placed(b.item, second, float(x), float(y)), ahead


def wrong_when_pushed(chosen: str, turns: str, deep: float) -> list[tuple[str, str, float]]:
    """Pairs that are judged wrongly when pushed ``deep`` into each other, or apart where negative."""
    arrays, chance = arrays_of(chosen), np.random.default_rng(11)
    wrong, tried = [], 0
    for _ in range(PUSHED):
        a, b, ahead = pushed_together(arrays, chance, turns)
        b = Placed(b.item, b.angle, b.x - deep * ahead[0], b.y - deep * ahead[1])
        if deep > 0 and not plain.deeper(polygon(arrays, a), polygon(arrays, b), SURE):
            continue
        tried += 1
        if overlaps(arrays, a, b) is not (deep > 0):
            wrong.append((SETS[chosen][a.item // 2], SETS[chosen][b.item // 2], b.angle - a.angle))
    assert tried > PUSHED / 3
    return wrong


@pytest.mark.parametrize("turns", ["any", "parallel", "flush"])
@pytest.mark.parametrize("chosen", list(SETS))
def test_contact_is_no_overlap(chosen: str, turns: str) -> None:
    assert wrong_when_pushed(chosen, turns, -2e-6) == []


@pytest.mark.parametrize(
    ("chosen", "turns", "deep"),
    [
        *(pytest.param("zoo", "any", deep, marks=WIDE) for deep in (0.0005, 0.005)),
        *(("zoo", "any", deep) for deep in (0.03, 0.1)),
        *((chosen, "any", deep) for chosen in ("belts", "two") for deep in (0.0005, 0.005, 0.03, 0.1)),
        *(("zoo", "parallel", deep) for deep in (0.0005, 0.005, 0.03, 0.1)),
    ],
)
def test_a_little_overlap_is_seen(chosen: str, turns: str, deep: float) -> None:
    assert wrong_when_pushed(chosen, turns, deep) == []


@pytest.mark.parametrize(
    ("chosen", "deep"),
    [
        *((chosen, deep) for chosen in SETS for deep in (0.0005, 0.005)),
        ("belts", 0.03),
        ("zoo", 0.1),
        ("belts", 0.1),
        ("two", 0.1),
    ],
)
def test_flush_overlap_is_seen(chosen: str, deep: float) -> None:
    """Lower sides in line: edges that end on each other or run along each other cross nowhere properly."""
    assert wrong_when_pushed(chosen, "flush", deep) == []


def test_the_same_place() -> None:
    arrays = arrays_of("zoo")
    for at, name in enumerate(ZOO):
        assert overlaps(arrays, Placed(2 * at, 0.7, 0.2, 0.1), Placed(2 * at + 1, 0.7, 0.2, 0.1)), name


@pytest.mark.parametrize("radius", [0.0005, 0.002, 0.01, 0.03, 0.1])
def test_one_inside_another(radius: float) -> None:
    """A small piece in the middle, and hard by the border, of a large one: no edges cross."""
    unseen = []
    for name, outline in ZOO.items():
        arrays = build_arrays(
            Problem((Shape(outline), Shape(regular(6, radius))), (Item(0), Item(1)), (), BOX)
        )
        host = shapely.Polygon(outline)
        spots = [shapely.maximum_inscribed_circle(host).coords[0]]
        room = host.buffer(-1.02 * radius)
        if not room.is_empty:
            spots.append(shapely.get_coordinates(room)[0])
        for x, y in spots:
            if not overlaps(arrays, Placed(0, 0.0, 0.0, 0.0), Placed(1, 0.0, float(x), float(y))):
                unseen.append((name, x, y))
    assert unseen == []


def test_inside_the_jaws_of_a_c_is_free() -> None:
    arrays = build_arrays(Problem((Shape(ZOO["C"]), Shape(regular(6, 0.38))), (Item(0), Item(1)), (), BOX))
    assert not overlaps(arrays, Placed(0, 0.0, 0.0, 0.0), Placed(1, 0.0, 0.5, 0.5))


@many
@given(st.sampled_from(list(ZOO)), st.sampled_from(list(ZOO)), round_angles, aslant, aslant)
def test_no_fit_polygon(one: str, other: str, turn: float, x: float, y: float) -> None:
    """A place lies inside the no-fit polygon just when both shapes overlap there."""
    a, b = (_counter_clockwise(ZOO[name]) for name in (one, other))
    fit = no_fit_polygon(convex_parts(a), convex_parts(b), turn)
    place = shapely.Point(x, y)
    assume(fit.boundary.distance(place) > 1e-6)
    common = shapely.Polygon(a).intersection(shapely.Polygon(plain.moved(b, turn, x, y))).area
    assert fit.contains(place) is (common > 0.0)


@pytest.mark.parametrize("chosen", [pytest.param("zoo", marks=WIDE), "belts", "two"])
def test_table_is_off_by_less_than_its_border(chosen: str) -> None:
    """Beyond the band in which the polygons decide, a table's sign is never wrong."""
    arrays, chance = arrays_of(chosen), np.random.default_rng(3)
    outlines = [_counter_clockwise(shape.outline) for shape in arrays.problem.shapes]
    parts = [convex_parts(o - centre) for o, centre in zip(outlines, arrays.centres, strict=True)]
    for _ in range(5 * RANDOM):
        one, other = sorted(chance.integers(len(parts), size=2))
        turn = chance.uniform(0.0, 2.0 * math.pi)
        border = shapely.boundary(no_fit_polygon(parts[one], parts[other], turn))
        spot = border.interpolate(chance.random(), normalized=True)
        bodies = np.zeros((2, arrays.static.bodies.shape[1]))
        kernels.place_body(arrays.static.bodies, one, 0.0, 1.0, 0.0, 0.0, 0.0, bodies, 0)
        cos, sin = math.cos(turn), math.sin(turn)
        kernels.place_body(arrays.static.bodies, other, turn, cos, sin, spot.x, spot.y, bodies, 1)
        depth, step = kernels.depth_at(bodies, 0, bodies, 1, arrays.static)
        assert abs(depth) < kernels.BORDER * step, (SETS[chosen][one], SETS[chosen][other], turn)


def _counter_clockwise(outline: Points) -> Points:
    return outline if shapely.LinearRing(outline).is_ccw else outline[::-1]


@pytest.mark.parametrize("name", list(ZOO))
def test_convex_parts(name: str) -> None:
    """They are convex and partition the shape."""
    outline = _counter_clockwise(ZOO[name])
    parts = [shapely.Polygon(part) for part in convex_parts(outline)]
    assert all(part.convex_hull.area == pytest.approx(part.area, rel=1e-9) for part in parts)
    assert sum(part.area for part in parts) == pytest.approx(shapely.Polygon(outline).area, rel=1e-9)
    assert shapely.union_all(parts).symmetric_difference(shapely.Polygon(outline)).area < 1e-9
