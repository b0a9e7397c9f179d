"""Measuring without a ruled mat: between printed target sheets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture.anchors import Anchors
from nesting.capture.assembly import assembled
from nesting.capture.bundle import Bundle, Ends, Print, fit_bundle
from nesting.capture.camera import Camera
from nesting.capture.decode import Photo, read_photo
from nesting.capture.ground import Ground, refuse_out_of_ground, segment_on_ground
from nesting.capture.known import Known, known_ends, tape_deviation
from nesting.capture.marks import find_holes, find_marks
from nesting.capture.measurement import NO_WISHES, Measurement, Progress, Trust, Wishes
from nesting.capture.outline import Segmented
from nesting.capture.plan import local_scale
from nesting.capture.targets import FIELD_MM, PAPER_HIGH, PAPER_LOW, find_sheets
from nesting.capture.trust import LEAST_PX_PER_MM, refuse_unsteady, ring_area, thinned
from nesting.capture.undecided import find_undecided
from nesting.errors import CaptureRefused, InputError
from nesting.units import parse_length, split_sizes

Points = NDArray[np.float64]

RULER_MM = 0.25
"""Standard deviation of a ruler's reading of the printed field; no source."""
MOST_OFF = 0.06
"""A print that is further off its size is not that of the sheet."""


def parse_printed(text: str) -> Print:
    """What the printed field measures, ``179.5 mm x 215.6 mm`` across and along. Raises InputError."""
    parts = split_sizes(text)
    if len(parts) != 2:
        raise InputError(f'"{text}" is not understood; write both sizes, like "179.5 mm x 215.6 mm"')
    sizes = [parse_length(part, positive=True) for part in parts]
    shares = [size / should for size, should in zip(sizes, FIELD_MM, strict=True)]
    if max(abs(share - 1.0) for share in shares) > MOST_OFF:
        raise InputError(
            f'"{text}": the chequered field should measure {FIELD_MM[0]:g} mm x {FIELD_MM[1]:g} mm; '
            "measure it from outer edge to outer edge, and print again at 100 % if it is so far off"
        )
    logs = np.log(shares)
    off = RULER_MM / np.array(FIELD_MM)
    deviation = float(np.hypot(*off))
    return Print(float(logs.mean()), 0.5 * deviation, float(logs[0] - logs[1]), deviation)


def measure_with_targets(
    path: Path,
    *,
    printed: Print | None = None,
    known: Sequence[Known] = (),
    wishes: Wishes = NO_WISHES,
    progress: Progress | None = None,
) -> Measurement:
    """Measure the hide on the photograph at ``path``, which lies between at least four target sheets.

    ``printed`` is what a ruler says of the print; ``known`` are distances by tape, between the sheets'
    crosses or points of the picture. One of the two must be stated: nothing else says how large the print is.
    Raises InputError for what cannot be read, CaptureRefused for a photograph that cannot carry the
    measurement or that contradicts what is stated.
    """
    if printed is None and not known:
        raise InputError(
            "the size of the print is never guessed: state what its field measures, or a distance by tape"
        )
    say = progress or (lambda _: None)
    say("reading the photograph")
    photo = read_photo(path)
    size = photo.size
    say("finding the target sheets")
    sheets = find_sheets(photo.image)
    letters = [sheet.letter for sheet in sheets]
    ends = [(one, known_ends(one, photo, letters)) for one in known]
    bundle = fit_bundle(sheets, size, printed or Print(), ends)
    _refuse_contradiction(bundle, ends, printed)
    camera, turn = upright(bundle.camera, size)
    labels = bundle.corners() @ turn.T
    say("finding the hide")
    ground = _ground(bundle, turn)
    segmented = segment_on_ground(photo.image, camera, ground)
    refuse_out_of_ground(segmented, ground, "the target sheets")
    refuse_coarse(camera, segmented)
    say("leaving out each sheet in turn")
    change, letter = _held_out(bundle, segmented, camera, printed or Print(), ends)
    refuse_unsteady(
        change, f"sheet {letter}", "use more sheets, spread evenly around the hide, and flatten them"
    )
    share = area_share(bundle, camera, segmented)
    trust = Trust(
        {}, (change, f"sheet {letter}"), float(np.hypot(share, change / 200.0)), _notes(bundle, ends)
    )
    what = f"targets: {len(labels)} corners on sheets {', '.join(letters)}"
    anchors = Anchors(labels, np.vstack([s.points for s in sheets]), camera, what)
    say("looking for flaw marks")
    return finished(photo, anchors, segmented, wishes, trust)


def finished(
    photo: Photo, anchors: Anchors, segmented: Segmented, wishes: Wishes, trust: Trust
) -> Measurement:
    """The measured hide with its flaws, from its outline on a plain ground."""
    holes = find_holes(segmented)
    loops, open_marks = find_marks(segmented, holes)
    undecided = find_undecided(segmented, anchors.camera, 1.0)
    marks = holes + loops
    return assembled(photo, anchors, segmented.outline, 1.0, wishes, trust, marks, open_marks, undecided)


def area_share(bundle: Bundle, camera: Camera, segmented: Segmented) -> float:
    """Standard deviation of the area that comes from the fit, as a share of the area."""
    ring = thinned(segmented.outline)
    pixels = camera.project(ring)
    return bundle.deviation(lambda c: ring_area(c.unproject(pixels))) / ring_area(ring)


def refuse_coarse(camera: Camera, segmented: Segmented) -> None:
    """Raise CaptureRefused where there are too few pixels a millimetre."""
    scale = float(local_scale(camera, 1.0, segmented.outline.mean(axis=0)[None])[0])
    if scale < LEAST_PX_PER_MM:
        raise CaptureRefused(
            f"only {scale:.2f} pixels a millimetre, fewer than the {LEAST_PX_PER_MM:g} that an edge needs; "
            "go closer or use the camera's full resolution"
        )


def _refuse_contradiction(bundle: Bundle, ends: list[Ends], printed: Print | None) -> None:
    """Raise CaptureRefused where tape and print, or two tapes, do not agree."""
    for one, pixels in ends:
        off = bundle.distance(one, pixels) - one.length_mm
        doubt = 2.5 * tape_deviation(one.length_mm)
        scale = (
            0.0
            if pixels is None
            else float(local_scale(bundle.camera, 1.0, bundle.camera.unproject(pixels))[0])
        )
        doubt = doubt if pixels is None else float(np.hypot(doubt, 3.5 / scale))
        if abs(off) > doubt:
            raise CaptureRefused(
                f'"{one.text}" contradicts the rest by {off:+.1f} mm (± {doubt:.1f} mm is allowed): '
                "measure it again, and see that no sheet was moved between measuring and photographing"
            )
    if printed is None or not ends:
        return
    off = float(bundle.unknowns[9]) - printed.size
    if abs(off) > 2.5 * printed.size_deviation:
        raise CaptureRefused(
            f"by the known distance the print is {100 * (np.exp(bundle.unknowns[9]) - 1):+.2f} % off, "
            f"by the ruler {100 * (np.exp(printed.size) - 1):+.2f} %; measure both again"
        )


def upright(camera: Camera, size: tuple[int, int]) -> tuple[Camera, Points]:
    """The camera in a frame whose x runs to the right of the picture, and the turn (2, 2) to that frame."""
    middle = np.array([[(size[0] - 1) / 2.0, (size[1] - 1) / 2.0]])
    back, fore = camera.unproject(middle + np.array([[-1.0, 0.0], [1.0, 0.0]]))
    ahead = fore - back
    c, s = ahead / np.hypot(*ahead)
    turn = np.array([[c, s], [-s, c]])
    turned = np.eye(3)
    turned[:2, :2] = turn.T
    return Camera(camera.homography @ turned, camera.k1, camera.model, camera.centre, camera.unit), turn


def _ground(bundle: Bundle, turn: Points) -> Ground:
    (left, low), (right, high) = PAPER_LOW, PAPER_HIGH
    paper = np.array([[left, low], [right, low], [right, high], [left, high]])
    field = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * np.array(FIELD_MM)
    papers = [bundle.placed(k, paper) @ turn.T for k in range(len(bundle.sheets))]
    fields = np.vstack([bundle.placed(k, field) @ turn.T for k in range(len(bundle.sheets))])
    hull = shapely.MultiPoint(fields).convex_hull.buffer(15.0, join_style="mitre")
    return Ground(np.asarray(hull.exterior.coords)[:-1], tuple(papers))


def _held_out(
    bundle: Bundle, segmented: Segmented, camera: Camera, printed: Print, ends: list[Ends]
) -> tuple[float, str]:
    """Largest change of area (%) with one sheet left out, and its letter."""
    ring = thinned(segmented.outline)
    pixels, whole = camera.project(ring), ring_area(ring)
    # The print's size is no matter here: it is held where the whole fit has it.
    size, evenness = float(bundle.unknowns[9]), float(bundle.unknowns[10])
    held = Print(size, 1e-6, evenness, printed.evenness_deviation)
    worst, letter = 0.0, bundle.sheets[0].letter
    for out in bundle.sheets:
        rest = [sheet for sheet in bundle.sheets if sheet is not out]
        kept = [e for e in ends if out.letter not in e[0].ends]
        fit = fit_bundle(rest, bundle.size, held, kept, near=bundle)
        change = 100.0 * (ring_area(fit.camera.unproject(pixels)) / whole - 1.0)
        if abs(change) > abs(worst):
            worst, letter = change, out.letter
    return worst, letter


def _notes(bundle: Bundle, ends: list[Ends]) -> tuple[str, ...]:
    across, along = 100.0 * (np.exp(bundle.unknowns[9] + np.array([0.5, -0.5]) * bundle.unknowns[10]) - 1.0)
    said = [f"print: {across:+.2f} % across and {along:+.2f} % along, as fitted"]
    said += [
        f'"{one.text}" measures {bundle.distance(one, pixels):.1f} mm in the fit' for one, pixels in ends
    ]
    return tuple(said)


__all__ = ["area_share", "finished", "measure_with_targets", "parse_printed", "refuse_coarse", "upright"]
