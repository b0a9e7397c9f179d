"""Growing a lattice of labelled intersections from one seed.

The lattice grows in waves. Each wave predicts the intersections next to those already accepted,
from the camera fitted so far plus the mean residual of the neighbours (so a wavy mat is
followed), looks for the four arms of each, and accepts what the lines themselves show. Labels
are counted from intersection to intersection, never from a distance, so a bold line or a gap
does not shift them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.arms import Arms, measure_arms
from nesting.capture.camera import Camera, fit_camera, plain_camera
from nesting.capture.seeds import Seed

Points = NDArray[np.float64]
Floats = NDArray[np.float32]
Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

RADIUS = 240  # the label grid reaches this many lines from the seed


@dataclass(frozen=True)
class Lattice:
    """Labelled intersections: ``labels`` (n, 2) as (i, j), ``points`` (n, 2) px, and the camera through them.

    ``right[a, b]`` says that the side from (i, j) to (i + 1, j) was seen, ``up`` likewise to
    (i, j + 1); ``tried`` that both ends lie in the picture. Index = label - ``low``.
    """

    labels: Points
    points: Points
    camera: Camera
    sign: int
    low: tuple[int, int]
    right: Flags
    up: Flags
    tried: Flags
    line_px: float
    contrast: float


class _Grid:
    """Dense state over labels while growing."""

    def __init__(self) -> None:
        n = 2 * RADIUS + 1
        self.ok = np.zeros((n, n), bool)
        self.tries = np.zeros((n, n), np.uint8)
        self.at = np.zeros((n, n, 2))
        self.residual = np.zeros((n, n, 2), np.float32)
        self.height = np.zeros((n, n), np.float32)

    def labels(self, mask: Flags) -> Points:
        return np.argwhere(mask).astype(np.float64) - RADIUS

    def refit(self, camera: Camera) -> None:
        where = np.argwhere(self.ok)
        off = self.at[self.ok] - camera.project(self.labels(self.ok))
        self.residual[where[:, 0], where[:, 1]] = off

    def local(self, field: Floats, size: int = 7) -> Floats:
        """Mean of a field over accepted neighbours, 0 where there are none."""
        weight = cv.box(self.ok.astype(np.float32), size)
        return np.where(weight > 1e-6, cv.box(field * self.ok, size) / np.maximum(weight, 1e-6), 0.0)


def grow(image: Floats, seed: Seed, enough: int = 24) -> Lattice | None:
    """The lattice around a seed in a luminance image, or None when the seed leads nowhere."""
    grid = _Grid()
    size = (image.shape[1], image.shape[0])
    camera = _seed_camera(seed, size)
    mask = np.zeros_like(grid.ok)
    mask[RADIUS - 1 : RADIUS + 2, RADIUS - 1 : RADIUS + 2] = True
    fitted_at = 0
    for _ in range(400):
        added = _wave(image, grid, mask, camera, seed.sign)
        count = int(grid.ok.sum())
        if count < 4:
            return None
        if count > 1.12 * fitted_at:
            camera = _fitted(grid, camera, seed, size)
            grid.refit(camera)
            fitted_at = count
        mask = (cv.dilate(grid.ok, 2.3) > 0) & ~grid.ok & (grid.tries < 3)
        if not added and not mask.any():
            break
    if int(grid.ok.sum()) < enough:
        return None
    return _finished(image, grid, _fitted(grid, camera, seed, size), seed, size)


def _seed_camera(seed: Seed, size: tuple[int, int]) -> Camera:
    labels = np.array([[i, j] for i in (-1.0, 0.0, 1.0) for j in (-1.0, 0.0, 1.0)])
    return plain_camera(labels, seed.origin + labels[:, :1] * seed.u + labels[:, 1:] * seed.v, size)


def _fitted(grid: _Grid, camera: Camera, seed: Seed, size: tuple[int, int]) -> Camera:
    labels, points = grid.labels(grid.ok), grid.at[grid.ok]
    span = np.ptp(labels, axis=0).min()
    if len(labels) < 16 or span < 3:
        return _affine(labels, points, seed, size)
    plain = plain_camera(labels, points, size)
    extent = float(np.ptp(points, axis=0).max()) / float(np.hypot(*size))
    if len(labels) < 60 or extent < 0.25:
        return plain
    start = camera if camera.k1 else plain
    return fit_camera(labels, points, start, models=("brown",), limit=500)


def _affine(labels: Points, points: Points, seed: Seed, size: tuple[int, int]) -> Camera:
    """Few points: keep the seed's steps unless the points say better, as an affine map."""
    design = np.column_stack((labels, np.ones(len(labels))))
    prior = np.array([[1.0, 0, 0], [0, 1, 0]]) * 2.0
    target = np.vstack((points, 2.0 * seed.u, 2.0 * seed.v))
    solution = np.linalg.lstsq(np.vstack((design, prior)), target, rcond=None)[0]
    corners = np.array([[-3.0, -3], [3, -3], [3, 3], [-3, 3]])
    return plain_camera(corners, corners @ solution[:2] + solution[2], size)


def _wave(image: Floats, grid: _Grid, mask: Flags, camera: Camera, sign: int) -> int:
    labels = grid.labels(mask)
    where = np.argwhere(mask)
    rows, columns = where[:, 0], where[:, 1]
    shift = np.stack([grid.local(grid.residual[..., k]) for k in (0, 1)], axis=-1)[rows, columns]
    grid.tries[rows, columns] += 1
    at = camera.project(labels) + shift
    u, v = camera.steps(labels)
    height, width = image.shape
    fine = (
        np.isfinite(at + u + v).all(axis=1)
        & (at > 0).all(axis=1)
        & (at < [width - 1, height - 1]).all(axis=1)
    )
    fine &= np.minimum(np.hypot(*u.T), np.hypot(*v.T)) > 5.0
    fine &= (rows > 3) & (columns > 3) & (rows < 2 * RADIUS - 3) & (columns < 2 * RADIUS - 3)
    grid.tries[rows[~fine], columns[~fine]] = 9
    rows, columns, at, u, v = rows[fine], columns[fine], at[fine], u[fine], v[fine]
    typical = grid.local(grid.height)[rows, columns]
    good, moved, strength = _cross(image, at, u, v, sign, typical)
    rows, columns = rows[good], columns[good]
    grid.ok[rows, columns] = True
    grid.at[rows, columns] = moved[good]
    grid.residual[rows, columns] = moved[good] - camera.project(
        np.column_stack((rows, columns)) - float(RADIUS)
    )
    grid.height[rows, columns] = strength[good]
    return int(good.sum())


def _cross(
    image: Floats, at: Points, u: Points, v: Points, sign: int, typical: Points, reach: float = 0.25
) -> tuple[Flags, Points, Points]:
    """Intersections near ``at``: accepted or not, where (px), and the height of the faintest line."""
    four = [measure_arms(image, at, a, b, sign) for a, b in ((u, v), (-u, v), (v, u), (-v, u))]
    pitch = np.minimum(np.hypot(*u.T), np.hypot(*v.T))
    seen = np.stack([a.seen & (a.height > 0.3 * typical) & (np.abs(a.offset) < reach * pitch) for a in four])
    # Opposite arms have opposite normals; bring both to the first one's.
    along_u, has_u = _mean(four[0], four[1], seen[0], seen[1])
    along_v, has_v = _mean(four[2], four[3], seen[2], seen[3])
    nu, nv = four[0].normal, four[2].normal
    det = nu[:, 0] * nv[:, 1] - nu[:, 1] * nv[:, 0]
    det = np.where(np.abs(det) < 0.2, np.nan, det)
    dx = (along_u * nv[:, 1] - along_v * nu[:, 1]) / det
    dy = (along_v * nu[:, 0] - along_u * nv[:, 0]) / det
    shift = np.column_stack((dx, dy))
    distance = np.hypot(dx, dy)
    number = seen.sum(axis=0)
    good = has_u & has_v & (distance < reach * pitch)
    good &= (number >= 3) | (distance < 0.1 * pitch)
    # The faintest arm counts: bold lines must not set what is asked of thin ones.
    heights = np.where(seen, np.stack([a.height for a in four]), np.inf).min(axis=0)
    strength = np.where(number > 0, heights, 0.0)
    return good & np.isfinite(distance), at + np.nan_to_num(shift), strength


def _mean(a: Arms, b: Arms, seen_a: Flags, seen_b: Flags) -> tuple[Points, Flags]:
    total = np.where(seen_a, a.offset, 0.0) - np.where(seen_b, b.offset, 0.0)
    number = seen_a.astype(int) + seen_b
    return total / np.maximum(number, 1), number > 0


def _finished(image: Floats, grid: _Grid, camera: Camera, seed: Seed, size: tuple[int, int]) -> Lattice:
    """Measure once more from the good camera, fit both lens models, look at every side in the picture."""
    camera = fit_camera(grid.labels(grid.ok), grid.at[grid.ok], camera)
    grid.refit(camera)
    labels = grid.labels(cv.dilate(grid.ok, 1.5) > 0)
    labels, points = _measured_again(image, grid, camera, labels, seed.sign)
    camera = fit_camera(labels, points, camera)
    return _with_sides(image, labels, points, camera, grid, seed.sign)


def _measured_again(
    image: Floats, grid: _Grid, camera: Camera, labels: Points, sign: int
) -> tuple[Points, Points]:
    index = (labels + RADIUS).astype(int)
    rows, columns = index[:, 0], index[:, 1]
    shift = np.stack([grid.local(grid.residual[..., k], 5) for k in (0, 1)], axis=-1)[rows, columns]
    u, v = camera.steps(labels)
    at = camera.project(labels) + shift
    typical = grid.local(grid.height)[rows, columns]
    fine = np.isfinite(at + u + v).all(axis=1)
    good, moved, strength = _cross(image, at[fine], u[fine], v[fine], sign, typical[fine], 0.12)
    rows, columns = rows[fine][good], columns[fine][good]
    grid.ok[:] = False
    grid.ok[rows, columns] = True
    grid.at[rows, columns] = moved[good]
    grid.height[rows, columns] = strength[good]
    grid.refit(camera)
    off = np.hypot(*np.moveaxis(grid.residual[grid.ok], -1, 0))
    limit = max(1.0, 6.0 * float(np.median(off)))
    where = np.argwhere(grid.ok)[off > limit]
    grid.ok[where[:, 0], where[:, 1]] = False
    return grid.labels(grid.ok), grid.at[grid.ok]


def _with_sides(
    image: Floats, labels: Points, points: Points, camera: Camera, grid: _Grid, sign: int
) -> Lattice:
    """Which sides of all cells in reach show their line: the cells without are covered."""
    low, high = labels.min(axis=0).astype(int) - 1, labels.max(axis=0).astype(int) + 1
    shape = tuple(high - low + 1)
    all_labels = np.argwhere(np.ones(shape, bool)).astype(np.float64) + low
    index = (all_labels + RADIUS).astype(int)
    shift = np.stack([grid.local(grid.residual[..., k], 9) for k in (0, 1)], axis=-1)[
        index[:, 0], index[:, 1]
    ]
    typical = _filled(grid.height, grid.ok)[index[:, 0], index[:, 1]]
    at = camera.project(all_labels) + shift
    u, v = camera.steps(all_labels)
    fine = np.isfinite(at + u + v).all(axis=1)
    at, u, v = np.nan_to_num(at, nan=-1e4), np.nan_to_num(u, nan=1.0), np.nan_to_num(v, nan=-1.0)
    right, up = measure_arms(image, at, u, v, sign), measure_arms(image, at, v, u, sign)
    pitch = np.minimum(np.hypot(*u.T), np.hypot(*v.T))
    limit = np.maximum(0.06 * pitch, 1.0)
    seen = [
        (a.seen & fine & (np.abs(a.offset) < limit) & (a.height > 0.35 * typical)).reshape(shape)
        for a in (right, up)
    ]
    height, width = image.shape
    inside = (fine & (at > 1).all(axis=1) & (at < [width - 2, height - 2]).all(axis=1)).reshape(shape)
    lines = np.concatenate((right.width[right.seen], up.width[up.seen]))
    line_px = float(np.percentile(lines, 80)) if len(lines) else 2.0
    contrast = float(np.median(grid.height[grid.ok]))
    return Lattice(
        labels, points, camera, sign, (int(low[0]), int(low[1])), seen[0], seen[1], inside, line_px, contrast
    )


def _filled(field: Floats, ok: Flags) -> Floats:
    """A field over labels continued smoothly to where nothing was accepted."""
    total, weight = np.zeros_like(field), np.zeros_like(field)
    for size in (5, 15, 45, 135):
        total += cv.box(field * ok, size) * 10.0 ** (-size / 15)
        weight += cv.box(ok.astype(np.float32), size) * 10.0 ** (-size / 15)
    return np.asarray(total / np.maximum(weight, 1e-12), np.float32)
