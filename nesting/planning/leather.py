"""Where leather may be used: a hide less its margins and the flaws that a panel does not accept."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide, Segment, Severity
from nesting.files.order import Cutting
from nesting.rings import Pose, Ring, flatten

ROOM_MM = 0.004
"""Leather is taken so much larger than its rules leave it, so that what fits exactly is found to fit.

With the chords of arcs on hide, flaw and panel, and with what simplifying moves, this is some 0.011 mm:
about half of what a layout may be off, so that who checks one with other chords finds it valid, too."""

ARC_MM = 0.002
"""Chords stay this close to their arcs, on the hide and on what is laid."""

SIMPLE_MM = 0.003
"""Vertices closer than this to the line without them are left out."""

STRAIGHT_BAND_MM = 0.9
"""An edge of the outline this near to a straight edge is taken as straight."""

STRAIGHT_TURN_DEG = 30.0
"""An edge of the outline that turns further from a straight edge leaves it."""

_QUAD_SEGS = 48


def ring_polygon(ring: Ring, sagitta: float = ARC_MM) -> BaseGeometry:
    """A ring as a shapely polygon, mended where flattening made it touch itself."""
    polygon: BaseGeometry = shapely.Polygon(flatten(ring, sagitta))
    return polygon if polygon.is_valid else shapely.make_valid(polygon)


@lru_cache(maxsize=512)
def _outline(ring: Ring, sagitta: float) -> BaseGeometry:
    return ring_polygon(ring, sagitta)


def laid_outline(ring: Ring, pose: Pose, sagitta: float = 0.02) -> BaseGeometry:
    """A panel's outline where a piece of it lies."""
    a, b, c, d = pose.matrix()
    return affinity.affine_transform(_outline(ring, sagitta), [a, b, c, d, *pose.at])


def grown(geometry: BaseGeometry, distance: float) -> BaseGeometry:
    """Everything within ``distance`` mm and a hair more: the buffer's arcs lie outside the true ones."""
    if distance <= 0.0:
        return geometry
    # Where an arc of the buffer meets a side it lies a millionth of the distance inside.
    radius = (1.0 + 2e-6) * distance / math.cos(math.pi / (4 * _QUAD_SEGS))
    return geometry.buffer(radius, quad_segs=_QUAD_SEGS)


@lru_cache(maxsize=64)
def inside_margins(hide: Hide, cutting: Cutting) -> BaseGeometry:
    """The hide less its edge margin, or straight-edge margin along what is already cut true."""
    outline = ring_polygon(hide.outline)
    border = outline.boundary
    if not hide.straight_edges or cutting.straight_edge_margin_mm == cutting.edge_margin_mm:
        return outline.difference(grown(border, cutting.edge_margin_mm))
    true = shapely.union_all([_true_along(border, edge) for edge in hide.straight_edges])
    # Lines cut by a band are not met again to the last bit: a hair's breadth makes sure.
    rough = _longer_than(border.difference(true.buffer(1e-6, cap_style="flat")), STRAIGHT_BAND_MM)
    return outline.difference(
        shapely.union_all(
            [grown(rough, cutting.edge_margin_mm), grown(true, cutting.straight_edge_margin_mm)]
        )
    )


def _true_along(border: BaseGeometry, straight: Segment) -> BaseGeometry:
    """The portion of the outline that runs along a straight edge; what turns away there is rough at once."""
    ends = shapely.get_coordinates(border)
    edges = shapely.linestrings(np.stack((ends[:-1], ends[1:]), axis=1))
    # Flat caps: the band ends where the straight edge ends, and the rough rest keeps its margin.
    band = shapely.LineString(straight).buffer(STRAIGHT_BAND_MM, cap_style="flat")
    (dx, dy), along = np.diff(straight, axis=0)[0], np.diff(ends, axis=0)
    turned = np.abs(along @ (-dy, dx)) > math.tan(math.radians(STRAIGHT_TURN_DEG)) * np.abs(along @ (dx, dy))
    kept = edges[~turned | shapely.covers(band, edges)]
    return shapely.intersection(shapely.union_all(kept), band)


def _longer_than(lines: BaseGeometry, length: float) -> BaseGeometry:
    merged = shapely.line_merge(lines) if lines.geom_type == "MultiLineString" else lines
    return shapely.union_all([part for part in shapely.get_parts(merged) if part.length > length])


@lru_cache(maxsize=256)
def allowed(hide: Hide, cutting: Cutting, accepts: frozenset[Severity]) -> BaseGeometry:
    """Where a part that accepts these severities may lie on the hide."""
    refused = [
        grown(ring_polygon(flaw.outline), cutting.flaw_margin_mm)
        for flaw in hide.flaws
        if flaw.severity == "hole" or flaw.severity not in accepts
    ]
    free = inside_margins(hide, cutting)
    if refused:
        free = free.difference(shapely.union_all(refused))
    # Not past the judge's tolerance at sharp corners either.
    return free.buffer(ROOM_MM, join_style="mitre", mitre_limit=1.5).simplify(SIMPLE_MM)


def opened(region: BaseGeometry, radius: float) -> BaseGeometry:
    """The region where a disc of ``radius`` mm fits: nooks too narrow for any piece are gone."""
    if radius <= 0.0 or region.is_empty:
        return region
    core = region.buffer(-radius, quad_segs=8)
    return core.buffer(radius * 1.02, quad_segs=8).intersection(region)


def spine_angle(hide: Hide) -> float | None:
    """Direction of the spine in radians, None when unknown."""
    if hide.spine is None:
        return None
    (x0, y0), (x1, y1) = hide.spine
    return float(np.arctan2(y1 - y0, x1 - x0))
