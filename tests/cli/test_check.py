"""``hidewright check``: one line or one message a file, every file looked at, layouts judged."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cli.main import app
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.layout_file import write_layout
from nesting.files.order_file import read_order
from nesting.rings import Pose

SAMPLES = Path(__file__).parent.parent.parent / "sample_hides"


def check(*arguments: Path | str) -> Result:
    return CliRunner().invoke(app, ["check", *map(str, arguments)])


def laid(path: Path, second: float) -> Path:
    """A layout of one pair on the first sample shoulder, the second of it ``second`` mm up."""
    order = read_order(SAMPLES / "half-chaps.toml")
    placements = tuple(
        Placement(f"half-chap-01-{side}", "half-chap", Pose(side == "R", -90, (200, up)), "half-chap-01")
        for side, up in (("L", 200), ("R", second))
    )
    panels = tuple(line.panel for line in order.lines)
    write_layout(path, Layout(order.title, 1, order.cutting, panels, (LaidHide(order.hides[0], placements),)))
    return path


def test_samples_in_words() -> None:
    result = check(
        SAMPLES / "shoulder-04.hide.json", SAMPLES / "half-chap.panel.json", SAMPLES / "half-chaps.toml"
    )
    assert result.exit_code == 0
    assert result.stderr == ""
    hide, panel, order = result.stdout.splitlines()
    assert hide.startswith("ok  ")
    assert hide.endswith('hide "shoulder-04": 7.25 ft² (67.4 dm²), 4-5 oz (1.6-2.0 mm), 5 flaws')
    assert panel.endswith('panel "half-chap": 0.298 ft² (2.77 dm²), mirrored pairs, 0 cut-outs, 6 punches')
    assert order.endswith("6 pairs of half-chap from 2 hides of 13.85 ft² (128.7 dm²)")


def test_orders_in_words() -> None:
    result = check(SAMPLES / "fobs.toml", SAMPLES / "workshop.toml")
    fobs, workshop = result.stdout.splitlines()
    assert "4 pairs of half-chap, as many key-fob as fit from 1 hide of" in fobs
    assert "9 pieces of brow-band" in workshop


def test_a_layout_is_judged(tmp_path: Path) -> None:
    good, bad = laid(tmp_path / "good.json", 300), laid(tmp_path / "bad.json", 100)
    result = check(good, bad)
    assert result.exit_code == 1
    assert 'good.json: layout "Half-chaps for a riding school": valid, 2 pieces (0.596 ft²' in result.stdout
    (message,) = result.stderr.splitlines()
    assert message.startswith(f"hidewright: {bad}: the layout is not valid: ")
    assert "overlap" in message


def test_every_file_is_looked_at(tmp_path: Path) -> None:
    broken = tmp_path / "broken.hide.json"
    broken.write_text(
        '{"kind": "hide", "version": 1, "name": "b", "outline": [[0, 0], [9, 9], [9, 0], [0, 9]]}'
    )
    result = check(tmp_path / "none.json", broken, SAMPLES / "cuff.panel.json")
    assert result.exit_code == 1
    assert len(result.stdout.splitlines()) == 1
    first, second = result.stderr.splitlines()
    assert (
        first == f"hidewright: {tmp_path / 'none.json'}: there is no such file; check the name and the folder"
    )
    assert second.startswith(f"hidewright: {broken}: outline: crosses or touches itself near (4.5, 4.5)")


def test_a_faulty_order_names_itself_and_the_file_at_fault(tmp_path: Path) -> None:
    (tmp_path / "p.json").write_text("[]")
    (tmp_path / "o.toml").write_text('hides = ["*.hide.json"]\n[[pieces]]\npanel = "p.json"\npieces = 1')
    message = check(tmp_path / "o.toml").stderr
    assert message.startswith(
        f"hidewright: {tmp_path / 'o.toml'}: {tmp_path / 'p.json'}: must hold one object"
    )


def test_json(tmp_path: Path) -> None:
    result = check(
        "--json", SAMPLES / "cuff.panel.json", laid(tmp_path / "l.json", 300), tmp_path / "none.json"
    )
    assert result.exit_code == 1
    panel, layout, none = json.loads(result.stdout)["files"]
    # 36 in² by geometry.
    assert panel["area_mm2"] == pytest.approx(36 * 645.16)
    assert (panel["ok"], panel["kind"], panel["name"]) == (True, "panel", "cuff")
    assert (layout["kind"], layout["pieces"], layout["hides"], layout["unplaced"]) == ("layout", 2, 1, 0)
    assert none["ok"] is False
    assert none["error"] in result.stderr


def test_a_report(tmp_path: Path) -> None:
    areas = dict.fromkeys(("margins", "flaws", "pieces", "between", "remnant"), 1.0) | {
        "hide": 5.0,
        "usable": 3.0,
    }
    path = tmp_path / "report.json"
    path.write_text(json.dumps({"kind": "report", "version": 1, "areas_mm2": areas}))
    assert "report: its areas add up" in check(path).stdout
    path.write_text(json.dumps({"kind": "report", "version": 1, "areas_mm2": areas | {"hide": 6}}))
    assert check(path).exit_code == 1


def test_usage() -> None:
    assert check().exit_code == 2
