"""A drawing cut into pages at 1:1, with strips that overlap and marks to join them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nesting.output.strokes import Box
from nesting.rings import Point

Paper = Literal["a4", "letter"]
PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Upright width and height: ISO 216 A4, and 8 1/2 by 11 in."""
OVERLAP_MM = 15.0
SIDE_MM = 12.0
"""Left free at the sides: more than common printers cannot reach."""
PAGES_MM = 32.0
"""Room beside a title for the words that count the pages."""
HEAD_MM = 20.0
FOOT_MM = 32.0


@dataclass(frozen=True)
class Tile:
    """One page: ``window`` is the part of the drawing that it shows, in the drawing's mm."""

    column: int
    row: int
    window: Box


@dataclass(frozen=True)
class Tiling:
    """Pages of ``page`` mm (width, height) in ``columns`` by ``rows``, numbered by row from the top left."""

    page: tuple[float, float]
    columns: int
    rows: int
    tiles: tuple[Tile, ...]

    def number(self, tile: Tile) -> int:
        """The page's number among these tiles, from 1."""
        return self.tiles.index(tile) + 1

    def joints(self, tile: Tile) -> list[tuple[str, Point]]:
        """Name and place (drawing's mm) of a tile's joining marks; both pages of a joint show the same."""
        found = []
        for other in self.tiles:
            steps = (abs(other.column - tile.column), abs(other.row - tile.row))
            if sum(steps) == 1:
                first, second = sorted((self.number(tile), self.number(other)))
                for letter, at in zip("ab", _places(tile.window, other.window, bool(steps[0])), strict=True):
                    found.append((f"{first}-{second}{letter}", at))
        return found


def _places(one: Box, other: Box, beside: bool) -> tuple[Point, Point]:
    """Two places on the middle of the strip that both windows show."""
    low_x, low_y = max(one[0], other[0]), max(one[1], other[1])
    high_x, high_y = min(one[2], other[2]), min(one[3], other[3])
    if beside:
        x, rise = (low_x + high_x) / 2, high_y - low_y
        return (x, low_y + 0.2 * rise), (x, low_y + 0.8 * rise)
    y, run = (low_y + high_y) / 2, high_x - low_x
    return (low_x + 0.2 * run, y), (low_x + 0.8 * run, y)


def tile(box: Box, paper: Paper) -> Tiling:
    """The fewest pages that show ``box`` (mm) at 1:1, upright or lying; upright when that is no worse."""
    upright = PAPER_MM[paper]
    choices = [_tiling(box, page) for page in (upright, upright[::-1])]
    return min(choices, key=lambda choice: len(choice.tiles))


def _tiling(box: Box, page: tuple[float, float]) -> Tiling:
    room = (page[0] - 2 * SIDE_MM, page[1] - HEAD_MM - FOOT_MM)
    columns = _count(box[2] - box[0], room[0])
    rows = _count(box[3] - box[1], room[1])
    # The drawing lies in the middle of all windows together.
    left = (box[0] + box[2] - _span(columns, room[0])) / 2
    top = (box[1] + box[3] + _span(rows, room[1])) / 2
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x, y = left + column * (room[0] - OVERLAP_MM), top - row * (room[1] - OVERLAP_MM)
            tiles.append(Tile(column, row, (x, y - room[1], x + room[0], y)))
    return Tiling(page, columns, rows, tuple(tiles))


def _count(length: float, room: float) -> int:
    return max(1, math.ceil((length - OVERLAP_MM) / (room - OVERLAP_MM) - 1e-9))


def _span(count: int, room: float) -> float:
    return count * room - (count - 1) * OVERLAP_MM
