"""How good a plan is, term by term.

All that was asked, then the most fill, then the least money, then the largest remnant. Among plans that are
equal in these, the one that saves most prime leather, then the one whose pairs match best: near each other,
and stretching alike. A remnant is as large as another when they differ by less than a step, or nothing after
it would ever count.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from decimal import Decimal

from nesting.files.hide import Hide
from nesting.prices import whole_price
from nesting.rings import Pose, area


def hide_price(hide: Hide) -> Decimal | None:
    """What the whole hide costs; None when it has no price."""
    if hide.price is None:
        return None
    size = hide.measured.best_area_mm2 if hide.measured else area(hide.outline)
    whole = whole_price(hide.price, size)
    return Decimal(whole.numerator) / Decimal(whole.denominator)


def burdens(hides: tuple[Hide, ...]) -> list[float]:
    """What using each hide costs, for comparing: its price if all have one, else its area."""
    prices = [hide_price(hide) for hide in hides]
    if any(price is None for price in prices):
        return [area(hide.outline) for hide in hides]
    return [float(price) for price in prices if price is not None]


OPEN = -math.inf
"""A term that costs time, and counts only among equals, before it is worked out."""

FRONT_STEP = 0.002
"""A step of the front: this share of the order's usable leather, some 2 mm of a shoulder's length."""


@dataclass(frozen=True, order=True)
class Score:
    """Smaller is better, compared field by field. A term that is still open might be the best."""

    missing: int  # wanted pieces without room
    unfilled: int  # minus the pieces that fill lines took
    burden: float  # price (or area) of the hides used
    front: int  # steps of usable leather, up to where the pieces reach
    unsaved: float = OPEN  # minus the prime leather saved, see ``ties.prime_saved``
    mismatch: float = OPEN  # of the pairs, see ``mates.mismatch``
    taken: float = 0.0  # usable leather up to where the pieces reach, mm²


@dataclass(frozen=True)
class Plan:
    """Poses of the units on each hide: ``on[h]`` is a list of (line, wanted, poses of the members)."""

    score: Score
    on: tuple[tuple[tuple[int, bool, tuple[Pose, ...]], ...], ...]
    track: int = field(default=0, compare=False)
