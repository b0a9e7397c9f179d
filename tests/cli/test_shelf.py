"""``hidewright shelf``: the table, the sums, the chart, and clear words about what is odd."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cli.main import app
from nesting.files.hide import Hide, Price
from nesting.files.hide_file import write_hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.rings import Pose
from nesting.shelf import keep_layout

FT = 304.8
"""mm."""


def square(name: str, feet: float, **rest: object) -> Hide:
    """A hide of ``feet`` × 1 ft, so of ``feet`` square feet."""
    corners = ((0, 0, 0), (feet * FT, 0, 0), (feet * FT, FT, 0), (0, FT, 0))
    return Hide(name, corners, **rest)  # type: ignore[arg-type]


FORTY = Price(Decimal(40), "USD", "hide")
HIDES = [
    square(
        "shoulder-04", 4, cut="single shoulder", weight_oz=(4.0, 5.0), price=Price(Decimal(40), "USD", "hide")
    ),
    square("shoulder-05", 3, weight_oz=(4.0, 5.0), price=Price(Decimal(9), "USD", "ft2")),
    square("side-02", 2),
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "shelf").mkdir()
    for hide in HIDES:
        write_hide(tmp_path / "shelf" / f"{hide.name}.hide.json", hide)
    return tmp_path / "shelf"


def shelf(*arguments: Path | str) -> Result:
    return CliRunner().invoke(app, ["shelf", *map(str, arguments)])


def cut_one(folder: Path) -> None:
    panel = Panel("fob", ((0, 0, 0), (FT, 0, 0), (FT, FT - 12, 0), (0, FT - 12, 0)))
    placed = Placement("fob-1", "fob", Pose(False, 0.0, (10.0, 6.0)))
    plan = Layout("Fobs", 1, Cutting(), (panel,), (LaidHide(HIDES[0], (placed,)),))
    keep_layout(plan, folder, date(2026, 3, 31))


def test_the_table(folder: Path) -> None:
    result = shelf(folder)
    assert (result.exit_code, result.stderr) == (0, "")
    # 1 ft² is 9.290304 dm².
    assert result.stdout.splitlines() == [
        "weight                      hide         cut               ft²   dm²  worth",
        "4-5 oz (1.6-2.0 mm)         shoulder-04  single shoulder  4.00  37.2  40.00 USD",
        "                            shoulder-05                   3.00  27.9  27.00 USD",
        "4-5 oz (1.6-2.0 mm) in all  2 hides                       7.00  65.0  67.00 USD",
        "",
        "weight unknown              side-02                       2.00  18.6  not known",
        "",
        "on the shelf                3 hides                       9.00  83.6  67.00 USD, 1 without a price",
    ]


def test_yields_so_far(folder: Path) -> None:
    cut_one(folder)
    lines = shelf(folder).stdout.splitlines()
    assert any("shoulder-04-r1" in line and "remnant of single shoulder" in line for line in lines)
    assert "3 hides, 1 of them remnant" in lines[-5]
    assert lines[-3].startswith("cut on")
    # 1 ft less 12 mm, of 4 ft.
    assert lines[-2].split()[:5] == ["2026-03-31", "Fobs", "1", f"{100 * (FT - 12) / (4 * FT):.1f}", "%"]
    assert lines[-2].endswith("not known")
    # Off the left end go 10 + 304.8 + 0.55 mm of it, all 304.8 mm high.
    assert lines[-1].split() == ["so", "far", "1", f"{100 * (FT - 12) / 315.35:.1f}", "%"]


def test_json(folder: Path) -> None:
    cut_one(folder)
    found = json.loads(shelf(folder, "--json").stdout)
    assert [hide["name"] for hide in found["hides"]] == ["shoulder-04-r1", "shoulder-05", "side-02"]
    assert found["hides"][0]["ancestry"] == ["shoulder-04"]
    four, unknown = found["by_weight"]
    assert (four["weight_oz"], four["hides"], four["remnants"], four["unpriced"]) == ([4, 5], 2, 1, 0)
    assert (unknown["weight_oz"], unknown["worth"], unknown["unpriced"]) == (None, {}, 1)
    assert found["total"]["area_mm2"] == pytest.approx(sum(hide["area_mm2"] for hide in found["hides"]))
    assert found["journal"][0]["title"] == "Fobs"
    assert found["journal"][0]["yield"]["of_hide"] == pytest.approx((FT - 12) / (4 * FT))
    assert found["share_of_used"] == pytest.approx((FT - 12) / 315.35, rel=1e-4)


def test_the_chart(folder: Path, tmp_path: Path) -> None:
    cut_one(folder)
    result = shelf(folder, "--chart", tmp_path / "yields.png")
    assert result.exit_code == 0
    assert (tmp_path / "yields.png").read_bytes().startswith(b"\x89PNG")
    assert str(tmp_path / "yields.png") in result.stderr


def test_no_chart_where_nothing_was_cut(folder: Path, tmp_path: Path) -> None:
    result = shelf(folder, "--chart", tmp_path / "yields.png")
    assert result.exit_code == 1
    assert "nothing was cut" in str(result.exception)
    assert "on the shelf" in result.stdout
    assert not (tmp_path / "yields.png").exists()


def test_an_empty_shelf(tmp_path: Path) -> None:
    result = shelf(tmp_path)
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == "the shelf is empty: put hide files (NAME.hide.json) into the folder\n"
    assert json.loads(shelf(tmp_path, "--json").stdout)["total"]["hides"] == 0


def test_no_shelf(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for where, words in (("file", "is a file; a shelf is a folder"), ("none", "there is no such folder")):
        result = shelf(tmp_path / where)
        assert result.exit_code == 1
        assert words in str(result.exception)


def test_what_is_odd_in_the_folder(folder: Path) -> None:
    (folder / "notes.txt").write_text("x")
    (folder / "torn.hide.json").write_text("{")
    write_hide(folder / "copy.hide.json", replace(HIDES[0], cut="side"))
    result = shelf(folder)
    assert result.exit_code == 1
    assert len(result.stdout.splitlines()) == 9
    alone, twice, broken = result.stderr.splitlines()
    assert alone.endswith(": notes.txt")
    assert '"shoulder-04"' in twice
    assert str(folder / "torn.hide.json") in broken
    assert len(json.loads(shelf(folder, "--json").stdout)["broken"]) == 1
