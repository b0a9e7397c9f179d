"""What could be leather or mat, on hand-made plans of 1 px a mm."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.capture import cv
from nesting.capture.camera import Camera
from nesting.capture.colours import SORTING, Fields, leather_share, smoothed, to_linear
from nesting.capture.outline import Segmented
from nesting.capture.plan import Plan
from nesting.capture.uncertainty import mask_deviation
from nesting.capture.undecided import find_undecided

ROWS, COLUMNS = 160, 220
PLAN = Plan(0.0, ROWS - 1.0, 1.0, COLUMNS, ROWS)
MAT, LEATHER = 60, 160
CAMERA = Camera(np.eye(3), 0.0, "brown", np.zeros(2), 1.0)


def plan(image: np.ndarray, mat: int = MAT, leather: int = LEATHER) -> Segmented:
    """A sheet of 140 x 80 mm, rows 40 to 119 and columns 40 to 179, on a mat; the bytes as they are."""
    mask = np.zeros((ROWS, COLUMNS), np.uint8)
    mask[40:120, 40:180] = 1
    sides = (to_linear(np.full((ROWS // 3, COLUMNS // 3, 3), v, np.uint8)) for v in (mat, leather))
    fields = Fields(*sides, 0.002, np.zeros((ROWS // 3, COLUMNS // 3, 3), np.float32))
    bare = np.zeros(mask.shape, bool)
    share, trust = leather_share(cv.blur(to_linear(image), 0.7), fields, bare, SORTING)
    separation = cv.resize(np.sqrt(fields.discriminants(SORTING)[2]), COLUMNS, ROWS)
    ring = np.array([[39.5, 39.5], [179.5, 39.5], [179.5, 119.5], [39.5, 119.5]])
    sides_of = [
        np.linspace(a, b, 200, endpoint=False) for a, b in zip(ring, np.roll(ring, -1, 0), strict=True)
    ]
    outline = PLAN.to_mm(np.vstack(sides_of))
    sure = np.ones(mask.shape, np.uint8)
    return Segmented(
        PLAN, image, outline, mask, smoothed(share, trust, 1.0, 2.0), separation, bare, sure, fields
    )


def picture(mat: int = MAT, leather: int = LEATHER, blur: float = 0.0) -> np.ndarray:
    image = np.full((ROWS, COLUMNS, 3), mat, np.float32)
    image[40:120, 40:180] = leather
    image = cv.blur(image, blur) + np.random.default_rng(2).normal(0, 1, image.shape)
    return np.clip(np.round(image), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("blur", [0.5, 2.0])
def test_a_clear_edge_leaves_nothing_undecided_and_blur_is_the_edges_own(blur: float) -> None:
    found = find_undecided(plan(picture(blur=blur)), CAMERA, 1.0)
    assert found.area_mm2 < 0.002 * 140 * 80
    assert found.length_mm == 0.0
    assert len(found.pixels) == 0


@pytest.mark.parametrize("rows", [np.s_[90:140], np.s_[105:120]], ids=["over the edge", "up to the edge"])
def test_a_patch_of_a_colour_between_is_undecided(rows: slice) -> None:
    image = picture(leather=90)
    # In linear light midway between the two; 40 mm of the edge.
    image[rows, 80:120] = 77
    found = find_undecided(plan(image, leather=90), CAMERA, 1.0)
    true = 40.0 * (rows.stop - rows.start)
    assert found.area_mm2 == pytest.approx(true, rel=0.25)
    assert 40.0 <= found.length_mm < 70.0
    inside = PLAN.to_pixels(found.pixels)
    assert (inside[:, 0] > 75).all()
    assert (inside[:, 0] < 124).all()


def test_a_patch_that_does_not_reach_the_edge_is_no_matter_of_the_area() -> None:
    image = picture(leather=90)
    image[60:100, 80:120] = 77
    assert find_undecided(plan(image, leather=90), CAMERA, 1.0).area_mm2 < 30.0


def test_a_stroke_over_the_edge_is_neither() -> None:
    image = picture()
    image[90:140, 100:104] = (20, 20, 220)
    assert find_undecided(plan(image), CAMERA, 1.0).area_mm2 < 40.0


def test_blown_out_glare_over_the_edge_is_undecided() -> None:
    """White leather, and a mat that glare made as white there: clipped light tells nothing."""
    image = picture(mat=250, leather=253)
    image[100:140, 60:100] = 255
    found = find_undecided(plan(image, mat=254, leather=254), CAMERA, 1.0)
    assert found.area_mm2 > 0.8 * 40 * 40
    # The same white on a dark mat can only be leather.
    assert find_undecided(plan(picture(leather=254), leather=254), CAMERA, 1.0).area_mm2 < 30.0


def test_the_true_area_may_lie_anywhere_between_the_two_contours() -> None:
    # A uniform distribution of full width 12: its deviation is the width over the root of twelve.
    assert mask_deviation(12.0) == pytest.approx(np.sqrt(12.0))
    assert np.random.default_rng(1).uniform(0, 12, 200_000).std() == pytest.approx(
        mask_deviation(12.0), rel=0.01
    )
