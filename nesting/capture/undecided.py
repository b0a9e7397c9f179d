"""Where along its edge a hide cannot be told from the mat, and how much area hangs on that.

Two contours can be defended: one that takes for leather only what is surely leather, one that takes all
that may be. What lies between them, beyond the blur that the whole photograph has, is undecided: deep
shadow, leather of the mat's colour, blown-out glare.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.camera import Camera
from nesting.capture.colours import to_linear
from nesting.capture.edge import REACH
from nesting.capture.outline import Segmented
from nesting.capture.unlike import unlike_leather, unlike_mat

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

FAINT = 2.0
"""Separation of leather and mat, in deviations, below which noise places the edge."""
LEAST_MARGIN, MOST_MARGIN = 0.25, 0.5
"""How far from one half a share of leather lies that is still undecided: at least, however unlike the two
sides are, as their colours are local means; at most, so that a pixel of one side's own colour is of it."""
ODDS = 2.0
"""Logarithm of the odds (7 to 1) that decide a pixel. For two normal classes with one covariance they are
the separation squared times what the share is off one half (Fisher's discriminant)."""
BLOWN_OUT = 252
"""Bytes from which all three channels count as clipped: such a pixel is as light as either side may be."""
FAR_MM = 40.0
"""Further from the edge nothing is looked at: there the ruled lines tell, or the leather's own middle."""
SPECK = 1.5
"""Patches no wider than twice that (px) are not shown."""
MOST_POINTS = 4000


@dataclass(frozen=True)
class Undecided:
    """What could not be told.

    ``length_mm`` of outline beside which it lies, or where leather and mat look so alike that noise places
    the edge; ``area_mm2`` between the two contours that can be defended; ``pixels`` (n, 2) px of it in the
    photograph, picked evenly.
    """

    length_mm: float
    area_mm2: float
    pixels: Points


def find_undecided(segmented: Segmented, camera: Camera, pitch: float) -> Undecided:
    """The stretches and patches along the outline that could be leather or mat.

    ``camera`` takes the mat's mm, in units of ``pitch``, to the photograph's px.
    """
    patches = undecided_patches(segmented)
    # Specks make up area, but nobody can look at them.
    broad = cv.dilate(cv.erode(patches, SPECK), SPECK) > 0
    rows, columns = np.nonzero(broad)
    step = max(1, len(rows) // MOST_POINTS)
    points = segmented.plan.to_mm(np.column_stack((columns, rows))[::step].astype(float))
    pixels = camera.project(points / pitch)
    area = float(np.count_nonzero(patches)) / segmented.plan.scale**2
    return Undecided(_length(segmented, broad), area, pixels)


def undecided_patches(segmented: Segmented) -> Flags:
    """Pixels of the plan (rows, columns) between the two contours, beyond the photograph's usual blur."""
    mask = segmented.mask > 0
    depth = np.where(mask, cv.distance(segmented.mask), cv.distance(1 - segmented.mask))
    looked_at = depth < FAR_MM * segmented.plan.scale
    doubtful = _along_edge(_bridged(_doubtful(segmented, looked_at), segmented.on_line), depth)
    found = np.zeros(mask.shape, np.bool_)
    for side in (mask, ~mask):
        found |= doubtful & side & (depth > usual_depth(doubtful & side, side, depth))
    return found


def usual_depth(doubtful: Flags, side: Flags, depth: Floats) -> float:
    """Depth (px) to which at least half of the edge is doubtful on one side: the photograph's own blur.

    The edge's own doubt stands for that much: for the pixel that the edge runs through at least, and for no
    more than the sharpened edge may move.
    """
    for deep in range(1, int(REACH)):
        layer = side & (depth > deep) & (depth <= deep + 1)
        if (doubtful & layer).sum() < 0.5 * layer.sum():
            return float(deep)
    return REACH


def _doubtful(s: Segmented, where: Flags) -> Flags:
    """Pixels off the ruled lines that nothing says are what they were taken for."""
    margin = np.clip(ODDS / np.maximum(s.separation**2, 1e-6), LEAST_MARGIN, MOST_MARGIN)
    blown = (s.image >= BLOWN_OUT).all(axis=-1)
    between = np.abs(s.share - 0.5) < margin
    rows, columns = np.nonzero((between | blown) & where & (s.sure > 0) & ~s.on_line)
    linear = cv.blur(to_linear(s.image), 0.7)
    mask = s.mask[rows, columns] > 0
    may_be_mat = ~unlike_mat(linear, s.fields, rows, columns)
    may_be_leather = ~unlike_leather(linear, s.fields, rows, columns)
    # What was taken for leather and cannot be mat is a stroke on it at most; and so the other way round.
    other = np.where(mask, may_be_mat, may_be_leather)
    kept = np.where(between[rows, columns], other, may_be_mat & may_be_leather)
    found = np.zeros(s.mask.shape, np.bool_)
    found[rows[kept], columns[kept]] = True
    return found


def _bridged(doubtful: Flags, on_line: Flags) -> Flags:
    """With the ruled lines that run between doubtful pixels: a line says nothing of what lies beside it."""
    if not on_line.any():
        return doubtful
    half = min(float(cv.distance(on_line).max()) + 1.0, 8.0)
    return doubtful | ((cv.erode(cv.dilate(doubtful, half), half) > 0) & on_line)


def _along_edge(doubtful: Flags, depth: Floats) -> Flags:
    """The connected parts that begin at the outline; the hide's own middle and far mat are no edge."""
    labels, stats, _ = cv.components(doubtful, eight=False)
    begins = np.zeros(len(stats), np.bool_)
    begins[labels[doubtful & (depth < 1.6)]] = True
    begins[0] = False
    return np.asarray(begins[labels], np.bool_)


def _length(s: Segmented, patches: Flags) -> float:
    """Length (mm) of the outline that is faint or has an undecided patch beside it."""
    beside = cv.dilate(patches, REACH + 1.0) > 0
    at = np.round(s.plan.to_pixels(s.outline)).astype(int)
    rows = np.clip(at[:, 1], 0, s.plan.rows - 1)
    columns = np.clip(at[:, 0], 0, s.plan.columns - 1)
    open_ = beside[rows, columns] | (s.separation[rows, columns] < FAINT)
    step = np.hypot(*(np.roll(s.outline, -1, axis=0) - s.outline).T)
    return float(step[open_].sum())
