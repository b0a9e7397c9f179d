"""Thin lines from broad strokes, and where they end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class End:
    """A free end of a line: (row, column) and the unit direction (row, column) in which it would go on."""

    at: tuple[int, int]
    direction: tuple[float, float]


def thinned(mask: Flags) -> Flags:
    """One-pixel lines of a mask (Zhang & Suen, CACM 27, 1984)."""
    image = np.pad(mask.astype(np.uint8), 1)
    while True:
        before = int(image.sum())
        for step in (0, 1):
            p = _neighbours(image)
            count = sum(p)
            turns = sum(((p[k] == 0) & (p[(k + 1) % 8] == 1)).astype(np.uint8) for k in range(8))
            n, e, s, w = p[0], p[2], p[4], p[6]
            free = (n * e * s == 0) & (e * s * w == 0) if step == 0 else (n * e * w == 0) & (n * s * w == 0)
            inner = image[1:-1, 1:-1]
            inner[(inner == 1) & (count >= 2) & (count <= 6) & (turns == 1) & free] = 0
        if int(image.sum()) == before:
            return image[1:-1, 1:-1].astype(bool)


def _neighbours(image: NDArray[np.uint8]) -> list[NDArray[np.uint8]]:
    """The eight neighbours, clockwise from the one above."""
    rows, columns = image.shape
    offsets = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
    return [image[1 + r : rows - 1 + r, 1 + c : columns - 1 + c] for r, c in offsets]


def line_ends(skeleton: Flags, reach: int, shortest: int) -> list[End]:
    """Free ends of thin lines; spurs shorter than ``shortest`` px are passed over.

    The direction is taken over the last ``reach`` px.
    """
    skeleton = _pruned(_pruned(skeleton, shortest), shortest)
    ends = []
    for start in _tips(skeleton):
        path = _walk(skeleton, start, max(reach, shortest))
        if len(path) < shortest:
            continue
        back = path[min(reach, len(path) - 1)]
        d = np.array([start[0] - back[0], start[1] - back[1]], float)
        length = float(np.hypot(*d)) or 1.0
        ends.append(End(start, (float(d[0] / length), float(d[1] / length))))
    return ends


def _pruned(skeleton: Flags, shortest: int) -> Flags:
    """The lines without spurs: branches shorter than ``shortest`` px that end at a fork."""
    out = skeleton.copy()
    for start in _tips(skeleton):
        path = _walk(skeleton, start, shortest + 1)
        r, c = path[-1]
        goes_on = skeleton[max(r - 1, 0) : r + 2, max(c - 1, 0) : c + 2].sum() > 2
        if len(path) < shortest and goes_on:
            for pixel in path[:-1]:
                out[pixel] = False
    return out


def _tips(skeleton: Flags) -> list[tuple[int, int]]:
    """Pixels around which the line is met once, though it may be two pixels thick there."""
    padded = np.pad(skeleton.astype(np.uint8), 1)
    p = _neighbours(padded)
    number = sum(q.astype(int) for q in p)
    met = sum(((p[k] == 0) & (p[(k + 1) % 8] == 1)).astype(int) for k in range(8))
    return [(int(r), int(c)) for r, c in np.argwhere(skeleton & (met == 1) & (number <= 2))]


def _walk(skeleton: Flags, start: tuple[int, int], most: int) -> list[tuple[int, int]]:
    """Pixels from an end along the line, until it forks, ends, or ``most`` are walked."""
    path = [start]
    seen = {start}
    while len(path) <= most:
        r, c = path[-1]
        following = [
            (r + dr, c + dc)
            for dr in (-1, 0, 1)
            for dc in (-1, 0, 1)
            if (r + dr, c + dc) not in seen
            and 0 <= r + dr < skeleton.shape[0]
            and 0 <= c + dc < skeleton.shape[1]
            and skeleton[r + dr, c + dc]
        ]
        if not following:
            break
        # Of two touching pixels the straight neighbour comes first: a step, not a fork.
        following.sort(key=lambda q: abs(q[0] - r) + abs(q[1] - c))
        if (
            len(following) > 1
            and max(abs(following[0][0] - following[-1][0]), abs(following[0][1] - following[-1][1])) > 1
        ):
            break
        seen.add(following[0])
        path.append(following[0])
    return path
