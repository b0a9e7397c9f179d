"""Random small orders: whatever the search yields, the judge passes, and it proposes nothing else.

A plan that the judge turns down is wasted work, and while it is the best the search knows, no valid
one below it is shown. So there may be none.
"""

from __future__ import annotations

from collections import Counter
from itertools import islice

import pytest
from random_orders import random_order

from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.judge import faults
from nesting.packing.stop import never
from nesting.planning import plan
from nesting.planning.demand import wanted_units

ROUNDS = 5


def judged(order: Order, seed: int, patch: pytest.MonkeyPatch) -> tuple[list[Layout], list[str]]:
    """The layouts that were yielded, and the faults of all plans that were not."""
    turned_down: list[str] = []

    def listening(layout: Layout) -> list[str]:
        found = faults(layout)
        turned_down.extend(found)
        return found

    patch.setattr(plan, "faults", listening)
    rounds = islice(plan.improving_layouts(order, seed, never), ROUNDS)
    return [improvement.layout for improvement in rounds if improvement is not None], turned_down


@pytest.mark.parametrize("seed", range(1000, 1012))
def test_every_layout_passes_and_no_plan_is_turned_down(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    order = random_order(seed, most_lines=2)
    layouts, turned_down = judged(order, seed, monkeypatch)
    assert turned_down == []
    assert layouts
    for layout in layouts:
        assert faults(layout) == []
        _nothing_lost(order, layout)


def _nothing_lost(order: Order, layout: Layout) -> None:
    """Each piece asked for is laid or said to be left, with a reason; more than asked only where filled."""
    asked = Counter[str]()
    for unit in wanted_units(order):
        asked[order.lines[unit.line].panel.name] += unit.pieces
    there = Counter(p.panel for on in layout.hides for p in on.placements)
    for unplaced in layout.unplaced:
        assert unplaced.why
        there[unplaced.panel] += unplaced.pieces
    for line in order.lines:
        name = line.panel.name
        assert there[name] >= asked[name] if line.fill else there[name] == asked[name]
