"""Where the target sheets lie, and the camera over them: one joint fit.

Unknown are the homography, the lens's radial term, where each sheet lies (the first is the frame), and how
far the print is off its size: one factor for all and one for across against along. Observed are the corners,
the tape's distances, and what is known of the print beforehand. The doubt of an area follows from the same
fit by linear propagation (bundle adjustment: Triggs et al., LNCS 1883, 2000).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture.camera import Camera, Model, image_frame
from nesting.capture.known import Known, tape_deviation
from nesting.capture.targets import CROSS, Sheet

Points = NDArray[np.float64]
Ends = tuple[Known, Points | None]
"""A known distance, and its ends (2, 2) in px of the image where they are no sheets."""

CORNER_PX = 0.15
MOST_RADIAL = 0.35
"""No lens that takes a hide from above bends more than that at the picture's corner; no source."""
REACH_MM = 1000.0
"""Lengths are fitted in metres, so that all unknowns are of one size."""


@dataclass(frozen=True)
class Print:
    """What is known of the print: logarithms of its size and of across over along, with deviations."""

    size: float = 0.0
    size_deviation: float = 0.03
    evenness: float = 0.0
    evenness_deviation: float = 0.004


@dataclass(frozen=True)
class Bundle:
    """The fit: ``unknowns`` (m,), their ``covariance`` (m, m), and what they were fitted to."""

    sheets: tuple[Sheet, ...]
    size: tuple[int, int]
    model: Model
    unknowns: Points
    covariance: Points
    cost: float

    @property
    def camera(self) -> Camera:
        """From mm of the first sheet's frame to px."""
        return bundle_camera(self.unknowns, self.model, self.size)

    def placed(self, number: int, points: Points) -> Points:
        """Points (n, 2) mm of sheet ``number``'s frame in the first sheet's."""
        return _placed(self.unknowns, number, points)

    def corners(self) -> Points:
        """All corners (n, 2) mm in the first sheet's frame."""
        return np.vstack([self.placed(k, sheet.labels) for k, sheet in enumerate(self.sheets)])

    def deviation(self, value: Callable[[Camera], float]) -> float:
        """Standard deviation of a figure that is computed with the camera."""
        slope = np.empty(len(self.unknowns))
        spreads = [float(v) for v in np.sqrt(np.diag(self.covariance))]
        for k, spread in enumerate(spreads):
            step = np.zeros(len(slope))
            step[k] = 0.05 * max(spread, 1e-9)
            high, low = (
                value(bundle_camera(self.unknowns + s * step, self.model, self.size)) for s in (1, -1)
            )
            slope[k] = (high - low) / (2.0 * step[k])
        return float(np.sqrt(max(float(slope @ self.covariance @ slope), 0.0)))

    def distance(self, one: Known, pixels: Points | None) -> float:
        """A known distance as the fit has it, mm."""
        return _distance(self.unknowns, self.camera, self.sheets, one, pixels)


def bundle_camera(p: Points, model: Model, size: tuple[int, int]) -> Camera:
    """The camera, from mm to px, in the first ten unknowns.

    The tenth, the logarithm of the print's size, only turns mm into the lengths of the design: what the
    corners say does not depend on it, and what ruler and tape say of it is not mixed up with the rest.
    """
    centre, unit = image_frame(size)
    shrink = np.exp(-p[9]) / REACH_MM
    h = np.append(p[:8], 1.0).reshape(3, 3) @ np.diag([shrink, shrink, 1.0])
    return Camera(h, float(p[8]), model, centre, unit)


def _placed(p: Points, number: int, points: Points) -> Points:
    size = np.exp(p[9])
    sized = np.asarray(points * np.exp(np.array([0.5, -0.5]) * p[10]), np.float64)
    if number == 0:
        return np.asarray(size * sized, np.float64)
    angle, x, y = p[11 + 3 * (number - 1) : 14 + 3 * (number - 1)]
    c, s = np.cos(angle), np.sin(angle)
    laid = sized @ np.array([[c, s], [-s, c]]) + REACH_MM * np.array([x, y])
    return np.asarray(size * laid, np.float64)


def _distance(p: Points, camera: Camera, sheets: Sequence[Sheet], one: Known, pixels: Points | None) -> float:
    if pixels is not None:
        ends = camera.unproject(pixels)
    else:
        letters = [sheet.letter for sheet in sheets]
        ends = np.vstack([_placed(p, letters.index(str(e)), np.array([CROSS])) for e in one.ends])
    return float(np.hypot(*(ends[1] - ends[0])))


def _start(sheets: Sequence[Sheet], size: tuple[int, int]) -> Points:
    """As seen from straight above: one scale everywhere, each sheet laid by its nearest turn and shift."""
    centre, unit = image_frame(size)
    turns, scales, shifts = [], [], []
    for sheet in sheets:
        # Complex numbers: a turn with one scale is a factor. The picture's y points down.
        a = (sheet.labels - sheet.labels.mean(axis=0)) @ [1, 1j]
        q = (sheet.points - centre) / unit
        b = (q - q.mean(axis=0)) @ [1, -1j]
        factor = np.vdot(a, b) / np.vdot(a, a).real
        turns.append(factor / abs(factor))
        scales.append(abs(factor))
        shifts.append(
            complex(q.mean(axis=0) @ [1, -1j]) - factor * complex(sheet.labels.mean(axis=0) @ [1, 1j])
        )
    scale = float(np.median(scales)) * REACH_MM
    first = turns[0] * scale
    h = [first.real, -first.imag, shifts[0].real, -first.imag, -first.real, -shifts[0].imag, 0.0, 0.0]
    poses = []
    for turn, shift in zip(turns[1:], shifts[1:], strict=True):
        at = (shift - shifts[0]) / first
        poses += [float(np.angle(turn / turns[0])), at.real, at.imag]
    return np.array([*h, 0.0, 0.0, 0.0, *poses])


def fit_bundle(
    sheets: Sequence[Sheet], size: tuple[int, int], printed: Print, known: Sequence[Ends] = (),
    near: Bundle | None = None,
) -> Bundle:  # fmt: skip
    """The best fit, of both lens models unless ``near`` says which; ``size`` is (width, height)."""
    start = _start(sheets, size)
    start[9], start[10] = printed.size, printed.evenness
    start = _solved(start, "brown", sheets, size, printed, known, CORNER_PX, lens=False)[0]
    models: tuple[Model, ...] = ("brown", "division") if near is None else (near.model,)
    best: Bundle | None = None
    for model in models:
        found, cost, _ = _solved(start, model, sheets, size, printed, known, CORNER_PX)
        off = _residuals(found, model, sheets, size, printed, (), 1.0)[:-2].reshape(-1, 2)
        # Corners of one sheet err together (its paper is not quite flat): each counts for less than alone.
        spread = 2.0 * max(float(np.sqrt((off**2).mean())), 0.08)
        _, _, jacobian = _solved(found, model, sheets, size, printed, known, spread, steps=1)
        normal = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-16, hermitian=True)
        covariance = np.asarray(normal, np.float64)
        if best is None or cost < best.cost:
            best = Bundle(tuple(sheets), size, model, found, covariance, cost)
    assert best is not None
    return best


def _residuals(
    p: Points, model: Model, sheets: Sequence[Sheet], size: tuple[int, int], printed: Print,
    known: Sequence[Ends], spread: float,
) -> Points:  # fmt: skip
    camera = bundle_camera(p, model, size)
    parts = [
        np.nan_to_num((camera.project(_placed(p, k, s.labels)) - s.points) / spread, nan=1e3).ravel()
        for k, s in enumerate(sheets)
    ]
    for one, pixels in known:
        deviation = tape_deviation(one.length_mm)
        if pixels is not None:
            # A point that a person reads off the picture is good to about a pixel.
            at = camera.unproject(pixels + np.array([[0.0, 0.0], [1.0, 1.0]])) - camera.unproject(pixels)
            deviation = float(np.hypot(deviation, np.hypot(*at[1])))
        parts.append(np.array([(_distance(p, camera, sheets, one, pixels) - one.length_mm) / deviation]))
    prior = [
        (p[9] - printed.size) / printed.size_deviation,
        (p[10] - printed.evenness) / printed.evenness_deviation,
    ]
    return np.concatenate([*parts, prior])


def _solved(
    start: Points, model: Model, sheets: Sequence[Sheet], size: tuple[int, int], printed: Print,
    known: Sequence[Ends], spread: float, lens: bool = True, steps: int = 200,
) -> tuple[Points, float, Points]:  # fmt: skip
    from scipy.optimize import least_squares

    free = np.ones(len(start), bool)
    free[8] = lens

    def residuals(q: Points) -> Points:
        p = start.copy()
        p[free] = q
        return _residuals(p, model, sheets, size, printed, known, spread)

    reach = np.full(int(free.sum()), np.inf)
    if lens:
        reach[8] = MOST_RADIAL
    found = least_squares(
        residuals,
        start[free],
        x_scale="jac",
        bounds=(-reach, reach),
        loss="soft_l1",
        f_scale=4.0,
        max_nfev=steps,
        xtol=1e-13,
        ftol=1e-11,
    )
    p = start.copy()
    p[free] = found.x
    return p, float(found.cost), np.asarray(found.jac, np.float64)


__all__ = ["Bundle", "Ends", "Print", "bundle_camera", "fit_bundle"]
