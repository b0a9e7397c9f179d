"""Hides not yet bought, as ``compare`` is told of them: cut, area, weight and price."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

from cli.drawn import typed

if TYPE_CHECKING:
    from nesting.compare.typical import Described


def described_hides(
    cuts: Sequence[str], areas: Sequence[str], weights: Sequence[str], prices: Sequence[str]
) -> list[Described]:
    """One hide a cut; the other options are given never, once for all, or as often as the cut.

    Usage errors for counts that do not match and hides described twice; InputError for the texts.
    """
    from nesting.compare.typical import Described, shape_of
    from nesting.prices import parse_price
    from nesting.units import area_mm2, parse_weight

    count = len(cuts)
    found = []
    for cut, area, weight, price in zip(
        cuts,
        _each(areas, count, "--area"),
        _each(weights, count, "--weight"),
        _each(prices, count, "--price"),
        strict=True,
    ):
        word = " ".join(cut.lower().split())
        typed(shape_of, word, "--cut")
        found.append(
            Described(
                word,
                None if area is None else typed(lambda text: area_mm2(text, positive=True), area, "--area"),
                None if weight is None else typed(parse_weight, weight, "--weight"),
                None if price is None else typed(parse_price, price, "--price"),
            )
        )
    return found


def _each(given: Sequence[str], count: int, option: str) -> Sequence[str | None]:
    if not count and given:
        raise typer.BadParameter(
            'is for a hide not yet bought; say which cut: --cut "bend"', param_hint=option
        )
    if not given:
        return [None] * count
    if len(given) == 1:
        return list(given) * count
    if len(given) != count:
        raise typer.BadParameter(
            f"is given {len(given)} times and --cut {count} times; give it once for all, or once a cut",
            param_hint=option,
        )
    return given
