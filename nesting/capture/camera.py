"""A pinhole camera with one radial term, fitted to a ruled plane.

Labels (i, j) count ruled lines: i to the right, j up, in units of the pitch. A homography takes
labels to undistorted image points, in units of half the image diagonal from the image centre (x
right, y down); the radial term then moves each point along its radius:

- ``brown``: r_d = r_u (1 + k1 r_u²) (Brown, Photogrammetric Engineering 37, 1971);
- ``division``: r_u = r_d / (1 + k1 r_d²) (Fitzgibbon, CVPR 2001).

``k1`` is therefore, to first order, the share by which a corner of the image is moved outward
(for ``division`` inward). The better of the two is kept. Residuals are in image pixels.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Model = Literal["brown", "division"]


@dataclass(frozen=True)
class Camera:
    """Labels to pixels. ``homography`` is (3, 3), ``centre`` (2,) px, ``unit`` half the diagonal in px."""

    homography: Points
    k1: float
    model: Model
    centre: Points
    unit: float

    def project(self, labels: Points) -> Points:
        """Labels (n, 2) to pixels (n, 2); NaN for points behind the camera or past the lens model's reach."""
        h = self.homography
        w = labels @ h[2, :2] + h[2, 2]
        w = np.where(w > 1e-9, w, np.nan)
        x = (labels @ h[0, :2] + h[0, 2]) / w
        y = (labels @ h[1, :2] + h[1, 2]) / w
        stretch = _stretch(x * x + y * y, self.k1, self.model)
        return np.column_stack((x * stretch, y * stretch)) * self.unit + self.centre

    def unproject(self, pixels: Points) -> Points:
        """Pixels (n, 2) to labels (n, 2)."""
        q = (pixels - self.centre) / self.unit
        plain = q * _shrink(np.hypot(q[:, 0], q[:, 1]), self.k1, self.model)[:, None]
        back = np.column_stack((plain, np.ones(len(plain)))) @ np.linalg.inv(self.homography).T
        return np.asarray(back[:, :2] / back[:, 2:], np.float64)

    def steps(self, labels: Points) -> tuple[Points, Points]:
        """Pixel vectors (n, 2) of one step in i and in j at the labels."""
        along_i, along_j = np.array([0.5, 0.0]), np.array([0.0, 0.5])
        u = self.project(labels + along_i) - self.project(labels - along_i)
        v = self.project(labels + along_j) - self.project(labels - along_j)
        return u, v


def _stretch(r2: Points, k1: float, model: Model) -> Points:
    """r_d / r_u from r_u²."""
    if model == "brown":
        # Past its turning point the polynomial folds the plane over itself: nothing is seen there.
        return np.where(1.0 + 3.0 * k1 * r2 > 0.05, 1.0 + k1 * r2, np.nan)
    root = 1.0 - 4.0 * k1 * r2
    return np.where(root > 0.0, 2.0 / (1.0 + np.sqrt(np.maximum(root, 0.0))), np.nan)


def _shrink(rd: Points, k1: float, model: Model) -> Points:
    """r_u / r_d from r_d."""
    if model == "division":
        return 1.0 / (1.0 + k1 * rd * rd)
    ru = rd.copy()
    for _ in range(12):
        ru = ru - (ru * (1.0 + k1 * ru * ru) - rd) / np.maximum(1.0 + 3.0 * k1 * ru * ru, 0.05)
    return np.where(rd > 1e-12, ru / np.maximum(rd, 1e-12), 1.0)


def dlt(labels: Points, points: Points) -> Points:
    """Homography (3, 3) from labels to points by the normalised direct linear transform.

    Hartley & Zisserman, Multiple View Geometry, 2nd ed., algorithm 4.2. Both inputs (n, 2), n ≥ 4.
    """
    a, ta = _normalised(labels)
    b, tb = _normalised(points)
    zero, one = np.zeros(len(a)), np.ones(len(a))
    x, y = b.T
    rows_x = np.column_stack((a, one, zero, zero, zero, -x * a[:, 0], -x * a[:, 1], -x))
    rows_y = np.column_stack((zero, zero, zero, a, one, -y * a[:, 0], -y * a[:, 1], -y))
    m = np.vstack((rows_x, rows_y))
    _, vectors = np.linalg.eigh(m.T @ m)
    h = np.linalg.inv(tb) @ vectors[:, 0].reshape(3, 3) @ ta
    sign = np.sign(np.median(labels @ h[2, :2] + h[2, 2])) or 1.0
    return np.asarray(h * sign / np.linalg.norm(h), np.float64)


def _normalised(p: Points) -> tuple[Points, Points]:
    mean = p.mean(axis=0)
    scale = 1.0 / max(float(np.sqrt(((p - mean) ** 2).sum(axis=1).mean())), 1e-12)
    transform = np.array([[scale, 0, -scale * mean[0]], [0, scale, -scale * mean[1]], [0, 0, 1.0]])
    return (p - mean) * scale, transform


def plain_camera(labels: Points, pixels: Points, size: tuple[int, int]) -> Camera:
    """A camera without distortion through labelled pixels; ``size`` is (width, height)."""
    centre, unit = image_frame(size)
    return Camera(dlt(labels, (pixels - centre) / unit), 0.0, "brown", centre, unit)


def image_frame(size: tuple[int, int]) -> tuple[Points, float]:
    """Centre (px) and half diagonal (px) of an image of (width, height)."""
    return np.array([(size[0] - 1) / 2.0, (size[1] - 1) / 2.0]), 0.5 * float(np.hypot(*size))


def fit_camera(
    labels: Points,
    pixels: Points,
    start: Camera,
    models: tuple[Model, ...] = ("brown", "division"),
    limit: int = 2500,
) -> Camera:
    """Robust joint fit of homography and radial term; residuals in pixels (soft L1 at 0.5 px).

    ``labels`` and ``pixels`` are (n, 2), n ≥ 12. At most ``limit`` points are used, evenly picked.
    """
    from scipy.optimize import least_squares

    if len(labels) > limit:
        pick = np.linspace(0, len(labels) - 1, limit).astype(int)
        labels, pixels = labels[pick], pixels[pick]
    middle = labels.mean(axis=0)
    spread = float(np.abs(labels - middle).max()) or 1.0
    # Centred labels keep the nine parameters of one size.
    local = (labels - middle) / spread
    shift = np.array(
        [[1 / spread, 0, -middle[0] / spread], [0, 1 / spread, -middle[1] / spread], [0, 0, 1.0]]
    )
    h0 = start.homography @ np.linalg.inv(shift)
    h0 = h0 / h0[2, 2]
    best: tuple[float, Camera] | None = None
    for model in models:
        k0 = start.k1 if start.model == model else -start.k1

        def residual(p: Points, model: Model = model) -> Points:
            camera = Camera(np.append(p[:8], 1.0).reshape(3, 3), float(p[8]), model, start.centre, start.unit)
            off = camera.project(local) - pixels
            return np.nan_to_num(off, nan=100.0).ravel()

        guess = np.append(h0.ravel()[:8], np.clip(k0, -0.4, 0.4))
        found = least_squares(
            residual, guess, loss="soft_l1", f_scale=0.5, max_nfev=60, xtol=1e-12, ftol=1e-10
        )
        h = np.append(found.x[:8], 1.0).reshape(3, 3) @ shift
        camera = Camera(h, float(found.x[8]), model, start.centre, start.unit)
        if best is None or found.cost < best[0]:
            best = (float(found.cost), camera)
    assert best is not None
    return best[1]
