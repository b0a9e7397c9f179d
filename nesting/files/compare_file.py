"""Comparison files ``compare.json``: what any reader may rely on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field

from nesting.errors import FileFormatError
from nesting.files.boundary import Name, NotNegative, check_header, validated
from nesting.files.json_text import join
from nesting.files.report_file import Areas, Open, Yields, check_areas

_YIELD_SLACK = 1e-6


class _Outcome(Open):
    pieces: Annotated[int, Field(ge=0)]
    areas_mm2: Areas
    yields: Annotated[Yields, Field(alias="yield")]
    leather: NotNegative | None = None


class _Entry(Open):
    hide: Name
    typical: bool = False
    panels: Annotated[list[Name], Field(min_length=1)]
    outcomes: Annotated[list[_Outcome], Field(min_length=1)]


class _Best(Open):
    panels: list[Name]
    hide: Name | None
    reason: str


class _Compare(Open):
    title: str
    entries: Annotated[list[_Entry], Field(min_length=1)]
    best: list[_Best]


def check_compare(data: Mapping[str, Any], source: str) -> None:
    """Refuse a comparison whose areas do not add up, whose yields are not those of its areas, or that names
    a hide as best which it did not compare. Raises FileFormatError."""
    check_header(data, "compare", source)
    model = validated(_Compare, data, source)
    check_areas(data, source)
    for i, entry in enumerate(model.entries):
        for j, outcome in enumerate(entry.outcomes):
            _check_yields(outcome, source, join("entries", i, "outcomes", j, "yield"))
    compared = {(entry.hide, tuple(entry.panels)) for entry in model.entries}
    for i, best in enumerate(model.best):
        if best.hide is not None and (best.hide, tuple(best.panels)) not in compared:
            raise FileFormatError(
                source, join("best", i, "hide"), f'"{best.hide}" is none of the hides compared; compare anew'
            )


def _check_yields(outcome: _Outcome, source: str, place: str) -> None:
    areas, yields = outcome.areas_mm2, outcome.yields
    for name, whole, given in (
        ("of_hide", areas.hide, yields.of_hide),
        ("of_usable", areas.usable, yields.of_usable),
    ):
        share = areas.pieces / whole if whole else 0.0
        if abs(share - given) > _YIELD_SLACK:
            raise FileFormatError(
                source, join(place, name), f"is {given:.6g}, but the areas make {share:.6g}; compare anew"
            )
