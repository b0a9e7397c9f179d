"""Flaw marks on the leather: strokes of chalk or pen, the loops they close, and holes.

A stroke is narrow and differs from the leather around it. Ends that point at each other across a
small gap are joined; the hide's edge may close a loop. What a stroke cuts off from the rest of the
hide is the inside of a loop; a mark that cuts off nothing is reported as open.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.colours import like_some_mat, robust_mean, to_linear
from nesting.capture.outline import Segmented
from nesting.capture.plan import Plan
from nesting.capture.thin import End, line_ends, thinned

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]
Floats = NDArray[np.float32]

PER_MM = 1.6  # scale at which strokes are looked for
WIDEST = 9.0  # mm: a broader patch is not a stroke
SHORTEST = 18.0  # mm: a shorter mark is dust
GAP = 14.0  # mm: the widest gap between two ends that is joined
LOOP_GAP = 0.12  # of a line's length: the widest gap between its own two ends that is joined
SMALLEST_LOOP = 30.0  # mm²
SMALLEST_HOLE = 20.0  # mm²
LEAST_HOLE_RADIUS = 2.3  # mm: a disc of this size fits into a hole, but not into a stroke
LEVELS = 1.8  # of 255: one unit of strength is at least so much in some channel
GROWN = 0.8  # mm by which a zone is grown for uncertainty


@dataclass(frozen=True)
class Mark:
    """A zone on the mat in mm (n, 2), and the colour of its stroke; ``hole`` where the mat shows through."""

    outline: Points
    colour: str
    hole: bool = False


@dataclass(frozen=True)
class OpenMark:
    """A stroke that closes nothing: its own zone (n, 2) mm, colour, length, middle and widest gap (mm)."""

    outline: Points
    colour: str
    length: float
    at: tuple[float, float]


def find_holes(segmented: Segmented) -> list[Mark]:
    """Places within the hide where the mat shows through."""
    s = segmented
    gap = (s.share < 0.5) & (s.mask > 0) & (cv.erode(s.mask, 1.5 * s.plan.scale) > 0)
    radius = 1.6 * s.plan.scale
    # A ruled line that shows in the hole may look like leather: close over it first.
    closed = cv.erode(cv.dilate(gap, radius), radius)
    opened = cv.dilate(cv.erode(closed, radius), radius)
    labels, stats, _ = cv.components(opened)
    linear = to_linear(s.image)
    holes = []
    for k in range(1, len(stats)):
        if stats[k, 4] < SMALLEST_HOLE * s.plan.scale**2:
            continue
        left, top, width, height, _ = (int(v) for v in stats[k])
        part = labels[top : top + height, left : left + width] == k
        rows, columns = np.nonzero(part & ~s.on_line[top : top + height, left : left + width])
        broad = float(cv.distance(np.pad(part, 1)).max()) > LEAST_HOLE_RADIUS * s.plan.scale
        if not broad or not len(rows):
            continue
        if not like_some_mat(np.median(linear[rows + top, columns + left], axis=0), s.fields):
            continue
        zone = np.pad(part, 8)
        ring = cv.outer_contour(cv.dilate(zone, (GROWN + 0.6) * s.plan.scale)) - 8.0 + [left, top]
        holes.append(Mark(s.plan.to_mm(ring), "none", True))
    return holes


@dataclass(frozen=True)
class _Sheet:
    """The hide at the strokes' scale: where leather is free to be marked, the strokes and their colours."""

    plan: Plan
    free: Flags
    strokes: Flags
    strength: Floats
    linear: Floats
    leather: Floats


def find_marks(segmented: Segmented, holes: list[Mark]) -> tuple[list[Mark], list[OpenMark]]:
    """Closed loops as zones, and the marks that stay open."""
    sheet = _sheet(segmented, holes)
    if not sheet.strokes.any():
        return [], []
    lines = thinned(sheet.strokes)
    joined = sheet.strokes | _bridges(lines, sheet)
    labels, stats, _ = cv.components(sheet.free & ~joined, eight=False)
    if len(stats) < 2:
        return [], []
    scale = sheet.plan.scale
    main = 1 + int(np.argmax(stats[1:, 4]))
    inside = [
        k
        for k in range(1, len(stats))
        if k != main and SMALLEST_LOOP * scale**2 <= stats[k, 4] <= 0.25 * stats[main, 4]
    ]
    used = np.zeros_like(joined)
    loops = [_loop(sheet, labels == k, joined, stats[k], used) for k in inside]
    return loops, _open_marks(sheet, lines, used)


def _sheet(s: Segmented, holes: list[Mark]) -> _Sheet:
    factor = min(1.0, PER_MM / s.plan.scale)
    columns, rows = round(s.plan.columns * factor), round(s.plan.rows * factor)
    scale = s.plan.scale * columns / s.plan.columns
    plan = Plan(
        s.plan.left + 0.5 / scale - 0.5 / s.plan.scale,
        s.plan.top - 0.5 / scale + 0.5 / s.plan.scale,
        scale,
        columns,
        rows,
    )
    linear = to_linear(cv.resize(s.image, columns, rows, area=True))
    mask = cv.resize(s.mask.astype(np.float32), columns, rows, area=True) > 0.99
    free = cv.erode(mask, 1.6 * scale) > 0
    if holes:
        open_ = cv.fill_polygons(plan.shape, [plan.to_pixels(h.outline) for h in holes])
        free &= cv.dilate(open_, 2.0 * scale) == 0
    leather = _leather(linear, free, scale)
    soft = cv.blur(linear, 0.45 * scale)
    # A stroke must be plain to see: compression alone moves dark colours by several of the 255 steps.
    seen = np.abs(_coded(soft) - _coded(leather)).max(axis=-1) * np.float32(255.0)
    strength = np.minimum(_strength(soft, leather, free), seen / np.float32(LEVELS))
    return _Sheet(plan, free, _strokes(strength, free, scale), strength, linear, leather)


def _coded(linear: Floats) -> Floats:
    """Linear light to the sRGB curve, 0..1, nearly (the plain power)."""
    return np.asarray(np.power(np.maximum(linear, 0.0), np.float32(1 / 2.2)), np.float32)


def _leather(linear: Floats, free: Flags, scale: float) -> Floats:
    factor = max(1, round(2.5 * scale))
    rows, columns = free.shape
    size = (max(2, columns // factor), max(2, rows // factor))
    weight = cv.resize(free.astype(np.float32), *size, area=True)
    small = cv.resize(linear * free[..., None], *size, area=True) / np.maximum(weight, 1e-6)[..., None]
    sigmas = tuple(v * scale / factor for v in (14.0, 50.0, 200.0))
    return np.asarray(cv.resize(robust_mean(small, weight, sigmas), columns, rows), np.float32)


def _strength(linear: Floats, leather: Floats, free: Flags) -> Floats:
    """How unlike the leather around it each pixel is, in robust deviations of the leather itself."""
    away = np.log(np.maximum(linear, 2e-3) / np.maximum(leather, 2e-3))
    sample = away[free]
    sample = sample[:: max(1, len(sample) // 60000)].astype(np.float64)
    centre = np.median(sample, axis=0)
    keep = np.ones(len(sample), bool)
    cov = np.eye(3)
    for _ in range(6):
        cov = np.cov((sample[keep] - centre).T) + 1e-5 * np.eye(3)
        d2 = _squared(sample - centre, cov)
        # The middle 85 % of a 3-D normal have d² < 5.3; their covariance is 0.72 of the whole.
        keep = d2 < np.quantile(d2, 0.85)
    cov = cov / 0.72
    rows, columns = free.shape
    out = np.zeros((rows, columns), np.float32)
    where = np.nonzero(free)
    out[where] = np.sqrt(_squared(away[where].astype(np.float64) - centre, cov))
    return out


def _squared(v: Points, cov: Points) -> Points:
    whole = v @ np.linalg.inv(cov)
    return np.asarray((whole * v).sum(axis=1), np.float64)


def _strokes(strength: Floats, free: Flags, scale: float) -> Flags:
    """Narrow, long parts that are unlike the leather (hysteresis threshold)."""
    weak = free & (strength > 5.0)
    labels, stats, _ = cv.components(weak)
    best = np.zeros(len(stats))
    np.maximum.at(best, labels.ravel(), strength.ravel())
    long_ = np.maximum(stats[:, 2], stats[:, 3]) > 0.4 * SHORTEST * scale
    keep = (best > 8.0) & long_
    keep[0] = False
    strokes = keep[labels]
    broad = cv.erode(strokes, 0.5 * WIDEST * scale) > 0
    return np.asarray(strokes & (cv.dilate(broad, 0.5 * WIDEST * scale + 1) == 0), np.bool_)


def _bridges(lines: Flags, sheet: _Sheet) -> Flags:
    """Strokes across small gaps: between two ends that face each other, and from an end to the edge."""
    scale = sheet.plan.scale
    ends = line_ends(lines, max(3, round(4 * scale)), max(3, round(5 * scale)))
    drawn = np.zeros(lines.shape, np.uint8)
    width = max(1, round(1.5 * scale))
    labels, _, _ = cv.components(lines)
    length = np.bincount(labels.ravel())

    def gap_between(a: End, b: End) -> float | None:
        # The two ends of one long line are more surely one loop than those of two lines.
        own = min(LOOP_GAP * length[labels[a.at]], 2 * GAP * scale) if labels[a.at] == labels[b.at] else 0.0
        return _facing(a, b, own, -0.6) or _facing(a, b, GAP * scale, 0.35)

    pairs = sorted(
        (gap, a, b)
        for a in range(len(ends))
        for b in range(a)
        if (gap := gap_between(ends[a], ends[b])) is not None
    )
    done: set[int] = set()
    for _, a, b in pairs:
        if a not in done and b not in done:
            done |= {a, b}
            _draw(drawn, ends[a].at, ends[b].at, width)
    beyond = cv.distance(sheet.free)
    for k, end in enumerate(ends):
        reach = float(beyond[end.at])
        if k not in done and reach < 0.7 * GAP * scale:
            target = _edge_ahead(end, sheet.free, reach * 1.6 + 2)
            if target is not None:
                _draw(drawn, end.at, target, width)
    return drawn > 0


def _facing(a: End, b: End, most: float, towards_least: float) -> float | None:
    """The gap between two ends (px), up to ``most``, when each points towards the other; None otherwise.

    ``towards_least`` is the cosine that is asked of a wide gap; close by, directions say little.
    """
    d = np.subtract(b.at, a.at).astype(float)
    gap = float(np.hypot(*d))
    if gap > most or gap < 1e-9:
        return None
    towards = float(np.dot(d, a.direction)) / gap, -float(np.dot(d, b.direction)) / gap
    need = towards_least if gap > 0.35 * most else min(towards_least, -0.3)
    return gap if min(towards) > need else None


def _edge_ahead(end: End, free: Flags, reach: float) -> tuple[int, int] | None:
    for step in np.arange(1.0, reach, 0.7):
        r, c = (round(end.at[k] + step * end.direction[k]) for k in (0, 1))
        if not (0 <= r < free.shape[0] and 0 <= c < free.shape[1]) or not free[r, c]:
            return r, c
    return None


def _draw(mask: NDArray[np.uint8], a: tuple[int, int], b: tuple[int, int], width: int) -> None:
    cv.draw_lines(mask, [np.array([[a[1], a[0]], [b[1], b[0]]], float)], width)


def _loop(sheet: _Sheet, region: Flags, joined: Flags, stat: NDArray[Any], used: Flags) -> Mark:
    """The zone of one loop: its inside, its stroke, and the uncertainty."""
    scale = sheet.plan.scale
    pad = round((WIDEST + 4) * scale)
    left, top, width, height, _ = (int(v) for v in stat)
    r0, c0 = max(top - pad, 0), max(left - pad, 0)
    window = np.s_[r0 : top + height + pad, c0 : left + width + pad]
    inside = region[window]
    near = cv.dilate(inside, 1.5) > 0
    labels, _, _ = cv.components(joined[window])
    touching = np.unique(labels[near & (labels > 0)])
    stroke = np.isin(labels, touching) & (cv.dilate(inside, _width(joined[window], near) + 1.5 * scale) > 0)
    whole, _, _ = cv.components(joined[window])
    used[window] |= np.isin(whole, np.unique(whole[near & (whole > 0)]))
    zone = np.pad(cv.erode(cv.dilate(inside | stroke, 1.0), 1.0) > 0, 1 + round(3 * scale))
    grown = cv.dilate(zone, GROWN * scale)
    # Strokes are not looked for close to the edge; a loop that reaches there goes on to it.
    barred = np.pad(~sheet.free[window], 1 + round(3 * scale), constant_values=True)
    grown |= cv.dilate(zone, 3.2 * scale) & barred
    ring = cv.outer_contour(grown) - (1 + round(3 * scale)) + [c0, r0]
    return Mark(sheet.plan.to_mm(ring), colour_name(sheet, stroke, window))


def _width(strokes: Flags, near: Flags) -> float:
    """Width (px) of the stroke beside a region: twice the deepest distance, as a robust high value."""
    depth = cv.distance(strokes)
    band = (cv.dilate(near, 8.0) > 0) & strokes
    return 2.0 * float(np.percentile(depth[band], 90)) if band.any() else 2.0


def _open_marks(sheet: _Sheet, lines: Flags, used: Flags) -> list[OpenMark]:
    labels, stats, centres = cv.components(sheet.strokes)
    scale = sheet.plan.scale
    length = np.bincount(labels[lines], minlength=len(stats)) / scale
    bound = np.bincount(labels[used & sheet.strokes], minlength=len(stats))
    depth = np.zeros(len(stats))
    np.maximum.at(depth, labels.ravel(), cv.distance(sheet.free).ravel())
    out = []
    for k in range(1, len(stats)):
        # What only runs along the hide's own edge is the edge's shade.
        if depth[k] < 3.5 * scale:
            continue
        if length[k] < SHORTEST or bound[k] > 0.3 * stats[k, 4]:
            continue
        left, top, width, height, _ = (int(v) for v in stats[k])
        window = np.s_[top : top + height, left : left + width]
        part = labels[window] == k
        pad = 2 + round(2 * scale)
        ring = cv.outer_contour(cv.dilate(np.pad(part, pad), GROWN * scale)) - pad + [left, top]
        at = sheet.plan.to_mm(centres[k][None])[0]
        out.append(
            OpenMark(
                sheet.plan.to_mm(ring),
                colour_name(sheet, part, window),
                float(length[k]),
                (float(at[0]), float(at[1])),
            )
        )
    return out


def colour_name(sheet: _Sheet, part: Flags, window: Any) -> str:
    """The stroke's colour in one word, from its strongest quarter, beside the leather's own."""
    strength = np.where(part, sheet.strength[window], 0.0)
    if not part.any():
        return "faint"
    core = strength >= np.percentile(strength[part], 75)
    colour = np.median(sheet.linear[window][core & part], axis=0).astype(np.float64)
    leather = np.median(sheet.leather[window][core & part], axis=0).astype(np.float64)
    return name_of(colour[::-1], leather[::-1])


def name_of(rgb: Points, leather: Points) -> str:
    """A plain word for a linear RGB colour seen on leather of a linear RGB colour."""
    coded = np.clip(np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * rgb ** (1 / 2.4) - 0.055), 0, 1)
    high, low = float(coded.max()), float(coded.min())
    chroma = (high - low) / max(high, 1e-6)
    lighter = float(rgb.mean()) > 1.3 * float(leather.mean())
    if chroma < 0.22 or (chroma < 0.3 and lighter and high > 0.6):
        return "white" if lighter and high > 0.35 else "black" if high < 0.35 or not lighter else "grey"
    r, g, b = coded
    if high == r:
        hue = 60 * ((g - b) / (high - low)) % 360
    elif high == g:
        hue = 60 * ((b - r) / (high - low)) + 120
    else:
        hue = 60 * ((r - g) / (high - low)) + 240
    if high < 0.22 and chroma < 0.45:
        return "black"
    for limit, word in (
        (18, "red"),
        (38, "orange"),
        (72, "yellow"),
        (165, "green"),
        (262, "blue"),
        (320, "violet"),
        (345, "pink"),
    ):
        if hue < limit:
            return word
    return "red"
