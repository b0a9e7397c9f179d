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
Doubles = NDArray[np.float64]


@dataclass(frozen=True)
class Doubt:
    """What counts little: shares by which a shadow may darken the mat and the tone of the leather may
    change, how far (in parts of the difference) colour without lightness is distrusted, and by what share of
    the mat's lightness a compressed file, or light of another hue, may change any colour."""

    shadow: float
    tone: float
    colour: float
    cast: float = 0.0


SORTING = Doubt(0.35, 0.12, 0.0, 0.04)
"""To say what is mat and what is leather: a shadow must not count."""
LIGHTNESS = np.array([0.114, 0.587, 0.299]) / np.linalg.norm([0.114, 0.587, 0.299])


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
        total += trust * cv.wide_blur(image * weight[..., None], sigma)
        amount += trust * cv.wide_blur(weight, sigma)
        trust *= np.float32(1e-3)
    return np.asarray(total / amount[..., None], np.float32)


def robust_mean(image: Floats, weight: Floats, sigmas: tuple[float, ...]) -> Floats:
    """Like ``local_mean``, but pixels unlike their surroundings (strokes, numbers, holes) count little.

    Reweighted on relative differences, starting from the local mean of logarithms: a wider start
    would take glare or a shadow for the exception.
    """
    log = np.log(np.maximum(image, 1e-4))
    field = local_mean(log, weight, sigmas)
    used = weight
    for scale in (0.5, 0.3, 0.2):
        away = np.sqrt(((log - field) ** 2).mean(axis=-1)) / scale
        used = (weight / (1.0 + away**2) ** 2).astype(np.float32)
        field = local_mean(log, used, sigmas)
    return local_mean(image, used, sigmas)


@dataclass(frozen=True)
class Fields:
    """Local colours (rows, columns, 3), linear light, on a coarse grid ``factor`` times smaller.

    ``smear`` (3, 3) is how ruled lines vary beside the share of their ink (colour that a compressed file
    smears, noise of a lighter place), squared, in units of the mat's lightness; None for nothing.
    """

    mat: Floats
    leather: Floats
    noise: float
    ink: Floats
    smear: Doubles | None = None

    def discriminants(self, doubt: Doubt) -> tuple[Floats, Floats, Floats, Floats]:
        """Weights (rows, columns, 3) off and on the ruled lines, and the separation² of each."""
        m, d = self.mat.astype(np.float64), (self.leather - self.mat).astype(np.float64)
        lea = self.leather.astype(np.float64)
        cov = self.noise**2 * np.eye(3) + doubt.shadow**2 * outer(m) + doubt.tone**2 * outer(lea)
        hue = np.eye(3) - np.outer(LIGHTNESS, LIGHTNESS)
        cov = cov + doubt.colour**2 * (d * d).sum(axis=-1)[..., None, None] * hue
        cov = cov + (doubt.cast * m.mean(axis=-1))[..., None, None] ** 2 * np.eye(3)
        ink = self.ink.astype(np.float64)
        off, gap_off = fisher(cov, d)
        on_cov = cov + outer(ink)
        if self.smear is not None:
            on_cov = on_cov + m.mean(axis=-1)[..., None, None] ** 2 * self.smear
        on, gap_on = fisher(on_cov, d)
        return off, on, gap_off, gap_on


def outer(v: NDArray[np.float64]) -> NDArray[np.float64]:
    """Products (..., 3, 3) of the channels of vectors (..., 3)."""
    return v[..., :, None] * v[..., None, :]


def fisher(cov: NDArray[np.float64], d: NDArray[np.float64]) -> tuple[Floats, Floats]:
    """Weights (..., 3) that tell two classes apart by ``d`` (..., 3), scaled to 1, and the separation²."""
    w = np.linalg.solve(cov, d[..., None])[..., 0]
    gap = np.maximum((w * d).sum(axis=-1), 1e-9)
    return (w / gap[..., None]).astype(np.float32), gap.astype(np.float32)


def leather_share(
    linear: Floats,
    fields: Fields,
    on_line: NDArray[np.bool_],
    doubt: Doubt,
    where: NDArray[np.bool_] | None = None,
) -> tuple[Floats, Floats]:
    """Share of leather (about 0..1) and its trust (0..1) for each pixel of a plan image.

    ``fields`` may be coarser than the image; they are interpolated. Outside ``where`` both are 0.
    """
    off, on, gap_off, gap_on = fields.discriminants(doubt)
    rows, columns = on_line.shape
    share = np.zeros((rows, columns), np.float32)
    trust = np.zeros((rows, columns), np.float32)
    # Where the ink looks like the leather a pixel on a line says nothing.
    ratio = np.where((gap_on > 6.0) & (gap_on > 0.05 * gap_off), np.minimum(gap_on / gap_off, 1.0), 0.0)
    ratio = ratio.astype(np.float32)
    flat_off, flat_on = (-(w * fields.mat).sum(axis=-1) for w in (off, on))
    small_rows, small_columns = flat_off.shape
    x = ((np.arange(columns) + 0.5) * small_columns / columns - 0.5).clip(0, small_columns - 1)
    y = ((np.arange(rows) + 0.5) * small_rows / rows - 0.5).clip(0, small_rows - 1)
    for top in range(0, rows, 256):
        s = np.s_[top : top + 256]
        part = np.ones(on_line[s].shape, bool) if where is None else where[s]
        r, c = np.nonzero(part)
        if not len(r):
            continue
        for k in range(0, len(r), 1 << 20):
            rk, ck = r[k : k + (1 << 20)], c[k : k + (1 << 20)]
            gx, gy = _folded(x[ck]), _folded(y[top + rk])
            line = on_line[top + rk, ck]
            pixel = linear[top + rk, ck]
            values = []
            for w, flat in ((off, flat_off), (on, flat_on)):
                weights = cv.sample(w, gx, gy, 0.0).reshape(-1, 3)[: len(rk)]
                values.append(
                    (pixel * weights).sum(axis=-1) + cv.sample(flat, gx, gy, 0.0).ravel()[: len(rk)]
                )
            share[top + rk, ck] = np.where(line, values[1], values[0])
            trust[top + rk, ck] = np.where(line, cv.sample(ratio, gx, gy, 0.0).ravel()[: len(rk)], 1.0)
    return np.clip(share, -0.5, 1.5), trust


def field_at(
    field: Floats, linear: Floats, rows: NDArray[np.intp], columns: NDArray[np.intp]
) -> NDArray[np.float64]:
    """A coarse field (., ., 3) at pixels of the fine image ``linear``."""
    height, width = linear.shape[:2]
    small_rows, small_columns = field.shape[:2]
    gx = _folded(((columns + 0.5) * small_columns / width - 0.5).clip(0, small_columns - 1))
    gy = _folded(((rows + 0.5) * small_rows / height - 0.5).clip(0, small_rows - 1))
    return np.asarray(cv.sample(field, gx, gy, 0.0).reshape(-1, 3)[: len(rows)], np.float64)


def _folded(values: NDArray[np.float64]) -> Floats:
    """A list as rows of 1024, padded: OpenCV samples at most 32 767 in a row."""
    rows = max(1, -(-len(values) // 1024))
    out = np.zeros(rows * 1024, np.float32)
    out[: len(values)] = values
    return out.reshape(rows, 1024)


def smoothed(share: Floats, trust: Floats, sigma: float, *wider: float) -> Floats:
    """The share averaged by trust over ``sigma`` px; where nothing near is trusted, over ``wider`` px."""
    weighted = share * trust
    total, amount = cv.blur(weighted, sigma), cv.blur(trust, sigma)
    faint = np.float32(1.0)
    for wide in wider:
        faint *= np.float32(0.02)
        total += faint * cv.blur(weighted, wide)
        amount += faint * cv.blur(trust, wide)
    return np.asarray(total / np.maximum(amount, 1e-9), np.float32)
