"""From what was found on a photograph, whichever way it was measured, to the hide and its doubt."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture.anchors import Anchors
from nesting.capture.arrow import take_arrow
from nesting.capture.decode import Photo
from nesting.capture.flaws import flaws_of, look_of
from nesting.capture.height import find_stand, lowered
from nesting.capture.lattice import Lattice
from nesting.capture.marks import Mark, OpenMark
from nesting.capture.measurement import Measurement, Trust, Wishes
from nesting.capture.plan import local_scale
from nesting.capture.shape import Edge, clean_polygon, keep
from nesting.capture.trust import residuals
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
from nesting.capture.undecided import Undecided
from nesting.capture.view import view_of
from nesting.files.hide import Hide, Measured
from nesting.rings import ring_from_points

Points = NDArray[np.float64]

MARGIN_MM = 0.15


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
            f"a {look_of(mark)} mark of {mark.length:.0f} mm near x {x:.0f}, y {y:.0f} mm encloses nothing; "
            "only the mark itself is kept clear: close the loop and photograph again if it stands for more"
        )
    return tuple(notes), tuple(warnings)
