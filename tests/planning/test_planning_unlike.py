"""Pairs whose left and right differ: laid, judged and costed as one, and never over two hides."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from itertools import islice

import pytest
from small_orders import BARE, count, laid, on_hides, order_of, placements, rectangle

from nesting.account import account, report_lines, report_to_json
from nesting.errors import InputError
from nesting.files.hide import Flaw, Hide, Price
from nesting.files.layout import Layout
from nesting.files.layout_file import layout_from_json, layout_to_json
from nesting.files.order import Order, OrderLine
from nesting.files.panel import Panel, Stretch
from nesting.judge import faults
from nesting.output.caption import caption, counted
from nesting.packing.stop import never
from nesting.planning.demand import names_of
from nesting.planning.relay import Relaid, Relay

LEFT = Panel("chap-left", ((0, 0, 0), (120, 0, 0), (110, 200, 0), (0, 200, 0)))
RIGHT = Panel("chap-right", ((0, 0, 0), (100, 0, 0), (100, 180, 0), (10, 180, 0)))
LINE = OrderLine(LEFT, pairs=2, mate=RIGHT)


def hide(name: str, width: float, height: float, amount: str = "40") -> Hide:
    return Hide(
        name, rectangle(width, height), spine=((0, 0), (0, 1)), price=Price(Decimal(amount), "USD", "hide")
    )


def test_a_pair_is_a_left_and_a_right_as_drawn() -> None:
    layout = laid(order_of(hide("side", 700, 260), LINE), 3)
    assert [p.piece for p in placements(layout)] == [
        "chap-left-01", "chap-right-01", "chap-left-02", "chap-right-02"
    ]  # fmt: skip
    assert {p.pair for p in placements(layout)} == {"chap-01", "chap-02"}
    assert not any(p.pose.mirrored for p in placements(layout))
    assert layout.mates == (("chap-left", "chap-right"),)
    assert layout_from_json(layout_to_json(layout), "x") == layout


def test_a_pair_is_never_torn_over_two_hides() -> None:
    """Each hide holds one pair; of a third one left alone would fit on either, and is not laid."""
    hides = (hide("first", 380, 230), hide("second", 380, 230))
    layout = laid(order_of(hides, replace(LINE, pairs=3)), 6)
    assert on_hides(layout) == {"first": ["chap-left", "chap-right"], "second": ["chap-left", "chap-right"]}
    for on in layout.hides:
        assert len({p.pair for p in on.placements}) == 1
    assert [(left.panel, left.pieces) for left in layout.unplaced] == [("chap-left", 1), ("chap-right", 1)]
    single = laid(order_of(hides, OrderLine(LEFT, pieces=4), cutting=BARE), 4)
    assert count(single) > 2, "more single lefts would have found room"


def test_as_many_pairs_as_fit() -> None:
    layout = laid(order_of(hide("side", 500, 460), replace(LINE, pairs=None, fill=True)), 6)
    assert count(layout, "chap-left") == count(layout, "chap-right") >= 3


def test_near_enough_from_centre_to_centre() -> None:
    layout = laid(order_of(hide("side", 900, 230), replace(LINE, pairs=3, pair_within_mm=150.0)), 6)
    report = account(layout)
    assert [match.kind for match in report.pairs] == [("chap-left", "chap-right")] * count(
        layout, "chap-left"
    )
    assert max(match.distance_mm for match in report.pairs) <= 150.02
    far = replace(layout, pair_within_mm=(("chap-right", min(m.distance_mm for m in report.pairs) - 1),))
    assert any("was asked for" in fault for fault in faults(far))


def test_left_and_right_stretch_as_mirror_images() -> None:
    """The spine leans 10° in the left and as much the other way in the right: no difference."""
    left, right = (replace(panel, stretch=Stretch(90, 20)) for panel in (LEFT, RIGHT))
    layout = laid(order_of(hide("side", 700, 260), replace(LINE, panel=left, mate=right, pairs=1)), 2)
    (on,) = layout.hides
    turned = tuple(
        replace(p, pose=replace(p.pose, rotation_deg=turn, at=at))
        for p, turn, at in zip(on.placements, (10.0, -10.0), ((60, 10), (300, 40)), strict=True)
    )
    lean = replace(layout, hides=(replace(on, placements=turned),))
    assert faults(lean) == []
    (match,) = account(lean).pairs
    assert match.stretch_difference_deg == pytest.approx(0.0, abs=1e-9)
    alike = tuple(replace(p, pose=replace(p.pose, rotation_deg=10.0)) for p in turned)
    (match,) = account(replace(layout, hides=(replace(on, placements=alike),))).pairs
    assert match.stretch_difference_deg == pytest.approx(20.0)


def test_lefts_and_rights_are_put_together_so_that_they_lie_near() -> None:
    layout = laid(order_of(hide("long", 1400, 230), replace(LINE, pairs=5)), 4)
    centres = {p.piece: p.pose.apply_point((55, 95)) for p in placements(layout)}
    apart = [math.dist(centres[f"chap-left-0{i}"], centres[f"chap-right-0{i}"]) for i in range(1, 6)]
    assert max(apart) < 400


# --- the judge -------------------------------------------------------------------------------


def in_pairs(layout: Layout, *pairs: tuple[str | None, ...]) -> Layout:
    """The same pieces, hide by hide, said to be of these pairs."""
    hides = tuple(
        replace(
            on, placements=tuple(replace(p, pair=pair) for p, pair in zip(on.placements, names, strict=True))
        )
        for on, names in zip(layout.hides, pairs, strict=True)
    )
    return replace(layout, hides=hides)


def test_what_the_judge_says_of_mates() -> None:
    layout = laid(order_of((hide("first", 380, 230), hide("second", 380, 230)), LINE), 4)
    assert faults(in_pairs(layout, ("a", "a"), ("b", "b"))) == []
    across = faults(in_pairs(layout, ("a", "b"), ("b", "a")))
    assert len(across) == 2
    assert all("both must come from one hide" in fault for fault in across)
    assert any("is of no pair" in fault for fault in faults(in_pairs(layout, (None, "a"), ("b", "b"))))
    assert any("has 1 piece in" in fault for fault in faults(in_pairs(layout, ("a", "c"), ("b", "b"))))
    assert any(
        'the mate of panel "chap-left" is "chap-right"' in fault
        for fault in faults(in_pairs(layout, ("a", "b"), ("a", "b")))
    )
    assert any("has no pairs" in fault for fault in faults(replace(layout, mates=())))


@pytest.mark.parametrize(
    ("mates", "words"),
    [
        ((("chap-left", "chap-right"), ("chap-left", "fob")), "is the mate of 2 panels"),
        ((("chap-left", "ghost"),), "is not in the layout"),
        ((("fob", "chap-left"),), "pairs with itself"),
    ],
)
def test_mates_that_cannot_be(mates: tuple[tuple[str, str], ...], words: str) -> None:
    fob = Panel("fob", rectangle(20, 20), pairing="alike")
    layout = Layout("t", 1, BARE, (LEFT, RIGHT, fob), (), mates=mates)
    assert any(words in fault for fault in faults(layout))


# --- a late find -----------------------------------------------------------------------------


def relaid(order: Order, layout: Layout, attempts: int = 40) -> Relaid:
    relay = Relay(order, layout, 1, never)
    for _ in islice(relay.run(), attempts):
        pass
    assert faults(relay.result().layout) == []
    return relay.result()


def test_a_late_find_keeps_pairs_of_mates_whole() -> None:
    """A hole under a right: it goes into free room as what it is, beside its left, or the pair does."""
    order = order_of(hide("side", 900, 260), LINE)
    layout = laid(order, 3)
    right = next(p for p in placements(layout) if p.piece == "chap-right-01")
    middle = right.pose.apply_point((55, 90))
    found = replace(order.hides[0], flaws=(Flaw("nail", "hole", rectangle(4, 4, *middle)),))
    after = relaid(replace(order, hides=(found,)), layout)
    assert "chap-right-01" in after.moved
    assert sorted(p.piece for p in placements(after.layout)) == sorted(p.piece for p in placements(layout))
    assert {p.piece: p.panel for p in placements(after.layout)}["chap-right-01"] == "chap-right"
    more = relaid(replace(order, lines=(replace(LINE, pairs=3),)), layout)
    assert {"chap-left-03", "chap-right-03"} == set(more.added)


def test_a_layout_of_single_pieces_is_none_of_pairs() -> None:
    singles = (OrderLine(LEFT, pieces=2), OrderLine(RIGHT, pieces=2))
    order = order_of(hide("side", 700, 260), *singles)
    with pytest.raises(InputError, match='was laid with no mate and has the mate "chap-right" now'):
        Relay(replace(order, lines=(LINE,)), laid(order, 3), 1, never)


# --- costs and words -------------------------------------------------------------------------


def test_a_pair_is_costed_and_spoken_of_as_one() -> None:
    order = order_of(hide("side", 700, 260, "60"), LINE)
    layout = laid(order, 3)
    report = account(layout, order)
    assert report.cost is not None
    assert [(line.name, line.pieces) for line in report.cost.pairs] == [("chap-01", 2), ("chap-02", 2)]
    assert sum(line.cost.total for line in report.cost.pairs if line.cost.total) == Decimal("60.00")
    lines = dict(report_lines(report))
    assert lines["cost of a pair of chap-left and chap-right"] == "30.00 USD"
    assert "a pair of chap-left and chap-right 30.00" in lines["leather charged by whole hide"]
    assert "one chap-left" not in lines["leather charged by whole hide"]
    assert report_to_json(report)["pairs"][0]["mate"] == "chap-right"
    assert counted(layout) == "2 pairs of chap-left and chap-right"
    assert caption(layout, report).headline.endswith("a pair of chap-left and chap-right 30.00 USD")


def test_names_of_pairs() -> None:
    """What both names begin with, unless something else is called so; else both."""
    fob = OrderLine(Panel("chap", rectangle(10, 10)), pieces=1)
    front = OrderLine(Panel("front", rectangle(10, 10)), pairs=1, mate=Panel("back", rectangle(12, 10)))
    assert names_of((LINE,), 0, 3) == ("chap-03", ("chap-left-03", "chap-right-03"))
    assert names_of((LINE, fob), 0, 1)[0] == "chap-left+chap-right-01"
    assert names_of((front,), 0, 1) == ("front+back-01", ("front-01", "back-01"))
