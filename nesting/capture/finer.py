"""Are there finer lines between the lines that were found?

When thin lines are much fainter than every fifth or tenth bold one, a lattice of the bold lines
alone would fit as well, and every length would be read five or ten times too small. So the cells
are laid on top of each other: what repeats in all of them stands out of the noise.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.lattice import Lattice
from nesting.capture.seeds import Seed

Points = NDArray[np.float64]
Floats = NDArray[np.float32]
DIVISIONS = (10, 8, 5, 4, 3, 2)


def finer_seed(image: Floats, lattice: Lattice, cells: NDArray[np.bool_]) -> Seed | None:
    """A seed on the finer lattice when both families have evenly spaced lines within the cells."""
    index = np.argwhere(cells)
    if len(index) < 4:
        return None
    pick = index[np.linspace(0, len(index) - 1, min(len(index), 250)).astype(int)] + np.array(lattice.low)
    divided = [
        _division(_folded(image, lattice, pick.astype(float), axis), lattice.contrast) for axis in (0, 1)
    ]
    if divided[0] != divided[1] or divided[0] == 1:
        return None
    start = lattice.labels[len(lattice.labels) // 2][None]
    u, v = lattice.camera.steps(start)
    n = divided[0]
    return Seed(lattice.camera.project(start)[0], u[0] / n, v[0] / n, lattice.sign, 1.0)


def _folded(image: Floats, lattice: Lattice, cells: Points, axis: int) -> Points:
    """Mean luminance over all cells (times the lines' sign) at fractions 0..1 across one axis."""
    f, g = np.linspace(0, 1, 121), np.linspace(0.12, 0.88, 10)
    across, along = np.meshgrid(f, g)
    inside = np.stack((across, along) if axis == 0 else (along, across), axis=-1).reshape(-1, 2)
    at = lattice.camera.project((cells[:, None, :] + inside[None]).reshape(-1, 2)).reshape(len(cells), -1, 2)
    values = cv.sample(image, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32))
    values = values.reshape(len(cells), len(g), len(f)).mean(axis=1)
    values = values - np.nanmedian(values, axis=1)[:, None]
    return np.asarray(np.nanmedian(values, axis=0) * lattice.sign, np.float64)


def _division(profile: Points, contrast: float) -> int:
    """The finest even division of a cell all of whose lines stand out; 1 when there is none."""
    rest = profile[8:-8]
    noise = 1.4826 * float(np.median(np.abs(rest - np.median(rest)))) + 1e-6
    base = float(np.median(rest))
    fractions = np.linspace(0, 1, len(profile))
    for n in DIVISIONS:
        reach = 0.12 / n
        between = [float(profile[np.abs(fractions - (k + 0.5) / n) < reach].mean()) for k in range(n)]
        on = [float(profile[np.abs(fractions - k / n) < reach].max()) for k in range(1, n)]
        if min(on) - max(max(between), base) > max(0.12 * contrast, 3.0 * min(noise, 0.1 * contrast)):
            return n
    return 1
