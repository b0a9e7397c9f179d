"""``hidewright export --over``: onto the very photograph, with the pitch it was measured with."""

from __future__ import annotations

import json
import math
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from cli.main import app
from nesting.errors import HidewrightError
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.layout_file import read_layout, write_layout
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.rings import Pose

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A rendered photograph, and a layout of one piece in the middle of the hide measured from it."""
    from benchmarks.render import render_to
    from benchmarks.scenes import Scene, fit_camera
    from benchmarks.shapes import hide_outline
    from nesting.capture.measure import Wishes, measure_photograph

    rng = np.random.default_rng(8)
    outline = hide_outline("bend", 6.0e4, 0.5, True, rng)
    scene = Scene(
        seed=8, width=1500, height=1126, pitch=10.0, bold_every=10, outline=outline, line_width=0.6,
        bold_width=1.1, distance=500.0, contact_sigma=2.0,
    )  # fmt: skip
    folder = tmp_path_factory.mktemp("over")
    render_to(fit_camera(scene, 0.09, rng), folder / "bend")
    hide = measure_photograph(folder / "bend.jpg", 10.0, wishes=Wishes(name="bend", thickness_mm=1.6)).hide
    tag = Panel("tag", ((0, 0, 0), (60, 0, 0), (60, 40, 0), (0, 40, 0)))
    xs, ys = zip(*((x, y) for x, y, _ in hide.outline), strict=True)
    at = (max(xs) / 2 - 30.0, max(ys) / 2 - 20.0)
    laid = LaidHide(hide, (Placement("tag-1", "tag", Pose(False, 0.0, at)),))
    write_layout(folder / "layout.json", Layout("Tags", 1, Cutting(), (tag,), (laid,)))
    traced = replace(laid, hide=replace(hide, measured=None))
    write_layout(folder / "traced.json", Layout("Tags", 1, Cutting(), (tag,), (traced,)))
    return folder


def export(*words: object) -> object:
    return CliRunner().invoke(app, ["export", *map(str, words)])


def test_the_picture_and_a_sheet_from_the_mats_lines(shop: Path) -> None:
    result = export(
        shop / "layout.json", "--over", shop / "bend.jpg", "--pitch", "10 mm", "-o", shop / "seen.png",
        "--pdf", shop / "patterns.pdf",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert (shop / "seen.png").read_bytes()[:4] == b"\x89PNG"
    # One pattern page, one placing sheet, and the sheet from the mat's lines.
    assert (shop / "patterns.pdf").read_bytes().count(b"/MediaBox") == 3


def test_the_hide_knows_where_it_lay_over_the_mat(shop: Path) -> None:
    """Against the scene that was rendered: from the mat's lines its middle is where the scene has it."""
    (laid,) = read_layout(shop / "layout.json").hides
    measured = laid.hide.measured
    assert measured is not None
    assert measured.mat_pitch_mm == (10.0, 10.0)
    assert measured.mat_offset_mm is not None
    truth = json.loads((shop / "bend.truth.json").read_text())
    true = shapely.Polygon(truth["outline"]).centroid
    found = shapely.Polygon([vertex[:2] for vertex in laid.hide.outline]).centroid
    for axis in (0, 1):
        # Lines are counted from some line; which one is the mat's first nobody can see.
        scene = true.coords[0][axis] - truth["camera"]["mat_offset"][axis]
        assert math.remainder(found.coords[0][axis] + measured.mat_offset_mm[axis] - scene, 10.0) == (
            pytest.approx(0.0, abs=0.3)
        )


def test_the_mats_lines_without_the_photograph(shop: Path) -> None:
    """A pattern page, a placing sheet and that from the mat's lines; a traced hide has no mat."""
    for name, pages in (("layout", 3), ("traced", 2)):
        pdf = shop / f"{name}.pdf"
        assert export(shop / f"{name}.json", "--pdf", pdf).exit_code == 0
        assert pdf.read_bytes().count(b"/MediaBox") == pages


def test_over_the_photograph_by_the_pitch_of_the_hide(shop: Path) -> None:
    """Without a pitch the one that the hide was measured with; a hide of an older file must be told."""
    assert export(shop / "layout.json", "--over", shop / "bend.jpg", "-o", shop / "again.png").exit_code == 0
    told = export(shop / "layout.json", "--over", shop / "bend.jpg", "--pitch", "10 mm", "-o", shop / "t.png")
    assert told.exit_code == 0
    assert (shop / "again.png").read_bytes() == (shop / "t.png").read_bytes()
    (shop / "older.json").write_text(without(shop, "mat_pitch_mm", "mat_offset_mm", "view"))
    result = export(shop / "older.json", "--over", shop / "bend.jpg", "-o", shop / "no.png")
    assert result.exit_code == 1
    assert "state it: --pitch" in str(result.exception)


def without(shop: Path, *keys: str) -> str:
    """The layout, its hide's measurement without these fields."""
    data = json.loads((shop / "layout.json").read_text())
    for key in keys:
        del data["hides"][0]["hide"]["measured"][key]
    return json.dumps(data)


def test_a_hide_from_before_views_were_kept_is_measured_again(shop: Path) -> None:
    (shop / "no-view.json").write_text(without(shop, "view"))
    pictures = []
    for layout in ("no-view.json", "layout.json"):
        assert export(shop / layout, "--over", shop / "bend.jpg", "-o", shop / "v.png").exit_code == 0
        pictures.append(cv2.imread(str(shop / "v.png")).astype(int))
    # The same but for a line's rim here and there: the same camera, once kept in twelve digits.
    assert np.abs(pictures[0] - pictures[1]).mean() < 0.02


def test_a_photograph_without_a_ruled_mat(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a hide between target sheets keeps: the view alone. Nothing is measured again."""
    (shop / "sheets.json").write_text(without(shop, "mat_pitch_mm", "mat_offset_mm"))
    monkeypatch.setattr("nesting.capture.again.measure_again", None)
    words = (shop / "sheets.json", "--over", shop / "bend.jpg", "-o", shop / "sheets.png")
    result = export(*words, "--pdf", shop / "sheets.pdf")
    assert result.exit_code == 0, result.output
    # No sheet from the mat's lines.
    assert (shop / "sheets.pdf").read_bytes().count(b"/MediaBox") == 2
    told = export(*words, "--pitch", "10 mm")
    assert told.exit_code == 1
    assert "was measured without a ruled mat; leave --pitch out" in str(told.exception)


def test_a_pitch_that_is_not_the_hides_is_refused(shop: Path) -> None:
    result = export(
        shop / "layout.json", "--over", shop / "bend.jpg", "--pitch", "1 in", "-o", shop / "no.png"
    )
    assert result.exit_code == 1
    assert "on a mat of lines 10 mm apart; leave --pitch out" in str(result.exception)


def test_another_photograph_is_refused_before_anything_is_measured(shop: Path) -> None:
    other = shop / "other.jpg"
    other.write_bytes((shop / "bend.jpg").read_bytes() + b"\0")
    for layout, photo in (("layout.json", other), ("traced.json", shop / "bend.jpg")):
        result = export(shop / layout, "--over", photo, "--pitch", "10 mm", "-o", shop / "no.png")
        assert result.exit_code == 1
        assert isinstance(result.exception, HidewrightError)
        assert "was measured from this photograph" in str(result.exception)
    assert not (shop / "no.png").exists()


@pytest.mark.parametrize(
    "words",
    [
        ["--over", "bend.jpg", "--pitch", "10 mm", "-o", "bend.jpg"],
        ["--pitch", "10 mm", "--dxf", "a.dxf"],
        ["-o", "a.png", "--dxf", "a.dxf"],
    ],
)
def test_usage_errors(shop: Path, monkeypatch: pytest.MonkeyPatch, words: list[str]) -> None:
    monkeypatch.chdir(shop)
    before = sorted(p.name for p in shop.iterdir())
    assert export("layout.json", *words).exit_code == 2
    assert sorted(p.name for p in shop.iterdir()) == before
