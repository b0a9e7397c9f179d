"""Names of layers and groups to meanings; which ring lies in which; what is a circle."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from nesting.drawings.drawing import Stroke, on_layer, place
from nesting.rings import Point, Points, arc_of, area, flatten

ROUND_MM = 0.02

NOT_PART = (
    *("frame", "border", "sheet", "title", "grid", "ruler", "scale"),
    *("note", "remark", "text", "label", "dimension"),
)
"""Names of layers that hold no leather in either kind of drawing."""


def words_of(name: str) -> list[str]:
    """A layer's name as lower-case words; ``FlayCut_2`` is flay, cut."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name)
    return [word.lower() for word in re.findall(r"[^\W\d_]+", parted)]


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if re.search(r"(ch|sh|ss|x)es$", word):
        return word[:-2]
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


def first_word(name: str, words: Iterable[str]) -> str | None:
    """The first of ``words`` (or phrases) that the name holds as whole words."""
    said = f" {' '.join(map(_singular, words_of(name)))} "
    return next((word for word in words if f" {word} " in said), None)


@dataclass(frozen=True)
class Said:
    """What a name says: the meaning, the word that says it, and the whole name."""

    meaning: str
    word: str
    name: str


def said_by(names: Sequence[str], meanings: Mapping[str, Iterable[str]]) -> Said | None:
    """The meaning of the nearest name that has one; ``meanings`` are tried in their order."""
    for name in names:
        for meaning, words in meanings.items():
            if word := first_word(name, words):
                return Said(meaning, word, name)
    return None


@dataclass(frozen=True)
class Shape:
    """A closed stroke with its polygon and what its name says."""

    stroke: Stroke
    said: Said | None

    @cached_property
    def points(self) -> Points:
        """The ring flattened to 0.01 mm."""
        return flatten(self.stroke.vertices)

    @cached_property
    def polygon(self) -> shapely.Polygon:
        """The flattened ring; it may be invalid when the ring crosses itself."""
        return shapely.Polygon(self.points)

    @cached_property
    def valid(self) -> shapely.Geometry:
        """The polygon, or what it covers when it crosses itself: fit for questions of place."""
        shapely.prepare(self.polygon)
        return self.polygon if self.polygon.is_valid else shapely.make_valid(self.polygon)

    @cached_property
    def area(self) -> float:
        """Exact area in mm²."""
        return area(self.stroke.vertices)

    @property
    def size(self) -> tuple[float, float]:
        """Width and height in mm."""
        width, height = np.ptp(self.points, axis=0)
        return float(width), float(height)

    @property
    def meaning(self) -> str:
        """What the name says, or nothing."""
        return self.said.meaning if self.said else ""

    def where(self) -> str:
        """The ring in words: its layer, size and place."""
        width, height = self.size
        corner = (float(self.points[:, 0].min()), float(self.points[:, 1].min()))
        return f"the ring{on_layer(called(self.stroke))} of {width:.1f} x {height:.1f} mm at {place(corner)}"

    def share_in(self, other: Shape) -> float:
        """How much of this ring's inside lies in ``other``, 0 to 1."""
        return float(other.valid.intersection(self.valid).area / self.valid.area) if self.valid.area else 0.0

    def surrounds(self, other: Shape) -> bool:
        """True when this ring is the larger and runs around ``other``."""
        return self.area > other.area and other.share_in(self) > 0.99

    def touches(self, other: shapely.Geometry) -> bool:
        """True when the ring or its inside has a point in common with ``other``."""
        return bool(self.valid.intersects(other))

    def same_as(self, other: Shape) -> bool:
        """True when both rings run along each other within 0.02 mm."""
        if abs(self.area - other.area) > ROUND_MM * (self.polygon.length + 1.0):
            return False
        apart = shapely.hausdorff_distance(self.polygon.exterior, other.polygon.exterior, densify=0.1)
        return bool(apart <= ROUND_MM)


def called(stroke: Stroke) -> str:
    """The name a person knows a stroke by: its own, else its layer's."""
    return stroke.names[0] if stroke.names else stroke.layer


def shapes_of(loops: Iterable[Stroke], meanings: Mapping[str, Iterable[str]]) -> list[Shape]:
    """Closed strokes of at least three flattened points, the largest first."""
    shapes = [Shape(loop, said_by(loop.names, meanings)) for loop in loops]
    return sorted((s for s in shapes if len(s.points) > 2), key=lambda s: -s.area)


def circle_of(shape: Shape) -> tuple[Point, float] | None:
    """Centre and diameter of a ring that keeps within 0.02 mm of one circle, else None."""
    ring = shape.stroke.vertices
    if all(bulge for *_, bulge in ring):
        ends = ring[1:] + ring[:1]
        arcs = [arc_of(v[:2], w[:2], v[2])[:2] for v, w in zip(ring, ends, strict=True)]
        centre = np.array([c for c, _ in arcs]).mean(axis=0)
        radius = float(np.mean([r for _, r in arcs]))
    else:
        centre, radius = 0.5 * (shape.points.min(axis=0) + shape.points.max(axis=0)), 0.25 * sum(shape.size)
    closed = np.vstack((shape.points, shape.points[:1]))
    samples = np.vstack((closed, 0.5 * (closed[1:] + closed[:-1])))
    away = np.hypot(*(samples - centre).T)
    if np.abs(away - radius).max() > ROUND_MM:
        return None
    return (round(float(centre[0]), 6), round(float(centre[1]), 6)), round(2.0 * radius, 6)
