"""A ring of fewer points that nowhere leaves the one it stands for.

Corners that stand out are cut off, and dents are bridged within by carrying their sides on until they meet:
the progressive hull of Sander, Gu, Gortler, Hoppe and Snyder ("Silhouette Clipping", SIGGRAPH 2000, section
3), in the plane and inwards. The step that takes the least away comes first.
"""

from __future__ import annotations

import heapq

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Point = tuple[float, float]
Step = tuple[float, Point | None]

FEWEST = 8


def simplified_inside(ring: Points, most: int, slack: float) -> Points:
    """A counter-clockwise ring (n, 2) with fewer points, inside it.

    As many points go as leave no spot over ``slack`` from the ring, and more until at most ``most`` are left.
    The result may touch itself where the ring nearly does.
    """
    return _Ring(ring).simplified(most, slack)


class _Ring:
    """Points in a linked list; step ``k`` is what can be done about point k and the side after it."""

    def __init__(self, ring: Points) -> None:
        n = len(ring)
        self.at: list[Point] = [(x, y) for x, y in ring.tolist()]
        self.before = [(k - 1) % n for k in range(n)]
        self.after = [(k + 1) % n for k in range(n)]
        self.lost = [0.0] * n  # how far the side after a point may lie inside of the first ring
        self.age = [0] * n
        self.left = n
        self.heap: list[tuple[float, int, int]] = []

    def simplified(self, most: int, slack: float) -> Points:
        for k in range(len(self.at)):
            self._look(k)
        while self.heap and self.left > FEWEST:
            lost, k, age = heapq.heappop(self.heap)
            if age != self.age[k]:
                continue
            if lost > slack and self.left <= most:
                break
            self._do(k, lost)
        return np.array([point for point, age in zip(self.at, self.age, strict=True) if age >= 0])

    def _look(self, k: int) -> None:
        step = self._step(k)
        self.age[k] += 1
        if step is not None:
            heapq.heappush(self.heap, (step[0], k, self.age[k]))

    def _step(self, k: int) -> Step | None:
        """How far inside the new side may lie, and the point that replaces k and the next; None: k goes."""
        i, j = self.before[k], self.after[k]
        a, b, c, d = self.at[i], self.at[k], self.at[j], self.at[self.after[j]]
        here, ahead = _turn(a, b, c), _turn(b, c, d)
        steps: list[Step] = []
        if here >= 0.0:
            cut = here / max(_length(a, c), 1e-12)
            steps.append((max(self.lost[i], self.lost[k]) + cut, None))
        dents = here < 0.0, ahead < 0.0
        p = _meeting(a, b, c, d, dents) if any(dents) else None
        if p is not None:
            before = max(self.lost[i], self.lost[k], self.lost[j])
            steps.append((before + _depth(b, c, p, dents), p))
        return min(steps, key=lambda step: step[0], default=None)

    def _do(self, k: int, lost: float) -> None:
        step = self._step(k)
        assert step is not None
        i, j = self.before[k], self.after[k]
        if step[1] is None:
            gone, first, second = k, i, j
            self.lost[i] = lost
        else:
            gone, first, second = j, i, self.after[j]
            self.at[k] = step[1]
            self.lost[i] = self.lost[k] = lost
        p, n = self.before[gone], self.after[gone]
        self.after[p], self.before[n] = n, p
        self.age[gone] = -1
        self.left -= 1
        for near in {self.before[first], first, k if gone != k else second, second}:
            self._look(near)


def _turn(a: Point, b: Point, c: Point) -> float:
    """Twice the area of a triangle, positive where the way turns left: there the ring stands out."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _length(a: Point, b: Point) -> float:
    return float(np.hypot(b[0] - a[0], b[1] - a[1]))


def _meeting(a: Point, b: Point, c: Point, d: Point, dents: tuple[bool, bool]) -> Point | None:
    """Where the lines ab and dc meet inside: ahead at a dent, within the side where the ring stands out."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-12:
        return None
    wx, wy = d[0] - a[0], d[1] - a[1]
    # In lengths of ab from a, and of dc from d.
    along = (wx * vy - wy * vx) / cross, (wx * uy - wy * ux) / cross
    if not all(v >= 1.0 if dent else 0.0 < v <= 1.0 for v, dent in zip(along, dents, strict=True)):
        return None
    return a[0] + along[0] * ux, a[1] + along[0] * uy


def _depth(b: Point, c: Point, p: Point, dents: tuple[bool, bool]) -> float:
    """How far the new sides lie inside of the side bc, or what stood out of them."""
    base = _length(b, c) if all(dents) else _length(b, p) if dents[0] else _length(c, p)
    return abs(_turn(b, c, p)) / max(base, 1e-12)
