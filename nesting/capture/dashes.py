"""Short strokes of even width, straight or bent in a bow, of which a loop may be drawn as dashes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.plan import Points
from nesting.capture.strokes import SURE, WEAK, WIDEST, Sheet

LENGTHS = (4.0, 40.0)  # mm: of a dash
SLIMNESS = 1.5  # a dash is at least so many times as long as wide
STRAIGHTNESS = 0.4  # of its width: how far a dash's pixels lie off its bow; 0.29 for an even band
CORE = 0.4  # of the strongest near by: what is a dash's own, not smeared into the gap
NEAR = 3.0  # mm: how far a strong stroke may be smeared


@dataclass(frozen=True)
class Dash:
    """A short stroke: its two ends (2, 2) px as (x, y), the unit directions (2, 2) in which it would go on
    from each, its length and width (px), the mean of its difference (3,) from the leather, its pixels."""

    ends: Points
    directions: Points
    length: float
    width: float
    colour: Points
    pixels: tuple[NDArray[np.intp], NDArray[np.intp]]


def find_dashes(sheet: Sheet) -> list[Dash]:
    """All short, slim, even strokes, whether in a row or not."""
    scale = sheet.plan.scale
    core = sheet.strength > CORE * cv.largest_near(sheet.strength, NEAR * scale)
    labels, stats, _ = cv.components(sheet.free & (sheet.strength > WEAK) & core)
    best = np.zeros(len(stats))
    np.maximum.at(best, labels.ravel(), sheet.strength.ravel())
    long_ = np.hypot(stats[:, 2], stats[:, 3])
    fits = (best > SURE) & (long_ > LENGTHS[0] * scale) & (long_ < 1.5 * LENGTHS[1] * scale)
    fits[0] = False
    found = (_dash(sheet, labels, stats[k], int(k)) for k in np.flatnonzero(fits))
    return [dash for dash in found if dash is not None]


def _dash(sheet: Sheet, labels: NDArray[np.int32], stat: NDArray[np.int32], k: int) -> Dash | None:
    """Part ``k`` as a dash, a bow of even width; None where it is another figure."""
    left, top, width, height, count = (int(v) for v in stat)
    rows, columns = np.nonzero(labels[top : top + height, left : left + width] == k)
    rows, columns = rows + top, columns + left
    points = np.column_stack((columns, rows)).astype(float)
    middle = points.mean(axis=0)
    along, across = np.linalg.svd(points - middle, full_matrices=False)[2]
    s, t = (points - middle) @ along, (points - middle) @ across
    bow = np.polyfit(s, t, 2)
    # Pixels are a unit long themselves.
    first, last = float(s.min()) - 0.5, float(s.max()) + 0.5
    length, broad = last - first, count / (last - first)
    scale = sheet.plan.scale
    if not LENGTHS[0] * scale < length < LENGTHS[1] * scale or not SLIMNESS * broad < length:
        return None
    if broad > WIDEST * scale or np.std(t - np.polyval(bow, s)) > STRAIGHTNESS * broad + 0.2:
        return None
    at = np.array([first, last])
    ends = middle + np.outer(at, along) + np.outer(np.polyval(bow, at), across)
    slopes = np.polyval(np.polyder(bow), at)
    directions = (along + np.outer(slopes, across)) * np.array([[-1.0], [1.0]])
    directions /= np.hypot(*directions.T)[:, None]
    colours = (np.log(np.maximum(v[rows, columns], 2e-3)) for v in (sheet.linear, sheet.leather))
    colour = np.subtract(*colours).mean(axis=0).astype(np.float64)
    return Dash(ends, directions, length, broad, colour, (rows, columns))
