"""The edge of the leather at sub-pixel scale, once it is known what is leather and what is mat.

Beside the edge the mat is known well enough to be painted without the leather: its local colour
times the profile of each ruled line, learned where that line lies open. So a line that runs along
the edge, even one of the leather's own colour, moves the edge little.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import Fields, local_mean, placed_share, smoothed

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

BAND = 11.0  # px on both sides of the border that is looked at
REACH = 5.0  # px by which the sharpened edge may leave the coarse border


@dataclass(frozen=True)
class Ruling:
    """Which columns and rows of a plan carry ruled lines, and the colour of the line over the mat's there.

    ``columns`` (c, 3) and ``rows`` (r, 3) are ratios by channel, 1 off the lines.
    """

    columns: Floats
    rows: Floats


def learn_ruling(linear: Floats, fields: Fields, mat: Flags, near_columns: Flags, near_rows: Flags) -> Ruling:
    """The lines' own profiles, each the median along its open stretches of mat."""
    rows, columns = mat.shape
    thin = 3
    open_rows = np.flatnonzero(~near_rows)[::thin]
    open_columns = np.flatnonzero(~near_columns)[::thin]
    ground = cv.resize(fields.mat, columns, rows)
    across = _profile(linear, ground, mat, open_rows, near_columns, 0)
    down = _profile(linear, ground, mat, open_columns, near_rows, 1)
    return Ruling(across, down)


def _profile(
    linear: Floats, ground: Floats, mat: Flags, along: NDArray[np.intp], near: Flags, axis: int
) -> Floats:
    """Median ratio to the ground (n, 3) at each place ``near`` a line, over the lines ``along``."""
    out = np.ones((len(near), 3), np.float32)
    for k in np.flatnonzero(near):
        where = (along, np.full(len(along), k)) if axis == 0 else (np.full(len(along), k), along)
        open_ = mat[where]
        if open_.sum() < 12:
            continue
        ratio = linear[where][open_] / np.maximum(ground[where][open_], 1e-4)
        out[k] = np.median(ratio, axis=0)
    return out


def place_edge(
    linear: Floats, fields: Fields, ruling: Ruling, mask: NDArray[np.uint8], wide: float
) -> Points:
    """The outline (n, 2) as (column, row) of a plan, where the share of leather is halfway across."""
    band = (cv.dilate(mask, BAND) - cv.erode(mask, BAND)) > 0
    rows, columns = np.nonzero(band)
    one, other = ruling.columns[columns], ruling.rows[rows]
    # Where two lines cross the ink lies once.
    stronger = np.abs(one - 1).sum(axis=1) >= np.abs(other - 1).sum(axis=1)
    ratio = np.where(stronger[:, None], one, other)
    value, gap = placed_share(linear, fields, ratio, rows, columns)
    share, trust = np.zeros(mask.shape, np.float32), np.zeros(mask.shape, np.float32)
    share[rows, columns] = value
    plain = np.abs(ratio - 1).sum(axis=1) < 0.05
    usual = float(np.median(gap[plain])) if plain.any() else float(np.median(gap))
    trust[rows, columns] = np.where(gap > min(9.0, 0.5 * usual), np.clip(gap / usual, 0.0, 1.0), 0.0)
    smooth = smoothed(share, trust, 0.8, wide)
    return contour(smooth - levels(smooth, mask, 2.5), mask)


def levels(share: Floats, mask: NDArray[np.uint8], clear: float) -> Floats:
    """Midway between the share's local levels just inside and just outside of the mask's border."""
    rows, columns = mask.shape
    factor = 3
    size = (max(2, columns // factor), max(2, rows // factor))
    inside = cv.dilate(1 - mask, clear) == 0
    outside = cv.dilate(mask, clear) == 0
    band = (cv.dilate(mask, 6.0) - cv.erode(mask, 6.0)) > 0
    sides = []
    for side in (inside & band, outside & band):
        weight = cv.resize(side.astype(np.float32), *size, area=True)
        mean = cv.resize(share * side, *size, area=True) / np.maximum(weight, 1e-6)
        sides.append(local_mean(mean[..., None], weight, (2.0, 5.0, 16.0))[..., 0])
    level = np.clip(0.5 * (sides[0] + sides[1]), 0.25, 0.75)
    return np.asarray(cv.resize(level, columns, rows), np.float32)


def contour(field: Floats, mask: NDArray[np.uint8]) -> Points:
    """The zero contour (n, 2), (column, row), of a field positive inside the mask: its longest ring."""
    import contourpy

    # Only the border of the mask may carry the contour: deep inside is leather, far outside is not.
    z = np.where(cv.erode(mask, REACH) > 0, 0.5, field)
    z = np.where(cv.dilate(mask, REACH) > 0, z, -0.5)
    z = np.pad(z, 1, constant_values=-0.5)
    rings = contourpy.contour_generator(z=z, name="serial").lines(0.0)
    ring = max(rings, key=lambda r: _area(np.asarray(r)))
    return np.asarray(ring, np.float64)[:-1] - 1.0


def _area(ring: Points) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(abs(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
