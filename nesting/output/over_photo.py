"""The layout drawn onto the photograph that its hide was measured from, so that the hand sees where to lay.

What is drawn goes through the camera that measured the hide: perspective, lens and the leather's own height.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from nesting.files.layout import Layout
from nesting.output import palette
from nesting.output.labels import Label
from nesting.output.mat import Mat
from nesting.output.pattern import reference_points
from nesting.output.pen import Pen, Pixels, text_width
from nesting.output.record import HideDrawing, PlacedPiece
from nesting.output.strokes import Circle, Dot, Loop, Path, flat_path
from nesting.output.wording import hide_words, wrapped
from nesting.rings import Point, Points, Ring, flatten

STEP_MM = 5.0
"""A straight side is bent by the lens: it is drawn through points this far apart."""
INNER_MM = 3.0
LINE_SPACE_PX = 60.0
"""Mat lines are numbered no closer than this."""
STRIP_PX = 26.0
HALO = "#ffffff"
FLAWS = {f"flaw {severity}": look.line for severity, look in palette.FLAW_LOOKS.items()}


@dataclass(frozen=True)
class Seen:
    """A photograph (rows, columns, 3) RGB, and ``pixels``: points (n, 2) of the hide in mm to it, in px.

    Pixel centres are at whole numbers, x to the right, y down. ``mat`` is the ruled mat below the hide, None
    where there was none.
    """

    image: Pixels
    pixels: Callable[[Points], Points]
    mat: Mat | None


@dataclass(frozen=True)
class _View:
    """The canvas: ``bottom`` px of words below the photograph."""

    pen: Pen
    seen: Seen
    bottom: float

    def px(self, points: Points) -> Points:
        """Points (n, 2) of the hide to the canvas, y up."""
        at = self.seen.pixels(points)
        return np.column_stack((at[:, 0] + 0.5, self.bottom + self.seen.image.shape[0] - at[:, 1] - 0.5))

    def at(self, point: Point) -> Point:
        """One point of the hide to the canvas."""
        x, y = self.px(np.array([point]))[0]
        return float(x), float(y)

    def ring(self, ring: Ring) -> Points:
        """A closed ring, with points close enough to follow the lens."""
        line = shapely.segmentize(shapely.LinearRing(flatten(ring, 0.1)), STEP_MM)
        return self.px(shapely.get_coordinates(line)[:-1])

    def path(self, points: Points) -> Points:
        """An open path, likewise."""
        return self.px(shapely.get_coordinates(shapely.segmentize(shapely.LineString(points), STEP_MM)))

    def turn(self, at: Point, angle_deg: float) -> tuple[float, float]:
        """Direction (degrees) and length (px) that a millimetre at a point of the hide is seen with."""
        way = 2.0 * np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
        ends = self.px(np.array(at) + np.array([-way, way]))
        dx, dy = ends[1] - ends[0]
        return math.degrees(math.atan2(dy, dx)), float(np.hypot(dx, dy)) / 4.0


def layout_over_photo(layout: Layout, drawing: HideDrawing, seen: Seen) -> bytes:
    """A PNG as large as the photograph, with a strip of words below: pieces, flaws and the mat's lines.

    Both of a pair have one tint; a piece turned over has a second line inside its outline; A and B are the
    points marked on the paper patterns. Faint lines carry the mat's own over the leather, numbered as
    ``Mat`` counts them.
    """
    rows, columns = seen.image.shape[:2]
    lines = _caption(layout, drawing, seen.mat, columns - 24.0)
    view = _View(Pen(columns, rows + round(STRIP_PX * len(lines)) + 8), seen, STRIP_PX * len(lines) + 8.0)
    view.pen.image(seen.image, view.bottom)
    if seen.mat is not None:
        _mat_lines(view, drawing, seen.mat)
    tints = palette.tints(tuple(piece.placement for piece in drawing.pieces))
    for piece in drawing.pieces:
        _piece(view, piece, tints[piece.placement.piece])
    _details(view, drawing)
    for piece in drawing.pieces:
        _names(view, layout, piece)
    for row, words in enumerate(reversed(lines)):
        bold = row == len(lines) - 1
        at = (12.0, 10.0 + STRIP_PX * row)
        view.pen.text(at, words, 17.0, palette.INK, "bold" if bold else "normal")
    return view.pen.png()


def _piece(view: _View, piece: PlacedPiece, tint: str) -> None:
    rings = [view.ring(ring) for ring in (piece.outline, *piece.cutouts)]
    view.pen.shape(rings, tint, "none", alpha=0.4)
    view.pen.shape(rings, "none", HALO, 5.0)
    view.pen.shape(rings, "none", palette.INK, 2.2)
    if piece.placement.pose.mirrored:
        inside = shapely.Polygon(flatten(piece.outline, 0.1)).buffer(-INNER_MM)
        for part in shapely.get_parts(inside):
            if isinstance(part, shapely.Polygon) and not part.is_empty:
                view.pen.line(view.path(shapely.get_coordinates(part.exterior)), palette.INK, 1.2)


def _details(view: _View, drawing: HideDrawing) -> None:
    """Holes, marks and lines of the pieces, and over them the flaws as they were measured."""
    for stroke in drawing.strokes:
        if isinstance(stroke, Circle):
            (x, y), r = stroke.at, stroke.diameter / 2
            view.pen.shape([view.ring(((x - r, y, 1.0), (x + r, y, 1.0)))], HALO, palette.INK, 1.2)
        elif isinstance(stroke, Dot):
            x, y = view.at(stroke.at)
            for arm in (np.array([(-5.0, 0.0), (5.0, 0.0)]), np.array([(0.0, -5.0), (0.0, 5.0)])):
                view.pen.line(arm + np.array((x, y)), palette.INK, 1.2)
        elif isinstance(stroke, Path) and stroke.layer == "line":
            view.pen.line(view.path(flat_path(stroke.points, 0.1)), palette.SOFT_INK, 1.2, (4.0, 3.0))
        elif isinstance(stroke, Loop) and stroke.role in FLAWS:
            view.pen.shape([view.ring(stroke.ring)], "none", FLAWS[stroke.role], 2.4)


def _names(view: _View, layout: Layout, piece: PlacedPiece) -> None:
    """The piece's name along it, and its points A and B."""
    label = piece.label
    points = reference_points(layout.panel_by_name[piece.placement.panel])
    middle = np.array(view.at(label.at))
    for name, point in zip("AB", points, strict=True):
        spot = np.array(view.at(piece.placement.pose.apply_point(point)))
        away = middle - spot
        step = away / max(1e-9, float(np.hypot(*away))) * 16.0
        view.pen.circle((float(spot[0]), float(spot[1])), 5.0, HALO, palette.INK, 1.6)
        if min(label.width, label.height) > 30.0:
            at = (float(spot[0] + step[0]), float(spot[1] + step[1]))
            view.pen.text(at, name, 15.0, palette.INK, "bold", "center", halo=HALO)
    _label(view, label)


def _label(view: _View, label: Label) -> None:
    turn, scale = view.turn(label.at, label.rotation_deg)
    wide, tall = 0.85 * scale * label.width, 0.85 * scale * label.height
    words = label.text if text_width(label.text, min(26.0, 0.6 * tall), "bold") <= wide else label.short
    size = max(11.0, min(26.0, 0.6 * tall, 26.0 * wide / max(1.0, text_width(words, 26.0, "bold"))))
    view.pen.text(view.at(label.at), words, size, palette.INK, "bold", "center", turn, HALO)


def _mat_lines(view: _View, drawing: HideDrawing, mat: Mat) -> None:
    """The mat's lines carried over the hide, each numbered beside it at both ends."""
    leather = shapely.Polygon(flatten(drawing.hide.outline, 0.5))
    box = np.array(leather.bounds).reshape(2, 2)
    _, scale = view.turn((float(box[:, 0].mean()), float(box[:, 1].mean())), 0.0)
    tight = min(mat.pitches)
    every = next(n for n in (1, 2, 5, 10, 20, 50, 100) if n * tight * scale >= LINE_SPACE_PX or n == 100)
    for axis, pitch in enumerate(mat.pitches):
        # Numbers of level lines stand further out, so that the two rows do not meet in the corners.
        reach = (0.6 + axis) * LINE_SPACE_PX / scale
        low, high = box[0, 1 - axis] - reach, box[1, 1 - axis] + reach
        last = int((box[1, axis] - mat.line(axis, 0)) / pitch)
        for number in range(0, last + 1, every):
            place = mat.line(axis, number)
            ends = np.array([(place, low), (place, high)] if axis == 0 else [(low, place), (high, place)])
            for part in shapely.get_parts(shapely.intersection(shapely.LineString(ends), leather)):
                view.pen.line(view.path(shapely.get_coordinates(part)), HALO, 1.4, (6.0, 4.0), alpha=0.75)
            # From the far end inward to beside the hide, where the photograph reaches less far.
            for end, inner in ((0, box[0, 1 - axis]), (1, box[1, 1 - axis])):
                way = np.linspace(ends[end], ends[end], 5)
                way[:, 1 - axis] = np.linspace(ends[end, 1 - axis], inner, 5)
                _number(view, str(number), view.px(way))


def _number(view: _View, words: str, places: Points) -> None:
    """A number at the first of the places (n, 2), px, that lies well within the photograph."""
    rows, columns = view.seen.image.shape[:2]
    low, high = np.array((14.0, view.bottom + 14.0)), np.array((columns - 14.0, view.bottom + rows - 14.0))
    for x, y in places[((places > low) & (places < high)).all(axis=1)][:1]:
        view.pen.text((float(x), float(y)), words, 16.0, palette.INK, "bold", "center", halo=HALO)


def _caption(layout: Layout, drawing: HideDrawing, mat: Mat | None, room: float) -> list[str]:
    truth = (
        "True only while the hide lies as it was photographed. A and B stand on the paper patterns; a piece "
        "with a second line is turned over."
    )
    if mat is not None:
        truth += f" Dashed: the mat's lines, {mat.words}, counted from the last left of and below the hide."
    words = (f"{layout.title}: {', '.join(hide_words(drawing.hide))}", truth)
    return [
        part for text in words for part in wrapped(text, lambda line: text_width(line, 17.0, "bold"), room)
    ]
