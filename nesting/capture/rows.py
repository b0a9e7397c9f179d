"""Loops drawn as dashes: short strokes of one colour in a row are carried on to one line.

A row is several dashes of about one length, with gaps of about one width between them, along a smooth
course. Within it every dash goes on from the one before, so that single strokes, ticks and letters make none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.dashes import Dash, find_dashes
from nesting.capture.joins import SAG, cover_gap
from nesting.capture.plan import Points
from nesting.capture.strokes import Sheet
from nesting.capture.thin import End

Flags = NDArray[np.bool_]

WIDEST_GAP = 30.0  # mm
GAP_SHARE = 2.0  # of the lengths of the dashes beside it: the widest gap
ONWARD, BOTH = 0.1, 1.1  # cosine of a dash's direction at its end and the way on; sum of a gap's two
CORNER, BOTH_CORNER = -0.3, 0.5  # the same where a row comes back to its own beginning
SMOOTH = 0.8  # mean of these cosines along a row: it may have a corner or two
OF_POLYGON = 0.95  # of the mean that straight dashes on a regular polygon have, where that is less
SAME_COLOUR = 0.7  # cosine between two dashes' differences from the leather (logarithms)
FEWEST, FEWEST_CLOSED = 4, 3
SPREAD = 2.2  # most lengths, and most gaps, are within this factor of their median
MOST = 0.75  # share of them; a hand drawn row may begin and end oddly
GAP_OF_LENGTH = (0.2, 1.8)  # the usual gap over the usual length


@dataclass(frozen=True)
class Gap:
    """What parts two dashes: end ``a`` from end ``b``, twice its dash's number, plus 1 for the second.

    ``width`` in px; ``onward`` is the mean cosine between the dashes' directions and the way across.
    """

    a: int
    b: int
    width: float
    onward: float


@dataclass(frozen=True)
class Rows:
    """Dashes in rows: ``lines`` (rows, columns) are dashes and what joins them, ``patches`` what strokes may
    have covered if they had not been interrupted."""

    lines: Flags
    patches: Flags


def find_rows(sheet: Sheet) -> Rows:
    """The rows of dashes on a sheet, each as one line; whether it closes is for others to see."""
    dashes = find_dashes(sheet)
    lines, patches = (np.zeros(sheet.free.shape, np.uint8) for _ in range(2))
    for row in _rows(len(dashes), _gaps(dashes, sheet.plan.scale)):
        gaps = next((gaps for gaps in (_closed(dashes, row), row) if _is_row(dashes, gaps)), [])
        for k in _numbers(gaps):
            lines[dashes[k].pixels] = 1
        for gap in gaps:
            _carry_on(lines, patches, dashes, gap)
    return Rows(lines > 0, patches > 0)


def _gaps(dashes: list[Dash], scale: float) -> list[Gap]:
    """The likeliest way on from each end, narrow and straight gaps first; an end has one at most."""
    from scipy.spatial import cKDTree

    if len(dashes) < FEWEST_CLOSED:
        return []
    ends = np.vstack([dash.ends for dash in dashes])
    likely = []
    for a, b in cKDTree(ends).query_pairs(WIDEST_GAP * scale):
        gap = _gap(dashes, a, b)
        if gap is not None:
            likely.append(gap)
    done: set[int] = set()
    gaps = []
    for gap in sorted(likely, key=lambda g: (g.width * (1.0 + 6.0 * (1.0 - g.onward)), g.a, g.b)):
        if gap.a not in done and gap.b not in done:
            done |= {gap.a, gap.b}
            gaps.append(gap)
    return gaps


def _gap(dashes: list[Dash], a: int, b: int, least: float = ONWARD, both: float = BOTH) -> Gap | None:
    """What lies between end ``a`` and end ``b``; None where no row can go on so.

    ``least`` is asked of each of the two cosines, ``both`` of their sum.
    """
    one, other = dashes[a // 2], dashes[b // 2]
    way = other.ends[b % 2] - one.ends[a % 2]
    width = float(np.hypot(*way))
    if one is other or width < 1e-9 or width > 0.5 * GAP_SHARE * (one.length + other.length):
        return None
    onward = float(one.directions[a % 2] @ way) / width, -float(other.directions[b % 2] @ way) / width
    size = float(np.hypot.reduce(one.colour) * np.hypot.reduce(other.colour))
    if min(onward) < least or sum(onward) < both or float(one.colour @ other.colour) < SAME_COLOUR * size:
        return None
    return Gap(a, b, width, 0.5 * sum(onward))


def _rows(count: int, gaps: list[Gap]) -> list[list[Gap]]:
    """Gaps grouped by the row of dashes that they are in."""
    group = list(range(count))

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    for gap in gaps:
        group[root(gap.a // 2)] = root(gap.b // 2)
    rows: dict[int, list[Gap]] = {}
    for gap in gaps:
        rows.setdefault(root(gap.a // 2), []).append(gap)
    return list(rows.values())


def _numbers(row: list[Gap]) -> list[int]:
    """The dashes of a row."""
    return sorted({end // 2 for gap in row for end in (gap.a, gap.b)})


def _closed(dashes: list[Dash], row: list[Gap]) -> list[Gap]:
    """The row with its own two ends joined, also round a sharper corner; empty where they cannot be."""
    met = {end for gap in row for end in (gap.a, gap.b)}
    loose = [end for k in _numbers(row) for end in (2 * k, 2 * k + 1) if end not in met]
    last = _gap(dashes, loose[0], loose[1], CORNER, BOTH_CORNER) if len(loose) == 2 else None
    return [] if last is None else [*row, last]


def _is_row(dashes: list[Dash], row: list[Gap]) -> bool:
    """Whether dashes and gaps are enough, alike enough and smooth enough for a row."""
    numbers = _numbers(row)
    # A loop of few dashes turns by a good part of the circle at every gap.
    turning = OF_POLYGON * float(np.cos(np.pi / max(len(numbers), 2)))
    return (
        len(numbers) >= (FEWEST_CLOSED if len(row) == len(numbers) else FEWEST)
        and float(np.mean([gap.onward for gap in row])) >= min(SMOOTH, turning)
        and _even([dashes[k].length for k in numbers], [gap.width for gap in row])
    )


def _even(lengths: list[float], gaps: list[float]) -> bool:
    """Whether dashes and gaps are alike enough for a row."""
    usual, between = float(np.median(lengths)), float(np.median(gaps))
    return (
        GAP_OF_LENGTH[0] * usual <= between <= GAP_OF_LENGTH[1] * usual
        and _share_near(lengths, usual) >= MOST
        and _share_near(gaps, between) >= MOST
    )


def _share_near(values: list[float], usual: float) -> float:
    return float(np.mean([usual / SPREAD <= v <= usual * SPREAD for v in values]))


def _carry_on(lines: NDArray[np.uint8], patches: NDArray[np.uint8], dashes: list[Dash], gap: Gap) -> None:
    """Draw what joins two dashes, and what a stroke may have covered between them."""
    sides = [(dashes[end // 2], end % 2) for end in (gap.a, gap.b)]
    (p, u), (q, v) = ((dash.ends[k], dash.directions[k]) for dash, k in sides)
    wide = max(dash.width for dash, _ in sides)
    # The ends of a dash are round: its line starts within.
    inner = [dash.ends[k] - 0.5 * dash.width * dash.directions[k] for dash, k in sides]
    cv.draw_lines(lines, [np.array(inner)], max(2, round(wide)))
    # Round a corner the way across may bend to either side as much as an arc that turns like the two dashes.
    turn = float(np.arccos(np.clip(gap.onward, 0.0, 1.0))) if gap.onward < SMOOTH else 0.0
    sag = max(SAG, 0.5 * float(np.tan(0.5 * turn)))
    reach = int(np.ceil(wide + 2.0 * sag * gap.width))
    cover_gap(patches, _end(p, u), _end(q, v), reach)
    corner = _corner(p, u, q, v)
    if corner is not None:
        bent = np.array([p, corner, q])
        patches |= cv.fill_polygons((patches.shape[0], patches.shape[1]), [bent])
        cv.draw_lines(patches, [bent], reach)


def _corner(p: Points, u: Points, q: Points, v: Points) -> Points | None:
    """Where the lines on from two ends meet, if ahead of both: a curve that bends one way stays within."""
    cross = float(u[0] * v[1] - u[1] * v[0])
    if abs(cross) < 1e-6:
        return None
    d = q - p
    on, back = (float(d[0] * w[1] - d[1] * w[0]) / cross for w in (v, u))
    far = float(np.hypot(*d))
    if not (0.0 < on < 1.5 * far and 0.0 < back < 1.5 * far):
        return None
    return np.asarray(p + on * u, np.float64)


def _end(at: Points, direction: Points) -> End:
    x, y = at.tolist()
    return End((round(y), round(x)), (float(direction[1]), float(direction[0])))
