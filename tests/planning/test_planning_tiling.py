"""Repeats tiled over hides: whole pairs, nothing outside the leather, and every layout judged."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from small_orders import BARE, count, disc, laid, order_of, placements, rectangle

from nesting.files.hide import Flaw, Hide
from nesting.files.layout import Layout
from nesting.files.order import Order, OrderLine
from nesting.files.panel import Panel, Stretch
from nesting.packing.fill import FillParams
from nesting.planning import laying, search
from nesting.planning.laying import Layer
from nesting.planning.table import set_table
from nesting.planning.tiling import Piece, in_pairs, lay_tiled

SHEET = Hide("sheet", rectangle(540, 300), flaws=(Flaw("hole", "hole", disc(9, 200, 140)),))
LEAF = Panel("leaf", ((0, 0, 0), (60, 0, 0), (45, 30, 0.2), (10, 24, 0)))


STARTS = search.HEADINGS + 1
"""Rounds after which the repeat has been tiled."""


def layer(order: Order) -> Layer:
    """What lays an order at the start of a search."""
    return Layer(order, 1, FillParams())


def tiled(order: Order) -> Layout:
    """The best layout of those that a search begins with, one of them tiled; it is judged."""
    assert layer(order).in_number()
    return laid(order, STARTS)


@pytest.mark.parametrize(
    ("pairing", "stretch"),
    [("none", Stretch(30.0, 4.0)), ("alike", None), ("mirrored", Stretch(30.0, 4.0))],
)
def test_filled_with_a_repeat(pairing: str, stretch: Stretch | None) -> None:
    panel = replace(LEAF, pairing=pairing, stretch=stretch)  # type: ignore[arg-type]
    hide = replace(SHEET, spine=((0.0, 0.0), (3.0, 1.0)))
    layout = tiled(order_of(hide, OrderLine(panel, fill=True, pair_within_mm=150)))
    assert count(layout) >= 44
    assert pairing == "none" or count(layout) % 2 == 0


def test_squares_on_a_square_leave_no_gap() -> None:
    """100 squares of 20 have room on 200 by 200 with nothing to spare, but for what rounding asks for."""
    square = Panel("square", rectangle(20, 20))
    order = order_of(Hide("sheet", rectangle(200.2, 200.2)), OrderLine(square, pieces=100), cutting=BARE)
    assert count(laid(order, search.HEADINGS)) < 100
    assert count(laid(order, STARTS)) == 100


def test_no_more_than_ordered_and_from_one_end() -> None:
    layout = tiled(order_of(SHEET, OrderLine(LEAF, pieces=60)))
    assert count(layout) == 60
    along = [p.pose.at[0] for p in placements(layout)]
    assert max(along) - min(along) < 0.85 * 540


def test_over_two_hides() -> None:
    hides = (SHEET, replace(SHEET, name="second"))
    layout = tiled(order_of(hides, OrderLine(replace(LEAF, pairing="alike"), pairs=55)))
    assert count(layout) == 110
    assert len(layout.hides) == 2


def test_few_pieces_or_several_panels_are_not_tiled() -> None:
    several = order_of(SHEET, OrderLine(LEAF, fill=True), OrderLine(replace(LEAF, name="b"), pieces=70))
    few = order_of(SHEET, OrderLine(LEAF, pieces=laying.TILED - 1))
    assert not layer(several).in_number()
    assert not layer(few).in_number()


def at(x: float, y: float, shape: int = 0) -> Piece:
    return Piece(shape, 0.0, x, y, (x, y), 0)


def test_pairs_are_as_many_as_the_limit_lets() -> None:
    """Greedy by distance would pair the middle two and leave the outer ones alone."""
    left, right = [at(0, 0), at(3, 0)], [at(4, 0, 1), at(7, 0, 1)]
    assert len(in_pairs([*left, *right], True, 4.5)) == 2
    assert in_pairs([*left, *right], True, 0.5) == []
    assert len(in_pairs([at(i, 0) for i in range(5)], False, 1.5)) == 2
    assert in_pairs([at(i, 0) for i in range(5)], False, 0.5) == []


def test_pairs_hold_one_of_each_side() -> None:
    chance = np.random.default_rng(3)
    pieces = [at(*map(float, chance.uniform(0, 100, 2)), shape=i % 2) for i in range(40)]
    pairs = in_pairs(pieces, True, 60.0)
    assert all((a.shape, b.shape) == (0, 1) for a, b in pairs)
    assert all(math.dist(a.centre, b.centre) <= 60.0 for a, b in pairs)
    assert len({id(p) for pair in pairs for p in pair}) == 2 * len(pairs)


def test_a_stop_ends_the_tiling() -> None:
    """Time is up while ways are tried: what has been found by then is laid, and no more is tried."""
    order = order_of(SHEET, OrderLine(LEAF, fill=True))
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 6

    units = layer(order).units_for(0)
    table = set_table(SHEET, order, layer(order).patterns, units, 0.0)
    state, limit = table.fresh()
    laid_slots = lay_tiled(table, state, limit, range(len(units)), np.random.default_rng(1), stop)
    assert 0 < len(laid_slots) == state.active.sum()
    assert asked < 20
