"""A hide's price, as people type it (``62 USD``, ``9.50 USD/ft2``, ``EUR 1.10 per dm2``) and in all."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import get_args

from nesting.errors import InputError
from nesting.files.hide import Price, PriceBasis
from nesting.units import DM2_MM2, FT2_MM2

_MM2 = {"ft2": FT2_MM2, "dm2": DM2_MM2, "m2": Fraction(1_000_000)}

_AMOUNT = r"(?P<amount>\d+(?:\.\d+)?)"
_CURRENCY = r"(?P<currency>[A-Za-z]{3})"
_BASIS = r"(?:\s*(?:/|per)\s*(?P<basis>hide|ft2|ft²|sq ft|dm2|dm²|m2|m²))?"
_FORMS = [
    re.compile(rf"{_AMOUNT}\s*{_CURRENCY}{_BASIS}"),
    re.compile(rf"{_CURRENCY}\s*{_AMOUNT}{_BASIS}"),
]


def parse_price(text: str) -> Price:
    """Amount, currency (a three-letter code, ISO 4217) and basis; without a basis it is the whole hide.

    Raises InputError, with the mend, for anything else.
    """
    found = next((match for form in _FORMS if (match := form.fullmatch(text.strip()))), None)
    if found is None:
        raise InputError(f'"{text}" is not a price; write it like "62 USD" for the hide, or "9.50 USD/ft2"')
    basis = (found["basis"] or "hide").replace("²", "2").replace("sq ft", "ft2")
    known: dict[str, PriceBasis] = {word: word for word in get_args(PriceBasis)}
    return Price(Decimal(found["amount"]), found["currency"].upper(), known[basis])


def whole_price(price: Price, area_mm2: float | Fraction) -> Fraction:
    """What a hide of this (priced) area costs."""
    if price.basis == "hide":
        return Fraction(price.amount)
    return Fraction(price.amount) * Fraction(area_mm2) / _MM2[price.basis]
