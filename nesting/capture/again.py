"""The photograph that a hide was measured from; and its camera found again, where the hide keeps no view."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from pathlib import Path

import shapely

from nesting.capture.measure import measure_photograph
from nesting.capture.measurement import Measurement, Progress, Wishes
from nesting.capture.pitches import mean_pitch
from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.rings import area, flatten

SAME_AREA = 1e-3
"""A pitch stated otherwise than before changes the area by more than this share."""
SAME_OUTLINE_MM = 0.5
"""The same photograph, pitch and thickness give the same outline, but for how files round it."""


def hide_of_photograph(path: Path, hides: Sequence[Hide]) -> int:
    """Which of the hides was measured from the photograph. Raises InputError when none was."""
    try:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as error:
        raise InputError(f"{path}: {error.strerror}; check the name of the photograph") from error
    for i, hide in enumerate(hides):
        if hide.measured is not None and hide.measured.image_sha256 == digest:
            return i
    names = ", ".join(f'"{hide.name}"' for hide in hides) or "none"
    raise InputError(
        f"{path}: no hide of the layout ({names}) was measured from this photograph; give the very file that "
        "the hide was measured from, not a copy saved anew"
    )


def measure_again(
    path: Path, pitch_mm: float | None, hide: Hide, progress: Progress | None = None
) -> Measurement:
    """The photograph measured as it was for ``hide``, so that the hide's points can be found in it.

    Without a pitch by the one that the hide remembers. Raises InputError when there is none, the pitch is
    another or the hide has been changed since, CaptureRefused where the photograph cannot be measured.
    """
    if hide.measured is None:
        raise InputError(
            f'hide "{hide.name}" was not measured from a photograph; there is nothing to find again'
        )
    pitch = hide.measured.mat_pitch_mm if pitch_mm is None else pitch_mm
    if pitch is None:
        raise InputError(
            f'hide "{hide.name}" does not say how far apart the mat\'s lines were; state it: --pitch "1 in" '
            "(a hide from before its view was kept, and without a ruled mat, must be measured anew)"
        )
    wishes = Wishes(name=hide.name, thickness_mm=hide.measured.thickness_mm)
    found = measure_photograph(path, pitch, wishes=wishes, progress=progress)
    assert found.hide.measured is not None
    share = hide.measured.best_area_mm2 / found.hide.measured.best_area_mm2
    if abs(share - 1.0) > SAME_AREA:
        stated = mean_pitch((pitch, pitch) if isinstance(pitch, float) else pitch)
        raise InputError(
            f'{path}: with a pitch of {stated:g} mm the area is not that of hide "{hide.name}"; state the '
            f"pitch that it was measured with (about {stated * share**0.5:.4g} mm)"
        )
    now, before = (shapely.LinearRing(flatten(ring)) for ring in (found.hide.outline, hide.outline))
    if shapely.hausdorff_distance(now, before) > SAME_OUTLINE_MM:
        size = f"{area(hide.outline) / 1e4:.1f} dm2"
        raise InputError(
            f'{path}: the outline of hide "{hide.name}" ({size}) has been changed since it was measured; '
            "lay the order out on the hide as it was measured"
        )
    return found
