"""Where three or more ends meet on a layer: which strokes run round the outside?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from nesting.drawings.drawing import Note, Stroke, on_layer, place, warning
from nesting.rings import flatten

ON_BOUNDARY_MM = 1e-3


def split_junctions(strokes: Sequence[Stroke], radius: float) -> Iterator[tuple[list[Stroke], list[Note]]]:
    """For each network of open strokes with a junction, each outer boundary: its strokes and a note.

    What lies inside a boundary, and what dangles from it, is not part of it and stays open.
    """
    loose = [stroke for stroke in strokes if not stroke.closed]
    if len(loose) < 3:
        return
    node_of, nodes = _nodes(loose, radius)
    degree = np.bincount(node_of)
    for network in _networks(node_of):
        meeting = {int(n) for i in network for n in node_of[2 * i : 2 * i + 2] if degree[n] > 2}
        if meeting:
            lines = {i: _line(loose[i], nodes[node_of[2 * i]], nodes[node_of[2 * i + 1]]) for i in network}
            yield from _boundaries(loose, lines, [nodes[n] for n in sorted(meeting)])


def _nodes(strokes: Sequence[Stroke], radius: float) -> tuple[np.ndarray, np.ndarray]:
    """The number of the meeting point of each end (start, end, start, ...), and the points."""
    ends = np.array([point for stroke in strokes for point in (stroke.start, stroke.end)])
    pairs = cKDTree(ends).query_pairs(radius * 1.5, output_type="ndarray")
    node_of = _components(pairs, len(ends))
    _, first = np.unique(node_of, return_index=True)
    return node_of, ends[first]


def _networks(node_of: np.ndarray) -> list[list[int]]:
    """Strokes that hang together, by number."""
    count = int(node_of.max()) + 1
    component = _components(node_of.reshape(-1, 2), count)[node_of[::2]]
    return [np.flatnonzero(component == c).tolist() for c in np.unique(component)]


def _components(pairs: np.ndarray, count: int) -> np.ndarray:
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    labels: np.ndarray = connected_components(graph, directed=False)[1]
    return labels


def _line(stroke: Stroke, start: np.ndarray, end: np.ndarray) -> shapely.LineString:
    points = flatten(stroke.vertices)
    points[0], points[-1] = start, end
    return shapely.LineString(points)


def _boundaries(
    strokes: Sequence[Stroke], lines: dict[int, shapely.LineString], meeting: Sequence[np.ndarray]
) -> Iterator[tuple[list[Stroke], list[Note]]]:
    faces = shapely.polygonize(list(lines.values()))
    whole = shapely.union_all(list(faces.geoms))
    for polygon in getattr(whole, "geoms", [whole] if not whole.is_empty else []):
        on_it = [
            i
            for i, line in lines.items()
            if polygon.exterior.distance(line.interpolate(0.5, normalized=True)) <= ON_BOUNDARY_MM
            and polygon.exterior.distance(line.interpolate(0.25, normalized=True)) <= ON_BOUNDARY_MM
        ]
        where = ", ".join(place((float(x), float(y))) for x, y in meeting[:3])
        text = (
            f"more than two ends meet{on_layer(strokes[on_it[0]].layer)} at {where}: took the outer boundary "
            f"as the ring; lines inside it stay lines"
        )
        yield [strokes[i] for i in on_it], [warning("junction", text)]
