"""A report: areas that add up exactly, yields, costs and how well the pairs match."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class Areas:
    """Areas in mm²: hide = margins + flaws + usable, usable = pieces + between + remnant."""

    hide: float
    margins: float
    flaws: float
    usable: float
    pieces: float
    between: float
    remnant: float


@dataclass(frozen=True)
class Yield:
    """Share of the hide's and of the usable area that becomes pieces, 0 to 1."""

    of_hide: float
    of_usable: float


@dataclass(frozen=True)
class Cost:
    """Money in the order's currency, already rounded to the cent; total = leather + hardware + labour."""

    leather: Decimal
    hardware: Decimal
    labour: Decimal
    total: Decimal
