"""The sheet that says where each pattern lies on a hide: a picture to scale and a table to measure by."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from nesting.files.layout import Layout, Placement
from nesting.judge.cautions import cautions
from nesting.output.ink import Ink, text_width_mm
from nesting.output.mat import Mat
from nesting.output.mat_sheet import mat_sheet
from nesting.output.measure import Baseline, baseline
from nesting.output.pattern import reference_points
from nesting.output.record import HideDrawing
from nesting.output.sheet_parts import Columns, pages, side_up
from nesting.output.sheet_picture import Picture, picture
from nesting.output.tiles import PAPER_MM, SIDE_MM, Paper
from nesting.output.wording import sentence, wrapped
from nesting.rings import Pose
from nesting.units import format_inches

COLUMNS: Columns = (
    ("piece", 0.0), ("side up", 44.0), ("A along, mm (in)", 66.0), ("A off", 98.0),
    ("B along", 126.0), ("B off", 156.0),
)  # fmt: skip
"""Heading and left edge (mm from the margin) of each column."""


def placing_sheet(
    ink: Ink, layout: Layout, drawing: HideDrawing, paper: Paper, mat: Mat | None = None
) -> None:
    """One hide: picture and table; the table runs on over further pages where it must.

    With the ``mat`` that the hide was photographed on, the same places counted from the mat's lines follow.
    """
    page = PAPER_MM[paper]
    line = baseline(drawing.hide)
    notes = _notes(layout, drawing, line, page[0] - 2 * SIDE_MM)
    rows = [_row(piece.placement, layout, line) for piece in drawing.pieces]
    seen = picture(layout, drawing, _facing(line), page[0] - 2 * SIDE_MM)
    pages(ink, seen, page, "sheet", COLUMNS, rows, notes, lambda: _base(ink, seen, line))
    if mat is not None:
        mat_sheet(ink, layout, drawing, paper, mat)


def _row(placement: Placement, layout: Layout, line: Baseline) -> tuple[str, ...]:
    points = reference_points(layout.panel_by_name[placement.panel])
    cells = [placement.piece, side_up(placement)]
    for point in points:
        cells += [
            f"{mm:.1f} ({format_inches(mm).removesuffix(' in')})"
            for mm in line.measure(placement.pose.apply_point(point))
        ]
    return tuple(cells)


def _facing(line: Baseline) -> Pose:
    """The hide turned so that its base line lies at the bottom, as a person stands before it."""
    return Pose(False, -math.degrees(math.atan2(line.along[1], line.along[0])), (0.0, 0.0))


def _base(ink: Ink, seen: Picture, line: Baseline) -> None:
    """The line to measure from, its zero and its two directions, just outside the leather."""
    zero, end = np.array(seen.pose.apply_point(line.zero)), np.array(seen.pose.apply_point(line.end))
    down = np.array((0.0, -2.0 / seen.scale))
    ink.line(np.array([zero, end]) + down, 1.0, "#000000" if line.trued else "#888888")
    words = "straight edge" if line.trued else "rule laid against the hide"
    ink.text(tuple((zero + end) / 2 + 2.6 * down), words, 2.0, align="centre")
    ink.text(tuple(zero + 2.6 * down), "0", 2.6, bold=True, align="centre")


def _notes(layout: Layout, drawing: HideDrawing, line: Baseline, room: float) -> list[str]:
    """How to measure, and the cautions that concern this hide."""
    where = "the straight edge" if line.trued else "a rule laid against the hide (it has no straight edge)"
    how = (
        f"Along: from the end marked 0 along {where} (minus: before it). Off: square to it, into the "
        "leather. A and B stand on the paper patterns."
    )
    this = replace(layout, hides=tuple(laid for laid in layout.hides if laid.hide == drawing.hide))
    lines = [how, *(sentence(words) for words in cautions(this))]
    return [part for words in lines for part in wrapped(words, lambda text: text_width_mm(text, 1.6), room)]
