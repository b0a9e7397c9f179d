"""A drafted panel with its dimensions: what a person draws the pattern from, or checks it against."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nesting.drafting.callouts import inside, labels
from nesting.drafting.dimensions import (
    FIRST_TIER_PX,
    TEXT_PX,
    TIER_PX,
    Edge,
    Label,
    View,
    dimension,
    label_height,
    leaders,
)
from nesting.drafting.draft import Draft
from nesting.drafting.sketch import Area, Item, Sketch, Trace, Words, to_png, to_svg
from nesting.drafting.spans import Tier, spans
from nesting.drafting.words import figures, small_print, what_it_is
from nesting.errors import InputError
from nesting.output import palette
from nesting.output.pen import text_width
from nesting.output.strokes import ring_box
from nesting.output.wording import wrapped
from nesting.rings import Point, Pose

WIDEST_PX, TALLEST_PX, CLOSEST = 1000.0, 760.0, 12.0
MARGIN_PX, TITLE_PX, LEAST_WIDTH_PX = 44.0, 84.0, 1000.0
BODY_PX, SMALL_PX = 17.0, 13.0
LIES = 2.0
"""A panel so many times as high as wide is shown lying, its top to the right."""
_LYING: dict[Edge, Edge] = {"left": "top", "right": "bottom", "top": "right", "bottom": "left"}


def picture(one: Draft, name: Path) -> bytes | str:
    """The picture as PNG or SVG, by the ending of ``name``. Raises InputError on another ending."""
    sketch = sketched(one)
    match name.suffix.lower():
        case ".png":
            return to_png(sketch)
        case ".svg":
            return to_svg(sketch)
        case _:
            raise InputError(f"{name}: a picture is drawn as PNG or SVG; let the name end in .png or .svg")


@dataclass(frozen=True)
class _Frame:
    """Where things stand, px: the panel from ``low`` to ``high``, dimensions by edge, labels at ``column``.

    ``spare`` is what the labels need below the panel.
    """

    view: View
    low: Point
    high: Point
    tiers: dict[Edge, list[Tier]]
    labels: list[Label]
    column: float
    spare: float
    width: int
    height: int
    foot: list[tuple[str, float, str]]


def sketched(one: Draft) -> Sketch:
    """The dimensioned panel as a sketch."""
    frame = _frame(one)
    room = (frame.low[1] - max(TIER_PX, frame.spare), frame.high[1] + 0.5 * TIER_PX)
    drawn = [*_dimensions(frame), *inside(one, frame.view)]
    drawn += leaders(frame.view, frame.labels, frame.column, room)
    # Words come last, so that no line runs through them.
    words = [item for item in drawn if isinstance(item, Words)]
    lines = [item for item in drawn if not isinstance(item, Words)]
    items = (*_heading(one, frame), *_panel(one, frame.view), *lines, *words, *_small(frame.foot))
    return Sketch(f"{one.panel.name}: {what_it_is(one)}", frame.width, frame.height, items)


def _dimensions(frame: _Frame) -> list[Item]:
    items: list[Item] = []
    for edge, tiers in frame.tiers.items():
        for number, span in ((number, span) for number, tier in enumerate(tiers) for span in tier):
            start, end = frame.view.at(span.start), frame.view.at(span.end)
            # The labels stand to the right of the right half.
            before = start[0] + end[0] > frame.low[0] + frame.high[0]
            items += dimension(start, end, edge, _level(frame, edge, number), span.words, before)
    return items


def _small(foot: list[tuple[str, float, str]]) -> list[Item]:
    y = sum(1.5 * size for _, size, _ in foot) + MARGIN_PX
    items: list[Item] = []
    for words, size, colour in foot:
        y -= 1.5 * size
        items.append(Words((MARGIN_PX, y), words, size, colour))
    return items


def _frame(one: Draft) -> _Frame:
    low_x, low_y, high_x, high_y = ring_box(one.panel.outline)
    wide, tall = high_x - low_x, high_y - low_y
    lying = tall > LIES * wide
    tiers = {_LYING[edge] if lying else edge: found for edge, found in spans(one).items()}
    beside = labels(one)
    across, up = (tall, wide) if lying else (wide, tall)
    scale = min(WIDEST_PX / across, TALLEST_PX / up, CLOSEST)
    room = {
        edge: 20.0 + (FIRST_TIER_PX + TIER_PX * len(found) if found else 0.0) for edge, found in tiers.items()
    }
    column_width = max((text_width(line, TEXT_PX) for label in beside for line in label.lines), default=0.0)
    left = MARGIN_PX + room["left"]
    column = left + scale * across + room["right"] + 60.0
    width = max(LEAST_WIDTH_PX, column + column_width + MARGIN_PX)
    foot = _foot(one, width - 2 * MARGIN_PX)
    bottom = MARGIN_PX + sum(1.5 * size for _, size, _ in foot) + 24.0 + room["bottom"]
    # A low panel with many labels needs their height, not its own.
    spare = max(0.0, sum(map(label_height, beside)) - scale * up)
    bottom += max(0.0, spare - room["bottom"])
    height = bottom + scale * up + room["top"] + TITLE_PX
    pose = Pose(False, -90.0 if lying else 0.0, (0.0, 0.0))
    corner = (low_y, -high_x) if lying else (low_x, low_y)
    view = View(pose, scale, (left - scale * corner[0], bottom - scale * corner[1]))
    high = (left + scale * across, bottom + scale * up)
    return _Frame(view, (left, bottom), high, tiers, beside, column, spare, round(width), round(height), foot)


def _level(frame: _Frame, edge: Edge, tier: int) -> float:
    """Where a dimension line of a tier stands, px."""
    off = FIRST_TIER_PX + TIER_PX * tier
    match edge:
        case "left":
            return frame.low[0] - off
        case "right":
            return frame.high[0] + off
        case "top":
            return frame.high[1] + off
        case "bottom":
            return frame.low[1] - off


def _foot(one: Draft, room: float) -> list[tuple[str, float, str]]:
    """Text, size (px) and colour of each line under the picture."""
    body = figures(one)
    widest = max(text_width(line, BODY_PX) for line in body)
    size = max(SMALL_PX, min(BODY_PX, BODY_PX * room / widest))
    lines = [part for line in body for part in wrapped(line, lambda w: text_width(w, size), room)]
    small = wrapped(" ".join(small_print(one)), lambda w: text_width(w, SMALL_PX), room)
    return [
        *((line, size, palette.INK) for line in lines),
        ("", 8.0, palette.INK),
        *((line, SMALL_PX, palette.SOFT_INK) for line in small),
    ]


def _heading(one: Draft, frame: _Frame) -> list[Item]:
    y = frame.height - 48.0
    size = min(26.0, 26.0 * 0.5 * frame.width / text_width(one.panel.name, 26.0, "bold"))
    after = MARGIN_PX + text_width(one.panel.name, size, "bold") + 18.0
    return [
        Words((MARGIN_PX, y), one.panel.name, size, bold=True),
        Words((after, y), what_it_is(one), 18.0, palette.SOFT_INK),
    ]


def _panel(one: Draft, view: View) -> list[Item]:
    """The panel itself, grain side up, with its centre line."""
    panel = one.panel
    items: list[Item] = [Area(view.ring(panel.outline), palette.SINGLE_TINT, palette.INK, 2.4)]
    low, high = -9.0 / view.scale, one.plan.height + 9.0 / view.scale
    centre = ((0.0, low, 0.0), (0.0, high, 0.0))
    items.append(Trace(view.ring(centre), palette.SOFT_INK, 1.0, (14.0, 4.0, 2.0, 4.0)))
    items += [Trace(view.ring(line.points), palette.GROOVE, 1.6) for line in panel.lines]
    for punch in panel.punches:
        x, y = view.at(punch.at)
        r = view.scale * punch.diameter / 2.0
        items.append(Area(((x - r, y, 1.0), (x + r, y, 1.0)), palette.PAPER, palette.INK, 1.6))
    for mark in panel.marks:
        x, y = np.array(view.at(mark))
        for dx, dy in ((6.0, 0.0), (0.0, 6.0)):
            items.append(Trace(((x - dx, y - dy, 0.0), (x + dx, y + dy, 0.0)), palette.INK, 1.4))
    return items
