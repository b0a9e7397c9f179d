"""What is left of a hide: areas worked out by hand on rectangles, and rules that hold for any layout."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from itertools import combinations, count
from pathlib import Path
from typing import Any

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shelf_bench import CUTTING, PANEL, SLACK, box, hide, layout, put

from nesting.account import remnants
from nesting.account.areas import priced_area
from nesting.files.hide import Flaw, Hide, Measured, Price
from nesting.files.hide_file import hide_from_json, hide_to_json, read_hide
from nesting.files.layout import LaidHide, Layout
from nesting.files.panel import Panel
from nesting.judge import faults
from nesting.judge.scene import Pattern, scene_of
from nesting.judge.shapes import polygon
from nesting.rings import area
from nesting.shelf.leftover import leftovers
from nesting.shelf.remnant import remnants_of

SAMPLES = Path(__file__).parent.parent.parent / "sample_hides"
APART = 0.5 + SLACK


def left_of(plan: Layout, credit: Decimal | None = None) -> tuple[Hide, ...]:
    """The remnants of the plan's first hide; each must be a hide that a file may hold."""
    assert faults(plan) == []
    scene, _ = scene_of(plan.hides[0], {panel.name: Pattern(panel) for panel in plan.panels})
    numbers = count(1)
    found = remnants_of(
        plan.hides[0].hide,
        leftovers(scene, plan.cutting, remnants(plan, 0)),
        credit,
        lambda name: f"{name}-r{next(numbers)}",
    )
    for one in found:
        hide_from_json(hide_to_json(one), one.name)
    return found


def bounds(one: Hide) -> tuple[float, ...]:
    return polygon(one.outline).bounds


# --- outlines ----------------------------------------------------------------------------------


def test_one_piece_at_an_end_leaves_the_rest_with_its_rough_edge() -> None:
    """The piece ends at x = 400; the strips of margin beside it (6, 6 and 1.5 mm) are no remnant."""
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),))))
    assert bounds(rest) == pytest.approx((400 + APART, 0, 1000, 500), abs=0.01)
    assert area(rest.outline) == pytest.approx((600 - APART) * 500, rel=1e-5)
    assert (rest.name, rest.cut, rest.ancestry) == (
        "shoulder-04-r1",
        "remnant of single shoulder",
        ("shoulder-04",),
    )
    assert (rest.weight_oz, rest.tannage, rest.spine) == ((4, 5), "vegetable", ((0, 0), (0, 1)))
    assert rest.measured is None


def test_kerf_comes_off_too() -> None:
    cutting = replace(CUTTING, kerf_mm=0.2)
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),)), cutting=cutting))
    assert bounds(rest)[0] == pytest.approx(400 + 0.7 + SLACK, abs=0.001)


def test_a_rough_edge_keeps_its_margin_once() -> None:
    """6 mm from the remnant's rough right edge is 6 mm from the hide's, and the judge agrees."""
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),))))
    fob = Panel("fob", box(0, 0, 100, 50))
    at_edge = layout(LaidHide(rest, (put("b", 894, 100, "fob"),)), panels=(fob,))
    assert faults(at_edge) == []
    assert "rough edge" in faults(layout(LaidHide(rest, (put("b", 894.05, 100, "fob"),)), panels=(fob,)))[0]


def test_a_piece_in_the_midst_leaves_a_hole() -> None:
    fob = Panel("fob", box(0, 0, 100, 50))
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 500, 200, "fob"),)), panels=(fob,)))
    assert area(rest.outline) == pytest.approx(1000 * 500, rel=1e-6)
    (gap,) = rest.flaws
    assert (gap.kind, gap.severity) == ("cut out", "hole")
    # Corners of the gap are square: cuts run out, and a right angle is given back whole.
    assert area(gap.outline) == pytest.approx((100 + 2 * APART) * (50 + 2 * APART), rel=1e-4)
    assert priced_area(rest) == pytest.approx(1000 * 500 - area(gap.outline), rel=1e-9)


def test_what_a_cut_out_frees_is_leather() -> None:
    """A frame of 400 mm with an opening of 300: the inside is a remnant with four straight edges."""
    frame = Panel("frame", box(0, 0, 400, 400), cutouts=(box(50, 50, 350, 350),))
    around, inside = left_of(layout(LaidHide(hide(), (put("a", 6, 50, "frame"),)), panels=(frame,)))
    assert area(inside.outline) == pytest.approx((300 - 2 * APART) ** 2, rel=1e-5)
    assert len(inside.straight_edges) == 4
    assert inside.flaws == ()
    assert area(around.outline) > 590 * 500


def test_too_little_is_not_kept() -> None:
    """A strip of 79 mm between two pieces is too narrow, one of 81 mm is kept: a hand's breadth is 80."""
    for width, kept in ((79, 0), (81, 1)):
        narrow = hide(outline=box(0, 0, 394 + 6 + 2 * APART + width + 400, 500), straight_edges=())
        plan = layout(
            LaidHide(narrow, (put("a", 6, 3.75), put("b", 400 + 2 * APART + width, 3.75))),
            cutting=replace(CUTTING, edge_margin_mm=3, straight_edge_margin_mm=0),
        )
        # Its margins at both ends take 6 mm of 500 × 81; they are no reason to refuse it.
        assert len(left_of(plan)) == kept


def test_leather_that_bears_nothing_is_not_kept() -> None:
    loose = Flaw("loose belly", "weak", box(420, 20, 980, 480))
    assert left_of(layout(LaidHide(hide(flaws=(loose,)), (put("a", 6, 1.5),)))) == ()
    marked = replace(loose, severity="blemish")
    assert len(left_of(layout(LaidHide(hide(flaws=(marked,)), (put("a", 6, 1.5),))))) == 1


def test_a_remnant_that_the_account_counts_is_kept() -> None:
    """Weak leather is usable where the panel accepts it: the account credits it, so the shelf has it."""
    loose = Flaw("loose belly", "weak", box(420, 20, 980, 480))
    tolerant = replace(PANEL, accepts=("weak",))
    plan = layout(LaidHide(hide(flaws=(loose,)), (put("a", 6, 1.5),)), panels=(tolerant,))
    assert remnants(plan, 0)
    (rest,) = left_of(plan)
    assert rest.flaws == (loose,)


@pytest.mark.parametrize(("slot", "edges"), [(0.5, [402.5]), (2, [404]), (10, [202, 201])])
def test_a_slot_between_two_pieces_is_trimmed(slot: float, edges: list[float]) -> None:
    """The slot is no tongue of the remnant; across a narrow one its straight edge runs on."""
    half = Panel("half", box(0, 0, 394, 200))
    both = (put("a", 6, 1.5, "half"), put("b", 6, 201.5 + slot, "half"))
    # What is left above the upper piece hangs on what is left beside it.
    (rest,) = left_of(layout(LaidHide(hide(), both), panels=(half,)))
    outline = polygon(rest.outline)
    assert not outline.intersects(shapely.box(10, 201, 395, 202 + slot))
    assert outline.covers(shapely.box(10, 420, 395, 490))
    upright = [math.dist(*edge) for edge in rest.straight_edges if abs(edge[0][0] - edge[1][0]) < 1]
    assert upright == pytest.approx(edges, abs=1)


# --- straight edges ----------------------------------------------------------------------------


def test_the_cut_and_the_old_edge_are_straight_and_the_rest_is_rough() -> None:
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),))))
    upright, level = sorted(rest.straight_edges, key=lambda edge: abs(edge[0][0] - edge[1][0]))
    assert sorted(upright) == [
        (pytest.approx(400 + APART), 0),
        (pytest.approx(400 + APART), 500),
    ]
    # It ends at the corner that was cut, and does not reach past it.
    assert sorted(level) == [(pytest.approx(400 + APART), 0), (1000, 0)]


def test_a_short_cut_is_no_edge_to_work_from() -> None:
    for width, edges in ((56, 0), (58, 2), (60, 3)):
        fob = Panel("fob", box(0, 0, width, width))
        bare = hide(straight_edges=())
        (rest,) = left_of(
            layout(
                LaidHide(bare, (put("a", 500, 3, "fob"),)),
                panels=(fob,),
                cutting=replace(CUTTING, edge_margin_mm=3),
            )
        )
        # The leather under it is trimmed off: its two upright cuts run out through 3 mm of margin.
        assert len(rest.straight_edges) == edges, width


def test_round_cuts_are_not_straight() -> None:
    disc = Panel("disc", ((-180, 0, 1.0), (180, 0, 1.0)))
    plan = layout(LaidHide(hide(straight_edges=()), (put("a", 190, 250, "disc"),)), panels=(disc,))
    assert all(one.straight_edges == () for one in left_of(plan))


def test_a_straight_edge_lets_a_piece_come_closer() -> None:
    """1.5 mm from the fresh cut is enough where a rough edge asks for 6; the judge reads it off the file."""
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),))))
    fob = Panel("fob", box(0, 0, 100, 50))
    assert faults(layout(LaidHide(rest, (put("b", 400 + APART + 1.5, 100, "fob"),)), panels=(fob,))) == []


# --- flaws -------------------------------------------------------------------------------------


def test_flaws_go_with_the_leather_they_lie_on() -> None:
    round_brand = Flaw("brand", "weak", ((700, 250, 1.0), (760, 250, 1.0)))
    on_the_edge = Flaw("scar", "blemish", box(395, 100, 420, 120))
    elsewhere = Flaw("tick", "blemish", box(100, 100, 110, 110))
    tolerant = replace(PANEL, accepts=("blemish",))
    marked = hide(flaws=(round_brand, on_the_edge, elsewhere))
    (rest,) = left_of(layout(LaidHide(marked, (put("a", 6, 1.5),)), panels=(tolerant,)))
    whole, clipped = rest.flaws
    assert whole == round_brand  # arcs and all
    assert (clipped.kind, clipped.severity) == ("scar", "blemish")
    assert area(clipped.outline) == pytest.approx((20 - APART) * 20, rel=1e-4)


def test_a_hole_known_before_is_told_once() -> None:
    known = Flaw("hole", "hole", ((700, 250, 1.0), (760, 250, 1.0)))
    (rest,) = left_of(layout(LaidHide(hide(flaws=(known,)), (put("a", 6, 1.5),))))
    assert rest.flaws == (known,)


def test_a_flaw_within_a_piece_that_was_cut_is_gone() -> None:
    spot = Flaw("tick", "blemish", box(520, 210, 530, 220))
    fob = Panel("fob", box(0, 0, 100, 50), accepts=("blemish",))
    (rest,) = left_of(layout(LaidHide(hide(flaws=(spot,)), (put("a", 500, 200, "fob"),)), panels=(fob,)))
    assert [flaw.kind for flaw in rest.flaws] == ["cut out"]


# --- price -------------------------------------------------------------------------------------


def test_price_by_area_where_no_credit_is_known() -> None:
    """50 USD for 1000 × 500; the remnant has 599.45 / 1000 of it."""
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),))))
    assert rest.price == Price(Decimal("29.97"), "USD", "hide")
    foot = hide(price=Price(Decimal("9.290304"), "USD", "ft2"))  # 1 cent a cm²: 50 USD again
    (rest,) = left_of(layout(LaidHide(foot, (put("a", 6, 1.5),))))
    assert rest.price == Price(Decimal("29.97"), "USD", "hide")


def test_a_credit_is_shared_to_the_cent() -> None:
    """Two remnants of equal area and a credit of an odd cent: the first bears it."""
    wide = hide(outline=box(0, 0, 1006, 500), straight_edges=())
    middle = Panel("m", box(0, 0, 206, 488))
    plan = layout(LaidHide(wide, (put("a", 400, 6, "m"),)), panels=(middle,))
    found = left_of(plan, Decimal("20.01"))
    assert [one.price.amount for one in found if one.price] == [Decimal("10.01"), Decimal("10.00")]
    assert sum(one.price.amount for one in left_of(plan, Decimal(0)) if one.price) == 0


def test_no_price_stays_unknown() -> None:
    (rest,) = left_of(layout(LaidHide(hide(price=None), (put("a", 6, 1.5),))), Decimal(3))
    assert rest.price is None


def test_a_measured_hide_shares_by_its_best_area() -> None:
    """The measured area is 2 % more than the stored outline: the remnant's share is by that."""
    measured = Measured(510_000, 500_000, 1000, 2.0, 0.0, 0.1, 0.1, 0.0, 0.5, "0" * 64)
    (rest,) = left_of(layout(LaidHide(hide(measured=measured), (put("a", 6, 1.5),))))
    assert rest.price == Price(Decimal("29.38"), "USD", "hide")  # 50 × 299 725 / 510 000


# --- generations -------------------------------------------------------------------------------


def test_a_remnant_of_a_remnant() -> None:
    (rest,) = left_of(layout(LaidHide(hide(), (put("a", 6, 1.5),))))
    fob = Panel("fob", box(0, 0, 300, 480))
    (last,) = left_of(layout(LaidHide(rest, (put("b", 403, 10, "fob"),)), panels=(fob,)))
    assert last.ancestry == ("shoulder-04", "shoulder-04-r1")
    assert last.cut == "remnant of single shoulder"
    assert bounds(last) == pytest.approx((703 + APART, 0, 1000, 500), abs=0.01)
    # The old straight edge is there once, and the first cut has gone with its leather.
    assert len(last.straight_edges) == 2


ROUNDED = Panel("p", ((0, 0, 0), (150, 10, 0.2), (140, 160, 0), (10, 120, -0.1)), accepts=("weak", "blemish"))


def test_the_point_where_a_ring_begins_is_not_moved_too_far() -> None:
    """A piece in the midst of a bend: once its gap was simplified to 0.475 mm where 0.5 was asked for."""
    real = read_hide(SAMPLES / "bend-08.hide.json")
    piece = put("p0", 263.79297103065704, 526.052355287408, "p", 200.0)
    plan = layout(LaidHide(real, (piece,)), panels=(ROUNDED,))
    (rest,) = left_of(plan)
    (gap,) = (polygon(flaw.outline) for flaw in rest.flaws if flaw.kind == "cut out")
    scene, _ = scene_of(plan.hides[0], {"p": Pattern(ROUNDED)})
    assert gap.exterior.distance(scene.pieces[0].filled) >= 0.5 - 0.002


@pytest.mark.parametrize("name", ["shoulder-04", "shoulder-05", "bend-08", "double-shoulder-04"])
@given(data=st.data())
@settings(max_examples=6, deadline=None)
def test_any_layout_on_a_real_outline(name: str, data: Any) -> None:
    """Remnants are leather, off every piece by kerf and gap, apart, and cover what the account counts."""
    real = read_hide(SAMPLES / f"{name}.hide.json")
    low_x, low_y, high_x, high_y = polygon(real.outline).bounds
    placements: list[Any] = []
    places = data.draw(
        st.lists(
            st.tuples(
                st.floats(low_x, high_x), st.floats(low_y, high_y), st.sampled_from([0.0, 37.0, 90.0, 200.0])
            ),
            min_size=4,
            max_size=12,
        )
    )
    for x, y, turn in places:
        more = [*placements, put(f"p{len(placements)}", x, y, "p", turn)]
        if not faults(layout(LaidHide(real, tuple(more)), panels=(ROUNDED,))):
            placements = more
    assume(placements)
    plan = layout(LaidHide(real, tuple(placements)), panels=(ROUNDED,))
    credit = Decimal("12.34")
    found = left_of(plan, credit)
    scene, _ = scene_of(plan.hides[0], {"p": Pattern(ROUNDED)})
    # As the files will hold them: without the holes, which are flaws.
    holes = [[polygon(f.outline) for f in one.flaws if f.severity == "hole"] for one in found]
    shapes = [
        shapely.difference(polygon(one.outline), shapely.union_all(gone))
        for one, gone in zip(found, holes, strict=True)
    ]
    # A rough edge may be straightened by 0.05 mm; a cut never to the wrong side.
    leather = shapely.buffer(scene.leather, 0.06)
    for one in shapes:
        assert leather.covers(one)
        assert all(one.distance(piece.filled) >= 0.5 - 0.002 for piece in scene.pieces)
    assert all(shapely.intersection(one, other).area < 1e-3 for one, other in combinations(shapes, 2))
    kept = shapely.union_all(shapes)
    for counted in remnants(plan, 0):
        assert shapely.intersection(counted, kept).area > 0.97 * counted.area
    if found:
        assert sum(one.price.amount for one in found if one.price) == credit
