"""A layout recorded once as neutral strokes; every output format replays this."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.panel import Panel
from nesting.output.cut_order import in_cut_order, table_of
from nesting.output.cut_steps import Cut, nearest_next
from nesting.output.kerf import compensated
from nesting.output.labels import Label, label_of
from nesting.output.notes import hide_notes
from nesting.output.shared import SHARED_MM, once_only
from nesting.output.strokes import (
    AnyStroke,
    Box,
    Circle,
    Dot,
    Loop,
    Path,
    Stroke,
    Text,
    box_of,
    moved,
    shifted,
)
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

    A tool that follows the order does everything inside a piece before the piece comes loose, and goes a
    short way between strokes: see :mod:`nesting.output.cut_order`. No cut is drawn twice: see
    :mod:`nesting.output.shared`. Cuts are true size, or moved into the waste by half the kerf (see
    :mod:`nesting.output.kerf`); a note says which. Raises InputError where a kerf is to be compensated and
    none is stated, or a hole is too narrow for it.
    """
    if kerf_compensated and layout.cutting.kerf_mm <= 0:
        raise InputError("the layout states no kerf to compensate; lay the order out with its kerf first")
    return [_record_hide(laid, layout, kerf_compensated) for laid in layout.hides]


def _record_hide(laid: LaidHide, layout: Layout, kerf_compensated: bool) -> HideDrawing:
    panels = layout.panel_by_name
    pieces = tuple(_placed(placement, panels[placement.panel]) for placement in laid.placements)
    notes = hide_notes(laid.hide, layout.cutting, kerf_compensated)
    notes += [_label_text(piece) for piece in pieces]
    home = table_of(laid.hide, pieces).home
    marks, lines = _stage(_marks, laid, panels), _stage(_lines, laid, panels)
    made: list[Stroke] = [*nearest_next(marks, home), *nearest_next(lines, home)]
    return HideDrawing(laid.hide, (*notes, *made, *_cuts(laid, layout, pieces, kerf_compensated)), pieces)


def _cuts(
    laid: LaidHide, layout: Layout, pieces: tuple[PlacedPiece, ...], kerf_compensated: bool
) -> list[Cut]:
    """Punches, cut-outs and outlines in the order of cutting, no cut twice."""
    panels, kerf = layout.panel_by_name, layout.cutting.kerf_mm
    outlines = [Loop("cut", "outline", piece.outline, piece.placement.piece) for piece in pieces]
    cuts: list[Cut] = [*_stage(_punches, laid, panels), *_stage(_cutouts, laid, panels), *outlines]
    if kerf_compensated:
        cuts = [compensated(cut, kerf) for cut in cuts]
    ordered = in_cut_order(cuts, table_of(laid.hide, pieces), layout.cutting.tool)
    # Pieces that keep a gap between their cuts have nothing to share.
    between = layout.cutting.gap_mm + (0.0 if kerf_compensated else kerf)
    return _shared(ordered) if between <= SHARED_MM else ordered


def _shared(cuts: list[Cut]) -> list[Cut]:
    """The same cuts, where outlines and cut-outs leave out what an earlier one has cut."""
    left = iter(once_only([cut for cut in cuts if isinstance(cut, Loop)]))
    found: list[Cut] = []
    for cut in cuts:
        found += next(left) if isinstance(cut, Loop) else [cut]
    return found


def _stage(
    stage: Callable[[Placement, Panel], Iterable[AnyStroke]], laid: LaidHide, panels: dict[str, Panel]
) -> list[AnyStroke]:
    return [stroke for placement in laid.placements for stroke in stage(placement, panels[placement.panel])]


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


def _marks(placement: Placement, panel: Panel) -> Iterable[Dot]:
    for at in dict.fromkeys(panel.marks):
        yield Dot("mark", "mark", placement.pose.apply_point(at), placement.piece)


def _lines(placement: Placement, panel: Panel) -> Iterable[Path]:
    for line in dict.fromkeys(panel.lines):
        yield Path("line", line.role, placement.pose.apply_ring(line.points), placement.piece)


def _punches(placement: Placement, panel: Panel) -> Iterable[Circle]:
    for punch in dict.fromkeys(panel.punches):
        yield Circle("punch", "punch", placement.pose.apply_point(punch.at), punch.diameter, placement.piece)


def _cutouts(placement: Placement, panel: Panel) -> Iterable[Loop]:
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
