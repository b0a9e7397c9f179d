"""Where on the leather are strokes of chalk or pen?

A stroke is narrow and differs from the leather on both of its sides. The edge of a shadow is a step:
each side of it differs from the local mean of the leather, but not from its own surroundings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import local_mean, robust_mean, to_linear
from nesting.capture.outline import Segmented
from nesting.capture.plan import Plan, Points

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

PER_MM = 1.6  # scale at which strokes are looked for
WIDEST = 9.0  # mm: a broader patch is not a stroke
SHORTEST = 18.0  # mm: a shorter mark is dust
ASIDE = (5.0, 8.0)  # mm to either side of a stroke where its leather is looked at
WEAK, SURE = 5.0, 8.0  # strengths of all of a stroke, and of its strongest part
LEVELS = 1.8  # of 255: one unit of strength is at least so much in some channel


@dataclass(frozen=True)
class Sheet:
    """The hide at the strokes' scale, arrays (rows, columns[, 3]) on ``plan``.

    ``free`` is leather that may be marked, clear of the edge and of holes; ``strength`` says how unlike the
    leather around it each pixel is; ``linear`` and ``leather`` are its colour and the leather's.
    """

    plan: Plan
    free: Flags
    strokes: Flags
    strength: Floats
    linear: Floats
    leather: Floats


def find_strokes(s: Segmented, holes: list[Points]) -> Sheet:
    """The hide's strokes; ``holes`` are rings (n, 2) mm on the mat that are left out."""
    factor = min(1.0, PER_MM / s.plan.scale)
    columns, rows = round(s.plan.columns * factor), round(s.plan.rows * factor)
    scale = s.plan.scale * columns / s.plan.columns
    # Resizing aligns the outer borders of pixels, hence the half pixels.
    half = 0.5 / scale - 0.5 / s.plan.scale
    plan = Plan(s.plan.left + half, s.plan.top - half, scale, columns, rows)
    linear = to_linear(cv.resize(s.image, columns, rows, area=True))
    # The mask may lie some pixels off the edge that was placed; beside either it is no leather.
    placed = cv.fill_polygons(s.plan.shape, [s.plan.to_pixels(s.outline)]) & s.mask
    mask = cv.resize(placed.astype(np.float32), columns, rows, area=True) > 0.99
    free = cv.erode(mask, 1.6 * scale) > 0
    if holes:
        open_ = cv.fill_polygons(plan.shape, [plan.to_pixels(ring) for ring in holes])
        free &= cv.dilate(open_, 2.0 * scale) == 0
    leather = _leather(linear, free, scale)
    strength = _strength(cv.blur(linear, 0.45 * scale), leather, free, scale)
    return Sheet(plan, free, _narrow(strength, free, scale), strength, linear, leather)


def _leather(linear: Floats, free: Flags, scale: float) -> Floats:
    """The leather's local mean colour, strokes left out."""
    factor = max(1, round(2.5 * scale))
    rows, columns = free.shape
    size = (max(2, columns // factor), max(2, rows // factor))
    weight = cv.resize(free.astype(np.float32), *size, area=True)
    small = cv.resize(linear * free[..., None], *size, area=True) / np.maximum(weight, 1e-6)[..., None]
    sigmas = tuple(v * scale / factor for v in (14.0, 50.0, 200.0))
    return np.asarray(cv.resize(robust_mean(small, weight, sigmas), columns, rows), np.float32)


def _strength(soft: Floats, leather: Floats, free: Flags, scale: float) -> Floats:
    """How unlike the leather each pixel is, in robust deviations of the leather itself; 0 off ``free``.

    The lesser of two: against the local mean, and against the leather on both sides. It must also be plain
    to see: compression alone moves dark colours by several of the 255 steps.
    """
    log = np.log(np.maximum(soft, np.float32(2e-3)))
    mean = np.log(np.maximum(leather, np.float32(2e-3)))
    log[~free] = mean[~free]
    centre, cov = _spread((log - mean)[free])
    unlike = np.zeros((*free.shape, 3), np.float32)
    unlike[free] = _white((log - mean)[free] - centre, cov)
    strength = np.sqrt((unlike * unlike).sum(axis=-1))
    seen = np.abs(_coded(soft) - _coded(leather)).max(axis=-1) * np.float32(255.0)
    strength = np.minimum(strength, seen / np.float32(LEVELS))
    # Beside a stroke, and more so between it and a shadow, leather may differ in the opposite sense.
    around = cv.blur(unlike * strength[..., None], 1.5 * scale)
    strength[(unlike * around).sum(axis=-1) <= 0.0] = 0.0
    rows, columns = np.nonzero(strength > WEAK)
    sides = _unlike_sides(log, free, rows, columns, scale)
    strength[rows, columns] = np.minimum(strength[rows, columns], sides)
    return np.asarray(strength, np.float32)


def _unlike_sides(
    log: Floats, free: Flags, rows: NDArray[np.intp], columns: NDArray[np.intp], scale: float
) -> Floats:
    """How unlike what lies on its two opposite sides each pixel (row, column) is: the clearest direction.

    Both sides must differ from it in the same sense, and the lesser difference counts, channel by channel.
    Off ``free`` the leather is taken to go on as it is close by.
    """
    # Not smoothed: along the edge of a shadow that alone would make a difference.
    whole = local_mean(log, free, (0.8 * scale, 3.0 * scale, 9.0 * scale))
    whole[free] = log[free]
    some = np.flatnonzero(free)[:: max(1, int(free.sum()) // 20000)]
    r, c = np.unravel_index(some, free.shape)
    _, cov = _spread(np.asarray(log[r, c] - _moved(whole, r, c, round(ASIDE[0] * scale), 0)))
    best = np.zeros(len(rows), np.float32)
    for angle in np.arange(8) * np.pi / 8:
        for far in ASIDE:
            dr, dc = round(far * scale * np.sin(angle)), round(far * scale * np.cos(angle))
            one, other = (log[rows, columns] - _moved(whole, rows, columns, k * dr, k * dc) for k in (1, -1))
            lesser = np.where(np.abs(one) < np.abs(other), one, other)
            best = np.maximum(best, _length(np.where(one * other > 0, lesser, 0.0), cov))
    return best


def _moved(image: Any, rows: NDArray[np.intp], columns: NDArray[np.intp], dr: int, dc: int) -> Any:
    """The image at (row + dr, column + dc), its border repeated."""
    rows = np.clip(rows + dr, 0, image.shape[0] - 1)
    return image[rows, np.clip(columns + dc, 0, image.shape[1] - 1)]


def _spread(sample: Any) -> tuple[Points, Points]:
    """Centre (3,) and covariance (3, 3) of a sample (n, 3) without its outlying part."""
    sample = np.asarray(sample[:: max(1, len(sample) // 60000)], np.float64)
    centre: Points = np.median(sample, axis=0).astype(np.float64)
    keep = np.ones(len(sample), bool)
    cov = np.eye(3)
    for _ in range(6):
        cov = np.cov((sample[keep] - centre).T) + 1e-5 * np.eye(3)
        d2 = _length(sample - centre, cov)
        # The middle 85 % of a 3-D normal have d² < 5.3; their covariance is 0.72 of the whole.
        keep = d2 < np.quantile(d2, 0.85)
    return centre, cov / 0.72


def _white(v: Any, cov: Points) -> Floats:
    """Vectors (n, 3) in units of a covariance's own deviations: what is left is round, of unit spread."""
    return np.asarray(v @ np.linalg.inv(np.linalg.cholesky(cov)).T, np.float32)


def _length(v: Any, cov: Points) -> Floats:
    """Mahalanobis length (n,) of vectors (n, 3)."""
    white = _white(v, cov)
    return np.asarray(np.sqrt((white * white).sum(axis=1)), np.float32)


def _coded(linear: Floats) -> Floats:
    """Linear light to the sRGB curve, 0..1, nearly (the plain power)."""
    return np.asarray(np.power(np.maximum(linear, 0.0), np.float32(1 / 2.2)), np.float32)


def _narrow(strength: Floats, free: Flags, scale: float) -> Flags:
    """Narrow, long parts that are unlike the leather (hysteresis threshold).

    Their breadth is that at half their strength.
    """
    weak = free & (strength > WEAK)
    labels, stats, _ = cv.components(weak)
    best = np.zeros(len(stats))
    np.maximum.at(best, labels.ravel(), strength.ravel())
    long_ = np.maximum(stats[:, 2], stats[:, 3]) > 0.4 * SHORTEST * scale
    keep = (best > SURE) & long_
    keep[0] = False
    strokes = keep[labels]
    half = strokes & (strength > 0.5 * cv.largest_near(strength, 0.5 * WIDEST * scale))
    broad = cv.erode(half, 0.5 * WIDEST * scale) > 0
    return np.asarray(strokes & (cv.dilate(broad, 0.5 * WIDEST * scale + 1) == 0), np.bool_)
