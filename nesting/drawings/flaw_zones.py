"""Rings, lines and points on a hide to flaws."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from nesting.drawings.curves import circle
from nesting.drawings.drawing import Note, Spot, Stroke, decision, place, warning
from nesting.drawings.flaw_words import judge
from nesting.drawings.gaps import open_outline
from nesting.drawings.meaning import Shape, called
from nesting.errors import InputError
from nesting.files.hide import Flaw
from nesting.rings import Ring, flatten, ring_from_points

HALF_WIDTH_MM = 2.0
"""A flaw drawn as a line or a point is taken to reach this far; common practice, no source."""

NEARLY_CLOSED = 0.25  # of its length: a line that comes back so near to its start was meant as a ring

_BY = {
    "name": "as its name says",
    "table": "by the table of flaw words",
    "nothing": "for want of a word that says how bad it is",
}

Result = tuple[Flaw, list[Note]]


def flaws_of(
    source: str, outline: Shape, rings: Sequence[Shape], lines: Sequence[Stroke], spots: Sequence[Spot]
) -> tuple[list[Flaw], list[Note]]:
    """Every flaw, with how its kind and severity were found.

    Raises InputError for a flaw outside the outline, a second outline, or a flaw ring left open.
    """
    found: list[Result] = []
    notes: list[Note] = []
    for ring in rings:
        if ring.meaning != "flaw" and ring.same_as(outline):
            text = f"the outline is drawn twice: left out {ring.where()}"
            notes.append(warning("duplicate-outline", text))
            continue
        if ring.meaning != "flaw" and ring.surrounds(outline):
            notes.append(warning("ignored", f"left out {ring.where()}: it runs around the hide"))
            continue
        _refuse_outside(source, outline, ring)
        found.append(_flaw(ring.stroke.names, ring.stroke.vertices, ring.where()))
    found += [_line_flaw(source, outline, line) for line in lines]
    found += [_spot_flaw(source, outline, spot) for spot in spots]
    notes += [note for _, more in found for note in more]
    if any(_BY["name"] not in note.text for _, more in found for note in more):
        notes.append(
            decision("flaw", "to change a severity, write hole, weak or blemish into the layer's name")
        )
    return [flaw for flaw, _ in found], notes


def _refuse_outside(source: str, outline: Shape, ring: Shape) -> None:
    if outline.touches(ring.valid):
        return
    if ring.meaning == "flaw":
        kind = judge(ring.stroke.names).kind
        raise InputError(
            f'{source}: the flaw "{kind}", {ring.where()}, lies outside the hide; '
            f"move it onto the leather or remove it"
        )
    raise InputError(
        f"{source}: beside {outline.where()} lies {ring.where()}; give one hide a file, "
        f"or put what is no leather on a layer named note"
    )


def _flaw(names: Sequence[str], outline: Ring, where: str) -> Result:
    judged = judge(names)
    flaw = Flaw(judged.kind, judged.severity, outline)
    said = f'flaw "{judged.kind}", {judged.severity} {_BY[judged.by]}: {where}'
    make = warning if judged.by == "nothing" else decision
    return flaw, [make("severity-unknown" if judged.by == "nothing" else "flaw", said)]


def _line_flaw(source: str, outline: Shape, line: Stroke) -> Result:
    points = flatten(line.vertices)
    drawn = shapely.LineString(points)
    if math.dist(line.start, line.end) < NEARLY_CLOSED * drawn.length:
        raise open_outline(source, "the flaw", [line])
    zone = drawn.buffer(HALF_WIDTH_MM)
    _refuse_line_outside(source, outline, zone, called(line), place(line.start))
    ring = ring_from_points(shapely.get_coordinates(zone.exterior)[:-1])
    width = f"{2 * HALF_WIDTH_MM:g} mm wide"
    return _flaw(line.names, ring, f"the line at {place(line.start)}, made a zone {width}")


def _spot_flaw(source: str, outline: Shape, spot: Spot) -> Result:
    zone = shapely.Point(spot.at).buffer(HALF_WIDTH_MM)
    _refuse_line_outside(source, outline, zone, spot.names[0], place(spot.at))
    ring = tuple(circle(spot.at, HALF_WIDTH_MM))
    return _flaw(
        spot.names, ring, f"the point at {place(spot.at)}, made a disc {2 * HALF_WIDTH_MM:g} mm wide"
    )


def _refuse_line_outside(source: str, outline: Shape, zone: shapely.Geometry, name: str, where: str) -> None:
    if not outline.touches(zone):
        raise InputError(f"{source}: the flaw {name} at {where} lies outside the hide; move or remove it")
