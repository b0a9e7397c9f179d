"""Measuring by four points of a rectangle of known sides, on any photograph.

Four points fix the view of a plane and leave nothing to test it by: the lens's distortion cannot be seen and
goes into the doubt, unless known distances within the picture tell it.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nesting.capture.anchors import Anchors
from nesting.capture.bundle import MOST_RADIAL, REACH_MM, Bundle, bundle_camera
from nesting.capture.camera import dlt, image_frame
from nesting.capture.decode import read_photo
from nesting.capture.ground import Ground, refuse_out_of_ground, segment_on_ground
from nesting.capture.known import POINT_PX, Known, on_picture, parse_point, points_known, tape_deviation
from nesting.capture.measurement import NO_WISHES, Measurement, Progress, Trust, Wishes
from nesting.capture.on_plain import area_share, finished, refuse_coarse, upright
from nesting.capture.plan import local_scale
from nesting.errors import CaptureRefused, InputError
from nesting.units import parse_length, split_sizes

Points = NDArray[np.float64]

LENS_DEVIATION = 0.05
"""Standard deviation of the radial term at the picture's corner where nothing is known of the lens: phones
straighten most of it themselves; no source."""
INSET_MM = 6.0
MOST_SLANT = 1.5
"""Largest ratio of the scales along two directions in the middle of the picture: tilted by 48 degrees."""


def parse_corners(text: str) -> Points:
    """Four points (4, 2) px from ``x,y x,y x,y x,y``. Raises InputError."""
    points = [parse_point(part) for part in text.split()]
    if len(points) != 4 or None in points:
        raise InputError(
            f'"{text}" is not four points of the picture; write them in turn around, like '
            '"412,380 3610,402 3580,2710 390,2650"'
        )
    corners = np.array(points, float)
    turns = [_turn(np.roll(corners, -k, axis=0)[:3]) for k in range(4)]
    if min(abs(t) for t in turns) < 1.0 or len({t > 0 for t in turns}) > 1:
        raise InputError(f'"{text}": the four points do not go around; name one corner after its neighbour')
    return corners


def _turn(three: Points) -> float:
    a, b = three[1] - three[0], three[2] - three[1]
    return float(a[0] * b[1] - a[1] * b[0])


def parse_rectangle(text: str) -> tuple[float, float]:
    """Two sides in mm from ``900 mm x 600 mm``. Raises InputError."""
    parts = split_sizes(text)
    if len(parts) != 2:
        raise InputError(f'"{text}" is not understood; write both sides, like "900 mm x 600 mm"')
    one, other = (parse_length(part, positive=True) for part in parts)
    if min(one, other) < 100.0 or max(one, other) > 10_000.0:
        raise InputError(f'"{text}": a rectangle to measure by has sides of 100 mm to 10 m')
    return one, other


def measure_with_corners(
    path: Path,
    corners: Points,
    sides: tuple[float, float],
    *,
    known: Sequence[Known] = (),
    wishes: Wishes = NO_WISHES,
    progress: Progress | None = None,
) -> Measurement:
    """Measure the hide on a plain ground within a rectangle on the photograph at ``path``.

    ``corners`` (4, 2) px of the picture go around it, either way; ``sides`` mm are those from the first to
    the second corner and from the second to the third. ``known`` distances between points of the picture test
    the fit and narrow its doubt: one across the middle tells the lens. Raises InputError for what cannot be
    read, CaptureRefused where the photograph cannot carry the measurement or contradicts what is stated.
    """
    say = progress or (lambda _: None)
    say("reading the photograph")
    photo = read_photo(path)
    size = photo.size
    points = on_picture(corners, photo.halved, size, "--corners")
    ends = [(one, pixels) for pixels, one in points_known(known, photo)]
    bundle = fit_rectangle(points, sides, size, ends)
    notes = _agreeing(bundle, ends)
    camera, turn = upright(bundle.camera, size)
    _refuse_slanted(bundle, sides)
    labels = _rectangle(bundle.unknowns, points) @ turn.T
    say("finding the hide")
    ground = Ground(_inset(labels))
    segmented = segment_on_ground(photo.image, camera, ground)
    refuse_out_of_ground(segmented, ground, "the four corners")
    refuse_coarse(camera, segmented)
    share = area_share(bundle, camera, segmented)
    warning = (
        f"four points cannot show the lens's distortion: the area may be {200 * share:.1f} % off for this "
        "alone; state a distance between two marks on the ground at half height, left and right of it, as in "
        '--known "310,1420 3690,1400 900 mm", and the lens is found'
    )
    trust = Trust({}, None, share, tuple(notes), (warning,) if share > 0.004 else ())
    anchors = Anchors(labels, points, camera, f"rectangle of {sides[0]:g} mm x {sides[1]:g} mm")
    say("looking for flaw marks")
    return finished(photo, anchors, segmented, wishes, trust)


def fit_rectangle(
    points: Points, sides: tuple[float, float], size: tuple[int, int], known: Sequence[tuple[Known, Points]]
) -> Bundle:
    """Camera and sides that agree best with the four points (4, 2) px, the tape and the known distances."""
    from scipy.optimize import least_squares

    centre, unit = image_frame(size)
    h = dlt(_signed(points) * sides / REACH_MM, (points - centre) / unit)
    start = np.array([*(h / h[2, 2]).ravel()[:8], 0.0, 0.0, *np.log(sides)])
    tape = np.array([tape_deviation(side) / side for side in sides])

    def residuals(p: Points) -> Points:
        camera = bundle_camera(p, "brown", size)
        seen = np.nan_to_num((camera.project(_rectangle(p, points)) - points) / POINT_PX, nan=1e3).ravel()
        # Nothing is printed here: its size is held.
        prior = [p[8] / LENS_DEVIATION, p[9] / 1e-9, *((p[10:12] - np.log(sides)) / tape)]
        told = [
            (_length(p, size, at) - one.length_mm) / known_deviation(p, size, one, at) for one, at in known
        ]
        return np.concatenate((seen, prior, told))

    reach = np.full(len(start), np.inf)
    reach[8] = MOST_RADIAL
    found = least_squares(residuals, start, x_scale="jac", bounds=(-reach, reach), xtol=1e-13, ftol=1e-13)
    covariance = np.linalg.pinv(found.jac.T @ found.jac, rcond=1e-16, hermitian=True)
    return Bundle((), size, "brown", found.x, np.asarray(covariance, np.float64), float(found.cost))


def known_deviation(p: Points, size: tuple[int, int], one: Known, at: Points) -> float:
    """Standard deviation (mm) of a known distance: the tape's, and that of its two points."""
    camera = bundle_camera(p, "brown", size)
    scales = local_scale(camera, 1.0, camera.unproject(at))
    return float(np.hypot(tape_deviation(one.length_mm), POINT_PX * np.hypot(*(1.0 / scales))))


def _length(p: Points, size: tuple[int, int], at: Points) -> float:
    a, b = bundle_camera(p, "brown", size).unproject(at)
    return float(np.hypot(*(b - a)))


def _signed(points: Points) -> Points:
    """The unit square's corners as the points go around it; below the first side when they go clockwise."""
    up = -1.0 if _turn(points[:3]) > 0 else 1.0
    return np.array([[0.0, 0.0], [1.0, 0.0], [1.0, up], [0.0, up]])


def _rectangle(p: Points, points: Points) -> Points:
    return np.asarray(_signed(points) * np.exp(p[10:12]), np.float64)


def _agreeing(bundle: Bundle, known: list[tuple[Known, Points]]) -> list[str]:
    """A sentence for each known distance; raises CaptureRefused for one that is too far off."""
    said = []
    for one, at in known:
        length = _length(bundle.unknowns, bundle.size, at)
        doubt = 2.5 * known_deviation(bundle.unknowns, bundle.size, one, at)
        if abs(length - one.length_mm) > doubt:
            raise CaptureRefused(
                f'"{one.text}" measures {length:.1f} mm within the rectangle (± {doubt:.1f} mm is allowed): '
                "check the four corners, the two sides and this distance, all on the same flat ground"
            )
        said.append(f'"{one.text}" measures {length:.1f} mm in the fit')
    return said


def _refuse_slanted(bundle: Bundle, sides: tuple[float, float]) -> None:
    """Raise CaptureRefused where the sides could only be seen so from a very low camera."""
    middle = bundle.camera.unproject(bundle.camera.centre[None])
    u, v = (step[0] for step in bundle.camera.steps(middle))
    values = np.linalg.svd(np.column_stack((u, v)), compute_uv=False)
    if values[0] > MOST_SLANT * values[1]:
        tilt = np.degrees(np.arccos(values[1] / values[0]))
        raise CaptureRefused(
            f"with sides of {sides[0]:g} mm and {sides[1]:g} mm the camera would have looked {tilt:.0f} "
            "degrees askew: the first side runs from the first to the second corner, so check the order, or "
            "photograph from further above"
        )


def _inset(rectangle: Points) -> Points:
    middle = rectangle.mean(axis=0)
    away = rectangle - middle
    return np.asarray(
        middle + away * (1.0 - INSET_MM * np.sqrt(2.0) / np.hypot(*away.T))[:, None], np.float64
    )


__all__ = ["fit_rectangle", "measure_with_corners", "parse_corners", "parse_rectangle"]
