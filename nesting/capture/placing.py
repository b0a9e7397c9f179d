"""How much of a pixel beside the edge is leather, once it is known what lies on both of its sides."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture.colours import LIGHTNESS, Doubt, Fields, field_at, fisher, outer

Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]

PLACING = Doubt(0.04, 0.04, 0.3)
"""To place the edge, between levels learned on both its sides: JPEG files keep colour at half the
resolution of lightness, so that colour alone smears the edge towards the lighter side."""


def placed_share(
    linear: Floats,
    fields: Fields,
    line: tuple[Floats, Floats, Doubles],
    rows: NDArray[np.intp],
    columns: NDArray[np.intp],
) -> tuple[Floats, Floats]:
    """Share of leather and separation² at pixels (row, column).

    ``line`` is what a ruled line adds to the mat there (n, 3), its deviation (n,), both in lengths of the
    full ink, and how that spreads over the channels (3, 3).
    """
    share, gap = np.empty(len(rows), np.float32), np.empty(len(rows), np.float32)
    for k in range(0, len(rows), 1 << 18):
        part = np.s_[k : k + (1 << 18)]
        mat, leather, ink = (
            field_at(field, linear, rows[part], columns[part])
            for field in (fields.mat, fields.leather, fields.ink)
        )
        full = np.hypot.reduce(ink, axis=1)
        ground = np.maximum(mat + line[0][part] * full[:, None], 1e-4)
        unsteady = (full * line[1][part])[:, None, None] ** 2 * line[2]
        pixel = linear[rows[part], columns[part]].astype(np.float64)
        by_light, gap[part], light = _mixed(pixel, mat, ground, leather, fields.noise, unsteady)
        # A file's colour is smeared in its coded values: what rests on colour is judged there.
        c_pixel, c_mat, c_ground, c_leather = (_coded(v) for v in (pixel, mat, ground, leather))
        step = fields.noise / (2.2 * np.maximum(float(np.median(mat)), 1e-3) ** (1.2 / 2.2))
        slope = c_ground / (2.2 * ground)
        coded = slope[:, :, None] * unsteady * slope[:, None, :]
        by_colour, _, _ = _mixed(c_pixel, c_mat, c_ground, c_leather, step, coded)
        share[part] = light * by_light + (1.0 - light) * by_colour
    return np.clip(share, -0.5, 1.5), gap


def _mixed(
    pixel: Doubles, mat: Doubles, ground: Doubles, leather: Doubles, noise: float, unsteady: Doubles
) -> tuple[Doubles, Floats, Doubles]:
    """Share of leather, separation², and how much of the separation is lightness (0..1), all (n,)."""
    d = leather - ground
    cov = noise**2 * np.eye(3) + PLACING.shadow**2 * outer(ground) + PLACING.tone**2 * outer(leather)
    hue = np.eye(3) - np.outer(LIGHTNESS, LIGHTNESS)
    # Worn ink: a tenth of what the line adds to the mat is not relied on.
    cov = cov + PLACING.colour**2 * (d * d).sum(axis=-1)[:, None, None] * hue + 0.01 * outer(ground - mat)
    w, gap = fisher(cov + unsteady, d)
    light = np.clip((w @ LIGHTNESS) * (d @ LIGHTNESS), 0.0, 1.0)
    return ((pixel - ground) * w).sum(axis=-1), gap, light


def _coded(linear: Doubles) -> Doubles:
    """Linear light to the sRGB curve, nearly (the plain power)."""
    return np.asarray(np.maximum(linear, 0.0) ** (1 / 2.2), np.float64)
