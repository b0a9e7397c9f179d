"""Fill lines take as many as fit; where a bound of the engine ends that, it says so."""

from __future__ import annotations

import pytest
from small_orders import count, laid, order_of, rectangle

from nesting.files.hide import Hide
from nesting.files.order import OrderLine
from nesting.files.panel import Panel
from nesting.planning import search
from nesting.planning.search import at_most_filled

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
    monkeypatch.setattr(search, "MOST_FILL", 40)
    order = order_of(SHEET, *lines)
    layout = laid(order, 2)
    said = at_most_filled(order, layout)
    assert [count(layout, line.panel.name) for line in lines] == [each] * len(lines)
    assert said == [
        f'"sheet" is filled with {each} pieces of "{line.panel.name}", the most that are laid on one hide: '
        "more may have room"
        for line in lines
    ]
