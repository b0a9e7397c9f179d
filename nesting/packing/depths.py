"""How deep one shape lies in another, looked up: no-fit polygons turned into tables.

The no-fit polygon of shapes a and b holds all places of b's origin, as seen from a, where both
overlap (Bennell & Oliveira 2008, doi 10.1016/j.ejor.2006.11.038). The distance to its border is the
exact penetration depth. It depends only on the relative place and turn, so that one table of
(turn, y, x) a pair of shapes serves all poses; between its nodes it is interpolated.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.packing import kernels
from nesting.packing.problem import Interval, Points

Floats = NDArray[np.float64]

NODES = 72
"""Nodes of a table along x and along y."""

FINE_NODES = 216
"""The same where turns are listed: few tables then, and shapes that are to lock into each other."""

MOST_VALUES = 40_000_000
"""Fine tables together hold no more numbers than this: beyond it they get coarser, down to ``NODES``."""

FREE_TURNS = 72
"""Relative turns of a table when rotation is free."""

TABLE_BUDGET = 2600
"""No more single tables than this: beyond it, free turns are spaced wider."""

COARSER = 0.003
"""Where turns are free, tables are of outlines off by this share of their reach: a twentieth of a step."""


@dataclass(frozen=True)
class Depths:
    """Tables ``depth[pair, turn, y, x]``; positive = penetration depth, negative = clear distance.

    ``pair[a, b]`` (a ≤ b) numbers the pairs; ``frame[pair]`` is (x0, y0, step, 1/step) in a's frame.
    """

    depth: NDArray[np.float32]
    pair: NDArray[np.int64]
    frame: Floats


def build_depths(outlines: list[Points], turns: list[tuple[Interval, ...]]) -> Depths:
    """Tables for all pairs of simple polygons given about their centres; ``turns`` as in ``Shape``."""
    count = len(outlines)
    steps = _turn_steps(turns)
    needed = {(a, b): _needed(turns[a], turns[b], steps) for a in range(count) for b in range(a, count)}
    total = sum(len(ks) for ks in needed.values())
    if total > TABLE_BUDGET and steps == FREE_TURNS:
        steps = 24
        needed = {(a, b): _needed(turns[a], turns[b], steps) for a, b in needed}
    free = any(high > low for intervals in turns for low, high in intervals)
    drawn = [_coarse(o) if free else o for o in outlines]
    keys = [np.ascontiguousarray(o, dtype=np.float64).tobytes() for o in drawn]
    reach = [float(np.hypot(*o.T).max()) for o in outlines]
    nodes = NODES if free else _fine_nodes(len(needed) * steps)
    table = _coarse_table if nodes == NODES else _fine_table
    depth = np.full((len(needed), steps, nodes, nodes), -1.0, dtype=np.float32)
    pair = np.zeros((count, count), dtype=np.int64)
    frame = np.zeros((len(needed), 4))
    for number, ((a, b), bins) in enumerate(needed.items()):
        pair[a, b] = pair[b, a] = number
        half = 1.02 * (reach[a] + reach[b])
        step = 2.0 * half / (nodes - 1)
        frame[number] = (-half, -half, step, 1.0 / step)
        for k in bins:
            depth[number, k] = table(keys[a], keys[b], 2.0 * math.pi * k / steps, half, nodes)
    return Depths(depth, pair, frame)


def _fine_nodes(tables: int) -> int:
    return min(FINE_NODES, max(NODES, math.isqrt(MOST_VALUES // tables)))


def _table(a: bytes, b: bytes, turn: float, half: float, nodes: int) -> NDArray[np.float32]:
    fit = no_fit_polygon(kept_parts(a), kept_parts(b), turn)
    grid: Floats = kernels.signed_distance_grid(
        _edges(fit), -half, -half, 2.0 * half / (nodes - 1), nodes, nodes
    )
    return grid.astype(np.float32)


# Kept, some 100 MB of either: the same shapes come again with every region and every frame that is tried.
_coarse_table = lru_cache(maxsize=2 * TABLE_BUDGET)(_table)
_fine_table = lru_cache(maxsize=2 * TABLE_BUDGET * NODES**2 // FINE_NODES**2)(_table)


@lru_cache(maxsize=256)
def kept_parts(outline: bytes) -> list[Points]:
    """``convex_parts`` of an outline given as the bytes of its points: the same ones come again and again."""
    return convex_parts(np.frombuffer(outline).reshape(-1, 2))


def _coarse(outline: Points) -> Points:
    ring = shapely.Polygon(outline).simplify(COARSER * float(np.hypot(*outline.T).max())).exterior
    points: Points = shapely.get_coordinates(ring if ring.is_ccw else ring.reverse())[:-1]
    return points


def _turn_steps(turns: list[tuple[Interval, ...]]) -> int:
    """Steps of a full turn that hit every relative turn, or ``FREE_TURNS`` when there are none such."""
    if any(high > low for intervals in turns for low, high in intervals):
        return FREE_TURNS
    angles = sorted({low for intervals in turns for low, _ in intervals})
    for steps in (1, 2, 3, 4, 6, 8, 12, 24):
        unit = 2.0 * math.pi / steps
        if all(abs(math.remainder(a - b, unit)) < 1e-6 for a in angles for b in angles):
            return steps
    return FREE_TURNS


def _needed(a: tuple[Interval, ...], b: tuple[Interval, ...], steps: int) -> list[int]:
    """Which relative turns (b minus a) can occur, with their neighbours for interpolation."""
    unit = 2.0 * math.pi / steps
    found: set[int] = set()
    for low_a, high_a in a:
        for low_b, high_b in b:
            low, high = (low_b - high_a) / unit, (high_b - low_a) / unit
            if high - low >= steps:
                return list(range(steps))
            first = round(low) if abs(low - round(low)) < 1e-6 else math.floor(low)
            last = round(high) if abs(high - round(high)) < 1e-6 else math.ceil(high)
            found.update(k % steps for k in range(first, last + 1))
    return sorted(found)


def convex_parts(outline: Points) -> list[Points]:
    """A simple counter-clockwise polygon cut into convex ones (Hertel & Mehlhorn 1983: triangles merged)."""
    polygon = shapely.Polygon(outline)
    if polygon.convex_hull.area <= polygon.area * (1 + 1e-9):
        return [outline]
    parts = list(shapely.get_parts(shapely.constrained_delaunay_triangles(polygon)))
    merged = True
    while merged:
        merged = False
        for i in range(len(parts)):
            for j in range(i + 1, len(parts)):
                if parts[i].intersection(parts[j]).length <= 0.0:
                    continue
                both = shapely.union(parts[i], parts[j])
                if both.geom_type == "Polygon" and both.convex_hull.area <= both.area * (1 + 1e-9):
                    parts[i] = shapely.convex_hull(both)
                    del parts[j]
                    merged = True
                    break
            if merged:
                break
    return [shapely.get_coordinates(p)[:-1] for p in parts]


def no_fit_polygon(a: list[Points], b: list[Points], turn: float) -> shapely.Geometry:
    """Places of b's origin in a's frame where b, turned by ``turn`` rad, overlaps a.

    Both are given as convex parts; each pair of parts adds the Minkowski sum of one and minus the
    other.
    """
    cos, sin = math.cos(turn), math.sin(turn)
    rotation = np.array([[cos, sin], [-sin, cos]])
    turned = [q @ rotation for q in b]
    sums = [(p[:, None, :] - q[None, :, :]).reshape(-1, 2) for q in turned for p in a]
    owner = np.repeat(np.arange(len(sums)), [len(points) for points in sums])
    corners = shapely.multipoints(shapely.points(np.concatenate(sums)), indices=owner)
    return _whole_union(shapely.convex_hull(corners))


def _whole_union(hulls: NDArray[np.object_]) -> shapely.Geometry:
    """The union of convex polygons; where it loses some, as happens on nearly coincident sides, on a grid."""
    union = shapely.union_all(hulls)
    hearts = shapely.get_coordinates(shapely.centroid(hulls))
    if shapely.contains_xy(union, hearts[:, 0], hearts[:, 1]).all():
        return union
    return union_on_grid(hulls)


def union_on_grid(parts: NDArray[np.object_]) -> shapely.Geometry:
    """A union that holds on nearly coincident sides: corners go to a grid of 2e-8 of the whole's reach."""
    reach = float(np.abs(shapely.total_bounds(parts)).max())
    return shapely.union_all(parts, grid_size=2e-8 * reach)


def _edges(geometry: shapely.Geometry) -> Floats:
    rings = [
        shapely.get_coordinates(ring)
        for part in shapely.get_parts(geometry)
        for ring in (part.exterior, *part.interiors)
    ]
    return np.concatenate([np.column_stack((r[:-1], r[1:])) for r in rings])
