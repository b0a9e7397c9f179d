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
from nesting.capture.masks import fill_holes
from nesting.capture.outline import Segmented
from nesting.capture.plan import Points
from nesting.capture.rows import Rows, find_rows
from nesting.capture.strokes import SHORTEST, SURE, WIDEST, Sheet, find_strokes
from nesting.capture.thin import thinned
from nesting.capture.words import name_of
from nesting.capture.zones import ALONG_EDGE, zone_ring

Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

SMALLEST_LOOP = 30.0  # mm²
MOSTLY = 0.6  # of a stroke's length: so much of it in dashes makes it dashed
CREVICE = 2.0  # px: a narrower one between two strokes is closed
NOTCH = 3.0  # mm: a zone's border follows no notch narrower than twice this, as at a gap in the stroke


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
    scale = sheet.plan.scale
    pad = round((WIDEST + ALONG_EDGE + 2) * scale)
    left, top, width, height, _ = (int(v) for v in stat)
    r0, c0 = max(top - pad, 0), max(left - pad, 0)
    window = np.s_[r0 : top + height + pad, c0 : left + width + pad]
    inside = region[window]
    near = cv.dilate(inside, 1.5) > 0
    mine = _parts_touching(joined[window], near)
    used[window] |= mine
    broad = _width(joined[window], near)
    reach = cv.dilate(inside, broad + 1.5 * scale) > 0
    reach |= _merged(mine, reach, 0.7 * broad)
    stroke = mine & reach & _core(sheet.strength[window], scale)
    drawn = _at_full_width(lines[window] & mine & reach, stroke, scale)
    # Between dashes a loop may have a corner, further out than a stroke is wide.
    patches = (joins.patches[window] & reach) | _parts_touching(rows.patches[window], mine & reach)
    zone = inside | stroke | drawn | patches
    notch = NOTCH * scale
    zone = fill_holes(cv.erode(cv.dilate(zone, notch), notch)) > 0
    ring = zone_ring(zone, (r0, c0), sheet.plan, ~sheet.free[window])
    mine &= reach
    dashed = _is_dashed(mine & lines[window], rows, window)
    return Mark(ring, colour_name(sheet, mine, window), dashed=dashed)


def _parts_touching(mask: Flags, where: Flags) -> Flags:
    """The connected parts of a mask (rows, columns) that reach into another."""
    labels, _, _ = cv.components(mask)
    return np.asarray(np.isin(labels, np.unique(labels[where & (labels > 0)])), np.bool_)


def _is_dashed(line: Flags, rows: Rows, window: Any) -> bool:
    """Whether most of a thin line in a window runs along a row of dashes."""
    return bool((line & rows.lines[window]).sum() > MOSTLY * line.sum())


def _core(strength: Floats, scale: float) -> Flags:
    """Pixels at least a third as strong as the strongest near by: of a strong stroke its soft sides go."""
    return np.asarray(strength > cv.largest_near(strength, 2.0 * scale) / 3.0, np.bool_)


def _merged(mine: Flags, reach: Flags, radius: float) -> Flags:
    """The places within ``radius`` px of where strokes run together, from within reach of a loop's inside.

    Two strokes that meet at a small angle leave no inside between them long before they end.
    """
    closed = cv.erode(cv.dilate(mine, CREVICE), CREVICE)
    thick = (cv.dilate(cv.erode(closed, radius), radius) > 0) & mine
    return np.asarray(cv.dilate(_parts_touching(thick, reach), radius) > 0, np.bool_)


def _at_full_width(lines: Flags, stroke: Flags, scale: float) -> Flags:
    """Thin lines (rows, columns) at the usual width of the stroke that they run along.

    Where a stroke is interrupted, or faint in a shadow, what is seen of it is narrower than what was drawn.
    """
    if not (lines & stroke).any():
        return stroke
    # Distances end in the middle of the first pixel beside the stroke.
    half = float(np.median(cv.distance(stroke)[lines & stroke])) - 0.6
    return np.asarray(cv.dilate(lines, min(half, 0.5 * WIDEST * scale)) > 0, np.bool_)


def _width(strokes: Flags, near: Flags) -> float:
    """Width (px) of the stroke beside a region: twice the deepest distance, as a robust high value."""
    depth = cv.distance(strokes)
    band = (cv.dilate(near, 8.0) > 0) & strokes
    return 2.0 * float(np.percentile(depth[band], 90)) if band.any() else 2.0


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
