"""Points of known place on a plain ground, where there is no ruled mat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture.camera import Camera

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Anchors:
    """What carries the measurement in place of a lattice.

    ``labels`` (n, 2) mm on the ground, x right, y up; ``points`` (n, 2) px where they are seen;
    ``camera`` takes mm to px. ``what`` says in words what the points are.
    """

    labels: Points
    points: Points
    camera: Camera
    what: str
