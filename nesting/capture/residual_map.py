"""The picture of what the fit leaves over: where the camera model puts each point, against where it is seen.

Arrows that lie any way are noise. Arrows that agree over a stretch mean a mat that is not flat there, a sheet
that curls, or a lens that the model does not hold.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.measurement import Measurement

Points = NDArray[np.float64]
Colour = tuple[int, int, int]

LONG_SIDE = 1600
LEAST_POINTS = 12
"""Fewer points than that are fitted nearly exactly, and the picture would say nothing."""
FACTORS = (10, 20, 50, 100, 200, 500, 1000)
ARROW_PX = 22.0
STRIP = 60
SMALL, MEDIUM, LARGE = (170, 110, 30), (20, 140, 230), (40, 40, 215)  # BGR: blue, orange, red
LIMITS = (0.5, 1.0)
"""px up to which a residual is small and medium."""
INK: Colour = (60, 60, 60)


def residual_map_png(m: Measurement) -> bytes | None:
    """The map as the bytes of a PNG file, at most 1600 px wide; None where there are too few points."""
    points = m.lattice.points
    if len(points) < LEAST_POINTS:
        return None
    off = m.lattice.camera.project(m.lattice.labels) - points
    height, width = m.photo.image.shape[:2]
    factor = min(1.0, LONG_SIDE / max(width, height))
    small = cv.resize(m.photo.image, round(width * factor), round(height * factor), area=True)
    # Faded, so that the arrows stand out.
    canvas = np.ascontiguousarray(small // 4 + 188).astype(np.uint8)
    outline = (m.outline_pixels + 0.5) * factor - 0.5
    cv.draw_lines(canvas, [outline], 2, (150, 120, 150), True)
    size = np.hypot(*off.T)
    times = magnification(size, factor)
    at = (points + 0.5) * factor - 0.5
    tips = at + off * factor * times
    order = np.argsort(size)
    for start, tip, one in zip(at[order], tips[order], size[order], strict=True):
        cv.draw_lines(canvas, [np.array([start, tip])], 2, _colour(float(one)))
        cv.draw_lines(canvas, [np.array([start, start])], 4, INK)
    return cv.encode_png(np.vstack((canvas, _legend(canvas.shape[1], size, times, factor))))


def magnification(size: Points, factor: float) -> int:
    """How many times arrows are drawn too long: so that one in twenty is longer than 22 px."""
    usual = max(float(np.percentile(size, 95)) * factor, 1e-6)
    return min(FACTORS, key=lambda times: abs(np.log(times * usual / ARROW_PX)))


def _colour(size: float) -> Colour:
    return SMALL if size <= LIMITS[0] else MEDIUM if size <= LIMITS[1] else LARGE


def _legend(width: int, size: Points, times: int, factor: float) -> NDArray[np.uint8]:
    strip = np.full((STRIP, width, 3), 255, np.uint8)
    scale = _round_length(30.0 / (factor * times))
    length = scale * factor * times
    line = np.array([[12.0, 22.0], [12.0 + length, 22.0]])
    cv.draw_lines(strip, [line], 2, SMALL)
    words = [
        (f"= {scale:g} px of the photograph, drawn {times} times too long", (24.0 + length, 27.0)),
        (
            f"{len(size)} points; root mean square {np.sqrt((size**2).mean()):.2f} px, 95 % under "
            f"{np.percentile(size, 95):.2f} px; orange above {LIMITS[0]:g} px, red above {LIMITS[1]:g} px",
            (12.0, 50.0),
        ),
    ]
    for text, at in words:
        height = 14.0
        while cv.text_width(text, height) > width - at[0] - 8 and height > 7:
            height -= 1
        cv.write(strip, text, at, height, INK, None)
    return strip


def _round_length(value: float) -> float:
    """The nearest of 1, 2 and 5 times a power of ten."""
    power = 10.0 ** np.floor(np.log10(value))
    return float(min((1, 2, 5, 10), key=lambda k: abs(k * power - value)) * power)
