"""Path data for SVG: rings and open paths with their arcs, y turned down."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.rings import Point, Ring, arc_of


@dataclass(frozen=True)
class Page:
    """The page's upper left corner lies at ``(left, top)`` of the drawing, mm."""

    left: float
    top: float

    def at(self, point: Point) -> Point:
        """A point of the drawing (y up) on the page (y down)."""
        return point[0] - self.left, self.top - point[1]


def path_data(points: Ring, closed: bool, page: Page) -> str:
    """The ``d`` attribute of a ring or open path."""
    parts = [f"M {pair(page.at(points[0][:2]))}"]
    ends = points[1:] + points[:1] if closed else points[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(points, ends, strict=False):
        if bulge:
            parts += _arc((x0, y0), (x1, y1), bulge, page)
        else:
            parts.append(f"L {pair(page.at((x1, y1)))}")
    if closed:
        # The closing command draws the last straight side itself.
        if not points[-1][2]:
            parts.pop()
        parts.append("Z")
    return " ".join(parts)


def _arc(start: Point, end: Point, bulge: float, page: Page) -> list[str]:
    """An arc as one or more arc commands of at most a third of a turn.

    A half turn or more would let the rounding of the written figures move the arc's centre.
    """
    (cx, cy), radius, angle, sweep = arc_of(start, end, bulge)
    count = math.ceil(abs(sweep) / (2 * math.pi / 3 + 1e-9))
    stops = [angle + sweep * i / count for i in range(1, count)]
    between = [(cx + radius * math.cos(stop), cy + radius * math.sin(stop)) for stop in stops]
    # Counter-clockwise to the eye is against SVG's positive turn, as its y points down.
    turn = 0 if sweep > 0 else 1
    return [
        f"A {number(radius)} {number(radius)} 0 0 {turn} {pair(page.at(point))}" for point in [*between, end]
    ]


def pair(point: Point) -> str:
    """``x y``."""
    return f"{number(point[0])} {number(point[1])}"


def number(value: float) -> str:
    """Up to six decimals of a millimetre, no trailing zeros, no negative zero."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
