"""Typical hides: outlines by cut and area that stand in for leather not yet bought.

Drawn for this purpose after the usual proportions of the cuts, traced from nothing. Areas are common
practice without a source, those of bend and belly from memory. ISO 2418 says that bend, shoulder and
belly cannot be given sizes uniquely: so each cut comes in three outlines, with few, usual and many flaws.
How much of a hide is flawed is an assumption here: 1, 4 and 9 % of its area (for comparison, the best
grade of ISO 17551, of pickled sheep skins, ends at 10 %).
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity

from nesting import rings
from nesting.account.money import cents, money
from nesting.compare.typical_shapes import SHAPES, CutShape
from nesting.errors import InputError
from nesting.files.hide import Flaw, Hide, Price, Severity
from nesting.prices import whole_price
from nesting.units import FT2_MM2

FLAW_LEVELS = ("few flaws", "usual flaws", "many flaws")
_SHARES = (0.01, 0.04, 0.09)
_COUNTS = (3, 6, 9)
_TRIES = 4000

_FLAWS: tuple[tuple[str, Severity, float, float], ...] = (
    ("scar", "blemish", 2.0, 6.0), ("loose leather", "weak", 4.0, 2.5), ("hole", "hole", 0.2, 1.0),
    ("wrinkle", "blemish", 2.0, 8.0), ("brand", "weak", 3.0, 1.2), ("flay cut", "weak", 1.5, 5.0),
    ("scratch", "blemish", 1.0, 10.0), ("hole", "hole", 0.2, 1.0), ("insect bites", "blemish", 3.0, 1.5),
)  # fmt: skip
"""Kind, severity, share of the flawed area, length over width."""


@dataclass(frozen=True)
class Described:
    """A hide known only by words: its cut, and area in mm² (None = as is usual for the cut)."""

    cut: str
    area_mm2: Fraction | None = None
    weight_oz: tuple[float, float] | None = None
    price: Price | None = None

    @property
    def area(self) -> Fraction:
        """The stated area in mm², or the cut's usual one. Raises InputError for an unknown cut."""
        return Fraction(shape_of(self.cut).usual_ft2) * FT2_MM2 if self.area_mm2 is None else self.area_mm2

    @property
    def whole_price(self) -> Price | None:
        """The price of the whole hide, to the cent, from the stated area: outlines have it but for dust."""
        if self.price is None:
            return None
        whole = money(cents(whole_price(self.price, self.area)))
        return Price(whole, self.price.currency, "hide")

    @property
    def name(self) -> str:
        """``typical bend 9.50 ft²``."""
        return f"typical {self.cut} {float(self.area / FT2_MM2):.2f} ft²"

    @property
    def unusual(self) -> str | None:
        """What to look at again when the cut hardly ever has this area, None when it may."""
        low, high = shape_of(self.cut).range_ft2
        feet = float(self.area / FT2_MM2)
        if low <= feet <= high:
            return None
        return (
            f"{feet:.2f} ft² is unusual for a {self.cut}, which has {low:g} to {high:g} ft²; check the area"
        )


def shape_of(cut: str) -> CutShape:
    """The shape of a cut. Raises InputError, with the cuts that are known, for any other word."""
    if cut not in SHAPES:
        raise InputError(f'"{cut}" is no cut with a typical outline; there are {", ".join(SHAPES)}')
    return SHAPES[cut]


def typical_hides(described: Described) -> tuple[Hide, ...]:
    """Three hides with few, usual and many flaws; each has the area less its open holes.

    The same description gives the same hides on any run. Raises InputError for an unknown cut.
    """
    return tuple(_hide(described, level) for level in range(len(FLAW_LEVELS)))


def _hide(described: Described, level: int) -> Hide:
    shape = shape_of(described.cut)
    # A string seed is hashed the same on every run and machine.
    chance = random.Random(f"{described.cut}, {FLAW_LEVELS[level]}")
    outline = shapely.Polygon(_curve(_own(shape, chance)))
    flaws = _flaws(outline, level, chance)
    holes = sum(area.area for area, _, severity in flaws if severity == "hole")
    scale = float(np.sqrt(float(described.area) / (outline.area - holes)))
    base = Hide(described.name, _ring(outline, scale), described.cut, described.weight_oz)
    return replace(
        base,
        price=described.whole_price,
        straight_edges=(((0.0, 0.0), (scale, 0.0)),),
        flaws=tuple(Flaw(kind, severity, _ring(zone, scale)) for zone, kind, severity in flaws),
        spine=((0.0, 0.0), (0.0, 1.0)) if shape.spine_across else ((0.0, 0.0), (1.0, 0.0)),
    )


def _ring(polygon: shapely.Polygon, scale: float) -> rings.Ring:
    return rings.ring_from_points(scale * shapely.get_coordinates(polygon.exterior)[:-1])


def _own(shape: CutShape, chance: random.Random) -> NDArray[np.float64]:
    """No two hides are alike: all points but those at the straight edge move a little."""
    points = np.array(shape.points)
    for point in points[2:-2]:
        point += [chance.uniform(-0.015, 0.015), chance.uniform(-0.015, 0.015)]
    return points


def _curve(points: NDArray[np.float64], steps: int = 6) -> NDArray[np.float64]:
    """Points of shape (n, 2) on the spline of Catmull and Rom (1974) through ``points``, ends included."""
    padded = np.vstack((points[:1], points, points[-1:]))
    a, b, c, d = (padded[i : len(points) - 1 + i, None] for i in range(4))
    t = np.linspace(0.0, 1.0, steps, endpoint=False)[None, :, None]
    cubic = 2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3
    found: NDArray[np.float64] = np.vstack((0.5 * cubic.reshape(-1, 2), points[-1:]))
    return found


Zone = tuple[shapely.Polygon, str, Severity]


def _flaws(outline: shapely.Polygon, level: int, chance: random.Random) -> list[Zone]:
    """Ovals clear of each other inside the outline, more of them away from the straight edge."""
    kinds = _FLAWS[: _COUNTS[level]]
    unit = _SHARES[level] * outline.area / sum(weight for _, _, weight, _ in kinds)
    found: list[Zone] = []
    for kind, severity, weight, longer in kinds:
        taken = shapely.union_all([zone.buffer(0.01) for zone, _, _ in found])
        oval = _oval(unit * weight, longer)
        placed = (_dropped(oval, outline, chance) for _ in range(_TRIES))
        free = (zone for zone in placed if outline.covers(zone) and not zone.intersects(taken))
        found.append((next(free), kind, severity))
    return found


def _oval(area: float, longer: float) -> shapely.Polygon:
    circle = shapely.Point(0.0, 0.0).buffer(1.0, quad_segs=4)
    size = float(np.sqrt(area / circle.area))
    return affinity.scale(circle, size * longer**0.5, size / longer**0.5)


def _dropped(oval: shapely.Polygon, outline: shapely.Polygon, chance: random.Random) -> shapely.Polygon:
    x0, y0, x1, y1 = outline.bounds
    at = chance.uniform(x0, x1), y0 + (y1 - y0) * chance.random() ** 0.7
    return affinity.translate(affinity.rotate(oval, chance.uniform(0.0, 180.0)), *at)
