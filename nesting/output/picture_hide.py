"""One hide in the picture."""

from __future__ import annotations

from collections.abc import Set

import numpy as np
import shapely

from nesting.output import palette
from nesting.output.labels import Label, remnant_label
from nesting.output.pen import Pen, text_width
from nesting.output.picture_plan import View
from nesting.output.record import PlacedPiece
from nesting.output.strokes import Circle, Dot, Loop, Path, Text, flat_path
from nesting.rings import Point, Points, Ring, flatten

FINE_PX = 1.1
ANEW_PX = 5.5
LEAST_TEXT_PX = 10.0
FAR_APART_MM = 40.0
"""The two of a pair with more than this between them are joined by a thin line."""
EDGE_LOOKS = {"straight edge": (palette.STRAIGHT_EDGE, 6.0), "spine": (palette.LEATHER_EDGE, 2.5)}
FLAW_ROLES = {f"flaw {severity}": look for severity, look in palette.FLAW_LOOKS.items()}


def draw_hide(pen: Pen, view: View, anew: Set[str] = frozenset()) -> None:
    """Leather, pieces, flaws over them, then outlines of pieces, labels, straight edges and spine.

    So one sees which part of a piece a flaw is in. The outlines of pieces named in ``anew`` are heavy.
    """
    for stroke in view.strokes:
        if stroke.role == "hide" and isinstance(stroke, Loop):
            pen.shape([_px(view, stroke.ring)], palette.LEATHER, palette.LEATHER_EDGE, 2.0)
    for remnant in view.remnants:
        _remnant(pen, view, remnant)
    tints = palette.tints(tuple(piece.placement for piece in view.drawing.pieces))
    for piece in view.drawing.pieces:
        pen.shape(_rings(view, piece), tints[piece.placement.piece])
    _details(pen, view)
    leather = shapely.Polygon(_px(view, view.drawing.hide.outline)).buffer(0)
    for stroke in view.strokes:
        if stroke.role in FLAW_ROLES and isinstance(stroke, Loop):
            for zone in on_leather(_px(view, stroke.ring), leather):
                flaw(pen, zone, FLAW_ROLES[stroke.role])
    _outlines(pen, view, anew)
    _links(pen, view)
    for piece in view.drawing.pieces:
        _label(pen, view, piece.label, tints[piece.placement.piece])
    for remnant in view.remnants:
        flaws = [flaw.outline for flaw in view.drawing.hide.flaws]
        _label(pen, view, remnant_label(remnant, flaws), palette.REMNANT)
    _edges(pen, view)


def _px(view: View, ring: Ring) -> Points:
    return view.px(flatten(ring, 0.2 / view.scale))


def _remnant(pen: Pen, view: View, remnant: shapely.Polygon) -> None:
    rings = [view.px(np.array(ring.coords[:-1])) for ring in (remnant.exterior, *remnant.interiors)]
    pen.shape(rings, palette.REMNANT, palette.LEATHER_EDGE, 1.4, dash=(6.0, 4.0))


def _rings(view: View, piece: PlacedPiece) -> list[Points]:
    return [_px(view, ring) for ring in (piece.outline, *piece.cutouts)]


def _outlines(pen: Pen, view: View, anew: Set[str]) -> None:
    for piece in view.drawing.pieces:
        rings = _rings(view, piece)
        pen.shape(rings, "none", palette.INK, 1.6)
        if piece.placement.pose.mirrored:
            inner_line(pen, rings[0])
        if piece.placement.piece in anew:
            pen.shape([rings[0]], "none", palette.ANEW, ANEW_PX)


def inner_line(pen: Pen, outline: Points) -> None:
    """The mark of a piece turned over: a second line inside its outline."""
    inside = shapely.Polygon(outline).buffer(-4.5)
    for part in shapely.get_parts(inside):
        if isinstance(part, shapely.Polygon) and not part.is_empty:
            pen.line(np.array(part.exterior.coords), palette.INK, FINE_PX)


def _details(pen: Pen, view: View) -> None:
    for stroke in view.strokes:
        if stroke.layer == "line" and isinstance(stroke, Path):
            points = view.px(flat_path(stroke.points, 0.2))
            pen.line(points, palette.GROOVE, FINE_PX, (4.0, 3.0) if stroke.role == "stitch" else None)
        elif isinstance(stroke, Circle):
            pen.circle(
                view.at(stroke.at), max(1.5, view.scale * stroke.diameter / 2), palette.LEATHER, palette.INK
            )
        elif isinstance(stroke, Dot):
            x, y = view.at(stroke.at)
            pen.line(np.array([(x - 3, y), (x + 3, y)]), palette.SOFT_INK)
            pen.line(np.array([(x, y - 3), (x, y + 3)]), palette.SOFT_INK)


def on_leather(zone: Points, leather: shapely.Polygon) -> list[Points]:
    """The parts of a flaw's zone that lie on the hide: a zone may reach past the edge."""
    parts = shapely.get_parts(shapely.intersection(shapely.Polygon(zone).buffer(0), leather))
    return [np.array(part.exterior.coords[:-1]) for part in parts if isinstance(part, shapely.Polygon)]


def flaw(pen: Pen, outline: Points, look: palette.FlawLook) -> None:
    """A flaw's zone with its hatch, over whatever lies there."""
    pen.shape([outline], look.fill, "none", alpha=0.8)
    for angle in look.angles_deg:
        for line in hatch(outline, angle, look.step):
            pen.line(line, look.line, 1.2)
    pen.shape([outline], "none", look.line, 2.0)


def hatch(outline: Points, angle_deg: float, step: float) -> list[Points]:
    """Parallel lines ``step`` apart inside an outline, each of shape (2, 2)."""
    body = shapely.Polygon(outline).buffer(0)
    x, y = body.centroid.x, body.centroid.y
    reach = float(np.hypot(np.ptp(outline[:, 0]), np.ptp(outline[:, 1])))
    cos, sin = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    count = int(reach / step)
    offsets = [(-sin * step * i, cos * step * i) for i in range(-count, count + 1)]
    rules = shapely.MultiLineString(
        [
            [(x + dx - reach * cos, y + dy - reach * sin), (x + dx + reach * cos, y + dy + reach * sin)]
            for dx, dy in offsets
        ]
    )
    parts = shapely.get_parts(shapely.intersection(rules, body))
    return [np.array(part.coords) for part in parts if isinstance(part, shapely.LineString)]


def _links(pen: Pen, view: View) -> None:
    """A thin line between the two of a pair that lie apart."""
    pairs: dict[str, list[PlacedPiece]] = {}
    for piece in view.drawing.pieces:
        if piece.placement.pair is not None:
            pairs.setdefault(piece.placement.pair, []).append(piece)
    for first, *others in pairs.values():
        for other in others:
            bodies = [shapely.Polygon(flatten(piece.outline, 1.0)) for piece in (first, other)]
            if bodies[0].distance(bodies[1]) > FAR_APART_MM:
                ends = np.array([view.at(first.label.at), view.at(other.label.at)])
                along = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
                pen.line(ends + np.outer((34.0, -34.0), along), palette.INK, 1.2, (5.0, 3.0), alpha=0.75)


def _label(pen: Pen, view: View, label: Label, tint: str) -> None:
    """Panel over number where both fit, the panel in smaller letters if need be; else one line, else the
    number alone."""
    wide, tall = 0.88 * view.scale * label.width, 0.88 * view.scale * label.height
    turn, (x, y), up = label.rotation_deg, view.at(label.at), _across(label.rotation_deg)
    size = min(30.0, 0.42 * tall)
    small = min(0.6 * size, size * wide / max(1.0, text_width(label.panel, size)))
    if label.number and small >= LEAST_TEXT_PX:
        lines = [(label.panel, small, 0.58 * size, False), (label.number, size, -0.42 * size, True)]
    else:
        words = label.text if text_width(label.text, min(22.0, 0.6 * tall), "bold") <= wide else label.short
        size = min(22.0, 0.6 * tall, 22.0 * wide / max(1.0, text_width(words, 22.0, "bold")))
        lines = [(words, max(size, LEAST_TEXT_PX), 0.0, True)]
    for words, height, shift, bold in lines:
        at = (x + shift * up[0], y + shift * up[1])
        pen.text(at, words, height, palette.INK, "bold" if bold else "normal", "center", turn, tint)


def _across(turn_deg: float) -> Point:
    """Unit vector upward for a reader of text turned by ``turn_deg``."""
    return -float(np.sin(np.radians(turn_deg))), float(np.cos(np.radians(turn_deg)))


def _edges(pen: Pen, view: View) -> None:
    """Straight edges in bold, the spine's arrow, and their names beside them."""
    middle = (0.0, 0.0)
    for stroke in view.strokes:
        if stroke.role not in EDGE_LOOKS:
            continue
        colour, width = EDGE_LOOKS[stroke.role]
        if isinstance(stroke, Path):
            points = view.px(np.array([vertex[:2] for vertex in stroke.points]))
            pen.line(points, colour, width)
            if len(points) == 2:
                middle = (float(points[:, 0].mean()), float(points[:, 1].mean()))
        elif isinstance(stroke, Text):
            # The name follows its line; at a small scale its place on the hide is too near.
            away = np.array(view.at(stroke.at)) - middle
            far = max(1e-9, float(np.hypot(*away)))
            beyond = 14.0 if stroke.role == "spine" else 0.0
            at = middle + away / far * (max(far, width / 2 + 13.0) + beyond)
            pen.text(
                (float(at[0]), float(at[1])),
                stroke.text,
                15.0,
                palette.INK,
                "normal",
                "center",
                stroke.rotation_deg,
            )
