"""Why nothing of an order can be laid: how large its panels are and how large the largest room is."""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide
from nesting.files.order import Order, OrderLine
from nesting.planning.leather import allowed, ring_polygon, spine_angle
from nesting.planning.patterns import Pattern, allowed_turns, patterns_of_line
from nesting.planning.table import can_hold


def hopeless(order: Order) -> str | None:
    """Why no panel of the order has room on any hide, None as long as one may have."""
    for line in order.lines:
        patterns = _patterns(line, order)
        for hide in order.hides:
            if line.takes(hide) and all(can_hold(hide, order, pattern) for pattern in patterns):
                return None
    return nothing_laid(order)


def nothing_laid(order: Order) -> str:
    """One sentence for each panel: its size, and the largest room of the hides that it may lie on."""
    said = [_said(line, order) for line in order.lines]
    more = f"; and {len(said) - 3} more" if len(said) > 3 else ""
    return f"{order.path}: nothing can be laid: {'; '.join(said[:3])}{more}"


def _said(line: OrderLine, order: Order) -> str:
    # Of two mates the larger one.
    panel = max(line.panels, key=lambda one: float(ring_polygon(one.outline).area))
    name, hides = f'panel "{panel.name}"', [hide for hide in order.hides if line.takes(hide)]
    if not hides:
        return f"{name}: no hide is of the weight it asks for"
    patterns = _patterns(line, order)
    if not any(_turns(hide, patterns) for hide in hides):
        return f"{name} may not be turned as its stretch asks: widen the tolerance or allow more turns"
    pattern = next(one for one in patterns if one.panel == panel)
    rooms = [(_largest(hide, order, pattern), hide) for hide in hides]
    room, hide = max(rooms, key=lambda found: found[0].area)
    if room.is_empty:
        return f"{name}: margins and flaws leave no room on any hide"
    size = _size(ring_polygon(panel.outline))
    return (
        f"{name} ({size}) found no room: the largest, on {hide.name} inside its margins and clear of flaws, "
        f"is {_size(room)} across; check the panel's unit or add a larger hide"
    )


def _patterns(line: OrderLine, order: Order) -> list[Pattern]:
    apart = order.cutting.kerf_mm + order.cutting.gap_mm
    return patterns_of_line(line, apart)


def _turns(hide: Hide, patterns: list[Pattern]) -> bool:
    return all(allowed_turns(pattern, spine_angle(hide)) for pattern in patterns)


def _largest(hide: Hide, order: Order, pattern: Pattern) -> BaseGeometry:
    """The largest connected leather that the pattern's most tolerant part may use."""
    free = allowed(hide, order.cutting, pattern.parts[0][1])
    parts = shapely.get_parts(free)
    return max(parts, key=lambda part: part.area) if len(parts) else free


def _size(shape: BaseGeometry) -> str:
    """``812 x 430 mm``: the sides of the smallest rectangle around a shape."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    long, short = sorted((math.dist(box[1], box[0]), math.dist(box[2], box[1])), reverse=True)
    return f"{long:.0f} x {short:.0f} mm"
