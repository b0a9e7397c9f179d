"""Corner targets on paper, 1:1: a page that says how to lay them, then one sheet a page.

What is drawn is what ``nesting.capture.targets`` looks for.
"""

from __future__ import annotations

import numpy as np

from nesting.capture.targets import (
    COLUMNS,
    CROSS,
    FIELD_MM,
    LETTERS,
    MARKER_MM,
    ROWS,
    SQUARE_MM,
    black_squares,
    marker_cells,
)
from nesting.output.ink import Ink, text_width_mm
from nesting.output.tiles import PAPER_MM, SIDE_MM, Paper
from nesting.output.wording import wrapped
from nesting.rings import Point, Points
from nesting.units import INCH_MM

BLACK, SOFT = "#000000", "#555555"
UNIT = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
TOP_MM = 15.0
TITLE = "Corner targets to measure a hide by"

STEPS = (
    "Print all pages in one go at 100 % (actual size, no fitting to the page), on matt paper, one side only.",
    "Lay a steel ruler on one sheet: the chequered field should measure {0:g} mm across and {1:g} mm along, "
    "outer edge to outer edge. Write down what it does measure, to a quarter of a millimetre.",
    "Lay the hide flat on a plain ground of another colour: a table, a floor, a sheet of board. No pattern, "
    "no second piece, nothing on it that has the leather's colour.",
    "Lay at least four sheets around it, flat, any way up, a hand's breadth off the leather: one at each "
    "corner, so that the hide lies wholly within the lines from sheet to sheet. Two more beside the long "
    "sides measure better. Weigh down curled corners outside of the field. Use each letter once.",
    "Best of all: measure with a tape from the small ringed cross on one sheet to that on another far away, "
    "and do not move the sheets any more. A second distance, the other way across, guards against a slip.",
    "Photograph hide and sheets from above, all of every sheet in the picture, with the camera's full "
    "resolution, in even light without glare.",
)
COMMANDS = (
    'hidewright photo PHOTO.jpg --targets --printed "{0:g} mm x {1:g} mm" -o NAME.hide.json',
    'hidewright photo PHOTO.jpg --targets --known "A B 1240 mm" -o NAME.hide.json',
)


def targets_to_pdf(paper: Paper = "a4", count: int = 6) -> bytes:
    """The page that says how, then ``count`` sheets (4 to 11), as a PDF at 1:1; always the same bytes."""
    if not 4 <= count <= len(LETTERS):
        raise ValueError(f"from 4 to {len(LETTERS)} sheets, not {count}")
    ink = Ink(TITLE)
    page = PAPER_MM[paper]
    _how(ink, page, count)
    for sheet in range(count):
        ink.page(page)
        _sheet(ink, page, sheet, count)
        ink.end_page()
    return ink.pdf()


def field_at(page: tuple[float, float]) -> Point:
    """Where the field's lower left corner lies on a page (mm): in the middle, below the head."""
    return (page[0] - FIELD_MM[0]) / 2, page[1] - TOP_MM - FIELD_MM[1]


def _sheet(ink: Ink, page: tuple[float, float], sheet: int, count: int) -> None:
    x, y = field_at(page)
    for corner in black_squares():
        _box(ink, (x + corner[0], y + corner[1]), SQUARE_MM)
    cell = MARKER_MM / 6
    for corner, cells in marker_cells(sheet):
        for row, column in np.argwhere(cells == 0):
            _box(ink, (x + corner[0] + column * cell, y + corner[1] + (5 - row) * cell), cell)
    # The field's own edge, so that a ruler finds all four sides.
    left, right, high = x, x + FIELD_MM[0], y + FIELD_MM[1]
    ink.line(np.array([x, y]) + UNIT * np.array(FIELD_MM), 0.1, BLACK, closed=True)
    letter = LETTERS[sheet]
    ink.text((left, high + 3.0), letter, 7.5, bold=True)
    size = f"field {FIELD_MM[0]:g} mm across x {FIELD_MM[1]:g} mm along: measure it from edge to edge"
    ink.text((left + 12.0, high + 3.0), size, 2.0)
    ink.text((right, high + 3.0), f"sheet {sheet + 1} of {count}", 2.0, align="right")
    _cross(ink, (x + CROSS[0], y + CROSS[1]), letter)
    _checks(ink, page, y)


def _box(ink: Ink, at: Point, side: float) -> None:
    ink.line(np.array(at) + side * UNIT, 0.01, BLACK, closed=True, fill=BLACK)


def _cross(ink: Ink, at: Point, letter: str) -> None:
    """The cross that a tape is laid to."""
    ink.cross(at, 6.0, 0.2)
    ink.circle(at, 4.0, 0.2)
    ink.text(
        (at[0] + 9.0, at[1] - 1.0), f"{letter}: measure with a tape from this cross to another sheet's", 1.8
    )


def _checks(ink: Ink, page: tuple[float, float], low: float) -> None:
    """Lines to check the print by: 100 mm and 4 in."""
    x = (page[0] - FIELD_MM[0]) / 2
    for y, length, words in ((low - 23.0, 100.0, "100 mm"), (low - 32.0, float(4 * INCH_MM), "4 in")):
        ink.line(np.array([(x, y), (x + length, y)]), 0.25)
        for end in (x, x + length):
            ink.line(np.array([(end, y - 2.0), (end, y + 2.0)]), 0.25)
        ink.text((x + length + 3.0, y - 1.0), words, 2.0)
    ink.text(
        (x, low - 40.0), "Print at 100 %, no fitting to the page. Lay flat, free of glare.", 1.8, colour=SOFT
    )


def _how(ink: Ink, page: tuple[float, float], count: int) -> None:
    ink.page(page)
    room = page[0] - 2 * SIDE_MM
    y = page[1] - 18.0
    ink.text((SIDE_MM, y), TITLE, 3.8, bold=True)
    y -= 10.0
    for number, step in enumerate(STEPS, 1):
        words = step.format(*FIELD_MM)
        ink.text((SIDE_MM, y), f"{number}.", 2.0, bold=True)
        for line in wrapped(words, lambda text: text_width_mm(text, 2.0), room - 8.0):
            ink.text((SIDE_MM + 8.0, y), line, 2.0)
            y -= 4.2
        y -= 1.6
    y -= 1.0
    ink.text(
        (SIDE_MM, y), "Then, with what you measured by ruler or by tape (both are better than one):", 2.0
    )
    for command in COMMANDS:
        y -= 5.0
        ink.text((SIDE_MM + 8.0, y), command.format(*FIELD_MM), 1.8, bold=True)
    y -= 5.0
    caution = (
        "The doubt of the area is stated beside it. A ruler on the print leaves about 0.5 % of area, a tape "
        "over a metre less. An area from a photograph is no legal measure."
    )
    for line in wrapped(caution, lambda text: text_width_mm(text, 2.0), room):
        y -= 4.2
        ink.text((SIDE_MM, y), line, 2.0)
    _picture(ink, page, y - 18.0, count)
    ink.end_page()


HIDE = (
    (0.08, 0.1), (0.3, 0.02), (0.52, 0.09), (0.75, 0.03), (0.93, 0.12), (0.97, 0.4), (0.9, 0.62),
    (0.94, 0.85), (0.78, 0.97), (0.55, 0.86), (0.4, 0.9), (0.2, 0.98), (0.05, 0.86), (0.1, 0.6), (0.03, 0.38),
)  # fmt: skip


def _picture(ink: Ink, page: tuple[float, float], top: float, count: int) -> None:
    """A small plan of the hide with the sheets around it."""
    height = min(top - 16.0, 105.0)
    wide = 1.5 * height
    x, y = 0.5 * (page[0] - wide), top - height
    hide = np.array(HIDE) * np.array([0.56 * wide, 0.6 * height]) + np.array(
        [x + 0.22 * wide, y + 0.2 * height]
    )
    ink.line(hide, 0.4, "#6b4a2f", closed=True, fill="#d9bf9f")
    ink.text((x + 0.5 * wide, y + 0.5 * height), "hide", 2.6, align="centre", colour="#6b4a2f")
    size = np.array([0.105 * wide, 0.2 * height])
    places = [(0.1, 0.14), (0.9, 0.14), (0.1, 0.86), (0.9, 0.86), (0.5, 0.0), (0.5, 0.98)]
    middles = [np.array([x + u * wide, y + v * height]) for u, v in places[: min(count, 6)]]
    ink.line(np.array([middles[0], middles[1]]), 0.2, SOFT, dash=(1.5, 1.0))
    ink.text((x + 0.2 * wide, y + 0.155 * height), "tape from A to B", 1.8, colour=SOFT)
    for letter, middle in zip(LETTERS, middles, strict=False):
        low = middle - 0.5 * size
        ink.line(low + UNIT * size, 0.25, BLACK, closed=True, fill="#ffffff")
        _tiny_field(ink, low + size * np.array([0.12, 0.26]), size * np.array([0.76, 0.64]))
        ink.text((float(middle[0]), float(low[1]) + 0.12 * size[1]), letter, 1.7, bold=True, align="centre")


def _tiny_field(ink: Ink, low: Points, size: Points) -> None:
    step = size / np.array([COLUMNS, ROWS])
    for corner in black_squares():
        ink.line(low + (corner / SQUARE_MM + UNIT) * step, 0.01, BLACK, closed=True, fill=BLACK)


__all__ = ["field_at", "targets_to_pdf"]
