"""The edge of the leather at sub-pixel scale, once it is known what is leather and what is mat.

Beside the edge the mat is known well enough to be painted without the leather: its local colour
and the ink of each ruled line, in that line's own profile, learned where the line lies open. So a
line that runs along the edge, even one of the leather's own colour, moves the edge little.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import Fields, local_mean, smoothed
from nesting.capture.placing import placed_share
from nesting.capture.ruling import BARE, Ruling

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

BAND = 11.0  # px on both sides of the border that is looked at
REACH = 5.0  # px by which the sharpened edge may leave the coarse border


def place_edge(
    linear: Floats, fields: Fields, ruling: Ruling, mask: NDArray[np.uint8], wider: tuple[float, ...]
) -> Points:
    """The outline (n, 2) as (column, row) of a plan, where the share of leather is halfway across."""
    return edge_and_doubt(linear, fields, ruling, mask, wider)[0]


def edge_and_doubt(
    linear: Floats, fields: Fields, ruling: Ruling, mask: NDArray[np.uint8], wider: tuple[float, ...]
) -> tuple[Points, float]:
    """The outline as of ``place_edge``, and how far (px) all of it may lie in or out, one deviation."""
    band = (cv.dilate(mask, BAND) - cv.erode(mask, BAND)) > 0
    rows, columns = np.nonzero(band)
    ink, doubt = ruling.at(rows, columns)
    value, gap = placed_share(linear, fields, (ink, doubt, ruling.spread), rows, columns)
    share, trust = np.zeros(mask.shape, np.float32), np.zeros(mask.shape, np.float32)
    share[rows, columns] = value
    plain = (ink * ink).sum(axis=1) < BARE**2
    usual = float(np.median(gap[plain])) if plain.any() else float(np.median(gap))
    trust[rows, columns] = np.where(gap > min(9.0, 0.5 * usual), np.clip(gap / usual, 0.0, 1.0), 0.0)
    smooth = smoothed(share, trust, 0.8, *wider)
    ring = contour(smooth - levels(smooth, mask, 2.5), mask)
    separation = np.zeros(mask.shape, np.float32)
    separation[rows, columns] = np.sqrt(gap)
    return ring, _doubt(ring, smooth, separation)


def _doubt(ring: Points, smooth: Floats, separation: Floats) -> float:
    """Mean deviation (px) of the edge's place: that of the share over the share's slope across the edge.

    A share is known to one over the separation of its two sides, in deviations of what is doubted of them
    (shadow, tone, smeared colour, worn ink). That shifts all of an edge the same way, so it does not average
    out: a blurred edge, or one between like colours, is less sure.
    """
    at = np.round(ring).astype(int)
    rows = np.clip(at[:, 1], 1, smooth.shape[0] - 2)
    columns = np.clip(at[:, 0], 1, smooth.shape[1] - 2)
    slope = 0.5 * np.hypot(
        smooth[rows + 1, columns] - smooth[rows - 1, columns],
        smooth[rows, columns + 1] - smooth[rows, columns - 1],
    )
    sure = separation[rows, columns]
    return float(np.minimum(1.0 / np.maximum(sure * slope, 1e-6), REACH).mean())


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
