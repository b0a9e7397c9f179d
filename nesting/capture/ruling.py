"""The mat's ruled lines on a plan: how broad each is, what its ink adds to the mat, and how steadily.

On a plan a ruled line is a band of columns or of rows. What it looks like is learned where it lies open: bold
lines are broader than others, blur and a compressed file's colour reach beyond the ink, and a line that the
fit puts a part of a pixel aside differs from its own usual look most along its flanks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import Fields, field_at
from nesting.capture.plan import Plan

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]
Doubles = NDArray[np.float64]
Places = NDArray[np.intp]
Pair = tuple[Flags, Flags]

THIN = 3  # of the pixels along a line one in so many is looked at
FEWEST = 12  # open pixels along a line from which its look is taken
FAINT = 0.025  # of full ink: less does not make a pixel part of a line
BARE = 0.02  # of full ink: less makes no difference to the edge
OUTLYING = 9.0  # times the median of squares: more is dirt, not the line


@dataclass(frozen=True)
class Profile:
    """Of each column (or row) of a plan: what a ruled line adds there to the mat, (n, 3), and the deviation
    from that, (n,), both in lengths of the local full ink."""

    ink: Floats
    doubt: Floats


@dataclass(frozen=True)
class Ruling:
    """The lines' own look: ``columns`` of those that run up, ``rows`` of those that run across.

    ``spread`` (3, 3) is how colours deviate from it, of trace 1.
    """

    columns: Profile
    rows: Profile
    spread: Doubles

    def at(self, rows: Places, columns: Places) -> tuple[Floats, Floats]:
        """Ink (n, 3) and its deviation (n,) at pixels (row, column); where two lines cross it lies once."""
        one, other = (p.ink[k] for p, k in ((self.columns, columns), (self.rows, rows)))
        up = (one * one).sum(axis=1) >= (other * other).sum(axis=1)
        doubt = np.maximum(self.columns.doubt[columns], self.rows.doubt[rows])
        return np.where(up[:, None], one, other), doubt


def no_ruling(plan: Plan) -> Ruling:
    """The ruling of a plain ground."""
    return Ruling(_nothing(plan.columns), _nothing(plan.rows), np.eye(3) / 3.0)


def _nothing(size: int) -> Profile:
    return Profile(np.zeros((size, 3), np.float32), np.zeros(size, np.float32))


def near_lines(plan: Plan, pitch: float, half_mm: float) -> Pair:
    """Columns and rows of the plan within ``half_mm`` of a ruled line."""
    x = plan.left + np.arange(plan.columns) / plan.scale
    y = plan.top - np.arange(plan.rows) / plan.scale
    across, down = (np.abs(v / pitch - np.round(v / pitch)) * pitch < half_mm for v in (x, y))
    return across, down


def line_bands(linear: Floats, mat_field: Floats, mat: Flags, wide: Pair, usual: Pair, core: Pair) -> Pair:
    """Columns and rows in which a ruled line is seen, each line as broad as it is.

    Looked for within ``wide``; ``core`` is where ink lies at least. A line that lies nowhere open is as broad
    as ``usual``.
    """
    columns, rows = (_bands(linear, mat_field, mat, wide, usual, core, axis) for axis in (0, 1))
    return columns, rows


def _bands(
    linear: Floats, mat_field: Floats, mat: Flags, wide: Pair, usual: Pair, core: Pair, axis: int
) -> Flags:
    near = np.flatnonzero(wide[axis])
    more, lightness = _more_than_mat(linear, mat_field, mat, near, np.flatnonzero(~wide[1 - axis]), axis)
    count = np.isfinite(lightness).sum(axis=0)
    seen = count >= FEWEST
    inked = core[axis][near] & seen
    if not inked.any():
        return usual[axis]
    look = np.zeros((len(near), 3))
    look[seen] = np.nanmedian((more / lightness[..., None])[:, seen], axis=0)
    direction = look[inked].mean(axis=0)
    strength = look @ direction / max(float(np.hypot.reduce(direction)), 1e-9)
    full = float(np.percentile(strength[inked], 90))
    inky = core[axis].copy()
    inky[near[seen]] |= strength[seen] > FAINT * full
    inky[near[~seen]] = usual[axis][near[~seen]]
    parts, _, _ = cv.components(inky[None])
    return np.asarray(np.isin(parts[0], np.unique(parts[0][core[axis] & inky])) & inky, np.bool_)


def _more_than_mat(
    linear: Floats, mat_field: Floats, mat: Flags, near: Places, along: Places, axis: int
) -> tuple[Floats, Floats]:
    """What the picture holds more than the mat, (along, near, 3), and the mat's lightness (along, near).

    NaN where no mat lies open.
    """
    along = along[::THIN]
    rows, columns = (v.ravel() for v in np.meshgrid(along, near, indexing="ij"))
    rows, columns = (rows, columns) if axis == 0 else (columns, rows)
    open_ = mat[rows, columns]
    r, c = rows[open_], columns[open_]
    ground = field_at(mat_field, linear, r, c)
    more = np.full((len(rows), 3), np.nan, np.float32)
    lightness = np.full(len(rows), np.nan, np.float32)
    more[open_] = linear[r, c] - ground
    lightness[open_] = np.maximum(ground.mean(axis=1), 1e-4)
    shape = len(along), len(near)
    return more.reshape(*shape, 3), lightness.reshape(shape)


def learn_ruling(linear: Floats, fields: Fields, mat: Flags, bands: Pair) -> Ruling:
    """The lines' own looks, each along its open stretches of mat."""
    columns, aside = _profile(linear, fields, mat, bands, 0)
    rows, above = _profile(linear, fields, mat, bands, 1)
    away = np.vstack((aside, above))
    spread = away.T @ away + 1e-12 * np.eye(3)
    return Ruling(columns, rows, spread / np.trace(spread))


def _profile(linear: Floats, fields: Fields, mat: Flags, bands: Pair, axis: int) -> tuple[Profile, Doubles]:
    """The look of the lines of one axis, and single pixels' deviations from it (m, 3)."""
    near = np.flatnonzero(cv.dilate(bands[axis][None], 3.0)[0])
    along = np.flatnonzero(~bands[1 - axis])
    none = _nothing(mat.shape[1 - axis])
    more, _ = _more_than_mat(linear, fields.mat, mat, near, along, axis)
    rows, columns = (v.ravel() for v in np.meshgrid(along[::THIN], near, indexing="ij"))
    rows, columns = (rows, columns) if axis == 0 else (columns, rows)
    full = np.hypot.reduce(field_at(fields.ink, linear, rows, columns), axis=1).reshape(more.shape[:2])
    share = more / np.maximum(full, 1e-6)[..., None]
    seen = np.isfinite(share[..., 0]).sum(axis=0) >= FEWEST
    if not seen.any():
        return none, np.zeros((0, 3))
    usual = np.nanmedian(share[:, seen], axis=0)
    away = share[:, seen] - usual
    squared = (away * away).sum(axis=-1)
    most = OUTLYING * np.nanmedian(squared, axis=0)
    ink, doubt = none.ink.copy(), none.doubt.copy()
    ink[near[seen]] = np.clip(usual, -2.0, 2.0)
    doubt[near[seen]] = np.sqrt(np.nanmean(np.minimum(squared, most), axis=0))
    return Profile(ink, doubt), away[squared <= most].astype(np.float64)
