"""``hidewright keep``: from a layout file to a changed shelf, in words and as JSON."""

from __future__ import annotations

import json
import shutil
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cli.main import app, main
from nesting.account import account, report_to_json
from nesting.files.hide_file import read_hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.layout_file import write_layout
from nesting.files.order import Order
from nesting.files.order_file import read_order
from nesting.rings import Pose

SAMPLES = Path(__file__).parent.parent.parent / "sample_hides"


def keep(*arguments: Path | str) -> Result:
    return CliRunner().invoke(app, ["keep", *map(str, arguments)])


def laid(order: Order, second: float = 300) -> Layout:
    """One pair of half-chaps on the first sample shoulder, the second of it ``second`` mm up."""
    placements = tuple(
        Placement(f"half-chap-01-{side}", "half-chap", Pose(side == "R", -90, (200, up)), "half-chap-01")
        for side, up in (("L", 200), ("R", second))
    )
    panels = tuple(line.panel for line in order.lines)
    return Layout(order.title, 1, order.cutting, panels, (LaidHide(order.hides[0], placements),))


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A folder with a shelf of two sample shoulders, a layout and its report."""
    order = read_order(SAMPLES / "half-chaps.toml")
    (tmp_path / "shelf").mkdir()
    for hide in ("shoulder-04", "shoulder-05"):
        shutil.copy(SAMPLES / f"{hide}.hide.json", tmp_path / "shelf")
    write_layout(tmp_path / "layout.json", laid(order))
    write_layout(tmp_path / "bad.json", laid(order, 100))
    (tmp_path / "report.json").write_text(json.dumps(report_to_json(account(laid(order), order))))
    return tmp_path


def test_in_words(bench: Path) -> None:
    (bench / "report.json").unlink()
    result = keep(bench / "layout.json", "--shelf", bench / "shelf", "--date", "2026-03-31")
    assert result.exit_code == 0
    assert result.stdout == ""
    left, joined, priced, told = result.stderr.splitlines()
    assert left == "left the shelf:   shoulder-04 (its file is cut/shoulder-04.hide.json now)"
    assert joined.startswith("joined the shelf: shoulder-04-r1, 6.5")
    assert " USD, " in joined
    assert "share of the hide's price by area" in priced
    assert told.startswith(
        'the cut of "Half-chaps for a riding school" on 2026-03-31: yield 8.2 % of the hide'
    )


def test_with_its_report(bench: Path) -> None:
    result = keep(
        bench / "layout.json", "--shelf", bench / "shelf", "--report", bench / "report.json", "--json"
    )
    assert result.exit_code == 0
    cut = json.loads(result.stdout)["cut"]
    said = json.loads((bench / "report.json").read_text())["cost"]
    assert cut["date"] == date.today().isoformat()
    assert cut["cost"] == said["total"]
    # The remnant costs what the report credited for it.
    remnant = read_hide(bench / "shelf" / "shoulder-04-r1.hide.json")
    assert remnant.price
    assert remnant.price.amount == Decimal(str(said["per_hide"][0]["remnant_credit"]))
    assert cut["remnants"][0]["price"] == float(remnant.price.amount)
    assert json.loads((bench / "shelf" / "journal.jsonl").read_text()) == cut


def test_the_report_beside_the_layout_is_used(bench: Path) -> None:
    """The journal knows the cost without being told where the report lies."""
    result = keep(bench / "layout.json", "--shelf", bench / "shelf", "--json")
    assert result.exit_code == 0, result.stderr
    said = json.loads((bench / "report.json").read_text())["cost"]
    assert json.loads(result.stdout)["cut"]["cost"] == said["total"]
    assert f"are those of {bench / 'report.json'}" in result.stderr


@pytest.mark.parametrize("what", ["other", "broken"])
def test_a_report_of_something_else_beside_the_layout(bench: Path, what: str) -> None:
    """Named it is refused; just lying there it is told of and left alone."""
    report = bench / "report.json"
    text = report.read_text()
    report.write_text(text.replace("Half-chaps", "Bags") if what == "other" else text[:-20])
    words = (bench / "layout.json", "--shelf", bench / "shelf")
    assert keep(*words, "--report", report).exit_code == 1
    assert not (bench / "shelf" / "cut").exists()
    result = keep(*words, "--json")
    assert result.exit_code == 0, result.stderr
    assert f"{report}: " in result.stderr
    assert "; it is not used" in result.stderr
    assert json.loads(result.stdout)["cut"]["cost"] is None


def test_the_second_time_is_refused(bench: Path, capsys: pytest.CaptureFixture[str], monkeypatch) -> None:
    words = ["keep", str(bench / "layout.json"), "--shelf", str(bench / "shelf"), "--date", "2026-03-31"]
    monkeypatch.setattr("sys.argv", ["hidewright", *words])
    with pytest.raises(SystemExit) as first:
        main()
    assert not first.value.code
    capsys.readouterr()
    with pytest.raises(SystemExit) as second:
        main()
    assert second.value.code == 1
    assert capsys.readouterr().err == (
        f'hidewright: {bench / "shelf"}: the layout "Half-chaps for a riding school" was cut on 2026-03-31; '
        "a layout is cut once\n"
    )


def test_a_layout_that_breaks_a_rule(bench: Path) -> None:
    result = keep(bench / "bad.json", "--shelf", bench / "shelf")
    assert result.exit_code == 1
    assert "overlap" in str(result.exception)
    assert "the shelf is as it was" in str(result.exception)
    assert sorted(path.name for path in (bench / "shelf").iterdir()) == [
        "shoulder-04.hide.json",
        "shoulder-05.hide.json",
    ]


def test_usage(bench: Path) -> None:
    assert keep().exit_code == 2
    assert keep(bench / "layout.json").exit_code == 2
    for day in ("31.3.2026", "2026-02-30", ""):
        result = keep(bench / "layout.json", "--shelf", bench / "shelf", "--date", day)
        assert result.exit_code == 2
        assert "2026-03-31" in result.stderr
