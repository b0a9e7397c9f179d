"""Areas as exact partitions: counted in whole grains, so that sums hold to the last bit.

A grain is 2⁻²⁰ mm² (a millionth): whole numbers of it add without rounding, and every area up to
8000 m² is one float exactly.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import astuple

import shapely

from nesting import rings
from nesting.account.regions import Regions
from nesting.files.hide import Hide
from nesting.files.report import Areas, Yield
from nesting.judge.scene import Scene
from nesting.judge.shapes import polygon

_GRAINS = 2**20


def areas(scene: Scene, found: Regions) -> Areas:
    """The areas of one hide, in mm².

    - ``hide``: all inside the outline, arcs exact, open holes included (they are in ``flaws``);
    - ``usable``: where at least one ordered panel may lie (see ``nesting.account.regions``);
    - ``flaws``: what would be usable besides if the hide had no flaws, zones and their margin;
    - ``margins``: the rest of the hide: its edges, and what they leave too narrow for any panel;
    - ``pieces``: outlines of the pieces, arcs exact, cut-outs included; a piece in another's cut-out,
      or an overlap within the judge's tolerance, is counted once;
    - ``remnant``: big enough to keep; ``between``: the rest of the usable leather, waste.

    What flattened arcs gain or lose against exact ones goes to ``margins`` and ``between``.
    """
    hide = _grains(rings.area(scene.hide.outline))
    pieces = min(max(_grains(_pieces(scene, found)), 0), hide)
    remnant = min(sum(_grains(part.area) for part in found.remnants), hide - pieces)
    usable = min(max(_grains(found.usable.area), pieces + remnant), hide)
    flaws = min(max(_grains(found.unflawed.area - found.usable.area), 0), hide - usable)
    counted = (hide, hide - flaws - usable, flaws, usable, pieces, usable - pieces - remnant, remnant)
    return Areas(*(grains / _GRAINS for grains in counted))


def _pieces(scene: Scene, found: Regions) -> float:
    exact = sum(rings.area(piece.panel.outline) for piece in scene.pieces)
    flat = sum(piece.filled.area for piece in scene.pieces)
    return float(exact - (flat - found.pieces.area))


def _grains(area: float) -> int:
    return round(area * _GRAINS)


def total(parts: Iterable[Areas]) -> Areas:
    """The sum of areas, each kind by itself."""
    columns = list(zip(*map(astuple, parts), strict=True))
    return Areas(*map(sum, columns)) if columns else Areas(*[0.0] * 7)


def yields(areas: Areas) -> Yield:
    """The share of hide and of usable leather that becomes pieces; 0 where there is none."""
    return Yield(_share(areas.pieces, areas.hide), _share(areas.pieces, areas.usable))


def _share(part: float, whole: float) -> float:
    return part / whole if whole > 0.0 else 0.0


def priced_area(hide: Hide) -> float:
    """The leather that a price by area is for, mm²: as measured, or else inside the outline, less holes.

    Open holes are not counted, thin spots and marks are (common practice, no source).
    """
    whole = hide.measured.best_area_mm2 if hide.measured else rings.area(hide.outline)
    return max(whole - holes_area(hide), 0.0)


def holes_area(hide: Hide) -> float:
    """The area of the open holes inside the outline, mm²."""
    holes = [polygon(flaw.outline) for flaw in hide.flaws if flaw.severity == "hole"]
    return float(shapely.intersection(shapely.union_all(holes), polygon(hide.outline)).area)
