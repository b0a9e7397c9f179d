"""A joined drawing to a panel: outline, cut-outs, punches, marks, lines and hidden zones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nesting.drawings.drawing import Note, Stroke, decision, place
from nesting.drawings.loops import Joined
from nesting.drawings.meaning import NOT_PART, Shape, called, said_by, shapes_of
from nesting.drawings.outline import choose_outline
from nesting.drawings.panel_parts import Parts, add_crosses, add_line, add_ring, add_spot
from nesting.drawings.size import size_warnings
from nesting.errors import InputError
from nesting.files.hide import Severity
from nesting.files.panel import Pairing, Panel, Stretch
from nesting.files.panel_file import panel_from_json, panel_to_json

MEANINGS = {
    "hidden": ("hidden",),
    "stretch": ("stretch",),
    "line": (
        *("groove", "stitch", "stitching", "sewing", "seam", "fold", "crease", "skive", "skiving"),
        *("bevel", "guide", "emboss", "tooling", "glue"),
    ),
    "mark": ("mark", "point", "position"),
    "cutout": ("cutout", "cut out", "window", "slot", "opening"),
    "punch": ("punch", "hole", "eyelet", "rivet", "snap", "stud"),
    "outline": ("outline", "contour", "perimeter", "panel", "pattern", "cut line", "cutting line"),
    "any line": ("line",),
    "not part": NOT_PART,
}
"""Meanings of names in a drawing of a panel, tried in this order."""

BESIDE = 0.01  # a ring of which less lies in the outline is not part of the panel

STRETCH_TOLERANCE_DEG = 15.0
"""For a stretch direction that is drawn as a line; common practice, no source."""


@dataclass(frozen=True)
class PanelWishes:
    """What the person says about the panel beside the drawing; ``layer`` is where its outline lies."""

    name: str
    pairing: Pairing = "none"
    stretch: Stretch | None = None
    turns_deg: tuple[float, ...] | None = None
    accepts: tuple[Severity, ...] = ()
    layer: str | None = None


def panel_from_drawing(joined: Joined, wishes: PanelWishes) -> tuple[Panel, tuple[Note, ...]]:
    """The panel in a drawing, checked as strictly as a panel file, with every note of the way.

    Raises InputError or FileFormatError for an outline that is missing, open, crosses itself or is one
    of several, and for cut-outs and punches that reach over it.
    """
    source = joined.source
    shapes = shapes_of(joined.loops, MEANINGS)
    chains: dict[str, list[Stroke]] = {key: [] for key in ("", *MEANINGS)}
    for chain in joined.chains:
        said = said_by(chain.names, MEANINGS)
        chains[said.meaning if said else ""].append(chain)
    outline, more = _outline(source, shapes, chains, joined.tolerance, wishes.layer)
    notes = [*joined.notes, *more]
    parts = Parts(source, outline)
    for shape in shapes:
        if shape is not outline:
            add_ring(parts, shape)
    chains["mark"] = add_crosses(parts, chains["mark"])
    for meaning, strokes in chains.items():
        for stroke in strokes:
            if meaning != "stretch":
                add_line(parts, stroke, meaning)
    for spot in joined.spots:
        add_spot(parts, spot, said_by(spot.names, MEANINGS))
    stretch, more = _stretch(source, chains["stretch"], wishes.stretch)
    notes += [*parts.notes, *more, *size_warnings(source, "panel", outline, joined.unit)]
    panel = Panel(
        name=wishes.name,
        outline=outline.stroke.vertices,
        cutouts=tuple(parts.cutouts),
        punches=tuple(parts.punches),
        marks=tuple(parts.marks),
        lines=tuple(parts.lines),
        pairing=wishes.pairing,
        stretch=stretch,
        turns_deg=wishes.turns_deg,
        accepts=wishes.accepts,
        hidden_zones=tuple(parts.zones),
    )
    return panel_from_json(panel_to_json(panel), source), tuple(notes)


def _outline(
    source: str,
    shapes: Sequence[Shape],
    chains: dict[str, list[Stroke]],
    tolerance: float,
    layer: str | None,
) -> tuple[Shape, list[Note]]:
    """The outer ring; everything that is not inside it must have been named as no part of it."""
    possible = [shape for shape in shapes if shape.meaning in ("", "outline", "cutout", "punch")]
    possible = possible or [shape for shape in shapes if shape.meaning != "not part"]
    if layer is not None:
        possible = [shape for shape in possible if _is_on(shape.stroke, layer)]
        if not possible:
            known = sorted({called(shape.stroke) for shape in shapes})
            raise InputError(
                f"{source}: no ring lies on layer {layer}; there are rings on {', '.join(known)}"
            )
    outline, notes = choose_outline(source, "panel", possible, chains, tolerance)
    _refuse_several(source, outline, possible, chosen=layer is not None)
    return outline, notes


def _is_on(stroke: Stroke, layer: str) -> bool:
    return layer.lower() in (name.lower() for name in (stroke.layer, *stroke.names))


def _refuse_several(source: str, outline: Shape, possible: Sequence[Shape], chosen: bool) -> None:
    """Another ring outside the outline is another panel, unless this one was named alone."""
    meanings = ("outline",) if outline.meaning == "outline" and not chosen else ("", "outline")
    rivals = [
        shape
        for shape in possible
        if shape is not outline and shape.meaning in meanings and shape.share_in(outline) < BESIDE
    ]
    if rivals:
        listed = "; ".join(shape.where() for shape in (outline, *rivals))
        raise InputError(
            f"{source}: several rings lie outside one another: {listed}; give each panel a file of its own, "
            f"or say with --layer which layer holds the outline"
        )


def _stretch(
    source: str, drawn: Sequence[Stroke], wished: Stretch | None
) -> tuple[Stretch | None, list[Note]]:
    if wished is not None or not drawn:
        return wished, []
    if len(drawn) > 1:
        raise InputError(f"{source}: {len(drawn)} lines are named stretch; keep the one along the spine")
    (x0, y0), (x1, y1) = drawn[0].start, drawn[0].end
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180.0
    stretch = Stretch(round(angle, 6), STRETCH_TOLERANCE_DEG)
    text = (
        f"the line named stretch at {place((x0, y0))} lies along the hide's spine: "
        f"{stretch.angle_deg:g} degrees, within {STRETCH_TOLERANCE_DEG:g} (--stretch says otherwise)"
    )
    return stretch, [decision("stretch", text)]
