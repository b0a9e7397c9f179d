"""Masks of the hide: from pixels that look like leather to one whole piece.

A mask is an array (rows, columns) of 0 and 1 on a plan image.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import Fields
from nesting.capture.unlike import unlike_mat
from nesting.errors import CaptureRefused

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]


def hide_mask(leather: Flags, like: NDArray[Any], scale: float) -> NDArray[np.uint8]:
    """The part of ``leather`` that best covers ``like``, opened by a pixel, its holes filled.

    Parts of at least 2 cm² that a stroke of some colour parts from the hide are joined to it.
    """
    opened = cv.dilate(cv.erode(leather, 1.5), 1.5)
    labels, stats, _ = cv.components(opened, eight=False)
    if len(stats) < 2:
        raise CaptureRefused(
            "the leather cannot be told from the mat; "
            "photograph it on a mat of another colour or in even light"
        )
    shared = np.bincount(labels.ravel(), (np.asarray(like) > 0).ravel(), minlength=len(stats))
    shared[0] = 0
    return fill_holes(_whole(labels, stats, int(np.argmax(shared)), scale))


def spikes_cut(
    mask: NDArray[np.uint8], linear: Floats, fields: Fields, on_line: Flags, radius: float, scale: float
) -> NDArray[np.uint8]:
    """The mask without spikes, thinner than ``radius`` px, along ruled lines of the leather's own colour.

    What hung on the hide by such a spike alone goes too, unless a stroke parts it from the hide: one that
    runs over the edge may leave no more than that of the leather that it cuts off.
    """
    thin = mask & (1 - cv.dilate(cv.erode(mask, radius), radius))
    labels, stats, _ = cv.components(thin)
    lined = np.bincount(labels.ravel(), on_line.ravel(), minlength=len(stats))
    spike = (lined > 0.7 * stats[:, 4]) & (np.maximum(stats[:, 2], stats[:, 3]) > 1.5 * radius)
    spike[0] = False
    cut = mask & (1 - spike[labels].astype(np.uint8))
    parts, stats, _ = cv.components(cut, eight=False)
    if len(stats) < 3 or np.sort(stats[1:, 4])[-2] < _least(scale):
        return cv.largest(cut)
    between = _whole(parts, stats, 1 + int(np.argmax(stats[1:, 4])), scale) & (1 - cut)
    return fill_holes(cv.largest(cut | _foreign(between, linear, fields, on_line, 0.0)))


def notches_closed(
    mask: NDArray[np.uint8], linear: Floats, fields: Fields, on_line: Flags, scale: float
) -> NDArray[np.uint8]:
    """The mask with narrow notches filled whose colour is not the mat's: strokes that run over the edge."""
    radius = 3.4 * scale
    notches = cv.erode(cv.dilate(mask, radius), radius) & (1 - mask)
    return fill_holes(mask | _foreign(notches, linear, fields, on_line, 3.0 * scale**2))


def _foreign(
    mask: NDArray[np.uint8], linear: Floats, fields: Fields, on_line: Flags, least: float
) -> NDArray[np.uint8]:
    """The parts of a mask, of more than ``least`` px off the lines, whose colour is mostly not the mat's."""
    labels, stats, _ = cv.components(mask)
    rows, columns = np.nonzero((labels > 0) & ~on_line)
    foreign = unlike_mat(linear, fields, rows, columns)
    part = labels[rows, columns]
    total = np.bincount(part, minlength=len(stats))
    strange = np.bincount(part, foreign, minlength=len(stats))
    kept = (strange > 0.6 * total) & (total > least)
    kept[0] = False
    return kept[labels].astype(np.uint8)


def _least(scale: float) -> float:
    """How many pixels a part must have not to be dropped: 2 cm²."""
    return 200.0 * scale**2


def _whole(labels: NDArray[np.int32], stats: NDArray[Any], best: int, scale: float) -> NDArray[np.uint8]:
    """Part ``best`` with the parts of at least 2 cm² that no more than a stroke parts from it."""
    big = np.flatnonzero(stats[:, 4] > _least(scale))
    return _joined(np.where(np.isin(labels, [*big[big > 0], best]), labels, 0), best, 3.4 * scale)


def _joined(labels: NDArray[np.int32], best: int, radius: float) -> NDArray[np.uint8]:
    """Part ``best`` with all parts that closing by ``radius`` px connects to it, and what connects them."""
    parts = (labels > 0).astype(np.uint8)
    closed = cv.erode(cv.dilate(parts, radius), radius)
    whole, _, _ = cv.components(closed, eight=False)
    y, x = np.argwhere(labels == best)[0]
    mine = whole == whole[y, x]
    if len(np.unique(labels[mine & (labels > 0)])) == 1:
        return np.asarray(labels == best, np.uint8)
    between, stats, _ = cv.components(mine & (labels == 0))
    kept = mine & (labels > 0)
    for k in range(1, len(stats)):
        left, top, width, height, _ = stats[k]
        window = np.s_[max(top - 2, 0) : top + height + 2, max(left - 2, 0) : left + width + 2]
        piece = between[window] == k
        if len(np.unique(labels[window][(cv.dilate(piece, 1.5) > 0) & (labels[window] > 0)])) > 1:
            kept[window] |= piece
    return np.asarray(kept, np.uint8)


def fill_holes(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Everything that the mask encloses."""
    padded = np.pad(1 - mask, 1, constant_values=1)
    labels, _, _ = cv.components(padded, eight=False)
    return np.asarray((labels != labels[0, 0])[1:-1, 1:-1], np.uint8)
