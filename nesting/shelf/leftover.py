"""The leather left of a hide once its pieces are cut: what of it is worth a place on the shelf.

Worked out from the hide's own outline, not from the usable leather: the rough edge that stays on a
remnant is an edge of it, and its margin is kept once, when the remnant itself is cut.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely import Polygon

from nesting.account import Keep
from nesting.files.order import Cutting
from nesting.judge.edges import portions
from nesting.judge.scene import Scene
from nesting.judge.shapes import polygon

_QUARTER = 32
"""Segments to a quarter turn when offsetting."""
_MITRE = 1.5
"""Offsets give back corners from a right angle (√2) up; sharper ones are blunted."""
_FRINGE_MM = 10.0
"""Half the width of tongues that are trimmed off, such as margins between a piece and the edge."""
_SIMPLE_MM = 0.05
"""Points that bend an outline by less are left out. Pieces are grown by as much more, so that no outline
comes nearer to a cut than it should."""
GRID_MM = 0.001
"""Corners are put on this grid, so that a file's rounding cannot make an outline cross itself."""


@dataclass(frozen=True)
class Leftover:
    """Leather in one part, mm: it may have holes. ``cuts`` is the line work of all cuts on the hide."""

    leather: Polygon
    cuts: shapely.Geometry


def leftovers(
    scene: Scene,
    cutting: Cutting,
    sure: Sequence[Polygon] = (),
    keep: Keep = Keep(),  # noqa: B008
) -> list[Leftover]:
    """What is left of a hide and worth keeping, largest first.

    The leather without its holes and without the pieces grown by kerf and gap, what lies in their
    cut-outs included; then only where a disc of the keeping width passes (an opening), with the corners
    given back and thin tongues trimmed. A part is kept when, off its weak flaws and edge margins, it
    has room of the keeping width and area, or when it holds one of the ``sure`` remnants.
    """
    apart = cutting.kerf_mm + cutting.gap_mm + _SIMPLE_MM
    nets = [piece.net for piece in scene.pieces]
    grown = shapely.union_all(shapely.buffer(nets, apart, join_style="mitre", mitre_limit=_MITRE))
    left = shapely.difference(shapely.difference(scene.leather, _flaws(scene, "hole")), grown)
    spoilt = _spoilt(scene, cutting)
    found = []
    for part in _opened(left, keep.width_mm / 2.0):
        sound = _opened(shapely.difference(part, spoilt), keep.width_mm / 2.0)
        if any(bit.area >= keep.least_mm2 for bit in sound) or _holds(part, sure):
            found.append(Leftover(part, shapely.boundary(grown)))
    return sorted(found, key=lambda one: -one.leather.area)


def _holds(part: Polygon, sure: Sequence[Polygon]) -> bool:
    """Whether a remnant, as the account counts it, lies in this part for the most."""
    return any(shapely.intersection(part, one).area > 0.5 * one.area for one in sure)


def _flaws(scene: Scene, *severities: str) -> shapely.Geometry:
    return shapely.union_all(
        [polygon(flaw.outline) for flaw in scene.hide.flaws if flaw.severity in severities]
    )


def _spoilt(scene: Scene, cutting: Cutting) -> shapely.Geometry:
    """What no load may lie on, or no piece at all: weak flaws and holes, and the margins of the edges."""
    rough, straight = portions(scene.hide)
    return shapely.union_all(
        [
            _offset(_flaws(scene, "hole", "weak"), cutting.flaw_margin_mm),
            _offset(rough, cutting.edge_margin_mm),
            _offset(straight, cutting.straight_edge_margin_mm),
        ]
    )


def _opened(shape: shapely.Geometry, radius: float) -> list[Polygon]:
    """Parts of the opening of ``shape`` by a disc, corners given back, without tongues, never outside it.

    Opening: Serra, *Image Analysis and Mathematical Morphology*, 1982 (from memory).
    """
    wide = _worn_and_given_back(shape, radius)
    trimmed = _worn_and_given_back(wide, min(_FRINGE_MM, radius))
    # Half of it: the point where a ring begins is left out last, between neighbours already moved.
    simple = shapely.set_precision(shapely.simplify(trimmed, _SIMPLE_MM / 2.0), GRID_MM)
    return [part for part in polygons(simple) if part.area > math.pi * radius**2]


def _worn_and_given_back(shape: shapely.Geometry, radius: float) -> shapely.Geometry:
    core = _offset(shape, -radius)
    given_back = shapely.buffer(core, radius, join_style="mitre", mitre_limit=_MITRE)
    return shapely.intersection(given_back, shape)


def _offset(shape: Any, distance: float) -> Any:
    return shapely.buffer(shape, distance, quad_segs=_QUARTER)


def polygons(shape: shapely.Geometry) -> list[Polygon]:
    """The polygons that a geometry consists of; lines and points are left out."""
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]
