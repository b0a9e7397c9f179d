"""Cuts by hand: straight ones first along a rule, then the curves that join them.

A straight cut that runs past a corner spoils the next piece, so order and direction of cuts matter; a curve
is a row of small cuts (common practice, no source). Here a straight cut goes from where it must not be
overrun to where it may run out into waste, and where both ends are tied it says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely

from nesting.files.hide import Segment as Edge
from nesting.output.cut_steps import Body, Cut, CutStep, Kind, Table, ends, nearest_next, stages, turned
from nesting.output.shared import COINCIDE_MM, SHARED_MM, heading
from nesting.output.straight_runs import joined, runs
from nesting.output.strokes import Circle, Loop, Path
from nesting.output.tour import tour
from nesting.rings import Point, flatten

OVERRUN_MM = 5.0
"""How far past a corner a blade drawn along a rule may run (common practice, no source)."""


def knife_steps(strokes: Sequence[Cut], table: Table) -> list[CutStep]:
    """Punches; then cut-out by cut-out, and after them all outlines together, straight cuts before curves.

    Straight cuts in line are one cut; sides on a straight edge of the hide are cut already and left out.
    The curves of one piece follow one another.
    """
    steps: list[CutStep] = []
    at, ground = table.home, _Ground(table.bodies)
    for stage in stages(strokes, table):
        for group in _groups(stage, at):
            steps += _group_steps(group, table, ground, at)
            at = steps[-1].end if steps else at
    return steps


def _groups(stage: Sequence[Cut], at: Point) -> list[list[Cut]]:
    """What is cut together: punches, outlines, or the one cut-out."""
    if all(isinstance(cut, Loop | Path) and cut.role == "cut-out" for cut in stage):
        return [[cut] for cut in nearest_next(stage, at)]
    return [list(stage)]


def _group_steps(group: Sequence[Cut], table: Table, ground: _Ground, at: Point) -> list[CutStep]:
    punches = [cut for cut in group if isinstance(cut, Circle)]
    steps = [CutStep("punch", punch, (punch.piece,)) for punch in nearest_next(punches, at)]
    straight, curves = runs([cut for cut in group if not isinstance(cut, Circle)])
    open_still = [cut for cut in straight if not _already_cut(cut, table.straight_edges)]
    lines = [ground.step("straight", cut, parts) for cut, parts in joined(open_still, ground.is_waste)]
    steps += _straight_in_order(lines, at)
    bends = _piece_by_piece(curves, steps[-1].end if steps else at)
    return [*steps, *(ground.step("curve", cut, (cut,)) for cut in bends)]


def _straight_in_order(steps: Sequence[CutStep], home: Point) -> list[CutStep]:
    """Each begun at its tied end, so that it runs out at the other; and the nearest next."""
    ways = [_turned(step) if step.stops_at and not step.begins_at else step for step in steps]
    starts = np.array([step.start for step in ways]).reshape(-1, 2)
    stops = np.array([step.end for step in ways]).reshape(-1, 2)
    turnable = np.array([bool(step.begins_at) == bool(step.stops_at) for step in ways], dtype=bool)
    return [_turned(ways[i]) if back else ways[i] for i, back in tour(starts, stops, turnable, home)]


def _turned(step: CutStep) -> CutStep:
    return replace(step, stroke=turned(step.stroke), begins_at=step.stops_at, stops_at=step.begins_at)


def _piece_by_piece(curves: Sequence[Loop | Path], home: Point) -> list[Loop | Path]:
    """The nearest piece next, and in it the nearest curve."""
    of_piece: dict[str, list[Loop | Path]] = {}
    for curve in curves:
        of_piece.setdefault(curve.piece, []).append(curve)
    at, found = home, list[Loop | Path]()
    doors = [Circle("cut", "", ends(group[0])[0], 0.0, piece) for piece, group in of_piece.items()]
    for door in nearest_next(doors, home):
        found += nearest_next(of_piece[door.piece], at)
        at = ends(found[-1])[1]
    return found


def _already_cut(cut: Path, straight_edges: Sequence[Edge]) -> bool:
    tips = shapely.points([vertex[:2] for vertex in cut.points])
    return any(
        bool((shapely.distance(shapely.LineString(edge), tips) <= COINCIDE_MM).all())
        for edge in straight_edges
    )


@dataclass(frozen=True)
class _Ground:
    """Where pieces are and where waste is."""

    bodies: tuple[Body, ...]

    @cached_property
    def leather(self) -> shapely.STRtree:
        """What must not be cut into."""
        return shapely.STRtree([body.leather for body in self.bodies])

    @cached_property
    def edges(self) -> shapely.STRtree:
        """The pieces' own cuts."""
        return shapely.STRtree(
            [
                shapely.MultiLineString(
                    [shapely.LinearRing(flatten(ring)) for ring in (body.outline, *body.cutouts)]
                )
                for body in self.bodies
            ]
        )

    def is_waste(self, start: Point, end: Point) -> bool:
        """Whether a straight way crosses no piece."""
        return not len(self.leather.query(shapely.LineString([start, end]), predicate="intersects"))

    def step(self, kind: Kind, cut: Loop | Path, parts: Sequence[Loop | Path]) -> CutStep:
        """The cut with the pieces that come loose along it and those that tie its ends."""
        pieces = dict.fromkeys(name for part in parts for name in self._along(part))
        if isinstance(cut, Loop):
            return CutStep(kind, cut, tuple(pieces))
        first, last = cut.points[0], cut.points[-1]
        second, before = cut.points[1], cut.points[-2]
        outset = heading((first[:2], second[:2], first[2]), at_end=False)
        finish = heading((before[:2], last[:2], before[2]), at_end=True)
        return CutStep(
            kind,
            cut,
            tuple(pieces),
            begins_at=self._ahead(first[:2], outset + math.pi),
            stops_at=self._ahead(last[:2], finish),
        )

    def _along(self, part: Loop | Path) -> list[str]:
        """Names of the pieces that have the part as their edge, its own first."""
        if isinstance(part, Loop):
            return [part.piece]
        (x0, y0, bulge), (x1, y1, _) = part.points[0], part.points[1]
        # The middle of the first side's chord, moved onto its arc by the sagitta.
        middle = ((x0 + x1) / 2 + bulge * (y1 - y0) / 2, (y0 + y1) / 2 - bulge * (x1 - x0) / 2)
        near = self.edges.query(shapely.Point(middle), predicate="dwithin", distance=SHARED_MM)
        return [
            part.piece,
            *(self.bodies[i].piece for i in sorted(near) if self.bodies[i].piece != part.piece),
        ]

    def _ahead(self, point: Point, angle: float) -> str:
        """The piece that a blade meets first when it runs on from a point, or nothing."""
        dx, dy = math.cos(angle), math.sin(angle)
        way = shapely.LineString([point, (point[0] + OVERRUN_MM * dx, point[1] + OVERRUN_MM * dy)])
        met = [int(i) for i in self.leather.query(way, predicate="intersects")]
        here = shapely.Point(point)
        first = min(met, key=lambda i: (round(self.leather.geometries[i].distance(here), 6), i), default=None)
        return "" if first is None else self.bodies[first].piece
