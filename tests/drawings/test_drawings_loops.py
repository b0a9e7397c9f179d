"""Joining: any order and direction, gaps, doubles, junctions; the repairs are listed with their codes."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.drawings.drawing import Drawing, Stroke
from nesting.drawings.loops import Joined, join_strokes
from nesting.rings import Ring, area, flatten, reverse

# A slot with a notch: straight lines, a half circle, a three-quarter circle, a slight arc.
OUTLINE: Ring = (
    (0.0, 0.0, 0.0), (100.0, 0.0, 1.0), (100.0, 60.0, 0.0), (70.0, 60.0, -0.4), (50.0, 60.0, 0.0),
    (0.0, 60.0, 0.05),
)  # fmt: skip


def pieces(ring: Ring, layer: str = "cut", names: tuple[str, ...] = ("cut",)) -> list[Stroke]:
    return [
        Stroke(layer, names, (start, (*end[:2], 0.0)))
        for start, end in zip(ring, ring[1:] + ring[:1], strict=True)
    ]


def turned(stroke: Stroke) -> Stroke:
    (x0, y0, bulge), (x1, y1, _) = stroke.vertices
    return Stroke(stroke.layer, stroke.names, ((x1, y1, -bulge), (x0, y0, 0.0)))


def joined(strokes: list[Stroke], tolerance: float = 0.1) -> Joined:
    return join_strokes(Drawing("drawn", "mm", tuple(strokes)), tolerance)


def line(*points: tuple[float, float], layer: str = "cut", names: tuple[str, ...] | None = None) -> Stroke:
    return Stroke(layer, names or (layer,), tuple((*p, 0.0) for p in points))


def codes(result: Joined) -> list[str]:
    return [note.code for note in result.notes]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_any_order_and_direction_gives_the_ring_back(seed: int) -> None:
    rng = random.Random(seed)
    strokes = [turned(piece) if rng.random() < 0.5 else piece for piece in pieces(OUTLINE)]
    rng.shuffle(strokes)
    result = joined(strokes)
    [loop] = result.loops
    assert result.chains == ()
    assert codes(result) == []
    assert area(loop.vertices) == pytest.approx(area(OUTLINE), rel=1e-12)
    ring = loop.vertices if signed(loop.vertices) else reverse(loop.vertices)
    first = ring.index(OUTLINE[0])
    assert ring[first:] + ring[:first] == OUTLINE


def signed(ring: Ring) -> bool:
    points = flatten(ring)
    return bool(shapely.LinearRing(points).is_ccw)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.002, 0.045))
def test_jittered_ends_are_joined_and_listed(seed: int, jitter: float) -> None:
    rng = random.Random(seed)

    def moved(stroke: Stroke) -> Stroke:
        vertices = [
            (x + rng.uniform(-jitter, jitter) / 2**0.5, y + rng.uniform(-jitter, jitter) / 2**0.5, b)
            for x, y, b in stroke.vertices
        ]
        return Stroke(stroke.layer, stroke.names, tuple(vertices))

    result = joined([moved(piece) for piece in pieces(OUTLINE)])
    [loop] = result.loops
    assert result.chains == ()
    truth, found = shapely.Polygon(flatten(OUTLINE)), shapely.Polygon(flatten(loop.vertices))
    assert found.is_valid
    # Every point moves by at most the jitter, a corner of two lines at 90 degrees by no more than twice that.
    assert truth.exterior.hausdorff_distance(found.exterior) <= 4 * jitter + 0.02
    assert set(codes(result)) <= {"joined-ends", "closed-gap"}


def test_ends_within_the_tolerance_meet_in_the_corner_of_their_lines() -> None:
    result = joined([line((0, 0), (100.02, 0)), line((100, -0.03), (100, 50)), line((100, 50), (0, 0))])
    [loop] = result.loops
    assert (100, 0, 0) in [tuple(round(v, 9) for v in vertex) for vertex in loop.vertices]
    assert [note.text for note in result.notes] == ["closed a gap of 0.036 mm on layer cut at (100.02, 0)"]


def test_ends_of_two_lines_are_joined_and_listed() -> None:
    result = joined([line((0, 0), (100, 0)), line((100.03, 0), (50, 80), (0, 0.0))])
    assert [note.text for note in result.notes] == ["closed a gap of 0.030 mm on layer cut at (100, 0)"]
    apart = joined([line((0, 0), (100, 0)), line((100.03, 0), (50, 80))])
    assert [note.text for note in apart.notes] == ["joined 2 ends 0.030 mm apart on layer cut at (100, 0)"]


def test_an_arc_keeps_its_end_where_a_line_misses_it() -> None:
    arc = Stroke("cut", ("cut",), ((0.0, 0.0, 1.0), (20.0, 0.0, 0.0)))
    [loop] = joined([arc, line((20.04, 0), (0.0, -0.05))]).loops
    assert sorted(loop.vertices) == [(0.0, 0.0, 1.0), (20.0, 0.0, 0.0)]


def test_wide_gaps_stay_open_unless_allowed() -> None:
    strokes = [line((0, 0), (100, 0)), line((100, 0.4), (50, 80), (0, 0))]
    assert [len(c.vertices) for c in joined(strokes).chains] == [4]
    wider = joined(strokes, 0.5)
    assert codes(wider) == ["closed-gap"]
    assert wider.notes[0].text == "closed a gap of 0.400 mm on layer cut at (100, 0)"


def test_nearest_ends_are_joined_first() -> None:
    result = joined([line((0, 0), (10, 0)), line((10.01, 0), (20, 0)), line((10.08, 0.0), (10.08, 9))])
    assert sorted(len(chain.vertices) for chain in result.chains) == [2, 3]
    assert [note.text for note in result.notes] == ["joined 2 ends 0.010 mm apart on layer cut at (10, 0)"]


def test_duplicates_are_dropped_either_way_round() -> None:
    strokes = [*pieces(OUTLINE), turned(pieces(OUTLINE)[1]), pieces(OUTLINE)[3]]
    result = joined(strokes)
    [loop] = result.loops
    assert codes(result) == ["dropped-duplicate"] * 2
    assert result.notes[0].text.startswith("dropped a duplicate segment on layer cut at (100, ")
    assert area(loop.vertices) == pytest.approx(area(OUTLINE))


def test_a_chord_under_an_arc_is_no_duplicate() -> None:
    arc = Stroke("cut", ("cut",), ((0.0, 0.0, 0.2), (20.0, 0.0, 0.0)))
    result = joined([arc, line((0, 0), (20, 0))])
    assert codes(result) == []
    assert len(result.loops) == 1


def test_the_same_ring_twice() -> None:
    ring = Stroke("cut", ("cut",), OUTLINE, closed=True)
    shifted = Stroke("cut", ("cut",), reverse(OUTLINE[2:] + OUTLINE[:2]), closed=True)
    result = joined([ring, shifted])
    assert result.loops == (ring,)
    assert [note.text for note in result.notes] == [
        f"dropped a duplicate ring on layer cut at ({shifted.start[0]:g}, {shifted.start[1]:g})"
    ]
    other = Stroke("fold", ("fold",), OUTLINE, closed=True)
    assert joined([ring, other]).loops == (ring, other)


def test_a_curve_of_tiny_segments_is_kept_whole() -> None:
    angles = np.linspace(0, 2 * math.pi, 3001)
    points = np.column_stack((2 * np.cos(angles), 2 * np.sin(angles)))  # segments of 4 micrometres
    strokes = [line(tuple(a), tuple(b)) for a, b in pairwise(points)]
    result = joined(strokes)
    [loop] = result.loops
    assert len(loop.vertices) == 3000
    assert area(loop.vertices) == pytest.approx(math.pi * 4, rel=1e-5)


def test_layers_are_kept_apart() -> None:
    result = joined([line((0, 0), (50, 0), (50, 50), layer="a"), line((50, 50), (0, 0), layer="b")])
    assert result.loops == ()
    assert [chain.layer for chain in result.chains] == ["a", "b"]


def test_parts_with_names_of_their_own_join_only_into_a_ring() -> None:
    sides = [
        line((0, 0), (50, 0), layer="part", names=("bottom", "part")),
        line((50, 0), (50, 30), layer="part", names=("right", "part")),
        line((50, 30), (0, 0), layer="part", names=("slope", "part")),
    ]
    result = joined(sides)
    assert len(result.loops) == 1
    assert codes(result) == ["joined-across-names"]
    assert joined(sides[:2]).chains == tuple(sides[:2])


def test_a_fold_from_corner_to_corner_does_not_break_the_outline() -> None:
    square = pieces(((0.0, 0.0, 0.0), (50.0, 0.0, 0.3), (50.0, 50.0, 0.0), (0.0, 50.0, 0.0)))
    fold, tail = line((0, 0), (50, 50)), line((0, 50), (-10, 60))
    result = joined([*square, fold, tail])
    [loop] = result.loops
    assert len(loop.vertices) == 4
    assert sorted(chain.end for chain in result.chains) == [(-10, 60), (50, 50)]
    [note] = result.notes
    assert note.code == "junction"
    assert note.kind == "warning"
    assert note.text.startswith("more than two ends meet on layer cut at ")


def test_two_rings_that_share_a_corner_are_two_rings() -> None:
    left = pieces(((0.0, 0.0, 0.0), (-20.0, 10.0, 0.0), (-20.0, -10.0, 0.0)))
    right = pieces(((0.0, 0.0, 0.0), (20.0, -10.0, 0.0), (20.0, 10.0, 0.0)))
    result = joined([*left, *right])
    assert [area(loop.vertices) for loop in result.loops] == pytest.approx([200, 200])
    assert result.chains == ()


def test_short_lines_are_no_rings() -> None:
    result = joined([line((0, 0), (0.09, 0)), line((5, 5), (5.06, 5.06))])
    assert result.loops == ()
    assert len(result.chains) == 2
