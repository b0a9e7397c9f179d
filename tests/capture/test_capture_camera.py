"""The camera model: forward and back, joint fit, height; checked against exact geometry."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.capture.camera import Camera, dlt, fit_camera, image_frame, plain_camera
from nesting.capture.height import find_stand, lowered

SIZE = (4000, 3000)
FOCAL_PX = 3100.0
HEIGHT = 1400.0


def posed(k1: float, model: str, tilt_deg: float) -> Camera:
    """A camera of known focal length, 1400 mm up, tilted about the mat's x axis; labels are mm."""
    centre, unit = image_frame(SIZE)
    c, s = np.cos(np.radians(tilt_deg)), np.sin(np.radians(tilt_deg))
    # Rows: picture's right, down, forward; the mat has y up, so that down is -y.
    rotation = np.array([[1, 0, 0], [0, -c, -s], [0, s, -c]], float)
    position = np.array([30.0, -HEIGHT * s / c, HEIGHT])
    h = np.column_stack((rotation[:, 0], rotation[:, 1], -rotation @ position))
    return Camera(np.diag([FOCAL_PX / unit, FOCAL_PX / unit, 1.0]) @ h, k1, model, centre, unit)  # type: ignore[arg-type]


def labels() -> np.ndarray:
    return np.stack(np.meshgrid(np.arange(-600.0, 601, 60), np.arange(-400.0, 401, 60)), axis=-1).reshape(
        -1, 2
    )


@pytest.mark.parametrize("model", ["brown", "division"])
@pytest.mark.parametrize("k1", [-0.12, 0.0, 0.08])
def test_back_undoes_forward(model: str, k1: float) -> None:
    camera = posed(k1, model, 15.0)
    assert np.allclose(camera.unproject(camera.project(labels())), labels(), atol=1e-6)


def test_transform_from_four_points_is_exact() -> None:
    square = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    seen = np.array([[10.0, 12], [210, 20], [190, 160], [5, 150]])
    h = dlt(square, seen)
    mapped = np.column_stack((square, np.ones(4))) @ h.T
    assert np.allclose(mapped[:, :2] / mapped[:, 2:], seen, atol=1e-9)


@pytest.mark.parametrize("model", ["brown", "division"])
def test_fit_finds_the_lens_despite_gross_errors(model: str) -> None:
    true = posed(-0.06, model, 18.0)
    seen = true.project(labels()) + np.random.default_rng(1).normal(0, 0.1, labels().shape)
    seen[::17] += 25.0
    fitted = fit_camera(labels(), seen, plain_camera(labels(), seen, SIZE))
    inner = labels()[np.abs(labels()).max(axis=1) < 350]
    assert fitted.model == model
    assert fitted.k1 == pytest.approx(-0.06, abs=0.002)
    assert np.abs(fitted.project(inner) - true.project(inner)).max() < 0.15


def test_homography_alone_would_misjudge_the_middle() -> None:
    # Why there is a radial term at all: the ring outside predicts the hidden middle wrongly without it.
    true = posed(-0.08, "brown", 10.0)
    ring = labels()[np.abs(labels()).max(axis=1) > 350]
    square = np.array([[-250.0, -250], [250, -250], [250, 250], [-250, 250]])
    seen = true.project(square)
    plain = plain_camera(ring, true.project(ring), SIZE).unproject(seen)
    fitted = fit_camera(ring, true.project(ring), plain_camera(ring, true.project(ring), SIZE)).unproject(
        seen
    )

    def area(p: np.ndarray) -> float:
        x, y = p.T
        return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))

    assert abs(area(plain) / 250000 - 1) > 0.01
    assert abs(area(fitted) / 250000 - 1) < 1e-4


def test_height_from_a_tilted_view() -> None:
    stand = find_stand(posed(-0.05, "brown", 18.0), 1.0, 0.02, 2000, None)
    assert stand.height == pytest.approx(HEIGHT, rel=0.01)
    assert stand.foot == pytest.approx([30.0, -HEIGHT * np.tan(np.radians(18.0))], abs=15)


def test_height_from_straight_above_rests_on_the_stated_focal_length() -> None:
    film = FOCAL_PX / (0.5 * np.hypot(*SIZE)) * 21.633
    stated = find_stand(posed(0.0, "brown", 0.0), 1.0, 0.2, 500, film)
    guessed = find_stand(posed(0.0, "brown", 0.0), 1.0, 0.2, 500, None)
    assert stated.height == pytest.approx(HEIGHT, rel=1e-6)
    assert guessed.height_deviation > 2 * stated.height_deviation


def test_leather_above_the_mat_looks_larger_by_twice_its_thickness_over_the_height() -> None:
    # CAPTURE rule: area error ≈ +2t/h; 2 mm at 1.5 m is 0.27 % (geometry of similar triangles).
    camera = posed(0.0, "brown", 0.0)
    stand = find_stand(camera, 1.0, 0.05, 2000, FOCAL_PX / (0.5 * np.hypot(*SIZE)) * 21.633)
    square = np.array([[0.0, 0], [500, 0], [500, 500], [0, 500]])
    shrunk = lowered(square, stand, 2.0)
    x, y = shrunk.T
    area = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert area / 250000 - 1 == pytest.approx(-2 * 2.0 / HEIGHT, rel=0.01)
