"""How much lace a criss-cross lacing takes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from nesting.files.measures import Lacing
from nesting.files.panel import Punch


def criss_cross_mm(
    steps_mm: Sequence[float], across_mm: float, tail_mm: float, leather_mm: float = 0.0
) -> float:
    """Length of a lace that runs straight across the first pair of holes and crosses over to every next.

    ``steps_mm`` are the distances along the edge from each pair to the next, ``across_mm`` is the distance
    between the two rows when worn: the gap and both insets. The lace goes once through the leather at
    every hole. Geometry: one bar, two diagonals a step, two tails; ends are not knotted.
    """
    diagonals = sum(2.0 * math.hypot(step, across_mm) for step in steps_mm)
    passes = 2 * (len(steps_mm) + 1)
    return across_mm + diagonals + passes * leather_mm + 2.0 * tail_mm


def lace_mm(
    left: Sequence[Punch], right: Sequence[Punch], inset_mm: float, gap_mm: float, lacing: Lacing
) -> float:
    """The lace for two rows of holes; where the sides differ, each step counts as the mean of both."""
    steps = [
        (math.dist(a.at, b.at) + math.dist(c.at, d.at)) / 2.0
        for (a, b), (c, d) in zip(pairwise(left), pairwise(right), strict=True)
    ]
    return criss_cross_mm(steps, gap_mm + 2.0 * inset_mm, lacing.tail_mm, lacing.leather_mm or 0.0)
