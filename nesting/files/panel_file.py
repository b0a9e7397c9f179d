"""Panel files ``NAME.panel.json``: read strictly, written for people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field
from shapely import Polygon

from nesting.errors import FileFormatError
from nesting.files.boundary import (
    XY,
    FlawAccepted,
    LaceLength,
    Name,
    Positive,
    RawRing,
    Strict,
    XYBulge,
    check_header,
    validated,
)
from nesting.files.hide import Severity
from nesting.files.json_text import dump_json, join, parse_json, read_text
from nesting.files.panel import HiddenZone, Line, Pairing, Panel, Punch, Stretch
from nesting.files.ring_rules import (
    checked_ring,
    disc_inside,
    overlaps,
    raw_ring,
    ring_of,
    rounded,
    strictly_inside,
)
from nesting.files.whole import write_whole
from nesting.rings import Point, Ring

Angle = Annotated[float, Field(ge=-3600, le=3600)]


class _Punch(Strict):
    at: XY
    diameter: Positive


class _Mark(Strict):
    at: XY


class _Line(Strict):
    role: Name
    points: Annotated[list[XYBulge], Field(min_length=2)]


class _Stretch(Strict):
    angle_deg: Angle
    tolerance_deg: Annotated[float, Field(ge=0, le=90)]


class _HiddenZone(Strict):
    outline: RawRing
    accepts: list[FlawAccepted]


class PanelModel(Strict):
    """The fields of a panel file; geometry is judged afterwards."""

    kind: Literal["panel"]
    version: int
    name: Name
    outline: RawRing
    unit: Literal["mm"] = "mm"
    cutouts: list[RawRing] = Field(default_factory=list)
    punches: list[_Punch] = Field(default_factory=list)
    marks: list[_Mark] = Field(default_factory=list)
    lines: list[_Line] = Field(default_factory=list)
    pairing: Pairing = "none"
    stretch: _Stretch | None = None
    turns_deg: Annotated[list[Angle], Field(min_length=1)] | None = None
    accepts: list[FlawAccepted] = Field(default_factory=list)
    hidden_zones: list[_HiddenZone] = Field(default_factory=list)
    lace_mm: LaceLength | None = None
    centre_line: Annotated[list[XY], Field(min_length=2, max_length=2)] | None = None


def read_panel(path: Path) -> Panel:
    """A panel from its file. Raises InputError or FileFormatError, one message each."""
    return panel_from_json(parse_json(read_text(path), str(path)), str(path))


def write_panel(path: Path, panel: Panel) -> None:
    """Write ``panel`` to ``path``, whole or not at all, after reading the text back strictly."""
    write_whole(path, panel_text(panel, str(path)))


def panel_text(panel: Panel, source: str) -> str:
    """The text of a panel file, read back strictly; ``source`` names it in messages."""
    text = dump_json(panel_to_json(panel))
    panel_from_json(parse_json(text, source), source)
    return text


def panel_from_json(data: Mapping[str, Any], source: str, place: str = "") -> Panel:
    """A panel from parsed JSON; ``source`` and ``place`` say in messages where it stood.

    Raises FileFormatError on anything that the contract of the panel file does not allow.
    """
    check_header(data, "panel", source, place)
    model = validated(PanelModel, data, source, place)
    outline, polygon = checked_ring(model.outline, source, join(place, "outline"))
    stretch = model.stretch
    return Panel(
        name=model.name,
        outline=outline,
        cutouts=_cutouts(model.cutouts, polygon, source, join(place, "cutouts")),
        punches=_punches(model.punches, polygon, source, join(place, "punches")),
        marks=tuple((mark.at[0], mark.at[1]) for mark in model.marks),
        lines=_lines(model.lines, source, join(place, "lines")),
        pairing=model.pairing,
        stretch=None if stretch is None else Stretch(stretch.angle_deg, stretch.tolerance_deg),
        turns_deg=None if model.turns_deg is None else tuple(model.turns_deg),
        accepts=_severities(model.accepts),
        hidden_zones=_zones(model.hidden_zones, polygon, source, join(place, "hidden_zones")),
        lace_mm=model.lace_mm or 0.0,
        centre_line=_centre_line(model.centre_line, source, join(place, "centre_line")),
    )


def _severities(given: Sequence[FlawAccepted]) -> tuple[Severity, ...]:
    """Each severity once, as given."""
    return tuple(dict.fromkeys(given))


def _cutouts(raws: list[list[list[float]]], polygon: Polygon, source: str, place: str) -> tuple[Ring, ...]:
    rings: list[Ring] = []
    holes: list[Polygon] = []
    for i, raw in enumerate(raws):
        ring, hole = checked_ring(raw, source, join(place, i))
        if not strictly_inside(polygon, hole):
            raise FileFormatError(
                source, join(place, i), "reaches over the outline; move it inside, or cut the outline there"
            )
        for j, other in enumerate(holes):
            if hole.intersects(other):
                raise FileFormatError(
                    source, join(place, i), f"overlaps or touches cutouts[{j}]; join the two into one"
                )
        rings.append(ring)
        holes.append(hole)
    return tuple(rings)


def _punches(models: list[_Punch], polygon: Polygon, source: str, place: str) -> tuple[Punch, ...]:
    punches = []
    for i, model in enumerate(models):
        at = (model.at[0], model.at[1])
        if not disc_inside(polygon, at, model.diameter):
            raise FileFormatError(
                source,
                join(place, i),
                f"the hole of {model.diameter:g} mm at ({at[0]:g}, {at[1]:g}) reaches over the outline; "
                "move it inside",
            )
        punches.append(Punch(at, model.diameter))
    return tuple(punches)


def _lines(models: list[_Line], source: str, place: str) -> tuple[Line, ...]:
    lines = []
    for i, model in enumerate(models):
        points = ring_of(model.points)
        for j, (here, after) in enumerate(pairwise(points)):
            if here[:2] == after[:2]:
                spot = join(place, i, "points", j)
                raise FileFormatError(source, spot, "the point is given twice in a row; drop one")
        lines.append(Line(model.role, points))
    return tuple(lines)


def _centre_line(
    raw: Sequence[Sequence[float]] | None, source: str, place: str
) -> tuple[Point, Point] | None:
    if raw is None:
        return None
    (x0, y0), (x1, y1) = raw
    if (x0, y0) == (x1, y1):
        raise FileFormatError(source, place, "both ends are one point; move one, or leave the line out")
    return (x0, y0), (x1, y1)


def _zones(models: list[_HiddenZone], polygon: Polygon, source: str, place: str) -> tuple[HiddenZone, ...]:
    """A zone may stick out over the panel's edge, but must cover some of the panel."""
    zones = []
    for i, model in enumerate(models):
        ring, zone = checked_ring(model.outline, source, join(place, i, "outline"))
        if not overlaps(polygon, zone):
            spot = join(place, i, "outline")
            raise FileFormatError(source, spot, "covers no part of the panel; move it there or remove it")
        zones.append(HiddenZone(ring, _severities(model.accepts)))
    return tuple(zones)


def panel_to_json(panel: Panel) -> dict[str, Any]:
    """A panel as the object its file holds, keys in the contract's order."""
    data: dict[str, Any] = {"kind": "panel", "version": 1, "name": panel.name, "unit": "mm"}
    data |= {
        "outline": raw_ring(panel.outline),
        "cutouts": [raw_ring(ring) for ring in panel.cutouts],
        "punches": [{"at": _raw_point(p.at), "diameter": p.diameter} for p in panel.punches],
        "marks": [{"at": _raw_point(mark)} for mark in panel.marks],
        "lines": [{"role": line.role, "points": raw_ring(line.points)} for line in panel.lines],
        "pairing": panel.pairing,
    }
    if panel.stretch is not None:
        data["stretch"] = dict(vars(panel.stretch))
    data["turns_deg"] = None if panel.turns_deg is None else list(panel.turns_deg)
    data["accepts"] = list(panel.accepts)
    data["hidden_zones"] = [
        {"outline": raw_ring(zone.outline), "accepts": list(zone.accepts)} for zone in panel.hidden_zones
    ]
    if panel.lace_mm:
        data["lace_mm"] = rounded(panel.lace_mm)
    if panel.centre_line is not None:
        data["centre_line"] = [_raw_point(point) for point in panel.centre_line]
    return data


def _raw_point(point: tuple[float, float]) -> list[float]:
    return [rounded(point[0]), rounded(point[1])]
