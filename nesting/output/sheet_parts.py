"""What the sheets of a hide share: pages with head, picture, table and foot."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from nesting.files.layout import Placement
from nesting.output.ink import Ink
from nesting.output.record import HideDrawing
from nesting.output.sheet_picture import Picture
from nesting.output.tiles import PAGES_MM, SIDE_MM
from nesting.output.wording import hide_words

ROW_MM = 5.2
LOWEST_MM, NOTE_MM = 9.0, 2.9
BAND = "#ececec"
Columns = tuple[tuple[str, float], ...]
"""Heading and left edge (mm from the margin) of each column."""


def pages(
    ink: Ink, seen: Picture, page: tuple[float, float], which: str, columns: Columns,
    rows: Sequence[tuple[str, ...]], notes: Sequence[str], lines: Callable[[], None],
) -> None:  # fmt: skip
    """The picture and as much of the table as has room below it; the rest over further pages."""
    bottom = LOWEST_MM + NOTE_MM * len(notes) + 4.0
    first = int((page[1] - 34.0 - seen.tall - 12.0 - bottom) / ROW_MM) - 1
    later = int((page[1] - 34.0 - bottom) / ROW_MM) - 1
    parts = [rows[:first], *(rows[i : i + later] for i in range(first, len(rows), later))]
    for number, part in enumerate(parts, 1):
        ink.page(page)
        head(ink, seen.drawing, page, f"{which} {number} of {len(parts)}")
        top = page[1] - 30.0
        if number == 1:
            seen.draw(ink, (SIDE_MM, top - seen.tall, page[0] - SIDE_MM, top), lines)
            top -= seen.tall + 6.0
        table(ink, part, page, top, columns)
        foot(ink, notes)
        ink.end_page()


def head(ink: Ink, drawing: HideDrawing, page: tuple[float, float], which: str) -> None:
    room = page[0] - 2 * SIDE_MM
    title = f"Where each pattern lies: {drawing.hide.name}"
    ink.text((SIDE_MM, page[1] - 15.0), title, 3.6, bold=True, room=room - PAGES_MM)
    ink.text((SIDE_MM, page[1] - 21.0), ", ".join(hide_words(drawing.hide)[1:]), 2.2, room=room)
    ink.text((page[0] - SIDE_MM, page[1] - 15.0), which, 2.6, align="right")


def table(
    ink: Ink,
    rows: Sequence[tuple[str, ...]],
    page: tuple[float, float],
    top: float,
    columns: Columns,
) -> None:
    _cells(ink, [heading for heading, _ in columns], top, columns, bold=True)
    for number, row in enumerate(rows, 1):
        y = top - ROW_MM * number
        if number % 2:
            x0, x1 = SIDE_MM - 1.0, page[0] - SIDE_MM + 1.0
            band = np.array([(x0, y - 1.7), (x1, y - 1.7), (x1, y + ROW_MM - 1.7), (x0, y + ROW_MM - 1.7)])
            ink.line(band, 0.01, BAND, closed=True, fill=BAND)
        _cells(ink, row, y, columns)


def _cells(ink: Ink, cells: Sequence[str], y: float, columns: Columns, bold: bool = False) -> None:
    edges = [left for _, left in columns]
    for cell, left, right in zip(cells, edges, [*edges[1:], edges[-1] + 30.0], strict=True):
        # A long name of a piece is set smaller rather than over its neighbour.
        ink.text((SIDE_MM + left, y), cell, 1.8, bold, room=right - left - 1.5)


def foot(ink: Ink, notes: Sequence[str]) -> None:
    for row, words in enumerate(reversed(notes)):
        ink.text((SIDE_MM, LOWEST_MM + NOTE_MM * row), words, 1.6)


def side_up(placement: Placement) -> str:
    return "turned over" if placement.pose.mirrored else "as drawn"
