"""The sheet that gives each pattern's place from the lines of the mat under a photographed hide."""

from __future__ import annotations

from nesting.files.layout import Layout, Placement
from nesting.output.ink import Ink, text_width_mm
from nesting.output.mat import Mat
from nesting.output.pattern import reference_points
from nesting.output.record import HideDrawing
from nesting.output.sheet_parts import LOWEST_MM, NOTE_MM, ROW_MM, Columns, foot, head, side_up, table
from nesting.output.tiles import PAPER_MM, SIDE_MM, Paper
from nesting.output.wording import wrapped

COLUMNS: Columns = (
    ("piece", 0.0), ("side up", 44.0), ("A right", 66.0), ("A up", 96.0), ("B right", 126.0), ("B up", 156.0),
)  # fmt: skip


def mat_sheet(ink: Ink, layout: Layout, drawing: HideDrawing, paper: Paper, mat: Mat) -> None:
    """Points A and B of every piece in lines and millimetres; as many pages as it takes."""
    page = PAPER_MM[paper]
    words = (
        f"The mat's lines are {mat.words}. Right: lines and mm from the last upright line left of the hide; "
        "up: from the last level line below it; right and up as in the photograph. True only while the hide "
        "lies as it was photographed, or laid back with its outline on the same lines."
    )
    notes = wrapped(words, lambda text: text_width_mm(text, 1.6), page[0] - 2 * SIDE_MM)
    rows = [_row(piece.placement, layout, mat) for piece in drawing.pieces]
    room = int((page[1] - 34.0 - LOWEST_MM - NOTE_MM * len(notes) - 4.0) / ROW_MM) - 1
    parts = [rows[i : i + room] for i in range(0, len(rows), room)]
    for number, part in enumerate(parts, 1):
        ink.page(page)
        head(ink, drawing, page, f"from the mat's lines, {number} of {len(parts)}")
        table(ink, part, page, page[1] - 30.0, COLUMNS)
        foot(ink, notes)
        ink.end_page()


def _row(placement: Placement, layout: Layout, mat: Mat) -> tuple[str, ...]:
    cells = [placement.piece, side_up(placement)]
    for point in reference_points(layout.panel_by_name[placement.panel]):
        cells += [
            f"{lines} lines + {mm:.1f} mm" for lines, mm in mat.count(placement.pose.apply_point(point))
        ]
    return tuple(cells)
