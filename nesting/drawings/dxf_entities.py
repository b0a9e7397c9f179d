"""DXF entities, one reader a kind: ``reader(entity, layer, factor, collected)``.

``factor`` is millimetres in a drawing unit. Flat entities keep their points in a coordinate system
of their own; drawn from behind (extrusion 0, 0, -1) its x runs the other way and arcs turn clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from nesting.drawings.collect import Collected
from nesting.drawings.curves import arc, arcs_along, circle
from nesting.drawings.drawing import on_layer, warning
from nesting.errors import InputError
from nesting.rings import Point, Points, Vertex, cos_sin_deg

# ezdxf gives each kind of entity a class whose attributes mypy cannot follow through ``dxf``.
Entity = Any
Reader = Callable[[Entity, str, float, Collected], None]

FLAT_MM = 0.01
SPLINE_FRAME = 16  # flag of a polyline vertex that only steers a curve

_WORDS = {"MTEXT": "text", "ATTDEF": "text", "LWPOLYLINE": "polyline"}


def kind_word(entity: Entity) -> str:
    """The entity's kind as a plain word."""
    kind: str = entity.dxftype()
    return _WORDS.get(kind, kind.lower())


def _side(entity: Entity, layer: str, collected: Collected) -> float:
    """1 for an entity seen from the front, -1 from behind. Raises InputError for a tilted one."""
    x, y, z = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    length = math.sqrt(x * x + y * y + z * z)
    if not length or math.hypot(x, y) > 1e-6 * length:
        raise InputError(
            f"{collected.source}: a {kind_word(entity)}{on_layer(layer)} lies in a tilted plane; "
            f"flatten the drawing before exporting it"
        )
    return math.copysign(1.0, z)


def _note_height(points: Iterable[Sequence[float]], entity: Entity, layer: str, collected: Collected) -> None:
    """Note an entity that climbs out of the plane: it is read as seen from above."""
    heights = [float(point[2]) for point in points]
    if max(heights) - min(heights) > FLAT_MM:
        text = f"a {kind_word(entity)}{on_layer(layer)} is not flat; it was read as seen from above"
        collected.notes.append(warning("not-flat", text))


def _line(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    ends = (entity.dxf.start, entity.dxf.end)
    _note_height(ends, entity, layer, collected)
    collected.add_run(layer, (layer,), [(p.x * factor, p.y * factor, 0.0) for p in ends], closed=False)


def _point(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    at = entity.dxf.location
    collected.add_spot(layer, (layer,), at.x * factor, at.y * factor)


def _radius(entity: Entity, layer: str, factor: float, collected: Collected) -> float:
    radius = float(entity.dxf.radius) * factor
    if not (math.isfinite(radius) and radius > 0):
        raise InputError(
            f"{collected.source}: a {kind_word(entity)}{on_layer(layer)} has the radius {radius:g}"
        )
    return radius


def _circle(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    side, radius = _side(entity, layer, collected), _radius(entity, layer, factor, collected)
    centre = (side * entity.dxf.center.x * factor, entity.dxf.center.y * factor)
    collected.add_run(layer, (layer,), circle(centre, radius), closed=True)


def _arc(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    side, radius = _side(entity, layer, collected), _radius(entity, layer, factor, collected)
    start, end = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    sweep = (end - start) % 360.0
    cx, cy = entity.dxf.center.x * factor, entity.dxf.center.y * factor

    def at(angle_deg: float) -> Point:
        cos, sin = cos_sin_deg(angle_deg)
        return side * (cx + radius * cos), cy + radius * sin

    if sweep < 1e-9 or sweep > 360.0 - 1e-9:
        collected.add_run(layer, (layer,), circle((side * cx, cy), radius), closed=True)
    else:
        run = arc(at(start), at(end), side * math.radians(sweep))
        collected.add_run(layer, (layer,), run, closed=False)


def _polyline(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    """LWPOLYLINE and the 2D and 3D kinds of POLYLINE."""
    if entity.dxftype() == "LWPOLYLINE":
        raw: list[Vertex] = [tuple(values) for values in entity.get_points("xyb")]
        closed = bool(entity.closed)
    elif entity.is_2d_polyline or entity.is_3d_polyline:
        drawn = [v for v in entity.vertices if not v.dxf.get("flags", 0) & SPLINE_FRAME]
        raw = [(v.dxf.location.x, v.dxf.location.y, float(v.dxf.get("bulge", 0.0))) for v in drawn]
        closed = bool(entity.is_closed)
        if entity.is_3d_polyline and drawn:
            _note_height([v.dxf.location for v in drawn], entity, layer, collected)
    else:
        collected.ignored["mesh", "this kind is not read"] += 1
        return
    if not raw:
        return
    side = _side(entity, layer, collected)
    run = [(side * x * factor, y * factor, side * bulge) for x, y, bulge in raw]
    if not closed:
        run[-1] = (*run[-1][:2], 0.0)
    collected.add_run(layer, (layer,), run, closed)


def _spline(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    try:
        tool = entity.construction_tool()
        knots, order, count = list(tool.knots()), tool.order, tool.count
    except ValueError as error:
        raise InputError(f"{collected.source}: a spline{on_layer(layer)} is incomplete ({error})") from error
    _note_height(tool.control_points, entity, layer, collected)
    breaks = sorted({float(knot) for knot in knots[order - 1 : count + 1]})
    _add_curve(lambda t: _flat(tool.points(t), factor), breaks, entity, layer, collected)


def _ellipse(entity: Entity, layer: str, factor: float, collected: Collected) -> None:
    side = _side(entity, layer, collected)
    tool = entity.construction_tool()
    start = float(tool.start_param)
    sweep = (float(tool.end_param) - start) % (2.0 * math.pi)
    whole = sweep < 1e-9 or sweep > 2.0 * math.pi - 1e-9
    sweep = 2.0 * math.pi if whole else sweep
    if abs(tool.ratio - 1.0) < 1e-12:
        _round_ellipse(tool, side, sweep, whole, layer, factor, collected)
        return
    breaks = [start + sweep * i / 4.0 for i in range(5)]
    _add_curve(lambda t: _flat(tool.vertices(t), factor), breaks, entity, layer, collected)


def _round_ellipse(
    tool: Any, side: float, sweep: float, whole: bool, layer: str, factor: float, collected: Collected
) -> None:
    """An ellipse with equal axes is a circle or an arc, and stays exact."""
    if whole:
        centre = (tool.center.x * factor, tool.center.y * factor)
        run = circle(centre, tool.major_axis.magnitude * factor)
    else:
        run = arc(
            (tool.start_point.x * factor, tool.start_point.y * factor),
            (tool.end_point.x * factor, tool.end_point.y * factor),
            side * sweep,
        )
    collected.add_run(layer, (layer,), run, closed=whole)


def _add_curve(
    curve: Callable[[Points], Points], breaks: list[float], entity: Entity, layer: str, collected: Collected
) -> None:
    probe = curve(np.array([breaks[0], breaks[-1]]))
    if not np.isfinite(probe).all():
        raise InputError(
            f"{collected.source}: a {kind_word(entity)}{on_layer(layer)} holds no proper numbers"
        )
    run = arcs_along(curve, breaks)
    collected.approximated[kind_word(entity), layer] += 1
    collected.add_run(layer, (layer,), run, closed=False)


def _flat(points: Iterable[Any], factor: float) -> Points:
    return np.array([(point.x, point.y) for point in points], dtype=np.float64) * factor


READERS: dict[str, Reader] = {
    "LINE": _line,
    "POINT": _point,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _polyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
    "ELLIPSE": _ellipse,
}
