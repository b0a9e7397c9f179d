"""How good a plan is: all that was asked, then the least money and leather taken, then the most fill."""

from __future__ import annotations

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


@dataclass(frozen=True, order=True)
class Score:
    """Smaller is better, compared field by field."""

    missing: int  # wanted pieces without room
    unfilled: int  # minus the pieces that fill lines took
    burden: float  # price (or area) of the hides used
    taken: float  # usable leather, mm², up to where the pieces reach


@dataclass(frozen=True)
class Plan:
    """Poses of the units on each hide: ``on[h]`` is a list of (line, wanted, poses of the members)."""

    score: Score
    on: tuple[tuple[tuple[int, bool, tuple[Pose, ...]], ...], ...]
    track: int = field(default=0, compare=False)
