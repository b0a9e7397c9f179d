"""Entering a cut: what leaves, what joins, what is refused; nothing changes where it is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from shelf_bench import DAY, PANEL, box, hide, layout, make_shelf, one_cut, put, state

from nesting.account import account, report_to_json
from nesting.account.areas import priced_area
from nesting.errors import FileFormatError, InputError, InvalidLayout
from nesting.files.hide import Hide, Price
from nesting.files.hide_file import read_hide, write_hide
from nesting.files.layout import LaidHide, Layout
from nesting.files.layout_file import read_layout, write_layout
from nesting.files.order import Costs, Order, OrderLine
from nesting.files.panel import Panel
from nesting.shelf import keep_layout, open_shelf, read_journal, read_reported

ONE, TWO = hide("shoulder-04"), hide("shoulder-05", price=None)


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    return make_shelf(tmp_path / "shelf", [ONE, TWO])


def names(folder: Path) -> list[str]:
    return [one.hide.name for one in open_shelf(folder).hides]


def refused(folder: Path, plan: Layout, *words: str, **rest: Any) -> None:
    before = state(folder)
    with pytest.raises(InputError) as error:
        keep_layout(plan, folder, DAY, **rest)
    for word in words:
        assert word in str(error.value)
    assert state(folder) == before


def report(path: Path, plan: Layout, credit: str = "0.5") -> Path:
    """The report of the plan, half the remnant's area price credited."""
    panels = tuple(OrderLine(panel, pieces=1) for panel in plan.panels)
    order = Order(
        plan.title,
        tuple(laid.hide for laid in plan.hides),
        panels,
        costs=Costs(remnant_credit=Decimal(credit)),
    )
    path.write_text(json.dumps(report_to_json(account(plan, order))))
    return path


def test_the_hide_leaves_and_its_remnant_joins(shelf: Path) -> None:
    original = (shelf / "shoulder-04.hide.json").read_bytes()
    kept = keep_layout(one_cut(ONE), shelf, DAY)
    assert names(shelf) == ["shoulder-04-r1", "shoulder-05"]
    assert (shelf / "cut" / "shoulder-04.hide.json").read_bytes() == original
    (joined,) = kept.remnants
    # What is said to have joined is what the file holds, as far as files hold decimals.
    on_disk = read_hide(shelf / joined.file)
    assert (on_disk.name, on_disk.price, on_disk.ancestry) == (
        joined.hide.name,
        joined.hide.price,
        ("shoulder-04",),
    )
    assert priced_area(on_disk) == pytest.approx(priced_area(joined.hide), rel=1e-9)
    assert sorted(state(shelf)) == [
        "cut/shoulder-04.hide.json", "journal.jsonl", "shoulder-04-r1.hide.json", "shoulder-05.hide.json"
    ]  # fmt: skip


def test_the_journal(shelf: Path, tmp_path: Path) -> None:
    plan = one_cut(ONE)
    reported = read_reported(report(tmp_path / "report.json", plan))
    keep_layout(plan, shelf, DAY, reported)
    (cut,) = read_journal(shelf)
    assert (cut.date, cut.title, cut.pieces, cut.currency) == (DAY, "Aprons", 1, "USD")
    # One apron of 394 × 492.5 from a hide of 1000 × 500.
    assert cut.yields.of_hide == pytest.approx(394 * 492.5 / 500_000)
    assert cut.areas.hide == 500_000
    (gone,) = cut.hides
    assert (gone.hide, gone.file, gone.price) == ("shoulder-04", "cut/shoulder-04.hide.json", Decimal(50))
    (joined,) = cut.remnants
    # The account's remnant is what is usable of it: 594 less 0.5 wide, 492.5 high; half its area price.
    credit = (Decimal("0.5") * 50 * Decimal(593.5 * 492.5) / 500_000).quantize(Decimal("0.01"))
    assert (joined.of, joined.price) == ("shoulder-04", credit)
    assert cut.cost["leather"] == 50 - credit
    assert cut.cost["total"] == 50 - credit


def test_two_hides_at_once_and_one_not_cut(tmp_path: Path) -> None:
    third = hide("shoulder-06")
    shelf = make_shelf(tmp_path / "shelf", [ONE, TWO])
    plan = layout(LaidHide(ONE, (put("a", 6, 1.5),)), LaidHide(third, ()), LaidHide(TWO, (put("b", 6, 1.5),)))
    kept = keep_layout(plan, shelf, DAY)
    assert names(shelf) == ["shoulder-04-r1", "shoulder-05-r1"]
    assert kept.cut.areas.hide == 1_000_000
    assert [one.hide.price for one in kept.remnants][1] is None


def test_what_comes_back_from_the_file_is_cut_again(shelf: Path, tmp_path: Path) -> None:
    keep_layout(one_cut(ONE), shelf, DAY)
    rest = read_hide(shelf / "shoulder-04-r1.hide.json")
    fob = Panel("fob", box(0, 0, 100, 50))
    plan = layout(LaidHide(rest, (put("f", 500, 100, "fob"),)), panels=(fob,), title="Fobs")
    write_layout(tmp_path / "layout.json", plan)
    keep_layout(read_layout(tmp_path / "layout.json"), shelf, DAY)
    assert names(shelf) == ["shoulder-04-r1-r1", "shoulder-05"]
    assert read_hide(shelf / "shoulder-04-r1-r1.hide.json").ancestry == ("shoulder-04", "shoulder-04-r1")


def test_sums_of_prices_hold_over_generations(shelf: Path, tmp_path: Path) -> None:
    """Credits lose no cent: what pieces paid and what the last remnant costs make the first price."""
    fob = Panel("fob", box(0, 0, 250, 250))
    plan, paid = one_cut(ONE), Decimal(0)
    for round_ in range(2):
        keep_layout(plan, shelf, DAY, read_reported(report(tmp_path / f"{round_}.json", plan, "0.8")))
        paid += read_journal(shelf)[-1].cost["leather"] or 0
        rest = next(one.hide for one in open_shelf(shelf).hides if one.hide.ancestry)
        plan = layout(LaidHide(rest, (put("f", 500, 100, "fob"),)), panels=(fob,), title=f"Fobs {round_}")
    assert rest.price
    assert paid + rest.price.amount == 50


# --- refused -----------------------------------------------------------------------------------


def test_the_same_layout_twice(shelf: Path) -> None:
    keep_layout(one_cut(ONE), shelf, DAY)
    refused(shelf, one_cut(ONE), '"Aprons" was cut on 2026-03-31')
    # The hide back on the shelf does not make it another layout.
    write_hide(shelf / "again.hide.json", ONE)
    refused(shelf, one_cut(ONE), "a layout is cut once")


def test_a_hide_that_was_cut(shelf: Path) -> None:
    keep_layout(one_cut(ONE), shelf, DAY)
    refused(shelf, one_cut(ONE, "Others"), '"shoulder-04" is not on this shelf', 'on 2026-03-31 for "Aprons"')


def test_a_hide_that_never_was_here(shelf: Path) -> None:
    refused(shelf, one_cut(hide("side-01")), '"side-01" is not on this shelf', "put its file here")


def test_all_hides_must_be_here_or_nothing_changes(shelf: Path) -> None:
    plan = layout(
        LaidHide(ONE, (put("a", 6, 1.5),)), LaidHide(hide("side-01"), (put("b", 6, 1.5),))
    )  # fmt: skip
    refused(shelf, plan, '"side-01"')


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outline": box(0, 0, 1001, 500)}, "outline differs"),
        ({"price": Price(Decimal(49), "USD", "hide")}, "price differs"),
        ({"price": None, "cut": "side"}, "cut, price differ;"),
    ],
)
def test_another_hide_of_that_name(shelf: Path, change: dict[str, Any], words: str) -> None:
    refused(shelf, one_cut(hide("shoulder-04", **change)), "is not the one of the layout", words)


def test_decimals_that_a_file_does_not_hold_make_no_other_hide(shelf: Path) -> None:
    fine = hide("fine", outline=box(0, 0, 1000.00000001, 500))
    write_hide(shelf / "fine.hide.json", fine)
    keep_layout(one_cut(fine), shelf, DAY)


def test_a_hide_that_is_here_twice(shelf: Path) -> None:
    write_hide(shelf / "copy.hide.json", ONE)
    refused(shelf, one_cut(ONE), "copy.hide.json and shoulder-04.hide.json")


def test_a_layout_that_breaks_a_rule(shelf: Path) -> None:
    before = state(shelf)
    with pytest.raises(InvalidLayout):
        keep_layout(layout(LaidHide(ONE, (put("a", 0, 0),))), shelf, DAY)
    assert state(shelf) == before


def test_a_layout_without_pieces(shelf: Path) -> None:
    refused(shelf, layout(LaidHide(ONE, ())), "nothing is cut")


def test_a_shelf_that_is_none(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for where, word in (("file", "is a file"), ("none", "no such folder")):
        with pytest.raises(InputError, match=word):
            keep_layout(one_cut(ONE), tmp_path / where, DAY)
        with pytest.raises(InputError, match=word):
            open_shelf(tmp_path / where)


def test_a_report_of_another_layout(shelf: Path, tmp_path: Path) -> None:
    other = read_reported(report(tmp_path / "r.json", one_cut(ONE, "Others")))
    refused(shelf, one_cut(ONE), "not the report of this layout", reported=other)
    fewer = layout(LaidHide(ONE, (put("a", 6, 1.5),)), LaidHide(TWO, (put("b", 6, 1.5),)))
    other = read_reported(report(tmp_path / "r.json", fewer))
    refused(shelf, one_cut(ONE), "not the report of this layout", reported=other)


def test_a_report_without_costs(shelf: Path, tmp_path: Path) -> None:
    (tmp_path / "r.json").write_text(json.dumps(report_to_json(account(one_cut(ONE)))))
    kept = keep_layout(one_cut(ONE), shelf, DAY, read_reported(tmp_path / "r.json"))
    assert kept.cut.cost == {}
    assert kept.cut.currency == "USD"


# --- names and files ---------------------------------------------------------------------------


def test_names_that_are_taken(shelf: Path) -> None:
    """A name on the shelf, in another case even, and one the journal knows are not given again."""
    write_hide(shelf / "x.hide.json", hide("Shoulder-04-R1"))
    (joined,) = keep_layout(one_cut(ONE), shelf, DAY).remnants
    assert joined.hide.name == "shoulder-04-r2"
    (shelf / joined.file).unlink()
    write_hide(shelf / "new.hide.json", replace(ONE, cut="side"))
    (joined,) = keep_layout(one_cut(replace(ONE, cut="side"), "More"), shelf, DAY).remnants
    assert joined.hide.name == "shoulder-04-r3"


@pytest.mark.parametrize("name", ["../../etc/x", "a/b", "über 7 [x]*?", "..", "n" * 200, "会" * 150])
def test_names_that_are_no_file_names(tmp_path: Path, name: str) -> None:
    shelf = make_shelf(tmp_path / "shelf", [])
    named = hide(name)
    write_hide(shelf / "h.hide.json", named)
    (joined,) = keep_layout(one_cut(named), shelf, DAY).remnants
    assert (shelf / joined.file).parent == shelf
    assert read_hide(shelf / joined.file).ancestry == (name,)
    assert {path.name for path in tmp_path.iterdir()} == {"shelf"}


def test_a_second_file_of_one_name_among_what_was_cut(shelf: Path) -> None:
    keep_layout(one_cut(ONE), shelf, DAY)
    again = replace(ONE, cut="side")
    write_hide(shelf / "shoulder-04.hide.json", again)
    kept = keep_layout(one_cut(again, "More"), shelf, DAY)
    assert kept.cut.hides[0].file == "cut/shoulder-04-2.hide.json"
    assert read_hide(shelf / "cut" / "shoulder-04.hide.json") == ONE


def test_what_is_no_hide_is_left_alone(shelf: Path) -> None:
    (shelf / "notes.txt").write_text("soak the belly")
    (shelf / "old").mkdir()
    (shelf / "torn.hide.json").write_text('{"kind": "hide"')
    found = open_shelf(shelf)
    assert found.strange == ("notes.txt", "old/")
    assert len(found.broken) == 1
    assert "torn.hide.json" in found.broken[0]
    keep_layout(one_cut(ONE), shelf, DAY)
    assert (shelf / "notes.txt").read_text() == "soak the belly"
    assert (shelf / "torn.hide.json").exists()
    refused(shelf, one_cut(hide("torn")), "torn.hide.json")


def test_a_journal_that_was_edited(shelf: Path) -> None:
    keep_layout(one_cut(ONE), shelf, DAY)
    journal = shelf / "journal.jsonl"
    good = journal.read_text()
    journal.write_text(good.rstrip("\n"))  # as some editors leave it
    keep_layout(one_cut(TWO), shelf, DAY)
    assert len(read_journal(shelf)) == 2
    for old, new, words in (
        ('"pieces": 1,', '"pieces": "one",', "line 1: pieces: must be a whole number"),
        ('"2026-03-31"', '"31.3.2026"', "line 1: date: must be a date like 2026-03-31"),
        ('"kind": "cut"', '"kind": "hide"', "line 1: kind"),
        ("{", "", "line 1"),
    ):
        journal.write_text(good.replace(old, new, 1))
        with pytest.raises(FileFormatError) as error:
            open_shelf(shelf)
        assert words in str(error.value)
        assert "remove the line" in str(error.value)


def test_a_big_shelf_keeps_every_other_hide(tmp_path: Path) -> None:
    others: list[Hide] = [hide(f"hide-{i:02}") for i in range(30)]
    shelf = make_shelf(tmp_path / "shelf", [ONE, *others])
    before = state(shelf)
    keep_layout(one_cut(ONE), shelf, DAY)
    after = state(shelf)
    assert all(
        after[file] == text for file, text in before.items() if file != "shoulder-04.hide.json"
    )  # fmt: skip
    assert len(open_shelf(shelf).hides) == 31


def test_the_panel_fits_as_its_docstring_says() -> None:
    assert PANEL.outline[2][:2] == (394, 492.5)
