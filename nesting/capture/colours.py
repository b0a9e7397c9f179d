"""Mat or leather, pixel by pixel, from colours learned on the photograph itself.

Work is done in linear light, where a pixel on the edge is a plain mixture of its two sides. The
colours of mat and leather are local means (light falls off and shadows lie across). A pixel's
share of leather is its place on the line from mat to leather, measured along the Fisher
discriminant: directions in which either side varies without meaning anything (darker in a shadow,
tone of the leather, and on a ruled line the ink) count little.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv

Floats = NDArray[np.float32]

SHADOW = 0.35  # how far, in share, a shadow may darken the mat beyond its local mean
TONE = 0.12  # how far the leather's tone may differ from its local mean


def to_linear(image: NDArray[np.uint8]) -> Floats:
    """sRGB bytes to linear light 0..1, float32 (IEC 61966-2-1)."""
    v = np.arange(256) / 255.0
    table = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return table[image]


def local_mean(image: Floats, mask: NDArray[Any], sigmas: tuple[float, ...]) -> Floats:
    """Mean colour of the masked pixels around each pixel; wider where none are near. Sigmas in px."""
    weight = mask.astype(np.float32)
    total = np.zeros_like(image)
    amount = np.full(weight.shape, 1e-12, np.float32)
    trust = np.float32(1.0)
    for sigma in sigmas:
        total += trust * cv.blur(image * weight[..., None], sigma)
        amount += trust * cv.blur(weight, sigma)
        trust *= np.float32(1e-3)
    return np.asarray(total / amount[..., None], np.float32)


@dataclass(frozen=True)
class Fields:
    """Local colours (rows, columns, 3), linear light, on a coarse grid ``factor`` times smaller."""

    mat: Floats
    leather: Floats
    noise: float
    ink: Floats

    def discriminants(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Weights (rows, columns, 3) off and on the ruled lines, and the separation² of each."""
        m, d = self.mat.astype(np.float64), (self.leather - self.mat).astype(np.float64)
        lea = self.leather.astype(np.float64)
        cov = self.noise**2 * np.eye(3) + SHADOW**2 * _outer(m) + TONE**2 * _outer(lea)
        ink = m * (self.ink - 1.0)
        off, gap_off = _fisher(cov, d)
        on, gap_on = _fisher(cov + _outer(ink), d)
        return off, on, gap_off, gap_on


def _outer(v: NDArray[np.float64]) -> NDArray[np.float64]:
    return v[..., :, None] * v[..., None, :]


def _fisher(cov: NDArray[np.float64], d: NDArray[np.float64]) -> tuple[Floats, Floats]:
    w = np.linalg.solve(cov, d[..., None])[..., 0]
    gap = np.maximum((w * d).sum(axis=-1), 1e-9)
    return (w / gap[..., None]).astype(np.float32), gap.astype(np.float32)


def leather_share(linear: Floats, fields: Fields, on_line: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Share of leather (about 0..1) and its trust (0..1) for each pixel of a plan image.

    ``fields`` may be coarser than the image; they are interpolated.
    """
    off, on, gap_off, gap_on = fields.discriminants()
    rows, columns = on_line.shape
    share = np.empty((rows, columns), np.float32)
    trust = np.ones((rows, columns), np.float32)
    ratio = np.clip(gap_on / gap_off, 1e-3, 1.0)
    flat_off, flat_on = (-(w * fields.mat).sum(axis=-1) for w in (off, on))
    small_rows, small_columns = flat_off.shape
    x = ((np.arange(columns) + 0.5) * small_columns / columns - 0.5).clip(0, small_columns - 1)
    y = ((np.arange(rows) + 0.5) * small_rows / rows - 0.5).clip(0, small_rows - 1)
    for top in range(0, rows, 256):
        s = np.s_[top : top + 256]
        gx, gy = np.meshgrid(x.astype(np.float32), y[s].astype(np.float32))
        c, line = linear[s], on_line[s]
        plain = (c * cv.sample(off, gx, gy, 0.0)).sum(axis=-1) + cv.sample(flat_off, gx, gy, 0.0)
        inked = (c * cv.sample(on, gx, gy, 0.0)).sum(axis=-1) + cv.sample(flat_on, gx, gy, 0.0)
        share[s] = np.where(line, inked, plain)
        trust[s] = np.where(line, cv.sample(ratio, gx, gy, 0.0), 1.0)
    return np.clip(share, -0.5, 1.5), trust
