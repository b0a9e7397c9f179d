"""``hidewright trace`` and ``hidewright panel``: files written whole or not at all, notes numbered, JSON."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cli.main import app
from nesting.errors import InputError
from nesting.files.hide import Price
from nesting.files.hide_file import read_hide
from nesting.files.panel import Stretch
from nesting.files.panel_file import read_panel
from nesting.rings import area
from nesting.units import parse_area

SAMPLES = Path(__file__).parent.parent.parent / "sample_hides"

POINTS = "x_mm,y_mm\n0,0\n1100,0\n1130,420\n20,640\n"


def run(*arguments: Path | str) -> Result:
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def points(tmp_path: Path) -> Path:
    path = tmp_path / "points.csv"
    path.write_text(POINTS)
    return path


def test_sample_side(tmp_path: Path) -> None:
    out = tmp_path / "side-03.hide.json"
    result = run(
        "trace", SAMPLES / "side-03.dxf", "-o", out, "--weight", "4-5 oz", "--price", "9.50 USD/ft2",
        "--tannage", "vegetable", "--cut", "side",
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    hide = read_hide(out)
    assert (hide.name, hide.cut, hide.weight_oz, hide.tannage) == ("side-03", "side", (4, 5), "vegetable")
    assert hide.price == Price(Decimal("9.5"), "USD", "ft2")
    assert area(hide.outline) == pytest.approx(parse_area("23.5 ft2"), rel=1e-3)
    assert len(hide.straight_edges) == 1
    assert hide.spine is not None
    severities = sorted((flaw.kind, flaw.severity) for flaw in hide.flaws)
    assert severities == [
        ("brand", "weak"), ("flay cut", "weak"), ("hole", "hole"), ("loose belly", "weak"),
        ("scar", "blemish"), ("scratch", "blemish"), *[("tick", "blemish")] * 3,
    ]  # fmt: skip
    assert "  1. left out 1 text: it is not geometry" in result.stderr
    assert result.stdout == ""


def test_sample_knee_roll(tmp_path: Path) -> None:
    out = tmp_path / "knee-roll.panel.json"
    result = run(
        "panel", SAMPLES / "knee-roll.svg", "-o", out, "--pairing", "mirrored", "--accepts", "blemish",
        "--turns", "0,180",
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    panel = read_panel(out)
    assert (panel.pairing, panel.accepts, panel.turns_deg) == ("mirrored", ("blemish",), (0, 180))
    assert panel.stretch == Stretch(90, 15)
    assert [punch.diameter for punch in panel.punches] == [4, 4, 4, 4]
    assert (len(panel.cutouts), len(panel.marks), len(panel.hidden_zones)) == (1, 2, 1)
    assert [line.role for line in panel.lines] == ["stitch", "stitch", "fold"]


def test_samples_are_what_their_script_makes(tmp_path: Path) -> None:
    root = SAMPLES.parent
    made = subprocess.run(
        [sys.executable, "-m", "benchmarks.make_drawings", str(tmp_path)],
        cwd=root,
        capture_output=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    for name in ("knee-roll.svg", "side-03.dxf"):
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes()


def test_json_lists_every_note_with_its_code(tmp_path: Path) -> None:
    drawing = tmp_path / "points.csv"
    drawing.write_text(POINTS + "0,0\n")
    out = tmp_path / "s.hide.json"
    result = run("trace", drawing, "-o", out, "--name", "shoulder 9", "--json")
    told = json.loads(result.stdout)
    assert (told["kind"], told["name"], told["unit"], told["file"]) == ("hide", "shoulder 9", "mm", str(out))
    assert told["area_mm2"] == pytest.approx(area(read_hide(out).outline))
    assert [note["code"] for note in told["repairs"]] == ["dropped-closing-point"]
    assert {note["code"] for note in told["decisions"]} == {"outline", "straight-edge", "spine"}
    assert told["warnings"] == []


def test_notes_are_numbered_through(points: Path, tmp_path: Path) -> None:
    result = run("trace", points, "-o", tmp_path / "s.hide.json")
    numbers = [line.split(".")[0].strip() for line in result.stderr.splitlines() if line.startswith("  ")]
    assert numbers == [str(i + 1) for i in range(len(numbers))]
    assert len(numbers) == 3
    assert result.stderr.splitlines()[0] == f"{points}: drawn in mm"


def test_wishes_of_trace(points: Path, tmp_path: Path) -> None:
    out = tmp_path / "s.hide.json"
    result = run(
        "trace", points, "-o", out, "--straight", "bottom edge", "--straight", "20,640 0,0", "--spine", "0 1"
    )
    assert result.exit_code == 0, result.stderr
    hide = read_hide(out)
    assert hide.straight_edges == (((0, 0), (1100, 0)), ((20, 640), (0, 0)))
    assert hide.spine == ((0, 0), (0, 1))


def test_wishes_of_panel(points: Path, tmp_path: Path) -> None:
    out = tmp_path / "p.panel.json"
    result = run("panel", points, "-o", out, "--stretch", "90 15", "--accepts", "blemish,weak", "--json")
    assert result.exit_code == 0, result.stderr
    panel = read_panel(out)
    assert panel.stretch == Stretch(90, 15)
    assert panel.accepts == ("blemish", "weak")
    assert json.loads(result.stdout)["cutouts"] == 0


def test_wider_gaps_on_request(tmp_path: Path) -> None:
    drawing = tmp_path / "open.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="300mm" viewBox="0 0 200 300">'
        '<path d="M 0 0 h 200 v 300 h -200 v -299.5"/></svg>'
    )
    out = tmp_path / "p.panel.json"
    with pytest.raises(InputError, match=r'--join "0.6 mm"'):
        CliRunner().invoke(app, ["panel", str(drawing), "-o", str(out)], catch_exceptions=False)
    assert not out.exists()
    assert run("panel", drawing, "-o", out, "--join", "0.6 mm").exit_code == 0


@pytest.mark.parametrize(
    "wrong",
    [
        ["trace", "--tannage", "smoked"],
        ["trace", "--join", "2 cm"],
        ["trace", "--join", "wide"],
        ["panel", "--pairing", "twins"],
        ["panel", "--stretch", "90"],
        ["panel", "--stretch", "90 120"],
        ["panel", "--turns", "north"],
        ["panel", "--accepts", "hole"],
    ],
)
def test_usage_errors(points: Path, tmp_path: Path, wrong: list[str]) -> None:
    out = tmp_path / "x.json"
    result = run(wrong[0], points, "-o", out, *wrong[1:])
    assert result.exit_code == 2, result.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["trace", "gone.dxf"], "gone.dxf: there is no such file"),
        (["panel", "gone.svg"], "gone.svg: there is no such file"),
        (["trace", "points.csv", "--unit", "cubit"], "unknown unit"),
        (["trace", "points.csv", "--unit", "in"], "states that it is in mm"),
        (["trace", "points.csv", "--weight", "heavy"], "heavy"),
        (["trace", "points.csv", "--price", "cheap"], "is not a price"),
        (["trace", "crossed.csv"], "crosses or touches itself"),
    ],
)
def test_input_errors(
    points: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], said: str
) -> None:
    (tmp_path / "crossed.csv").write_text("x_mm,y_mm\n0,0\n900,900\n900,0\n0,900\n")
    monkeypatch.chdir(tmp_path)
    program = [sys.executable, "-c", "from cli.main import main; main()", *arguments, "-o", "x.json"]
    done = subprocess.run(program, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert said in done.stderr
    assert done.stderr.startswith("hidewright: ")
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""
    assert not (tmp_path / "x.json").exists()
