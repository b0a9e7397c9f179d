"""What came of a trial: a judged layout on each hide, its account, and the figures to compare."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

from nesting.account.money import cents, money
from nesting.account.words import average
from nesting.compare.trials import Trial
from nesting.files.hide import Hide
from nesting.files.layout import Layout
from nesting.files.report import Cost, CostLine, Report
from nesting.prices import whole_price
from nesting.units import FT2_MM2

FOOT_OF_PIECES = "1 ft² of pieces"
Figure = TypeVar("Figure", Fraction, float, int)


def to_cents(amount: Decimal | Fraction) -> Decimal:
    """Money rounded to the cent, halves up."""
    return money(cents(Fraction(amount)))


@dataclass(frozen=True)
class Placed:
    """How much of a panel found room; ``asked`` is None where as many as fit were asked for."""

    panel: str
    paired: bool
    pieces: int
    asked: int | None
    cost: CostLine | None

    @property
    def missing(self) -> int:
        """Pieces asked for without room."""
        return 0 if self.asked is None else self.asked - self.pieces

    @property
    def piece(self) -> Cost | None:
        """What a piece costs on average; None where none is laid."""
        return None if self.cost is None else average(self.cost, 1)

    @property
    def pair(self) -> Cost | None:
        """What a pair costs on average; None where none is laid, or the panel has no pairs."""
        return None if self.cost is None or not self.paired else average(self.cost, 2)


@dataclass(frozen=True)
class Outcome:
    """One hide of a trial, laid. ``layout`` has passed the judge."""

    hide: Hide
    layout: Layout
    report: Report
    placed: tuple[Placed, ...]

    @property
    def pieces(self) -> int:
        """Pieces laid."""
        return sum(one.pieces for one in self.placed)

    @property
    def missing(self) -> int:
        """Pieces asked for without room."""
        return sum(one.missing for one in self.placed)

    @property
    def price(self) -> Decimal | None:
        """What the whole hide costs, to the cent; None without a price."""
        if self.hide.price is None:
            return None
        return money(cents(whole_price(self.hide.price, self.report.hides[0].priced_area_mm2)))

    @property
    def leather(self) -> Decimal | None:
        """What the leather of the pieces costs: the price less the credit for what is kept."""
        cost = self.report.cost
        return None if cost is None or not self.pieces else cost.total.leather

    @property
    def leather_per_unit(self) -> Fraction | None:
        """Cost of the leather for what is compared (see ``Entry.unit``), exact; None where not known."""
        if self.leather is None:
            return None
        if len(self.placed) == 1:
            return Fraction(self.leather) / self.pieces * (2 if self.placed[0].paired else 1)
        return self.leather_per_ft2

    @property
    def leather_per_ft2(self) -> Fraction | None:
        """Cost of the leather for one square foot of pieces, exact; None where not known."""
        if self.leather is None:
            return None
        return Fraction(self.leather) / Fraction(self.report.areas.pieces) * FT2_MM2


@dataclass(frozen=True)
class Entry:
    """A trial with its outcomes: one, or three for typical hides with few, usual and many flaws."""

    trial: Trial
    outcomes: tuple[Outcome, ...]

    @property
    def name(self) -> str:
        """The candidate's name."""
        return self.trial.candidate.name

    @property
    def usual(self) -> Outcome:
        """The only outcome, or that of the typical hide with the usual flaws."""
        return self.outcomes[len(self.outcomes) // 2]

    @property
    def whole(self) -> bool:
        """Whether all asked for, and anything at all, is laid."""
        return self.usual.pieces > 0 and self.usual.missing == 0

    @property
    def unit(self) -> str:
        """What costs are compared by: ``a pair``, ``a piece``, or of several panels ``1 ft² of pieces``."""
        if len(self.usual.placed) > 1:
            return FOOT_OF_PIECES
        return "a pair" if self.usual.placed[0].paired else "a piece"

    def range(self, figure: Callable[[Outcome], Figure | None]) -> tuple[Figure, Figure] | None:
        """The least and the greatest of a figure over the outcomes; None where one is not known."""
        found = [figure(outcome) for outcome in self.outcomes]
        known = [value for value in found if value is not None]
        return (min(known), max(known)) if known and len(known) == len(found) else None
