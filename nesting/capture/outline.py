"""The leather's outline on the mat.

First coarsely: lattice cells whose sides all show their line are mat, cells that show none are
covered; the largest covered patch is the hide. Colours are learned from both, the share of leather
is computed for every pixel, and the contour is taken, at full scale, where the share is midway
between its own two sides: so a shadow beside the edge does not move it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import (
    SORTING,
    Fields,
    field_at,
    leather_share,
    local_mean,
    robust_mean,
    smoothed,
    to_linear,
)
from nesting.capture.edge import edge_and_doubt
from nesting.capture.lattice import Lattice
from nesting.capture.masks import hide_mask, notches_closed, spikes_cut
from nesting.capture.plan import Plan, local_scale, plan_around, plan_image
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


def cells(lattice: Lattice) -> tuple[Flags, Flags]:
    """Cells (a, b) with all four sides seen, and cells of the largest patch that shows none."""
    r, u, t = lattice.right, lattice.up, lattice.tried
    number = r[:-1, :-1].astype(int) + r[:-1, 1:] + u[:-1, :-1] + u[1:, :-1]
    inside = t[:-1, :-1] & t[1:, :-1] & t[:-1, 1:] & t[1:, 1:]
    centres = np.argwhere(np.ones(number.shape, bool)) + np.array(lattice.low) + 0.5
    hull = cv.hull(lattice.labels)
    within = _in_hull(hull, centres).reshape(number.shape)
    covered = cv.largest((number == 0) & inside & within)
    return (number == 4) & inside, covered > 0


def _in_hull(hull: Points, points: Points) -> Flags:
    edge = np.roll(hull, -1, axis=0) - hull
    inward = np.sign(np.sum(hull[:, 0] * np.roll(hull[:, 1], -1) - np.roll(hull[:, 0], -1) * hull[:, 1]))
    inside = np.ones(len(points), bool)
    for a, e in zip(hull, edge, strict=True):
        inside &= inward * (e[0] * (points[:, 1] - a[1]) - e[1] * (points[:, 0] - a[0])) >= 0
    return inside


def _paint(plan: Plan, lattice: Lattice, pitch: float, chosen: Flags) -> NDArray[np.uint8]:
    """The chosen cells as a mask on the plan."""
    index = np.argwhere(chosen) + np.array(lattice.low)
    corner = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    squares = [plan.to_pixels((cell + corner) * pitch) for cell in index.astype(float)]
    return cv.fill_polygons(plan.shape, squares)


def _hull_mask(plan: Plan, lattice: Lattice, pitch: float) -> NDArray[np.uint8]:
    return cv.fill_polygons(plan.shape, [plan.to_pixels(cv.hull(lattice.labels) * pitch)])


def _coarse(photo: Any, lattice: Lattice, pitch: float, mat_cells: Flags, covered: Flags) -> Segmented:
    labels = lattice.labels
    plan = plan_around(labels.min(axis=0) * pitch, labels.max(axis=0) * pitch, 1.0, 1.6e6)
    image = plan_image(photo, plan, lattice.camera, pitch)
    mat = _paint(plan, lattice, pitch, mat_cells)
    leather = _paint(plan, lattice, pitch, covered)
    inner = cv.erode(leather, 0.35 * pitch * plan.scale)
    leather = inner if inner.sum() > 0.2 * leather.sum() else leather
    sure = _hull_mask(plan, lattice, pitch)
    sigmas = tuple(s * plan.scale for s in (1.2 * pitch, 4 * pitch, 16 * pitch))
    return _share_and_contour(image, plan, lattice, pitch, mat, leather, sure, sigmas, leather)


def _fine(photo: Any, lattice: Lattice, pitch: float, plan: Plan, coarse: Segmented) -> Segmented:
    image = plan_image(photo, plan, lattice.camera, pitch)
    mask = transferred(coarse.mask, coarse.plan, plan)
    known = transferred(coarse.sure, coarse.plan, plan)
    away_out, away_in = cv.distance(1 - mask), cv.distance(mask)
    share = _transfer_share(coarse, plan)
    # As far off on the other side is a stroke that cuts off a part of the hide.
    mat = (away_out > 3.5 * plan.scale) & (known > 0) & (np.abs(share) < 0.35)
    leather = (away_in > 3.5 * plan.scale) & (share > 0.65)
    sure = _hull_mask(plan, lattice, pitch)
    sigmas = tuple(s * plan.scale for s in (7.0, 25.0, 100.0))
    return _share_and_contour(image, plan, lattice, pitch, mat, leather, sure, sigmas, mask)


def transferred(mask: NDArray[np.uint8], source: Plan, target: Plan) -> NDArray[np.uint8]:
    return np.asarray(resampled(mask.astype(np.float32), source, target) > 0.5, np.uint8)


def _transfer_share(coarse: Segmented, target: Plan) -> Floats:
    return resampled(coarse.share, coarse.plan, target)


def resampled(field: Floats, source: Plan, target: Plan) -> Floats:
    x = (target.left + np.arange(target.columns) / target.scale - source.left) * source.scale
    y = (source.top - target.top + np.arange(target.rows) / target.scale) * source.scale
    gx = np.broadcast_to(x.astype(np.float32), target.shape)
    gy = np.broadcast_to(y.astype(np.float32)[:, None], target.shape)
    return np.asarray(cv.sample(field, np.ascontiguousarray(gx), np.ascontiguousarray(gy), 0.0), np.float32)


def learn(
    linear: Floats,
    plan: Plan,
    mat: NDArray[Any],
    leather: NDArray[Any],
    on_line: Flags,
    sigmas: tuple[float, ...],
) -> Fields:
    """Local colours on a grid of about 3 mm from what is surely mat (off the lines) and leather."""
    ground = (np.asarray(mat) > 0) & ~on_line
    mat_field = field_of(linear, plan, ground, sigmas)
    leather_field = field_of(linear, plan, np.asarray(leather) > 0, sigmas)
    around = cv.resize(mat_field, plan.columns, plan.rows)
    picked = ground & (np.add.outer(np.arange(plan.rows), np.arange(plan.columns)) % 7 == 0)
    off = linear[picked] - around[picked]
    noise = max(1.4826 * float(np.median(np.abs(off))), 5e-4)
    # The lines' strips hold ink and mat; what they hold more than the mat is the ink's share.
    strips = (np.asarray(mat) > 0) & on_line
    more = field_of(linear, plan, strips, sigmas, local_mean) - mat_field
    ink = _full_ink(linear, around, mat, on_line, more)
    return Fields(mat_field, leather_field, noise, ink, _smear(linear, around, strips, ink))


def field_of(
    linear: Floats, plan: Plan, mask: Flags, sigmas: tuple[float, ...],
    mean: Callable[..., Floats] = robust_mean,
) -> Floats:  # fmt: skip
    """Local mean colour of the masked pixels on a grid of about 3 mm."""
    factor = max(1, round(3.0 * plan.scale))
    size = (max(2, plan.columns // factor), max(2, plan.rows // factor))
    weight = mask.astype(np.float32)
    small_weight = cv.resize(weight, *size, area=True)
    small = (
        cv.resize(linear * weight[..., None], *size, area=True) / np.maximum(small_weight, 1e-6)[..., None]
    )
    return mean(small, small_weight, tuple(s * size[0] / plan.columns for s in sigmas))


def _smear(linear: Floats, around: Floats, strips: Flags, ink: Floats) -> NDArray[np.float64] | None:
    """How pixels on open lines vary beside the share of their ink; see ``Fields``."""
    rows, columns = np.nonzero(strips)
    thin = max(1, len(rows) // 60000)
    rows, columns = rows[::thin], columns[::thin]
    if len(rows) < 50:
        return None
    ground = around[rows, columns].astype(np.float64)
    full = field_at(ink, linear, rows, columns)
    direction = full / np.maximum(np.hypot.reduce(full, axis=1), 1e-9)[:, None]
    more = linear[rows, columns] - ground
    rest = more - (more * direction).sum(axis=1)[:, None] * direction
    rest /= np.maximum(ground.mean(axis=1), 1e-4)[:, None]
    return np.asarray(rest.T @ rest / len(rows), np.float64)


def _full_ink(linear: Floats, around: Floats, mat: NDArray[Any], on_line: Flags, more: Floats) -> Floats:
    """What a line adds to the mat at full ink: the strips' mean, scaled to their strongest tenth."""
    grid = np.add.outer(np.arange(on_line.shape[0]), np.arange(on_line.shape[1])) % 5 == 0
    picked = (np.asarray(mat) > 0) & on_line & grid
    if picked.sum() < 50:
        return np.zeros_like(more)
    strength = np.abs(linear[picked] - around[picked]).sum(axis=1) / (around[picked].sum(axis=1) + 1e-4)
    usual = np.median(np.abs(more).sum(axis=-1) / (around.mean() * 3 + 1e-4))
    return np.asarray(
        more * np.clip(np.percentile(strength, 90) / max(float(usual), 1e-3), 1.0, 8.0), np.float32
    )


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
    open_ground = cv.erode(_paint(plan, lattice, pitch, among > 0), 1.5)
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
