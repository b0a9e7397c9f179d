"""The ``[costs]`` of an order file: what labour, lace, dye, finish and overhead cost, and the margin."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Annotated

from pydantic import Field

from nesting.errors import FileFormatError
from nesting.files.boundary import Amount, Name, Share, Strict, typed
from nesting.files.order import Costs, Rate
from nesting.units import area_mm2, length_mm

Margin = Annotated[float, Field(ge=0, lt=1)]


class _Rate(Strict):
    """``{price = 0.24, per = "1 ft"}``."""

    price: Amount
    per: str


class CostsModel(Strict):
    """The fields of ``[costs]``; lengths and areas are still the texts that were typed."""

    labour_per_hour: Amount = 0.0
    remnant_credit: Share = 0.0
    currency: Name | None = None
    lace: _Rate | None = None
    dye: _Rate | None = None
    finish: _Rate | None = None
    overhead: Amount = 0.0
    overhead_per_hour: Amount = 0.0
    margin: Margin | None = None
    markup: Amount | None = None


def costs_of(model: CostsModel, source: str) -> Costs:
    """The costs as exact numbers.

    Raises FileFormatError on a length or area that is none, and where margin and markup are both given.
    """
    if model.margin is not None and model.markup is not None:
        raise FileFormatError(
            source,
            "costs",
            "give margin (a share of the price) or markup (a share of the cost), not both",
        )
    return Costs(
        labour_per_hour=_money(model.labour_per_hour),
        remnant_credit=_money(model.remnant_credit),
        currency=model.currency,
        lace=_rate(model.lace, _length, source, "costs.lace.per"),
        dye=_rate(model.dye, _area, source, "costs.dye.per"),
        finish=_rate(model.finish, _area, source, "costs.finish.per"),
        overhead=_money(model.overhead),
        overhead_per_hour=_money(model.overhead_per_hour),
        margin=None if model.margin is None else _money(model.margin),
        markup=None if model.markup is None else _money(model.markup),
    )


def _rate(model: _Rate | None, parse: Callable[[str], Fraction], source: str, place: str) -> Rate | None:
    return None if model is None else Rate(_money(model.price), typed(parse, model.per, source, place))


def _length(text: str) -> Fraction:
    return length_mm(text, positive=True)


def _area(text: str) -> Fraction:
    return area_mm2(text, positive=True)


def _money(number: float) -> Decimal:
    # Through the text: what is typed as 0.06 is six hundredths.
    return Decimal(str(number))
