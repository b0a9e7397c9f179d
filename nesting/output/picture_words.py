"""Scale bar, legend and caption of the picture."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from nesting.output import palette
from nesting.output.caption import Caption
from nesting.output.pen import Pen, text_width
from nesting.output.picture_hide import ANEW_PX, flaw, inner_line
from nesting.output.wording import wrapped
from nesting.rings import Points
from nesting.units import INCH_MM

IN_MM = float(INCH_MM)
SWATCH_PX = (34.0, 22.0)
BODY_PX, SMALL_PX = 17.0, 13.0


def scale_bar(pen: Pen, left: float, base: float, scale: float, room: float) -> float:
    """Centimetres over inches, upper edge at ``base``; ``scale`` in px per mm. Returns its width, px."""
    cm = max((n for n in (5, 10, 20, 50, 100) if n * 10 * scale <= room), default=5)
    inches = max((n for n in (2, 4, 8, 12, 20, 40) if n * IN_MM <= cm * 10 + 5), default=2)
    _ticks(pen, left, base - 8, cm * 10 * scale, 5 if cm >= 5 else cm, f"{cm} cm")
    _ticks(pen, left, base - 32, inches * IN_MM * scale, 4 if inches % 4 == 0 else 2, f"{inches} in")
    return max(cm * 10, inches * IN_MM) * scale + 60


def _ticks(pen: Pen, left: float, y: float, length: float, parts: int, words: str) -> None:
    """A bar of alternating parts."""
    for i in range(parts):
        x0, x1 = left + length * i / parts, left + length * (i + 1) / parts
        pen.shape([_box(x0, y - 8, x1, y)], palette.INK if i % 2 == 0 else palette.PAPER, palette.INK, 1.0)
    pen.text((left + length + 8, y - 9), words, SMALL_PX + 1, palette.INK)


def _box(x0: float, y0: float, x1: float, y1: float) -> Points:
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def legend(
    pen: Pen,
    right: float,
    base: float,
    severities: Iterable[str],
    mirrored: bool,
    remnants: bool,
    anew: bool = False,
) -> None:
    """Only what the picture shows, in one row that ends at ``right``."""
    entries: list[tuple[str, str]] = [
        (look.words, severity) for severity, look in palette.FLAW_LOOKS.items() if severity in set(severities)
    ]
    entries += [("turned over", "mirrored")] if mirrored else []
    entries += [("laid anew", "anew")] if anew else []
    entries += [("left to keep", "remnant")] if remnants else []
    x = right
    for words, what in reversed(entries):
        x -= text_width(words, SMALL_PX + 1)
        pen.text((x, base - 22), words, SMALL_PX + 1, palette.INK)
        x -= SWATCH_PX[0] + 9
        _swatch(pen, x, base - 28, what)
        x -= 26


def _swatch(pen: Pen, x: float, y: float, what: str) -> None:
    box = _box(x, y, x + SWATCH_PX[0], y + SWATCH_PX[1])
    if what in palette.FLAW_LOOKS:
        flaw(pen, box, palette.FLAW_LOOKS[what])
    elif what == "mirrored":
        pen.shape([box], palette.SINGLE_TINT, palette.INK, 1.6)
        inner_line(pen, box)
    elif what == "anew":
        pen.shape([box], palette.SINGLE_TINT, palette.ANEW, ANEW_PX)
    else:
        pen.shape([box], palette.REMNANT, palette.LEATHER_EDGE, 1.4, dash=(6.0, 4.0))


def _wrapped(words: str, size: float, room: float) -> list[str]:
    return wrapped(words, lambda line: text_width(line, size), room)


def caption_lines(words: Caption, room: float) -> list[tuple[str, float, str]]:
    """Text, size (px) and colour of each line under the picture."""
    lines = [
        (line, BODY_PX, palette.INK) for figure in words.figures for line in _wrapped(figure, BODY_PX, room)
    ]
    small = " ".join((words.settings + ".", *words.cautions))
    return lines + [(line, SMALL_PX, palette.SOFT_INK) for line in _wrapped(small, SMALL_PX, room)]
