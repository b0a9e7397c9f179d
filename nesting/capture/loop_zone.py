"""The zone of one closed loop: all that its stroke encloses or may have covered."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.masks import fill_holes
from nesting.capture.strokes import WIDEST, Sheet
from nesting.capture.zones import ALONG_EDGE

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

CREVICE = 2.0  # px: a narrower one between two strokes is closed
NOTCH = 3.0  # mm: a zone's border follows no notch narrower than twice this, as at a gap in the stroke


@dataclass(frozen=True)
class LoopZone:
    """Masks on a ``window`` (rows, columns) of the sheet: the ``zone``, all ``strokes`` that bound it, with
    what else hangs on them, and the loop's ``own`` part of them."""

    window: tuple[slice, slice]
    zone: Flags
    strokes: Flags
    own: Flags


def loop_zone(
    sheet: Sheet, region: Flags, lines: Flags, joined: Flags, bridged: Flags, carried: Flags,
    stat: NDArray[np.int32],
) -> LoopZone:  # fmt: skip
    """The zone around a loop's inside ``region``, whose place and size are ``stat``.

    ``lines`` are the thinned strokes, ``joined`` the strokes with what closes their gaps; ``bridged`` and
    ``carried`` are what strokes may have covered in gaps, and between dashes.
    """
    scale = sheet.plan.scale
    pad = round((WIDEST + ALONG_EDGE + 2) * scale)
    left, top, width, height, _ = (int(v) for v in stat)
    r0, c0 = max(top - pad, 0), max(left - pad, 0)
    window = np.s_[r0 : top + height + pad, c0 : left + width + pad]
    inside = region[window]
    near = cv.dilate(inside, 1.5) > 0
    mine = _parts_touching(joined[window], near)
    broad = _width(joined[window], near)
    reach = cv.dilate(inside, broad + 1.5 * scale) > 0
    reach |= _merged(mine, reach, 0.7 * broad)
    stroke = mine & reach & _core(sheet.strength[window], scale)
    drawn = _at_full_width(lines[window] & mine & reach, stroke, scale)
    # Between dashes a loop may have a corner, further out than a stroke is wide.
    patches = (bridged[window] & reach) | _parts_touching(carried[window], mine & reach)
    zone = inside | stroke | drawn | patches
    notch = NOTCH * scale
    zone = fill_holes(cv.erode(cv.dilate(zone, notch), notch)) > 0
    return LoopZone(window, zone, mine, mine & reach)


def _parts_touching(mask: Flags, where: Flags) -> Flags:
    """The connected parts of a mask (rows, columns) that reach into another."""
    labels, _, _ = cv.components(mask)
    return np.asarray(np.isin(labels, np.unique(labels[where & (labels > 0)])), np.bool_)


def _core(strength: Floats, scale: float) -> Flags:
    """Pixels at least a third as strong as the strongest near by: of a strong stroke its soft sides go."""
    return np.asarray(strength > cv.largest_near(strength, 2.0 * scale) / 3.0, np.bool_)


def _merged(mine: Flags, reach: Flags, radius: float) -> Flags:
    """The places within ``radius`` px of where strokes run together, from within reach of a loop's inside.

    Two strokes that meet at a small angle leave no inside between them long before they end.
    """
    closed = cv.erode(cv.dilate(mine, CREVICE), CREVICE)
    thick = (cv.dilate(cv.erode(closed, radius), radius) > 0) & mine
    return np.asarray(cv.dilate(_parts_touching(thick, reach), radius) > 0, np.bool_)


def _at_full_width(lines: Flags, stroke: Flags, scale: float) -> Flags:
    """Thin lines (rows, columns) at the usual width of the stroke that they run along.

    Where a stroke is interrupted, or faint in a shadow, what is seen of it is narrower than what was drawn.
    """
    if not (lines & stroke).any():
        return stroke
    # Distances end in the middle of the first pixel beside the stroke.
    half = float(np.median(cv.distance(stroke)[lines & stroke])) - 0.6
    return np.asarray(cv.dilate(lines, min(half, 0.5 * WIDEST * scale)) > 0, np.bool_)


def _width(strokes: Flags, near: Flags) -> float:
    """Width (px) of the stroke beside a region: twice the deepest distance, as a robust high value."""
    depth = cv.distance(strokes)
    band = (cv.dilate(near, 8.0) > 0) & strokes
    return 2.0 * float(np.percentile(depth[band], 90)) if band.any() else 2.0
