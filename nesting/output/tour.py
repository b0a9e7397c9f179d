"""An order of cuts with short ways between them: the nearest next, then improved.

A cut is entered at its start and left at its end. Some may as well be made from end to start. The way
begins at a home point and need not come back. Nearest neighbour, then reversals of a stretch (2-opt:
Croes, Operations Research 6, 1958) and stretches of up to three moved elsewhere (Or, 1976; both from
memory), each the best for its place, until none shortens the way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.rings import Point, Points

Flags = NDArray[np.bool_]
GAIN_MM = 1e-6
"""A change that shortens the way by less is none."""
LONGEST = 3
ROUNDS = 200
"""More than any layout needs; so that the search ends whatever rounding does."""


@dataclass
class _Way:
    """Cuts in their present order: ``enter`` and ``leave`` (n, 2), ``turnable`` (n,), ``cuts`` (n, 2) ints.

    ``cuts`` holds the number of each cut and whether it is made from end to start.
    """

    home: Points
    enter: Points
    leave: Points
    turnable: Flags
    cuts: NDArray[np.int_]

    def before(self, i: int) -> Points:
        """Where the way stands before its cut ``i``."""
        return self.leave[i - 1] if i else self.home

    def links(self) -> Points:
        """The ways (n + 1,) to each cut, and 0 for that after the last."""
        stops = np.vstack((self.home, self.leave))
        return np.append(_far(stops[:-1], self.enter), 0.0)

    def reverse(self, i: int, j: int) -> None:
        """Make the cuts ``i`` to ``j`` the other way round, last first."""
        part = slice(i, j + 1)
        self.enter[part], self.leave[part] = self.leave[part][::-1].copy(), self.enter[part][::-1].copy()
        self.turnable[part] = self.turnable[part][::-1].copy()
        self.cuts[part] = self.cuts[part][::-1].copy()
        self.cuts[part, 1] ^= 1

    def shift(self, i: int, length: int, after: int) -> None:
        """Move ``length`` cuts from ``i`` to behind cut ``after``, which is none of them; -1 is the front."""
        order = list(range(len(self.cuts)))
        stretch = order[i : i + length]
        rest = order[:i] + order[i + length :]
        at = rest.index(after) + 1 if after >= 0 else 0
        new = rest[:at] + stretch + rest[at:]
        self.enter, self.leave = self.enter[new], self.leave[new]
        self.turnable, self.cuts = self.turnable[new], self.cuts[new]


def tour(starts: Points, ends: Points, turnable: Flags, home: Point) -> list[tuple[int, bool]]:
    """Cuts in order, each as its index and whether it is made from end to start.

    ``starts`` and ``ends`` have shape (n, 2), mm; ``turnable`` (n,) says which may be made either way (one
    that ends where it starts always may). The same input gives the same order.
    """
    if not len(starts):
        return []
    turnable = turnable | np.all(starts == ends, axis=1)
    way = _nearest_next(starts, ends, turnable, np.array(home, dtype=np.float64))
    for _ in range(ROUNDS):
        if not (_improved(way, _best_reversal, way.reverse) or _improved(way, _best_shift, way.shift)):
            break
    return [(int(cut), bool(turned)) for cut, turned in way.cuts]


def length_mm(starts: Points, ends: Points, order: list[tuple[int, bool]], home: Point) -> float:
    """The way from home to the first cut and between cuts; what lies within a cut does not count."""
    at, total = np.array(home, dtype=np.float64), 0.0
    for cut, turned in order:
        enter, leave = (ends[cut], starts[cut]) if turned else (starts[cut], ends[cut])
        total += float(np.hypot(*(enter - at)))
        at = leave
    return total


def _nearest_next(starts: Points, ends: Points, turnable: Flags, home: Points) -> _Way:
    left = np.ones(len(starts), dtype=bool)
    at, cuts = home, []
    for _ in range(len(starts)):
        # Rounded, so that of several equally near the first wins on every machine.
        to_start = np.where(left, np.round(_far(starts, at), 6), np.inf)
        to_end = np.where(left & turnable, np.round(_far(ends, at), 6), np.inf)
        turned = bool(to_end.min() < to_start.min())
        cut = int((to_end if turned else to_start).argmin())
        cuts.append((cut, int(turned)))
        left[cut] = False
        at = starts[cut] if turned else ends[cut]
    picked = np.array(cuts)
    turn = picked[:, 1:].astype(bool)
    first, last = starts[picked[:, 0]], ends[picked[:, 0]]
    return _Way(
        home, np.where(turn, last, first), np.where(turn, first, last), turnable[picked[:, 0]], picked
    )


def _improved(
    way: _Way, best: Callable[[_Way, int], tuple[float, tuple[int, ...]]], apply: Callable[..., None]
) -> bool:
    """Whether one pass over all places has shortened the way."""
    shorter = False
    for i in range(len(way.cuts)):
        gain, change = best(way, i)
        if gain > GAIN_MM:
            apply(*change)
            shorter = True
    return shorter


def _best_reversal(way: _Way, i: int) -> tuple[float, tuple[int, ...]]:
    """Of all stretches that begin with cut ``i`` the one whose reversal gains most."""
    stiff = np.flatnonzero(~way.turnable[i:])
    stop = i + int(stiff[0]) if len(stiff) else len(way.cuts)
    if stop == i:
        return 0.0, ()
    last = np.arange(i, stop)
    links = way.links()
    after = np.where(last + 1 < len(way.cuts), _far(way.enter[(last + 1) % len(way.cuts)], way.enter[i]), 0.0)
    gains = links[i] + links[last + 1] - _far(way.leave[last], way.before(i)) - after
    k = int(np.round(gains, 6).argmax())
    return float(gains[k]), (i, int(last[k]))


def _best_shift(way: _Way, i: int) -> tuple[float, tuple[int, ...]]:
    """Of all stretches of up to three from cut ``i`` and all places elsewhere the move that gains most."""
    best: tuple[float, tuple[int, ...]] = (0.0, ())
    links, count = way.links(), len(way.cuts)
    stops = np.vstack((way.home, way.leave))
    for length in range(1, min(LONGEST, count - i) + 1):
        end = i + length
        closing = _far(way.enter[end], way.before(i)) if end < count else 0.0
        freed = links[i] + links[end] - closing
        # Place p is before cut p, and at the end for p = n.
        to, onward = _far(stops, way.enter[i]), np.append(_far(way.enter, way.leave[end - 1]), 0.0)
        gains = freed - (to + onward - links)
        gains[i : end + 1] = -np.inf
        place = int(np.round(gains, 6).argmax())
        if gains[place] > best[0]:
            best = float(gains[place]), (i, length, place - 1)
    return best


def _far(points: Points, other: Points) -> Points:
    return np.asarray(np.hypot(points[..., 0] - other[..., 0], points[..., 1] - other[..., 1]))
