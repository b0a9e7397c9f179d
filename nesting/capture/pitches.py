"""A mat that is printed unevenly: its lines are further apart one way than the other.

Everything is measured with one pitch, the geometric mean, whose area is the true one; at the end the frame
is stretched to the two pitches.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from nesting.capture.lattice import Lattice
from nesting.capture.marks import Mark, OpenMark
from nesting.capture.outline import Segmented
from nesting.errors import InputError
from nesting.units import parse_length, split_sizes

Points = NDArray[np.float64]
Pitches = tuple[float, float]

MOST_UNEVEN = 0.05
LEAST_MM, MOST_MM = 2.0, 500.0


def parse_pitches(text: str) -> Pitches:
    """``1 in``, or ``25.4 mm x 25.2 mm`` across and up in the picture. Raises InputError."""
    parts = split_sizes(text)
    if len(parts) > 2:
        raise InputError(
            f'"{text}" is not understood; write one pitch, like 1 in, or two, like 25.4 mm x 25.2 mm'
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
    return across, up


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
