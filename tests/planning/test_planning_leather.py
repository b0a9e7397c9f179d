"""Where a part may lie, against distances that shapely measures on the judge's own outlines."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from random_orders import random_hide
from small_orders import disc, rectangle

from nesting.files.hide import Flaw, Hide, Severity
from nesting.files.order import Cutting
from nesting.judge.edges import portions
from nesting.judge.shapes import polygon
from nesting.planning.leather import allowed, grown, opened, spine_angle

CUTTINGS = [
    Cutting(edge_margin_mm=6, straight_edge_margin_mm=1.5, flaw_margin_mm=3),
    Cutting(edge_margin_mm=4, straight_edge_margin_mm=4, flaw_margin_mm=0),
    Cutting(edge_margin_mm=0, straight_edge_margin_mm=0, flaw_margin_mm=2),
]
ACCEPTED: list[frozenset[Severity]] = [
    frozenset(),
    frozenset({"blemish"}),
    frozenset({"weak", "blemish"}),
    frozenset({"weak", "hole"}),
]
TOLERANCE = 0.02
GIVEN_AWAY = 0.12
"""No leather farther than this from what the rules forbid may be refused, but in nooks of this width."""


@pytest.mark.parametrize("cutting", CUTTINGS, ids=["usual", "one margin", "no margin"])
@pytest.mark.parametrize("seed", range(8))
def test_every_point_keeps_its_distances(seed: int, cutting: Cutting) -> None:
    chance = np.random.default_rng(seed)
    hide = random_hide(chance, "offcut")
    rough, straight = portions(hide)
    leather = polygon(hide.outline)
    points = shapely.points(chance.uniform(-160, 160, (3000, 2)))
    points = points[leather.contains(points)]
    inside = shapely.distance(leather.boundary, points)
    for accepts in ACCEPTED:
        spare = np.minimum(inside, _spare(rough, points, cutting.edge_margin_mm))
        spare = np.minimum(spare, _spare(straight, points, cutting.straight_edge_margin_mm))
        for flaw in hide.flaws:
            if flaw.severity == "hole" or flaw.severity not in accepts:
                zone = polygon(flaw.outline)
                far = shapely.distance(zone, points) - cutting.flaw_margin_mm
                spare = np.minimum(spare, np.where(zone.contains(points), -1.0, far))
        free = allowed(hide, cutting, accepts)
        kept = shapely.covers(free, points)
        assert (spare[kept] > -TOLERANCE).all()
        assert kept[spare > GIVEN_AWAY].all()
        assert not shapely.intersects(free, points[spare < -TOLERANCE]).any()


def _spare(edge: shapely.Geometry, points: shapely.Geometry, margin: float) -> np.ndarray:
    """How much farther than the margin each point is from the edge."""
    if edge.is_empty:
        return np.full(len(points), np.inf)
    return np.asarray(shapely.distance(edge, points)) - margin


def test_a_hide_without_flaws_or_margins_is_all_allowed() -> None:
    hide, cutting = Hide("offcut", rectangle(300, 200)), CUTTINGS[2]
    free = allowed(hide, cutting, frozenset())
    assert free.area == pytest.approx(300 * 200, abs=0.01 * 1000)
    assert free.covers(polygon(hide.outline))
    assert polygon(hide.outline).buffer(0.5 * TOLERANCE).covers(free)


def test_a_flaw_that_parts_the_hide() -> None:
    """A scar right across leaves two parts; who accepts it has one."""
    hide = Hide("offcut", rectangle(300, 200), flaws=(Flaw("scar", "weak", rectangle(4, 260, 100, -30)),))
    assert len(shapely.get_parts(allowed(hide, CUTTINGS[0], frozenset()))) == 2
    assert len(shapely.get_parts(allowed(hide, CUTTINGS[0], frozenset({"weak"})))) == 1


def test_a_flaw_over_all_of_it_leaves_nothing() -> None:
    hide = Hide("offcut", rectangle(30, 20), flaws=(Flaw("mould", "blemish", disc(60)),))
    assert allowed(hide, CUTTINGS[0], frozenset()).is_empty
    assert allowed(hide, CUTTINGS[0], frozenset({"blemish"})).area == pytest.approx(18 * 8, abs=1)


@pytest.mark.parametrize("distance", [0.5, 3.0, 20.0])
def test_grown_covers_the_true_offset_and_little_more(distance: float) -> None:
    zone = polygon(((0, 0, 0.4), (30, 5, 0), (12, 30, -0.2)))
    true = zone.buffer(distance, quad_segs=2000)
    assert grown(zone, distance).covers(true)
    assert true.buffer(0.0002 * distance).covers(grown(zone, distance))


def test_opened_keeps_what_a_disc_reaches_and_drops_a_narrow_neck() -> None:
    two_rooms = shapely.union_all(
        [shapely.box(0, 0, 40, 40), shapely.box(40, 18, 60, 22), shapely.box(60, 0, 100, 40)]
    )
    kept = opened(two_rooms, 10.0)
    assert len(shapely.get_parts(kept)) == 2
    assert not kept.intersects(shapely.Point(50, 20))
    assert kept.covers(shapely.Point(20, 20).buffer(10.0))
    assert two_rooms.covers(kept)
    assert opened(two_rooms, 25.0).is_empty


def test_spine_angle() -> None:
    assert spine_angle(Hide("h", rectangle(1, 1))) is None
    assert spine_angle(Hide("h", rectangle(1, 1), spine=((2.0, 2.0), (1.0, 3.0)))) == pytest.approx(
        np.radians(135)
    )


@pytest.mark.parametrize("margin", [0.0, 1.5, 6.0, 25.0])
def test_what_fits_exactly_has_room(margin: float) -> None:
    """A layout keeps its rules to within 0.02 mm: nothing of what the margins leave is lost to rounding."""
    cutting = Cutting(edge_margin_mm=margin)
    free = allowed(Hide("sheet", rectangle(300 + 2 * margin, 200 + 2 * margin)), cutting, frozenset())
    room = shapely.box(margin, margin, 300 + margin, 200 + margin)
    assert free.covers(room)
    assert room.buffer(0.5 * TOLERANCE).covers(free)
