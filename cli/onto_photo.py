"""The photograph that a layout's hide was measured from, to be drawn on."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from cli.drawn import typed

if TYPE_CHECKING:
    from collections.abc import Callable

    from nesting.files.hide import Hide
    from nesting.files.layout import Layout
    from nesting.output.mat import Mat
    from nesting.output.over_photo import Seen
    from nesting.output.pen import Pixels
    from nesting.rings import Points

LONG_SIDE = 2400
SAME_PITCH = 1e-3
"""A pitch stated otherwise than the hide's by no more than this share is the same."""


def seen_in(photo: Path, pitch: str | None, layout: Layout) -> tuple[int, Seen]:
    """The number of the hide that was measured from the photograph, and how it is seen there.

    By the view that the hide keeps; a hide from before that was kept is measured again, without a pitch by
    that of its file. Raises InputError when none of the layout's hides was measured from it, or the pitch is
    another than it was.
    """
    import numpy as np

    from nesting.capture import cv
    from nesting.capture.again import hide_of_photograph
    from nesting.output.over_photo import Seen
    from nesting.units import parse_length

    pitch_mm = None if pitch is None else typed(partial(parse_length, positive=True), pitch, "--pitch")
    number = hide_of_photograph(photo, [laid.hide for laid in layout.hides])
    image, pixels, mat = _found(photo, pitch_mm, layout.hides[number].hide)
    rows, columns = image.shape[:2]
    factor = min(1.0, LONG_SIDE / max(rows, columns))
    small = (
        cv.resize(image, round(columns * factor), round(rows * factor), area=True) if factor < 1.0 else image
    )
    # Resizing keeps the outer borders of pixels, hence the halves; OpenCV has blue first.
    return number, Seen(
        np.ascontiguousarray(small[:, :, ::-1]),
        lambda points: (pixels(points) + 0.5) * factor - 0.5,
        mat,
    )


def _found(
    photo: Path, pitch_mm: float | None, hide: Hide
) -> tuple[Pixels, Callable[[Points], Points], Mat | None]:
    """The photograph (BGR), where points of the hide are seen in it, and the mat below, if there was one."""
    from nesting.capture.again import measure_again
    from nesting.capture.view import seen_again
    from nesting.errors import InputError
    from nesting.output.mat import mat_under

    if hide.measured is None or hide.measured.view is None:
        found = measure_again(photo, pitch_mm, hide, lambda what: print(f"{what} ...", file=sys.stderr))
        # Found again, so that it is there for hides whose file does not tell.
        return found.photo.image, found.pixels, mat_under(found.hide)
    mat = mat_under(hide)
    if pitch_mm is not None and (mat is None or abs(pitch_mm / max(mat.pitches) - 1.0) > SAME_PITCH):
        was = "without a ruled mat" if mat is None else f"on a mat of lines {mat.words}"
        raise InputError(f'--pitch: hide "{hide.name}" was measured {was}; leave --pitch out')
    seen, pixels = seen_again(photo, hide)
    return seen.image, pixels, mat
