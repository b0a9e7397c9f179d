"""What a paper pattern shows beyond the panel's own lines: reference points, centre line, stretch."""

from __future__ import annotations

import math

import numpy as np
import shapely

from nesting.files.panel import Panel
from nesting.rings import Point, flatten

Segment = tuple[Point, Point]
PAST_MM = 4.0
"""A centre line is drawn so far past the panel, for a rule to be laid along it."""
SYMMETRY_MM = 0.1
"""A panel counts as symmetrical when its mirror image is nowhere further off than this."""


def reference_points(panel: Panel) -> Segment:
    """Points A and B of a panel: the two corners of its outline that lie furthest apart.

    With both laid where the sheet says, the pattern lies right: two points fix a place and a turn.
    """
    corners = np.array([vertex[:2] for vertex in panel.outline])
    apart = np.hypot(*(corners[:, None] - corners[None, :]).transpose(2, 0, 1))
    # Rounded, so that of several pairs equally far apart the first listed wins on every machine.
    i, j = np.unravel_index(int(np.round(apart, 6).argmax()), apart.shape)
    return (float(corners[i][0]), float(corners[i][1])), (float(corners[j][0]), float(corners[j][1]))


def centre_line(panel: Panel) -> Segment | None:
    """The panel's own centre line, else the upright or level one about which its outline is symmetrical.

    It is a little longer than the panel; None where there is neither.
    """
    if panel.centre_line is not None:
        (x0, y0), (x1, y1) = panel.centre_line
        share = PAST_MM / math.dist(*panel.centre_line)
        dx, dy = share * (x1 - x0), share * (y1 - y0)
        return (x0 - dx, y0 - dy), (x1 + dx, y1 + dy)
    points = flatten(panel.outline, 0.01)
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (low + high) / 2
    ring = shapely.LinearRing(points)
    for axis in (0, 1):
        mirrored = points.copy()
        mirrored[:, axis] = 2 * middle[axis] - mirrored[:, axis]
        if shapely.hausdorff_distance(ring, shapely.LinearRing(mirrored), densify=0.02) <= SYMMETRY_MM:
            start, end = middle.copy(), middle.copy()
            start[1 - axis], end[1 - axis] = low[1 - axis] - PAST_MM, high[1 - axis] + PAST_MM
            return (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    return None


def stretch_arrow(
    panel: Panel, at: Point, room: float
) -> list[np.ndarray[tuple[int, int], np.dtype[np.float64]]]:
    """A double arrow in the panel's stretch direction, ``room`` mm long about ``at``; empty without one."""
    if panel.stretch is None:
        return []
    angle = math.radians(panel.stretch.angle_deg)
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-along[1], along[0]])
    ends = np.array(at) + np.outer((-0.5, 0.5), along) * room
    lines = [ends]
    for tip, sign in zip(ends, (1.0, -1.0), strict=True):
        back = tip + sign * along * min(5.0, room / 4)
        wing = across * min(2.0, room / 10)
        lines.append(np.array([back + wing, tip, back - wing]))
    return lines
