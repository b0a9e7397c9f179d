"""Holes: places within the hide where the mat shows through."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import to_linear
from nesting.capture.outline import Segmented
from nesting.capture.plan import Points
from nesting.capture.unlike import like_some_mat, unlike_leather
from nesting.capture.zones import zone_ring

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

SMALLEST = 20.0  # mm²
LEAST_RADIUS = 2.3  # mm: a disc of this size fits into a hole, but not into most strokes
NARROW = 3.0  # mm: what is no broader than twice this, and goes on, is a stroke of the mat's colour
FRINGE = 8.0  # mm around a hole's sure part where pixels unlike the leather belong to it


def hole_rings(s: Segmented) -> list[Points]:
    """Rings (n, 2) mm on the mat around the holes, a little larger than what is seen of the mat."""
    scale = s.plan.scale
    gap = (s.share < 0.5) & (s.mask > 0) & (cv.erode(s.mask, 1.5 * scale) > 0)
    linear = to_linear(s.image)
    # Where a ruled line would lie the share is taken from beside it, which makes a stroke broader there.
    rows, columns = np.nonzero(gap & s.on_line)
    gap[rows, columns] = unlike_leather(linear, s.fields, rows, columns)
    radius = 1.6 * scale
    # A ruled line that shows in the hole may look like leather: close over it first.
    closed = cv.erode(cv.dilate(gap, radius), radius)
    opened = cv.dilate(cv.erode(closed, radius), radius)
    labels, stats, _ = cv.components(opened)
    pad = round((FRINGE + 2.0) * scale)
    rings = []
    for k in np.flatnonzero(stats[:, 4] >= SMALLEST * scale**2):
        left, top, width, height, _ = (int(v) for v in stats[k])
        r0, c0 = max(top - pad, 0), max(left - pad, 0)
        window = np.s_[r0 : top + height + pad, c0 : left + width + pad]
        sure = labels[window] == k
        if k and _shows_mat(s, linear, sure, window):
            whole = _whole(s, linear, sure, window)
            if _is_hole(sure, whole, scale):
                rings.append(zone_ring(whole, (r0, c0), s.plan))
    return rings


def _shows_mat(s: Segmented, linear: Floats, sure: Flags, window: tuple[slice, slice]) -> bool:
    """Whether a part is of the mat's colour off the lines."""
    colours = linear[window][sure & ~s.on_line[window]]
    return len(colours) > 0 and like_some_mat(np.median(colours, axis=0), s.fields)


def _whole(s: Segmented, linear: Floats, sure: Flags, window: tuple[slice, slice]) -> Flags:
    """A hole's sure part and all around it that is not plainly leather."""
    near = cv.dilate(sure, FRINGE * s.plan.scale) > 0
    rows, columns = np.nonzero(near & ~sure)
    odd = sure.copy()
    odd[rows, columns] = (s.share[window][rows, columns] < 0.65) | unlike_leather(
        linear, s.fields, rows + window[0].start, columns + window[1].start
    )
    parts, _, _ = cv.components(odd, eight=False)
    whole = np.isin(parts, np.unique(parts[sure]))
    # A ruled line of the leather's own colour, close to the rim, leaves a notch.
    notch = NARROW * s.plan.scale
    return np.asarray(cv.erode(cv.dilate(whole, notch), notch) > 0, np.bool_)


def _is_hole(sure: Flags, whole: Flags, scale: float) -> bool:
    """Whether a part is broader than a stroke, or broad enough and ends close by."""
    radius = float(cv.distance(np.pad(sure, 1)).max()) / scale
    goes_on = bool((whole & (cv.dilate(sure, FRINGE * scale - 2.0) == 0)).any())
    return radius > (NARROW if goes_on else LEAST_RADIUS)
