"""The rules of place: inside the hide, apart from each other, clear of flaws."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.files.hide import SEVERITIES, Flaw, Severity
from nesting.files.order import Cutting
from nesting.judge.edges import portions
from nesting.judge.scene import Pattern, Piece, Scene
from nesting.judge.shapes import laid, polygon

TOLERANCE_MM = 0.02
"""The contract's tolerance: a distance may be short of its rule by this much."""

Pairs = tuple[NDArray[np.int_], NDArray[np.int_]]


def place_faults(scene: Scene, cutting: Cutting) -> list[str]:
    """One sentence per piece (or two pieces) and rule of place that it breaks."""
    return [
        *_outside(scene),
        *_near_edge(scene, cutting),
        *_near_each_other(scene, cutting.kerf_mm + cutting.gap_mm),
        *_near_flaws(scene, cutting.flaw_margin_mm),
    ]


def millimetres(value: float) -> str:
    """A measured or required length for a message."""
    return f"{value:.3f}".rstrip("0").rstrip(".") + " mm"


def _outside(scene: Scene) -> list[str]:
    roomy = shapely.buffer(scene.leather, TOLERANCE_MM, quad_segs=16)
    shapely.prepare(roomy)
    return [
        f"{piece.name} reaches {millimetres(_reach(piece, scene))} outside the outline of {scene.name}; "
        "it must lie inside"
        for piece in scene.pieces
        if not roomy.covers(piece.filled)
    ]


def _reach(piece: Piece, scene: Scene) -> float:
    """How far the piece's farthest corner lies outside the leather, mm."""
    corners = shapely.points(shapely.get_coordinates(piece.filled))
    return float(shapely.distance(corners, scene.leather).max())


def _near_edge(scene: Scene, cutting: Cutting) -> list[str]:
    rough, straight = portions(scene.hide)
    faults = []
    for edge, word, margin in (
        (rough, "rough edge", cutting.edge_margin_mm),
        (straight, "straight edge", cutting.straight_edge_margin_mm),
    ):
        # Where no margin is left to measure, lying inside the outline is the whole rule.
        if edge.is_empty or margin <= TOLERANCE_MM:
            continue
        shapely.prepare(edge)
        filled = [piece.filled for piece in scene.pieces]
        near = np.flatnonzero(shapely.dwithin(edge, filled, margin - TOLERANCE_MM))
        faults += [
            f"{scene.pieces[i].name} lies {millimetres(edge.distance(filled[i]))} from the {word} of "
            f"{scene.name}; the margin there is {millimetres(margin)}"
            for i in near
        ]
    return faults


def _near_each_other(scene: Scene, apart: float) -> list[str]:
    shapes = [piece.net for piece in scene.pieces]
    faults = []
    for i, j in zip(*_too_close(shapes, shapes, apart), strict=True):
        if i < j:
            faults.append(
                f"{scene.pieces[i].name} and {scene.pieces[j].name} on {scene.name} "
                f"{_gap_words(shapes[i], shapes[j])}; kerf and gap ask for {millimetres(apart)}"
            )
    return faults


def _gap_words(one: shapely.Geometry, other: shapely.Geometry) -> str:
    overlap = shapely.intersection(one, other).area
    if overlap > 0.0:
        return f"overlap by {overlap:.3f} mm²"
    return f"are {millimetres(one.distance(other))} apart"


def _near_flaws(scene: Scene, margin: float) -> list[str]:
    faults = []
    for severity in SEVERITIES:
        flaws = [flaw for flaw in scene.hide.flaws if flaw.severity == severity]
        zones = [polygon(flaw.outline) for flaw in flaws]
        parts = _exposed(scene.pieces, severity) if flaws else []
        for i, j in zip(*_too_close(parts, zones, margin), strict=True):
            faults.append(
                f"{scene.pieces[i].name} on {scene.name}: {_flaw_words(parts[i], zones[j], flaws[j])}; "
                f"where the flaw is not accepted, the margin is {millimetres(margin)}"
            )
    return faults


def _flaw_words(part: shapely.Geometry, zone: shapely.Geometry, flaw: Flaw) -> str:
    name = f"the {flaw.severity} flaw" + (f' "{flaw.kind}"' if flaw.kind else "")
    overlap = shapely.intersection(part, zone).area
    if overlap > 0.0:
        return f"{overlap:.3f} mm² of {name} lie in a part that does not accept it"
    return f"{name} is {millimetres(part.distance(zone))} from a part that does not accept it"


def _exposed(pieces: Sequence[Piece], severity: Severity) -> list[shapely.Geometry]:
    patterns: dict[int, Pattern] = {id(piece.pattern): piece.pattern for piece in pieces}
    exposed = {key: pattern.exposed(severity) for key, pattern in patterns.items()}
    return [laid(exposed[id(piece.pattern)], piece.placement.pose) for piece in pieces]


def _too_close(ours: list[shapely.Geometry], theirs: list[shapely.Geometry], apart: float) -> Pairs:
    """Indices of shapes that are less than ``apart`` from each other by more than the tolerance.

    Where ``apart`` is within the tolerance, shapes may touch and overlap by the rest of it: no
    point of one may lie deeper than that inside the other.
    """
    if not ours or not theirs:
        return np.array([], dtype=int), np.array([], dtype=int)
    allowance = TOLERANCE_MM - apart
    tree = shapely.STRtree(theirs)
    if allowance < 0.0:
        i, j = tree.query(ours, predicate="dwithin", distance=-allowance)
        return i, j
    i, j = tree.query(ours, predicate="intersects")
    a, b = np.array(ours)[i], np.array(theirs)[j]
    deep = shapely.intersects(shapely.buffer(a, -allowance), b)
    deep |= shapely.intersects(a, shapely.buffer(b, -allowance))
    return i[deep], j[deep]
