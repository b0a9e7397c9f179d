"""How the hide's face is seen in its photograph, kept with the hide: enough to draw on the picture again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nesting.capture.camera import Camera, image_frame
from nesting.capture.decode import Photo, read_photo
from nesting.capture.height import Stand
from nesting.errors import InputError
from nesting.files.hide import Hide, View
from nesting.rings import area

Points = NDArray[np.float64]

DIGITS = 12
SAME_SHARE = 1e-4
"""An outline whose area differs by more than this share from the one that was measured has been changed."""


def view_of(
    camera: Camera, pitch: float, to_mat: Points, stand: Stand, thickness: float, size: tuple[int, int]
) -> View:
    """The view of a hide's face, ``thickness`` mm above the mat, in a photograph of (width, height) px.

    ``camera`` takes the mat's mm, in units of ``pitch``, to px; ``to_mat`` (2,) mm the hide's points to the
    mat's. Raising the points to the leather's height only scales and shifts them, so that the whole way is
    one homography.
    """
    t = thickness / stand.height
    # The inverse of ``lowered``.
    scale, shift = 1.0 / (1.0 - t) / pitch, (to_mat - stand.foot * t) / (1.0 - t) / pitch
    whole = camera.homography @ np.array([[scale, 0.0, shift[0]], [0.0, scale, shift[1]], [0.0, 0.0, 1.0]])
    rows = [tuple(float(f"{v:.{DIGITS}g}") for v in row) for row in (whole / np.linalg.norm(whole)).tolist()]
    return View((rows[0], rows[1], rows[2]), camera.model, size)  # type: ignore[arg-type]


def camera_of(hide: Hide) -> Camera:
    """From the hide's mm to px of its photograph. Raises InputError for a hide that keeps no view."""
    if hide.measured is None or hide.measured.view is None:
        raise InputError(f'hide "{hide.name}" does not keep how its photograph was taken; measure it again')
    view = hide.measured.view
    centre, unit = image_frame(view.size)
    return Camera(np.array(view.homography), hide.measured.k1, view.lens, centre, unit)


def seen_again(path: Path, hide: Hide) -> tuple[Photo, Callable[[Points], Points]]:
    """The photograph that the hide was measured from, and where its points (n, 2) mm are seen, in px.

    Raises InputError where the hide keeps no view or its outline has been changed since.
    """
    camera = camera_of(hide)
    assert hide.measured is not None
    if abs(area(hide.outline) / hide.measured.inside_area_mm2 - 1.0) > SAME_SHARE:
        raise InputError(
            f'{path}: the outline of hide "{hide.name}" has been changed since it was measured; '
            "lay the order out on the hide as it was measured"
        )
    return read_photo(path), camera.project
