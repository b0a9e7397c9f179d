"""Dimension lines and leaders as a drafter draws them, in pixels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from nesting.drafting.sketch import Area, Item, Trace, Words
from nesting.output.palette import SOFT_INK, STRAIGHT_EDGE
from nesting.output.pen import text_width
from nesting.rings import Point, Pose, Ring

Edge = Literal["left", "right", "top", "bottom"]
COLOUR = STRAIGHT_EDGE
TEXT_PX = 16.0
ARROW_PX = 11.0
TIER_PX = 42.0
FIRST_TIER_PX = 36.0
LINE_PX = 21.0
"""From one line of a label to the next."""
LABEL_GAP_PX = 13.0


@dataclass(frozen=True)
class View:
    """A panel in the picture: posed, then ``scale`` px per mm, then shifted by ``shift`` px."""

    pose: Pose
    scale: float
    shift: Point

    def at(self, point: Point) -> Point:
        """A point of the panel (mm) in the picture (px)."""
        x, y = self.pose.apply_point(point)
        return self.scale * x + self.shift[0], self.scale * y + self.shift[1]

    def ring(self, ring: Ring) -> Ring:
        """A ring or open path of the panel in the picture; arcs keep their bulges."""
        return tuple((*self.at((x, y)), bulge) for x, y, bulge in ring)


@dataclass(frozen=True)
class Span:
    """What a dimension line says of two points of the panel."""

    start: Point
    end: Point
    words: str


@dataclass(frozen=True)
class Label:
    """Lines of words beside the picture, ``lift`` px above the point of the panel that a leader runs to."""

    target: Point
    lines: tuple[str, ...]
    lift: float = 0.0


def dimension(
    start: Point, end: Point, edge: Edge, level: float, words: str, before: bool = False
) -> list[Item]:
    """A dimension line at ``level`` px beside, above or below two points (px), with its extension lines.

    Words too long for a level line stand after its end, or ``before`` its start.
    """
    upright = edge in ("left", "right")
    axis = 1 if upright else 0
    one, other = sorted((start, end), key=lambda point: point[axis])
    ends = [(level, one[1]), (level, other[1])] if upright else [(one[0], level), (other[0], level)]
    items: list[Item] = []
    for point, tip in zip((one, other), ends, strict=True):
        items += _extension(point, tip)
    length = other[axis] - one[axis]
    fits = text_width(words, TEXT_PX) + 8.0 <= length
    items += _arrowed(ends[0], ends[1], inside=length > 2.6 * ARROW_PX)
    middle = ((ends[0][0] + ends[1][0]) / 2.0, (ends[0][1] + ends[1][1]) / 2.0)
    if upright:
        at = (middle[0] - (13.0 if fits else 20.0), middle[1])
        return [*items, Words(at, words, TEXT_PX, COLOUR, align="center", turn_deg=90.0)]
    if fits:
        return [*items, Words((middle[0], middle[1] + 13.0), words, TEXT_PX, COLOUR, align="center")]
    x = ends[0][0] - 2.2 * ARROW_PX - text_width(words, TEXT_PX) if before else ends[1][0] + 2.2 * ARROW_PX
    beside = (x, level - 0.35 * TEXT_PX)
    return [*items, Words(beside, words, TEXT_PX, COLOUR)]


def plain_dimension(start: Point, end: Point, words: str) -> list[Item]:
    """A dimension line straight from one point (px) to the other, words over its middle."""
    middle = ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0 + 13.0)
    return [*_arrowed(start, end, inside=True), Words(middle, words, TEXT_PX, COLOUR, align="center")]


def _extension(point: Point, tip: Point) -> list[Item]:
    """From just off the point to just past the dimension line."""
    length = math.dist(point, tip)
    if length < 8.0:
        return []
    ux, uy = (tip[0] - point[0]) / length, (tip[1] - point[1]) / length
    start, end = (point[0] + 5.0 * ux, point[1] + 5.0 * uy), (tip[0] + 6.0 * ux, tip[1] + 6.0 * uy)
    return [Trace(((*start, 0.0), (*end, 0.0)), COLOUR, 0.8)]


def _arrowed(start: Point, end: Point, inside: bool) -> list[Item]:
    """A line with an arrow at each end; where it is too short the arrows stand outside and point in."""
    length = max(1e-9, math.dist(start, end))
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    sign = 1.0 if inside else -1.0
    reach = 0.0 if inside else 1.8 * ARROW_PX
    line = (
        (start[0] - reach * ux, start[1] - reach * uy, 0.0),
        (end[0] + reach * ux, end[1] + reach * uy, 0.0),
    )
    return [
        Trace(line, COLOUR, 1.0),
        _arrow(start, (-sign * ux, -sign * uy)),
        _arrow(end, (sign * ux, sign * uy)),
    ]


def _arrow(tip: Point, along: Point) -> Area:
    x, y = tip[0] - ARROW_PX * along[0], tip[1] - ARROW_PX * along[1]
    wing = 0.28 * ARROW_PX
    left, right = (x - wing * along[1], y + wing * along[0]), (x + wing * along[1], y - wing * along[0])
    return Area(((*tip, 0.0), (*left, 0.0), (*right, 0.0)), COLOUR)


def leaders(view: View, labels: Sequence[Label], column: float, room: tuple[float, float]) -> list[Item]:
    """Labels in a column at ``column`` px, within ``room`` px from below to above where they fit.

    They stand in the order of what they point to, so that no leaders cross on the way.
    """
    ordered = sorted(labels, key=lambda label: -(view.at(label.target)[1] + label.lift))
    wished = [view.at(label.target)[1] + label.lift for label in ordered]
    tops = _stacked(wished, [label_height(label) for label in ordered], room)
    items: list[Item] = []
    for label, top in zip(ordered, tops, strict=True):
        x, y = view.at(label.target)
        knee = top - 0.3 * TEXT_PX
        line = ((x, y, 0.0), (column - 26.0, knee, 0.0), (column - 8.0, knee, 0.0))
        items += [Trace(line, COLOUR, 0.8), Area(((x - 3.0, y, 1.0), (x + 3.0, y, 1.0)), COLOUR)]
        for i, words in enumerate(label.lines):
            colour = SOFT_INK if i else COLOUR
            items.append(Words((column, top - 0.65 * TEXT_PX - LINE_PX * i), words, TEXT_PX, colour))
    return items


def label_height(label: Label) -> float:
    """What a label takes of its column, px."""
    return LINE_PX * len(label.lines) + LABEL_GAP_PX


def _stacked(wished: list[float], heights: list[float], room: tuple[float, float]) -> list[float]:
    """Upper edges from above down, near what is wished, one clear of the other."""
    tops: list[float] = []
    for i, wish in enumerate(wished):
        below = tops[-1] - heights[i - 1] if tops else room[1]
        tops.append(min(wish + 0.3 * TEXT_PX, below))
    low = room[0]
    for i in reversed(range(len(tops))):
        tops[i] = max(tops[i], low + heights[i])
        low = tops[i]
    return tops
