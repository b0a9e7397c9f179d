"""One photograph of a hide on a ruled mat to a measured hide that states its own doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.assembly import assembled
from nesting.capture.decode import Photo, read_photo
from nesting.capture.finer import finer_seed
from nesting.capture.grid_cells import cells
from nesting.capture.known import Known, confirm, pitch_from, points_known, scale_doubt
from nesting.capture.lattice import Lattice, grow
from nesting.capture.marks import find_holes, find_marks
from nesting.capture.measurement import NO_WISHES, Measurement, Progress, Trust, Wishes
from nesting.capture.outline import segment
from nesting.capture.pitches import Pitches, StatedPitch, mean_pitch, refuse_odd, stated_pitch, stretched
from nesting.capture.seeds import find_seeds
from nesting.capture.trust import hold_out, refuse_unseen, refuse_unsteady
from nesting.capture.undecided import find_undecided
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]


def measure_photograph(
    path: Path,
    pitch_mm: float | Pitches | StatedPitch | None,
    *,
    wishes: Wishes = NO_WISHES,
    known: Sequence[Known] = (),
    progress: Progress | None = None,
) -> Measurement:
    """Measure the hide on the photograph at ``path``; the mat's finest ruled lines are ``pitch_mm`` apart.

    Two pitches are across and up in the picture; how well they are known goes into the doubt. ``known``
    lengths between points of the picture confirm the pitch, or decide it where it is None. ``progress`` is
    called with what is done next. Raises InputError for a file that is no image and
    CaptureRefused, with the reason and the mend, for a photograph that cannot carry the measurement or that
    contradicts what is stated.
    """
    say = progress or (lambda _: None)
    say("reading the photograph")
    photo = read_photo(path)
    size = photo.size
    ends = points_known(known, photo)
    say("finding the mat's grid")
    lattice = find_lattice(photo)
    stated = stated_pitch(pitch_mm)
    pitches, pitch_share = _pitches(lattice, stated, ends)
    pitch = mean_pitch(pitches)
    say("finding the hide")
    segmented = segment(photo.image, lattice, pitch)
    sides = refuse_unseen(segmented, lattice, pitch, size)
    say("leaving out each side in turn")
    change, side = hold_out(segmented, lattice, pitch)
    refuse_unsteady(change, side)
    share = max(abs(change) / 100.0, 2e-4)
    lengths = float(np.hypot(0.5 * share, pitch_share))
    notes = confirm(lattice.camera, np.array(pitches), ends, lengths, _scale_words(stated, pitch))
    if stated is not None and ends:
        pitch_share = scale_doubt(lattice.camera, np.array(pitches), ends, pitch_share)
    say("looking for flaw marks")
    holes = find_holes(segmented)
    loops, open_marks = find_marks(segmented, holes)
    trust = Trust(
        sides, (change, side), share, tuple(notes), edge_mm=segmented.edge_mm, scale_share=2.0 * pitch_share
    )
    undecided = find_undecided(segmented, lattice.camera, pitch)
    framed = stretched(lattice, segmented, holes + loops, open_marks, pitches)
    found = assembled(photo, framed[0], framed[1].outline, pitch, wishes, trust, *framed[2:], undecided)
    return _over_mat(found, pitches)


def _over_mat(found: Measurement, pitches: Pitches) -> Measurement:
    """The hide knows where it lay over the mat's lines, so that a hand can measure from them."""
    assert found.hide.measured is not None
    x, y = found.to_mat.tolist()
    measured = replace(found.hide.measured, mat_pitch_mm=pitches, mat_offset_mm=(x, y))
    return replace(found, hide=replace(found.hide, measured=measured))


def _pitches(
    lattice: Lattice, stated: StatedPitch | None, ends: list[tuple[Points, Known]]
) -> tuple[Pitches, float]:
    """The two pitches (mm), and the relative deviation of lengths that comes from them."""
    if stated is not None:
        return stated.pitches, stated.share(np.ptp(lattice.labels, axis=0))
    if not ends:
        raise CaptureRefused(
            "the pitch of the mat is never guessed: state it, or a known distance between two points"
        )
    pitch, share = pitch_from(lattice.camera, ends)
    refuse_odd(pitch)
    return (pitch, pitch), share


def _scale_words(stated: StatedPitch | None, pitch: float) -> str:
    if stated is None:
        return f"a pitch of {pitch:.3f} mm"
    across, up = stated.pitches
    if across == up:
        return f"the pitch of {pitch:g} mm"
    return f"the pitches of {across:g} mm across and {up:g} mm up"


def find_lattice(photo: Photo) -> Lattice:
    """The mat's grid: the first seed that leads to a large lattice, on the finest lines there are."""
    image = cv.grey(photo.image)
    best: Lattice | None = None
    for seed in islice(find_seeds(image), 14):
        lattice = grow(image, seed)
        if lattice is not None and (best is None or len(lattice.labels) > len(best.labels)):
            best = lattice
            spread = np.ptp(lattice.points, axis=0) / [photo.image.shape[1], photo.image.shape[0]]
            if spread.min() > 0.45:
                break
    if best is None:
        raise CaptureRefused(
            "no ruled grid was found in the photograph; lay the hide on a mat ruled with evenly spaced "
            "lines, in even light, with the lines in focus"
        )
    for _ in range(2):
        finer = finer_seed(image, best, cells(best)[0])
        grown = None if finer is None else grow(image, finer)
        if grown is None or len(grown.labels) < len(best.labels):
            break
        best = grown
    return best


__all__ = ["Measurement", "Trust", "Wishes", "find_lattice", "measure_photograph"]
