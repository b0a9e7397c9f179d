"""The photograph that a layout's hide was measured from, measured again to be drawn on."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nesting.files.layout import Layout
    from nesting.output.over_photo import Seen

LONG_SIDE = 2400


def seen_in(photo: Path, pitch: str | None, layout: Layout) -> tuple[int, Seen]:
    """The number of the hide that was measured from the photograph, and how it is seen there.

    Without a pitch by that of the hide file. Raises InputError when none of the layout's hides was measured
    from it, or the pitch is another than it was.
    """
    import numpy as np

    from nesting.capture import cv
    from nesting.capture.again import hide_of_photograph, measure_again
    from nesting.output.mat import mat_under
    from nesting.output.over_photo import Seen
    from nesting.units import parse_length

    pitch_mm = None if pitch is None else parse_length(pitch, positive=True)
    number = hide_of_photograph(photo, [laid.hide for laid in layout.hides])
    hide = layout.hides[number].hide
    found = measure_again(photo, pitch_mm, hide, lambda what: print(f"{what} ...", file=sys.stderr))
    # Found again, so that it is there for hides whose file does not tell.
    mat = mat_under(found.hide)
    assert mat is not None
    image = found.photo.image
    rows, columns = image.shape[:2]
    factor = min(1.0, LONG_SIDE / max(rows, columns))
    small = (
        cv.resize(image, round(columns * factor), round(rows * factor), area=True) if factor < 1.0 else image
    )
    # Resizing keeps the outer borders of pixels, hence the halves; OpenCV has blue first.
    return number, Seen(
        np.ascontiguousarray(small[:, :, ::-1]),
        lambda points: (found.pixels(points) + 0.5) * factor - 0.5,
        mat,
    )
