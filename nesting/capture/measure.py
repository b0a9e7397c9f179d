"""One photograph of a hide on a ruled mat to a measured hide that states its own doubt."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.anchors import Anchors
from nesting.capture.arrow import take_arrow
from nesting.capture.decode import Photo, read_photo
from nesting.capture.finer import finer_seed
from nesting.capture.flaws import flaws_of
from nesting.capture.height import Stand, find_stand, lowered
from nesting.capture.known import Known, confirm, on_picture, pitch_from, scale_doubt
from nesting.capture.lattice import Lattice, grow
from nesting.capture.marks import Mark, OpenMark, find_holes, find_marks
from nesting.capture.outline import cells, segment
from nesting.capture.pitches import Pitches, StatedPitch, mean_pitch, refuse_odd, stated_pitch, stretched
from nesting.capture.plan import local_scale
from nesting.capture.seeds import find_seeds
from nesting.capture.shape import Edge, Kept, clean_polygon, keep
from nesting.capture.trust import hold_out, refuse_unseen, refuse_unsteady, residuals
from nesting.capture.uncertainty import (
    LARGE_SHARE,
    USUAL_THICKNESS,
    area_parts,
    combined,
    edge_deviation,
    mask_deviation,
    thickness_of,
    without_wall,
)
from nesting.capture.undecided import Undecided, find_undecided
from nesting.capture.view import view_of
from nesting.errors import CaptureRefused
from nesting.files.hide import Hide, Measured, Severity
from nesting.rings import ring_from_points

Points = NDArray[np.float64]
Progress = Callable[[str], None]

MARGIN_MM = 0.15


@dataclass(frozen=True)
class Measurement:
    """A measured hide with everything a person needs to judge it.

    ``to_mat`` (2,) is added to the hide's coordinates to reach the mat's (x = i · pitch, y = j · pitch)
    at the leather's height; ``outline_pixels`` (n, 2) is the outline as seen in the photograph. Where
    there is no ruled mat, ``lattice`` holds the points of known place, in mm, and ``pitch_mm`` is 1.
    """

    hide: Hide
    photo: Photo
    lattice: Lattice | Anchors
    stand: Stand
    pitch_mm: float
    thickness_mm: float
    to_mat: Points
    outline_pixels: Points
    open_marks: tuple[OpenMark, ...]
    sides: Mapping[str, float]
    holdout_side: str
    residual_p95_px: float
    straight_edges: tuple[Edge, ...]
    doubts: Mapping[str, float] = field(default_factory=dict)
    """The parts of the area's doubt by cause: one standard deviation each, mm²."""
    undecided_pixels: Points = field(default_factory=lambda: np.zeros((0, 2)))
    """Places (n, 2) px of the photograph that could be leather or mat."""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def pixels(self, points: Points) -> Points:
        """Points (n, 2) of the hide, in mm, to where they are seen in the photograph, in px."""
        raised = points + self.to_mat
        t = self.thickness_mm / self.stand.height
        # The inverse of ``lowered``.
        seen = (raised - self.stand.foot * t) / (1.0 - t)
        return self.lattice.camera.project(seen / self.pitch_mm)


@dataclass(frozen=True)
class Wishes:
    """What the person states: name and weight of the hide, thickness (mm), severities by stroke colour.

    ``spine_colour`` is the colour of an arrow drawn along the backbone, in no other use.
    """

    name: str = "hide"
    weight_oz: tuple[float, float] | None = None
    thickness_mm: float | None = None
    severity: Mapping[str, Severity] = field(default_factory=dict)
    spine_colour: str | None = None


@dataclass(frozen=True)
class Trust:
    """How far the frame of the measurement may be trusted.

    ``sides`` are shares of the hide's sides that show grid; ``held`` the largest change of area (%) with a
    part of the evidence left out, and which part, None where nothing can be left out; ``share`` the standard
    deviation of the area, as a share of it, that comes from the frame, and ``scale_share`` that of the mat's
    pitch; ``edge_mm`` how far all of the outline may lie in or out.
    """

    sides: Mapping[str, float]
    held: tuple[float, str] | None
    share: float
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    edge_mm: float | None = None
    scale_share: float = 0.0


def measure_photograph(
    path: Path,
    pitch_mm: float | Pitches | StatedPitch | None,
    *,
    name: str = "hide",
    weight_oz: tuple[float, float] | None = None,
    thickness_mm: float | None = None,
    severity: Mapping[str, Severity] | None = None,
    spine_colour: str | None = None,
    known: Sequence[Known] = (),
    progress: Progress | None = None,
) -> Measurement:
    """Measure the hide on the photograph at ``path``; the mat's finest ruled lines are ``pitch_mm`` apart.

    Two pitches are across and up in the picture; how well they are known goes into the doubt. ``known``
    lengths between points of the picture confirm the pitch, or decide it where it is None.
    ``severity`` maps colours of flaw strokes ("red") to severities;
    others are ``weak``. ``progress`` is called with what is done next. Raises InputError for a file that is
    no image and CaptureRefused, with the reason and the mend, for a photograph that cannot carry the
    measurement or that contradicts what is stated.
    """
    say = progress or (lambda _: None)
    wishes = Wishes(name, weight_oz, thickness_mm, severity or {}, spine_colour)
    say("reading the photograph")
    photo = read_photo(path)
    size = photo.size
    ends = _ends(known, photo, size)
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


def _ends(known: Sequence[Known], photo: Photo, size: tuple[int, int]) -> list[tuple[Points, Known]]:
    """The known lengths with their ends (2, 2) in px of the image as read."""
    found = []
    for one in known:
        pixels = one.pixels
        if pixels is None:
            raise CaptureRefused(
                f'"{one.text}" names sheets, but on a ruled mat there are none; give two points instead'
            )
        found.append((on_picture(pixels, photo.halved, size, "--known"), one))
    return found


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


def assembled(
    photo: Photo, lattice: Lattice | Anchors, outline_on_mat: Points, pitch: float, wishes: Wishes,
    trust: Trust, marks: list[Mark], open_marks: list[OpenMark], undecided: Undecided,
) -> Measurement:  # fmt: skip
    """The measured hide from what was found: outline (n, 2) and marks in mm as seen against the mat.

    ``undecided`` is what could be leather or mat. Raises CaptureRefused where an arrow for the spine is
    wished and none was drawn.
    """
    arrow = None
    if wishes.spine_colour is not None:
        arrow, marks, open_marks = take_arrow(wishes.spine_colour, marks, open_marks)
    rms, p95 = residuals(lattice)
    stand = find_stand(lattice.camera, pitch, rms, len(lattice.labels), photo.focal_35mm)
    stated = thickness_of(wishes.thickness_mm, wishes.weight_oz)
    thickness = stated[0]
    ring = lowered(outline_on_mat, stand, thickness)
    polygon = clean_polygon(without_wall(ring, stand, thickness))
    kept = keep(polygon, MARGIN_MM)
    corner = kept.outline.min(axis=0)
    outline = kept.outline - corner
    scale = float(local_scale(lattice.camera, pitch, outline_on_mat.mean(axis=0)[None])[0])
    edge_mm = edge_deviation(trust.edge_mm, scale)
    parts = area_parts(polygon, ring, trust.share, edge_mm, stand, stated)
    parts |= {"mask": mask_deviation(undecided.area_mm2), "pitch": float(polygon.area) * trust.scale_share}
    measured = Measured(
        best_area_mm2=float(polygon.area),
        inside_area_mm2=float(shapely.Polygon(outline).area),
        area_u_mm2=2.0 * combined(parts),
        px_per_mm=scale,
        k1=lattice.camera.k1,
        residual_px=rms,
        holdout_area_pct=None if trust.held is None else trust.held[0],
        thickness_mm=thickness,
        undecided_mm=undecided.length_mm,
        image_sha256=photo.sha256,
        view=view_of(lattice.camera, pitch, corner, stand, thickness, photo.size),
    )
    flaws = flaws_of(marks, open_marks, wishes.severity, stand, thickness, corner, outline)
    straight = tuple(_moved(e, corner) for e in kept.straight)
    hide = Hide(
        name=wishes.name, outline=ring_from_points(outline), weight_oz=wishes.weight_oz,
        straight_edges=straight, flaws=flaws, measured=measured,
        spine=None if arrow is None else _segment(lowered(arrow, stand, thickness) - corner),
    )  # fmt: skip
    notes, warnings = _remarks(photo, lattice, measured, wishes, trust, open_marks, corner)
    if parts["mask"] > LARGE_SHARE * measured.best_area_mm2:
        warnings = (*warnings, _undecided_words(undecided, measured))
    return Measurement(
        hide, photo, lattice, stand, pitch, thickness, corner,
        lattice.camera.project(outline_on_mat / pitch), tuple(open_marks), trust.sides,
        "none" if trust.held is None else trust.held[1], p95, straight, parts, undecided.pixels,
        notes, warnings,
    )  # fmt: skip


def _segment(ends: Points) -> Edge:
    (x0, y0), (x1, y1) = ends.tolist()
    return (x0, y0), (x1, y1)


def _moved(edge: Edge, corner: Points) -> Edge:
    (x0, y0), (x1, y1) = edge
    x, y = float(corner[0]), float(corner[1])
    return (x0 - x, y0 - y), (x1 - x, y1 - y)


def _undecided_words(undecided: Undecided, measured: Measured) -> str:
    return (
        f"{undecided.area_mm2 / 100:.0f} cm² along the edge "
        f"({undecided.area_mm2 / measured.best_area_mm2:.1%}) could be leather or mat (shadow, glare, or "
        "leather of the mat's colour) and widen the doubt; they are dotted green on the overlay: look "
        "there, or photograph again in even light or on a mat of another colour"
    )


def _remarks(
    photo: Photo, lattice: Lattice | Anchors, measured: Measured, wishes: Wishes, trust: Trust,
    open_marks: list[OpenMark], corner: Points,
) -> tuple[tuple[str, ...], tuple[str, ...]]:  # fmt: skip
    notes, warnings = [*trust.notes], [*trust.warnings]
    if isinstance(lattice, Anchors):
        notes.insert(0, lattice.what)
    else:
        lines = "light" if lattice.sign > 0 else "dark"
        notes.insert(0, f"grid: {len(lattice.labels)} intersections, {lines} lines")
    if photo.halved:
        notes.append("the photograph is large; it was read at half its resolution")
    if wishes.thickness_mm is None and wishes.weight_oz is None:
        warnings.append(
            f"no weight or thickness was given: {USUAL_THICKNESS[0]:g} mm is assumed, "
            "which widens the uncertainty; "
            'state it with --weight "4-5 oz" or --thickness "2 mm"'
        )
    for side, share in trust.sides.items():
        if share < 0.5:
            warnings.append(
                f"little grid shows on the {side} of the hide; the other three sides carry the measurement"
            )
    for mark in open_marks:
        x, y = mark.at[0] - corner[0], mark.at[1] - corner[1]
        warnings.append(
            f"a {mark.colour} mark of {mark.length:.0f} mm near x {x:.0f}, y {y:.0f} mm encloses nothing; "
            "only the mark itself is kept clear: close the loop and photograph again if it stands for more"
        )
    return tuple(notes), tuple(warnings)


__all__ = ["Kept", "Measurement", "Trust", "Wishes", "assembled", "find_lattice", "measure_photograph"]
