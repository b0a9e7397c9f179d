"""Holes and strokes on a hand-made segmented plan of 2 px a mm."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from nesting.capture.colours import Fields
from nesting.capture.holes import hole_rings
from nesting.capture.outline import Segmented
from nesting.capture.plan import Plan
from nesting.capture.strokes import find_strokes

SCALE, SIZE = 2.0, 240
PLAN = Plan(0.0, SIZE / SCALE, SCALE, SIZE, SIZE)
MAT, LEATHER = (20, 120, 60), (120, 160, 200)
Y, X = np.mgrid[:SIZE, :SIZE]


def linear_of(colour: tuple[int, int, int]) -> np.ndarray:
    v = np.array(colour, np.float32) / 255
    return np.asarray(((v + 0.055) / 1.055) ** 2.4, np.float32)


def segmented(image: np.ndarray, share: np.ndarray, mask: np.ndarray, right: float) -> Segmented:
    """A square hide from column 20 to ``right`` px."""
    flat = np.ones((80, 80, 3), np.float32)
    fields = Fields(flat * linear_of(MAT), flat * linear_of(LEATHER), 0.002, flat * np.float32(0.2))
    ring = np.array([[20.0, 20], [right, 20], [right, 220], [20, 220]]) - 0.5
    plain = np.zeros((SIZE, SIZE), bool)
    return Segmented(
        PLAN, image, PLAN.to_mm(ring), mask, share.astype(np.float32),
        np.full((SIZE, SIZE), 9, np.float32), plain, np.ones((SIZE, SIZE), np.uint8), fields,
    )  # fmt: skip


def hide() -> tuple[np.ndarray, np.ndarray]:
    """Image and mask of the hide up to column 220."""
    mask = np.zeros((SIZE, SIZE), np.uint8)
    mask[20:220, 20:220] = 1
    image = np.where(mask[..., None] > 0, np.uint8(LEATHER), np.uint8(MAT))
    grain = np.random.default_rng(4).normal(0, 1.5, image.shape)
    return np.clip(image + grain, 0, 255).astype(np.uint8), mask


def test_a_line_of_the_leathers_colour_near_the_rim_takes_nothing_from_a_hole() -> None:
    image, mask = hide()
    hole = np.hypot(X - 120, Y - 120) < 24
    line = hole & (X >= 128) & (X < 134) & (Y > 115)
    image[hole & ~line] = MAT
    image[line] = LEATHER
    share = np.where(mask & ~(hole & ~line), 1.0, 0.0)
    rings = hole_rings(segmented(image, share, mask, 220))
    true = shapely.Point(119.5, 119.5).buffer(23.5)
    rings = [shapely.Polygon(PLAN.to_pixels(ring)) for ring in rings]
    assert len(rings) == 1
    assert rings[0].covers(true)
    assert rings[0].area < 1.3 * true.area


def test_a_stroke_of_the_mats_colour_is_no_hole_where_it_crosses_a_ruled_line() -> None:
    # The leather hides the line; the share of leather is taken from beside it there, and so from the stroke.
    image, mask = hide()
    stroke = (np.abs(Y - 120) < 4) & (X > 50) & (X < 190)
    image[stroke] = MAT
    on_line = (np.abs(X - 110) < 8) & (mask > 0)
    smeared = on_line & (np.abs(Y - 120) < 8)
    plan = segmented(image, np.where(mask & ~(stroke | smeared), 1.0, 0.0), mask, 220)
    assert len(hole_rings(plan)) == 1
    assert hole_rings(replace(plan, on_line=on_line)) == []


def test_what_lies_beyond_the_placed_edge_is_no_stroke() -> None:
    # The coarse mask may hold a light line of the mat beside the edge.
    image, mask = hide()
    image[60:180, 206:212] = (235, 240, 235)
    share = mask.astype(np.float32)
    assert find_strokes(segmented(image, share, mask, 220), []).strokes.any()
    assert not find_strokes(segmented(image, share, mask, 204), []).strokes.any()
