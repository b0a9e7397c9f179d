"""Steps of cutting, and the stages that must follow one another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
import shapely

from nesting.files.hide import Segment
from nesting.output.strokes import AnyStroke, Circle, Loop, Path, Stroke
from nesting.output.tour import tour
from nesting.rings import Point, Ring, flatten

Kind = Literal["punch", "cut-out", "outline", "straight", "curve"]
Cut = Circle | Loop | Path
SHRUNK_MM = 0.05
"""A piece begins this far inside its outline: cuts on one line with it do not run into it."""


@dataclass(frozen=True)
class CutStep:
    """One cut: ``kind`` is what is cut at one go, ``stroke`` where, begun at its first point.

    ``pieces`` come loose along it. ``begins_at`` and ``stops_at`` name the piece that begins behind the
    first and past the last point, where the blade must not run over; empty where it may.
    """

    kind: Kind
    stroke: Cut
    pieces: tuple[str, ...]
    begins_at: str = ""
    stops_at: str = ""

    @property
    def start(self) -> Point:
        """Where the tool goes in."""
        return ends(self.stroke)[0]

    @property
    def end(self) -> Point:
        """Where it comes out."""
        return ends(self.stroke)[1]


@dataclass(frozen=True)
class Body:
    """A piece as it lies on the hide: name, outline and cut-outs."""

    piece: str
    outline: Ring
    cutouts: tuple[Ring, ...] = ()

    @cached_property
    def leather(self) -> shapely.Geometry:
        """What must not be cut into: a little inside the piece's own cuts."""
        holes = [flatten(ring) for ring in self.cutouts]
        return shapely.Polygon(flatten(self.outline), holes).buffer(-SHRUNK_MM)


@dataclass(frozen=True)
class Table:
    """What lies on the table: the pieces, edges that are already true, and where the tool waits."""

    bodies: tuple[Body, ...]
    straight_edges: tuple[Segment, ...] = ()
    home: Point = (0.0, 0.0)

    @cached_property
    def nesting(self) -> dict[str, int]:
        """How many cut-outs of other pieces each piece lies in."""
        middles = {body.piece: body.leather.representative_point() for body in self.bodies}
        holes = [
            (body.piece, shapely.Polygon(flatten(ring))) for body in self.bodies for ring in body.cutouts
        ]
        return {
            piece: sum(owner != piece and hole.contains(middle) for owner, hole in holes)
            for piece, middle in middles.items()
        }


def ends(stroke: Stroke) -> tuple[Point, Point]:
    """Where a stroke is entered and left; a closed one where it begins."""
    if isinstance(stroke, Loop):
        return stroke.ring[0][:2], stroke.ring[0][:2]
    if isinstance(stroke, Path):
        return stroke.points[0][:2], stroke.points[-1][:2]
    return stroke.at, stroke.at


def stages(strokes: Iterable[Cut], table: Table) -> list[list[Cut]]:
    """The cuts in groups that must follow one another; within a group any order is sound."""
    groups: dict[tuple[int, int], list[Cut]] = {}
    for stroke in strokes:
        if isinstance(stroke, Circle):
            groups.setdefault((0, 0), []).append(stroke)
        else:
            depth = 1 + max(table.nesting.values(), default=0) - table.nesting[stroke.piece]
            groups.setdefault((depth, int(stroke.role == "outline")), []).append(stroke)
    return [groups[key] for key in sorted(groups)]


def machine_steps(strokes: Iterable[Cut]) -> list[CutStep]:
    """One step a stroke, each outline and cut-out at one go, in the order given."""
    return [CutStep(_kind(stroke), stroke, (stroke.piece,)) for stroke in strokes]


def machine_order(strokes: Iterable[Cut], table: Table) -> list[Cut]:
    """The strokes stage by stage, with short ways between them."""
    found: list[Cut] = []
    for stage in stages(strokes, table):
        found += nearest_next(stage, ends(found[-1])[1] if found else table.home)
    return found


def _kind(stroke: Cut) -> Kind:
    if isinstance(stroke, Circle):
        return "punch"
    return "outline" if stroke.role == "outline" else "cut-out"


def nearest_next(strokes: Sequence[AnyStroke], home: Point) -> list[AnyStroke]:
    """The strokes with short ways between them; an open path may come out turned round."""
    starts = np.array([ends(stroke)[0] for stroke in strokes]).reshape(-1, 2)
    stops = np.array([ends(stroke)[1] for stroke in strokes]).reshape(-1, 2)
    order = tour(starts, stops, np.ones(len(strokes), dtype=bool), home)
    return [turned(strokes[i]) if back else strokes[i] for i, back in order]


def turned(stroke: AnyStroke) -> AnyStroke:
    """The same stroke from its end to its start."""
    if not isinstance(stroke, Path):
        return stroke
    xs = stroke.points
    back = tuple((*xs[i][:2], -xs[i - 1][2] if i else 0.0) for i in reversed(range(len(xs))))
    return replace(stroke, points=back)
