"""The short lines in which a drawing names a hide and a caution."""

from __future__ import annotations

from collections.abc import Callable

from nesting.files.hide import Hide
from nesting.rings import area
from nesting.units import format_area, format_weight


def hide_words(hide: Hide) -> list[str]:
    """Name, cut, weight and area of a hide, what is known of them."""
    weight = format_weight(hide.weight_oz) if hide.weight_oz else ""
    return [part for part in (hide.name, hide.cut, weight, format_area(area(hide.outline))) if part]


def sentence(words: str) -> str:
    """With a capital and a full stop."""
    return words[:1].upper() + words[1:].rstrip(".") + "."


def wrapped(words: str, width: Callable[[str], float], room: float) -> list[str]:
    """Lines no wider than ``room`` as ``width`` measures them; a single word may be wider."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
