"""A hide: one piece of leather as it lies on the table."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal

from nesting.rings import Point, Ring

Severity = Literal["hole", "weak", "blemish"]
SEVERITIES: tuple[Severity, ...] = ("hole", "weak", "blemish")
Tannage = Literal["vegetable", "chrome", "other", "unknown"]
PriceBasis = Literal["hide", "ft2", "dm2", "m2"]
Segment = tuple[Point, Point]


@dataclass(frozen=True)
class Price:
    """What the hide cost: ``amount`` of ``currency`` for the whole hide or for a unit of area."""

    amount: Decimal
    currency: str
    basis: PriceBasis


@dataclass(frozen=True)
class Flaw:
    """A marked zone. ``hole``: no leather; ``weak``: no load may lie there; ``blemish``: looks only."""

    kind: str
    severity: Severity
    outline: Ring


@dataclass(frozen=True)
class View:
    """How the camera saw the hide's face: enough to draw on its photograph again.

    ``homography`` (3 rows of 3) takes points of the hide, mm, to the picture as a lens without bend would
    show it, in half diagonals from the picture's middle, x right, y down. ``lens`` is the model by which the
    measured ``k1`` then bends it; ``size`` is the picture's (width, height) in px, as it was read.
    """

    homography: tuple[tuple[float, float, float], tuple[float, float, float], tuple[float, float, float]]
    lens: Literal["brown", "division"]
    size: tuple[int, int]


@dataclass(frozen=True)
class Measured:
    """What a camera measurement promises; see the contract of the hide file for each figure.

    ``mat_pitch_mm`` and ``mat_offset_mm``, both across and up, say where the ruled mat lay: a point of the
    hide moved by the offset is counted in pitches from the mat's own zero. None = there was no ruled mat.
    ``view`` is None in files from before it was kept.
    """

    best_area_mm2: float
    inside_area_mm2: float
    area_u_mm2: float
    px_per_mm: float
    k1: float
    residual_px: float
    holdout_area_pct: float | None
    """None where nothing could be left out: four points of known place carry no test of themselves."""
    thickness_mm: float
    undecided_mm: float
    image_sha256: str
    mat_pitch_mm: Point | None = None
    mat_offset_mm: Point | None = None
    view: View | None = None


@dataclass(frozen=True)
class Hide:
    """A hide in millimetres, y up. ``spine`` is two points along the backbone; None = unknown."""

    name: str
    outline: Ring
    cut: str = ""
    weight_oz: tuple[float, float] | None = None
    tannage: Tannage = "unknown"
    price: Price | None = None
    straight_edges: tuple[Segment, ...] = ()
    flaws: tuple[Flaw, ...] = ()
    spine: tuple[Point, Point] | None = None
    measured: Measured | None = None
    ancestry: tuple[str, ...] = field(default=())
    """Names of the hides this remnant was left from, oldest first; empty for a hide as bought."""
