"""A problem turned into the few packed arrays that the kernels take.

Every shape is moved so that its centre of area is its origin; ``Frame`` knows the way back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.packing import kernels
from nesting.packing.circles import inscribed_circles
from nesting.packing.depths import build_depths, kept_parts
from nesting.packing.leaving import build_leaving
from nesting.packing.problem import Placed, Points, Problem, Region

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SIDE_SLOTS = 16
"""Long sides of a shape are listed this often in all, in proportion to their length."""

CELLS_ALONG = 96
"""The longer side of the regions' bounding box has this many cells of the border index."""

ANGLES = 720
"""Bounding boxes of a shape are kept for so many angles."""

NODES_ALONG = 400
"""The longer side of the regions' bounding box has this many nodes of the distance field."""


class Static(NamedTuple):
    """What never changes: see the fields' shapes. S shapes, P parts."""

    bodies: Floats  # (S, row) polygons with circles about their centres of area, see kernels
    counts: Ints  # (S, 4) first part, last part + 1, first turn, last turn + 1
    sizes: Floats  # (S, 2) area, its square root
    parts: Floats  # (P, row) bodies of the parts
    part_counts: Ints  # (P, 2) region, nodes of the field where it may be drawn
    turns: Floats  # (T, 2) lowest and highest angle
    sides: Floats  # directions of long sides, counter-clockwise outline
    side_start: Ints  # (S + 1,) into sides
    lines: Floats  # directions opposite to long straight borders of region 0
    depth: NDArray[np.float32]  # (pairs, turns, rows, columns) see ``depths.Depths``
    pair: Ints  # (S, S)
    frame: Floats  # (pairs, 4)
    leaving: NDArray[np.float32]  # (layers, rows, columns) see ``leaving.Leaving``; none in ``Arrays.static``
    leaving_turns: Floats  # (T, 3) first layer, spans between layers, spans per radian
    leaving_frame: Floats  # x of column 0, y of row 0, step, 1 / step
    extents: Floats  # (S, angles + 1, 4) bounding box about the centre of area, evenly round the circle
    eps: float  # contact tolerance
    soft: float  # depth that leaving a region by less than can be measured counts as


class Fields(NamedTuple):
    """Regions as distance fields with an exact border index. R regions."""

    grid: Floats  # (R, rows, columns) signed distance, inside positive
    frame: Floats  # x of column 0, y of row 0, step, 1 / step
    edges: Floats  # (E, 4) border edges
    cells: Floats  # cell size, x0, y0, columns, rows of the border index
    cell_start: Ints  # (R * rows * columns + 1,)
    cell_edge: Ints  # edge numbers
    holes: Floats  # (K, 2) a point in each hole
    hole_start: Ints  # (R + 1,)
    nodes: Ints  # (R, N) node numbers, deepest inside first


class Facets(NamedTuple):
    """Shapes, then parts, cut into convex pieces about the shapes' centres of area; F vertices."""

    vertices: Floats  # (F, 2) counter-clockwise, piece after piece
    piece_start: Ints  # into vertices
    owner_start: Ints  # (S + P + 1,) into piece_start


class State(NamedTuple):
    """What the search changes; n items. The last column of losses and weights is the container's."""

    shapes: Ints  # (n,)
    poses: Floats  # (n, 3) x, y, angle
    bodies: Floats  # (n, row) as placed; an item off the table has an impossible box
    losses: Floats  # (n, n + 1)
    weights: Floats  # (n, n + 1)
    mates: Ints  # (n,) or -1
    mate_limits: Floats  # (n,)
    active: NDArray[np.bool_]  # (n,)
    held: NDArray[np.bool_]  # (n,) never moved by ``kernels.sweep``, nor in collision with each other


@dataclass(frozen=True)
class Arrays:
    """A problem as the kernels see it, and the centres (S, 2) that its shapes were moved by."""

    static: Static
    fields: Fields
    facets: Facets
    centres: Floats
    problem: Problem

    @cached_property
    def reach(self) -> Floats:
        """Per shape an upper bound (S,) of its length in any turn."""
        shapes = zip(self.problem.shapes, self.centres, strict=True)
        return np.array([2.0 * np.hypot(*(s.outline - centre).T).max() for s, centre in shapes])

    @cached_property
    def with_leaving(self) -> Static:
        """``static`` with the tables of leaving, which rough efforts need; made when first asked for."""
        found = build_leaving(self.static, self.fields)
        return self.static._replace(
            leaving=found.layers, leaving_turns=found.turns, leaving_frame=found.frame
        )

    def seen(self, rough: bool) -> Static:
        """What an effort goes by, rough or exact."""
        return self.with_leaving if rough else self.static

    def fresh_state(self) -> State:
        """All items off the table."""
        items = self.problem.items
        count = len(items)
        shape_of = np.array([item.shape for item in items], dtype=np.int64)
        bodies = np.zeros((count, self.static.bodies.shape[1]))
        bodies[:, :4] = (kernels.HUGE, 0.0, -kernels.HUGE, 0.0)
        return State(
            shapes=shape_of,
            poses=np.zeros((count, 3)),
            bodies=bodies,
            losses=np.zeros((count, count + 1)),
            weights=np.ones((count, count + 1)),
            mates=np.array([-1 if item.mate is None else item.mate for item in items], dtype=np.int64),
            mate_limits=np.array([item.mate_limit for item in items]),
            active=np.zeros(count, dtype=np.bool_),
            held=np.zeros(count, dtype=np.bool_),
        )

    def placed(self, state: State) -> list[Placed]:
        """Poses of the active items in the frames of their shapes as given."""
        result = []
        for i in np.flatnonzero(state.active):
            x, y, angle = state.poses[i]
            cx, cy = self.centres[state.shapes[i]]
            cos, sin = math.cos(angle), math.sin(angle)
            result.append(Placed(int(i), float(angle), x - cos * cx + sin * cy, y - sin * cx - cos * cy))
        return result

    def put(self, state: State, placed: list[Placed]) -> None:
        """The inverse of ``placed``: sets poses and active flags only; ``kernels.rebuild`` does the rest."""
        state.active[:] = False
        for p in placed:
            cx, cy = self.centres[state.shapes[p.item]]
            cos, sin = math.cos(p.angle), math.sin(p.angle)
            state.poses[p.item] = (p.x + cos * cx - sin * cy, p.y + sin * cx + cos * cy, p.angle)
            state.active[p.item] = True


def build_arrays(problem: Problem) -> Arrays:
    """Turn a problem into arrays; the costly part is the distance fields (see ``build_fields``)."""
    fields = build_fields(problem.regions)
    centres = np.array([_centroid(s.outline) for s in problem.shapes]).reshape(-1, 2)
    return Arrays(
        _build_static(problem, fields, centres), fields, _build_facets(problem, centres), centres, problem
    )


def _build_facets(problem: Problem, centres: Floats) -> Facets:
    shapes = list(zip(problem.shapes, centres, strict=True))
    bodies = [s.outline - c for s, c in shapes]
    parts = [p.outline - c for s, c in shapes for p in s.parts]
    owners = [kept_parts(_ccw(outline).tobytes()) for outline in (*bodies, *parts)]
    pieces = [_ccw(piece) for owner in owners for piece in owner]
    return Facets(
        vertices=np.concatenate(pieces),
        piece_start=np.cumsum([0] + [len(piece) for piece in pieces]).astype(np.int64),
        owner_start=np.cumsum([0] + [len(owner) for owner in owners]).astype(np.int64),
    )


def _build_static(problem: Problem, fields: Fields, centres: Floats) -> Static:
    shapes = problem.shapes
    outlines = [_ccw(s.outline - c) for s, c in zip(shapes, centres, strict=True)]
    circles = [inscribed_circles(o) for o in outlines]
    areas = np.array([shapely.Polygon(o).area for o in outlines])
    parts = [(_ccw(p.outline - c), p.region) for s, c in zip(shapes, centres, strict=True) for p in s.parts]
    part_circles = [inscribed_circles(o) for o, _ in parts]
    part_start = np.cumsum([0] + [len(s.parts) for s in shapes])
    turns = [t for s in shapes for t in s.turns]
    turn_start = np.cumsum([0] + [len(s.turns) for s in shapes])
    sides = [_long_sides(o) for o in outlines]
    spans = np.column_stack((part_start[:-1], part_start[1:], turn_start[:-1], turn_start[1:]))
    part_counts = [
        (region, _drawable_nodes(fields, region, float(c[0, 2])))
        for (_, region), c in zip(parts, part_circles, strict=True)
    ]
    smallest = float(np.sqrt(areas.min()))
    room = max(len(o) for o in [*outlines, *(o for o, _ in parts)])
    depths = build_depths(outlines, [s.turns for s in shapes])
    return Static(
        bodies=_bodies(outlines, circles, room),
        counts=spans.astype(np.int64),
        sizes=np.column_stack((areas, np.sqrt(areas))),
        parts=_bodies([o for o, _ in parts], part_circles, room),
        part_counts=np.array(part_counts, dtype=np.int64).reshape(-1, 2),
        turns=np.array(turns, dtype=np.float64).reshape(-1, 2),
        sides=np.concatenate(sides),
        side_start=np.cumsum([0] + [len(s) for s in sides]).astype(np.int64),
        lines=_straight_borders(problem.regions),
        depth=depths.depth,
        pair=depths.pair,
        frame=depths.frame,
        leaving=np.zeros((0, 2, 2), dtype=np.float32),
        leaving_turns=np.zeros((len(turns), 3)),
        leaving_frame=np.zeros(4),
        extents=np.array([_extents(o) for o in outlines]),
        eps=1e-7 * smallest,
        soft=0.001 * smallest,
    )


def _extents(outline: Points) -> Floats:
    """The outline's bounding boxes (ANGLES + 1, 4) as it turns once."""
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.Polygon(outline)))
    angles = np.arange(ANGLES + 1)[:, None] * (2.0 * math.pi / ANGLES)
    x = np.cos(angles) * hull[:, 0] - np.sin(angles) * hull[:, 1]
    y = np.sin(angles) * hull[:, 0] + np.cos(angles) * hull[:, 1]
    return np.column_stack((x.min(axis=1), y.min(axis=1), x.max(axis=1), y.max(axis=1)))


def _drawable_nodes(fields: Fields, region: int, radius: float) -> int:
    """How many of the region's nodes, deepest first, leave room for a circle of 0.9 radius."""
    depths = fields.grid[region].ravel()[fields.nodes[region]]
    count = int(np.searchsorted(-depths, -0.9 * radius, side="right"))
    return count if count else int(np.searchsorted(-depths, 0.0))


def _bodies(outlines: list[Points], circles: list[Floats], room: int) -> Floats:
    """Rows of outline and circles as ``kernels`` lays them out, with room for so many vertices."""
    down = room + 1
    out = np.zeros((len(outlines), kernels.VX + 2 * down))
    for shape, (row, outline, found) in enumerate(zip(out, outlines, circles, strict=True)):
        row[kernels.SHAPE] = shape
        row[kernels.CX : kernels.CY] = found[0, 0]
        row[kernels.CY : kernels.CR] = found[0, 1]
        for k, start in enumerate((kernels.CX, kernels.CY, kernels.CR)):
            row[start : start + len(found)] = found[:, k]
        row[kernels.NV] = len(outline)
        closed = np.concatenate((outline, outline[:1]))
        row[kernels.VX : kernels.VX + len(closed)] = closed[:, 0]
        row[kernels.VX + down : kernels.VX + down + len(closed)] = closed[:, 1]
    return out


def _ccw(points: Points) -> Points:
    x, y = points[:, 0], points[:, 1]
    twice = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return np.ascontiguousarray(points if twice > 0 else points[::-1])


def _centroid(points: Points) -> tuple[float, float]:
    centre = shapely.Polygon(points).centroid
    return centre.x, centre.y


def _long_sides(outline: Points) -> Floats:
    """Directions of the sides of at least a fifth of the longest, repeated by their length."""
    step = np.roll(outline, -1, axis=0) - outline
    length = np.hypot(step[:, 0], step[:, 1])
    keep = length >= 0.2 * length.max()
    angle = np.arctan2(step[keep, 1], step[keep, 0])
    times = np.maximum(1, np.round(SIDE_SLOTS * length[keep] / length[keep].sum())).astype(int)
    return np.repeat(angle, times)


def _straight_borders(regions: tuple[Region, ...]) -> Floats:
    """Directions opposite to the border's long edges of region 0 (inside on the left), by length."""
    if not regions:
        return np.zeros(0)
    rings = [_ccw(shell) for shell, _ in regions[0].polygons]
    steps = np.concatenate([np.roll(r, -1, axis=0) - r for r in rings])
    length = np.hypot(steps[:, 0], steps[:, 1])
    keep = length >= 0.25 * length.max()
    times = np.maximum(1, np.round(8 * length[keep] / length[keep].max())).astype(int)
    return np.repeat(np.arctan2(steps[keep, 1], steps[keep, 0]) + math.pi, times)


def build_fields(regions: tuple[Region, ...]) -> Fields:
    """Distance fields and border index of the regions, all on one grid."""
    if not regions:
        return Fields(
            grid=np.zeros((1, 2, 2)), frame=np.array([0.0, 0.0, 1.0, 1.0]), edges=np.zeros((0, 4)),
            cells=np.array([1.0, 0.0, 0.0, 1.0, 1.0]), cell_start=np.zeros(2, np.int64),
            cell_edge=np.zeros(0, np.int64), holes=np.zeros((0, 2)), hole_start=np.zeros(2, np.int64),
            nodes=np.zeros((1, 0), np.int64),
        )  # fmt: skip
    geometries = [r.geometry() for r in regions]
    x0, y0, x1, y1 = shapely.unary_union(geometries).bounds
    span = max(x1 - x0, y1 - y0)
    step = span / NODES_ALONG
    pad = 4.0 * step
    columns = int((x1 - x0 + 2 * pad) / step) + 2
    rows = int((y1 - y0 + 2 * pad) / step) + 2
    frame = np.array([x0 - pad, y0 - pad, step, 1.0 / step])
    edge_sets = [_border_edges(r) for r in regions]
    grids = np.array([_region_grid(edges, frame, rows, columns) for edges in edge_sets])
    cell = span / CELLS_ALONG
    cells = np.array([cell, x0, y0, int((x1 - x0) / cell) + 1, int((y1 - y0) / cell) + 1], dtype=np.float64)
    cell_start, cell_edge = _index_edges(edge_sets, cells)
    holes = [[shapely.Polygon(h).representative_point() for _, hs in r.polygons for h in hs] for r in regions]
    return Fields(
        grid=grids,
        frame=frame,
        edges=np.concatenate(edge_sets),
        cells=cells,
        cell_start=cell_start,
        cell_edge=cell_edge,
        holes=np.array([(p.x, p.y) for hs in holes for p in hs], dtype=np.float64).reshape(-1, 2),
        hole_start=np.cumsum([0] + [len(hs) for hs in holes]).astype(np.int64),
        nodes=np.argsort(-grids.reshape(len(regions), -1), axis=1, kind="stable"),
    )


def _border_edges(region: Region) -> Floats:
    rings = []  # the region on the left: shells counter-clockwise, holes clockwise
    for shell, holes in region.polygons:
        rings += [_ccw(shell), *(_ccw(hole)[::-1] for hole in holes)]
    if not rings:
        return np.zeros((0, 4))
    return np.concatenate([np.column_stack((r, np.roll(r, -1, axis=0))) for r in rings])


def _region_grid(edges: Floats, frame: Floats, rows: int, columns: int) -> Floats:
    if not len(edges):
        return np.full((rows, columns), -1e6)
    grid: Floats = kernels.signed_distance_grid(edges, *frame[:3], rows, columns)
    return grid


def _index_edges(edge_sets: list[Floats], cells: Floats) -> tuple[Ints, Ints]:
    """For each region and cell the border edges whose bounding box reaches the cell, in CSR form."""
    size, x0, y0, columns, rows = cells[0], cells[1], cells[2], int(cells[3]), int(cells[4])
    lists: list[list[int]] = [[] for _ in range(len(edge_sets) * rows * columns)]
    number = 0
    for region, edges in enumerate(edge_sets):
        for ax, ay, bx, by in edges:
            c0, c1 = sorted((int((ax - x0) / size), int((bx - x0) / size)))
            r0, r1 = sorted((int((ay - y0) / size), int((by - y0) / size)))
            for r in range(max(0, r0), min(rows - 1, r1) + 1):
                for c in range(max(0, c0), min(columns - 1, c1) + 1):
                    lists[(region * rows + r) * columns + c].append(number)
            number += 1
    start = np.cumsum([0] + [len(cell) for cell in lists]).astype(np.int64)
    return start, np.array([e for cell in lists for e in cell], dtype=np.int64)
