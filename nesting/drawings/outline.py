"""Which ring is the outline of the hide or the panel?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from nesting.drawings.chains import join_ends
from nesting.drawings.drawing import Note, Stroke, decision
from nesting.drawings.gaps import open_outline
from nesting.drawings.meaning import Said, Shape, called
from nesting.errors import InputError
from nesting.rings import flatten
from nesting.units import format_area


def choose_outline(
    source: str, what: str, shapes: Sequence[Shape], chains: Mapping[str, Sequence[Stroke]], tolerance: float
) -> tuple[Shape, list[Note]]:
    """The ring whose name says so, else the largest that no name puts elsewhere.

    ``shapes`` come largest first; ``chains`` are the open strokes by meaning. An outline left open
    where a straight edge is drawn on a layer of its own is closed by it. Raises InputError when the
    outline is open or there is none.
    """
    named = [shape for shape in shapes if shape.meaning == "outline"]
    candidates = named or [shape for shape in shapes if not shape.meaning] or list(shapes)
    if not named and chains.get("outline"):
        closed = _closed_by_edges(chains["outline"], chains.get("straight", ()), tolerance)
        if closed is not None:
            text = f"the outline is closed by the straight edge: {closed.where()}"
            return closed, [decision("outline", text)]
    if not named:
        for meaning in ("outline", ""):
            _refuse_larger_open(source, what, candidates, chains.get(meaning, ()))
    if not candidates:
        raise InputError(
            f"{source}: no closed ring is drawn in it; draw the outline of the {what} as a closed line"
        )
    chosen = candidates[0]
    why = "named so" if named else "the largest ring"
    text = f"the outline of the {what} is {chosen.where()}, {why}: {format_area(chosen.area)}"
    return chosen, [decision("outline", text)]


def _closed_by_edges(outline: Sequence[Stroke], edges: Sequence[Stroke], tolerance: float) -> Shape | None:
    layer, names = outline[0].layer, outline[0].names
    parts = [replace(stroke, layer=layer, names=names) for stroke in (*outline, *edges)]
    rings = [stroke for stroke in join_ends(parts, tolerance)[0] if stroke.closed]
    if not edges or not rings:
        return None
    return max(
        (Shape(ring, Said("outline", "outline", called(ring))) for ring in rings), key=lambda s: s.area
    )


def _refuse_larger_open(
    source: str, what: str, candidates: Sequence[Shape], chains: Sequence[Stroke]
) -> None:
    """Open lines of one layer that together span more than any ring are an outline that does not close."""
    layers: dict[str, list[Stroke]] = {}
    for chain in chains:
        layers.setdefault(chain.layer, []).append(chain)
    largest = candidates[0].size if candidates else (0.0, 0.0)
    for group in sorted(layers.values(), key=lambda g: -math.prod(_span(g))):
        width, height = _span(group)
        if not candidates or (width > largest[0] and height > largest[1]):
            raise open_outline(source, f"the outline of the {what}", group)


def _span(chains: Sequence[Stroke]) -> tuple[float, float]:
    width, height = np.ptp(np.vstack([flatten(chain.vertices) for chain in chains]), axis=0)
    return float(width), float(height)
