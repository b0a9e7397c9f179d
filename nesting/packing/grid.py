"""Signed distances to a border on a grid of nodes: for regions, and for no-fit polygons."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.packing import kernels

Floats = NDArray[np.float64]


def signed_grid(
    geometry: shapely.Geometry,
    edges: Floats,
    corner: tuple[float, float],
    step: float,
    rows: int,
    columns: int,
) -> Floats:
    """Distance (rows, columns) from each node to the nearest of ``edges`` (e, 4), positive inside.

    Inside is what ``geometry`` covers. The node of row r and column c lies at ``corner`` + ``step`` · (c, r).
    """
    x0, y0 = corner
    distance: Floats = kernels.distance_grid(edges, x0, y0, step, rows, columns)
    x, y = x0 + step * np.arange(columns), y0 + step * np.arange(rows)
    shapely.prepare(geometry)
    return np.where(shapely.contains_xy(geometry, *np.meshgrid(x, y)), distance, -distance)
