"""The ruled mat under a photographed hide, as a frame to measure in."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.rings import Point


@dataclass(frozen=True)
class Mat:
    """Ruled lines ``pitch_mm`` apart both ways; ``offset`` takes a point of the hide to the mat's frame, mm.

    Lines are counted from the last ones left of and below the hide, which are 0.
    """

    pitch_mm: float
    offset: Point

    @property
    def first(self) -> tuple[int, int]:
        """The mat's own numbers of the lines that count as 0: the hide's frame begins at its box's corner."""
        return math.floor(self.offset[0] / self.pitch_mm), math.floor(self.offset[1] / self.pitch_mm)

    def count(self, point: Point) -> tuple[tuple[int, float], tuple[int, float]]:
        """Of a point of the hide: lines and the millimetres past the last of them, to the right and up."""
        found = []
        for value, offset, first in zip(point, self.offset, self.first, strict=True):
            # Rounded first, so that a place just short of a line is on it and not a whole pitch off.
            past = round(value + offset - first * self.pitch_mm, 1)
            lines = math.floor(past / self.pitch_mm + 1e-9)
            found.append((lines, max(0.0, past - lines * self.pitch_mm)))
        return found[0], found[1]

    def line(self, axis: int, number: int) -> float:
        """Where line ``number`` lies in the hide's frame, mm: upright lines for axis 0, level ones for 1."""
        return (self.first[axis] + number) * self.pitch_mm - self.offset[axis]
