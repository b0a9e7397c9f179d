"""The ruled mat under a photographed hide, as a frame to measure in."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nesting.files.hide import Hide
from nesting.rings import Point


@dataclass(frozen=True)
class Mat:
    """Ruled lines ``pitch_mm`` apart; ``offset`` takes a point of the hide to the mat's frame, mm.

    ``up_mm`` is the pitch upward where it is another than across. Lines are counted from the last ones
    left of and below the hide, which are 0.
    """

    pitch_mm: float
    offset: Point
    up_mm: float | None = None

    @property
    def pitches(self) -> Point:
        """From line to line across and up, mm."""
        return self.pitch_mm, self.pitch_mm if self.up_mm is None else self.up_mm

    @property
    def words(self) -> str:
        """``25.4 mm apart``, or both ways where they differ."""
        across, up = self.pitches
        apart = f"{across:.5g} mm" if across == up else f"{across:.5g} mm across and {up:.5g} mm up"
        return f"{apart} apart"

    @property
    def first(self) -> tuple[int, int]:
        """The mat's own numbers of the lines that count as 0: the hide's frame begins at its box's corner."""
        across, up = self.pitches
        return math.floor(self.offset[0] / across), math.floor(self.offset[1] / up)

    def count(self, point: Point) -> tuple[tuple[int, float], tuple[int, float]]:
        """Of a point of the hide: lines and the millimetres past the last of them, to the right and up."""
        found = []
        for value, offset, first, pitch in zip(point, self.offset, self.first, self.pitches, strict=True):
            # Rounded first, so that a place just short of a line is on it and not a whole pitch off.
            past = round(value + offset - first * pitch, 1)
            lines = math.floor(past / pitch + 1e-9)
            found.append((lines, max(0.0, past - lines * pitch)))
        return found[0], found[1]

    def line(self, axis: int, number: int) -> float:
        """Where line ``number`` lies in the hide's frame, mm: upright lines for axis 0, level ones for 1."""
        return (self.first[axis] + number) * self.pitches[axis] - self.offset[axis]


def mat_under(hide: Hide) -> Mat | None:
    """The mat that a hide was photographed on; None where there was none, or the file does not say."""
    measured = hide.measured
    if measured is None or measured.mat_pitch_mm is None or measured.mat_offset_mm is None:
        return None
    across, up = measured.mat_pitch_mm
    return Mat(across, measured.mat_offset_mm, None if across == up else up)
