"""The picture to scale on the sheets of a hide: outline, flaws, pieces with their names, points A and B."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from nesting.files.layout import Layout
from nesting.output.ink import Ink, text_width_mm
from nesting.output.labels import upright
from nesting.output.palette import FLAW_LOOKS
from nesting.output.pattern import reference_points
from nesting.output.picture_hide import hatch, on_leather
from nesting.output.record import HideDrawing, PlacedPiece
from nesting.output.strokes import Box, Loop
from nesting.rings import Point, Points, Pose, flatten

EDGE_MM = 14.0
"""Above and below the hide in the picture, 4 of it above; what is measured from stands below."""
TALLEST_MM = 118.0
SMALL_MM = 10.0
"""Pieces smaller than this on the sheet have no room for letters beside their points."""
PIECE_FILL = "#ececec"


@dataclass(frozen=True)
class Picture:
    """A hide turned by ``pose``, at ``scale`` mm of paper per mm."""

    layout: Layout
    drawing: HideDrawing
    pose: Pose
    scale: float

    @property
    def outline(self) -> Points:
        """The hide's outline (n, 2) in mm, turned."""
        return self.pose.apply(flatten(self.drawing.hide.outline, 0.5))

    @property
    def tall(self) -> float:
        """Height of paper that it takes, mm."""
        return float(self.scale * np.ptp(self.outline[:, 1]) + EDGE_MM)

    def draw(self, ink: Ink, frame: Box, lines: Callable[[], None]) -> None:
        """In the frame (mm of paper); ``lines`` draws what is measured from, under the names."""
        outline = self.outline
        low, high = outline.min(axis=0), outline.max(axis=0)
        left = (low[0] + high[0]) / 2 - (frame[2] - frame[0]) / 2 / self.scale
        ink.window(frame, (float(left), float(low[1] - (EDGE_MM - 4.0) / self.scale)), self.scale)
        ink.line(outline, 0.4, closed=True)
        for piece in self.drawing.pieces:
            ink.line(self.pose.apply(flatten(piece.outline, 0.2)), 0.25, closed=True, fill=PIECE_FILL)
            for ring in piece.cutouts:
                ink.line(self.pose.apply(flatten(ring, 0.2)), 0.2, closed=True, fill="#ffffff")
        self._flaws(ink, shapely.Polygon(outline).buffer(0))
        lines()
        alike = _alike(self.drawing)
        for piece in self.drawing.pieces:
            self._points(ink, piece)
            self._name(ink, piece, piece.label.short in alike)
        ink.end_window()

    def _flaws(self, ink: Ink, leather: shapely.Geometry) -> None:
        for stroke in self.drawing.strokes:
            if isinstance(stroke, Loop) and stroke.role.startswith("flaw "):
                for zone in on_leather(self.pose.apply(flatten(stroke.ring, 0.5)), leather):
                    _flaw(ink, zone, stroke.role.removeprefix("flaw "), self.scale)

    def _points(self, ink: Ink, piece: PlacedPiece) -> None:
        """A and B, as they stand on the paper pattern."""
        at = self.pose.apply_point(piece.label.at)
        panel = self.layout.panel_by_name[piece.placement.panel]
        for name, point in zip("AB", reference_points(panel), strict=True):
            spot = np.array(self.pose.apply_point(piece.placement.pose.apply_point(point)))
            ink.circle(tuple(spot), 0.5 / self.scale, 0.2)
            inward = np.array(at) - spot
            step = inward / max(1e-9, float(np.hypot(*inward))) * 2.2 / self.scale
            if self.scale * piece.label.width > SMALL_MM:
                ink.text(tuple(spot + step), name, 1.3, align="centre")

    def _name(self, ink: Ink, piece: PlacedPiece, with_panel: bool) -> None:
        """The piece's number; its panel's name over it where another panel has a piece of that number."""
        label = piece.label
        at = self.pose.apply_point(label.at)
        turn = upright(label.rotation_deg + self.pose.rotation_deg)
        wide, high = self.scale * label.width, self.scale * label.height
        height = max(1.2, min(2.6, 0.4 * high, 0.8 * wide / (0.85 * len(label.short))))
        if with_panel and label.number:
            small = max(1.0, min(1.5, 1.5 * 0.9 * wide / text_width_mm(label.panel, 1.5)))
            up = (-math.sin(math.radians(turn)), math.cos(math.radians(turn)))
            ink.text(
                _moved(at, up, 0.7 * height / self.scale), label.panel, small, align="centre", turn_deg=turn
            )
            at = _moved(at, up, -0.8 * small / self.scale)
        ink.text(at, label.short, height, bold=True, align="centre", turn_deg=turn)


def picture(layout: Layout, drawing: HideDrawing, pose: Pose, room: float) -> Picture:
    """The picture as large as it may be in ``room`` mm of paper across."""
    size = np.ptp(pose.apply(flatten(drawing.hide.outline, 0.5)), axis=0)
    scale = min((room - 8.0) / size[0], (TALLEST_MM - EDGE_MM) / size[1])
    return Picture(layout, drawing, pose, float(scale))


def _alike(drawing: HideDrawing) -> set[str]:
    """Short names that pieces of several panels have."""
    panels: dict[str, set[str]] = defaultdict(set)
    for piece in drawing.pieces:
        panels[piece.label.short].add(piece.label.panel)
    return {short for short, names in panels.items() if len(names) > 1}


def _moved(at: Point, way: Point, by: float) -> Point:
    return at[0] + by * way[0], at[1] + by * way[1]


def _flaw(ink: Ink, outline: Points, severity: str, scale: float) -> None:
    angles = next(look.angles_deg for name, look in FLAW_LOOKS.items() if name == severity)
    for angle in angles:
        for part in hatch(outline, angle, 1.4 / scale):
            ink.line(part, 0.12)
    ink.line(outline, 0.25, closed=True)
