"""Area and worth by weight, and the chart of yields."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from shelf_bench import DAY, box, hide, layout, make_shelf, one_cut, put

from nesting.errors import InputError
from nesting.files.hide import Flaw, Price
from nesting.files.layout import LaidHide
from nesting.files.panel import Panel
from nesting.files.report import Yield
from nesting.shelf import Cut, by_weight, keep_layout, open_shelf, read_journal, share_of_used
from nesting.shelf.chart import yield_chart


def test_groups_by_weight_thinnest_first() -> None:
    hides = [
        hide("c", weight_oz=(8.0, 9.0)),
        hide("b", price=Price(Decimal("1.50"), "USD", "dm2")),  # 50 dm²: 75 USD
        hide("a"),
        hide("d", weight_oz=None, price=None),
        hide("e", price=Price(Decimal(7), "EUR", "hide"), ancestry=("x",)),
        hide("f", weight_oz=(4.0, 6.0), flaws=(Flaw("hole", "hole", box(0, 0, 100, 100)),)),
    ]
    four, wide, eight, unknown = by_weight(hides)
    assert [group.weight_oz for group in (four, wide, eight, unknown)] == [(4, 5), (4, 6), (8, 9), None]
    assert [one.name for one in four.hides] == ["a", "b", "e"]
    assert (four.area_mm2, four.remnants, four.unpriced) == (1_500_000, 1, 0)
    assert four.worth == (("EUR", Decimal("7.00")), ("USD", Decimal("125.00")))
    # An open hole is no leather.
    assert wide.area_mm2 == 490_000
    assert (unknown.worth, unknown.unpriced) == ((), 1)


def test_the_hides_price_and_its_remnants_price_make_no_more(tmp_path: Path) -> None:
    shelf = make_shelf(tmp_path / "shelf", [hide()])
    (before,) = by_weight(one.hide for one in open_shelf(shelf).hides)
    keep_layout(one_cut(hide()), shelf, DAY)
    (after,) = by_weight(one.hide for one in open_shelf(shelf).hides)
    assert after.remnants == 1
    assert after.area_mm2 / before.area_mm2 == pytest.approx(
        float(after.worth[0][1] / before.worth[0][1]), abs=1e-4
    )


def test_leather_used_up_counts_no_remnant_twice(tmp_path: Path) -> None:
    """Two aprons of 394 × 492.5, the second from the first one's remnant: 800.55 × 500 is used up."""
    shelf = make_shelf(tmp_path / "shelf", [hide()])
    keep_layout(one_cut(hide()), shelf, DAY)
    rest = open_shelf(shelf).hides[0].hide
    second = layout(LaidHide(rest, (put("b", 406, 1.5),)), title="More")
    keep_layout(second, shelf, DAY)
    first, both = read_journal(shelf)[:1], read_journal(shelf)
    assert share_of_used(first) == pytest.approx(394 * 492.5 / (400.55 * 500), rel=1e-4)
    assert share_of_used(both) == pytest.approx(2 * 394 * 492.5 / (800.55 * 500), rel=1e-4)
    assert share_of_used(()) == 0


def test_a_remnant_out_of_a_cut_out_is_not_in_the_piece(tmp_path: Path) -> None:
    """A frame of 400² less 300²: leather used up is all that neither it nor the remnants have."""
    frame = Panel("frame", box(0, 0, 400, 400), cutouts=(box(50, 50, 350, 350),))
    shelf = make_shelf(tmp_path / "shelf", [hide()])
    plan = layout(LaidHide(hide(), (put("a", 6, 50, "frame"),)), panels=(frame,))
    cut = keep_layout(plan, shelf, DAY).cut
    assert cut.pieces_net_mm2 == 400**2 - 300**2
    assert len(cut.remnants) == 2
    assert 0.5 < share_of_used([cut]) < 1


@pytest.fixture
def cut(tmp_path: Path) -> Cut:
    shelf = make_shelf(tmp_path / "shelf", [hide()])
    return keep_layout(one_cut(hide()), shelf, date(2026, 1, 5)).cut


def pixels(data: bytes) -> np.ndarray:
    return matplotlib.image.imread(io.BytesIO(data), format="png")[:, :, :3]


@pytest.mark.parametrize("count", [1, 2, 40])
def test_the_chart_shows_each_cut(cut: Cut, count: int) -> None:
    shares = [0.3 + 0.01 * (i % 9) for i in range(count)]
    days = [cut.date + timedelta(days=9 * i) for i in range(count)]
    cuts = [
        replace(cut, date=day, yields=Yield(share, share + 0.2))
        for day, share in zip(days, shares, strict=True)
    ]
    picture = pixels(yield_chart(cuts))
    assert picture.shape == (900, 1600, 3)
    blue, orange = (0x00, 0x72, 0xB2), (0xE6, 0x9F, 0x00)
    for colour in (blue, orange):
        drawn = np.all(np.abs(picture - np.array(colour) / 255) < 0.02, axis=2)
        # The legend's own mark lies below the axes, as do no others.
        columns = np.flatnonzero(drawn[:760].any(axis=0))
        marks = 1 + int((np.diff(columns) > 1).sum())
        assert marks == count


def test_the_chart_is_the_same_every_time(cut: Cut) -> None:
    other = replace(cut, date=cut.date + timedelta(days=30))
    assert yield_chart([cut, other]) == yield_chart([other, cut])


def test_no_chart_of_nothing() -> None:
    with pytest.raises(InputError, match="nothing was cut"):
        yield_chart(())
