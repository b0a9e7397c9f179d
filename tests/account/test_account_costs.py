"""Every share of cost and price on figures worked out by hand, and leather charged three ways."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.account import account, report_lines, report_to_json
from nesting.account.trade import gross_area, net_factor, net_price
from nesting.files.hide import Hide, Price
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Costs, Cutting, Hardware, Order, OrderLine, Rate
from nesting.files.panel import Panel
from nesting.files.report import WAYS, Cost, Report
from nesting.rings import Pose, Ring

FT2 = Fraction(3048, 10) ** 2
"""One square foot in mm², from the foot of 304.8 mm."""
NO_MARGINS = Cutting(gap_mm=0.0, edge_margin_mm=0.0, straight_edge_margin_mm=0.0)
RATES = {
    "lace": Rate(Decimal("0.24"), Fraction(3048, 10)),
    "dye": Rate(Decimal("0.30"), FT2),
    "finish": Rate(Decimal("1.20"), Fraction(1_000_000)),
}


def box(width: float, height: float) -> Ring:
    return ((0, 0, 0), (width, 0, 0), (width, height, 0), (0, height, 0))


def priced(width: float, height: float, amount: str, basis: Any = "hide") -> Hide:
    return Hide("back-01", box(width, height), price=Price(Decimal(amount), "USD", basis))


def row(panel: Panel, count: int, step: float, paired: bool = False) -> tuple[Placement, ...]:
    return tuple(
        Placement(f"{panel.name}-{i}", panel.name, Pose(False, 0.0, (step * i, 0.0)),
                  f"pair-{i // 2}" if paired else None)
        for i in range(count)
    )  # fmt: skip


def reported(
    hide: Hide, line: OrderLine, count: int, step: float, paired: bool = False, **costs: Any
) -> Report:
    layout = Layout(
        "t", 1, NO_MARGINS, (line.panel,), (LaidHide(hide, row(line.panel, count, step, paired)),)
    )
    return account(layout, Order("t", (hide,), (line,), NO_MARGINS, Costs(**costs)))


WRAP = Panel(
    "wrap", box(200, 150), cutouts=(((20, 20, 0), (40, 20, 0), (40, 70, 0), (20, 70, 0)),), pairing="alike"
)
LINE = OrderLine(
    WRAP, pairs=1, hardware=(Hardware("eyelet", 8, Decimal("0.06")),), labour_minutes=30, lace_mm=762.0,
    dyed_sides=1, finished_sides=2,
)  # fmt: skip
LEATHER = priced(1000, 500, "60.00")


def test_lace_is_the_panels_own_where_the_order_does_not_say() -> None:
    """Lace of 2 ft a piece at 0.24 a foot: 0.96 a pair; the order's own word goes first."""
    laced = replace(LINE, panel=replace(WRAP, lace_mm=609.6), lace_mm=None)
    found = [
        reported(LEATHER, replace(laced, lace_mm=mm), 2, 210, paired=True, lace=RATES["lace"])
        for mm in (None, 304.8, 0.0)
    ]
    assert [r.cost.pairs[0].cost.lace for r in found if r.cost] == [
        Decimal("0.96"), Decimal("0.48"), Decimal("0.00")
    ]  # fmt: skip
    unpriced = reported(LEATHER, laced, 2, 210, paired=True)
    assert [note for note in unpriced.notes if "gives lace no price" in note]


def test_every_share_by_hand() -> None:
    """Two wraps of 200 × 150 mm less a cut-out of 20 × 50: 29 000 mm² a side."""
    report = reported(
        LEATHER, LINE, 2, 210, paired=True, **RATES, labour_per_hour=Decimal(24),
        overhead=Decimal("0.1"), overhead_per_hour=Decimal(3), margin=Decimal("0.25"),
    )  # fmt: skip
    assert report.cost is not None
    (pair,) = report.cost.pairs
    cost = pair.cost
    assert cost == report.cost.total
    assert cost.hardware == Decimal("0.96")  # 2 × 8 × 0.06
    assert cost.lace == Decimal("1.20")  # 2 × 2.5 ft × 0.24
    assert cost.dye == Decimal("0.19")  # 2 × 29 000 / 92 903.04 × 0.30 = 0.1873
    assert cost.finish == Decimal("0.14")  # 4 × 0.029 × 1.20 = 0.1392
    assert cost.labour == Decimal("24.00")
    # 60.00 + 0.96 + 1.20 + 0.19 + 0.14 + 24.00 = 86.49; a tenth, and an hour at 3.00.
    assert cost.leather == Decimal("60.00")
    assert cost.overhead == Decimal("11.65")
    assert cost.total == Decimal("98.14")
    # A quarter of the price is a third on the cost: 32.7133.
    assert (cost.margin, cost.price) == (Decimal("32.71"), Decimal("130.85"))


def test_a_third_on_the_cost_is_a_quarter_of_the_price() -> None:
    """Leather dictionary, "cutting waste", on net and gross: 33 1/3 % on the one is 25 % of the other."""
    quarter = reported(LEATHER, LINE, 3, 210, margin=Decimal("0.25"))
    third = reported(LEATHER, LINE, 3, 210, markup=Decimal(1) / 3)
    assert quarter.cost is not None
    assert quarter.cost == third.cost
    assert quarter.cost.total.price == (Decimal("61.44") * 4 / 3).quantize(Decimal("0.01"))


def test_without_a_margin_no_price_is_reckoned() -> None:
    plain = reported(LEATHER, LINE, 2, 210)
    assert plain.cost is not None
    assert plain.cost.total.price is plain.cost.total.margin is None
    assert not [label for label, _ in report_lines(plain) if "price" in label]
    at_cost = reported(LEATHER, LINE, 2, 210, margin=Decimal(0))
    assert at_cost.cost is not None
    assert at_cost.cost.total.price == at_cost.cost.total.total == Decimal("60.96")


def test_lace_without_a_price_is_said_and_not_counted() -> None:
    report = reported(LEATHER, LINE, 2, 210)
    assert report.cost is not None
    assert report.cost.total.lace == 0
    assert 'the order gives lace no price: it is not counted for "wrap"' in report.notes
    assert not [note for note in reported(LEATHER, LINE, 2, 210, **RATES).notes if "lace" in note]


def test_a_hide_without_a_price_leaves_the_price_open() -> None:
    free = reported(
        replace(LEATHER, price=None), LINE, 2, 210, **RATES, overhead=Decimal("0.1"), margin=Decimal(0)
    )
    assert free.cost is not None
    total = free.cost.total
    assert total.leather is total.overhead is total.total is total.margin is total.price is None
    assert total.lace == Decimal("1.20")
    assert dict(report_lines(free))["cost in all"].startswith("not known")
    assert not [label for label, _ in report_lines(free) if label.startswith("leather charged")]


# --- leather three ways ----------------------------------------------------------------------


def ways(report: Report) -> dict[str, Decimal | None]:
    assert report.cost is not None
    return {one.way: one.total.leather for one in report.cost.leather_ways}


def test_three_ways_by_hand() -> None:
    """Three pieces of 0.03 m² on half a square metre for 60.00; the rest is kept at half its worth."""
    plain = OrderLine(Panel("slip", box(200, 150)), pieces=3)
    report = reported(LEATHER, plain, 3, 200, remnant_credit=Decimal("0.5"))
    assert report.areas.remnant == pytest.approx(410_000)
    # 60 × 0.09 / 0.5; 60 less half of 60 × 0.41 / 0.5; 60.
    assert ways(report) == {"net area": Decimal("10.80"), "area taken": Decimal("35.40"), "whole hide": 60}
    assert report.cost is not None
    assert report.cost.total.leather == Decimal("35.40")


def test_a_remnant_worth_its_area_leaves_what_was_taken() -> None:
    """With full credit nothing but pieces and waste is paid: here there is no waste."""
    plain = OrderLine(Panel("slip", box(200, 150)), pieces=3)
    full = ways(reported(LEATHER, plain, 3, 200, remnant_credit=Decimal(1)))
    assert full["area taken"] == full["net area"] == Decimal("10.80")
    none = ways(reported(LEATHER, plain, 3, 200))
    assert none["area taken"] == none["whole hide"] == 60


def test_the_worked_figure_of_net_and_gross() -> None:
    """1.20 ft² net at 8.00 a foot takes 1.609 ft² gross, 12.87: interlock 0.93, edges 0.88, G 0.9114.

    Arithmetic on the net cost of the teaching text (19.6 measured of 20.0 invoiced, cuttability 0.93).
    """
    gross = gross_area(1.20, 0.93, 0.88, net_factor(19.6, 20.0, 0.93))
    hide = priced(1000.0, gross * float(FT2) / 1000.0, "8.00", "ft2")
    line = OrderLine(Panel("net", box(1000.0, 1.20 * float(FT2) / 1000.0)), pieces=1)
    report = reported(hide, line, 1, 0)
    assert ways(report) == {
        "net area": Decimal("9.60"),
        "area taken": Decimal("12.87"),
        "whole hide": Decimal("12.87"),
    }


def test_the_worked_figure_of_a_cuttable_foot() -> None:
    """The teaching text: 20.0 ft² invoiced at 8.00, 19.6 measured, 93 % of it cut: 8.78 a foot."""
    measured, cut = 19.6 * float(FT2), 19.6 * 0.93 * float(FT2)
    hide = priced(2000.0, measured / 2000.0, "160.00")
    report = reported(hide, OrderLine(Panel("all", box(2000.0, cut / 2000.0)), pieces=1), 1, 0)
    leather = ways(report)["whole hide"]
    assert leather is not None
    foot = (leather / Decimal("18.228")).quantize(Decimal("0.01"))
    assert foot == Decimal("8.78") == net_price(Decimal("8.00"), net_factor(19.6, 20.0, 0.93))


def test_overhead_and_price_follow_the_way_leather_is_charged() -> None:
    plain = OrderLine(Panel("slip", box(200, 150)), pieces=3)
    report = reported(LEATHER, plain, 3, 200, overhead=Decimal("0.5"), markup=Decimal(1))
    assert report.cost is not None
    assert [(one.total.total, one.total.price) for one in report.cost.leather_ways] == [
        (Decimal("16.20"), Decimal("32.40")),
        (Decimal("90.00"), Decimal("180.00")),
        (Decimal("90.00"), Decimal("180.00")),
    ]


# --- sums and words --------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(
    st.integers(1, 9), st.decimals(0, 400, places=2), st.floats(0, 90), st.floats(0, 2000),
    st.decimals(0, 2, places=3), st.decimals(0, "0.95", places=3),
)  # fmt: skip
def test_every_cent_of_every_share_is_found_again(
    count: int, amount: Decimal, minutes: float, lace: float, overhead: Decimal, margin: Decimal
) -> None:
    line = replace(LINE, labour_minutes=minutes, lace_mm=lace)
    report = reported(
        priced(2000, 500, str(amount)), line, count, 201, paired=True, **RATES,
        labour_per_hour=Decimal("23.5"), overhead=overhead, overhead_per_hour=Decimal("4.1"),
        margin=margin, remnant_credit=Decimal("0.4"),
    )  # fmt: skip
    table = report.cost
    assert table is not None
    for rows in (table.hides, table.panels, table.pieces, table.pairs):
        for kind in vars(table.total):
            assert sum(getattr(one.cost, kind) for one in rows) == getattr(table.total, kind)
    for one in (table.total, *(line.cost for line in table.pieces)):
        assert sum(amount for _, amount in one.shares() if amount is not None) == one.total
        assert (one.total or 0) + (one.margin or 0) == one.price
    # The stated share of the price, to the half cent that the sum was rounded by.
    assert table.total.margin is not None
    assert table.total.price is not None
    assert abs(table.total.margin - margin * table.total.price) <= Decimal("0.005")
    taken = next(one for one in table.leather_ways if one.way == "area taken")
    assert (taken.total, taken.panels) == (table.total, table.panels)


def test_all_shares_stand_in_the_report_and_in_words() -> None:
    report = reported(
        LEATHER, LINE, 2, 210, paired=True, **RATES, labour_per_hour=Decimal(24),
        overhead=Decimal("0.1"), overhead_per_hour=Decimal(3), margin=Decimal("0.25"),
    )  # fmt: skip
    lines = dict(report_lines(report))
    assert lines["price in all"] == lines["price of a pair of wrap"] == "130.85 USD"
    assert lines["cost of one wrap"] == "49.07 USD"
    shares = "leather 60.00, hardware 0.96, lace 1.20, dye 0.19, finish 0.14, labour 24.00, overhead 11.65"
    assert lines["shares of a pair of wrap"] == shares
    assert lines["leather charged by net area"].startswith("leather 7.20; in all ")
    assert [label for label in lines if label.startswith("leather charged by ")] == [
        f"leather charged by {way}" for way in WAYS
    ]
    cost = report_to_json(report)["cost"]
    assert cost["per_pair"][0]["price"] == 130.85
    assert cost["per_piece"][0].keys() - {"piece"} == cost["total"].keys()
    assert [one["way"] for one in cost["leather_ways"]] == ["net area", "area taken", "whole hide"]
    assert cost["leather_ways"][0]["per_panel"][0]["leather"] == 7.2


def test_shares_name_what_there_is() -> None:
    zero = Decimal(0)
    bare = Cost(leather=Decimal(5), hardware=zero, labour=zero, total=Decimal(5))
    assert bare.shares() == [("leather", Decimal(5))]
    unknown = Cost(leather=None, hardware=zero, labour=Decimal(3), total=None, overhead=None)
    assert unknown.shares() == [("leather", None), ("labour", Decimal(3)), ("overhead", None)]
