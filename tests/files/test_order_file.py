"""Order files: the contract's example beside its hides and panel, globs, units, and every refusal."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import contract_examples as examples
import pytest

from nesting.errors import FileFormatError, InputError
from nesting.files.hide import Hide
from nesting.files.order import Costs, Cutting, Hardware, OrderLine, Rate, StepTime
from nesting.files.order_file import read_order
from nesting.files.panel import Panel


def write_hide(folder: Path, name: str, **changes: Any) -> None:
    folder.mkdir(exist_ok=True)
    data = examples.hide() | {"name": name} | changes
    (folder / f"{name}.hide.json").write_text(json.dumps(data))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A folder with three hides, a panel that pairs and one that does not."""
    for name in ("shoulder-10", "shoulder-02", "bend-1"):
        write_hide(tmp_path, name)
    (tmp_path / "half-chap.panel.json").write_text(examples.PANEL)
    band = examples.panel() | {"name": "band", "pairing": "none"}
    (tmp_path / "band.panel.json").write_text(json.dumps(band))
    return tmp_path


def order(shop: Path, old: str = "", new: str = "") -> Any:
    """The contract's order with one text put for another, read from the shop."""
    assert old in examples.ORDER
    (shop / "order.toml").write_text(examples.ORDER.replace(old, new, 1) if old else examples.ORDER)
    return read_order(shop / "order.toml")


def test_the_contract_example(shop: Path) -> None:
    read = order(shop)
    assert read.title == "Half-chaps for a riding school"
    assert [hide.name for hide in read.hides] == ["shoulder-02", "shoulder-10"]
    assert read.cutting == Cutting("knife", 0, 0.5, 6, 1.5, 3)
    assert read.costs == Costs(Decimal("24"), Decimal("0.5"))
    assert read.path == shop / "order.toml"
    (line,) = read.lines
    assert line.panel.name == "half-chap"
    assert (line.pairs, line.pieces, line.fill) == (6, None, False)
    assert line.pair_within_mm == 400
    assert line.weight_oz == (4, 6)
    assert line.hardware == (Hardware("eyelet", 8, Decimal("0.06")),)
    assert line.labour_minutes == 35


def test_the_least_an_order_says(shop: Path) -> None:
    (shop / "least.toml").write_text(
        'hides = ["bend-1.hide.json"]\n[[pieces]]\npanel = "band.panel.json"\npieces = 3'
    )
    read = read_order(shop / "least.toml")
    assert (read.title, read.cutting, read.costs) == ("least", Cutting(), Costs())
    assert read.lines[0].pieces == 3


def test_any_unit_may_be_typed(shop: Path) -> None:
    assert order(shop, '"6 mm"', '"1/4 in"').cutting.edge_margin_mm == 6.35
    assert order(shop, '"400 mm"', "'''1' 4\"'''").lines[0].pair_within_mm == 406.4
    assert order(shop, "[4, 6]", '"4-6 oz"').lines[0].weight_oz == (4, 6)
    assert order(shop, "[4, 6]", '"1.5875-2.38125 mm"').lines[0].weight_oz == (4, 6)


def test_several_patterns_and_no_file_twice(shop: Path) -> None:
    hides = order(
        shop, '["shoulder-*.hide.json"]', '["bend-*.json", "*.hide.json", "./shoulder-0?.hide.json"]'
    ).hides
    assert [hide.name for hide in hides] == ["bend-1", "shoulder-02", "shoulder-10"]


def test_folders_with_signs_of_patterns_in_their_names(tmp_path: Path) -> None:
    shop = tmp_path / "shop [1] *"
    write_hide(shop, "shoulder-1")
    write_hide(shop / "rack", "shoulder-2")
    (shop / "half-chap.panel.json").write_text(examples.PANEL)
    assert len(order(shop).hides) == 1
    assert len(order(shop, '["shoulder-*.hide.json"]', '["**/*.hide.json"]').hides) == 2


def test_money_is_exact(shop: Path) -> None:
    read = order(shop, "labour_per_hour = 24.0", 'labour_per_hour = 24.1\ncurrency = "USD"')
    assert read.costs == Costs(Decimal("24.1"), Decimal("0.5"), "USD")


def test_fill_and_even_pieces(shop: Path) -> None:
    assert order(shop, "pairs = 6 ", "fill = true ").lines[0].fill
    assert order(shop, "pairs = 6 ", "pieces = 12 ").lines[0].pieces == 12


def test_which_hides_a_line_takes() -> None:
    """4-5 oz is 1.6-2.0 mm in speech (common practice, no source); 1.6 mm is 4.03 oz by ASTM D1814."""
    ring = ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    panel, hide = Panel("p", ring), Hide("h", ring, weight_oz=(4, 5))
    assert OrderLine(panel, pieces=1).takes(Hide("h", ring))
    assert not OrderLine(panel, pieces=1, weight_oz=(4, 6)).takes(Hide("h", ring))
    assert OrderLine(panel, pieces=1, weight_oz=(4, 5)).takes(hide)
    assert OrderLine(panel, pieces=1, weight_oz=(1.6 / 0.396875, 2.0 / 0.396875)).takes(hide)
    assert not OrderLine(panel, pieces=1, weight_oz=(4.25, 6)).takes(hide)
    assert not OrderLine(panel, pieces=1, weight_oz=(3, 4.75)).takes(hide)


REFUSED = [
    ('title = "Half-chaps for a riding school"', "title = ", "", "is not TOML"),
    ("[cutting]", 'cut = "1"\n[cutting]', "cut", "not a known field"),
    (
        'tool = "knife"',
        'tool = "axe"',
        "cutting.tool",
        "must be 'knife', 'die', 'laser', 'blade' or 'waterjet'",
    ),
    ('kerf = "0 mm"', "kerf = 0", "cutting.kerf", "must be a text in quotes, not 0"),
    ('kerf = "0 mm"', 'kerf = "0"', "cutting.kerf", '"0" has no unit'),
    ('gap = "0.5 mm"', 'gap = "-0.5 mm"', "cutting.gap", "cannot be negative"),
    ('gap = "0.5 mm"', 'gap = "nan mm"', "cutting.gap", "is not a length"),
    ('edge_margin = "6 mm"', 'edge_margin = "6 smoot"', "cutting.edge_margin", '"smoot" is not a unit'),
    ('flaw_margin = "3 mm"', 'flaw_margin = "1,5 mm"', "cutting.flaw_margin", "decimal point"),
    ('hides = ["shoulder-*.hide.json"]', "hides = []", "hides", "is empty; name hide files"),
    ('hides = ["shoulder-*.hide.json"]', "", "hides", "is missing"),
    ('"shoulder-*.hide.json"', '"bend*", "side-*.json"', "hides[1]", 'no hide file matches "side-*.json"'),
    ('panel = "half-chap.panel.json"', 'panel = "chap.json"', "pieces[0].panel", 'no file "chap.json"'),
    ('panel = "half-chap.panel.json"', "", "pieces[0].panel", "is missing"),
    ("pairs = 6 ", "pairs = 6.0 ", "pieces[0].pairs", "must be a whole number"),
    ("pairs = 6 ", "pairs = 0 ", "pieces[0].pairs", "must be at least 1, not 0"),
    ("pairs = 6 ", "pairs = -1 ", "pieces[0].pairs", "must be at least 1, not -1"),
    ("pairs = 6 ", "pairs = true ", "pieces[0].pairs", "must be a whole number, not true"),
    ("pairs = 6 ", "", "pieces[0]", "exactly one of pairs = N, pieces = N and fill = true"),
    ("pairs = 6 ", "pairs = 6\nfill = true", "pieces[0]", "exactly one of"),
    ("pairs = 6 ", "pairs = 6\npieces = 12", "pieces[0]", "exactly one of"),
    ("pairs = 6 ", "pieces = 11 ", "pieces[0].pieces", "11 pieces leave one over; write pairs = 6"),
    (
        '"half-chap.panel.json"',
        '"band.panel.json"',
        "pieces[0].pairs",
        'has pairing "none"; write pieces = 12',
    ),
    (
        '"half-chap.panel.json"\npairs = 6 ',
        '"band.panel.json"\npieces = 6 ',
        "pieces[0].pair_within",
        "remove pair_within",
    ),
    ('"400 mm"', '"0 mm"', "pieces[0].pair_within", "more than zero"),
    ('"400 mm"', "400", "pieces[0].pair_within", "must be a text in quotes"),
    ("[4, 6]", "[6, 4]", "pieces[0].weight_oz", "the thinner comes first"),
    ("[4, 6]", '"4-6"', "pieces[0].weight_oz", "is not a leather weight"),
    ("[4, 6]", "[4]", "pieces[0].weight_oz", "must hold at least 2 items"),
    ("[4, 6]", "[8, 9]", "pieces[0].weight_oz", "no hide of this order is within 8-9 oz (there are 4-5)"),
    ("each = 0.06", 'each = "0.06"', "pieces[0].hardware[0].each", "must be a number"),
    ("each = 0.06", "each = -0.06", "pieces[0].hardware[0].each", "must be at least 0"),
    ("each = 0.06", "each = 1e308", "pieces[0].hardware[0].each", "must be at most 1e+09, not 1e+308"),
    ("labour_minutes = 35", "labour_minutes = 1e300", "pieces[0].labour_minutes", "must be at most 1e+09"),
    ("each = 0.06", "each = nan", "pieces[0].hardware[0].each", "finite"),
    ("count = 8", "count = 0", "pieces[0].hardware[0].count", "must be at least 1"),
    ("labour_minutes = 35", "labour_minutes = -1", "pieces[0].labour_minutes", "must be at least 0"),
    ("labour_per_hour = 24.0", "labour_per_hour = inf", "costs.labour_per_hour", "finite"),
    ("remnant_credit = 0.5", "remnant_credit = 50", "costs.remnant_credit", "must be at most 1, not 50"),
    ("remnant_credit = 0.5", "remnant_credit = -0.5", "costs.remnant_credit", "must be at least 0"),
    (
        "remnant_credit = 0.5",
        'currency = "EUR"',
        "costs.currency",
        "prices in EUR and USD cannot be added up",
    ),
    (
        "[costs]",
        '[[pieces]]\npanel = "half-chap.panel.json"\npairs = 1\n[costs]',
        "pieces[1].panel",
        "ordered twice",
    ),
    ('title = "Half-chaps', 'title = ""\n#', "title", "visible"),
]


@pytest.mark.parametrize(("old", "new", "place", "mend"), REFUSED)
def test_refused(shop: Path, old: str, new: str, place: str, mend: str) -> None:
    with pytest.raises(FileFormatError) as caught:
        order(shop, old, new)
    message = str(caught.value)
    where = f"{shop / 'order.toml'}: " + (f"{place}: " if place else "")
    assert message.startswith(where), message
    assert mend in message
    assert len(message.splitlines()) == 1


def test_no_pieces_at_all(shop: Path) -> None:
    (shop / "order.toml").write_text('hides = ["*.hide.json"]\npieces = []')
    with pytest.raises(FileFormatError, match="pieces: must hold at least 1 item"):
        read_order(shop / "order.toml")


def test_two_hides_of_one_name(shop: Path) -> None:
    write_hide(shop, "shoulder-3")
    (shop / "shoulder-4.hide.json").write_text((shop / "shoulder-3.hide.json").read_text())
    with pytest.raises(
        FileFormatError, match=r'shoulder-3\.hide\.json and shoulder-4.* both hold .*"shoulder-3"'
    ):
        order(shop)


def test_hides_priced_in_two_currencies(shop: Path) -> None:
    write_hide(shop, "shoulder-3", price={"amount": 1, "currency": "EUR", "basis": "hide"})
    with pytest.raises(FileFormatError, match="hides: prices in EUR and USD cannot be added up"):
        order(shop)


def test_a_hide_or_panel_at_fault_is_named(shop: Path) -> None:
    write_hide(shop, "shoulder-3", flaws=7)
    with pytest.raises(FileFormatError, match=r"shoulder-3\.hide\.json: flaws: must be a list"):
        order(shop)
    (shop / "half-chap.panel.json").write_text("{")
    with pytest.raises(FileFormatError, match=r"half-chap\.panel\.json: line 1"):
        order(shop)


@pytest.mark.parametrize("value", ["[" * 50_000, "9" * 5000])
def test_toml_that_nobody_types(shop: Path, value: str) -> None:
    (shop / "order.toml").write_text(f"title = {value}")
    with pytest.raises(FileFormatError, match=r"order\.toml: is not usable TOML"):
        read_order(shop / "order.toml")


def test_no_such_order(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_order(tmp_path / "none.toml")


def test_a_mate_makes_a_pair_of_two_panels(shop: Path) -> None:
    for side in ("left", "right"):
        panel = examples.panel() | {"name": f"cuff-{side}", "pairing": "none"}
        (shop / f"cuff-{side}.panel.json").write_text(json.dumps(panel))
    mated = 'panel = "cuff-left.panel.json"\nmate = "cuff-right.panel.json"'
    read = order(shop, 'panel = "half-chap.panel.json"', mated)
    (line,) = read.lines
    assert [panel.name for panel in line.panels] == ["cuff-left", "cuff-right"]
    assert (line.name, line.paired, line.pairs) == ("cuff-left and cuff-right", True, 6)
    assert read.mates == (("cuff-left", "cuff-right"),)
    assert read.line_of["cuff-right"] is read.line_of["cuff-left"] is line
    for old, new, place, mend in (
        ("pairs = 6", "pieces = 3", "pieces[0].pieces", "comes in pairs"),
        ("cuff-right", "cuff-left", "pieces[0].mate", "is ordered twice"),
        ("cuff-right", "half-chap", "pieces[0].mate", 'pairing "mirrored"'),
        ("cuff-left", "half-chap", "pieces[0].panel", "remove mate"),
        ("cuff-right", "cuff-up", "pieces[0].mate", "no file"),
    ):
        with pytest.raises(FileFormatError) as caught:
            order(shop, 'panel = "half-chap.panel.json"\npairs = 6', f"{mated}\npairs = 6".replace(old, new))
        assert f"order.toml: {place}: " in str(caught.value)
        assert mend in str(caught.value)


def test_shares_beyond_leather_hardware_and_labour(shop: Path) -> None:
    """All optional: the contract's example says none of them."""
    plain = order(shop)
    assert (plain.lines[0].lace_mm, plain.lines[0].dyed_sides, plain.lines[0].finished_sides) == (None, 1, 1)
    assert (plain.costs.lace, plain.costs.dye, plain.costs.finish) == (None, None, None)
    assert plain.costs.on_cost is None
    line = 'labour_minutes = 35\nlace = "30 in"\ndyed_sides = 2\nfinished_sides = 0'
    read = order(shop, "labour_minutes = 35", line).lines[0]
    assert (read.lace_mm, read.dyed_sides, read.finished_sides) == (762.0, 2, 0)
    laced = replace(read.panel, lace_mm=741.5)
    assert [replace(read, lace_mm=mm).lace_of(laced) for mm in (None, 762.0, 0.0)] == [741.5, 762.0, 0.0]
    costs = """labour_per_hour = 24.0
lace = {price = 0.24, per = "1 ft"}
dye = {price = 0.3, per = "1 ft2"}
finish = {price = 1, per = "1 m2"}
overhead = 0.1
overhead_per_hour = 2.5
margin = 0.25"""
    found = order(shop, "labour_per_hour = 24.0", costs).costs
    assert found.lace == Rate(Decimal("0.24"), Fraction("304.8"))
    assert found.dye == Rate(Decimal("0.3"), Fraction("304.8") ** 2)
    assert found.finish == Rate(Decimal("1"), Fraction(1_000_000))
    assert (found.overhead, found.overhead_per_hour) == (Decimal("0.1"), Decimal("2.5"))
    assert found.on_cost == Fraction(1, 3)
    assert order(shop, "remnant_credit = 0.5", "markup = 1.2").costs.on_cost == Fraction(6, 5)


@pytest.mark.parametrize(
    ("old", "new", "place", "mend"),
    [
        ("labour_minutes = 35", 'lace = "30"', "pieces[0].lace", "has no unit"),
        ("labour_minutes = 35", "dyed_sides = 3", "pieces[0].dyed_sides", "must be at most 2, not 3"),
        ("labour_minutes = 35", "finished_sides = 1.5", "pieces[0].finished_sides", "must be a whole number"),
        ("remnant_credit = 0.5", "margin = 1", "costs.margin", "must be less than 1"),
        ("remnant_credit = 0.5", "margin = 0.2\nmarkup = 0.3", "costs", "not both"),
        ("remnant_credit = 0.5", "overhead = -0.1", "costs.overhead", "must be at least 0"),
        ("remnant_credit = 0.5", "lace = 0.2", "costs.lace", "must be an object in { }"),
        ("remnant_credit = 0.5", 'lace = {price = 1, per = "0 m"}', "costs.lace.per", "more than zero"),
        ("remnant_credit = 0.5", 'dye = {price = 1, per = "1 ft"}', "costs.dye.per", 'not a unit of area'),
        ("remnant_credit = 0.5", 'dye = {per = "1 ft2"}', "costs.dye.price", "is missing"),
    ],
)  # fmt: skip
def test_further_shares_refused(shop: Path, old: str, new: str, place: str, mend: str) -> None:
    with pytest.raises(FileFormatError) as caught:
        order(shop, old, new)
    assert str(caught.value).startswith(f"{shop / 'order.toml'}: {place}: "), str(caught.value)
    assert mend in str(caught.value)


def test_times_of_steps(shop: Path) -> None:
    assert order(shop).work == ()
    work = "[work]\nantique = {minutes = 3.5, wait_hours = 12}\nedge = {}\n[costs]"
    found = order(shop, "[costs]", work).work
    assert found == (("edge", StepTime()), ("antique", StepTime(3.5, 12.0)))
    for wrong, place, mend in (
        ("boil = {}", "work.boil", "not a known field"),
        ("dye = 3", "work.dye", "must be an object in { }"),
        ("dye = {minutes = -1}", "work.dye.minutes", "must be at least 0"),
    ):
        with pytest.raises(FileFormatError) as caught:
            order(shop, "[costs]", f"[work]\n{wrong}\n[costs]")
        assert f"{place}: " in str(caught.value)
        assert mend in str(caught.value)
