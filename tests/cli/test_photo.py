"""The photo command: what it writes, what it says, what it refuses."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from cli.main import app
from cli.photo import parse_severities
from nesting.errors import HidewrightError, InputError
from nesting.files.hide_file import read_hide

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))


@pytest.fixture(scope="module")
def photograph(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A 2.4-megapixel render of a small bend on a green mat ruled 10 mm."""
    from benchmarks.render import render_to
    from benchmarks.scenes import Scene, Stroke, fit_camera
    from benchmarks.shapes import hide_outline, loop

    rng = np.random.default_rng(8)
    outline = hide_outline("bend", 6.0e4, 0.5, True, rng)
    stroke = Stroke(loop(np.array([30.0, 0.0]), 22.0, rng), "blue", 1.6)
    scene = Scene(
        seed=8,
        width=1800,
        height=1352,
        pitch=10.0,
        bold_every=10,
        outline=outline,
        line_width=0.5,
        bold_width=1.0,
        distance=500.0,
        strokes=(stroke,),
        contact_sigma=2.0,
    )
    stem = tmp_path_factory.mktemp("photo") / "bend"
    render_to(replace(fit_camera(scene, 0.09, rng)), stem)
    return stem.with_name("bend.jpg")


def test_writes_hide_and_overlay_and_says_what_was_found(photograph: Path, tmp_path: Path) -> None:
    out = tmp_path / "bend-01.hide.json"
    result = CliRunner().invoke(
        app,
        [
            "photo",
            str(photograph),
            "--pitch",
            "10 mm",
            "-o",
            str(out),
            "--weight",
            "4-5 oz",
            "--price",
            "62 USD",
            "--tannage",
            "vegetable",
            "--cut",
            "bend",
            "--spine",
            "bottom edge",
            "--severity",
            "blue=blemish",
            "--json",
        ],
        catch_exceptions=False,
    )
    assert result.exit_code == 0
    hide = read_hide(out)
    told = json.loads(result.stdout)
    assert hide.name == "bend-01"
    assert hide.measured is not None
    assert hide.spine is not None
    assert [(f.kind, f.severity) for f in hide.flaws] == [("blue loop", "blemish")]
    assert told["measured"]["best_area_mm2"] == pytest.approx(6.0e4, rel=0.005)
    assert told["flaws"][0]["severity"] == "blemish"
    assert (tmp_path / "bend-01.overlay.png").read_bytes()[:4] == b"\x89PNG"
    for word in ("ft²", "dm²", "k = 2", "px a mm", "hold-out", "residual"):
        assert word in result.stderr


@pytest.mark.parametrize("what", ["missing", "text", "blank"])
def test_bad_photographs_get_one_message_and_nothing_is_written(tmp_path: Path, what: str) -> None:
    import cv2

    image = tmp_path / "x.png"
    if what == "text":
        image.write_text("hello")
    if what == "blank":
        cv2.imwrite(str(image), np.full((600, 800, 3), 120, np.uint8))
    out = tmp_path / "out" / "x.hide.json"
    out.parent.mkdir()
    result = CliRunner().invoke(app, ["photo", str(image), "--pitch", "1 in", "-o", str(out)])
    assert isinstance(result.exception, HidewrightError)
    assert list(out.parent.iterdir()) == []


def test_exit_status_and_single_line_through_the_program(tmp_path: Path) -> None:
    code = "import sys; from cli.main import main; sys.argv = sys.argv[1:]; main()"
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            code,
            "hidewright",
            "photo",
            "none.jpg",
            "--pitch",
            "1 in",
            "-o",
            str(tmp_path / "a.hide.json"),
        ],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 1
    assert "none.jpg: No such file" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_that_is_not_there_keeps_nothing(photograph: Path, tmp_path: Path) -> None:
    picture = tmp_path / "p.png"
    result = CliRunner().invoke(
        app,
        [
            "photo",
            str(photograph),
            "--pitch",
            "10 mm",
            "-o",
            str(tmp_path / "no" / "a.hide.json"),
            "--overlay",
            str(picture),
        ],
    )
    assert isinstance(result.exception, InputError)
    assert not picture.exists()


@pytest.mark.parametrize(
    ("options", "status"),
    [
        (["--severity", "blue=nice"], 2),
        (["--severity", "mauve=weak"], 2),
        (["--severity", "dashed=weak,dashed=hole"], 2),
        (["--severity", "dashed blue=weak"], 2),
        (["--tannage", "oak"], 2),
    ],
)
def test_usage_errors(tmp_path: Path, options: list[str], status: int) -> None:
    result = CliRunner().invoke(
        app, ["photo", "x.jpg", "--pitch", "1 in", "-o", str(tmp_path / "a.hide.json"), *options]
    )
    assert result.exit_code == status


def test_severity_by_colour_by_dashes_or_by_both() -> None:
    given = ["blue=weak, Dashed = blemish", "blue  dashed=hole"]
    assert parse_severities(given) == {"blue": "weak", "dashed": "blemish", "blue dashed": "hole"}


@pytest.mark.parametrize("pitch", ["0 mm", "-1 in", "25.4", "1 furlong", "0.1 mm", "nan mm"])
def test_pitch_is_never_guessed(tmp_path: Path, pitch: str) -> None:
    result = CliRunner().invoke(
        app, ["photo", "x.jpg", f"--pitch={pitch}", "-o", str(tmp_path / "a.hide.json")]
    )
    assert isinstance(result.exception, InputError)


def test_the_photograph_is_never_written_over(photograph: Path) -> None:
    before = photograph.read_bytes()
    result = CliRunner().invoke(app, ["photo", str(photograph), "--pitch", "10 mm", "-o", str(photograph)])
    assert isinstance(result.exception, InputError)
    assert photograph.read_bytes() == before
