"""Measures: what a drafter is told before a panel is drawn. Lengths in millimetres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nesting.files.hide import Severity
from nesting.files.panel import Pairing, Stretch

ShapeName = Literal["wrap", "leg", "strap", "rectangle", "disc"]
Side = Literal["left", "right"]
Tip = Literal["square", "round", "pointed"]


@dataclass(frozen=True)
class Fit:
    """What is added to a girth and what is left open; ``worn_mm`` is how thick all worn underneath is."""

    ease_mm: float = 0.0
    worn_mm: float = 0.0
    gap_mm: float = 0.0


@dataclass(frozen=True)
class Wrap:
    """A tapered wrap: the girth at its lower and at its upper edge, ``height_mm`` apart."""

    lower_mm: float
    upper_mm: float
    height_mm: float
    fit: Fit = Fit()


@dataclass(frozen=True)
class LegPanel:
    """A leg from the ankle up. ``front`` is the share of the growth from ankle to calf on the front half.

    ``calf_height_mm`` is measured from the lower edge, ``top_mm`` is the girth at the upper edge. ``leg``
    is the leg that the panel is drawn for, grain side up, fastened on the outside of the leg.
    """

    ankle_mm: float
    calf_mm: float
    height_mm: float
    calf_height_mm: float
    top_mm: float
    front: float
    leg: Side = "left"
    fit: Fit = Fit()


@dataclass(frozen=True)
class Strap:
    """A strap, drawn upright with its tip at the top."""

    length_mm: float
    width_mm: float
    tip: Tip = "square"


@dataclass(frozen=True)
class Rectangle:
    """A rectangle."""

    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Disc:
    """A disc."""

    diameter_mm: float


Shape = Wrap | LegPanel | Strap | Rectangle | Disc


@dataclass(frozen=True)
class HoleSize:
    """The hole itself, or the barrel of the eyelet that is to sit snugly in it; one of the two."""

    hole_mm: float | None = None
    barrel_mm: float | None = None


@dataclass(frozen=True)
class Holes:
    """A row along each side, ``inset_mm`` from it and ``ends_mm`` from its ends; on a disc one row around."""

    count: int
    inset_mm: float
    ends_mm: float
    size: HoleSize


@dataclass(frozen=True)
class BuckleHoles:
    """Holes on a strap's centre line, ``spacing_mm`` apart, the first ``start_mm`` from the tip."""

    count: int
    spacing_mm: float
    start_mm: float
    size: HoleSize


@dataclass(frozen=True)
class Marks:
    """A row along an edge, ``spread_mm`` apart about the centre line; None spreads them over the edge."""

    count: int
    spread_mm: float | None
    inset_mm: float


@dataclass(frozen=True)
class Lacing:
    """Criss-cross through the rows of holes, with a tail at each end; widths that are not known are None."""

    tail_mm: float
    lace_mm: float | None = None
    leather_mm: float | None = None


@dataclass(frozen=True)
class Taken:
    """Something that was not said and so taken as usual, and the field that says otherwise: two clauses."""

    what: str
    otherwise: str


@dataclass(frozen=True)
class Measures:
    """A panel to draft, or two where ``right`` holds the measures of a right leg that differs."""

    name: str
    shape: Shape
    right: LegPanel | None = None
    radius_mm: float = 0.0
    holes: Holes | None = None
    buckle_holes: BuckleHoles | None = None
    marks_top: Marks | None = None
    marks_bottom: Marks | None = None
    groove_mm: float | None = None
    lacing: Lacing | None = None
    pairing: Pairing = "none"
    stretch: Stretch | None = None
    turns_deg: tuple[float, ...] | None = None
    accepts: tuple[Severity, ...] = ()
    taken: tuple[Taken, ...] = ()
