"""The sheet that gives each pattern's place from the lines of the mat under a photographed hide."""

from __future__ import annotations

import numpy as np

from nesting.files.layout import Layout, Placement
from nesting.output.ink import Ink, text_width_mm
from nesting.output.mat import Mat
from nesting.output.pattern import reference_points
from nesting.output.record import HideDrawing
from nesting.output.sheet_parts import Columns, pages, side_up
from nesting.output.sheet_picture import Picture, picture
from nesting.output.tiles import PAPER_MM, SIDE_MM, Paper
from nesting.output.wording import wrapped
from nesting.rings import Pose

COLUMNS: Columns = (
    ("piece", 0.0), ("side up", 44.0), ("A right", 66.0), ("A up", 96.0), ("B right", 126.0), ("B up", 156.0),
)  # fmt: skip
NUMBERED_MM = 7.0
"""Numbered lines stand no closer than this on paper."""
SOFT = "#a0a0a0"


def mat_sheet(ink: Ink, layout: Layout, drawing: HideDrawing, paper: Paper, mat: Mat) -> None:
    """Picture with the mat's lines, and A and B of every piece in lines and mm; as many pages as it takes."""
    page = PAPER_MM[paper]
    room = page[0] - 2 * SIDE_MM
    words = (
        f"The mat's lines are {mat.words}. Right: lines and mm from the last upright line left of the hide; "
        "up: from the last level line below it; right and up as in the photograph. True only while the hide "
        "lies as it was photographed, or laid back with its outline on the same lines."
    )
    notes = wrapped(words, lambda text: text_width_mm(text, 1.6), room)
    rows = [_row(piece.placement, layout, mat) for piece in drawing.pieces]
    seen = picture(layout, drawing, Pose(False, 0.0, (0.0, 0.0)), room - 10.0)
    pages(ink, seen, page, "from the mat's lines,", COLUMNS, rows, notes, lambda: _lines(ink, seen, mat))


def _row(placement: Placement, layout: Layout, mat: Mat) -> tuple[str, ...]:
    cells = [placement.piece, side_up(placement)]
    for point in reference_points(layout.panel_by_name[placement.panel]):
        cells += [
            f"{lines} lines + {mm:.1f} mm" for lines, mm in mat.count(placement.pose.apply_point(point))
        ]
    return tuple(cells)


def _lines(ink: Ink, seen: Picture, mat: Mat) -> None:
    """The mat's lines across the hide, each numbered to the left or below."""
    box = np.array([seen.outline.min(axis=0), seen.outline.max(axis=0)])
    beyond = 2.0 / seen.scale
    for axis, pitch in enumerate(mat.pitches):
        every = next(
            n for n in (1, 2, 5, 10, 20, 50, 100) if n * pitch * seen.scale >= NUMBERED_MM or n == 100
        )
        last = int((box[1, axis] - mat.line(axis, 0)) / pitch) + 1
        low, high = box[0, 1 - axis] - beyond, box[1, 1 - axis] + beyond
        for number in range(0, last + 1, every):
            place = mat.line(axis, number)
            ends = np.array([(low, place), (high, place)])
            ink.line(ends if axis else ends[:, ::-1], 0.12, SOFT, dash=(1.2, 0.8))
            at = (low - beyond, place) if axis else (place, low - beyond)
            ink.text(at, str(number), 1.5, align="centre")
