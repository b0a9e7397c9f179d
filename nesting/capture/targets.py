"""Sheets of printed corner targets: what is on them, and finding them in a photograph.

A sheet carries a field of 5 by 6 squares of 36 mm; each white square holds a marker, so that every corner
where two black squares meet is known by its number and placed to a small part of a pixel (the combination of
chessboard and square markers: Garrido-Jurado et al., Pattern Recognition 47, 2014, and OpenCV's aruco
module). The field's frame is in mm: origin in its lower left corner, x to the right, y up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]

COLUMNS, ROWS = 5, 6
SQUARE_MM, MARKER_MM = 36.0, 26.0
FIELD_MM = (COLUMNS * SQUARE_MM, ROWS * SQUARE_MM)
PER_SHEET = COLUMNS * ROWS // 2
LETTERS = "ABCDEFGHIJK"
CROSS = (FIELD_MM[0] / 2, -11.0)
"""The cross from which distances between sheets are measured, in the field's frame."""
PAPER_LOW, PAPER_HIGH = (-20.0, -68.0), (200.0, 236.0)
"""How far the paper may reach around the field, either size, in the field's frame."""
LEAST_SHEETS = 4
LEAST_CORNERS = 6


@dataclass(frozen=True)
class Sheet:
    """A sheet as seen: ``labels`` (n, 2) mm in the field's frame, ``points`` (n, 2) px."""

    letter: str
    labels: Points
    points: Points


def marker_cells(sheet: int) -> list[tuple[Points, NDArray[np.uint8]]]:
    """Lower left corner (2,) mm of each marker on sheet number ``sheet``, and its cells.

    Cells (6, 6) hold 1 where the paper stays white, row 0 on top.
    """
    found = []
    number = PER_SHEET * sheet
    inset = 0.5 * (SQUARE_MM - MARKER_MM)
    for row in range(ROWS):
        for column in range(COLUMNS):
            if (row + column) % 2:
                corner = np.array([column, ROWS - 1 - row]) * SQUARE_MM + inset
                found.append((corner, cv.marker_cells(number)))
                number += 1
    return found


def black_squares() -> list[Points]:
    """Lower left corners (2,) mm of the field's black squares; the one on the upper left is black."""
    return [
        np.array([column, ROWS - 1 - row]) * SQUARE_MM
        for row in range(ROWS)
        for column in range(COLUMNS)
        if not (row + column) % 2
    ]


def find_sheets(image: NDArray[np.uint8]) -> list[Sheet]:
    """The sheets in a photograph (rows, columns, 3), by letter.

    Raises CaptureRefused where there are too few to measure by.
    """
    numbers, outlines = cv.find_markers(image)
    grey = cv.grey(image)
    sheets = []
    for k, letter in enumerate(LETTERS):
        mine = numbers // PER_SHEET == k
        sheet = _sheet(letter, numbers[mine] % PER_SHEET, outlines[mine], grey)
        if sheet is not None:
            sheets.append(sheet)
    if len(sheets) < LEAST_SHEETS:
        seen = ", ".join(sheet.letter for sheet in sheets) or "none"
        raise CaptureRefused(
            f"at least {LEAST_SHEETS} target sheets must be seen around the hide, and these were: {seen}; "
            "lay one at each corner, flat, without glare, all in the picture; go closer if they look small"
        )
    return sheets


def _sheet(
    letter: str, numbers: NDArray[np.int64], outlines: Points, grey: NDArray[np.float32]
) -> Sheet | None:
    """The corners of one sheet, from its markers: these say where to look, the corners are then measured."""
    if len(numbers) < 2:
        return None
    lower_left = np.array([corner for corner, _ in marker_cells(0)])
    clockwise = np.array([[0, 1], [1, 1], [1, 0], [0, 0]]) * MARKER_MM
    source = (lower_left[numbers][:, None, :] + clockwise).reshape(-1, 2)
    size = float(np.median(np.hypot(*np.moveaxis(outlines - np.roll(outlines, 1, axis=1), -1, 0))))
    frame = cv.robust_homography(source, outlines.reshape(-1, 2), 0.08 * size)
    if frame is None:
        return None
    column, row = np.meshgrid(np.arange(1.0, COLUMNS), np.arange(1.0, ROWS))
    labels = np.column_stack((column.ravel(), row.ravel())) * SQUARE_MM
    at = _through(frame, labels)
    side = size * SQUARE_MM / MARKER_MM
    half = int(np.clip(0.22 * side, 2, 12))
    inside = (at > half + 2).all(axis=1) & (at < np.array(grey.shape[::-1]) - half - 3).all(axis=1)
    labels, at = labels[inside], at[inside]
    if len(labels) < LEAST_CORNERS:
        return None
    points = cv.refine_corners(grey, at, half)
    good = (np.hypot(*(points - at).T) < 0.15 * side) & _chequered(grey, frame, labels, points - at)
    labels, points = labels[good], points[good]
    if len(labels) < LEAST_CORNERS or np.linalg.matrix_rank(labels - labels.mean(axis=0)) < 2:
        return None
    return Sheet(letter, labels, points)


def _through(frame: Points, labels: Points) -> Points:
    q = np.column_stack((labels, np.ones(len(labels)))) @ frame.T
    return np.asarray(q[:, :2] / q[:, 2:], np.float64)


def _chequered(grey: NDArray[np.float32], frame: Points, labels: Points, shift: Points) -> NDArray[np.bool_]:
    """Whether black lies on one diagonal beside each corner and white on the other: a covered one is none."""
    reach = 0.55 * (SQUARE_MM - MARKER_MM) / 2
    around = reach * np.array([[1, 1], [-1, -1], [1, -1], [-1, 1]])
    at = _through(frame, (labels[:, None, :] + around).reshape(-1, 2)).reshape(-1, 4, 2) + shift[:, None, :]
    seen = cv.sample(grey, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32))
    # The square to the lower left of the upper left one's lower right corner is white: it counts squares.
    black_rising = np.round(labels.sum(axis=1) / SQUARE_MM + ROWS + 1).astype(int) % 2 == 0
    rising, falling = seen[:, :2], seen[:, 2:]
    black = np.where(black_rising[:, None], rising, falling)
    white = np.where(black_rising[:, None], falling, rising)
    return np.asarray(white.min(axis=1) - black.max(axis=1) > 25.0, np.bool_)
