"""Which piece goes with which: on each hide, pairs are made of pieces that match best.

The search moves whole pairs; once they lie, a left may go with any right of its panel on that hide.
Near each other and stretching alike is what makes two pieces match (Golding, *Manufacture of Boots
and Shoes*, 1902, which gives no figure).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from nesting.files.order import Order, OrderLine
from nesting.planning.leather import ring_polygon, spine_angle
from nesting.planning.score import Plan
from nesting.rings import Pose

Pair = tuple[Pose, ...]
Apart = Callable[[Pose, Pose], float]

STRETCH_MM = 3.0
"""What a degree of difference in stretch counts as distance; a choice, no source."""

TOO_FAR = 1e9
"""Dearer than any pair that may be."""


def well_mated(order: Order, plan: Plan) -> Plan:
    """The same pieces where they lie, put together to pairs as near and alike as may be.

    The sum over a hide's pairs of a panel is least for left and right; for alike ones no exchange
    between two pairs lessens it. No pair comes to lie beyond its ``pair_within``.
    """
    on = []
    for hide, units in zip(order.hides, plan.on, strict=True):
        changed = list(units)
        for line, what in enumerate(order.lines):
            at = [k for k, unit in enumerate(units) if unit[0] == line and len(unit[2]) == 2]
            if len(at) < 2:
                continue
            spine = spine_angle(hide)
            apart = _apart(what, None if spine is None else math.degrees(spine))
            pairs = [units[k][2] for k in at]
            mated = _alike(pairs, apart) if what.panel.pairing == "alike" else _left_and_right(pairs, apart)
            for k, pair in zip(at, mated, strict=True):
                changed[k] = (line, units[k][1], pair)
        on.append(tuple(changed))
    return replace(plan, on=tuple(on))


def mismatch(order: Order, plan: Plan) -> float:
    """How badly the pieces of all pairs match, in mm: their distance, and ``STRETCH_MM`` a degree of turn."""
    total = 0.0
    for hide, units in zip(order.hides, plan.on, strict=True):
        spine = spine_angle(hide)
        for line, what in enumerate(order.lines):
            pairs = [poses for number, _, poses in units if number == line and len(poses) == 2]
            if pairs:
                apart = _apart(what, None if spine is None else math.degrees(spine))
                total += sum(apart(*pair) for pair in pairs)
    return total


def _apart(line: OrderLine, spine_deg: float | None) -> Apart:
    """How badly two pieces match, in mm; ``TOO_FAR`` is added where they may not be a pair."""
    centres = [ring_polygon(line.panel_of(other).outline).centroid for other in (False, True)]
    (x0, y0), (x1, y1) = ((centre.x, centre.y) for centre in centres)
    mated = line.mate is not None
    within = math.inf if line.pair_within_mm is None else line.pair_within_mm - 0.01

    def in_panel(pose: Pose, mirrored: bool) -> float:
        back = (spine_deg or 0.0) - pose.rotation_deg
        return 180.0 - back if mirrored else back

    def apart(one: Pose, other: Pose) -> float:
        far = math.dist(one.apply_point((x0, y0)), other.apply_point((x1, y1)))
        turn, mirrored = 0.0, other.mirrored or mated
        if spine_deg is not None or one.mirrored == mirrored:
            turn = abs(math.remainder(in_panel(one, one.mirrored) - in_panel(other, mirrored), 180.0))
        return far + STRETCH_MM * turn + (TOO_FAR if far > within else 0.0)

    return apart


def _left_and_right(pairs: Sequence[Pair], apart: Apart) -> list[Pair]:
    lefts, rights = zip(*pairs, strict=True)
    cost: NDArray[np.float64] = np.array([[apart(left, right) for right in rights] for left in lefts])
    _, chosen = linear_sum_assignment(cost)
    return [(left, rights[k]) for left, k in zip(lefts, chosen, strict=True)]


def _alike(pairs: Sequence[Pair], apart: Apart) -> list[Pair]:
    mated = list(pairs)
    better = True
    while better:
        better = False
        for i in range(len(mated)):
            for j in range(i):
                (a, b), (c, d) = mated[i], mated[j]
                now = apart(a, b) + apart(c, d)
                for one, other in (((a, c), (b, d)), ((a, d), (b, c))):
                    if apart(*one) + apart(*other) < now - 1e-6:
                        mated[i], mated[j] = one, other
                        better = True
                        break
    return mated
