"""Is the drawing of a believable size? A wrong unit shows here first."""

from __future__ import annotations

from nesting.drawings.drawing import Note, warning
from nesting.drawings.meaning import Shape
from nesting.errors import InputError
from nesting.units import format_area

FARTHEST_MM = 1e6

BELIEVABLE_MM = {"hide": (100.0, 5000.0), "panel": (5.0, 3000.0)}
"""Smallest and largest width or height of what people cut from and cut; common practice, no source."""


def size_warnings(source: str, kind: str, outline: Shape, unit: str) -> list[Note]:
    """A warning when the outline is smaller or larger across than a ``kind`` ("hide", "panel") can be.

    Raises InputError for one of more than a kilometre, which no file of ours can hold.
    """
    low, high = BELIEVABLE_MM[kind]
    width, height = outline.size
    if low <= max(width, height) <= high:
        return []
    text = (
        f"that is a {kind} of {width:.0f} x {height:.0f} mm, {format_area(outline.area)}, read in {unit}: "
        f"is the unit right?"
    )
    if max(width, height) > FARTHEST_MM:
        raise InputError(f"{source}: {text} Correct it in the drawing")
    return [warning("size", text)]
