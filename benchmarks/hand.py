"""Laying by hand, written once and honestly: what a careful cutter with patterns and an awl would place.

Patterns are laid in rows from the straight edge; in a row each second pattern is turned end for end; a
pattern is pushed along, and up by at most a sixth of its height, until it fits; flaws are stepped over.
Both ends of the hide and both ways round are tried and the better count is kept. Of several panels the
largest is laid first, the next in what leather is left; hides are taken one after the other.
"""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide
from nesting.files.order import Order, OrderLine
from nesting.files.panel import Panel
from nesting.planning.leather import allowed, ring_polygon, spine_angle
from nesting.planning.patterns import allowed_turns, pattern_of

STEP_MM = 3.0


def by_hand(order: Order) -> int:
    """Pieces that careful rows place of an order, in whole pairs; see the module's words."""
    sizes = [ring_polygon(line.panel.outline).area for line in order.lines]
    by_size = sorted(range(len(order.lines)), key=lambda i: (order.lines[i].fill, -sizes[i]))
    wanted = [asked(line) for line in order.lines]
    total = 0
    for hide in order.hides:
        taken: BaseGeometry = shapely.Polygon()
        for i in by_size:
            laid = _line_by_hand(order, hide, order.lines[i].panel, wanted[i], taken)
            wanted[i] -= len(laid)
            total += len(laid)
            taken = shapely.union_all([taken, *laid])
    return total


def asked(line: OrderLine) -> int:
    """Pieces that an order line asks for; very many where it fills."""
    if line.fill:
        return 10**6
    return 2 * line.pairs if line.pairs is not None else line.pieces or 0


def _line_by_hand(
    order: Order, hide: Hide, panel: Panel, most: int, taken: BaseGeometry
) -> list[BaseGeometry]:
    """Where one panel lies on one hide, on the hide, at most so often and clear of what is taken."""
    if most <= 0:
        return []
    best: list[BaseGeometry] = []
    for end, first in product((False, True), (False, True)):
        if len(best) < most:
            best = max(best, _rows(order, hide, panel, end, first, most, taken), key=len)
    return best if panel.pairing == "none" else best[: len(best) // 2 * 2]


def _rows(
    order: Order, hide: Hide, panel: Panel, other_end: bool, turned_first: bool, most: int,
    taken: BaseGeometry,
) -> list[BaseGeometry]:  # fmt: skip
    cutting = order.cutting
    gap = cutting.kerf_mm + cutting.gap_mm
    pattern = pattern_of(panel, False, gap)
    (x0, y0), (x1, y1) = hide.straight_edges[0]
    along = math.degrees(math.atan2(y1 - y0, x1 - x0))
    leather = allowed(hide, cutting, pattern.parts[-1][1]).difference(taken.buffer(gap))
    middle = affinity.rotate(shapely.Point((x0 + x1) / 2, (y0 + y1) / 2), -along, origin=(0, 0))
    if middle.y > affinity.rotate(ring_polygon(hide.outline), -along, origin=(0, 0)).centroid.y:
        along += 180.0
    leather = affinity.rotate(leather, -along, origin=(0, 0))
    angle = _hand_angle(panel, allowed_turns(pattern, spine_angle(hide)), along)
    shapes = []
    for turned in (turned_first, not turned_first):
        shape = affinity.rotate(
            ring_polygon(panel.outline), angle + (180.0 if turned else 0.0), origin=(0, 0)
        )
        shapes.append(affinity.scale(shape, -1.0, 1.0, origin=(0, 0)) if other_end else shape)
    if other_end:
        leather = affinity.scale(leather, -1.0, 1.0, origin=(0, 0))
    corner = [affinity.translate(s, -s.bounds[0], -s.bounds[1]) for s in shapes]
    laid = _lay_rows(leather, corner, gap, most)
    if other_end:
        laid = [affinity.scale(shape, -1.0, 1.0, origin=(0, 0)) for shape in laid]
    return [affinity.rotate(shape, along, origin=(0, 0)) for shape in laid]


def _hand_angle(panel: Panel, turns: tuple[tuple[float, float], ...], along: float) -> float:
    """How the hand turns the pattern: the middle of what its stretch allows, else along the edge."""
    low, high = turns[0]
    if high - low < math.pi:
        return math.degrees(0.5 * (low + high)) - along
    polygon = shapely.minimum_rotated_rectangle(ring_polygon(panel.outline))
    corners = shapely.get_coordinates(polygon)
    sides = np.diff(corners, axis=0)
    longest = sides[np.argmax(np.hypot(*sides.T))]
    return -math.degrees(math.atan2(longest[1], longest[0]))


def _lay_rows(leather: BaseGeometry, shapes: list[BaseGeometry], gap: float, most: int) -> list[BaseGeometry]:
    if leather.is_empty:
        return []
    x0, y0, x1, y1 = leather.bounds
    high = max(s.bounds[3] for s in shapes)
    shapely.prepare(leather)
    laid: list[BaseGeometry] = []
    base = y0
    while base < y1 and len(laid) < most:
        x, count_in_row, near = x0, 0, [p for p in laid if p.bounds[3] > base - 0.5 * high]
        row: list[BaseGeometry] = []
        while x < x1 and len(laid) + len(row) < most:
            placed = _first_fit(leather, shapes[count_in_row % 2], x, base, high, near + row[-2:], gap)
            if placed is None:
                x += STEP_MM
                continue
            row.append(placed)
            count_in_row += 1
            x = placed.bounds[0] + 0.4 * (placed.bounds[2] - placed.bounds[0])
        laid += row
        base += high + gap if row else 2.0 * STEP_MM
    return laid


def _first_fit(
    leather: BaseGeometry, shape: BaseGeometry, x: float, base: float, high: float,
    others: list[BaseGeometry], gap: float,
) -> BaseGeometry | None:  # fmt: skip
    ups = np.arange(0.0, high / 6.0, STEP_MM)
    corners = shapely.get_coordinates(shape)
    places = np.column_stack((np.full(len(ups), x), base + ups))
    # A first look at few corners spares most of the work.
    for corner in corners[:: max(1, len(corners) // 4)]:
        places = places[shapely.contains_xy(leather, places + corner)]
    if not len(places):
        return None
    trials = shapely.polygons(places[:, None, :] + corners[None, :, :])
    for trial in trials[shapely.covers(leather, trials)]:
        if all(shapely.distance(trial, other) >= gap for other in others):
            return trial
    return None
