"""The sheet that says where each pattern lies on a hide: a picture to scale and a table to measure by."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from nesting.files.layout import Layout, Placement
from nesting.judge.cautions import cautions
from nesting.output.ink import Ink, text_width_mm
from nesting.output.labels import upright
from nesting.output.mat import Mat
from nesting.output.mat_sheet import mat_sheet
from nesting.output.measure import Baseline, baseline
from nesting.output.palette import FLAW_LOOKS
from nesting.output.pattern import reference_points
from nesting.output.picture_hide import hatch, on_leather
from nesting.output.record import HideDrawing, PlacedPiece
from nesting.output.sheet_parts import LOWEST_MM, NOTE_MM, ROW_MM, Columns, foot, head, side_up, table
from nesting.output.strokes import Box, Loop
from nesting.output.tiles import PAPER_MM, SIDE_MM, Paper
from nesting.output.wording import sentence, wrapped
from nesting.rings import Point, Points, Pose, flatten
from nesting.units import format_inches

EDGE_MM = 14.0
"""Above and below the hide in the picture; the base line and its name stand below."""
TALLEST_MM = 118.0
SMALL_MM = 10.0
"""Pieces smaller than this on the sheet have no room for letters beside their points."""
PIECE_FILL = "#ececec"
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
    bottom = LOWEST_MM + NOTE_MM * len(notes) + 4.0
    rows = [_row(piece.placement, layout, line) for piece in drawing.pieces]
    tall = min(TALLEST_MM, _scale(drawing, line, page[0] - 2 * SIDE_MM) * _turned(drawing, line)[1] + EDGE_MM)
    first_room = page[1] - 34.0 - tall - 12.0 - bottom
    first = int(first_room / ROW_MM) - 1
    later = int((page[1] - 34.0 - bottom) / ROW_MM) - 1
    parts = [rows[:first], *(rows[i : i + later] for i in range(first, len(rows), later))]
    for number, part in enumerate(parts, 1):
        ink.page(page)
        head(ink, drawing, page, f"sheet {number} of {len(parts)}")
        top = page[1] - 30.0
        if number == 1:
            _picture(ink, layout, drawing, line, (SIDE_MM, top - tall, page[0] - SIDE_MM, top))
            top -= tall + 6.0
        table(ink, part, page, top, COLUMNS)
        foot(ink, notes)
        ink.end_page()
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


def _picture(ink: Ink, layout: Layout, drawing: HideDrawing, line: Baseline, frame: Box) -> None:
    """The hide turned so that its base line lies at the bottom, as a person stands before it."""
    pose = _facing(line)
    outline = pose.apply(flatten(drawing.hide.outline, 0.5))
    scale = _scale(drawing, line, frame[2] - frame[0])
    low, high = outline.min(axis=0), outline.max(axis=0)
    left = (low[0] + high[0]) / 2 - (frame[2] - frame[0]) / 2 / scale
    ink.window(frame, (float(left), float(low[1] - (EDGE_MM - 4.0) / scale)), scale)
    ink.line(outline, 0.4, closed=True)
    for piece in drawing.pieces:
        ink.line(pose.apply(flatten(piece.outline, 0.2)), 0.25, closed=True, fill=PIECE_FILL)
        for ring in piece.cutouts:
            ink.line(pose.apply(flatten(ring, 0.2)), 0.2, closed=True, fill="#ffffff")
    for stroke in drawing.strokes:
        if isinstance(stroke, Loop) and stroke.role.startswith("flaw "):
            for zone in on_leather(pose.apply(flatten(stroke.ring, 0.5)), shapely.Polygon(outline).buffer(0)):
                _flaw(ink, zone, stroke.role.removeprefix("flaw "), scale)
    _base(ink, pose, line, scale)
    for piece in drawing.pieces:
        _names(ink, pose, piece, layout, scale)
    ink.end_window()


def _facing(line: Baseline) -> Pose:
    return Pose(False, -math.degrees(math.atan2(line.along[1], line.along[0])), (0.0, 0.0))


def _turned(drawing: HideDrawing, line: Baseline) -> Point:
    """Width and height of the hide as it is shown, in its own mm."""
    outline = _facing(line).apply(flatten(drawing.hide.outline, 0.5))
    return float(np.ptp(outline[:, 0])), float(np.ptp(outline[:, 1]))


def _scale(drawing: HideDrawing, line: Baseline, room: float) -> float:
    width, height = _turned(drawing, line)
    return float(min((room - 8.0) / width, (TALLEST_MM - EDGE_MM) / height))


def _flaw(ink: Ink, outline: Points, severity: str, scale: float) -> None:
    angles = next(look.angles_deg for name, look in FLAW_LOOKS.items() if name == severity)
    for angle in angles:
        for part in hatch(outline, angle, 1.4 / scale):
            ink.line(part, 0.12)
    ink.line(outline, 0.25, closed=True)


def _base(ink: Ink, pose: Pose, line: Baseline, scale: float) -> None:
    """The line to measure from, its zero and its two directions, just outside the leather."""
    zero, end = np.array(pose.apply_point(line.zero)), np.array(pose.apply_point(line.end))
    down = np.array((0.0, -2.0 / scale))
    ink.line(np.array([zero, end]) + down, 1.0, "#000000" if line.trued else "#888888")
    words = "straight edge" if line.trued else "rule laid against the hide"
    ink.text(tuple((zero + end) / 2 + 2.6 * down), words, 2.0, align="centre")
    ink.text(tuple(zero + 2.6 * down), "0", 2.6, bold=True, align="centre")


def _names(ink: Ink, pose: Pose, piece: PlacedPiece, layout: Layout, scale: float) -> None:
    label = piece.label
    at = pose.apply_point(label.at)
    panel = layout.panel_by_name[piece.placement.panel]
    for name, point in zip("AB", reference_points(panel), strict=True):
        spot = np.array(pose.apply_point(piece.placement.pose.apply_point(point)))
        ink.circle(tuple(spot), 0.5 / scale, 0.2)
        inward = np.array(at) - spot
        step = inward / max(1e-9, float(np.hypot(*inward))) * 2.2 / scale
        if scale * label.width > SMALL_MM:
            ink.text(tuple(spot + step), name, 1.3, align="centre")
    turn = upright(label.rotation_deg + pose.rotation_deg)
    height = min(2.6, 0.4 * scale * label.height, 0.8 * scale * label.width / (0.85 * len(label.short)))
    ink.text(at, label.short, max(1.2, height), bold=True, align="centre", turn_deg=turn)


def _notes(layout: Layout, drawing: HideDrawing, line: Baseline, room: float) -> list[str]:
    """How to measure, and the cautions that concern this hide."""
    where = "the straight edge" if line.trued else "a rule laid against the hide (it has no straight edge)"
    how = (
        f"Along: from the end marked 0 along {where}. Off: square to it, into the leather. "
        "A and B stand on the paper patterns."
    )
    this = replace(layout, hides=tuple(laid for laid in layout.hides if laid.hide == drawing.hide))
    lines = [how, *(sentence(words) for words in cautions(this))]
    return [part for words in lines for part in wrapped(words, lambda text: text_width_mm(text, 1.6), room)]
