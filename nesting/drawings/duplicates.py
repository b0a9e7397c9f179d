"""Strokes drawn twice on one layer."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import cKDTree

from nesting.drawings.drawing import Note, Stroke, on_layer, place, repair
from nesting.rings import Points, flatten

TWICE_MM = 0.02


def without_duplicates(strokes: Sequence[Stroke]) -> tuple[list[Stroke], list[Note]]:
    """The strokes without those that lie within 0.02 mm of an earlier one on their layer."""
    if len(strokes) < 2:
        return list(strokes), []
    outlines = [flatten(stroke.vertices) for stroke in strokes]
    boxes = np.array([(*points.min(axis=0), *points.max(axis=0)) for points in outlines])
    dropped: set[int] = set()
    notes: list[Note] = []
    # Equal strokes have equal boxes: only those are worth a closer look.
    for first, second in sorted(cKDTree(boxes).query_pairs(4.0 * TWICE_MM)):
        a, b = strokes[first], strokes[second]
        if first in dropped or second in dropped or (a.layer, a.names[:1]) != (b.layer, b.names[:1]):
            continue
        if a.closed == b.closed and _coincide(outlines[first], outlines[second], a.closed):
            dropped.add(second)
            what = "ring" if b.closed else "segment" if len(b.vertices) == 2 else "line"
            text = f"dropped a duplicate {what}{on_layer(b.layer)} at {place(b.start)}"
            notes.append(repair("dropped-duplicate", text))
    return [stroke for i, stroke in enumerate(strokes) if i not in dropped], notes


def _coincide(a: Points, b: Points, closed: bool) -> bool:
    make = shapely.LinearRing if closed else shapely.LineString
    if closed and min(len(a), len(b)) < 3:
        return False
    # Looked at along each segment too: the plain one looks at vertices only, and a
    # chord seen from its own ends cannot be told from an arc over it.
    first, second = make(a), make(b)
    within: float = min(TWICE_MM, 0.1 * first.length)  # neighbours in a run of tiny segments are not twins
    apart: float = shapely.hausdorff_distance(first, second, densify=0.1)
    return apart <= within
