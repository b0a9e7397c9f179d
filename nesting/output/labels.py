"""Short names for pieces, and where on a piece its name fits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from nesting.files.layout import Placement
from nesting.rings import Point, Ring, flatten
from nesting.units import FT2_MM2

STRIP = 2.5
"""A piece at least so many times as long as wide carries its name along it."""


@dataclass(frozen=True)
class Label:
    """A piece's name in two parts, and the room for it.

    ``number`` is the part that tells pieces of one panel apart (``3 R``), empty when the piece's name
    does not begin with its panel's. ``width`` and ``height`` (mm) are the room around ``at`` along and
    across ``rotation_deg``, which keeps the text upright.
    """

    panel: str
    number: str
    at: Point
    rotation_deg: float
    width: float
    height: float

    @property
    def short(self) -> str:
        """The shortest name that tells the piece apart on the table."""
        return self.number or self.panel

    @property
    def text(self) -> str:
        """Panel and number."""
        return f"{self.panel} {self.number}".strip()


def label_of(placement: Placement, outline: Ring, holes: tuple[Ring, ...] = ()) -> Label:
    """The label of a placed piece; ``outline`` and ``holes`` (cut-outs, punches) are already on the hide."""
    panel, number = name_parts(placement.piece, placement.panel)
    body = shapely.Polygon(flatten(outline, 0.1), [flatten(ring, 0.1) for ring in holes])
    return _label(panel, number, body)


def remnant_label(remnant: shapely.Polygon, flaws: Sequence[Ring] = ()) -> Label:
    """The label of what is left to keep: its area, level, off the flaws where that can be."""
    marked = [shapely.Polygon(flatten(ring, 0.5)).buffer(0) for ring in flaws]
    clear = shapely.difference(remnant, shapely.union_all(marked))
    # A remnant may lie in a flaw wholly, as where every panel accepts it.
    body = remnant if clear.is_empty else max(shapely.get_parts(clear), key=lambda part: part.area)
    return _label("remnant", f"{remnant.area / float(FT2_MM2):.1f} ft²", body, 0.0)


def _label(panel: str, number: str, body: shapely.Polygon, turn: float | None = None) -> Label:
    at, radius = _middle(body)
    turn = _long_way(body) if turn is None else turn
    return Label(panel, number, at, turn, _chord(body, at, turn), 2 * radius)


def name_parts(piece: str, panel: str) -> tuple[str, str]:
    """``half-chap-03-R`` of panel ``half-chap`` gives ``("half-chap", "3 R")``."""
    if not piece.startswith(panel + "-"):
        return piece, ""
    parts = piece[len(panel) + 1 :].split("-")
    return panel, " ".join(part.lstrip("0") or "0" if part.isdigit() else part for part in parts)


def _middle(body: shapely.Polygon) -> tuple[Point, float]:
    """A point well inside and its distance from the edge: the centre of area where that will do."""
    spoke = shapely.maximum_inscribed_circle(body, tolerance=0.5)
    best = shapely.get_point(spoke, 0)
    radius = float(shapely.length(spoke))
    centre = body.centroid
    if body.contains(centre) and (clear := centre.distance(body.boundary)) >= 0.7 * radius:
        return (centre.x, centre.y), clear
    return (best.x, best.y), radius


def _long_way(body: shapely.Polygon) -> float:
    """Degrees along the body's long side when it is a strip, else 0: level words are the easiest to read."""
    corners = np.array(shapely.minimum_rotated_rectangle(body).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    if lengths.max() < STRIP * lengths.min():
        return 0.0
    dx, dy = sides[int(lengths.argmax())]
    return upright(math.degrees(math.atan2(dy, dx)))


def upright(angle_deg: float) -> float:
    """The same line's direction, above -75 and up to 105 degrees, so that text on it can be read.

    Words that stand about upright all read from below, whichever way they lean.
    """
    # Rounded, so that the last bit of an angle cannot turn a label over.
    turn = round(angle_deg, 6) % 180.0
    return turn - 180.0 if turn > 105.0 else turn


def _chord(body: shapely.Polygon, at: Point, turn_deg: float) -> float:
    """Twice the shorter way from ``at`` to the edge along the text's direction, mm."""
    reach = 2 * math.hypot(*(np.array(body.bounds[2:]) - body.bounds[:2]))
    dx, dy = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    ways = []
    for sign in (1, -1):
        ray = shapely.LineString([at, (at[0] + sign * reach * dx, at[1] + sign * reach * dy)])
        ways.append(shapely.Point(at).distance(shapely.intersection(ray, body.boundary)))
    return float(2 * min(ways))
