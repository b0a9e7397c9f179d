"""Zones that are a little larger than what they enclose, with sub-pixel borders."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.plan import Plan, Points

Flags = NDArray[np.bool_]

UNCERTAINTY = 0.5  # mm by which a zone is grown: a pixel of 0.6 mm may lie across the stroke's side
ALONG_EDGE = 6.0  # mm by which a zone is grown where strokes are not looked for


def zone_ring(zone: Flags, at: tuple[int, int], plan: Plan, barred: Flags | None = None) -> Points:
    """Ring (n, 2) mm around a zone (rows, columns) that starts at (row, column) ``at`` of a plan.

    Grown by ``UNCERTAINTY``, and by ``ALONG_EDGE`` over ``barred`` pixels: strokes are not looked for close
    to the hide's edge, and one that reaches there goes on to it, at whatever slant.
    """
    import contourpy

    reach = UNCERTAINTY * plan.scale + 0.5
    far = 0.0 if barred is None else ALONG_EDGE * plan.scale
    pad = int(np.ceil(max(reach, far))) + 2
    # Distances run between the middles of pixels, and a pixel of the zone reaches half a pixel further.
    away = cv.distance(~np.pad(zone, pad))
    field = np.clip(reach - away, -1.0, 1.0)
    if barred is not None:
        near_edge = np.pad(barred, pad, mode="edge")
        field = np.where(near_edge, np.maximum(field, np.clip(far - away, -1.0, 1.0)), field)
    field[0, :] = field[-1, :] = field[:, 0] = field[:, -1] = -1.0
    lines = contourpy.contour_generator(z=field, name="serial").lines(0.0)
    ring = max((np.asarray(line) for line in lines), key=lambda r: float(np.ptp(r, axis=0).prod()))
    return plan.to_mm(ring[:-1] - pad + [at[1], at[0]])
