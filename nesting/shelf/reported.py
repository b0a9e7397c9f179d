"""What a report says of the costs of a layout, for the journal and for the worth of remnants."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from nesting.errors import InputError
from nesting.files.boundary import Name, Text, validated
from nesting.files.json_text import parse_json, read_text
from nesting.files.layout import Layout
from nesting.files.report import Areas, Yield
from nesting.files.report_file import Areas as AreasModel
from nesting.files.report_file import Open, check_report
from nesting.shelf.journal import Count, Money


class OtherReportError(InputError):
    """The report is of another layout."""


@dataclass(frozen=True)
class Reported:
    """The part of a report that a shelf needs; ``hides`` by name in the report's order.

    ``cost``: sums of money by their names, empty where the report has no cost. ``credits``: what the cost
    of each hide's pieces was spared for its remnants; None = no price.
    """

    source: str
    title: str
    pieces: dict[str, int]
    areas: dict[str, Areas]
    yields: dict[str, Yield]
    currency: str | None
    cost: dict[str, Decimal | None]
    credits: dict[str, Decimal | None]


class _Yield(Open):
    of_hide: float
    of_usable: float


class _Hide(Open):
    hide: Name
    pieces: Count
    areas_mm2: AreasModel
    yields: Annotated[_Yield, Field(alias="yield")]


class _HideCost(Open):
    hide: Name
    remnant_credit: Money | None


class _Table(Open):
    currency: Name | None
    total: dict[str, Any]
    per_hide: list[_HideCost]


class _Report(Open):
    title: Text
    hides: list[_Hide]
    cost: _Table | None


def read_reported(path: Path) -> Reported:
    """What the report in ``path`` says. Raises InputError or FileFormatError, one message each."""
    source = str(path)
    data = parse_json(read_text(path), source)
    check_report(data, source)
    model = validated(_Report, data, source)
    table = model.cost
    return Reported(
        source=source,
        title=model.title,
        pieces={hide.hide: hide.pieces for hide in model.hides},
        areas={hide.hide: Areas(**hide.areas_mm2.model_dump()) for hide in model.hides},
        yields={hide.hide: Yield(**hide.yields.model_dump()) for hide in model.hides},
        currency=table.currency if table else None,
        cost=_sums(table.total) if table else {},
        credits={one.hide: one.remnant_credit for one in table.per_hide} if table else {},
    )


def _sums(total: dict[str, Any]) -> dict[str, Decimal | None]:
    """The sums of money by their names; whatever else a report says there is left out."""
    plain = {name: value for name, value in total.items() if value is None or type(value) in (int, float)}
    return {name: None if value is None else Decimal(str(value)) for name, value in plain.items()}


def check_same(reported: Reported, layout: Layout, areas: Sequence[Areas]) -> None:
    """Refuse a report of another layout: ``areas`` are those of the layout's hides, in order.

    Title, hides, pieces on each and the areas of hides and pieces must agree. Raises OtherReportError.
    """
    pieces = {laid.hide.name: len(laid.placements) for laid in layout.hides}
    same = reported.title == layout.title and reported.pieces == pieces
    for laid, mine in zip(layout.hides, areas, strict=True):
        said = reported.areas.get(laid.hide.name)
        same = same and said is not None and _near(said.hide, mine.hide) and _near(said.pieces, mine.pieces)
    if not same:
        raise OtherReportError(
            f"{reported.source}: is not the report of this layout; give the one that was written beside it"
        )


def _near(one: float, other: float) -> bool:
    """Equal but for what another version of a geometry library may round."""
    return abs(one - other) <= 1.0 + 1e-6 * other
