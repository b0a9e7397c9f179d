"""What a measured area's uncertainty is made of.

Parts that do not depend on each other are added as squares (JCGM 100:2008, clause 5.1); each is one
standard deviation in mm². Within a part all of the outline is taken to err the same way.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture.height import Stand, walls
from nesting.units import oz_to_mm

Points = NDArray[np.float64]

USUAL_THICKNESS = (2.0, 0.7)
"""Thickness (mm) and its standard deviation when nothing is stated: from 2 to 8 oz in all but a few."""
USUAL_EDGE_PX = 0.35
"""How far the whole outline may lie in or out, as one standard deviation, where it was not worked out."""
LEAST_EDGE_PX = 0.1
"""The least of that: a lens's own halo and a camera's sharpening are in no model; from memory, no source."""
WALL = (0.5, 0.29)
"""Share of the cut edge's side that was taken for leather, and its deviation: anything from none to all
(a uniform distribution of width 1, JCGM 100:2008, clause 4.3.7)."""

LARGE_SHARE = 2e-3
"""Of the area: a part of the doubt (one deviation) worth a warning."""


def thickness_of(stated_mm: float | None, weight_oz: tuple[float, float] | None) -> tuple[float, float]:
    """Thickness (mm) of the leather and its standard deviation, from what the person states."""
    if stated_mm is not None:
        return stated_mm, 0.1
    if weight_oz is not None:
        thin, thick = (oz_to_mm(w) for w in weight_oz)
        return 0.5 * (thin + thick), max(0.29 * (thick - thin), 0.1)
    return USUAL_THICKNESS


def without_wall(ring: Points, stand: Stand, thickness: float) -> Points:
    """An outline (n, 2) mm less what is thought to be the leather's own cut side, and not its face."""
    wall, outward = walls(ring, stand, thickness)
    return np.asarray(ring - WALL[0] * wall[:, None] * outward, np.float64)


def edge_deviation(worked_out_mm: float | None, px_per_mm: float) -> float:
    """How far (mm) all of the outline may lie in or out: as worked out from the edge itself, or the usual."""
    if worked_out_mm is None:
        return USUAL_EDGE_PX / px_per_mm
    return max(worked_out_mm, LEAST_EDGE_PX / px_per_mm)


def area_parts(
    polygon: shapely.Polygon, ring: Points, frame_share: float, edge_mm: float, stand: Stand,
    thickness: tuple[float, float],
) -> dict[str, float]:  # fmt: skip
    """Deviations (mm²) of a polygon's area by cause.

    ``ring`` (n, 2) is its outline with the cut side; ``frame_share`` the share of the area that the scale of
    the frame may be off; ``thickness`` the leather's, and its deviation, in mm.
    """
    mm, mm_deviation = thickness
    wall, _ = walls(ring, stand, mm)
    step = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    # Leather t above the mat and h below the camera looks larger by 2 t / h.
    rise = float(np.hypot(mm_deviation, mm * stand.height_deviation / stand.height))
    return {
        "frame": float(polygon.area) * frame_share,
        "thickness": 2.0 * float(polygon.area) * rise / stand.height,
        "edge": float(polygon.length) * edge_mm,
        "wall": WALL[1] * float((wall * step).sum()),
    }


def mask_deviation(undecided_mm2: float) -> float:
    """Deviation (mm²) of an area whose true value may lie anywhere between two contours so far apart.

    Evenly spread between the two bounds, not symmetric about the estimate (JCGM 100:2008, clause 4.3.8).
    """
    return float(undecided_mm2 / np.sqrt(12.0))


def combined(parts: dict[str, float]) -> float:
    """One standard deviation (mm²) of all parts together."""
    return float(np.sqrt(sum(v**2 for v in parts.values())))
