"""How far a shape leaves its leather, looked up: inner-fit places turned into tables.

The places of a shape's centre where it lies within its regions are its inner-fit polygon (Bennell &
Oliveira 2008, doi 10.1016/j.ejor.2006.11.038). Here they are found on a grid, turn by turn; how far it is
to the nearest of them is how far the shape leaves its leather. As the tables of ``depths`` for pairs these
are off by a part of their step: a rough search runs by them, and what it finds is tested exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from nesting.packing import kernels

if TYPE_CHECKING:
    from nesting.packing.arrays import Fields, Static

Floats = NDArray[np.float64]

LAYER_NODES = 10_000
"""Nodes of a layer, about; 8 to 10 mm apart on a shoulder."""

MOST_VALUES = 40_000_000
"""All layers together hold no more numbers than this, or they get coarser."""

TURN = math.radians(5.0)
"""Layers of a shape that turns freely are no farther apart."""

FINE_TURN = math.radians(2.5)
"""The same for a shape whose turns are less than ``FEW_TURNS`` in all."""

FEW_TURNS = math.radians(120.0)


@dataclass(frozen=True)
class Leaving:
    """``layers[k, y, x]``: signed distance fields, mm, inside positive; see ``Static`` for the rest."""

    layers: NDArray[np.float32]
    turns: Floats
    frame: Floats


def build_leaving(static: Static, fields: Fields) -> Leaving:
    """Tables of all shapes, on one grid; none where no shape has a part."""
    angles = [_angles(static, shape) for shape in range(len(static.counts))]
    number = sum(len(layer) for of_shape in angles for layer in of_shape)
    turns = np.zeros((len(static.turns), 3))
    if not len(static.parts):
        return Leaving(np.zeros((0, 2, 2), dtype=np.float32), turns, np.zeros(4))
    x0, y0, node = fields.frame[:3]
    height, width = (node * (n - 1) for n in fields.grid.shape[1:])
    step = math.sqrt(width * height / min(LAYER_NODES, MOST_VALUES / number))
    rows, columns = int(height / step) + 2, int(width / step) + 2
    frame = np.array([x0, y0, step, 1.0 / step])
    layers = np.empty((number, rows, columns), dtype=np.float32)
    first = 0
    for shape, (part, end, row, _) in enumerate(static.counts):
        points = np.concatenate([np.zeros((0, 3)), *(_along(static, p, step) for p in range(part, end))])
        for k, layer in enumerate(angles[shape], start=int(row)):
            last = first + len(layer)
            spans, span = len(layer) - 1, layer[-1] - layer[0]
            turns[k] = first, spans, spans / span if spans else 0.0
            layers[first:last] = kernels.leaving_tables(
                shape, layer, points, frame, rows, columns, static, fields
            )
            first = last
    return Leaving(layers, turns, frame)


def _angles(static: Static, shape: int) -> list[Floats]:
    """For each of the shape's turns the angles of its layers."""
    turns = static.turns[static.counts[shape, 2] : static.counts[shape, 3]]
    apart = FINE_TURN if float(np.sum(turns[:, 1] - turns[:, 0])) < FEW_TURNS else TURN
    return [np.linspace(low, high, math.ceil((high - low) / apart) + 1) for low, high in turns]


def _along(static: Static, part: int, step: float) -> Floats:
    """Points along a part's border no farther apart than a step, (k, 3) with the part's region."""
    count = int(static.parts[part, kernels.NV]) + 1
    down = (static.parts.shape[1] - kernels.VX) // 2
    ends = static.parts[part, kernels.VX :].reshape(2, down)[:, :count].T
    found = []
    for a, b in pairwise(ends):
        pieces = max(1, math.ceil(math.hypot(*(b - a)) / step))
        found.append(a + (b - a) * (np.arange(pieces) / pieces)[:, None])
    points = np.concatenate(found)
    return np.column_stack((points, np.full(len(points), float(static.part_counts[part, 0]))))
