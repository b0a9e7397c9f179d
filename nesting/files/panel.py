"""A panel: the pattern of one piece of leather, in its own frame, millimetres, y up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nesting.files.hide import Severity
from nesting.rings import Point, Ring

Pairing = Literal["mirrored", "alike", "none"]


@dataclass(frozen=True)
class Punch:
    """A round hole that is cut."""

    at: Point
    diameter: float


@dataclass(frozen=True)
class Line:
    """A line made after cutting (groove, stitch, fold, ...): open polyline of vertices with bulges."""

    role: str
    points: Ring


@dataclass(frozen=True)
class Stretch:
    """The panel's direction that must lie along the hide's spine, modulo 180, within the tolerance."""

    angle_deg: float
    tolerance_deg: float


@dataclass(frozen=True)
class HiddenZone:
    """A part of the panel that will not be seen, and the flaws it tolerates."""

    outline: Ring
    accepts: tuple[Severity, ...]


@dataclass(frozen=True)
class Panel:
    """A panel; ``turns_deg`` None = any rotation; ``accepts`` never holds ``hole``.

    ``lace_mm`` is the lace that one piece takes; 0 = none. ``centre_line``, from end to end, is the line that
    the panel was drawn from outward; None = none is known.
    """

    name: str
    outline: Ring
    cutouts: tuple[Ring, ...] = ()
    punches: tuple[Punch, ...] = ()
    marks: tuple[Point, ...] = ()
    lines: tuple[Line, ...] = ()
    pairing: Pairing = "none"
    stretch: Stretch | None = None
    turns_deg: tuple[float, ...] | None = None
    accepts: tuple[Severity, ...] = ()
    hidden_zones: tuple[HiddenZone, ...] = ()
    lace_mm: float = 0.0
    centre_line: tuple[Point, Point] | None = None
