"""How the picture is divided: the hides in a grid, all at one scale."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from nesting.output.record import HideDrawing
from nesting.output.strokes import Box, Stroke, box_of
from nesting.rings import Point, Points

UNSHOWN = ("check square", "fact")
"""Notes for the cutting table; the picture says the same in its own words."""
GAP_PX = 34.0
HEADING_PX = 34.0


@dataclass(frozen=True)
class View:
    """One hide in the picture: ``scale`` px per mm, ``left`` and ``bottom`` the px of the frame's zero."""

    drawing: HideDrawing
    strokes: tuple[Stroke, ...]
    scale: float
    left: float
    bottom: float
    box: Box
    remnants: tuple[shapely.Polygon, ...] = ()

    def px(self, points: Points) -> Points:
        """Points (n, 2) on the hide in mm to pixels."""
        return points * self.scale + (self.left, self.bottom)

    def at(self, point: Point) -> Point:
        """One point on the hide to pixels."""
        return point[0] * self.scale + self.left, point[1] * self.scale + self.bottom

    @property
    def heading(self) -> Point:
        """Where the hide's heading stands, px."""
        return self.box[0] * self.scale + self.left, self.box[3] * self.scale + self.bottom + 12.0


def shown(drawing: HideDrawing) -> tuple[Stroke, ...]:
    """The strokes that belong in the picture."""
    return tuple(stroke for stroke in drawing.strokes if stroke.role not in UNSHOWN)


def plan(drawings: list[HideDrawing], width: float, tallest: float) -> tuple[list[View], float]:
    """The views of all hides, for a bottom edge at 0, and the height they need (px).

    Of all numbers of columns the one that shows the leather largest wins, within ``width`` by ``tallest``.
    """
    if not drawings:
        return [], 0.0
    boxes = [box_of(shown(drawing)) for drawing in drawings]
    columns = max(range(1, len(boxes) + 1), key=lambda count: (_scale(boxes, count, width, tallest), -count))
    scale = _scale(boxes, columns, width, tallest)
    rows = [range(i, min(i + columns, len(boxes))) for i in range(0, len(boxes), columns)]
    widths, heights = _cells(boxes, columns)
    spare = width - scale * sum(widths) - GAP_PX * (columns - 1)
    views, top = [], scale * sum(heights) + len(rows) * HEADING_PX + GAP_PX * (len(rows) - 1)
    total = top
    for row, tall in zip(rows, heights, strict=True):
        top -= HEADING_PX + scale * tall
        left = spare / 2
        for column, i in enumerate(row):
            # Bottoms of a row stand on one line.
            shift = (left - scale * boxes[i][0], top - scale * boxes[i][1])
            views.append(View(drawings[i], shown(drawings[i]), scale, *shift, boxes[i]))
            left += scale * widths[column] + GAP_PX
        top -= GAP_PX
    return views, total


def _cells(boxes: list[Box], columns: int) -> tuple[list[float], list[float]]:
    """Widths of the columns and heights of the rows, mm."""
    widths = [max(b[2] - b[0] for b in boxes[i::columns]) for i in range(columns)]
    heights = [max(b[3] - b[1] for b in boxes[i : i + columns]) for i in range(0, len(boxes), columns)]
    return widths, heights


def _scale(boxes: list[Box], columns: int, width: float, tallest: float) -> float:
    widths, heights = _cells(boxes, columns)
    across = (width - GAP_PX * (columns - 1)) / sum(widths)
    up = (tallest - len(heights) * HEADING_PX - GAP_PX * (len(heights) - 1)) / sum(heights)
    return min(across, up)
