"""Money in whole cents, shared out so that the shares add up to the sum."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from nesting.errors import InputError
from nesting.files.hide import Hide


def cents(amount: Fraction) -> int:
    """To the nearest cent, halves up."""
    return math.floor(amount * 100 + Fraction(1, 2))


def money(amount_cents: int) -> Decimal:
    """Cents as a decimal with two places."""
    return Decimal(amount_cents).scaleb(-2)


def shared(amount_cents: int, weights: Sequence[Fraction]) -> list[int]:
    """``amount_cents`` shared in proportion to ``weights`` (none negative), in whole cents that add up.

    Largest remainder: each gets its share rounded down, and the cents left over go to those that lost
    most by it, the earlier one first. Without any weight all share alike. Raises ValueError when
    there is an amount and no one to bear it.
    """
    if not weights:
        if amount_cents:
            raise ValueError("there is an amount to share and no one to bear it")
        return []
    total = sum(weights)
    exact = [amount_cents * (w / total if total else Fraction(1, len(weights))) for w in weights]
    parts = [math.floor(share) for share in exact]
    by_loss = sorted(range(len(parts)), key=lambda i: (parts[i] - exact[i], i))
    for i in by_loss[: amount_cents - sum(parts)]:
        parts[i] += 1
    return parts


def one_currency(hides: Iterable[Hide], stated: str | None) -> str | None:
    """The currency of all prices; None when none is named. Raises InputError when there are several."""
    found = {hide.price.currency for hide in hides if hide.price} | ({stated} if stated else set())
    if len(found) > 1:
        raise InputError(
            f"prices in {' and '.join(sorted(found))} cannot be added up; price all hides in one currency"
        )
    return found.pop() if found else None
