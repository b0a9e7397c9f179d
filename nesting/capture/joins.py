"""Strokes carried on across small gaps: from end to end, and from an end to the hide's edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.plan import Points
from nesting.capture.strokes import Sheet
from nesting.capture.thin import End, line_ends

Flags = NDArray[np.bool_]

GAP = 14.0  # mm: the widest gap between two ends that is joined
LOOP_GAP = 0.12  # of a line's length: the widest gap between its own two ends that is joined
SAG = 0.05  # of a gap: how far a loop may bend over it; an arc of a twentieth of a circle bends 0.04


@dataclass(frozen=True)
class Joins:
    """``lines`` (rows, columns) close the gaps; ``patches`` is what the strokes may have covered there."""

    lines: Flags
    patches: Flags


def find_joins(lines: Flags, sheet: Sheet) -> Joins:
    """Joins of the thinned strokes ``lines`` (rows, columns)."""
    scale = sheet.plan.scale
    ends = line_ends(lines, max(3, round(4 * scale)), max(3, round(5 * scale)))
    depth = cv.distance(sheet.strokes)
    drawn, patches = np.zeros(lines.shape, np.uint8), np.zeros(lines.shape, np.uint8)
    width = max(1, round(1.5 * scale))
    done: set[int] = set()
    for gap, a, b in _pairs(ends, lines, scale):
        if a not in done and b not in done:
            done |= {a, b}
            _draw(drawn, _line(ends[a].at, ends[b].at), width)
            wide = 2.0 * max(_depth(depth, e) for e in (ends[a], ends[b])) + 2.0 * SAG * gap
            cover_gap(patches, ends[a], ends[b], max(width, int(np.ceil(wide))))
    beyond = cv.distance(sheet.free)
    for k, end in enumerate(ends):
        reach = float(beyond[end.at])
        if k not in done and reach < 0.7 * GAP * scale:
            target = _edge_ahead(end, sheet.free, reach * 1.6 + 2)
            if target is not None:
                _draw(drawn, _line(end.at, target), width)
                _draw(patches, _line(end.at, target), max(width, round(2.0 * _depth(depth, end))))
    return Joins(drawn > 0, patches > 0)


def _pairs(ends: list[End], lines: Flags, scale: float) -> list[tuple[float, int, int]]:
    """Pairs of ends that may belong together, with the gap (px) between them, narrowest first."""
    labels, _, _ = cv.components(lines)
    length = np.bincount(labels.ravel())

    def gap_between(a: End, b: End) -> float | None:
        # The two ends of one long line are more surely one loop than those of two lines.
        own = min(LOOP_GAP * length[labels[a.at]], 2 * GAP * scale) if labels[a.at] == labels[b.at] else 0.0
        return _facing(a, b, own, -0.6) or _facing(a, b, GAP * scale, 0.35)

    return sorted(
        (gap, a, b)
        for a in range(len(ends))
        for b in range(a)
        if (gap := gap_between(ends[a], ends[b])) is not None
    )


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


def _depth(depth: NDArray[np.float32], end: End) -> float:
    """Half the width (px) of the stroke behind an end."""
    r, c = end.at
    window = depth[max(r - 6, 0) : r + 7, max(c - 6, 0) : c + 7]
    return float(window.max())


def _edge_ahead(end: End, free: Flags, reach: float) -> tuple[int, int] | None:
    for step in np.arange(1.0, reach, 0.7):
        r, c = (round(end.at[k] + step * end.direction[k]) for k in (0, 1))
        if not (0 <= r < free.shape[0] and 0 <= c < free.shape[1]) or not free[r, c]:
            return r, c
    return None


def cover_gap(mask: NDArray[np.uint8], a: End, b: End, width: int) -> None:
    """Draw what a stroke may have covered between two ends, ``width`` px wide, into a mask (rows, columns).

    That is the straight way and the one that bends with them.
    """
    p, q = (np.array([e.at[1], e.at[0]], float) for e in (a, b))
    u, v = (np.array([e.direction[1], e.direction[0]], float) for e in (a, b))
    gap = q - p
    # Where an end points elsewhere its direction says nothing about the way across.
    ahead = min(float(u @ gap), -float(v @ gap)) > 0.0
    hand = 0.55 * float(np.hypot(*gap)) if ahead else 0.0
    t = np.linspace(0.0, 1.0, 17)[:, None]
    bend = (
        (1 - t) ** 3 * p
        + 3 * t * (1 - t) ** 2 * (p + hand * u)
        + 3 * t**2 * (1 - t) * (q + hand * v)
        + t**3 * q
    )
    mask |= cv.fill_polygons((mask.shape[0], mask.shape[1]), [bend])
    _draw(mask, bend, width)
    _draw(mask, np.array([p, q]), width)


def _line(a: tuple[int, int], b: tuple[int, int]) -> Points:
    """From one (row, column) to another as points (2, 2) of (x, y)."""
    return np.array([[a[1], a[0]], [b[1], b[0]]], float)


def _draw(mask: NDArray[np.uint8], line: Points, width: int) -> None:
    cv.draw_lines(mask, [line], width)
