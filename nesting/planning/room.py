"""Why nothing of an order, or nothing of a panel, can be laid: sizes, rooms and turns."""

from __future__ import annotations

import math

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide
from nesting.files.order import Order, OrderLine
from nesting.planning.leather import allowed, ring_polygon, spine_angle
from nesting.planning.patterns import Pattern, allowed_turns, patterns_of_line
from nesting.planning.table import can_hold
from nesting.units import format_weight


def hopeless(order: Order) -> str | None:
    """Why no panel of the order has room on any hide, None as long as one may have."""
    for line in order.lines:
        if _may_lie(line, order, _taking(line, order)):
            return None
    return nothing_laid(order)


def nothing_laid(order: Order) -> str:
    """One sentence for each panel: its size, and the largest room of the hides that it may lie on."""
    said = [_said(line, order) for line in order.lines]
    more = f"; and {len(said) - 3} more" if len(said) > 3 else ""
    return f"{order.path}: nothing can be laid: {'; '.join(said[:3])}{more}"


def none_laid(line: OrderLine, order: Order) -> str:
    """Why no piece of a line lies anywhere, while others of the order do."""
    kind = f" of {format_weight(line.weight_oz)}" if line.weight_oz else ""
    hides = _taking(line, order)
    if not hides:
        return f"no hide{kind} in the order"
    if not any(_turns(hide, _patterns(line, order)) for hide in hides):
        return "may not be turned as its stretch asks"
    if not _may_lie(line, order, hides):
        return f"no hide{kind} has room for it, inside margins and clear of flaws"
    return f"no hide{kind} has room left for {_one(line)}"


def _one(line: OrderLine) -> str:
    if not line.paired:
        return "one"
    within = "" if line.pair_within_mm is None else f" within {line.pair_within_mm:g} mm"
    return f"a whole pair{within}"


def _taking(line: OrderLine, order: Order) -> list[Hide]:
    return [hide for hide in order.hides if line.takes(hide)]


def _may_lie(line: OrderLine, order: Order, hides: list[Hide]) -> bool:
    """Whether one of the hides has a place for each shape of the line, as far as widths and turns tell."""
    patterns = _patterns(line, order)
    return any(all(can_hold(hide, order, pattern) for pattern in patterns) for hide in hides)


def _said(line: OrderLine, order: Order) -> str:
    # Of two mates the larger one.
    panel = max(line.panels, key=lambda one: float(ring_polygon(one.outline).area))
    name, hides = f'panel "{panel.name}"', _taking(line, order)
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
    outline, lone = ring_polygon(panel.outline), "" if not line.paired else f" for {_one(line)}"
    size, across = _size(outline), _size(room)
    if size == across:
        size, across = _size(outline, 2), _size(room, 2)
    return (
        f"{name} ({size}) found no room{lone}: the largest, on {hide.name} inside its margins and clear of "
        f"flaws, is {across} across; check the panel's unit or add a larger hide"
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


def _size(shape: BaseGeometry, places: int = 0) -> str:
    """``812 x 430 mm``: the sides of the smallest rectangle around a shape, to so many decimal places."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    long, short = sorted((math.dist(box[1], box[0]), math.dist(box[2], box[1])), reverse=True)
    return f"{long:.{places}f} x {short:.{places}f} mm"
