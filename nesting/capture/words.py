"""A stroke's colour in one plain word."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

HUES = (
    (18, "red"),
    (38, "orange"),
    (72, "yellow"),
    (165, "green"),
    (262, "blue"),
    (320, "violet"),
    (345, "pink"),
    (360, "red"),
)


def name_of(rgb: Points, leather: Points) -> str:
    """A plain word for a linear RGB colour (3,), 0..1, seen on leather of a linear RGB colour (3,)."""
    coded = np.clip(np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * rgb ** (1 / 2.4) - 0.055), 0, 1)
    high, low = float(coded.max()), float(coded.min())
    chroma = (high - low) / max(high, 1e-6)
    lighter = float(rgb.mean()) > 1.3 * float(leather.mean())
    if chroma < 0.22 or (chroma < 0.3 and lighter and high > 0.6):
        return "white" if lighter and high > 0.35 else "black" if high < 0.35 or not lighter else "grey"
    if high < 0.22 and chroma < 0.45:
        return "black"
    hue = _hue(coded, high, high - low)
    return next(word for limit, word in HUES if hue <= limit)


def _hue(coded: Points, high: float, span: float) -> float:
    """Hue in degrees, 0..360, of a coded RGB colour with its highest channel and its span."""
    r, g, b = (float(v) for v in coded)
    if high == r:
        return 60 * ((g - b) / span) % 360
    return 60 * ((b - r) / span) + 120 if high == g else 60 * ((r - g) / span) + 240
