"""How high the camera stood, and what that means for leather that lies above the mat.

A homography of a plane with square pixels and a centred principal point gives the focal length
and the camera's place (Zhang, PAMI 22, 2000, section 3.1). Seen from straight above it says
nothing about the focal length; there the focal length stated in the file, or a usual one, decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture.camera import Camera

Points = NDArray[np.float64]

USUAL_FOCAL = 1.25  # in half diagonals: 27 mm on 35 mm film, the main camera of most phones
USUAL_SPREAD = 0.16  # relative deviation of that
STATED_SPREAD = 0.06


@dataclass(frozen=True)
class Stand:
    """Where the camera stood: ``foot`` (2,) mm on the mat below, ``height`` mm above it, its deviation."""

    foot: Points
    height: float
    height_deviation: float
    focal: float


def find_stand(
    camera: Camera, pitch: float, residual_px: float, points: int, focal_35mm: float | None
) -> Stand:
    """The camera's place over the mat in mm."""
    h = camera.homography @ np.diag([1.0 / pitch, 1.0 / pitch, 1.0])
    prior, spread = (
        (USUAL_FOCAL, USUAL_SPREAD) if focal_35mm is None else (focal_35mm / 21.633, STATED_SPREAD)
    )
    seen = _focal_squared(h)
    focal, deviation = prior, prior * spread
    if seen is not None:
        value, slope = seen
        # The corners of the picture carry the perspective; their place is known to this share of it.
        noise = slope * max(residual_px, 0.05) / camera.unit / np.sqrt(max(points, 4) / 40.0)
        own = max(noise, 0.02 * value)
        weight = (1 / own**2) / (1 / own**2 + 1 / deviation**2)
        focal = weight * value + (1 - weight) * prior
        deviation = float(1 / np.sqrt(1 / own**2 + 1 / deviation**2))
    foot, height = _place(h, focal)
    return Stand(foot, height, height * deviation / focal, float(focal))


def _focal_squared(h: Points) -> tuple[float, float] | None:
    """Focal length from the two conditions of Zhang's eq. 3 and 4, and its sensitivity to the perspective."""
    a, b = h[:, 0], h[:, 1]
    # Conditions c1 · w + d1 = 0 and c2 · w + d2 = 0 with w = 1/f².
    c = np.array([a[0] * b[0] + a[1] * b[1], a[0] ** 2 + a[1] ** 2 - b[0] ** 2 - b[1] ** 2])
    d = np.array([a[2] * b[2], a[2] ** 2 - b[2] ** 2])
    power = float((c * c).sum())
    if power <= 0:
        return None
    w = -float((c * d).sum()) / power
    if w <= 0:
        return None
    focal = 1.0 / np.sqrt(w)
    if not 0.5 < focal < 6.0:
        return None
    size = float(np.sqrt(a[0] ** 2 + a[1] ** 2) * np.sqrt(b[0] ** 2 + b[1] ** 2))
    tilt = float(np.sqrt(power)) / size  # about the square of the tangent of the tilt
    return focal, focal / max(tilt, 1e-6)


def _place(h: Points, focal: float) -> tuple[Points, float]:
    """Foot and height (mm) of the camera for a focal length in half diagonals."""
    k = np.diag([1.0 / focal, 1.0 / focal, 1.0])
    r1, r2, t = (k @ h).T
    scale = 2.0 / (np.linalg.norm(r1) + np.linalg.norm(r2))
    r1, r2, t = r1 * scale, r2 * scale, t * scale
    r3 = np.cross(r1, r2)
    u, _, vt = np.linalg.svd(np.column_stack((r1, r2, r3)))
    rotation = u @ vt
    centre = -rotation.T @ t
    return centre[:2], float(abs(centre[2]))


def lowered(points: Points, stand: Stand, thickness: float) -> Points:
    """Points (n, 2) mm, seen against the mat, to where they lie ``thickness`` mm above it.

    The line of sight through a mat point Q passes height t at Q + (C - Q) t / h.
    """
    return points + (stand.foot - points) * (thickness / stand.height)


def walls(ring: Points, stand: Stand, thickness: float) -> tuple[Points, Points]:
    """How much (mm, (n,)) of the leather's own cut edge shows beyond its face, and outward normals (n, 2).

    ``ring`` (n, 2) mm. An edge that faces the camera's foot shows its cut side, ``thickness`` high, down to
    the mat; one that turns away hides it, and there the width is 0.
    """
    along = np.roll(ring, -3, axis=0) - np.roll(ring, 3, axis=0)
    normal = np.column_stack((along[:, 1], -along[:, 0])) / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    x, y = ring.T
    normal *= np.sign(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    facing = ((stand.foot - ring) * normal).sum(axis=1)
    return np.maximum(facing, 0.0) * (thickness / stand.height), normal
