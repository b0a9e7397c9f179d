"""A leftover as a hide of its own: outline, flaws, straight edges, name, price and ancestry."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import numpy as np
import shapely
from shapely import Polygon

from nesting.account.areas import priced_area
from nesting.account.money import cents, money, shared
from nesting.files.hide import Flaw, Hide, Price
from nesting.judge.shapes import polygon
from nesting.prices import whole_price
from nesting.rings import Ring, counter_clockwise, ring_from_points
from nesting.shelf.leftover import GRID_MM, Leftover, polygons
from nesting.shelf.straight import straight_edges

_LEAST_FLAW_MM2 = 1.0
"""Less of a flaw than this on a remnant is rounding."""
_KNOWN_HOLE = 0.99
"""A gap in the leather that holes marked before fill to this share is one of them, not a new one."""
_REMNANT_OF = "remnant of "
_LONGEST_NAME = 180


def remnants_of(
    hide: Hide, left: Sequence[Leftover], credit: Decimal | None, new_name: Callable[[str], str]
) -> tuple[Hide, ...]:
    """The leftovers of ``hide`` as hides, in its frame (so they can be found on its photograph).

    Weight, tannage and spine are the hide's; nothing is measured any more. What a remnant costs is a
    sum for the whole of it: its share by area of ``credit``, what the pieces cut were spared for the
    remnants; where that is not known, of the hide's price. Shares are whole cents and add up.
    ``new_name`` makes a name that is free from one that may not be.
    """
    bare = [_remnant(hide, one, new_name) for one in left]
    areas = [Fraction(priced_area(one)) for one in bare]
    amounts = _amounts(hide, areas, credit)
    if amounts is None or hide.price is None:
        return tuple(bare)
    prices = [Price(money(amount), hide.price.currency, "hide") for amount in amounts]
    return tuple(replace(one, price=price) for one, price in zip(bare, prices, strict=True))


def _amounts(hide: Hide, areas: list[Fraction], credit: Decimal | None) -> list[int] | None:
    """Cents for each remnant; None where the hide has no price."""
    if hide.price is None:
        return None
    if not areas:
        return []
    if credit is not None:
        return shared(cents(Fraction(credit)), areas)
    whole_mm2 = priced_area(hide)
    share = min(sum(areas) / Fraction(whole_mm2), Fraction(1)) if whole_mm2 else Fraction(0)
    return shared(cents(whole_price(hide.price, whole_mm2) * share), areas)


def _remnant(hide: Hide, left: Leftover, new_name: Callable[[str], str]) -> Hide:
    outside = Polygon(left.leather.exterior)
    gaps = _gaps(hide, left.leather)
    return Hide(
        name=new_name(hide.name[:_LONGEST_NAME]),
        outline=_ring(outside),
        cut=_cut(hide.cut),
        weight_oz=hide.weight_oz,
        tannage=hide.tannage,
        straight_edges=straight_edges(left.leather, left.cuts, hide),
        flaws=(*_flaws(hide, outside, shapely.union_all(gaps)), *_holes(gaps)),
        spine=hide.spine,
        measured=None,
        ancestry=(*hide.ancestry, hide.name),
    )


def _cut(cut: str) -> str:
    """``remnant of single shoulder``; a remnant's remnant is called no differently."""
    if not cut:
        return "remnant"
    return cut if cut.startswith("remnant") else _REMNANT_OF + cut


def _flaws(hide: Hide, outside: Polygon, gaps: shapely.Geometry) -> list[Flaw]:
    """The flaws on this part of the hide: whole ones as they were, arcs and all; others clipped."""
    found = []
    for flaw in hide.flaws:
        zone = polygon(flaw.outline)
        if shapely.difference(shapely.intersection(zone, outside), gaps).area < _LEAST_FLAW_MM2:
            continue
        if outside.covers(zone):
            found.append(flaw)
            continue
        parts = polygons(shapely.set_precision(shapely.intersection(zone, outside), GRID_MM))
        found += [
            replace(flaw, outline=_ring(part)) for part in parts if part.area >= _LEAST_FLAW_MM2
        ]  # fmt: skip
    return found


def _gaps(hide: Hide, leather: Polygon) -> list[Polygon]:
    """Where pieces were cut from the midst of the leather."""
    old = shapely.union_all([polygon(flaw.outline) for flaw in hide.flaws if flaw.severity == "hole"])
    gaps = [Polygon(ring) for ring in leather.interiors]
    return [gap for gap in gaps if shapely.intersection(gap, old).area < _KNOWN_HOLE * gap.area]


def _holes(gaps: Sequence[Polygon]) -> list[Flaw]:
    return [Flaw("cut out", "hole", _ring(gap)) for gap in gaps]


def _ring(shape: Polygon) -> Ring:
    return counter_clockwise(ring_from_points(np.asarray(shape.exterior.coords)[:-1]))
