"""The colours of mat, leather and ink, learned from what is surely mat and what is surely leather."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import Fields, field_at, local_mean, robust_mean
from nesting.capture.plan import Plan

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]


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
