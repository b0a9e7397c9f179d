"""The blank of each shape: its outline about the centre line x = 0, from y = 0 up, corners still sharp."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from nesting.drafting.fit import width_mm
from nesting.errors import InputError
from nesting.files.measures import Disc, LegPanel, Rectangle, Shape, Strap, Wrap
from nesting.rings import Ring
from nesting.units import format_both

_FLAT = 1e-6
"""A smaller bulge lifts an arc by less than a micrometre in two metres of chord; it is drawn straight."""


@dataclass(frozen=True)
class Blank:
    """``ring`` runs counter-clockwise from the lower left corner; ``radii`` has one figure a vertex.

    ``sides`` are the numbers of the edges on the left and right. ``levels`` are the heights at which a
    width was asked for, with its word, from the lowest up.
    """

    ring: Ring
    radii: tuple[float, ...]
    sides: frozenset[int]
    levels: tuple[tuple[str, float], ...]

    @property
    def height(self) -> float:
        """Of the whole blank, mm."""
        return max(y for _, y, _ in self.ring)


def blank(shape: Shape, radius: float) -> Blank:
    """The blank of a shape; its corners (but not those of a round tip) are to have ``radius`` mm.

    Raises InputError on measures that make no panel.
    """
    match shape:
        case Wrap():
            lower = width_mm(shape.lower_mm, shape.fit, "lower edge")
            upper = width_mm(shape.upper_mm, shape.fit, "upper edge")
            return _four_sided(lower, upper, shape.height_mm, radius)
        case Rectangle():
            both = _four_sided(shape.width_mm, shape.width_mm, shape.height_mm, radius)
            return replace(both, levels=(("width", 0.0),))
        case Strap():
            return _strap(shape, radius)
        case LegPanel():
            return _leg(shape, radius)
        case Disc():
            r = shape.diameter_mm / 2.0
            ring = ((0.0, 0.0, 1.0), (0.0, 2.0 * r, 1.0))
            return Blank(ring, (0.0, 0.0), frozenset({0, 1}), (("diameter", r),))


def _four_sided(lower: float, upper: float, height: float, radius: float) -> Blank:
    a, b = lower / 2.0, upper / 2.0
    ring = ((-a, 0.0, 0.0), (a, 0.0, 0.0), (b, height, 0.0), (-b, height, 0.0))
    levels = (("lower edge", 0.0), ("upper edge", height))
    return Blank(ring, (radius,) * 4, frozenset({1, 3}), levels)


def _strap(strap: Strap, radius: float) -> Blank:
    half, length = strap.width_mm / 2.0, strap.length_mm
    levels = (("width", 0.0),)
    if strap.tip != "pointed":
        tip = half if strap.tip == "round" else radius
        square = _four_sided(strap.width_mm, strap.width_mm, length, radius)
        return Blank(square.ring, (radius, radius, tip, tip), square.sides, levels)
    if length <= half:
        raise InputError(
            f"a strap of {format_both(length)} is too short for a point on {format_both(strap.width_mm)} "
            "of width; make it longer, or its tip square"
        )
    # The point is square, so that it stands half the width out.
    low = length - half
    ring = ((-half, 0.0, 0.0), (half, 0.0, 0.0), (half, low, 0.0), (0.0, length, 0.0), (-half, low, 0.0))
    return Blank(ring, (radius,) * 5, frozenset({1, 4}), levels)


def _leg(leg: LegPanel, radius: float) -> Blank:
    """Sides are arcs that run upright through the calf: one from the ankle, one on to the top."""
    _refuse_odd_leg(leg)
    ankle, calf, top = (
        width_mm(girth, leg.fit, where)
        for girth, where in ((leg.ankle_mm, "ankle"), (leg.calf_mm, "calf"), (leg.top_mm, "upper edge"))
    )
    height, at = leg.height_mm, leg.calf_height_mm
    right, left = (leg.front, 1.0 - leg.front) if leg.leg == "left" else (1.0 - leg.front, leg.front)
    xs = [[ankle / 2.0 + share * (width - ankle) for width in (ankle, calf, top)] for share in (right, left)]
    levels = [(xs[0][0], -xs[1][0], 0.0), (xs[0][1], -xs[1][1], at), (xs[0][2], -xs[1][2], height)]
    words = ["ankle", "calf", "upper edge"]
    if at == height:
        levels, words = levels[:2], words[:2]
    up = [(x, y, 0.0) for x, _, y in levels]
    down = [(x, y, 0.0) for _, x, y in reversed(levels)]
    # The lower left corner comes first, as it does for the other shapes.
    corners = [down[-1], *up, *down[:-1]]
    sides = frozenset(i for i in range(1, len(corners)) if i != len(levels))
    ring = tuple(
        (x, y, _upright_bulge(x, y, *corners[(i + 1) % len(corners)][:2]) if i in sides else 0.0)
        for i, (x, y, _) in enumerate(corners)
    )
    radii = tuple(radius if y in (0.0, height) else 0.0 for _, y, _ in ring)
    return Blank(ring, radii, sides, tuple(zip(words, (y for *_, y in levels), strict=True)))


def _upright_bulge(x0: float, y0: float, x1: float, y1: float) -> float:
    """Bulge of the outward arc between two points of a side that is upright at the wider of them: geometry.

    Its chord leans by half the arc's sweep, so that sweep / 4 is half the lean.
    """
    bulge = math.tan(math.atan(abs(x1 - x0) / abs(y1 - y0)) / 2.0)
    return bulge if bulge > _FLAT else 0.0


def _refuse_odd_leg(leg: LegPanel) -> None:
    if leg.calf_mm <= leg.ankle_mm:
        raise InputError(
            f"the calf ({format_both(leg.calf_mm)}) must be wider than the ankle "
            f"({format_both(leg.ankle_mm)}); check the two, or draft a wrap"
        )
    if leg.top_mm > leg.calf_mm:
        raise InputError(
            f"the upper edge ({format_both(leg.top_mm)}) must not be wider than the calf "
            f"({format_both(leg.calf_mm)}); check the two"
        )
    if leg.calf_height_mm > leg.height_mm:
        raise InputError(
            f"the calf at {format_both(leg.calf_height_mm)} lies above the panel of "
            f"{format_both(leg.height_mm)}; make the panel higher, or check the calf's height"
        )
    if leg.calf_height_mm == leg.height_mm and leg.top_mm != leg.calf_mm:
        raise InputError(
            "the calf lies at the upper edge, so that the edge cannot have a girth of its own; "
            "leave the top out, or say how high the calf lies"
        )
