"""Whole photographs: small renders, the sample photograph against its truth, and what is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from conftest import ROOT, Rendered, small_scene

from nesting.capture.decode import Photo
from nesting.capture.measure import Measurement, Wishes, measure_photograph
from nesting.capture.overlay import overlay_png
from nesting.errors import CaptureRefused
from nesting.files.hide_file import hide_from_json, hide_to_json
from nesting.rings import flatten


def errors(m: Measurement, outline: np.ndarray) -> tuple[float, float]:
    """Area error of the best estimate (share) and 95th percentile distance (mm) of the stored outline."""
    from benchmarks.capture import aligned

    assert m.hide.measured is not None
    ours = flatten(m.hide.outline)
    turn, shift = aligned(ours, outline)
    placed = shapely.Polygon(ours @ turn.T + shift).exterior
    edge = shapely.make_valid(shapely.Polygon(outline)).boundary
    at = np.linspace(0, 1, 1500, endpoint=False)
    away = np.concatenate(
        (
            shapely.distance(edge, placed.interpolate(at, normalized=True)),
            shapely.distance(placed, edge.interpolate(at, normalized=True)),
        )
    )
    true = shapely.Polygon(outline).area
    return m.hide.measured.best_area_mm2 / true - 1, float(np.percentile(away, 95))


@pytest.fixture(scope="module")
def measured(plain: Rendered) -> Measurement:
    wishes = Wishes("piece", None, 1.5, {"blue": "blemish"})
    return measure_photograph(plain.path, 10.0, wishes=wishes)


def test_area_and_outline(plain: Rendered, measured: Measurement) -> None:
    share, p95 = errors(measured, plain.scene.outline)
    q = measured.hide.measured
    assert q is not None
    assert abs(share) < 0.003
    assert p95 < 1.5
    assert abs(q.best_area_mm2 - plain.area) < q.area_u_mm2
    assert q.inside_area_mm2 < q.best_area_mm2


def test_frame_starts_at_zero_and_the_file_reads_back(measured: Measurement) -> None:
    points = flatten(measured.hide.outline)
    assert points.min(axis=0) == pytest.approx([0, 0], abs=1e-6)
    assert hide_from_json(hide_to_json(measured.hide), "piece").name == "piece"


def test_y_is_up_and_x_to_the_right_in_the_picture(measured: Measurement) -> None:
    seen = measured.pixels(np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]]))
    assert seen[1, 0] > seen[0, 0] + 100
    assert seen[2, 1] < seen[0, 1] - 100


def test_marks_and_holes(measured: Measurement) -> None:
    kinds = sorted((f.kind, f.severity) for f in measured.hide.flaws)
    assert kinds == [("blue loop", "blemish"), ("hole", "hole"), ("red loop", "weak")]
    assert measured.open_marks == ()


def test_straight_edge(plain: Rendered, measured: Measurement) -> None:
    edges = measured.hide.straight_edges
    lengths = [float(np.hypot(*np.subtract(b, a))) for a, b in edges]
    sides = np.hypot(*(np.roll(plain.scene.outline, -1, axis=0) - plain.scene.outline).T)
    assert len(edges) == 1
    assert lengths[0] == pytest.approx(float(sides.max()), abs=12)


def test_camera_height(plain: Rendered, measured: Measurement) -> None:
    true = plain.scene.distance * np.cos(np.radians(plain.scene.tilt))
    assert measured.stand.height == pytest.approx(true, rel=0.03)


def test_overlay_is_a_picture(measured: Measurement) -> None:
    import cv2

    picture = cv2.imdecode(np.frombuffer(overlay_png(measured), np.uint8), cv2.IMREAD_COLOR)
    assert picture.shape == (1352, 1800, 3)
    # The outline is drawn in magenta where it was measured, in cyan where it is straight.
    at = np.round(measured.outline_pixels[::40]).astype(int)
    drawn = picture[at[:, 1], at[:, 0]].astype(int)
    away = np.minimum(np.abs(drawn - [255, 64, 255]).max(axis=1), np.abs(drawn - [255, 255, 0]).max(axis=1))
    assert np.mean(away < 60) > 0.8


@pytest.mark.parametrize(
    ("changes", "thickness"),
    [
        ({"mat": "grey-dark", "leather": "black", "k1": 0.06, "tilt": 18.0, "strokes": ()}, 1.5),
        ({"mat": "black-light", "leather": "white", "k1": -0.1, "azimuth": 200.0, "strokes": ()}, 1.5),
        ({"mat": "blue-light", "leather": "near mat", "roll": 12.0, "strokes": (), "big_shadow": 0.35}, 1.5),
    ],
    ids=["black on grey", "white on black with light lines", "nearly the mat's colour, in a shadow"],
)
def test_other_mats_and_leathers(render, changes: dict, thickness: float) -> None:  # type: ignore[no-untyped-def]
    photo = render(small_scene(**changes))
    share, p95 = errors(
        measure_photograph(photo.path, 10.0, wishes=Wishes(thickness_mm=thickness)), photo.scene.outline
    )
    assert abs(share) < 0.006
    assert p95 < 1.5


def test_thickness_not_stated_widens_the_uncertainty(plain: Rendered, measured: Measurement) -> None:
    unstated = measure_photograph(plain.path, 10.0)
    assert unstated.hide.measured is not None
    assert measured.hide.measured is not None
    assert unstated.hide.measured.area_u_mm2 > 1.1 * measured.hide.measured.area_u_mm2
    assert unstated.doubts["thickness"] > 4.0 * measured.doubts["thickness"]
    assert any("no weight or thickness" in text for text in unstated.warnings)


def test_the_doubt_is_the_root_of_its_parts_squares(measured: Measurement) -> None:
    assert measured.hide.measured is not None
    assert set(measured.doubts) == {"frame", "thickness", "edge", "wall", "mask", "pitch"}
    root = np.sqrt(sum(part**2 for part in measured.doubts.values()))
    assert measured.hide.measured.area_u_mm2 == pytest.approx(2.0 * root)
    # A clear photograph of a mat whose pitch a tape told: mostly the tape.
    assert measured.doubts["mask"] < 0.2 * measured.doubts["pitch"]


def test_glare_that_blows_out_the_edge_is_within_the_doubt(render) -> None:  # type: ignore[no-untyped-def]
    photo = render(small_scene(mat="grey-light", leather="white", strokes=(), glare=0.5))
    m = measure_photograph(photo.path, 10.0, wishes=Wishes(thickness_mm=1.5))
    assert m.hide.measured is not None
    assert abs(m.hide.measured.best_area_mm2 - photo.area) < m.hide.measured.area_u_mm2
    assert max(m.doubts, key=lambda cause: m.doubts[cause]) == "mask"
    assert any("could be leather or mat" in text for text in m.warnings)
    assert len(m.undecided_pixels) > 100


def test_no_hide_is_refused(render) -> None:  # type: ignore[no-untyped-def]
    bare = small_scene()
    photo = render(replace(bare, outline=bare.outline * 0.001, strokes=(), holes=()))
    with pytest.raises(CaptureRefused, match="no hide was found"):
        measure_photograph(photo.path, 10.0)


def test_hide_out_of_the_picture_is_refused(render) -> None:  # type: ignore[no-untyped-def]
    scene = small_scene()
    photo = render(replace(scene, aim=(130.0, 0.0)))
    with pytest.raises(CaptureRefused, match=r"edge of the picture|leaves the ruled grid"):
        measure_photograph(photo.path, 10.0)


def test_grid_on_one_side_only_is_refused(render) -> None:  # type: ignore[no-untyped-def]
    # The mat ends under the hide: grid shows on the left alone.
    scene = small_scene(strokes=(), holes=())
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    half = (float(-low[0] + 60), float(0.3 * (high[1] - low[1])))
    photo = render(replace(scene, mat_half=half))
    with pytest.raises(CaptureRefused):
        measure_photograph(photo.path, 10.0)


def test_sample_photograph_against_its_truth() -> None:
    path = ROOT / "sample_hides" / "shoulder-photo-01.jpg"
    truth = json.loads(path.with_name("shoulder-photo-01.truth.json").read_text())
    m = measure_photograph(path, 25.4, wishes=Wishes(weight_oz=(4.0, 5.0)))
    share, p95 = errors(m, np.array(truth["outline"]))
    assert abs(share) < 0.003
    assert p95 < 1.5
    assert sorted(f.kind for f in m.hide.flaws) == ["blue loop", "hole", "red loop", "red loop"]


def test_photo_is_frozen() -> None:
    photo = Photo(np.zeros((2, 2, 3), np.uint8), "", None, False)
    with pytest.raises(AttributeError):
        photo.halved = True  # type: ignore[misc]


def test_sample_is_in_place() -> None:
    assert (Path(ROOT) / "sample_hides" / "shoulder-photo-02.jpg").stat().st_size < 3_000_000
