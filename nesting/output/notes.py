"""The note layer of one hide: everything a person reads and no tool cuts."""

from __future__ import annotations

import math

from nesting.files.hide import Hide, Segment
from nesting.files.order import Cutting
from nesting.output.labels import upright
from nesting.output.strokes import Loop, Path, Stroke, Text, ring_box
from nesting.output.wording import hide_words
from nesting.rings import Point, Ring, signed_area

CHECK_SQUARE_MM = 100.0
EDGE_OFFSET_MM = 4.0
"""A straight edge is marked this far outside the outline, so that no line lies on another."""
MARGIN_MM = 40.0
NOTE_HEIGHT_MM = 8.0


def hide_notes(hide: Hide, cutting: Cutting, kerf_compensated: bool = False) -> list[Stroke]:
    """Outline, flaws, straight edges, spine, check square and what to know about them."""
    strokes: list[Stroke] = [Loop("note", "hide", hide.outline)]
    strokes += [Loop("note", f"flaw {flaw.severity}", flaw.outline) for flaw in hide.flaws]
    for edge in hide.straight_edges:
        strokes += _straight_edge(edge, hide.outline)
    if hide.spine is not None:
        strokes += _spine(hide.spine, hide.outline)
    return strokes + _check_square(hide, cutting, kerf_compensated)


def _straight_edge(edge: Segment, outline: Ring) -> list[Stroke]:
    (x0, y0), (x1, y1) = edge
    length = math.dist(*edge)
    if length == 0.0:
        return []
    nx, ny = outward(edge, outline)
    ox, oy = EDGE_OFFSET_MM * nx, EDGE_OFFSET_MM * ny
    line: Ring = ((x0 + ox, y0 + oy, 0.0), (x1 + ox, y1 + oy, 0.0))
    away = EDGE_OFFSET_MM + NOTE_HEIGHT_MM
    at = ((x0 + x1) / 2 + away * nx, (y0 + y1) / 2 + away * ny)
    turn = upright(math.degrees(math.atan2(y1 - y0, x1 - x0)))
    text = Text("note", "straight edge", at, "straight edge", NOTE_HEIGHT_MM, turn)
    return [Path("note", "straight edge", line), text]


def outward(edge: Segment, outline: Ring) -> Point:
    """Unit normal of an outline's edge away from the leather.

    The edge may be listed either way round: the outline's own segment that lies nearest along it decides.
    """
    (x0, y0), (x1, y1) = edge
    mx, my = (x0 + x1) / 2, (y0 + y1) / 2
    dx, dy = (x1 - x0) / math.dist(*edge), (y1 - y0) / math.dist(*edge)
    ends = outline[1:] + outline[:1]
    nearest = min(zip(outline, ends, strict=True), key=lambda pair: _distance((mx, my), pair[0], pair[1]))
    along = (nearest[1][0] - nearest[0][0]) * dx + (nearest[1][1] - nearest[0][1]) * dy
    # Counter-clockwise the leather lies to the left, so outward is the right-hand normal (dy, -dx).
    sign = 1.0 if (along >= 0) == (signed_area(outline) > 0) else -1.0
    return sign * dy, -sign * dx


def _distance(point: Point, start: tuple[float, ...], end: tuple[float, ...]) -> float:
    """Distance of a point from a straight segment, mm."""
    ex, ey = end[0] - start[0], end[1] - start[1]
    px, py = point[0] - start[0], point[1] - start[1]
    square = ex * ex + ey * ey
    share = min(1.0, max(0.0, (px * ex + py * ey) / square)) if square else 0.0
    return math.hypot(px - share * ex, py - share * ey)


def _spine(spine: Segment, outline: Ring) -> list[Stroke]:
    """A double arrow beside the hide along the spine: a direction, not a place."""
    low_x, low_y, high_x, high_y = ring_box(outline)
    (x0, y0), (x1, y1) = spine
    angle = math.radians(upright(math.degrees(math.atan2(y1 - y0, x1 - x0))))
    dx, dy = math.cos(angle), math.sin(angle)
    half = min(100.0, 0.15 * max(high_x - low_x, high_y - low_y))
    head = 0.16 * half
    if abs(dx) > abs(dy):
        x, y = low_x + half, high_y + MARGIN_MM / 2 + half * abs(dy)
    else:
        x, y = low_x - MARGIN_MM / 2 - head - half * abs(dx), (low_y + high_y) / 2
    strokes: list[Stroke] = [
        Path("note", "spine", ((*_step((x, y), dx, dy, -half), 0.0), (*_step((x, y), dx, dy, half), 0.0)))
    ]
    for sign in (-1.0, 1.0):
        tip = _step((x, y), dx, dy, sign * half)
        back = _step(tip, dx, dy, -sign * head)
        wings = [
            (back[0] + side * 0.4 * head * -dy, back[1] + side * 0.4 * head * dx, 0.0) for side in (-1, 1)
        ]
        strokes.append(Path("note", "spine", (wings[0], (*tip, 0.0), wings[1])))
    # Past the arrow's end there is always room for the word.
    at = _step((x, y), dx, dy, half + 30.0)
    return [*strokes, Text("note", "spine", at, "spine", NOTE_HEIGHT_MM, math.degrees(angle))]


def _step(point: Point, dx: float, dy: float, length: float) -> Point:
    return point[0] + length * dx, point[1] + length * dy


def _check_square(hide: Hide, cutting: Cutting, kerf_compensated: bool) -> list[Stroke]:
    low_x, low_y, _, _ = ring_box(hide.outline)
    x, y, side = low_x, low_y - MARGIN_MM - CHECK_SQUARE_MM, CHECK_SQUARE_MM
    square: Ring = ((x, y, 0.0), (x + side, y, 0.0), (x + side, y + side, 0.0), (x, y + side, 0.0))
    strokes: list[Stroke] = [Loop("note", "check square", square)]
    for row, text in enumerate(_facts(hide, cutting, kerf_compensated)):
        at = (x + side + 12.0, y + side - (row + 1) * 1.75 * NOTE_HEIGHT_MM)
        strokes.append(Text("note", "fact", at, text, NOTE_HEIGHT_MM, align="left"))
    return strokes


def _facts(hide: Hide, cutting: Cutting, kerf_compensated: bool) -> list[str]:
    kerf = f" of {cutting.kerf_mm:g} mm" if cutting.kerf_mm else ""
    if kerf_compensated:
        cuts = f"cut lines lie half the kerf{kerf} in the waste; add none at the machine"
        square = "kerf is compensated on the pieces, not on this square"
    else:
        cuts = f"cut lines are true size; the kerf{kerf} is left to the machine"
        square = "kerf is not compensated here nor on the pieces"
    return [
        # Plain digits: not every cutter's font has a raised two.
        ", ".join(hide_words(hide)).replace("²", "2"),
        f"check square: 100 mm x 100 mm; measure it before cutting; {square}",
        cuts,
        "all in millimetres; the layer 'note' is not cut",
    ]
