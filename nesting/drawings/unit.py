"""The unit a drawing was made in: what the file states against what the person says."""

from __future__ import annotations

from nesting.errors import InputError
from nesting.units import LENGTHS

UNIT_MM: dict[str, float] = {
    **{unit: float(LENGTHS[unit]) for unit in ("mm", "cm", "dm", "m", "in", "ft", "yd")},
    "px": float(LENGTHS["in"] / 96),
}
"""Millimetres in a unit. ``px`` is the CSS pixel, 1/96 in (W3C CSS Values and Units 3, section 5.2)."""


def unit_named(text: str) -> str | None:
    """The short word for a unit typed by a person, or None when it is not one we know."""
    word = text.strip().lower()
    if word in ("px", "pixel", "pixels"):
        return "px"
    if word not in LENGTHS:
        return None
    return next(unit for unit, size in UNIT_MM.items() if size == float(LENGTHS[word]))


def unit_asked(text: str) -> str:
    """The short word for ``--unit``. Raises InputError for an unknown one."""
    unit = unit_named(text)
    if unit is None:
        raise InputError(f"--unit {text}: unknown unit; use mm, cm, m, in, ft or px")
    return unit


def settle_unit(source: str, stated: str | None, asked: str | None) -> str:
    """The unit to read a drawing in; ``stated`` is the file's own, ``asked`` the person's.

    Raises InputError when there is neither, or when the two disagree.
    """
    if stated is not None and asked is not None and stated != asked:
        raise InputError(
            f"{source}: the drawing states that it is in {stated}, and --unit says {asked}; "
            f"leave --unit away, or correct the unit in the drawing"
        )
    unit = stated or asked
    if unit is None:
        raise InputError(
            f"{source}: the drawing does not state its unit; "
            f"say what one drawing unit is, for example --unit mm"
        )
    return unit
