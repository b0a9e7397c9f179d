"""What can be no mat, or no leather, in whatever shadow and of whatever tone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture.colours import SORTING, Fields, field_at, outer

Floats = NDArray[np.float32]


def unlike_mat(
    linear: Floats, fields: Fields, rows: NDArray[np.intp], columns: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """For pixels (row, column) of a plan image: whether the mat, in any shadow, cannot look like this."""
    mat = field_at(fields.mat, linear, rows, columns)
    # Colour noise grows where the picture is compressed; a tenth of the mat's own lightness is allowed.
    return _unlike(mat, linear[rows, columns], fields.noise + SORTING.cast * mat.mean(axis=1), SORTING.shadow)


def unlike_leather(
    linear: Floats, fields: Fields, rows: NDArray[np.intp], columns: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """For pixels (row, column) of a plan image: whether the leather, of any tone, cannot look like this."""
    leather = field_at(fields.leather, linear, rows, columns)
    noise = fields.noise + 0.06 * leather.mean(axis=1)
    return _unlike(leather, linear[rows, columns], noise, 1.5 * SORTING.tone)


def _unlike(
    usual: NDArray[np.float64], seen: Floats, noise: NDArray[np.float64], brightness: float
) -> NDArray[np.bool_]:
    """Where colours (n, 3) are over 3 deviations off the usual ones, by noise and a share of brightness."""
    away = seen - usual
    cov = (noise**2)[:, None, None] * np.eye(3) + brightness**2 * outer(usual)
    squared = (away * np.linalg.solve(cov, away[..., None])[..., 0]).sum(axis=-1)
    return np.asarray(squared > 9.0, np.bool_)


def like_some_mat(colour: Floats, fields: Fields) -> bool:
    """Whether a colour (3,) is that of the mat anywhere on the photograph, in whatever shadow.

    For holes: the light that falls on the mat beside the hide need not fall into a hole. But a shadow that
    leaves less than a quarter of it would make a black stroke into a hole.
    """
    step = max(1, int(np.sqrt(fields.mat[..., 0].size / 400)))
    mats = fields.mat[::step, ::step].reshape(-1, 3).astype(np.float64)
    dimmed = np.clip((mats @ colour) / np.maximum((mats * mats).sum(axis=1), 1e-9), 0.25, 1.15)
    rest = np.sqrt(((colour - dimmed[:, None] * mats) ** 2).sum(axis=1))
    size = np.linalg.norm(dimmed[:, None] * mats, axis=1)
    return bool((rest < 3.0 * fields.noise + 0.12 * size).any())
