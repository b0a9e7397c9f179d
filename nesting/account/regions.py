"""What a hide's leather is good for, as regions: worked out with shapely's set operations.

``usable`` is where at least one ordered panel may lie. Exactly that is the union of a panel over all
its free poses. This region is the smallest outer bound of it that costs little: for each panel, take
the leather after margins, less the flaws (and their margin) that neither the panel nor any hidden
zone of it accepts; find where a disc nearly the largest inside the panel fits; keep what lies no farther from
the disc's centre than the panel reaches, in one stretch of leather that has the panel's area. So necks
too narrow, dead ends out of reach and islands too small are left out, and corners are kept. Allowed
turns, and where on the panel a hidden zone lies, are not looked at.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Polygon

from nesting.files.hide import SEVERITIES, Severity
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.judge.edges import portions
from nesting.judge.scene import Pattern, Scene
from nesting.judge.shapes import polygon
from nesting.units import FT2_MM2

_QUARTER = 32
"""Segments to a quarter turn when offsetting: chords are 0.03 % of the offset inside the arc."""
_SLACK_MM = 0.05
"""The judge's tolerance and more: a panel that just fits must not be told it does not."""
_SPECK_MM2 = 0.01
"""A tenth of a millimetre square: finer than any tool, and far finer than a flaw with its margin."""


@dataclass(frozen=True)
class Keep:
    """What is big enough to keep: a disc of ``width_mm`` passes through it, and its area suffices.

    Common practice, no source: a hand's breadth, and a quarter of a square foot.
    """

    width_mm: float = 80.0
    least_mm2: float = float(FT2_MM2) / 4.0


@dataclass(frozen=True)
class Regions:
    """``unflawed`` is what would be usable without flaws; ``usable`` and ``pieces`` lie inside it.

    ``pieces`` are whole outlines with their cut-outs; ``remnants`` lie in ``usable``, off the pieces.
    """

    leather: Polygon
    unflawed: shapely.Geometry
    usable: shapely.Geometry
    pieces: shapely.Geometry
    remnants: tuple[Polygon, ...]


def regions(scene: Scene, patterns: Sequence[Pattern], cutting: Cutting, keep: Keep) -> Regions:
    """The regions of one hide for the panels (``patterns``) that may be cut from it."""
    workable = _workable(scene, cutting)
    pieces = shapely.union_all([piece.filled for piece in scene.pieces])
    pieces = shapely.intersection(pieces, scene.leather)
    zones = {severity: _zone(scene, severity, cutting.flaw_margin_mm) for severity in SEVERITIES}
    fits = [_within_reach(workable, pattern) for pattern in patterns]
    free = [_within_reach(_open_to(pattern, workable, zones), pattern) for pattern in patterns]
    usable = shapely.union_all([*free, pieces])
    left = shapely.difference(usable, _offset(pieces, cutting.kerf_mm + cutting.gap_mm))
    return Regions(
        leather=scene.leather,
        unflawed=shapely.union_all([*fits, usable]),
        usable=usable,
        pieces=pieces,
        remnants=tuple(_kept(left, keep)),
    )


def _workable(scene: Scene, cutting: Cutting) -> shapely.Geometry:
    """The leather without its margins: plain distance from each portion of the outline."""
    rough, straight = portions(scene.hide)
    bands = [
        _offset(edge, margin)
        for edge, margin in ((rough, cutting.edge_margin_mm), (straight, cutting.straight_edge_margin_mm))
        if margin > 0.0
    ]
    return shapely.difference(scene.leather, shapely.union_all(bands))


def _zone(scene: Scene, severity: Severity, margin: float) -> shapely.Geometry:
    """All flaws of a severity with their margin."""
    flaws = [polygon(flaw.outline) for flaw in scene.hide.flaws if flaw.severity == severity]
    return shapely.union_all(_offset(flaws, margin))


def _open_to(
    pattern: Pattern, workable: shapely.Geometry, zones: dict[Severity, shapely.Geometry]
) -> shapely.Geometry:
    """The workable leather without what flaws keep from every part of the panel."""
    shut = {s: zone for s, zone in zones.items() if not tolerates(pattern.panel, s)}
    region = shapely.difference(workable, shapely.union_all(list(shut.values())))
    buried = [_buried(region, zone, pattern, s) for s, zone in zones.items() if s not in shut]
    return shapely.difference(region, shapely.union_all(buried))


def tolerates(panel: Panel, severity: Severity) -> bool:
    """Whether the panel or a hidden zone of it accepts a flaw; a hole is accepted by none."""
    zones = (zone.accepts for zone in panel.hidden_zones)
    return severity != "hole" and any(severity in accepts for accepts in (panel.accepts, *zones))


def _buried(
    region: shapely.Geometry, zone: shapely.Geometry, pattern: Pattern, severity: Severity
) -> shapely.Geometry:
    """The part of a flaw too deep for a hidden zone to cover while the rest shows outside the flaw."""
    shows = pattern.exposed(severity)
    if zone.is_empty or shows.is_empty:
        return Polygon()
    outside = shapely.difference(region, zone)
    return shapely.difference(zone, _offset(outside, 1.001 * _depth(pattern.net, shows) + _SLACK_MM))


def _depth(net: Polygon, shows: shapely.Geometry) -> float:
    """How far the deepest point of the piece lies from the part that shows, mm, within the slack."""
    low, high = 0.0, math.hypot(*np.ptp(shapely.get_coordinates(net), axis=0))
    while high - low > _SLACK_MM:
        middle = (low + high) / 2.0
        low, high = (low, middle) if _offset(shows, middle).covers(net) else (middle, high)
    return high


def _within_reach(region: shapely.Geometry, pattern: Pattern) -> shapely.Geometry:
    centre, radius = _inner_disc(pattern.net)
    corners = shapely.points(shapely.get_coordinates(pattern.filled))
    reach = float(shapely.distance(centre, corners).max())
    found = []
    for part in _polygons(region):
        cores = _offset(part, _SLACK_MM - radius)
        near = shapely.intersection(part, _offset(cores, 1.001 * reach + _SLACK_MM))
        # An offset may reach across a gap into leather where no disc fits.
        found += [
            bit
            for bit in _polygons(near)
            if bit.area >= (1.0 - 1e-6) * pattern.net.area and bit.intersects(cores)
        ]
    return shapely.union_all(found)


def _inner_disc(net: Polygon) -> tuple[Any, float]:
    """Centre and radius of a disc inside the panel: nearly the largest, as central as that allows.

    A long panel holds its largest disc in many places; from its middle it reaches least far.
    """
    largest = shapely.length(shapely.maximum_inscribed_circle(net, tolerance=_SLACK_MM))
    middle = shapely.minimum_bounding_circle(net).centroid
    centre = shapely.get_point(shapely.shortest_line(_offset(net, -0.98 * largest), middle), 0)
    return centre, float(shapely.distance(centre, net.boundary))


def _kept(left: shapely.Geometry, keep: Keep) -> list[Polygon]:
    """Opening by a disc, then corners given back as far as a right angle has them beyond the disc.

    Opening: Serra, *Image Analysis and Mathematical Morphology*, 1982 (from memory).
    """
    radius = keep.width_mm / 2.0
    opened = _offset(_offset(left, -radius), radius)
    # √2 - 1 = 0.4142, and a little for chords.
    grown = _offset(opened, 0.42 * radius)
    bits = [
        _without_specks(bit)
        for part in _polygons(left)
        for bit in _polygons(shapely.intersection(part, grown))
        if bit.area >= keep.least_mm2 and bit.intersects(opened)
    ]
    return sorted(bits, key=lambda bit: -bit.area)


def _without_specks(bit: Polygon) -> Polygon:
    """Holes too small to see are where arcs of two offsets meet; no one has cut there."""
    return Polygon(bit.exterior, [ring for ring in bit.interiors if Polygon(ring).area >= _SPECK_MM2])


def _offset(shape: Any, distance: float) -> Any:
    """A shape, or an array of them, grown by ``distance`` mm or, where it is negative, worn off."""
    return shapely.buffer(shape, distance, quad_segs=_QUARTER)


def _polygons(shape: shapely.Geometry) -> Iterable[Polygon]:
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]
