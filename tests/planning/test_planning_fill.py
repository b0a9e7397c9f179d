"""Fill lines take as many as fit; where a bound of the engine ends that, it says so."""

from __future__ import annotations

from itertools import islice

import pytest
from small_orders import count, laid, order_of, rectangle

from nesting.files.hide import Hide
from nesting.files.order import OrderLine
from nesting.files.panel import Panel
from nesting.packing import kernels
from nesting.packing.stop import never
from nesting.planning import laying
from nesting.planning.plan import at_most_filled
from nesting.planning.search import MOST_WAITS, Search

WASHER = OrderLine(Panel("washer", rectangle(10, 10), turns_deg=(0.0,)), fill=True)
LACE = OrderLine(Panel("lace", rectangle(30, 10), turns_deg=(0.0,)), fill=True)
SHEET = Hide("sheet", rectangle(312, 212))


def test_a_hide_is_filled_with_hundreds() -> None:
    """28 by 19 of 10 mm with 0.5 mm between them have room; the first greedy round lays most of them."""
    order = order_of(SHEET, WASHER)
    layout = laid(order, 1)
    assert 400 < count(layout) <= 28 * 19
    assert at_most_filled(order, layout) == []


@pytest.mark.parametrize(("lines", "each"), [((WASHER,), 40), ((WASHER, LACE), 20)])
def test_the_bound_is_said(lines: tuple[OrderLine, ...], each: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(laying, "MOST_FILL", 40)
    order = order_of(SHEET, *lines)
    layout = laid(order, 2)
    said = at_most_filled(order, layout)
    assert [count(layout, line.panel.name) for line in lines] == [each] * len(lines)
    assert said == [
        f'"sheet" is filled with {each} pieces of "{line.panel.name}", the most that are laid on one hide: '
        "more may have room"
        for line in lines
    ]


def test_a_piece_may_wait_for_its_mate_but_is_never_part_of_a_plan() -> None:
    """A strip with room for three of its pieces: a pair, and one that waits in vain."""
    panel = Panel("cuff", rectangle(100, 60), pairing="alike", turns_deg=(0.0,))
    order = order_of(Hide("strip", rectangle(12 + 3 * 100 + 20, 12 + 100)), OrderLine(panel, fill=True))
    track = Search(order, 1, never)
    waiting = 0
    for _ in islice(track.run(), 60):
        (on,) = track.plan().on
        assert [len(poses) for _, _, poses in on] == [2]
        (table,) = track.laid.values()
        if not table.torn():
            continue
        waiting += 1
        table.waited = MOST_WAITS - 3
        for tries in (2, 1, 0):
            track._squeeze_one()
            assert len(table.torn()) == 1
            assert table.waited == MOST_WAITS - tries
        track._squeeze_one()
        assert table.torn() == []
        assert table.waited == 0
    assert waiting > 0


def test_a_wanted_mate_that_finds_room_is_no_longer_left() -> None:
    panel = Panel("cuff", rectangle(100, 60), pairing="alike", turns_deg=(0.0,))
    order = order_of(Hide("strip", rectangle(400, 200)), OrderLine(panel, pairs=2))
    track = Search(order, 1, never)
    next(track.run())
    (table,) = track.laid.values()
    assert (len(table.on()), track.left) == (2, [])
    unit = table.table.units[0]
    kernels.lift(table.table.groups[0][1], table.state)
    track.left = [unit]
    track._squeeze_one()
    assert (len(table.on()), table.torn(), track.left) == (2, [], [])
    kernels.lift(table.table.groups[0][1], table.state)
    track._squeeze_one()  # what is wanted already lies elsewhere
    assert (len(table.on()), table.torn()) == (1, [])
