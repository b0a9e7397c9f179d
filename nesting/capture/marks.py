"""Flaw marks on the leather: the loops that strokes of chalk or pen close, and the strokes that close none.

Dashes in a row are one stroke. Ends that point at each other across a small gap are joined; the hide's edge
may close a loop. What a stroke cuts off from the rest of the hide is the inside of a loop; a mark that cuts
off nothing is reported as open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.holes import hole_rings
from nesting.capture.joins import Joins, find_joins
from nesting.capture.loop_zone import loop_zone
from nesting.capture.outline import Segmented
from nesting.capture.plan import Points
from nesting.capture.rows import Rows, find_rows
from nesting.capture.strokes import SHORTEST, SURE, Sheet, find_strokes
from nesting.capture.thin import thinned
from nesting.capture.words import name_of
from nesting.capture.zones import zone_ring

Flags = NDArray[np.bool_]

SMALLEST_LOOP = 30.0  # mm²
MOSTLY = 0.6  # of a stroke's length: so much of it in dashes makes it dashed


@dataclass(frozen=True)
class Mark:
    """A zone on the mat in mm (n, 2), and the colour of its stroke; ``hole`` where the mat shows through.

    ``dashed`` where the stroke is a row of dashes.
    """

    outline: Points
    colour: str
    hole: bool = False
    dashed: bool = False


@dataclass(frozen=True)
class OpenMark:
    """A stroke, or a row of dashes, that closes nothing: zone (n, 2) mm, colour, length and middle (mm)."""

    outline: Points
    colour: str
    length: float
    at: tuple[float, float]
    dashed: bool = False


def find_holes(segmented: Segmented) -> list[Mark]:
    """Places within the hide where the mat shows through."""
    return [Mark(ring, "none", True) for ring in hole_rings(segmented)]


def find_marks(segmented: Segmented, holes: list[Mark]) -> tuple[list[Mark], list[OpenMark]]:
    """Closed loops as zones, and the marks that stay open; strokes are not looked for beside the holes."""
    return marks_on(find_strokes(segmented, [hole.outline for hole in holes]))


def marks_on(sheet: Sheet) -> tuple[list[Mark], list[OpenMark]]:
    """Loops and open marks of the strokes on a sheet."""
    rows = find_rows(sheet)
    sheet = replace(sheet, strokes=sheet.strokes | rows.lines)
    if not sheet.strokes.any():
        return [], []
    lines = thinned(sheet.strokes)
    joins = find_joins(lines, sheet)
    joined = sheet.strokes | joins.lines
    labels, stats, _ = cv.components(sheet.free & ~joined, eight=False)
    if len(stats) < 2:
        return [], []
    main = 1 + int(np.argmax(stats[1:, 4]))
    least = SMALLEST_LOOP * sheet.plan.scale**2
    inside = [k for k in range(1, len(stats)) if k != main and least <= stats[k, 4] <= 0.25 * stats[main, 4]]
    used = np.zeros_like(joined)
    loops = [_loop(sheet, labels == k, lines, joined, joins, rows, stats[k], used) for k in inside]
    return loops, _open_marks(sheet, lines, rows, used)


def _loop(
    sheet: Sheet, region: Flags, lines: Flags, joined: Flags, joins: Joins, rows: Rows, stat: NDArray[Any],
    used: Flags,
) -> Mark:  # fmt: skip
    """The zone of one loop: its inside, its stroke, and the uncertainty."""
    found = loop_zone(sheet, region, lines, joined, joins.patches, rows.patches, stat)
    window = found.window
    used[window] |= found.strokes
    ring = zone_ring(found.zone, (window[0].start, window[1].start), sheet.plan, ~sheet.free[window])
    dashed = _is_dashed(found.own & lines[window], rows, window)
    return Mark(ring, colour_name(sheet, found.own, window), dashed=dashed)


def _is_dashed(line: Flags, rows: Rows, window: Any) -> bool:
    """Whether most of a thin line in a window runs along a row of dashes."""
    return bool((line & rows.lines[window]).sum() > MOSTLY * line.sum())


def _open_marks(sheet: Sheet, lines: Flags, rows: Rows, used: Flags) -> list[OpenMark]:
    labels, stats, centres = cv.components(sheet.strokes)
    scale = sheet.plan.scale
    length = np.bincount(labels[lines], minlength=len(stats)) / scale
    bound = np.bincount(labels[used & sheet.strokes], minlength=len(stats))
    depth = np.zeros(len(stats))
    np.maximum.at(depth, labels.ravel(), cv.distance(sheet.free).ravel())
    out = []
    for k in range(1, len(stats)):
        # What only runs along the hide's own edge is the edge's shade.
        if depth[k] < 3.5 * scale or length[k] < SHORTEST or bound[k] > 0.3 * stats[k, 4]:
            continue
        left, top, width, height, _ = (int(v) for v in stats[k])
        window = np.s_[top : top + height, left : left + width]
        part = labels[window] == k
        # What encloses nothing must be plain to see: mottled leather beside a shadow's edge is not.
        if np.percentile(sheet.strength[window][part], 75) < SURE:
            continue
        dashed = _is_dashed(part & lines[window], rows, window)
        x, y = sheet.plan.to_mm(centres[k][None])[0]
        colour = colour_name(sheet, part, window)
        ring = zone_ring(part, (top, left), sheet.plan)
        out.append(OpenMark(ring, colour, float(length[k]), (float(x), float(y)), dashed))
    return out


def colour_name(sheet: Sheet, part: Flags, window: Any) -> str:
    """The stroke's colour in one word, from its strongest quarter, beside the leather's own."""
    strength = np.where(part, sheet.strength[window], 0.0)
    if not part.any():
        return "faint"
    strong = strength >= np.percentile(strength[part], 75)
    colour = np.median(sheet.linear[window][strong & part], axis=0).astype(np.float64)
    leather = np.median(sheet.leather[window][strong & part], axis=0).astype(np.float64)
    return name_of(colour[::-1], leather[::-1])
