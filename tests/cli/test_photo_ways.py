"""The photo command's other ways in: mixtures of options, many photographs, the stamp, targets."""

from __future__ import annotations

import json
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

from cli.main import app
from cli.photo_table import Row, shown
from cli.photo_words import quarters
from nesting.errors import CaptureRefused, InputError
from nesting.files.hide_file import read_hide
from nesting.units import FT2_MM2

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))


@pytest.fixture(scope="module")
def photograph(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A render of a small bend on a green mat ruled 10 mm, with a red line along it."""
    from benchmarks.render import Camera, render_to
    from benchmarks.scenes import Scene, Stroke, fit_camera
    from benchmarks.shapes import hide_outline

    rng = np.random.default_rng(8)
    scene = Scene(
        seed=8, width=1400, height=1050, pitch=10.0, bold_every=10,
        outline=hide_outline("bend", 4.0e4, 0.5, True, rng), line_width=0.6, bold_width=1.1, distance=500.0,
        strokes=(Stroke(np.linspace([-60.0, -20.0], [40.0, 10.0], 300), "red", 1.8, gap=0.001),),
        contact_sigma=2.0,
    )  # fmt: skip
    scene = replace(fit_camera(scene, 0.12, rng))
    stem = tmp_path_factory.mktemp("photo") / "bend"
    render_to(scene, stem)
    # Two crossings of the mat's lines below the hide, 200 mm apart.
    low = scene.outline.min(axis=0)
    y = np.floor((low[1] - 8.0 - scene.mat_offset[1]) / 10.0) * 10.0 + scene.mat_offset[1]
    ends = Camera(scene).project(np.array([[-97.0, y], [103.0, y]]))
    (stem.parent / "known.txt").write_text(" ".join(f"{a:.1f},{b:.1f}" for a, b in ends))
    return stem.with_name("bend.jpg")


def ends_of(photograph: Path) -> str:
    return (photograph.parent / "known.txt").read_text()


def run(*words: str | Path) -> object:
    return CliRunner().invoke(app, ["photo", *map(str, words)])


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--targets"],
        ["--targets", "--pitch", "1 in"],
        ["--pitch", "1 in", "--corners", "0,0 9,0 9,9 0,9", "--rectangle", "9 in x 9 in"],
        ["--corners", "0,0 9,0 9,9 0,9"],
        ["--rectangle", "900 mm x 600 mm"],
        ["--pitch", "1 in", "--printed", "180 mm x 216 mm"],
        ["--pitch", "1 in", "--spine", "mauve arrow"],
        ["--pitch", "1 in", "--severity", "blue:weak"],
        ["--pitch", "1 in", "--severity", "blue=weak,red=hole", "--severity", "blue=hole"],
    ],
)
def test_mixtures_that_are_usage_errors(tmp_path: Path, words: list[str]) -> None:
    assert run("x.jpg", "-o", tmp_path / "a.hide.json", *words).exit_code == 2


@pytest.mark.parametrize("option", ["--name", "--stamp", "--overlay"])
def test_what_is_said_of_one_hide_is_not_said_of_many(tmp_path: Path, option: str) -> None:
    words = ("a.jpg", "b.jpg", "--pitch", "1 in", "-o", tmp_path / "shelf")
    assert run(*words, option, "7 1/4 ft2").exit_code == 2
    assert not (tmp_path / "shelf").exists()


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ("--known", ["--known", "A B"]),
        ("--printed", ["--targets", "--printed", "5 mm"]),
        ("--corners", ["--corners", "1,1 2,2", "--rectangle", "900 mm x 600 mm"]),
        ("--rectangle", ["--corners", "0,0 900,0 900,900 0,900", "--rectangle", "9 mm x 6 mm"]),
        ("--pitch", ["--pitch", "25.4 mm x 12 mm"]),
        ("--stamp", ["--pitch", "1 in", "--stamp", "7.2 ft2"]),
        # Before the photograph is looked for, and so before anyone waits for a measurement.
        ("--spine", ["--pitch", "1 in", "--spine", "lower edge"]),
        ("--spine", ["--pitch", "1 in", "--spine", "arrow"]),
        ("--spine", ["--pitch", "1 in", "--spine", "1,1 1,1"]),
    ],
)
def test_what_cannot_be_read_names_its_option(tmp_path: Path, named: str, words: list[str]) -> None:
    result = run("x.jpg", "-o", tmp_path / "a.hide.json", *words)
    assert isinstance(result.exception, InputError)
    assert str(result.exception).startswith(named)


def test_a_known_distance_decides_the_pitch(photograph: Path, tmp_path: Path) -> None:
    out = tmp_path / "a.hide.json"
    result = run(
        photograph, "--known", f"{ends_of(photograph)} 200 mm", "--thickness", "1.8 mm",
        "--spine", "red arrow", "--stamp", "0.5 ft2 tenths", "-o", out, "--json",
    )  # fmt: skip
    assert result.exit_code == 0
    told = json.loads(result.stdout)
    assert told["measured"]["best_area_mm2"] == pytest.approx(4.0e4, rel=0.01)
    assert abs(told["measured"]["best_area_mm2"] - 4.0e4) < told["measured"]["area_u_mm2"]
    assert told["flaws"] == []
    hide = read_hide(out)
    assert hide.spine is not None
    (x0, y0), (x1, y1) = hide.spine
    assert np.degrees(np.arctan2(y1 - y0, x1 - x0)) % 180 == pytest.approx(16.7, abs=4.0)
    assert told["stamp"]["agrees"] is False
    assert "more than was measured, which the doubt does not cover" in result.stderr
    assert (tmp_path / "a.residuals.png").read_bytes()[:4] == b"\x89PNG"


def test_a_pitch_that_the_known_distance_contradicts_is_refused(photograph: Path, tmp_path: Path) -> None:
    out = tmp_path / "a.hide.json"
    result = run(photograph, "--pitch", "10.4 mm", "--known", f"{ends_of(photograph)} 200 mm", "-o", out)
    assert isinstance(result.exception, CaptureRefused)
    assert "contradicts the pitch of 10.4 mm" in str(result.exception)
    assert list(tmp_path.iterdir()) == []


def test_two_pitches_stretch_the_frame(photograph: Path, tmp_path: Path) -> None:
    boxes = {}
    for pitch in ("10 mm", "10.2 mm x 10 mm"):
        out = tmp_path / "a.hide.json"
        assert run(photograph, "--pitch", pitch, "--thickness", "0.01 mm", "-o", out).exit_code == 0
        hide = read_hide(out)
        outline = np.array([v[:2] for v in hide.outline])
        assert hide.measured is not None
        boxes[pitch] = (*np.ptp(outline, axis=0), hide.measured.best_area_mm2)
    # Hardly any thickness: over such a mat the camera would stand elsewhere, and lower the leather more.
    # The kept outline is simplified by up to half a millimetre in 250; the area is not of it.
    wide, tall, area = np.array(boxes["10.2 mm x 10 mm"]) / np.array(boxes["10 mm"])
    assert wide == pytest.approx(1.02, abs=0.005)
    assert tall == pytest.approx(1.0, abs=0.005)
    assert area == pytest.approx(1.02, abs=0.001)


def test_many_photographs_and_one_that_is_bad(photograph: Path, tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    first, bad = tmp_path / "in" / "one.jpg", tmp_path / "in" / "bad.jpg"
    shutil.copy(photograph, first)
    bad.write_text("once upon a time")
    shelf = tmp_path / "shelf"
    result = run(bad, first, "--pitch", "10 mm", "--weight", "4-5 oz", "-o", shelf, "--json")
    assert result.exit_code == 1
    assert sorted(p.name for p in shelf.iterdir()) == [
        "one.hide.json",
        "one.overlay.png",
        "one.residuals.png",
    ]
    refused, told = json.loads(result.stdout)
    assert "not an image" in refused["refused"]
    assert told["name"] == "one"
    assert "1 of 2 photographs were not measured" in result.stderr
    assert read_hide(shelf / "one.hide.json").weight_oz == (4.0, 5.0)
    # A hide of that name from another photograph stays.
    cv2.imwrite(str(first), cv2.imread(str(photograph))[::-1])
    before = (shelf / "one.hide.json").read_bytes()
    again = run(first, "--pitch", "10 mm", "-o", shelf)
    assert again.exit_code == 1
    assert "was not measured from this photograph" in again.stderr
    assert (shelf / "one.hide.json").read_bytes() == before


def test_two_photographs_of_one_name(tmp_path: Path) -> None:
    result = run("a/x.jpg", "b/x.png", "--pitch", "1 in", "-o", tmp_path / "shelf")
    assert isinstance(result.exception, InputError)
    assert "both become x.hide.json" in str(result.exception)


def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "shelf").write_text("mine")
    result = run("x.jpg", "y.jpg", "--pitch", "1 in", "-o", tmp_path / "shelf")
    assert isinstance(result.exception, InputError)
    assert "is a file, not a folder" in str(result.exception)


@pytest.mark.parametrize(
    ("feet", "words"),
    [(7.26, "7 1/4 ft²"), (7.01, "7 ft²"), (0.3, "1/4 ft²"), (0.05, "0 ft²"), (2.7, "2 3/4 ft²")],
)
def test_quarters_of_a_foot(feet: float, words: str) -> None:
    assert quarters(feet * float(FT2_MM2)) == words


def test_the_table_names_the_refused_below() -> None:
    text = shown(
        [Row("a.jpg", ("7.10", "0.010", "66.0", "7", "4", "1", "")), Row("b.jpg", refused="b.jpg: why")]
    )
    assert text.splitlines()[1].startswith("a.jpg")
    assert text.splitlines()[-1] == "not measured: b.jpg: why"


def test_each_way_is_chosen_by_its_options() -> None:
    from cli.photo_ways import way_of
    from nesting.capture.corners import measure_with_corners
    from nesting.capture.measure import measure_photograph
    from nesting.capture.on_plain import measure_with_targets

    mat = way_of("1 in", False, None, None, None, [])
    assert (mat.func, mat.keywords["pitch_mm"].pitches) == (measure_photograph, (25.4, 25.4))
    sheets = way_of(None, True, None, None, None, ["A B 600 mm"])
    assert sheets.func is measure_with_targets
    assert sheets.keywords["known"][0].length_mm == 600.0
    four = way_of(None, False, None, "0,0 900,0 900,600 0,600", "900 mm x 60 cm", [])
    assert (four.func, four.keywords["sides"]) == (measure_with_corners, (900.0, 600.0))
