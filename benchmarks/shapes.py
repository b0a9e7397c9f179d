"""Invented hide outlines and flaw loops for rendered photographs, in millimetres, y up.

Nothing here is shared with ``nesting.capture``: the renderer must not agree with the measurement
by construction.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

# Corner points of plain cuts in units of their width; the second field lists the indices of the
# corners between which the edge was cut true with a knife.
CUTS: dict[str, tuple[list[tuple[float, float]], tuple[int, int] | None]] = {
    "single shoulder": (
        [
            (0, 0),
            (0.5, 0),
            (1, 0),
            (1.03, 0.2),
            (0.98, 0.42),
            (0.82, 0.55),
            (0.6, 0.57),
            (0.46, 0.66),
            (0.3, 0.64),
            (0.2, 0.56),
            (0.05, 0.5),
            (-0.02, 0.3),
            (0.01, 0.12),
        ],
        (0, 2),
    ),
    "bend": (
        [
            (0, 0),
            (0.5, 0),
            (1, 0),
            (1.01, 0.3),
            (0.97, 0.52),
            (0.7, 0.56),
            (0.4, 0.55),
            (0.1, 0.53),
            (-0.01, 0.3),
        ],
        (0, 2),
    ),
    "belly": (
        [
            (0, 0.05),
            (0.2, 0),
            (0.5, 0.06),
            (0.8, 0.01),
            (1, 0.08),
            (1.02, 0.2),
            (0.9, 0.33),
            (0.72, 0.28),
            (0.5, 0.34),
            (0.28, 0.29),
            (0.12, 0.36),
            (-0.02, 0.24),
        ],
        None,
    ),
    "half skin": (
        [
            (0, 0.02),
            (0.25, 0),
            (0.5, 0.05),
            (0.75, 0.0),
            (0.97, 0.06),
            (1.05, 0.2),
            (0.93, 0.3),
            (0.96, 0.5),
            (1.02, 0.64),
            (0.86, 0.72),
            (0.66, 0.63),
            (0.44, 0.66),
            (0.22, 0.76),
            (0.06, 0.68),
            (0.09, 0.45),
            (-0.04, 0.3),
        ],
        None,
    ),
}


def closed_spline(points: Points, count: int) -> Points:
    """A smooth closed curve (centripetal Catmull-Rom) through ``points``, as ``count`` points."""
    n = len(points)
    per = max(2, count // n)
    t = np.linspace(0.0, 1.0, per, endpoint=False)[:, None]
    pieces = []
    for i in range(n):
        p0, p1, p2, p3 = (points[(i + k) % n] for k in (-1, 0, 1, 2))
        pieces.append(
            0.5
            * (
                2 * p1
                + (p2 - p0) * t
                + (2 * p0 - 5 * p1 + 4 * p2 - p3) * t**2
                + (3 * p1 - p0 - 3 * p2 + p3) * t**3
            )
        )
    return np.concatenate(pieces)


def resample(points: Points, step: float) -> Points:
    """Points at equal spacing near ``step`` along a closed polyline."""
    closed = np.vstack((points, points[:1]))
    length = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))))
    at = np.linspace(0.0, length[-1], max(8, int(length[-1] / step)), endpoint=False)
    return np.column_stack((np.interp(at, length, closed[:, 0]), np.interp(at, length, closed[:, 1])))


def dense(points: Points, most: float = 3.0) -> Points:
    """The closed polyline with no side longer than ``most`` mm, for a lens bends sides."""
    pieces = []
    for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
        count = max(1, int(np.ceil(np.hypot(*(b - a)) / most)))
        pieces.append(a + (b - a) * np.linspace(0.0, 1.0, count, endpoint=False)[:, None])
    return np.concatenate(pieces)


def polygon_area(points: Points) -> float:
    """Area of a simple polygon, positive."""
    x, y = points.T
    return float(abs(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))


def ragged(points: Points, amplitude: float, rng: np.random.Generator) -> Points:
    """The closed curve moved along its normals by noise of several wavelengths (mm)."""
    n = len(points)
    step = float(np.hypot(*(points[1] - points[0])))
    freq = np.fft.rfftfreq(n, d=step)
    power = np.where((freq > 1 / 260.0) & (freq < 1 / 9.0), (freq + 1 / 400.0) ** -0.9, 0.0)
    noise = np.fft.irfft(power * np.exp(2j * np.pi * rng.random(len(freq))), n)
    noise *= amplitude / (noise.std() + 1e-12)
    tangent = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    tangent /= np.hypot(*tangent.T)[:, None]
    return points + noise[:, None] * np.column_stack((tangent[:, 1], -tangent[:, 0]))


def hide_outline(cut: str, area: float, edge: float, straight: bool, rng: np.random.Generator) -> Points:
    """An outline of about ``area`` mm² around the origin; ``edge`` is the raggedness in mm."""
    corners, true_edge = CUTS[cut]
    control = np.array(corners) + rng.normal(0, 0.012, (len(corners), 2))
    control *= np.sqrt(area / polygon_area(control))
    curve = ragged(resample(closed_spline(control, 800), 2.0), edge, rng)
    if straight and true_edge is not None:
        a, b = control[true_edge[0]], control[true_edge[1]]
        direction = (b - a) / np.hypot(*(b - a))
        normal = np.array([-direction[1], direction[0]])
        height = (curve - a) @ normal
        # A knife along a rule: what lies under the line is moved up to it, and of each run that is
        # moved only the ends are kept, so that the edge runs one way.
        level = min(22.0, 0.025 * float(np.hypot(*(b - a)))) + 3.0 * edge
        cut_off = height < level
        inner = cut_off & np.roll(cut_off, 1) & np.roll(cut_off, -1)
        curve = (curve + normal * np.maximum(level - height, 0.0)[:, None])[~inner]
    curve -= 0.5 * (curve.min(axis=0) + curve.max(axis=0))
    return curve * np.sqrt(area / polygon_area(curve))


def loop(centre: Points, radius: float, rng: np.random.Generator) -> Points:
    """A hand-drawn closed curve of about ``radius`` mm around ``centre``."""
    angle = np.linspace(0, 2 * np.pi, 9, endpoint=False) + rng.random()
    radii = radius * (1 + rng.normal(0, 0.13, 9).clip(-0.3, 0.3))
    squash = rng.uniform(0.6, 1.0)
    control = np.column_stack((radii * np.cos(angle), squash * radii * np.sin(angle)))
    turn = rng.random() * np.pi
    rotate = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return closed_spline(control @ rotate.T, 180) + centre
