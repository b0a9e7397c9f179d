"""``hidewright layout --keep``: a late find; what is said and written of it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from cli.main import app
from nesting import assert_layout_valid
from nesting.files.layout_file import read_layout
from nesting.files.report_file import check_report

HIDE: dict[str, Any] = {
    "kind": "hide", "version": 1, "name": "offcut", "unit": "mm", "weight_oz": [4, 5],
    "outline": [[0, 0], [420, 0], [400, 260], [10, 250]], "straight_edges": [[[0, 0], [420, 0]]],
    "flaws": [],
}  # fmt: skip
FOB = {
    "kind": "panel", "version": 1, "name": "fob", "unit": "mm", "pairing": "mirrored",
    "outline": [[0, 0], [60, 0, 0.2], [70, 40], [10, 45]],
}  # fmt: skip
ORDER = 'hides = ["*.hide.json"]\n[[pieces]]\npanel = "fob.panel.json"\npairs = 3\n'
BOUND = ("--rounds", "3", "--workers", "1")


def lay(folder: Path, out: str, *options: str) -> Result:
    return CliRunner().invoke(
        app, ["layout", str(folder / "fobs.toml"), "--out", str(folder / out), *options]
    )


def write(path: Path, data: dict[str, Any]) -> None:
    path.write_text(json.dumps(data))


@pytest.fixture
def laid(tmp_path: Path) -> Path:
    """A folder with an order and its layout in ``first``."""
    write(tmp_path / "offcut.hide.json", HIDE)
    write(tmp_path / "fob.panel.json", FOB)
    (tmp_path / "fobs.toml").write_text(ORDER)
    assert lay(tmp_path, "first", *BOUND).exit_code == 0
    return tmp_path


def find_under(folder: Path, piece: str) -> None:
    """A hole under the middle of a piece."""
    (laid,) = read_layout(folder / "first" / "layout.json").hides
    x, y = next(p for p in laid.placements if p.piece == piece).pose.apply_point((35, 20))
    hole = {"kind": "nail", "severity": "hole", "outline": [[x - 3, y, 1.0], [x + 3, y, 1.0]]}
    write(folder / "offcut.hide.json", HIDE | {"flaws": [hole]})


def raw_placements(path: Path) -> dict[str, str]:
    """Each placement by its piece, as it stands in the file."""
    text = path.read_text()
    found = re.findall(r'\{[^{}]*"piece": "([^"]+)"[^{}]*\}', text)
    bodies = re.findall(r'\{[^{}]*"piece": "[^"]+"[^{}]*\}', text)
    return dict(zip(found, bodies, strict=True))


def test_few_move_and_the_others_keep_their_bytes(laid: Path) -> None:
    find_under(laid, "fob-01-L")
    result = lay(laid, "second", "--keep", str(laid / "first" / "layout.json"), "--json", *BOUND[:2])
    assert result.exit_code == 0, result.stderr
    out = laid / "second"
    assert_layout_valid(read_layout(out / "layout.json"))
    said = json.loads(result.stdout)
    kept = said.pop("kept")
    assert said == json.loads((out / "report.json").read_text())
    check_report(said, "report.json")
    assert kept["moved"] == ["fob-01-L"]
    assert len(kept["stayed"]) == 5
    assert "moved: 1 (fob-01-L)" in result.stderr
    assert "where they lay: 5 (fob-01-R, " in result.stderr
    before, after = (raw_placements(laid / name / "layout.json") for name in ("first", "second"))
    assert len(before) == 6
    assert {name for name in before if after[name] != before[name]} == {"fob-01-L"}
    svg = (out / "layout.svg").read_text()
    assert "5 pieces lie where they lay; laid anew: fob-01-L" in svg


def test_nothing_found_changes_nothing(laid: Path) -> None:
    result = lay(laid, "second", "--keep", str(laid / "first" / "layout.json"), "--rounds", "2")
    assert result.exit_code == 0
    assert "moved: none" in result.stderr
    for name in ("report.json", "cut.dxf"):
        assert (laid / "first" / name).read_bytes() == (laid / "second" / name).read_bytes()


def test_no_room_any_more_is_status_3(laid: Path) -> None:
    ring = [[-1, 60], [230, 60], [230, -1], [430, -1], [430, 270], [-1, 270]]
    hole = {"kind": "burn", "severity": "hole", "outline": ring}
    write(laid / "offcut.hide.json", HIDE | {"flaws": [hole]})
    result = lay(laid, "second", "--keep", str(laid / "first" / "layout.json"), "--rounds", "4")
    assert result.exit_code == 3, result.stderr
    assert "no room any more: " in result.stderr
    assert_layout_valid(read_layout(laid / "second" / "layout.json"))


def test_a_fill_piece_that_finds_no_room_any_more_is_status_3(laid: Path) -> None:
    """It lay and lies no more, though the order asks for no number of them."""
    (laid / "fobs.toml").write_text(ORDER.replace("pairs = 3", "fill = true"))
    assert lay(laid, "first", *BOUND).exit_code == 0
    hole = {"kind": "burn", "severity": "hole", "outline": [[230, -1], [430, -1], [430, 270], [230, 270]]}
    write(laid / "offcut.hide.json", HIDE | {"flaws": [hole]})
    result = lay(laid, "second", "--keep", str(laid / "first" / "layout.json"), "--rounds", "4")
    assert result.exit_code == 3, result.stderr
    assert "no room any more: " in result.stderr
    assert read_layout(laid / "second" / "layout.json").unplaced == ()


def test_any_number_of_workers_writes_the_same(laid: Path) -> None:
    find_under(laid, "fob-02-L")
    keep = ("--keep", str(laid / "first" / "layout.json"), "--rounds", "5")
    for workers in ("1", "2"):
        assert lay(laid, workers, *keep, "--workers", workers).exit_code == 0
    for name in ("layout.json", "report.json", "cut.dxf"):
        assert (laid / "1" / name).read_bytes() == (laid / "2" / name).read_bytes()


def test_the_layout_of_another_order(laid: Path) -> None:
    write(laid / "offcut.hide.json", HIDE | {"name": "bend"})
    result = lay(laid, "second", "--keep", str(laid / "first" / "layout.json"), "--rounds", "2")
    assert result.exit_code == 1
    assert 'layout.json: the layout lies on "offcut", and none of the order\'s hides' in str(result.exception)
    assert not (laid / "second").exists()


def test_no_leather_left_writes_nothing(laid: Path) -> None:
    hole = {"kind": "burn", "severity": "hole", "outline": [[-1, -1], [430, -1], [430, 270], [-1, 270]]}
    write(laid / "offcut.hide.json", HIDE | {"flaws": [hole]})
    result = lay(laid, "second", "--keep", str(laid / "first" / "layout.json"), "--rounds", "2")
    assert result.exit_code == 1
    assert "nothing can be laid" in str(result.exception)
    assert not (laid / "second").exists()


def test_a_file_that_is_no_layout(laid: Path) -> None:
    result = lay(laid, "second", "--keep", str(laid / "offcut.hide.json"), "--rounds", "2")
    assert result.exit_code == 1
