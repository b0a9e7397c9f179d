"""One hide on the cutting table: the units it may take, as a packing problem in the table's frame.

The table is turned so that pieces are laid from low x onwards: ``heading`` is the direction on the
hide that becomes the table's x axis. What is left then lies at high x in one piece.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide, Severity
from nesting.files.order import Order
from nesting.packing.arrays import Arrays, State, build_arrays
from nesting.packing.problem import Item, Part, Placed, Problem, Region, Shape
from nesting.planning.demand import Unit
from nesting.planning.leather import allowed, opened, spine_angle
from nesting.planning.patterns import Pattern, allowed_turns
from nesting.rings import Pose

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Table:
    """A hide with the units it may take. ``groups[u]`` are the packing items of ``units[u]``."""

    hide: Hide
    heading: float
    units: tuple[Unit, ...]
    groups: tuple[tuple[int, ...], ...]
    arrays: Arrays
    leather: BaseGeometry  # all leather that any of the units may use, in the table's frame

    def fresh(self) -> tuple[State, Floats]:
        """An empty table: state and limit."""
        return self.arrays.fresh_state(), np.array(self.arrays.problem.box, dtype=np.float64)

    def poses(self, state: State) -> dict[int, tuple[Pose, ...]]:
        """Unit index to the poses of its members on the hide, for the units on the table."""
        placed = {p.item: p for p in self.arrays.placed(state)}
        return {
            u: tuple(
                self._pose(placed[i], other and not unit.mated)
                for i, (_, other) in zip(group, unit.members, strict=True)
            )
            for u, (unit, group) in enumerate(zip(self.units, self.groups, strict=True))
            if all(i in placed for i in group)
        }

    def _pose(self, placed: Placed, mirrored: bool) -> Pose:
        cos, sin = math.cos(self.heading), math.sin(self.heading)
        x, y = cos * placed.x - sin * placed.y, sin * placed.x + cos * placed.y
        return Pose(mirrored, math.degrees(placed.angle + self.heading) % 360.0, (x, y))

    def taken(self, reach: float) -> float:
        """Area in mm² of the usable leather up to x = ``reach`` on the table."""
        x0, y0, _, y1 = self.leather.bounds
        if reach <= x0:
            return 0.0
        return float(self.leather.intersection(shapely.box(x0, y0, reach, y1)).area)


def headings(hide: Hide) -> list[float]:
    """Directions to lay pieces in: along the longest straight edge from either end, then away from it.

    Without a straight edge: along the longest side of the smallest rectangle round the hide.
    """
    if hide.straight_edges:
        (x0, y0), (x1, y1) = max(hide.straight_edges, key=lambda s: math.dist(*s))
        along = math.atan2(y1 - y0, x1 - x0)
        middle = np.mean([v[:2] for v in hide.outline], axis=0)
        left = math.cos(along) * (middle[1] - y0) - math.sin(along) * (middle[0] - x0) > 0
        away = along + (math.pi / 2 if left else -math.pi / 2)
        return [along, along + math.pi, away]
    box = shapely.get_coordinates(
        shapely.minimum_rotated_rectangle(shapely.MultiPoint([v[:2] for v in hide.outline]))
    )
    sides = np.diff(box, axis=0)
    longest = sides[np.argmax(np.hypot(*sides.T))]
    along = math.atan2(longest[1], longest[0])
    return [along, along + math.pi]


def can_hold(hide: Hide, order: Order, pattern: Pattern) -> bool:
    """Whether the hide has a place for the pattern at all, as far as widths and turns tell."""
    if not allowed_turns(pattern, spine_angle(hide)):
        return False
    # Not the opened leather: a pattern's corners reach where its largest disc does not.
    free = allowed(hide, order.cutting, pattern.parts[0][1])
    return any(
        part.area >= 0.999 * pattern.area and not part.buffer(-0.98 * pattern.narrowest).is_empty
        for part in shapely.get_parts(free)
    )


def opened_leather(hide: Hide, order: Order, pattern: Pattern) -> BaseGeometry:
    """The leather that the pattern's most tolerant part may use, less nooks too narrow for it."""
    return opened(allowed(hide, order.cutting, pattern.parts[0][1]), 0.98 * pattern.narrowest)


def accepted_sets(
    patterns: dict[tuple[int, bool], Pattern], kinds: Sequence[tuple[int, bool]]
) -> list[frozenset[Severity]]:
    """The sets of severities that parts of the kinds accept, one region of the packer each."""
    sets = {accepts for kind in kinds for _, accepts in patterns[kind].parts}
    return sorted(sets, key=lambda accepts: (len(accepts), sorted(accepts)))


def set_table(
    hide: Hide, order: Order, patterns: dict[tuple[int, bool], Pattern], units: Sequence[Unit], heading: float
) -> Table:
    """Build the packing problem of a hide and the units it may take. ``patterns`` by (line, other)."""
    spine = spine_angle(hide)
    kinds = sorted({(u.line, other) for u in units for _, other in u.members})
    accepted = accepted_sets(patterns, kinds)
    regions = [_turned(allowed(hide, order.cutting, accepts), -heading) for accepts in accepted]
    leather = _turned(
        shapely.union_all([opened_leather(hide, order, patterns[kind]) for kind in kinds]), -heading
    )
    shapes = [_shape(patterns[kind], accepted, spine, heading) for kind in kinds]
    items: list[Item] = []
    groups: list[tuple[int, ...]] = []
    for unit in units:
        first = len(items)
        within = order.lines[unit.line].pair_within_mm
        # The packer measures between the centres of the bodies, the contract between those of the panels.
        off = sum(patterns[unit.line, other].off_centre for _, other in unit.members)
        limit = math.inf if within is None else max(0.0, within - 0.01 - off)
        for m, (_, other) in enumerate(unit.members):
            mate = None if unit.pieces == 1 else first + 1 - m
            items.append(Item(kinds.index((unit.line, other)), mate, limit))
        groups.append(tuple(range(first, len(items))))
    x0, y0, x1, y1 = shapely.union_all(regions).bounds
    box = (x0 - 1.0, y0 - 1.0, x1 + 1.0, y1 + 1.0)
    problem = Problem(tuple(shapes), tuple(items), tuple(region_of(r) for r in regions), box)
    return Table(hide, heading, tuple(units), tuple(groups), build_arrays(problem), leather)


def _shape(
    pattern: Pattern, accepted: list[frozenset[Severity]], spine: float | None, heading: float
) -> Shape:
    turns = tuple((low - heading, high - heading) for low, high in allowed_turns(pattern, spine))
    parts = tuple(Part(points, accepted.index(accepts)) for points, accepts in pattern.parts)
    return Shape(pattern.body, parts, turns)


def _turned(geometry: BaseGeometry, angle: float) -> BaseGeometry:
    cos, sin = math.cos(angle), math.sin(angle)
    turn = np.array([[cos, sin], [-sin, cos]])
    return shapely.transform(geometry, lambda p: p @ turn)


def region_of(geometry: BaseGeometry) -> Region:
    """Leather as a region of the packer; specks below a square millimetre are left out."""
    polygons = []
    for part in shapely.get_parts(geometry):
        if part.geom_type == "Polygon" and part.area > 1.0:
            holes = tuple(shapely.get_coordinates(h)[:-1] for h in part.interiors)
            polygons.append((shapely.get_coordinates(part.exterior)[:-1], holes))
    return Region(tuple(polygons))
