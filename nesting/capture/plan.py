"""The plan view: the photograph seen straight from above, at one scale everywhere.

A plan has x to the right and y up in mm on the mat; its image has row 0 at the top, and pixel
centres at whole numbers: column c, row r lies at x = left + c / scale, y = top - r / scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.camera import Camera

Points = NDArray[np.float64]
Floats = NDArray[np.float32]
STEP = 16


@dataclass(frozen=True)
class Plan:
    """Where a plan image lies: ``left``, ``top`` mm, ``scale`` px per mm, ``columns`` and ``rows``."""

    left: float
    top: float
    scale: float
    columns: int
    rows: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows, self.columns

    def to_mm(self, pixels: Points) -> Points:
        """Plan pixels (n, 2) as (column, row) to mm (n, 2)."""
        return np.column_stack((self.left + pixels[:, 0] / self.scale, self.top - pixels[:, 1] / self.scale))

    def to_pixels(self, mm: Points) -> Points:
        """mm (n, 2) to plan pixels (n, 2) as (column, row)."""
        return np.column_stack(((mm[:, 0] - self.left) * self.scale, (self.top - mm[:, 1]) * self.scale))


def plan_around(low: Points, high: Points, scale: float, limit: float = 10e6) -> Plan:
    """A plan over the box ``low``..``high`` (mm), coarser where it would exceed ``limit`` pixels."""
    size = high - low
    scale = min(scale, float(np.sqrt(limit / (size[0] * size[1]))))
    columns, rows = (int(np.ceil(v * scale)) + 1 for v in size)
    return Plan(float(low[0]), float(high[1]), scale, columns, rows)


def image_positions(
    plan: Plan, camera: Camera, pitch: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """For each plan pixel its place (x, y) in the photograph; computed every 16 pixels and interpolated."""
    rows, columns = (-(-n // STEP) + 2 for n in plan.shape)
    c, r = np.meshgrid(np.arange(columns) - 1, np.arange(rows) - 1)
    # Resizing aligns the outer borders of pixels, hence the half pixels.
    grid = np.column_stack((((c + 0.5) * STEP - 0.5).ravel(), ((r + 0.5) * STEP - 0.5).ravel()))
    at = camera.project(plan.to_mm(grid) / pitch).reshape(rows, columns, 2)
    at = np.nan_to_num(at, nan=-1e5).astype(np.float32)
    big = [cv.resize(at[..., k], columns * STEP, rows * STEP) for k in (0, 1)]
    crop = np.s_[STEP : STEP + plan.rows, STEP : STEP + plan.columns]
    return np.ascontiguousarray(big[0][crop]), np.ascontiguousarray(big[1][crop])


def plan_image(photo: Any, plan: Plan, camera: Camera, pitch: float) -> Any:
    """The photograph resampled into the plan (bicubic)."""
    x, y = image_positions(plan, camera, pitch)
    out = np.empty((*plan.shape, *photo.shape[2:]), photo.dtype)
    for top in range(0, plan.rows, 4096):
        for left in range(0, plan.columns, 8192):
            part = np.s_[top : top + 4096, left : left + 8192]
            out[part] = cv.warp(photo, np.ascontiguousarray(x[part]), np.ascontiguousarray(y[part]))
    return out


def local_scale(camera: Camera, pitch: float, mm: Points) -> Points:
    """Image pixels per mm (n,) at points of the mat: the root of the area scale."""
    u, v = camera.steps(mm / pitch)
    return np.sqrt(np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])) / pitch


def transferred(mask: NDArray[np.uint8], source: Plan, target: Plan) -> NDArray[np.uint8]:
    """A mask (0/1) on one plan as one on another; 0 beyond the first."""
    return np.asarray(resampled(mask.astype(np.float32), source, target) > 0.5, np.uint8)


def resampled(field: Floats, source: Plan, target: Plan) -> Floats:
    """A field on one plan as one on another, bilinear; 0 beyond the first."""
    x = (target.left + np.arange(target.columns) / target.scale - source.left) * source.scale
    y = (source.top - target.top + np.arange(target.rows) / target.scale) * source.scale
    gx = np.broadcast_to(x.astype(np.float32), target.shape)
    gy = np.broadcast_to(y.astype(np.float32)[:, None], target.shape)
    return np.asarray(cv.sample(field, np.ascontiguousarray(gx), np.ascontiguousarray(gy), 0.0), np.float32)
