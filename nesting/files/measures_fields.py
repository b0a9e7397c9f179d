"""The fields of a measures file, and which of them each shape takes."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from nesting.files.boundary import FlawAccepted, Name, Share, Strict
from nesting.files.measures import ShapeName, Side, Tip
from nesting.files.panel import Pairing

Count = Annotated[int, Field(ge=1, le=1000)]
Angle = Annotated[float, Field(ge=-3600, le=3600)]
Length = Annotated[str, Field(max_length=200)]
"""A length as it is typed: "8 1/2 in"."""


class StretchFields(Strict):
    """As in a panel file."""

    angle_deg: Angle
    tolerance_deg: Annotated[float, Field(ge=0, le=90)]


class LegFields(Strict):
    """What may be told apart for the right leg."""

    ankle: Length | None = None
    calf: Length | None = None
    height: Length | None = None
    calf_height: Length | None = None
    top: Length | None = None


class MeasuresModel(LegFields):
    """The fields of a measures file; lengths are still the texts that were typed."""

    shape: Literal["wrap", "leg", "strap", "rectangle", "disc"]
    name: Name | None = None
    lower: Length | None = None
    upper: Length | None = None
    width: Length | None = None
    length: Length | None = None
    diameter: Length | None = None
    tip: Tip | None = None
    front: Share | None = None
    leg: Side | None = None
    right: LegFields | None = None
    ease: Length | None = None
    worn: Length | list[Length] | None = None
    gap: Length | None = None
    radius: Length | None = None
    groove: Length | None = None
    holes: Count | None = None
    hole: Length | None = None
    barrel: Length | None = None
    hole_inset: Length | None = None
    hole_ends: Length | None = None
    buckle_holes: Count | None = None
    buckle_spacing: Length | None = None
    buckle_start: Length | None = None
    marks_top: Count | None = None
    marks_bottom: Count | None = None
    spread_top: Length | None = None
    spread_bottom: Length | None = None
    mark_inset: Length | None = None
    lace: Length | None = None
    tails: Length | None = None
    leather: Length | None = None
    pairing: Pairing | None = None
    stretch: StretchFields | None = None
    turns_deg: Annotated[list[Angle], Field(min_length=1)] | None = None
    accepts: list[FlawAccepted] | None = None


_ALL = {"shape", "name", "pairing", "stretch", "turns_deg", "accepts", "groove"}
_ROW = {"holes", "hole", "barrel", "hole_inset"}
_EDGED = _ALL | _ROW | {"hole_ends", "radius", "mark_inset"} | {
    f"{what}_{edge}" for what in ("marks", "spread") for edge in ("top", "bottom")
}  # fmt: skip
_WORN = _EDGED | {"ease", "worn", "gap", "lace", "tails", "leather"}

REQUIRED: dict[ShapeName, tuple[str, ...]] = {
    "wrap": ("lower", "upper", "height"),
    "leg": ("ankle", "calf", "height"),
    "strap": ("length", "width"),
    "rectangle": ("width", "height"),
    "disc": ("diameter",),
}
TAKEN: dict[ShapeName, set[str]] = {
    "wrap": _WORN,
    "leg": _WORN | {"calf_height", "top", "front", "leg", "right"},
    "strap": _EDGED | {"tip", "buckle_holes", "buckle_spacing", "buckle_start"},
    "rectangle": _EDGED,
    "disc": _ALL | _ROW,
}
"""Beside what is required."""
NEEDS: dict[str, tuple[str, ...]] = {
    "hole": ("holes", "buckle_holes"),
    "barrel": ("holes", "buckle_holes"),
    "hole_inset": ("holes",),
    "hole_ends": ("holes",),
    "buckle_spacing": ("buckle_holes",),
    "buckle_start": ("buckle_holes",),
    "spread_top": ("marks_top",),
    "spread_bottom": ("marks_bottom",),
    "mark_inset": ("marks_top", "marks_bottom"),
    "lace": ("holes",),
    "tails": ("holes",),
    "leather": ("holes",),
}
"""A field that says nothing without one of others."""
