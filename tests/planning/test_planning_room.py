"""Why nothing can be laid: sizes and rooms told as they are."""

from __future__ import annotations

import re
from pathlib import Path

from nesting.files.hide import Flaw, Hide
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import Panel, Stretch
from nesting.planning.room import hopeless, none_laid, nothing_laid
from nesting.rings import Ring

CUTTING = Cutting(gap_mm=0, edge_margin_mm=10, straight_edge_margin_mm=10, flaw_margin_mm=5)


def rectangle(width: float, height: float, x: float = 0, y: float = 0) -> Ring:
    return ((x, y, 0), (x + width, y, 0), (x + width, y + height, 0), (x, y + height, 0))


def order(*panels: Panel, hide: Hide) -> Order:
    lines = tuple(OrderLine(panel, pieces=2) for panel in panels)
    return Order("o", (hide,), lines, CUTTING, path=Path("o.toml"))


HIDE = Hide("offcut", rectangle(300, 200), spine=((0, 0), (0, 1)))


def test_what_may_have_room_is_not_hopeless() -> None:
    # 270 x 170 goes into 280 x 180, corners and all.
    assert hopeless(order(Panel("fob", rectangle(270, 170)), hide=HIDE)) is None


def test_sizes_are_the_smallest_rectangles() -> None:
    # Within 10 mm margins 300 x 200 leaves 280 x 180 (plane geometry).
    said = hopeless(order(Panel("big", rectangle(190, 290)), hide=HIDE))
    assert said is not None
    assert said.startswith('o.toml: nothing can be laid: panel "big" (290 x 190 mm) found no room')
    assert "on offcut inside its margins and clear of flaws, is 280 x 180 mm across" in said


def test_a_flaw_parts_the_room() -> None:
    # A band of x = 95..105 with 5 mm around leaves x = 10..90 and x = 110..290.
    flaw = Flaw("cut", "weak", rectangle(10, 200, 95, 0))
    hide = Hide("offcut", rectangle(300, 200), flaws=(flaw,))
    said = hopeless(order(Panel("belt", rectangle(250, 140)), hide=hide))
    assert said is not None
    assert "is 180 x 180 mm across" in said


def test_margins_that_leave_nothing() -> None:
    said = hopeless(order(Panel("fob", rectangle(5, 5)), hide=Hide("strip", rectangle(300, 18))))
    assert said is not None
    assert 'panel "fob": margins and flaws leave no room on any hide' in said


def test_turns_against_stretch() -> None:
    panel = Panel("strap", rectangle(20, 100), stretch=Stretch(90, 10), turns_deg=(45,))
    said = hopeless(order(panel, hide=HIDE))
    assert said is not None
    assert "may not be turned as its stretch asks" in said


def test_one_panel_with_room_is_enough_to_begin() -> None:
    assert (
        hopeless(order(Panel("big", rectangle(500, 5)), Panel("fob", rectangle(40, 40)), hide=HIDE)) is None
    )


def test_many_panels_are_counted() -> None:
    panels = [Panel(f"big-{i}", rectangle(400, 400)) for i in range(5)]
    assert nothing_laid(order(*panels, hide=HIDE)).endswith("; and 2 more")


def test_what_differs_by_hundredths_is_told_to_hundredths() -> None:
    # 10 mm margins leave 280 x 180.
    said = nothing_laid(order(Panel("slab", rectangle(280.3, 180.3)), hide=HIDE))
    assert 'panel "slab" (280.30 x 180.30 mm) found no room' in said
    assert re.search(r"is 280\.0\d x 180\.0\d mm across", said)


def test_a_pair_that_has_no_room_is_called_a_pair() -> None:
    # One 200 x 150 has room in 280 x 180, a second beside it has none.
    line = OrderLine(Panel("knee", rectangle(200, 150), pairing="mirrored"), pairs=1, pair_within_mm=90)
    said = nothing_laid(Order("o", (HIDE,), (line,), CUTTING, path=Path("o.toml")))
    assert 'panel "knee" (200 x 150 mm) found no room for a whole pair within 90 mm: the largest' in said


def test_why_none_of_a_panel_is_laid() -> None:
    large = Panel("large", rectangle(290, 190))
    stiff = Panel("stiff", rectangle(20, 100), stretch=Stretch(90, 10), turns_deg=(45,))
    pair = OrderLine(Panel("knee", rectangle(200, 150), pairing="alike"), pairs=1)
    heavy = OrderLine(Panel("sole", rectangle(20, 20)), pieces=1, weight_oz=(8, 9))
    both = order(large, stiff, hide=HIDE)
    assert none_laid(both.lines[0], both) == "no hide has room for it, inside margins and clear of flaws"
    assert none_laid(both.lines[1], both) == "may not be turned as its stretch asks"
    assert none_laid(pair, both) == "no hide has room left for a whole pair"
    assert none_laid(heavy, both).startswith("no hide of 8-9 oz")
    assert (
        none_laid(OrderLine(Panel("fob", rectangle(20, 20)), pieces=1), both)
        == "no hide has room left for one"
    )
