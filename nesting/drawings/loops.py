"""Loose strokes joined end to end into closed rings; arcs keep their bulges.

Strokes are joined within a layer. Ends that coincide (to a micrometre) are joined silently, those
within the tolerance are joined nearest first, each with a note. Where three or more ends meet, the
outer boundary is the ring (``junctions``).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from nesting.drawings.chains import join_ends
from nesting.drawings.drawing import Drawing, Note, Spot, Stroke, counted, on_layer, repair
from nesting.drawings.duplicates import without_duplicates

JOIN_MM = 0.1


@dataclass(frozen=True)
class Joined:
    """A drawing after joining: closed rings, runs that stayed open, single points, and all notes so far."""

    source: str
    unit: str
    loops: tuple[Stroke, ...]
    chains: tuple[Stroke, ...]
    spots: tuple[Spot, ...]
    notes: tuple[Note, ...]
    tolerance: float = JOIN_MM


def join_strokes(drawing: Drawing, tolerance: float = JOIN_MM) -> Joined:
    """Join the strokes of ``drawing`` whose ends lie within ``tolerance`` mm of each other."""
    strokes, notes = without_duplicates(drawing.strokes)
    loops = [stroke for stroke in strokes if stroke.closed]
    chains: list[Stroke] = []
    for group in _grouped(strokes):
        joined, more = join_ends(group, tolerance)
        notes += more
        loops += [stroke for stroke in joined if stroke.closed]
        chains += [stroke for stroke in joined if not stroke.closed]
    closed, chains, more = _across_names(chains, tolerance)
    return Joined(
        drawing.source,
        drawing.unit,
        (*loops, *closed),
        tuple(chains),
        drawing.spots,
        (*drawing.notes, *notes, *more),
        tolerance,
    )


def _grouped(strokes: Iterable[Stroke]) -> list[list[Stroke]]:
    """Open strokes that may belong together: one layer, and one name apart from numbers behind it."""
    groups: dict[tuple[str, str], list[Stroke]] = {}
    for stroke in strokes:
        if not stroke.closed:
            stem = re.sub(r"[\W\d_]+$", "", stroke.names[0].lower()) if stroke.names else ""
            groups.setdefault((stroke.layer, stem), []).append(stroke)
    return list(groups.values())


def _across_names(chains: list[Stroke], tolerance: float) -> tuple[list[Stroke], list[Stroke], list[Note]]:
    """Parts of a ring that each have a name of their own: joined only where that closes a ring."""
    closed: list[Stroke] = []
    still_open: list[Stroke] = []
    notes: list[Note] = []
    layers: dict[str, list[Stroke]] = {}
    for chain in chains:
        layers.setdefault(chain.layer, []).append(chain)
    for layer, group in layers.items():
        joined, more = join_ends(group, tolerance) if len({c.names[:1] for c in group}) > 1 else ([], [])
        rings = [stroke for stroke in joined if stroke.closed]
        if not rings:
            still_open += group
            continue
        names = {name for ring in rings for name in ring.names}
        text = f"joined differently named lines{on_layer(layer)} into {counted(len(rings), 'closed ring')}"
        notes += [repair("joined-across-names", f"{text}: {', '.join(sorted(names))}"), *more]
        closed += rings
        still_open += [stroke for stroke in joined if not stroke.closed]
    return closed, still_open, notes
