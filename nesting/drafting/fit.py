"""From the body to the leather: girths to widths, and an eyelet's barrel to its hole."""

from __future__ import annotations

import math
from fractions import Fraction

from nesting.errors import InputError
from nesting.files.measures import Fit, HoleSize
from nesting.units import format_both

PUNCH_STEP_MM = Fraction(1, 2)
"""Round punches come in half millimetres: common practice, no source."""


def added_mm(fit: Fit) -> float:
    """What is added to a girth: the ease, and 2π times the thickness of what is worn underneath.

    A layer of even thickness t around any convex girth makes it longer by 2πt (Steiner's formula for
    the perimeter of a parallel curve).
    """
    return fit.ease_mm + 2.0 * math.pi * fit.worn_mm


def width_mm(girth_mm: float, fit: Fit, where: str) -> float:
    """The panel's width at a girth, the lacing gap left open. Raises InputError where nothing is left."""
    around = girth_mm + added_mm(fit)
    if around <= fit.gap_mm:
        raise InputError(
            f"the lacing gap of {format_both(fit.gap_mm)} leaves no leather of the {format_both(around)} "
            f"around the {where}; give a smaller gap"
        )
    return around - fit.gap_mm


def hole_mm(size: HoleSize) -> float:
    """The diameter of a hole: as told, or snug for a barrel, the first punch that lets it through."""
    if size.barrel_mm is None:
        assert size.hole_mm is not None  # one of the two is told
        return size.hole_mm
    # A barrel typed in inches is exact to far less than a micrometre.
    barrel = Fraction(round(size.barrel_mm * 1000), 1000)
    return float(math.ceil(barrel / PUNCH_STEP_MM) * PUNCH_STEP_MM)
