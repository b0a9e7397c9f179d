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
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.layout_file import write_layout
from nesting.files.order import Cutting
from nesting.files.panel import Panel, Punch
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
