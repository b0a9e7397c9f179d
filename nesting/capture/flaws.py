"""From marks on the mat to the flaws of a hide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture.height import Stand, lowered
from nesting.capture.marks import Mark, OpenMark
from nesting.capture.shape import clean_polygon, largest_polygon
from nesting.files.hide import Flaw, Severity
from nesting.rings import ring_from_points

Points = NDArray[np.float64]

STEP = 0.25  # mm by which a zone is simplified, and grown before


def flaws_of(
    marks: Sequence[Mark], open_marks: Sequence[OpenMark], severity: Mapping[str, Severity], stand: Stand,
    thickness: float, corner: Points, outline: Points,
) -> tuple[Flaw, ...]:  # fmt: skip
    """Flaws in the hide's own frame, whose origin lies at ``corner`` (2,) mm; those that touch ``outline``.

    ``severity`` maps looks of strokes to severities, as ``Wishes`` does; others are ``weak``.
    """
    leather = shapely.Polygon(outline)
    found: list[Flaw] = []

    def add(kind: str, how_bad: Severity, zone: shapely.Polygon) -> None:
        # Grown by what simplifying takes, so that the zone is never smaller than the mark.
        coarse = shapely.simplify(zone.buffer(STEP), STEP)
        zone = clean_polygon(np.asarray(coarse.exterior.coords)[:-1])
        if zone.intersection(leather).area > 1.0:
            found.append(Flaw(kind, how_bad, ring_from_points(np.asarray(zone.exterior.coords)[:-1])))

    for mark in marks:
        zone = clean_polygon(lowered(mark.outline, stand, thickness) - corner)
        if mark.hole:
            # A hole's walls hide the mat on one side: what is seen may end at its top or at its bottom.
            add("hole", "hole", largest_polygon(shapely.union(zone, clean_polygon(mark.outline - corner))))
        else:
            add(f"{look_of(mark)} loop", severity_of(mark, severity), zone)
    for left in open_marks:
        zone = clean_polygon(lowered(left.outline, stand, thickness) - corner)
        add(f"open {look_of(left)} mark", severity_of(left, severity), zone)
    return tuple(found)


def look_of(mark: Mark | OpenMark) -> str:
    """A stroke's colour, and whether it is dashed, in words: ``blue dashed``."""
    return f"{mark.colour} dashed" if mark.dashed else mark.colour


def severity_of(mark: Mark | OpenMark, severity: Mapping[str, Severity]) -> Severity:
    """What a mark means: the closest description that is given counts, dashes before colour."""
    looks = (look_of(mark), "dashed", mark.colour) if mark.dashed else (mark.colour,)
    return next((severity[look] for look in looks if look in severity), "weak")
