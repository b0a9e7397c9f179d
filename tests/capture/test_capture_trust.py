"""Refusals and doubts: on hand-made grids, and on whole photographs that cannot carry a measurement."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from conftest import Rendered, small_scene

from nesting.capture.camera import fit_camera, plain_camera
from nesting.capture.colours import Fields
from nesting.capture.edge import edge_and_doubt
from nesting.capture.height import Stand, walls
from nesting.capture.measure import Wishes, measure_photograph
from nesting.capture.plan import Plan
from nesting.capture.ruling import no_ruling
from nesting.capture.trust import hold_out, refuse_unsteady
from nesting.errors import CaptureRefused

SIZE = (1600, 1200)


def grid(bend: float) -> tuple[SimpleNamespace, SimpleNamespace]:
    """A lattice of 10 mm, 20 px a cell, around the middle, its right bent by ``bend``, under a hide."""
    labels = np.array([[i, j] for i in range(-35, 36) for j in range(-25, 26)], float)
    labels = labels[(np.abs(labels[:, 0]) > 22) | (np.abs(labels[:, 1]) > 15)]
    points = labels * [20.0, -20.0] + [799.5, 599.5]
    over = np.maximum(points[:, 0] - 1100.0, 0.0)
    points[:, 0] += bend * over**2 / 400.0
    camera = fit_camera(labels, points, plain_camera(labels, points, SIZE))
    angle = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    outline = np.column_stack((200 * np.cos(angle), 130 * np.sin(angle)))
    return SimpleNamespace(outline=outline), SimpleNamespace(labels=labels, points=points, camera=camera)


def test_leaving_a_side_out_of_a_flat_grid_changes_nothing() -> None:
    segmented, lattice = grid(0.0)
    change, side = hold_out(segmented, lattice, 10.0)  # type: ignore[arg-type]
    assert abs(change) < 1e-3
    refuse_unsteady(change, f"the grid on the {side}")


def test_a_grid_bent_on_one_side_is_refused() -> None:
    change, side = hold_out(*grid(0.12), 10.0)  # type: ignore[arg-type]
    with pytest.raises(CaptureRefused, match=rf"grid on the {side}.*flatten the mat"):
        refuse_unsteady(change, f"the grid on the {side}")


def test_too_few_pixels_a_millimetre_are_refused(render) -> None:  # type: ignore[no-untyped-def]
    far = {"outline": small_scene().outline * 2.4, "width": 640, "height": 480, "pitch": 25.4}
    photo = render(small_scene(**far, line_width=2.0, bold_width=3.0, strokes=(), holes=()))
    with pytest.raises(CaptureRefused, match=r"only 0\.\d\d pixels a millimetre"):
        measure_photograph(photo.path, 25.4)


def test_a_mat_that_is_not_flat_is_refused(plain: Rendered, tmp_path: Path) -> None:
    image = cv2.imread(str(plain.path))
    y, x = np.mgrid[0 : image.shape[0], 0 : image.shape[1]].astype(np.float32)
    # As if the right of the mat rose towards the camera.
    over = np.maximum(x - 900.0, 0.0)
    bent = cv2.remap(image, x - 0.00006 * over**2, y, cv2.INTER_LINEAR)
    path = tmp_path / "bent.png"
    cv2.imwrite(str(path), bent)
    with pytest.raises(CaptureRefused, match=r"is left out.*flatten the mat"):
        measure_photograph(path, 10.0, wishes=Wishes(thickness_mm=1.5))


def doubt_of(leather: float, blur: float) -> float:
    """Doubt (px) of the edge of a grey half-plane on a mat of 0.1, both in linear light."""
    image = np.full((60, 80, 3), 0.1, np.float32)
    image[10:50, 10:50] = leather
    image = cv2.GaussianBlur(image, (0, 0), blur)
    image += np.random.default_rng(1).normal(0, 0.002, image.shape).astype(np.float32)
    mask = np.zeros((60, 80), np.uint8)
    mask[10:50, 10:50] = 1
    flat = np.ones((20, 27, 3), np.float32)
    fields = Fields(flat * np.float32(0.1), flat * np.float32(leather), 0.002, flat * 0)
    ring, doubt = edge_and_doubt(image, fields, no_ruling(Plan(0.0, 59.0, 1.0, 80, 60)), mask, (2.0,))
    assert np.ptp(ring, axis=0) == pytest.approx([40, 40], abs=0.6)
    return doubt


def test_a_blurred_edge_and_one_between_like_colours_are_less_sure() -> None:
    plain = doubt_of(0.5, 0.8)
    assert 0.02 < plain < 0.3
    assert doubt_of(0.5, 2.0) > 1.4 * plain
    assert doubt_of(0.13, 0.8) > 1.4 * plain


def test_only_edges_that_face_the_camera_show_their_cut_side() -> None:
    stand = Stand(np.array([0.0, -1000.0]), 1000.0, 10.0, 1.0)
    t = np.linspace(-50, 50, 50, endpoint=False)
    bottom, right = np.column_stack((t, np.full(50, -50.0))), np.column_stack((np.full(50, 50.0), t))
    square = np.concatenate([bottom, right, -bottom, -right])
    for ring in (square, square[::-1]):
        wall, outward = walls(ring, stand, 2.0)
        near = ring[:, 1] < -49
        middle = near & (np.abs(ring[:, 0]) < 40)
        # 950 mm from the foot, seen from 1000 mm above: 2 mm high shows 1.9 mm wide.
        assert wall[middle] == pytest.approx(1.9, abs=0.01)
        assert outward[middle] == pytest.approx(np.tile([0.0, -1.0], (int(middle.sum()), 1)), abs=1e-6)
        assert (wall[ring[:, 1] > 40] == 0).all()
