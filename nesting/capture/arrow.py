"""The spine, drawn on the leather as an arrow or a plain line in a colour that is used for nothing else."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.capture.marks import Mark, OpenMark
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]

SHORTEST_MM = 60.0
SHAFT_MM = 3.0
SLIMNESS = 3.0
"""An arrow is at least so many times as long as it is wide, its head included."""


def take_arrow(
    colour: str, marks: Sequence[Mark], open_marks: Sequence[OpenMark]
) -> tuple[Points, list[Mark], list[OpenMark]]:
    """The arrow's two ends (2, 2) mm on the mat, and the marks that are left without it.

    All strokes of the colour are the arrow; a head may be closed. Raises CaptureRefused where there is none
    or where they do not make one slim figure.
    """
    zones = [mark.outline for mark in marks if mark.colour == colour]
    zones += [mark.outline for mark in open_marks if mark.colour == colour]
    if not zones:
        others = sorted(({m.colour for m in marks} | {m.colour for m in open_marks}) - {"none"})
        raise CaptureRefused(
            f"no {colour} arrow was found on the hide (strokes seen: {', '.join(others) or 'none'}); draw a "
            f"line of at least {SHORTEST_MM:.0f} mm along the backbone, in a colour used for nothing else"
        )
    points = np.vstack([_walked(zone) for zone in zones])
    ends, length, width = _axis(points)
    if length < SHORTEST_MM or length < SLIMNESS * width:
        raise CaptureRefused(
            f"the {colour} strokes make no arrow: together they are {length:.0f} mm long and {width:.0f} mm "
            f"wide; draw one straight line of at least {SHORTEST_MM:.0f} mm, and the flaws in another colour"
        )
    return (
        ends,
        [mark for mark in marks if mark.colour != colour],
        [mark for mark in open_marks if mark.colour != colour],
    )


def _axis(points: Points) -> tuple[Points, float, float]:
    """The long axis through points (n, 2): its ends (2, 2), its length and the width across it."""
    # Along the shaft: what lies far beside it, the barbs of a head, counts little.
    weight = np.ones(len(points))
    for _ in range(12):
        middle = np.average(points, axis=0, weights=weight)
        spread = (points - middle) * np.sqrt(weight)[:, None]
        direction = np.linalg.svd(spread, full_matrices=False)[2][0]
        across = (points - middle) @ np.array([-direction[1], direction[0]])
        weight = 1.0 / (1.0 + (across / SHAFT_MM) ** 2)
    along = (points - middle) @ direction
    ends = middle + np.outer([along.min(), along.max()], direction)
    return ends, float(np.ptp(along)), float(np.ptp(across))


def _walked(ring: Points) -> Points:
    """Points about every millimetre along a ring (n, 2)."""
    following = np.roll(ring, -1, axis=0)
    return np.vstack(
        [
            np.linspace(a, b, max(2, int(np.hypot(*(b - a)))), False)
            for a, b in zip(ring, following, strict=True)
        ]
    )
