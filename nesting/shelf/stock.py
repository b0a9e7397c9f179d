"""What a shelf holds, area and worth by weight; and what became of the leather taken from it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from nesting.account.areas import priced_area
from nesting.account.money import cents, money
from nesting.files.hide import Hide
from nesting.prices import whole_price
from nesting.shelf.journal import Cut


@dataclass(frozen=True)
class Group:
    """Hides of one weight. ``worth`` by currency, what they cost; ``unpriced`` hides are not in it.

    ``area_mm2`` is the leather that a price by area is for: open holes are not counted.
    """

    weight_oz: tuple[float, float] | None
    hides: tuple[Hide, ...]
    area_mm2: float
    worth: tuple[tuple[str, Decimal], ...]
    unpriced: int

    @property
    def remnants(self) -> int:
        """How many of the hides are remnants."""
        return sum(bool(hide.ancestry) for hide in self.hides)


def by_weight(hides: Iterable[Hide]) -> tuple[Group, ...]:
    """The hides in groups of one weight, thinnest first, unknown last; by name within a group."""
    groups: dict[tuple[float, float] | None, list[Hide]] = defaultdict(list)
    for hide in sorted(hides, key=lambda hide: hide.name):
        groups[hide.weight_oz].append(hide)
    weights = sorted(groups, key=lambda weight: (weight is None, weight or (0.0, 0.0)))
    return tuple(group(groups[weight], weight) for weight in weights)


def group(hides: Iterable[Hide], weight_oz: tuple[float, float] | None = None) -> Group:
    """Area and worth of some hides together."""
    hides = tuple(hides)
    sums: dict[str, int] = defaultdict(int)
    for hide in hides:
        if hide.price is not None:
            sums[hide.price.currency] += cents(whole_price(hide.price, priced_area(hide)))
    return Group(
        weight_oz=weight_oz,
        hides=hides,
        area_mm2=float(sum(Fraction(priced_area(hide)) for hide in hides)),
        worth=tuple((currency, money(sums[currency])) for currency in sorted(sums)),
        unpriced=sum(hide.price is None for hide in hides),
    )


def share_of_used(cuts: Iterable[Cut]) -> float:
    """The share of the leather used up that became pieces: hides cut, less the remnants that joined.

    Over several cuts this counts no leather twice, as yields of hides do where remnants are cut again.
    """
    pieces = used = 0.0
    for cut in cuts:
        pieces += cut.pieces_net_mm2
        used += sum(hide.area_mm2 for hide in cut.hides) - sum(one.area_mm2 for one in cut.remnants)
    return pieces / used if used > 0.0 else 0.0
