"""Report files ``report.json``: what any reader may rely on, and no more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import ConfigDict, Field

from nesting.errors import FileFormatError
from nesting.files.boundary import NotNegative, Strict, check_header, validated
from nesting.files.json_text import join

_SLACK_MM2 = 1e-3
"""Each area is written to a fraction of a mm²; their sums may differ by that."""


class Open(Strict):
    """A report is written by this program and read by people: further fields do no harm."""

    model_config = ConfigDict(strict=True, extra="ignore", allow_inf_nan=False, frozen=True)


class Areas(Open):
    """Areas in mm²; whether they add up is for ``check_areas``."""

    hide: NotNegative
    margins: NotNegative
    flaws: NotNegative
    usable: NotNegative
    pieces: NotNegative
    between: NotNegative
    remnant: NotNegative


class Yields(Open):
    """Shares of the hide's and of the usable area, 0 to 1."""

    of_hide: Annotated[float, Field(ge=0, le=1)]
    of_usable: Annotated[float, Field(ge=0, le=1)]


class _Report(Open):
    areas_mm2: Areas
    yields: Annotated[Yields | None, Field(alias="yield")] = None
    common_cut_mm: NotNegative = 0.0


def check_report(data: Mapping[str, Any], source: str) -> None:
    """Refuse a report whose areas do not add up: hide = margins + flaws + usable, and
    usable = pieces + between + remnant, wherever ``areas_mm2`` stands. Raises FileFormatError."""
    check_header(data, "report", source)
    validated(_Report, data, source)
    check_areas(data, source)


def check_areas(data: Mapping[str, Any], source: str) -> None:
    """Refuse areas that do not add up wherever ``areas_mm2`` stands. Raises FileFormatError."""
    for place, areas in _areas(data, ""):
        _check_sums(validated(Areas, areas, source, place), source, place)


def _areas(value: Any, place: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping):
        for key, child in value.items():
            if key == "areas_mm2":
                yield join(place, key), child
            else:
                yield from _areas(child, join(place, key))
    elif isinstance(value, list):
        for i, child in enumerate(value):
            yield from _areas(child, join(place, i))


def _check_sums(areas: Areas, source: str, place: str) -> None:
    sums = {
        "hide": ("margins + flaws + usable", areas.margins + areas.flaws + areas.usable),
        "usable": ("pieces + between + remnant", areas.pieces + areas.between + areas.remnant),
    }
    for name, (words, total) in sums.items():
        whole = getattr(areas, name)
        if abs(whole - total) > _SLACK_MM2 + 1e-9 * whole:
            raise FileFormatError(
                source,
                join(place, name),
                f"is {whole:.10g}, but {words} make {total:.10g}; account the layout anew",
            )
