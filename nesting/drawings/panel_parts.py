"""What lies inside a panel's outline: each ring, line and point to its place in the panel."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import shapely

from nesting.drawings.drawing import Note, Spot, Stroke, decision, on_layer, place, warning
from nesting.drawings.gaps import open_outline
from nesting.drawings.meaning import Said, Shape, called, circle_of, first_word
from nesting.errors import InputError
from nesting.files.hide import Severity
from nesting.files.panel import HiddenZone, Line, Punch
from nesting.rings import Point, Ring, flatten
from nesting.units import format_length

LARGEST_PUNCH_MM = 20.0
"""A larger circle without a name is a cut-out; common practice, no source."""

PLAIN_ROLE = "line"
LINES = ("line", "any line", "stretch")  # meanings under which a ring is drawn, not cut
CROSS_MM = 0.2  # two short lines whose middles lie so near are a cross


@dataclass
class Parts:
    """What has been sorted so far."""

    source: str
    outline: Shape
    cutouts: list[Ring] = field(default_factory=list)
    punches: list[Punch] = field(default_factory=list)
    marks: list[Point] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    zones: list[HiddenZone] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def decide(self, code: str, text: str) -> None:
        """Note a decision."""
        self.notes.append(decision(code, text))

    def warn(self, code: str, text: str) -> None:
        """Note a warning."""
        self.notes.append(warning(code, text))


def add_ring(parts: Parts, shape: Shape) -> None:
    """Sort in a closed ring by its name, else by its form: a small circle is punched, the rest cut out."""
    if shape.meaning == "not part":
        parts.decide("ignored", f"left out {shape.where()}: its name says it is no part of the panel")
    elif shape.meaning == "hidden":
        _add_zone(parts, shape)
    elif shape.same_as(parts.outline):
        parts.warn("duplicate-outline", f"the outline is drawn twice: left out {shape.where()}")
    elif not parts.outline.touches(shape.valid):
        parts.warn("ignored", f"left out {shape.where()}: it lies outside the panel")
    elif shape.surrounds(parts.outline):
        parts.warn("ignored", f"left out {shape.where()}: it runs around the panel")
    elif shape.meaning in LINES:
        ring = shape.stroke.vertices
        _add_line(parts, shape.stroke.names, (*ring, (*ring[0][:2], 0.0)), shape.where())
    else:
        _add_opening(parts, shape)


def _add_zone(parts: Parts, shape: Shape) -> None:
    weak = any(first_word(name, ("weak",)) for name in shape.stroke.names)
    accepts: tuple[Severity, ...] = ("weak", "blemish") if weak else ("blemish",)
    parts.zones.append(HiddenZone(shape.stroke.vertices, accepts))
    hint = "" if weak else " (write weak into its name where thin leather may lie too)"
    parts.decide("hidden-zone", f"hidden zone that accepts {' and '.join(accepts)}: {shape.where()}{hint}")


def _add_opening(parts: Parts, shape: Shape) -> None:
    circle = circle_of(shape)
    if shape.meaning == "mark":
        centre = circle[0] if circle else (float(shape.polygon.centroid.x), float(shape.polygon.centroid.y))
        parts.marks.append(centre)
        parts.decide("mark", f"mark at {place(centre)}, the middle of {shape.where()}")
    elif circle and shape.meaning != "cutout" and (shape.meaning == "punch" or circle[1] <= LARGEST_PUNCH_MM):
        parts.punches.append(Punch(*circle))
        where = f"{on_layer(called(shape.stroke))} at {place(circle[0])}"
        parts.decide("punch", f"punch of {format_length(circle[1])}{where}")
    elif not parts.outline.valid.contains_properly(shape.valid):
        raise InputError(
            f"{parts.source}: {shape.where()} reaches over the outline; "
            f"move it inside, or cut the outline there"
        )
    else:
        parts.cutouts.append(shape.stroke.vertices)
        parts.decide("cutout", f"cut-out: {shape.where()}")


def add_crosses(parts: Parts, strokes: Sequence[Stroke]) -> list[Stroke]:
    """Two straight lines that cross in the middle of both mark the place; gives back the rest."""
    rest: list[Stroke] = []
    for stroke in strokes:
        middle = _middle(stroke)
        twin = next(
            (s for s in rest if middle and (m := _middle(s)) and math.dist(m, middle) <= CROSS_MM), None
        )
        if twin is None or middle is None:
            rest.append(stroke)
            continue
        rest.remove(twin)
        parts.marks.append(middle)
        parts.decide("mark", f"mark: the cross{on_layer(called(stroke))} at {place(middle)}")
    return rest


def _middle(stroke: Stroke) -> Point | None:
    if len(stroke.vertices) != 2 or stroke.vertices[0][2]:
        return None
    (x0, y0), (x1, y1) = stroke.start, stroke.end
    return 0.5 * (x0 + x1), 0.5 * (y0 + y1)


def add_line(parts: Parts, stroke: Stroke, meaning: str) -> None:
    """Sort in an open line: it is drawn, not cut, in the role its layer names."""
    where = f"the open line{on_layer(called(stroke))} at {place(stroke.start)}"
    if meaning == "not part":
        parts.decide("ignored", f"left out {where}: its name says it is no part of the panel")
    elif meaning in ("hidden", "punch", "cutout"):
        raise open_outline(parts.source, f"the {'hidden zone' if meaning == 'hidden' else 'ring'}", [stroke])
    elif not parts.outline.touches(shapely.LineString(flatten(stroke.vertices))):
        parts.warn("ignored", f"left out {where}: it lies outside the panel")
    else:
        if meaning not in LINES:
            parts.warn("open-line", f"{where} does not close: it will be drawn, not cut")
        _add_line(parts, stroke.names, stroke.vertices, where)


def _add_line(parts: Parts, names: Sequence[str], points: Ring, where: str) -> None:
    role = _role(names)
    parts.lines.append(Line(role, points))
    parts.decide("line", f'line in the role "{role}": {where}')


def _role(names: Sequence[str]) -> str:
    """The nearest name without numbers behind it, in small letters."""
    stem = re.sub(r"[\W\d_]+$", "", names[0]).lower() if names else ""
    return stem or PLAIN_ROLE


def add_spot(parts: Parts, spot: Spot, said: Said | None) -> None:
    """Sort in a single point: a mark, unless its layer is no part of the panel."""
    where = f"the point{on_layer(spot.layer)} at {place(spot.at)}"
    if said and said.meaning == "not part":
        parts.decide("ignored", f"left out {where}: its name says it is no part of the panel")
    elif not parts.outline.touches(shapely.Point(spot.at)):
        parts.warn("ignored", f"left out {where}: it lies outside the panel")
    else:
        parts.marks.append(spot.at)
        if said and said.meaning == "punch":
            parts.warn("mark", f"{where} has no diameter: it is a mark, not a punch")
        else:
            parts.decide("mark", f"mark: {where}")
