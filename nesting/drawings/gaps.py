"""An outline that does not close: say where."""

from __future__ import annotations

import math
from collections.abc import Sequence

from nesting.drawings.drawing import Stroke, on_layer, place
from nesting.drawings.meaning import called
from nesting.errors import InputError
from nesting.rings import Point

SHOWN = 4
MOST_ENDS = 400
JOINABLE_MM = 5.0


def open_outline(source: str, what: str, chains: Sequence[Stroke]) -> InputError:
    """The error for an outline that is still open in ``chains``: every gap with its width and place."""
    said = f"{source}: {what}{on_layer(called(chains[0]))} is open"
    ends = [point for chain in chains for point in (chain.start, chain.end)]
    if len(ends) > MOST_ENDS:
        return InputError(f"{said}, in {len(chains)} parts that do not meet; join them in the drawing")
    gaps = _gaps(ends)
    shown = "; ".join(f"{gap:.2f} mm from {place(a)} to {place(b)}" for gap, a, b in gaps[:SHOWN])
    more = f"; and {len(gaps) - SHOWN} more" if len(gaps) > SHOWN else ""
    widest = max(gap for gap, *_ in gaps)
    mend = "close it in the drawing"
    if widest < JOINABLE_MM:
        mend += f', or let gaps be joined with --join "{math.ceil(widest * 10 + 0.5) / 10:g} mm"'
    return InputError(f"{said}: a gap of {shown}{more}; {mend}")


def _gaps(ends: list[Point]) -> list[tuple[float, Point, Point]]:
    """Loose ends matched nearest first."""
    pairs = sorted((math.dist(a, b), i, j) for i, a in enumerate(ends) for j, b in enumerate(ends) if i < j)
    used: set[int] = set()
    gaps = []
    for gap, i, j in pairs:
        if i not in used and j not in used:
            used |= {i, j}
            gaps.append((gap, ends[i], ends[j]))
    return gaps
