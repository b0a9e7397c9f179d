"""Sub-pixel position of ruled lines along the sides of lattice cells.

An *arm* is the stretch of a ruled line from one intersection towards the next. Its profile across
the line is averaged along the arm; the line lies midway between the two places where the profile
crosses half of its height, which holds for thin and for bold lines alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv

Points = NDArray[np.float64]
Floats = NDArray[np.float32]
Flags = NDArray[np.bool_]

REACH = 0.38  # of a pitch to either side of the predicted line
ALONG = (0.14, 0.86)  # part of the arm that is averaged; the crossings are left out


@dataclass(frozen=True)
class Arms:
    """For n arms: line seen, offset (px) along the unit normal, the normal, height, noise, width (px)."""

    seen: Flags
    offset: Points
    normal: Points
    height: Points
    noise: Points
    width: Points


def measure_arms(image: Floats, starts: Points, along: Points, across: Points, sign: int) -> Arms:
    """Measure arms from ``starts`` (n, 2) px over the vectors ``along`` (n, 2).

    ``across`` (n, 2) is the step to the next parallel line; it sets how far to look. ``image`` is
    luminance (rows, columns). Lines lighter than the mat have ``sign`` +1.
    """
    if len(starts) == 0:
        return _none()
    parts = [
        _measure(image, starts[k : k + 4000], along[k : k + 4000], across[k : k + 4000], sign)
        for k in range(0, len(starts), 4000)
    ]
    names = ("seen", "offset", "normal", "height", "noise", "width")
    return Arms(*(np.concatenate([getattr(p, name) for p in parts]) for name in names))


def _none() -> Arms:
    empty = np.zeros(0)
    return Arms(np.zeros(0, bool), empty, np.zeros((0, 2)), empty, empty, empty)


def _measure(image: Floats, starts: Points, along: Points, across: Points, sign: int) -> Arms:
    length = np.hypot(along[:, 0], along[:, 1])
    normal = np.column_stack((-along[:, 1], along[:, 0])) / length[:, None]
    pitch = np.abs((across * normal).sum(axis=1))
    count = int(np.clip(np.ceil(REACH * np.median(pitch) / 0.4), 8, 45)) * 2 + 1
    steps = int(np.clip(np.median(length) / 3.0, 6, 16)) // 2 * 2
    s = np.linspace(-REACH, REACH, count)
    t = np.linspace(*ALONG, steps)
    x = (starts[:, 0, None, None] + along[:, 0, None, None] * t[None, :, None]
         + (normal[:, 0] * pitch)[:, None, None] * s)  # fmt: skip
    y = (starts[:, 1, None, None] + along[:, 1, None, None] * t[None, :, None]
         + (normal[:, 1] * pitch)[:, None, None] * s)  # fmt: skip
    shape = (len(starts) * steps, count)
    values = _sampled(image, x.reshape(shape), y.reshape(shape)).reshape(len(starts), steps, count) * sign
    whole = values.mean(axis=1)
    centre, height, noise, width = _line_in(whole)
    half = steps // 2
    first, second = _line_in(values[:, :half].mean(axis=1)), _line_in(values[:, half:].mean(axis=1))
    # A line runs straight through the whole arm: both halves must show it at the same place.
    agree = (np.abs(first[0] - centre) < 0.09 * count) & (np.abs(second[0] - centre) < 0.09 * count)
    strong = np.minimum(first[1], second[1]) > 0.45 * height
    seen = (
        np.isfinite(whole).all(axis=1)
        & agree
        & strong
        & (height > 4.0 * noise + 1.5)
        & (width < 0.42 * count)
    )
    step = 2 * REACH / (count - 1) * pitch
    offset = (centre - (count - 1) / 2) * step
    return Arms(seen, np.where(seen, offset, 0.0), normal, height, noise, width * step)


def _sampled(image: Floats, x: Points, y: Points) -> Points:
    """Bilinear samples in blocks that keep below OpenCV's limit on rows."""
    rows = 30000
    blocks = [
        cv.sample(image, x[k : k + rows].astype(np.float32), y[k : k + rows].astype(np.float32))
        for k in range(0, len(x), rows)
    ]
    return np.concatenate(blocks).astype(np.float64)


def _line_in(profiles: Points) -> tuple[Points, Points, Points, Points]:
    """Centre (index), height, noise and width (indices) of the positive run in each profile (n, m)."""
    n, m = profiles.shape
    p = np.nan_to_num(profiles, nan=-1e3)
    base = np.median(p, axis=1)
    p = p - base[:, None]
    middle = (m - 1) / 2
    near = np.exp(-0.5 * ((np.arange(m) - middle) / (0.36 * m)) ** 2)
    # Of two candidates the nearer wins, unless it is much fainter.
    smooth = p.copy()
    smooth[:, 1:-1] = (p[:, :-2] + 2 * p[:, 1:-1] + p[:, 2:]) / 4
    top = np.argmax(smooth * near, axis=1)
    height = p[np.arange(n), top].clip(1e-6)
    below = p < 0.5 * height[:, None]
    index = np.arange(m)[None, :]
    left = np.where(below & (index < top[:, None]), index, -1).max(axis=1)
    right = np.where(below & (index > top[:, None]), index, m).min(axis=1)
    whole = (left >= 0) & (right < m)
    l0, r0 = left.clip(0, m - 2), right.clip(1, m - 1)
    rows = np.arange(n)
    xl = l0 + _crossing(p[rows, l0], p[rows, l0 + 1], height)
    xr = r0 - _crossing(p[rows, r0], p[rows, r0 - 1], height)
    quiet = np.abs(index - top[:, None]) > np.maximum(xr - xl, 2.0)[:, None]
    # A run that fills the profile leaves nothing quiet to judge noise by: it is refused by its width.
    quiet[~quiet.any(axis=1)] = True
    noise = 1.4826 * np.nanmedian(np.where(quiet, np.abs(p), np.nan), axis=1) if n else np.zeros(0)
    width = np.where(whole, xr - xl, m)
    return np.where(whole, 0.5 * (xl + xr), 1e6), height, noise, width


def _crossing(low: Points, high: Points, height: Points) -> Points:
    """Where between two neighbouring samples half of the height is crossed, 0..1."""
    return np.clip((0.5 * height - low) / np.where(np.abs(high - low) < 1e-9, 1e-9, high - low), 0.0, 1.0)
