"""A joined drawing to a hide: which ring is the outline, which are flaws, where the spine runs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from nesting.drawings.drawing import Note, Spot, Stroke, decision, on_layer, place, warning
from nesting.drawings.flaw_words import WORDS
from nesting.drawings.flaw_zones import flaws_of
from nesting.drawings.loops import Joined
from nesting.drawings.meaning import NOT_PART, Shape, called, said_by, shapes_of
from nesting.drawings.outline import choose_outline
from nesting.drawings.size import size_warnings
from nesting.drawings.straight import (
    edge_on_side,
    on_the_outline,
    side_named,
    straight_runs,
    typed_segment,
)
from nesting.errors import InputError
from nesting.files.hide import Hide, Price, Segment, Tannage
from nesting.files.hide_file import hide_from_json, hide_to_json
from nesting.units import format_length

MEANINGS = {
    "spine": ("spine", "backbone"),
    "straight": ("straight",),
    "flaw": WORDS,
    "outline": ("outline", "hide", "skin", "leather", "contour", "perimeter"),
    "not part": NOT_PART,
}
"""Meanings of names in a drawing of a hide, tried in this order."""


@dataclass(frozen=True)
class HideWishes:
    """What the person says about the hide beside the drawing.

    ``spine``: a side ("left edge"), two points in mm or a direction; ``straight``: the same forms
    without the direction, or "auto" for every long straight part.
    """

    name: str
    cut: str = ""
    weight_oz: tuple[float, float] | None = None
    price: Price | None = None
    tannage: Tannage = "unknown"
    spine: str | None = None
    straight: tuple[str, ...] = ()


def hide_from_drawing(joined: Joined, wishes: HideWishes) -> tuple[Hide, tuple[Note, ...]]:
    """The hide in a drawing, checked as strictly as a hide file, with every note of the way.

    Raises InputError or FileFormatError for an outline that is missing, open, doubled or crosses
    itself, for flaws outside it, and for straight edges that are not on it.
    """
    source = joined.source
    shapes = shapes_of(joined.loops, MEANINGS)
    notes = [*joined.notes, *_left_out(shapes)]
    shapes = [shape for shape in shapes if shape.meaning not in _NO_RING]
    chains = _by_meaning(joined.chains)
    outline, more = choose_outline(source, "hide", shapes, chains, joined.tolerance)
    notes += more
    rings = [shape for shape in shapes if shape is not outline]
    flaws, more = flaws_of(source, outline, rings, chains["flaw"], _flaw_spots(joined.spots))
    notes += more
    edges, more = _straight_edges(source, outline, chains["straight"], wishes)
    notes += more
    spine, more = _spine(source, outline, edges, chains["spine"], wishes)
    notes += [*more, *_unused(chains[""]), *size_warnings(source, "hide", outline, joined.unit)]
    hide = Hide(
        name=wishes.name,
        outline=outline.stroke.vertices,
        cut=wishes.cut,
        weight_oz=wishes.weight_oz,
        tannage=wishes.tannage,
        price=wishes.price,
        straight_edges=tuple(edges),
        flaws=tuple(flaws),
        spine=spine,
    )
    return hide_from_json(hide_to_json(hide), source), tuple(notes)


_NO_RING = {
    "not part": "its name says it is no leather",
    "spine": "the spine is a line, not a ring",
    "straight": "a straight edge is a line, not a ring",
}


def _left_out(shapes: Sequence[Shape]) -> list[Note]:
    return [
        decision("ignored", f"left out {shape.where()}: {_NO_RING[shape.meaning]}")
        for shape in shapes
        if shape.meaning in _NO_RING
    ]


def _by_meaning(chains: Sequence[Stroke]) -> dict[str, list[Stroke]]:
    """Open strokes by what their names say; those that say nothing under an empty key."""
    sorted_out: dict[str, list[Stroke]] = {key: [] for key in ("", *MEANINGS)}
    for chain in chains:
        said = said_by(chain.names, MEANINGS)
        sorted_out[said.meaning if said else ""].append(chain)
    return sorted_out


def _flaw_spots(spots: Sequence[Spot]) -> list[Spot]:
    return [spot for spot in spots if (said := said_by(spot.names, MEANINGS)) and said.meaning == "flaw"]


def _unused(chains: Sequence[Stroke]) -> list[Note]:
    return [
        warning("ignored", f"left out an open line{on_layer(called(chain))} at {place(chain.start)}")
        for chain in chains
    ]


def _straight_edges(
    source: str, outline: Shape, drawn: Sequence[Stroke], wishes: HideWishes
) -> tuple[list[Segment], list[Note]]:
    runs = straight_runs(outline)
    asked = [segment for stroke in drawn for segment in _segments(source, stroke)]
    for text in wishes.straight:
        if text.strip().lower() == "auto":
            asked += runs
        elif side := side_named(text):
            asked.append(edge_on_side(side, runs, source))
        else:
            asked.append(typed_segment(text, "--straight"))
    edges: list[Segment] = []
    for segment in asked:
        edge = on_the_outline(segment, outline, source)
        if edge not in edges:
            edges.append(edge)
    notes = [decision("straight-edge", f"straight edge {_words(edge)}") for edge in edges]
    if runs and not edges:
        listed = "; ".join(_words(run) for run in runs)
        text = f"long straight parts, not taken as trued edges: {listed}; --straight auto takes them"
        notes.append(decision("straight-edge", text))
    return edges, notes


def _segments(source: str, stroke: Stroke) -> list[Segment]:
    vertices = stroke.vertices
    if any(bulge for *_, bulge in vertices):
        where = on_layer(called(stroke))
        raise InputError(f"{source}: the straight edge{where} holds an arc; draw it straight")
    return [(a[:2], b[:2]) for a, b in pairwise(vertices)]


def _spine(
    source: str, outline: Shape, edges: Sequence[Segment], drawn: Sequence[Stroke], wishes: HideWishes
) -> tuple[Segment | None, list[Note]]:
    if wishes.spine is not None:
        side = side_named(wishes.spine)
        runs = [*edges, *straight_runs(outline)]
        spine = edge_on_side(side, runs, source) if side else typed_segment(wishes.spine, "--spine")
    elif drawn:
        spine = (drawn[0].start, drawn[0].end)
    else:
        return None, [decision("spine", "no spine is given: the direction of least stretch is unknown")]
    if len(drawn) > 1 and wishes.spine is None:
        raise InputError(f"{source}: {len(drawn)} lines are named spine; keep one, from neck to tail")
    return spine, [decision("spine", f"the spine runs along {_words(spine)}")]


def _words(segment: Segment) -> str:
    (x0, y0), (x1, y1) = segment
    length = format_length(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
    return f'"{x0:.6g},{y0:.6g} {x1:.6g},{y1:.6g}" ({length})'
