"""``hidewright export``: what is asked for is written whole, and only of a layout that holds its rules."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.main import app, main
from nesting.files.hide import Hide
from nesting.files.hide_file import write_hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.layout_file import write_layout
from nesting.files.order import Cutting
from nesting.files.panel import Panel, Punch
from nesting.files.panel_file import write_panel
from nesting.rings import Pose

FOB = Panel("fob", ((0, 0, 0), (60, 0, 0), (60, 40, 0.2), (0, 40, 0)), punches=(Punch((10, 10), 4.0),))
HIDE = Hide("offcut-1", ((0, 0, 0), (300, 0, 0), (300, 200, 0), (0, 200, 0)))
LAYOUT = Layout(
    "Fobs",
    1,
    Cutting(),
    (FOB,),
    (
        LaidHide(
            HIDE, tuple(Placement(f"fob-{i}", "fob", Pose(False, 0.0, (70.0 * i, 20.0))) for i in (1, 2, 3))
        ),
    ),
)


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "layout.json"
    write_layout(path, LAYOUT)
    return path


def run(monkeypatch: pytest.MonkeyPatch, *words: object) -> int:
    """The program's exit status, as the shell sees it."""
    monkeypatch.setattr(sys, "argv", ["hidewright", *map(str, words)])
    with pytest.raises(SystemExit) as stopped:
        main()
    return int(stopped.value.code or 0)


def test_writes_all_kinds(layout_file, tmp_path, monkeypatch):
    names = {"dxf": b"  0\n", "svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF-"}
    options = [part for kind in names for part in (f"--{kind}", tmp_path / f"out.{kind}")]
    assert run(monkeypatch, "export", layout_file, *options) == 0
    for kind, start in names.items():
        assert (tmp_path / f"out.{kind}").read_bytes().startswith(start)


def test_r12_and_letter_on_request(layout_file, tmp_path, monkeypatch):
    dxf, pdf = tmp_path / "a.dxf", tmp_path / "a.pdf"
    words = ["--dxf", dxf, "--dxf-version", "r12", "--pdf", pdf, "--paper", "letter"]
    assert run(monkeypatch, "export", layout_file, *words) == 0
    assert "AC1009" in dxf.read_text("cp1252")
    assert b"/MediaBox [ 0 0 612 792 ]" in pdf.read_bytes()


def test_json_says_what_was_written(layout_file, tmp_path):
    target = tmp_path / "a.dxf"
    result = CliRunner().invoke(app, ["export", str(layout_file), "--dxf", str(target), "--json"])
    assert result.exit_code == 0
    assert json.loads(result.stdout) == {"written": {"dxf": str(target)}}


def test_a_layout_without_pieces_is_written_and_said(layout_file, tmp_path, monkeypatch, capsys):
    bare = replace(LAYOUT, hides=(LaidHide(HIDE, ()),))
    write_layout(tmp_path / "bare.json", bare)
    target = tmp_path / "out.dxf"
    assert run(monkeypatch, "export", tmp_path / "bare.json", "--dxf", target) == 0
    assert target.exists()
    assert "nothing to cut" in capsys.readouterr().err
    assert run(monkeypatch, "export", layout_file, "--dxf", target) == 0
    assert "nothing to cut" not in capsys.readouterr().err


def test_nothing_asked_is_a_usage_error(layout_file, monkeypatch, capsys):
    assert run(monkeypatch, "export", layout_file) == 2
    assert "--dxf" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words",
    [["--dxf", "a", "--svg", "a"], ["--dxf", "a", "--dxf-version", "R9"], ["--pdf", "a", "--paper", "a3"]],
)
def test_other_usage_errors(layout_file, tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, "export", layout_file, *words) == 2
    assert not (tmp_path / "a").exists()


def test_an_overlap_is_refused_and_nothing_is_written(tmp_path, monkeypatch, capsys):
    laid = LAYOUT.hides[0]
    moved = replace(laid.placements[1], pose=Pose(False, 0.0, (100.0, 20.0)))
    tampered = replace(
        LAYOUT, hides=(replace(laid, placements=(laid.placements[0], moved, laid.placements[2])),)
    )
    path = tmp_path / "layout.json"
    write_layout(path, tampered)
    assert run(monkeypatch, "export", path, "--dxf", tmp_path / "a.dxf", "--svg", tmp_path / "a.svg") == 1
    error = capsys.readouterr().err
    assert error.startswith("hidewright: ")
    assert "fob-1" in error
    assert "fob-2" in error
    assert sorted(p.name for p in tmp_path.iterdir()) == ["layout.json"]


def test_no_such_file(tmp_path, monkeypatch, capsys):
    assert run(monkeypatch, "export", tmp_path / "none.json", "--dxf", tmp_path / "a.dxf") == 1
    assert "none.json" in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_one_message(layout_file, tmp_path, monkeypatch, capsys):
    assert run(monkeypatch, "export", layout_file, "--dxf", tmp_path / "no" / "a.dxf") == 1
    assert capsys.readouterr().err.count("hidewright:") == 1


def test_same_bytes_twice(layout_file, tmp_path, monkeypatch):
    for name in ("one", "two"):
        words = [
            part
            for kind in ("dxf", "svg", "png", "pdf")
            for part in (f"--{kind}", tmp_path / f"{name}.{kind}")
        ]
        assert run(monkeypatch, "export", layout_file, *words) == 0
    for kind in ("dxf", "svg", "png", "pdf"):
        assert (tmp_path / f"one.{kind}").read_bytes() == (tmp_path / f"two.{kind}").read_bytes()


def test_asking_for_dxf_loads_no_chart_library(layout_file, tmp_path):
    code = (
        "import sys; sys.argv = ['hidewright', 'export', *sys.argv[1:]]\n"
        "from cli.main import main\n"
        "try: main()\n"
        "except SystemExit as stop: assert not stop.code, stop.code\n"
        "assert 'ezdxf' in sys.modules and 'matplotlib.figure' not in sys.modules"
    )
    words = [sys.executable, "-c", code, str(layout_file), "--dxf", str(tmp_path / "a.dxf")]
    subprocess.run(words, check=True, env=dict(os.environ), capture_output=True)


def test_kerf_compensation_is_said_and_needs_a_kerf(tmp_path, layout_file, monkeypatch, capsys):
    target = tmp_path / "a.dxf"
    assert run(monkeypatch, "export", layout_file, "--dxf", target, "--kerf-compensated") == 1
    assert "no kerf" in capsys.readouterr().err
    assert not target.exists()
    write_layout(layout_file, replace(LAYOUT, cutting=Cutting("laser", kerf_mm=0.2)))
    assert run(monkeypatch, "export", layout_file, "--dxf", target, "--kerf-compensated") == 0
    assert "half the kerf of 0.2 mm" in target.read_text("cp1252")


def test_kerf_compensation_is_not_for_paper(tmp_path, layout_file, monkeypatch):
    assert run(monkeypatch, "export", layout_file, "--pdf", tmp_path / "a.pdf", "--kerf-compensated") == 2


ORDER = """
hides = ["offcut-1.hide.json"]
[[pieces]]
panel = "fob.panel.json"
pieces = 3
lace = "4 in"
hardware = [{item = "split ring", count = 1, each = 0.11}]
[costs]
dye = {price = 0.3, per = "1 ft2"}
[work]
dye = {minutes = 5, wait_hours = 2}
"""


@pytest.fixture
def order_file(tmp_path):
    write_hide(tmp_path / "offcut-1.hide.json", HIDE)
    write_panel(tmp_path / "fob.panel.json", FOB)
    path = tmp_path / "order.toml"
    path.write_text(ORDER)
    return path


def test_a_job_sheet_on_paper_and_as_text(layout_file, order_file, tmp_path, monkeypatch):
    text, paper = tmp_path / "job.md", tmp_path / "job.pdf"
    both = ("--job", text, "--job", paper)
    assert run(monkeypatch, "export", layout_file, *both, "--order", order_file) == 0
    assert "| hardware | split ring | 3 |" in text.read_text()
    assert "| 15 min | 2 h |" in text.read_text()
    assert paper.read_bytes().startswith(b"%PDF-")
    assert run(monkeypatch, "export", layout_file, "--job", text) == 0
    assert "split ring" not in text.read_text()


def test_the_order_of_a_job_whose_hides_were_cut_since(layout_file, order_file, tmp_path, monkeypatch):
    """The layout holds its hides; those that the order names may have left the shelf."""
    order_file.write_text(ORDER.replace('"offcut-1.hide.json"', '"gone-*.hide.json"'))
    text = tmp_path / "job.md"
    assert run(monkeypatch, "export", layout_file, "--job", text, "--order", order_file) == 0
    assert "split ring" in text.read_text()


def test_an_order_adds_its_costs_to_the_drawing(layout_file, order_file, tmp_path, monkeypatch):
    target = tmp_path / "a.svg"
    assert run(monkeypatch, "export", layout_file, "--svg", target) == 0
    assert "cost" not in target.read_text()
    assert run(monkeypatch, "export", layout_file, "--svg", target, "--order", order_file) == 0
    assert "cost not known: a hide has no price" in target.read_text()


@pytest.mark.parametrize(
    "words",
    [
        ["--job", "a.txt"],
        ["--job", "a"],
        ["--job", "a.md", "--job", "b"],
        ["--job", "a.md", "--job", "a.md"],
        ["--dxf", "a.dxf", "--order", "o.toml"],
        ["--order", "o.toml"],
    ],
)
def test_job_usage_errors(layout_file, tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    assert run(monkeypatch, "export", layout_file, *words) == 2
    assert sorted(p.name for p in tmp_path.iterdir()) == ["layout.json"]


def test_nothing_is_written_over_what_is_read(layout_file, order_file, monkeypatch):
    before = layout_file.read_text()
    assert run(monkeypatch, "export", layout_file, "--dxf", layout_file) == 2
    assert layout_file.read_text() == before


def test_an_order_that_is_not_the_layouts_is_refused(layout_file, order_file, tmp_path, monkeypatch, capsys):
    write_panel(tmp_path / "fob.panel.json", replace(FOB, name="tag"))
    assert run(monkeypatch, "export", layout_file, "--job", tmp_path / "a.md", "--order", order_file) == 1
    assert 'does not name "fob"' in capsys.readouterr().err
    assert not (tmp_path / "a.md").exists()
