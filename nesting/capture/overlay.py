"""The picture a person checks the measurement by: the photograph with what was found drawn on it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.measurement import Measurement
from nesting.rings import flatten
from nesting.units import format_area

Points = NDArray[np.float64]
Colour = tuple[int, int, int]

LONG_SIDE = 2000
OUTLINE: Colour = (255, 64, 255)  # BGR; magenta stands off every leather and every mat
STRAIGHT: Colour = (255, 255, 0)
GRID: Colour = (0, 220, 255)
UNDECIDED: Colour = (80, 255, 80)
SEVERITY: dict[str, Colour] = {"hole": (0, 0, 255), "weak": (0, 140, 255), "blemish": (0, 235, 235)}


def overlay_png(m: Measurement) -> bytes:
    """The overlay as the bytes of a PNG file, at most 2000 pixels on its long side."""
    photo = m.photo.image
    height, width = photo.shape[:2]
    factor = min(1.0, LONG_SIDE / max(width, height))
    image = cv.resize(photo, round(width * factor), round(height * factor), area=True)
    canvas = np.ascontiguousarray(image)
    seen = (m.outline_pixels + 0.5) * factor - 0.5
    _dots(canvas, m, m.lattice.points, GRID)
    _dots(canvas, m, m.undecided_pixels, UNDECIDED)
    cv.draw_lines(canvas, [seen], 3, (0, 0, 0), True)
    cv.draw_lines(canvas, [seen], 2, OUTLINE, True)
    for edge in m.straight_edges:
        line = np.linspace(np.array(edge[0]), np.array(edge[1]), 40)
        cv.draw_lines(canvas, [_place(canvas, m, line)], 4, STRAIGHT)
    _flaws(canvas, m)
    if m.hide.spine is not None:
        line = np.linspace(np.array(m.hide.spine[0]), np.array(m.hide.spine[1]), 40)
        cv.draw_lines(canvas, [_place(canvas, m, line)], 2, (255, 255, 255))
    _scale_bar(canvas, m)
    _caption(canvas, m)
    return cv.encode_png(canvas)


def _dots(canvas: NDArray[np.uint8], m: Measurement, points: Points, colour: Colour) -> None:
    """A dot on each of the points (n, 2) px of the photograph: intersections that were read, and the like."""
    factor = canvas.shape[1] / m.photo.image.shape[1]
    at = np.round((points + 0.5) * factor - 0.5).astype(int)
    ok = (at > 0).all(axis=1) & (at < [canvas.shape[1] - 1, canvas.shape[0] - 1]).all(axis=1)
    for dx, dy in ((0, 0), (1, 0), (0, 1), (1, 1)):
        canvas[
            np.minimum(at[ok, 1] + dy, canvas.shape[0] - 1), np.minimum(at[ok, 0] + dx, canvas.shape[1] - 1)
        ] = colour


def _flaws(canvas: NDArray[np.uint8], m: Measurement) -> None:
    for number, flaw in enumerate(m.hide.flaws, 1):
        ring = flatten(flaw.outline)
        line = _place(canvas, m, ring)
        colour = SEVERITY[flaw.severity]
        cv.draw_lines(canvas, [line], 3, (0, 0, 0), True)
        cv.draw_lines(canvas, [line], 2, colour, True)
        x, y = line[:, 0].max() + 4, line[:, 1].min()
        words = flaw.kind if flaw.kind == flaw.severity else f"{flaw.kind}, {flaw.severity}"
        cv.write(canvas, f"{number} {words}", (x, max(y, 20)), 14, colour)


def _place(canvas: NDArray[np.uint8], m: Measurement, points: Points) -> Points:
    factor = canvas.shape[1] / m.photo.image.shape[1]
    return np.asarray((m.pixels(points) + 0.5) * factor - 0.5, np.float64)


def _scale_bar(canvas: NDArray[np.uint8], m: Measurement) -> None:
    """100 mm on the mat, drawn under the hide where the picture has room."""
    outline = flatten(m.hide.outline)
    low = outline.min(axis=0)
    start = np.array([low[0], low[1] - 25.0])
    bar = start + np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 0.0], [100.0, 0.0]])
    line = _place(canvas, m, bar)
    inside = (line > 5).all() and (line < [canvas.shape[1] - 5, canvas.shape[0] - 60]).all()
    if not inside:
        line = _place(canvas, m, bar + np.array([0.0, float(np.ptp(outline[:, 1])) + 50.0]))
    cv.draw_lines(canvas, [line], 8, (0, 0, 0))
    cv.draw_lines(canvas, [line[:2]], 5, (255, 255, 255))
    cv.draw_lines(canvas, [line[2:]], 5, (60, 60, 60))
    cv.write(canvas, "100 mm", (line[-1, 0] + 8, line[-1, 1] + 6), 14, (255, 255, 255))


def _caption(canvas: NDArray[np.uint8], m: Measurement) -> None:
    q = m.hide.measured
    assert q is not None
    ft2 = 92903.04
    text = [
        f"{m.hide.name}: {format_area(q.best_area_mm2)}  +/- {q.area_u_mm2 / ft2:.2f} ft2 (k = 2)".replace(
            "²", "2"
        ),
        f"{q.px_per_mm:.2f} px/mm, camera {m.stand.height:.0f} mm up, residual {q.residual_px:.2f} px, "
        f"hold-out {'none' if q.holdout_area_pct is None else f'{q.holdout_area_pct:+.2f} %'}, "
        f"{len(m.hide.flaws)} flaws",
    ]
    rows = 58
    strip = canvas[-rows:]
    strip[:] = (strip * 0.25).astype(np.uint8)
    for k, line in enumerate(text):
        size = 15.0
        while cv.text_width(line, size) > canvas.shape[1] - 20 and size > 8:
            size -= 1
        cv.write(canvas, line, (10, canvas.shape[0] - rows + 23 + 25 * k), size, (255, 255, 255))
