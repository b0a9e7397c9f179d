"""Prices as typed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from nesting.errors import InputError
from nesting.files.hide import Price
from nesting.prices import parse_price


@pytest.mark.parametrize(
    ("text", "amount", "currency", "basis"),
    [
        ("62 USD", "62", "USD", "hide"),
        ("62.50 usd/hide", "62.50", "USD", "hide"),
        ("9.50 USD/ft2", "9.50", "USD", "ft2"),
        (" 9.50USD / ft² ", "9.50", "USD", "ft2"),
        ("EUR 1.10 per dm2", "1.10", "EUR", "dm2"),
        ("EUR 110 per m²", "110", "EUR", "m2"),
        ("8 GBP per sq ft", "8", "GBP", "ft2"),
    ],
)
def test_prices(text: str, amount: str, currency: str, basis: str) -> None:
    assert parse_price(text) == Price(Decimal(amount), currency, basis)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text", ["62", "USD", "-5 USD", "62 dollars", "62 USD/in2", "nan USD", "6,2 USD", "", "$62"]
)
def test_what_is_no_price(text: str) -> None:
    with pytest.raises(InputError, match="is not a price; write it like"):
        parse_price(text)
