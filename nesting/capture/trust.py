"""May the measurement be trusted? What is checked before a figure is given."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture.anchors import Anchors
from nesting.capture.camera import Camera, fit_camera
from nesting.capture.lattice import Lattice
from nesting.capture.outline import Segmented
from nesting.capture.plan import local_scale
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]
SIDES = ("left", "right", "top", "bottom")

MOST_HOLDOUT_PCT = 0.5
LEAST_PX_PER_MM = 0.8
SEEN_SHARE = 0.5  # of a side's length along which the grid must show beyond the hide


def ring_area(ring: Points) -> float:
    """Area (mm²) of a ring (n, 2), positive."""
    x, y = ring[:, 0], ring[:, 1]
    return float(abs(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def seen_sides(segmented: Segmented, lattice: Lattice, pitch: float) -> dict[str, float]:
    """For each side of the hide the share of its length along which grid shows beyond it."""
    mask = segmented.mask > 0
    at = segmented.plan.to_pixels(lattice.labels * pitch)
    near = 0.1 * pitch * segmented.plan.scale
    shares = {}
    for name, axis, last in (("left", 0, False), ("right", 0, True), ("top", 1, False), ("bottom", 1, True)):
        along = at[:, 1 - axis]
        position = at[:, axis]
        lines = np.unique(lattice.labels[:, 1 - axis])
        crossing, beyond = 0, 0
        for line in lines:
            on = lattice.labels[:, 1 - axis] == line
            index = round(float(along[on][0]))
            if not 0 <= index < mask.shape[axis]:
                continue
            row = mask[index] if axis == 0 else mask[:, index]
            if not row.any():
                continue
            crossing += 1
            edge = len(row) - 1 - int(np.argmax(row[::-1])) if last else int(np.argmax(row))
            beyond += bool((position[on] > edge + near).any() if last else (position[on] < edge - near).any())
        shares[name] = beyond / crossing if crossing else 0.0
    return shares


def refuse_unseen(
    segmented: Segmented, lattice: Lattice, pitch: float, size: tuple[int, int]
) -> dict[str, float]:
    """Shares of ``seen_sides``; raises CaptureRefused where the picture cannot carry a measurement."""
    _refuse_cut_off(segmented, lattice, pitch, size)
    shares = seen_sides(segmented, lattice, pitch)
    missing = [name for name in SIDES if shares[name] < SEEN_SHARE]
    if len(missing) > 1:
        raise CaptureRefused(
            "the grid shows on fewer than three sides of the hide "
            f"(too little on the {' and the '.join(missing)}); "
            "move the hide to the middle of the mat or step back until the grid shows all around it"
        )
    middle = segmented.outline.mean(axis=0)[None]
    scale = float(local_scale(lattice.camera, pitch, middle)[0])
    if scale < LEAST_PX_PER_MM:
        raise CaptureRefused(
            f"only {scale:.2f} pixels a millimetre, fewer than the {LEAST_PX_PER_MM:g} that an edge needs; "
            "go closer or use the camera's full resolution"
        )
    return shares


def _refuse_cut_off(segmented: Segmented, lattice: Lattice, pitch: float, size: tuple[int, int]) -> None:
    """The outline must lie within the picture, and within the grid but for less than a cell."""
    pixels = lattice.camera.project(segmented.outline / pitch)
    margin = np.array([pixels[:, 0], size[0] - 1 - pixels[:, 0], pixels[:, 1], size[1] - 1 - pixels[:, 1]])
    closest = margin.min(axis=1)
    cell = float(np.hypot(*lattice.camera.steps(segmented.outline.mean(axis=0)[None] / pitch)[0][0]))
    at_hull = cut_length(segmented)
    if at_hull < 0.6 * pitch and closest.min() > 2.0:
        return
    side = SIDES[int(np.argmin(closest))]
    if closest.min() < 1.5 * cell:
        raise CaptureRefused(
            f"the hide reaches the {side} edge of the picture; "
            "step back or turn the camera so that mat shows all around it"
        )
    raise CaptureRefused(
        "the hide leaves the ruled grid by more than a cell; lay it so that grid shows on every side of it"
    )


def cut_length(segmented: Segmented) -> float:
    """Length (mm) of the outline that runs along the border of what the grid covers."""
    s = segmented
    inside = np.pad(s.sure, 1)
    pixels = np.round(s.plan.to_pixels(s.outline)).astype(int)
    reach = max(2, round(0.8 * s.plan.scale))
    outside = np.zeros(len(pixels), bool)
    for dr, dc in ((-reach, 0), (reach, 0), (0, -reach), (0, reach)):
        row = np.clip(pixels[:, 1] + dr + 1, 0, inside.shape[0] - 1)
        column = np.clip(pixels[:, 0] + dc + 1, 0, inside.shape[1] - 1)
        outside |= inside[row, column] == 0
    step = np.hypot(*(np.roll(s.outline, -1, axis=0) - s.outline).T)
    return float(step[outside].sum())


def thinned(outline: Points) -> Points:
    """About 1500 points of an outline (n, 2), enough for its area."""
    return outline[:: max(1, len(outline) // 1500)]


def hold_out(segmented: Segmented, lattice: Lattice, pitch: float) -> tuple[float, str]:
    """Largest change of area (%) when the grid on one side is left out of the fit, and which side."""
    low, high = segmented.outline.min(axis=0) / pitch, segmented.outline.max(axis=0) / pitch
    middle, half = 0.5 * (low + high), 0.5 * (high - low)
    where = (lattice.labels - middle) / half
    sideways = np.abs(where[:, 0]) > np.abs(where[:, 1])
    parts = {
        "left": sideways & (where[:, 0] < 0),
        "right": sideways & (where[:, 0] > 0),
        "top": ~sideways & (where[:, 1] > 0),
        "bottom": ~sideways & (where[:, 1] < 0),
    }
    ring = thinned(segmented.outline)
    pixels = lattice.camera.project(ring / pitch)
    whole = ring_area(ring)
    worst, worst_side = 0.0, "none"
    for name, part in parts.items():
        if part.sum() < 8 or (~part).sum() < 30:
            continue
        camera = _refit(lattice, ~part)
        change = 100.0 * (ring_area(camera.unproject(pixels) * pitch) / whole - 1.0)
        if abs(change) > abs(worst):
            worst, worst_side = change, name
    return worst, worst_side


def _refit(lattice: Lattice, keep: NDArray[np.bool_]) -> Camera:
    start = lattice.camera
    return fit_camera(lattice.labels[keep], lattice.points[keep], start, models=(start.model,), limit=700)


def refuse_unsteady(
    change_pct: float, part: str, mend: str = "flatten the mat, show more grid on every side"
) -> None:
    """Raise CaptureRefused when leaving out one part (a side, a sheet) changes the area too much."""
    if abs(change_pct) > MOST_HOLDOUT_PCT:
        left_out = f"the grid on the {part}" if part in SIDES else part
        raise CaptureRefused(
            f"the area changes by {change_pct:+.2f} % when {left_out} is left out "
            f"(at most {MOST_HOLDOUT_PCT} % is accepted): {mend}, "
            "and hold the camera straighter over the hide"
        )


def residuals(lattice: Lattice | Anchors) -> tuple[float, float]:
    """Root mean square and 95th percentile of the intersections' residuals (px)."""
    off = np.hypot(*(lattice.camera.project(lattice.labels) - lattice.points).T)
    return float(np.sqrt((off**2).mean())), float(np.percentile(off, 95))
