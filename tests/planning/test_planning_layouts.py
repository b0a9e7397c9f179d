"""What an order asks for is what the search lays, hide by hide: every layout is judged again here."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from small_orders import (
    count,
    improvements,
    laid,
    on_hides,
    order_of,
    placements,
    rectangle,
)

from nesting.files.hide import Hide, Price
from nesting.files.order import Cutting, OrderLine
from nesting.files.panel import Panel
from nesting.judge.shapes import polygon
from nesting.planning.score import hide_price

OFFCUT = Hide("offcut", rectangle(300, 200))
TILE = Panel("tile", rectangle(80, 60))
WING = Panel("wing", ((0, 0, 0), (70, 0, 0), (55, 40, 0.3), (5, 25, 0)), pairing="mirrored")


def priced(name: str, width: float, height: float, amount: int, basis: str = "hide") -> Hide:
    return Hide(name, rectangle(width, height), price=Price(Decimal(amount), "USD", basis))  # type: ignore[arg-type]


# --- weights, pairs, fill --------------------------------------------------------------------


def test_weights_go_to_hides_of_their_weight() -> None:
    hides = (replace(OFFCUT, name="light", weight_oz=(2, 3)), replace(OFFCUT, name="heavy", weight_oz=(8, 9)))
    lining = OrderLine(Panel("lining", rectangle(80, 60)), pieces=3, weight_oz=(2, 4))
    sole = OrderLine(Panel("sole", rectangle(50, 90)), pieces=2, weight_oz=(7, 10))
    assert on_hides(laid(order_of(hides, lining, sole), 4)) == {
        "light": ["lining"] * 3,
        "heavy": ["sole"] * 2,
    }


def test_no_hide_of_the_weight() -> None:
    hides = (replace(OFFCUT, weight_oz=(2, 3)), replace(OFFCUT, name="unstamped"))
    order = order_of(hides, OrderLine(TILE, pieces=1), OrderLine(WING, pairs=2, weight_oz=(8, 9)))
    layout = laid(order, 3)
    assert count(layout, "tile") == 1
    assert [(u.panel, u.pieces, u.why) for u in layout.unplaced] == [
        ("wing", 4, "no hide of 8-9 oz (3.2-3.6 mm) in the order")
    ]


def test_pairs_are_whole_and_near() -> None:
    """Over two hides, each pair on one of them, its centres of area within 90 mm by shapely."""
    hides = (OFFCUT, replace(OFFCUT, name="second"))
    layout = laid(order_of(hides, OrderLine(WING, pairs=11, pair_within_mm=90)), 6)
    assert len(layout.hides) == 2
    assert count(layout) + sum(u.pieces for u in layout.unplaced) == 22
    for on in layout.hides:
        pairs: dict[str, list[tuple[bool, tuple[float, float]]]] = {}
        for p in on.placements:
            middle = polygon(WING.outline).centroid
            pairs.setdefault(str(p.pair), []).append(
                (p.pose.mirrored, p.pose.apply_point((middle.x, middle.y)))
            )
        for (one_side, one), (other_side, other) in pairs.values():
            assert one_side is not other_side
            assert math.dist(one, other) <= 90.02


def test_pieces_of_a_pair_alike_are_not_mirrored() -> None:
    layout = laid(order_of(OFFCUT, OrderLine(replace(WING, pairing="alike"), pairs=2)), 3)
    assert [p.pose.mirrored for p in placements(layout)] == [False] * 4
    assert sorted(p.piece for p in placements(layout)) == [
        "wing-01-1", "wing-01-2", "wing-02-1", "wing-02-2",
    ]  # fmt: skip


def test_a_pair_whose_second_has_no_room_is_not_laid_at_all() -> None:
    layout = laid(order_of(Hide("strip", rectangle(112, 72)), OrderLine(WING, pairs=1)), 3)
    big = laid(order_of(Hide("strip", rectangle(60, 90)), OrderLine(WING, pairs=1)), 3)
    assert count(layout) in (0, 2)
    assert count(big) == 0
    assert [(u.panel, u.pieces) for u in big.unplaced] == [("wing", 2)]


def test_fill_comes_after_the_rest_and_in_whole_pairs() -> None:
    """Six tiles have to lie; wings take what is left. By area no more than 11 wings could."""
    order = order_of(OFFCUT, OrderLine(WING, fill=True), OrderLine(TILE, pieces=6))
    layout = laid(order, 12)
    assert count(layout, "tile") == 6
    assert layout.unplaced == ()
    assert count(layout, "wing") % 2 == 0
    assert 4 <= count(layout, "wing") <= (288 * 188 - 6 * 80 * 60) / polygon(WING.outline).area


def test_filling_with_squares_reaches_the_rows_a_hand_would_lay() -> None:
    """Inside 288 by 188, squares of 40 with 0.5 between: 7 by 4 (arithmetic: 7 × 40 + 6 × 0.5 = 283)."""
    layout = laid(order_of(OFFCUT, OrderLine(Panel("square", rectangle(40, 40)), fill=True)), 40)
    assert 26 <= count(layout) <= 28


# --- hides -----------------------------------------------------------------------------------


def test_the_cheaper_of_two_hides_that_each_hold_all() -> None:
    hides = (priced("dear", 300, 200, 90), priced("cheap", 300, 200, 40))
    assert on_hides(laid(order_of(hides, OrderLine(TILE, pieces=4)), 6)) == {"cheap": ["tile"] * 4}


SMALL, LARGE = priced("small", 200, 150, 18), priced("large", 260, 180, 30)
"""Six tiles fill the large one; the small one takes four, and costs less by area inside its margins."""


def test_a_hide_is_emptied_into_another() -> None:
    """Laid by price of area, four tiles go on the small hide and two on the large one, which holds all."""
    found = improvements(order_of((SMALL, LARGE), OrderLine(TILE, pieces=6)), 40)
    assert 18 / (188 * 138) < 30 / (248 * 168)
    assert on_hides(found[-1].layout) == {"large": ["tile"] * 6}
    assert found[-1].plan.score.burden == 30


def test_a_hide_not_yet_used_is_cheaper_than_two_that_are() -> None:
    hides = (SMALL, replace(SMALL, name="small too"), LARGE)
    assert on_hides(laid(order_of(hides, OrderLine(TILE, pieces=6)), 40)) == {"large": ["tile"] * 6}


@pytest.mark.parametrize("gap", [0.0, 0.5])
def test_squares_that_fit_exactly_are_all_laid(gap: float) -> None:
    """Six of 50 in two rows of three, gaps between and 6 mm around: not a hair is left."""
    hide = Hide("slab", rectangle(150 + 2 * gap + 12, 100 + gap + 12))
    square = OrderLine(Panel("square", rectangle(50, 50)), pieces=6)
    assert count(laid(order_of(hide, square, cutting=Cutting(gap_mm=gap)), 60)) == 6


def test_prices_by_area() -> None:
    """300 by 200 mm is 6 dm², 0.06 m² and 0.6459 ft² (0.09290304 m² each)."""
    assert hide_price(priced("h", 300, 200, 5, "dm2")) == pytest.approx(Decimal(30))
    assert hide_price(priced("h", 300, 200, 100, "m2")) == pytest.approx(Decimal(6))
    assert float(hide_price(priced("h", 300, 200, 10, "ft2")) or 0) == pytest.approx(0.6 / 0.09290304)
    assert hide_price(OFFCUT) is None
