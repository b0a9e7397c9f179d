"""A layout recorded once as neutral strokes; every output format replays this."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.panel import Panel
from nesting.output.kerf import compensated
from nesting.output.labels import Label, label_of
from nesting.output.notes import hide_notes
from nesting.output.shared import COINCIDE_MM, once_only
from nesting.output.strokes import Box, Circle, Dot, Loop, Path, Stroke, Text, box_of, moved, shifted
from nesting.rings import Point, Pose, Ring

SIDE_GAP_MM = 200.0
"""Between hides that share one drawing."""


@dataclass(frozen=True)
class PlacedPiece:
    """A piece as it lies on the hide: whole rings, for fills and labels."""

    placement: Placement
    outline: Ring
    cutouts: tuple[Ring, ...]
    label: Label


@dataclass(frozen=True)
class HideDrawing:
    """One hide: ``strokes`` in the order of work, ``pieces`` in the layout's order, mm, y up.

    The strokes are in the hide's own frame, as the layout has it.
    """

    hide: Hide
    strokes: tuple[Stroke, ...]
    pieces: tuple[PlacedPiece, ...]

    @property
    def box(self) -> Box:
        """Extent of all strokes, mm."""
        return box_of(self.strokes)


def record(layout: Layout, kerf_compensated: bool = False) -> list[HideDrawing]:
    """The layout's hides as strokes, in this order: notes, marks, lines, punches, cut-outs, outlines.

    A tool that follows the order does everything inside a piece before the piece comes loose. No cut is
    drawn twice: see :mod:`nesting.output.shared`. Cuts are true size, or moved into the waste by half the
    kerf (see :mod:`nesting.output.kerf`); a note says which. Raises InputError where a kerf is to be
    compensated and none is stated, or a hole is too narrow for it.
    """
    if kerf_compensated and layout.cutting.kerf_mm <= 0:
        raise InputError("the layout states no kerf to compensate; lay the order out with its kerf first")
    return [_record_hide(laid, layout, kerf_compensated) for laid in layout.hides]


def _record_hide(laid: LaidHide, layout: Layout, kerf_compensated: bool) -> HideDrawing:
    panels = layout.panel_by_name
    pieces = tuple(_placed(placement, panels[placement.panel]) for placement in laid.placements)
    strokes = hide_notes(laid.hide, layout.cutting, kerf_compensated)
    strokes += [_label_text(piece) for piece in pieces]
    for stage in (_marks, _lines, _punches, _cutouts):
        for placement in laid.placements:
            strokes += stage(placement, panels[placement.panel])
    outlines = [Loop("cut", "outline", piece.outline, piece.placement.piece) for piece in pieces]
    kerf = layout.cutting.kerf_mm
    if kerf_compensated:
        strokes = [compensated(stroke, kerf) for stroke in strokes]
        outlines = [loop for loop in (compensated(loop, kerf) for loop in outlines) if isinstance(loop, Loop)]
    # Pieces that keep a gap between their cuts have nothing to share.
    between = layout.cutting.gap_mm + (0.0 if kerf_compensated else kerf)
    strokes += once_only(outlines) if between <= COINCIDE_MM and outlines else outlines
    return HideDrawing(laid.hide, tuple(strokes), pieces)


def record_panel(panel: Panel) -> tuple[PlacedPiece, tuple[Stroke, ...]]:
    """A panel in its own frame: its rings and label, and its strokes without notes in the order of work."""
    placement = Placement(panel.name, panel.name, Pose(False, 0.0, (0.0, 0.0)))
    piece = _placed(placement, panel)
    strokes: list[Stroke] = []
    for stage in (_marks, _lines, _punches, _cutouts):
        strokes += stage(placement, panel)
    return piece, (*strokes, Loop("cut", "outline", piece.outline, panel.name))


def _placed(placement: Placement, panel: Panel) -> PlacedPiece:
    outline = placement.pose.apply_ring(panel.outline)
    cutouts = tuple(placement.pose.apply_ring(ring) for ring in panel.cutouts)
    punches = tuple(
        _disc(placement.pose.apply_point(punch.at), punch.diameter / 2) for punch in panel.punches
    )
    return PlacedPiece(placement, outline, cutouts, label_of(placement, outline, cutouts + punches))


def _disc(at: Point, radius: float) -> Ring:
    return ((at[0] - radius, at[1], 1.0), (at[0] + radius, at[1], 1.0))


def _label_text(piece: PlacedPiece) -> Stroke:
    label = piece.label
    height = min(12.0, 0.4 * label.height, 0.85 * label.width / (0.7 * len(label.text)))
    return Text(
        "note",
        "piece",
        label.at,
        label.text,
        round(height, 3),
        label.rotation_deg,
        piece=piece.placement.piece,
    )


def _marks(placement: Placement, panel: Panel) -> Iterable[Stroke]:
    for at in dict.fromkeys(panel.marks):
        yield Dot("mark", "mark", placement.pose.apply_point(at), placement.piece)


def _lines(placement: Placement, panel: Panel) -> Iterable[Stroke]:
    for line in dict.fromkeys(panel.lines):
        yield Path("line", line.role, placement.pose.apply_ring(line.points), placement.piece)


def _punches(placement: Placement, panel: Panel) -> Iterable[Stroke]:
    for punch in dict.fromkeys(panel.punches):
        yield Circle("punch", "punch", placement.pose.apply_point(punch.at), punch.diameter, placement.piece)


def _cutouts(placement: Placement, panel: Panel) -> Iterable[Stroke]:
    for ring in dict.fromkeys(panel.cutouts):
        yield Loop("cut", "cut-out", placement.pose.apply_ring(ring), placement.piece)


def side_by_side(drawings: list[HideDrawing]) -> list[HideDrawing]:
    """The drawings on one sheet, 200 mm apart; where there are several, each states where its zero lies.

    The first keeps the layout's own coordinates, the others are shifted along x alone.
    """
    sheet: list[HideDrawing] = []
    right = 0.0
    for drawing in drawings:
        low, _, high, _ = drawing.box
        dx = float(round(right + SIDE_GAP_MM - low)) if sheet else 0.0
        right = high + dx
        moved = _moved(drawing, dx) if dx else drawing
        sheet.append(_with_zero(moved, dx) if len(drawings) > 1 else moved)
    return sheet


def _moved(drawing: HideDrawing, dx: float) -> HideDrawing:
    strokes = tuple(shifted(stroke, dx, 0.0) for stroke in drawing.strokes)
    return replace(
        drawing, strokes=strokes, pieces=tuple(_moved_piece(piece, dx) for piece in drawing.pieces)
    )


def _moved_piece(piece: PlacedPiece, dx: float) -> PlacedPiece:
    label = replace(piece.label, at=(piece.label.at[0] + dx, piece.label.at[1]))
    cutouts = tuple(moved(ring, dx, 0.0) for ring in piece.cutouts)
    return replace(piece, outline=moved(piece.outline, dx, 0.0), cutouts=cutouts, label=label)


def _with_zero(drawing: HideDrawing, dx: float) -> HideDrawing:
    last = max(i for i, stroke in enumerate(drawing.strokes) if stroke.role == "fact")
    fact = drawing.strokes[last]
    assert isinstance(fact, Text)
    at = (fact.at[0], fact.at[1] - 1.75 * fact.height)
    text = replace(fact, at=at, text=f"zero of this hide lies at x {dx:g}, y 0 of this drawing")
    return replace(drawing, strokes=(*drawing.strokes[: last + 1], text, *drawing.strokes[last + 1 :]))
