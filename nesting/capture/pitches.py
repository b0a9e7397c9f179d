"""A mat that is printed unevenly: its lines are further apart one way than the other.

Everything is measured with one pitch, the geometric mean, whose area is the true one; at the end the frame
is stretched to the two pitches.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.capture.known import tape_deviation
from nesting.capture.lattice import Lattice
from nesting.capture.marks import Mark, OpenMark
from nesting.capture.outline import Segmented
from nesting.errors import InputError
from nesting.units import parse_length, split_sizes

Points = NDArray[np.float64]
Pitches = tuple[float, float]

MOST_UNEVEN = 0.05
LEAST_MM, MOST_MM = 2.0, 500.0


@dataclass(frozen=True)
class StatedPitch:
    """``pitches`` across and up, mm, as a person states them, good to ``within_mm`` where that is stated."""

    pitches: Pitches
    within_mm: float | None = None

    def share(self, lines: Points) -> float:
        """Relative deviation of lengths; ``lines`` (2,) of the grid are seen across and up.

        Limits that are stated are taken as evenly spread between (JCGM 100:2008, clause 4.3.7). Else the
        pitch is taken to have been measured by tape over the grid that is seen: the longer way where one
        pitch is stated for both. The same tape errs both ways alike.
        """
        both = np.array(self.pitches)
        if self.within_mm is not None:
            return float((self.within_mm / np.sqrt(3.0) / both).mean())
        tape = np.array([tape_deviation(float(v)) / v for v in both * lines])
        return float(tape.min() if both[0] == both[1] else tape.mean())


def stated_pitch(pitch: float | Pitches | StatedPitch | None) -> StatedPitch | None:
    """A number for both ways, a pair, or a statement; None stays."""
    if pitch is None or isinstance(pitch, StatedPitch):
        return pitch
    return StatedPitch(pitch if isinstance(pitch, tuple) else (float(pitch), float(pitch)))


def parse_pitches(text: str) -> StatedPitch:
    """``1 in``, or ``25.4 mm x 25.2 mm`` across and up in the picture; ``1 in +/- 0.02 mm`` says how sure.

    Raises InputError.
    """
    plain, *limits = re.split(r"±|\+/-|\+-", text)
    parts = split_sizes(plain)
    if len(parts) > 2 or len(limits) > 1:
        raise InputError(
            f'"{text}" is not understood; write one pitch, like 1 in, or two, like 25.4 mm x 25.2 mm; '
            "and how sure it is, if you know, like 25.4 mm +/- 0.02 mm"
        )
    sizes = [parse_length(part, positive=True) for part in parts]
    across, up = sizes[0], sizes[-1]
    refuse_odd(across)
    refuse_odd(up)
    if abs(across / up - 1.0) > MOST_UNEVEN:
        raise InputError(
            f'"{text}": the two pitches differ by more than {MOST_UNEVEN:.0%}; they are for one mat that is '
            "printed a little unevenly; measure both again over a long stretch"
        )
    within = parse_length(limits[0], positive=True) if limits else None
    if within is not None and within > MOST_UNEVEN * min(across, up):
        raise InputError(
            f'"{text}": a pitch that is only good to {within:g} mm is too unsure to measure by; measure it '
            "over many lines and divide"
        )
    return StatedPitch((across, up), within)


def refuse_odd(pitch: float) -> None:
    """InputError for a pitch (mm) that no ruled mat has."""
    if not LEAST_MM <= pitch <= MOST_MM:
        raise InputError(f"{pitch:g} mm is not that of a ruled mat; give it like 1 in or 10 mm")


def mean_pitch(pitches: Pitches) -> float:
    """The one pitch (mm) that gives the same areas."""
    return pitches[0] if pitches[0] == pitches[1] else float(np.sqrt(pitches[0] * pitches[1]))


def stretched(
    lattice: Lattice, segmented: Segmented, marks: list[Mark], open_marks: list[OpenMark], pitches: Pitches
) -> tuple[Lattice, Segmented, list[Mark], list[OpenMark]]:
    """What was found with the mean pitch, in a frame stretched to the two pitches; areas stay.

    Only the outline of what was segmented is stretched: its plan image is no longer to be used beside it.
    """
    if pitches[0] == pitches[1]:
        return lattice, segmented, marks, open_marks
    ratio = np.array(pitches) / mean_pitch(pitches)
    camera = lattice.camera
    frame = replace(camera, homography=camera.homography @ np.diag([*(1.0 / ratio), 1.0]))
    return (
        replace(lattice, camera=frame, labels=lattice.labels * ratio),
        replace(segmented, outline=segmented.outline * ratio),
        [replace(mark, outline=mark.outline * ratio) for mark in marks],
        [_moved(mark, ratio) for mark in open_marks],
    )


def _moved(mark: OpenMark, ratio: Points) -> OpenMark:
    x, y = np.array(mark.at) * ratio
    return replace(mark, outline=mark.outline * ratio, at=(float(x), float(y)))
