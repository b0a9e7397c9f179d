"""The spine, drawn on the leather as an arrow or a plain line in a colour that is used for nothing else."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nesting.capture.marks import Mark, OpenMark
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]

SHORTEST_MM = 60.0
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
    points = np.vstack(zones)
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
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    angles = np.radians(np.arange(0.0, 180.0, 0.5))
    across = (points - middle) @ np.array([-np.sin(angles), np.cos(angles)])
    widths = np.ptp(across, axis=0)
    # The narrowest strip that holds all of it: a head with two barbs lies evenly in it.
    best = int(np.argmin(widths))
    direction = np.array([np.cos(angles[best]), np.sin(angles[best])])
    along = (points - middle) @ direction
    offset = 0.5 * (across[:, best].min() + across[:, best].max()) * np.array([-direction[1], direction[0]])
    ends = middle + offset + np.outer([along.min(), along.max()], direction)
    return ends, float(np.ptp(along)), float(widths[best])
