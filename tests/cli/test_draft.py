"""``hidewright draft``: options, files of measures, pictures, JSON, and one message on bad input."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import get_args

import pytest
from typer.testing import CliRunner, Result

from cli.draft import SHAPES, SIDES, TIPS
from cli.main import app, main
from nesting.files.measures import ShapeName, Side, Tip
from nesting.files.panel import Stretch
from nesting.files.panel_file import read_panel
from nesting.rings import area

SAMPLES = Path(__file__).parent.parent.parent / "sample_hides"
WRAP = ["wrap", "--lower", "7 in", "--upper", "8 in", "--height", "4 1/2 in"]


def run(*arguments: Path | str) -> Result:
    return CliRunner().invoke(app, ["draft", *map(str, arguments)])


def test_a_wrap_from_options(tmp_path: Path) -> None:
    """The check figures: common practice, no source."""
    out = tmp_path / "cuff.panel.json"
    result = run(
        *WRAP, "-o", out, "--ease", "1/2 in", "--worn", "1 mm", "--worn", "0.5 mm", "--gap", "0 mm",
        "--holes", "4", "--barrel", "3/16 in", "--hole-inset", "3/8 in", "--groove", "1/8 in",
        "--marks-top", "5", "--marks-bottom", "5", "--spread-top", "1 1/4 in", "--spread-bottom", "1 1/8 in",
        "--radius", "15 mm", "--lace", "1/8 in", "--pairing", "alike", "--stretch", "90 15",
        "--turns", "0,180", "--accepts", "blemish,weak", "--json",
    )  # fmt: skip
    assert result.exit_code == 0, result.stderr
    panel = read_panel(out)
    assert (panel.name, panel.pairing, panel.stretch) == ("cuff", "alike", Stretch(90, 15))
    assert (panel.turns_deg, panel.accepts) == ((0, 180), ("blemish", "weak"))
    assert (len(panel.punches), len(panel.marks), len(panel.lines)) == (8, 10, 1)
    told = json.loads(result.stdout)
    (figures,) = told["panels"]
    assert figures["file"] == str(out)
    assert figures["area_mm2"] == pytest.approx(area(panel.outline), rel=1e-6)
    assert figures["lace_mm"] / 25.4 == pytest.approx(30.0, rel=0.05)
    assert panel.lace_mm == pytest.approx(figures["lace_mm"], abs=1e-6)
    assert "--tails says otherwise" in " ".join(told["taken"])
    assert "Holes: 8 of 5 mm" in result.stderr
    assert "certifies nothing" in result.stderr


def test_the_sample_measures(tmp_path: Path) -> None:
    out, picture = tmp_path / "chap.panel.json", tmp_path / "chap.svg"
    result = run(SAMPLES / "half-chap-measures.toml", "-o", out, "--picture", picture)
    assert result.exit_code == 0, result.stderr
    assert result.stdout == ""
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "chap-left.panel.json", "chap-left.svg", "chap-right.panel.json", "chap-right.svg"
    ]  # fmt: skip
    left, right = (read_panel(tmp_path / f"chap-{side}.panel.json") for side in ("left", "right"))
    assert (left.name, right.name) == ("half-chap-34-left", "half-chap-34-right")
    assert area(left.outline) < area(right.outline)
    # Two outlines are no pair of the panel file, and whoever orders them must know.
    assert (left.pairing, right.pairing) == ("none", "none")
    assert result.stderr.count("order them in one line, one as its panel and the other as its mate") == 1
    assert "half-chap-34-left" in (tmp_path / "chap-left.svg").read_text()


def test_options_go_before_the_file(tmp_path: Path) -> None:
    out = tmp_path / "chap.panel.json"
    result = run(SAMPLES / "half-chap-measures.toml", "-o", out, "--right-calf", "15 in", "--name", "boot")
    assert result.exit_code == 0, result.stderr
    wide = area(read_panel(tmp_path / "chap-right.panel.json").outline)
    assert run(SAMPLES / "half-chap-measures.toml", "-o", out).exit_code == 0
    assert wide > area(read_panel(tmp_path / "chap-right.panel.json").outline)


@pytest.mark.parametrize(
    "arguments",
    [
        ["leg", "--ankle", "10 in", "--calf", "14 in", "--height", "12 in", "--leg", "right",
         "--front", "0.4"],
        ["strap", "--length", "20 in", "--width", "1 in", "--tip", "round", "--buckle-holes", "3",
         "--buckle-start", "2 in", "--buckle-spacing", "1 in", "--hole", "4 mm"],
        ["rectangle", "--width", "4 in", "--height", "2 in", "--radius", "1/4 in"],
        ["disc", "--diameter", "42 mm", "--holes", "1", "--hole", "5 mm", "--hole-inset", "8 mm"],
    ],
    ids=lambda arguments: arguments[0],
)  # fmt: skip
def test_every_shape(tmp_path: Path, arguments: list[str]) -> None:
    out, picture = tmp_path / "x.panel.json", tmp_path / "x.png"
    result = run(*arguments, "-o", out, "--picture", picture)
    assert result.exit_code == 0, result.stderr
    assert read_panel(out).name == "x"
    assert picture.read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    "wrong",
    [
        ["cone", "--height", "4 in"],
        [*WRAP, "--pairing", "twins"],
        [*WRAP, "--stretch", "90"],
        [*WRAP, "--accepts", "hole"],
        [*WRAP, "--picture", "w.jpg"],
        [*WRAP, "-o", "cuff.png"],
        [*WRAP, "--holes", "four"],
        ["strap", "--length", "20 in", "--width", "1 in", "--tip", "blunt"],
        ["leg", "--leg", "third"],
    ],
)
def test_usage_errors(tmp_path: Path, wrong: list[str]) -> None:
    out = tmp_path / "x.panel.json"
    result = run("-o", out, *wrong)
    assert result.exit_code == 2, result.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ([*WRAP, "--ease", "-1/2 in"], '--ease: "-1/2 in": a length cannot be negative'),
        ([*WRAP, "--groove", "3 in"], "a groove 76.2 mm (3 in) from the edge is wider than the panel"),
        ([*WRAP, "--holes", "30", "--hole", "4 mm"], "holes overlap"),
        ([*WRAP, "--holes", "4", "--hole", "4 mm", "--hole-inset", "1 mm"], "reaches over the edge"),
        ([*WRAP, "--holes", "0", "--hole", "4 mm"], "--holes: must be at least 1, not 0"),
        (["wrap", "--lower", "7 in", "--upper", "0 in", "--height", "4 in"], "--upper: "),
        (["wrap", "--lower", "7 in"], "a wrap needs --upper"),
        (["disc", "--diameter", "2 in", "--calf", "9 in"], "--calf: a disc has no use for it"),
        (["gone.toml"], "gone.toml: there is no such file"),
        (["fobs.toml"], "fobs.toml: shape: is missing"),
    ],
)
def test_one_message_and_status_1(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    arguments: list[str],
    said: str,
) -> None:
    (tmp_path / "fobs.toml").write_text((SAMPLES / "fobs.toml").read_text())
    monkeypatch.chdir(tmp_path)
    command = ["hidewright", "draft", *arguments, "-o", "x.panel.json", "--picture", "x.png"]
    monkeypatch.setattr(sys, "argv", command)
    with pytest.raises(SystemExit) as left:
        main()
    assert left.value.code == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("hidewright: ")
    assert said in err
    assert err.count("\n") == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["fobs.toml"]


def test_all_files_or_none(tmp_path: Path) -> None:
    """A picture that cannot be written leaves no panel of a pair behind, and old files as they were."""
    out = tmp_path / "chap.panel.json"
    (tmp_path / "chap-left.panel.json").write_text("old")
    (tmp_path / "chap-right.png").mkdir()
    result = run(SAMPLES / "half-chap-measures.toml", "-o", out, "--picture", tmp_path / "chap.png")
    assert result.exit_code == 1
    assert "chap-right.png" in str(result.exception)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["chap-left.panel.json", "chap-right.png"]
    assert (tmp_path / "chap-left.panel.json").read_text() == "old"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    result = run(*WRAP, "-o", tmp_path / "none" / "x.panel.json")
    assert result.exit_code == 1
    assert list(tmp_path.iterdir()) == []


def test_check_drafts_measures(tmp_path: Path) -> None:
    good = SAMPLES / "half-chap-measures.toml"
    result = CliRunner().invoke(app, ["check", str(good)])
    assert result.exit_code == 0
    assert 'measures "half-chap-34": leg panel for the left leg' in result.stdout
    bad = tmp_path / "bad.toml"
    bad.write_text('shape = "disc"\ndiameter = "40 mm"\ngroove = "30 mm"\n')
    result = CliRunner().invoke(app, ["check", str(bad)])
    assert result.exit_code == 1
    assert "wider than the panel" in result.stderr


def test_words_of_the_options_are_those_of_the_files() -> None:
    assert get_args(ShapeName) == SHAPES
    assert get_args(Tip) == TIPS
    assert get_args(Side) == SIDES
