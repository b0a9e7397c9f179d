"""The leather's outline on the mat.

First coarsely: lattice cells whose sides all show their line are mat, cells that show none are
covered; the largest covered patch is the hide. Colours are learned from both, the share of leather
is computed for every pixel, and the contour is taken, at full scale, where the share is midway
between its own two sides: so a shadow beside the edge does not move it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import SORTING, Fields, leather_share, smoothed, to_linear
from nesting.capture.edge import edge_and_doubt
from nesting.capture.grid_cells import cells, hull_mask, painted
from nesting.capture.lattice import Lattice
from nesting.capture.learning import field_of, learn
from nesting.capture.masks import hide_mask, notches_closed, spikes_cut
from nesting.capture.plan import Plan, local_scale, plan_around, plan_image, resampled, transferred
from nesting.capture.ruling import Pair, learn_ruling, line_bands, near_lines
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

MOST_LINE = 4.0  # mm: half of the breadth within which a ruled line is looked for


@dataclass(frozen=True)
class Segmented:
    """A plan image with what is leather on it.

    ``outline`` (n, 2) mm on the mat, sub-pixel; ``mask`` (0/1) of the hide with its holes filled;
    ``share`` the share of leather; ``sure`` the hull (0/1) inside which the grid was read; ``edge_mm`` how
    far all of the outline may lie in or out, one standard deviation.
    """

    plan: Plan
    image: NDArray[np.uint8]
    outline: Points
    mask: NDArray[np.uint8]
    share: Floats
    separation: Floats
    on_line: Flags
    sure: NDArray[np.uint8]
    fields: Fields
    edge_mm: float | None = None


def segment(photo: NDArray[np.uint8], lattice: Lattice, pitch: float) -> Segmented:
    """The hide on the mat, coarsely over the whole grid, then finely around it."""
    mat_cells, covered = cells(lattice)
    if covered.sum() < 4:
        raise CaptureRefused(
            "no hide was found within the grid: every cell of it shows its lines; lay one hide in the middle "
            "of the mat, with grid showing on every side of it"
        )
    coarse = _coarse(photo, lattice, pitch, mat_cells, covered)
    rows, columns = np.nonzero(coarse.mask)
    box = coarse.plan.to_mm(
        np.column_stack(([columns.min(), columns.max()], [rows.max(), rows.min()])).astype(float)
    )
    pad = max(1.2 * pitch, 16.0)
    middle = box.mean(axis=0)[None]
    scale = float(local_scale(lattice.camera, pitch, middle)[0])
    plan = plan_around(box[0] - pad, box[1] + pad, scale)
    return _fine(photo, lattice, pitch, plan, coarse)


def _coarse(photo: Any, lattice: Lattice, pitch: float, mat_cells: Flags, covered: Flags) -> Segmented:
    labels = lattice.labels
    plan = plan_around(labels.min(axis=0) * pitch, labels.max(axis=0) * pitch, 1.0, 1.6e6)
    image = plan_image(photo, plan, lattice.camera, pitch)
    mat = painted(plan, lattice, pitch, mat_cells)
    leather = painted(plan, lattice, pitch, covered)
    inner = cv.erode(leather, 0.35 * pitch * plan.scale)
    leather = inner if inner.sum() > 0.2 * leather.sum() else leather
    sure = hull_mask(plan, lattice, pitch)
    sigmas = tuple(s * plan.scale for s in (1.2 * pitch, 4 * pitch, 16 * pitch))
    return _share_and_contour(image, plan, lattice, pitch, mat, leather, sure, sigmas, leather)


def _fine(photo: Any, lattice: Lattice, pitch: float, plan: Plan, coarse: Segmented) -> Segmented:
    image = plan_image(photo, plan, lattice.camera, pitch)
    mask = transferred(coarse.mask, coarse.plan, plan)
    known = transferred(coarse.sure, coarse.plan, plan)
    away_out, away_in = cv.distance(1 - mask), cv.distance(mask)
    share = resampled(coarse.share, coarse.plan, plan)
    # As far off on the other side is a stroke that cuts off a part of the hide.
    mat = (away_out > 3.5 * plan.scale) & (known > 0) & (np.abs(share) < 0.35)
    leather = (away_in > 3.5 * plan.scale) & (share > 0.65)
    sure = hull_mask(plan, lattice, pitch)
    sigmas = tuple(s * plan.scale for s in (7.0, 25.0, 100.0))
    return _share_and_contour(image, plan, lattice, pitch, mat, leather, sure, sigmas, mask)


def _share_and_contour(
    image: NDArray[np.uint8], plan: Plan, lattice: Lattice, pitch: float, mat: NDArray[Any],
    leather: NDArray[Any], sure: NDArray[np.uint8], sigmas: tuple[float, ...], like: NDArray[Any],
) -> Segmented:  # fmt: skip
    linear = cv.blur(to_linear(image), 0.7)
    bands = _line_bands(linear, lattice, pitch, plan, mat, sigmas)
    on_line = bands[0][None, :] | bands[1][:, None]
    fields = learn(linear, plan, mat, leather, on_line, sigmas)
    share, trust = leather_share(linear, fields, on_line, SORTING)
    usual, broad = _breadths(bands)
    wider = max(2.0, 0.8 * usual), max(2.0, 0.8 * broad)
    smooth = smoothed(share, trust, 1.0, *wider)
    # A cell that shows all its lines, among such cells, is mat whatever its colour (glare on dark leather).
    among = cv.erode(cells(lattice)[0], 1.0)
    open_ground = cv.erode(painted(plan, lattice, pitch, among > 0), 1.5)
    mask = hide_mask((smooth > 0.5) & (sure > 0) & (open_ground == 0), like, plan.scale)
    mask = spikes_cut(mask, linear, fields, on_line, broad + 1.5, plan.scale)
    mask = notches_closed(mask, linear, fields, on_line, plan.scale)
    separation = cv.resize(np.sqrt(fields.discriminants(SORTING)[2]), plan.columns, plan.rows)
    away = cv.dilate(mask, 4.0) == 0
    ruling = learn_ruling(linear, fields, (np.asarray(mat) > 0) & away, bands)
    outline, doubt = edge_and_doubt(linear, fields, ruling, mask, wider)
    ring = plan.to_mm(outline)
    return Segmented(plan, image, ring, mask, smooth, separation, on_line, sure, fields, doubt / plan.scale)


def _line_bands(
    linear: Floats, lattice: Lattice, pitch: float, plan: Plan, mat: NDArray[Any], sigmas: tuple[float, ...]
) -> Pair:
    """Columns and rows of the plan that ruled lines take up."""
    middle = plan.to_mm(np.array([[plan.columns / 2, plan.rows / 2]]))
    per_mm = float(local_scale(lattice.camera, pitch, middle)[0])
    half = 0.5 * lattice.line_px / per_mm
    usual = min(half + 2.0 / min(per_mm, plan.scale), 0.3 * pitch)
    wide = near_lines(plan, pitch, max(usual, min(0.3 * pitch, MOST_LINE)))
    bare = (np.asarray(mat) > 0) & ~(wide[0][None, :] | wide[1][:, None])
    field = field_of(linear, plan, bare, sigmas)
    core = near_lines(plan, pitch, max(half, 0.51 / plan.scale))
    return line_bands(linear, field, np.asarray(mat) > 0, wide, near_lines(plan, pitch, usual), core)


def _breadths(bands: Pair) -> tuple[float, float]:
    """Half the breadth (px) of the usual line and of the broadest ones."""
    widths = [cv.components(band[None])[1][1:, 2] for band in bands]
    halves = 0.5 * np.concatenate(widths) if any(len(w) for w in widths) else np.ones(1)
    return float(np.median(halves)), float(np.percentile(halves, 95))
