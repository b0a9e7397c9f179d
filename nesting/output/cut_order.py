"""In what order a layout is cut: punches and cut-outs first, then outlines, always the nearest next.

What lies inside a piece is cut before the piece comes loose (inner cuts before outer: from memory). A piece
that lies in the cut-out of another is cut whole before that cut-out. With a knife the straight cuts come
before the curves (see :mod:`nesting.output.knife`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from nesting.files.hide import Hide
from nesting.files.order import Tool
from nesting.output.cut_steps import Body, Cut, CutStep, Table, machine_order, machine_steps, stages
from nesting.output.knife import knife_steps
from nesting.output.strokes import Circle, Loop, Path, ring_box

if TYPE_CHECKING:
    from nesting.output.record import HideDrawing, PlacedPiece

__all__ = ["CutStep", "cut_steps", "in_cut_order", "table_of"]


def cut_steps(drawing: HideDrawing, tool: Tool) -> list[CutStep]:
    """All cuts of one hide, first to last, in the hide's own frame.

    A machine's step is a whole punch, cut-out or outline; a knife's is a straight cut or a curve.
    """
    cuts = [s for s in drawing.strokes if s.layer in ("punch", "cut") and isinstance(s, (Circle, Loop, Path))]
    if tool != "knife":
        return machine_steps(cuts)
    return knife_steps(cuts, table_of(drawing.hide, drawing.pieces))


def table_of(hide: Hide, pieces: Sequence[PlacedPiece]) -> Table:
    """The hide on the table; work begins at its lower left corner."""
    bodies = tuple(Body(piece.placement.piece, piece.outline, piece.cutouts) for piece in pieces)
    return Table(bodies, hide.straight_edges, ring_box(hide.outline)[:2])


def in_cut_order(strokes: Sequence[Cut], table: Table, tool: Tool) -> list[Cut]:
    """The same strokes as they are cut; with a knife each stands where the first of its cuts comes."""
    if tool != "knife":
        return machine_order(strokes, table)
    steps = knife_steps(strokes, table)
    rank: dict[tuple[str, str], int] = {}
    for i, step in enumerate(steps):
        for piece in step.pieces:
            rank.setdefault((step.stroke.role, piece), i)
    found: list[Cut] = [step.stroke for step in steps if isinstance(step.stroke, Circle)]
    for stage in stages(strokes, table):
        whole = [stroke for stroke in stage if not isinstance(stroke, Circle)]
        found += sorted(whole, key=lambda stroke: rank.get((stroke.role, stroke.piece), len(rank)))
    return found
