"""Panels on hides: ``python -m benchmarks.hides --seconds N``.

Fills flawed sample shoulders with one panel at a time and compares the count of pieces with an area
bound, with a careful hand method and with the packer's own greedy start. Every layout is judged.

The hand method, written once and honestly: patterns are laid in rows from the straight edge; in a row
each second pattern is turned end for end; a pattern is pushed along, and up by at most a sixth of
its height, until it fits; flaws are stepped over. Both ends of the hide and both ways round are
tried and the better count is kept.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from nesting.files.hide import Hide
from nesting.files.hide_file import read_hide
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import Panel
from nesting.files.panel_file import read_panel
from nesting.judge import faults
from nesting.packing.stop import MaxSeconds
from nesting.packing.warm import warm_up
from nesting.planning.leather import allowed, opened, ring_polygon, spine_angle
from nesting.planning.patterns import allowed_turns, pattern_of
from nesting.planning.plan import improving_layouts
from nesting.planning.search import Search

SAMPLES = Path(__file__).parent.parent / "sample_hides"
SHOULDERS = ("shoulder-02", "shoulder-04", "shoulder-05", "shoulder-06")
PANELS = ("half-chap", "gaiter", "cuff", "key-fob")
STEP_MM = 3.0
CUTTING = Cutting()


def fill_order(hide: Hide, panel: Panel) -> Order:
    """As many of one panel as the hide holds."""
    return Order("fill", (hide,), (OrderLine(panel, fill=True),), CUTTING)


def bound(hide: Hide, panel: Panel) -> int:
    """No layout can hold more pieces: usable area by the area of a piece, in whole pairs."""
    pattern = pattern_of(panel, False, CUTTING.kerf_mm + CUTTING.gap_mm)
    leather = opened(allowed(hide, CUTTING, pattern.parts[0][1]), 0.98 * pattern.narrowest)
    count = int(leather.area / pattern.area)
    return count if panel.pairing == "none" else count // 2 * 2


def by_hand(hide: Hide, panel: Panel) -> int:
    """Pieces that careful rows place; see the module's words. Single pieces count in whole pairs."""
    best = max(_rows(hide, panel, end, first) for end in (False, True) for first in (False, True))
    return best if panel.pairing == "none" else best // 2 * 2


def _rows(hide: Hide, panel: Panel, other_end: bool, turned_first: bool) -> int:
    pattern = pattern_of(panel, False, CUTTING.kerf_mm + CUTTING.gap_mm)
    spine = spine_angle(hide)
    (x0, y0), (x1, y1) = hide.straight_edges[0]
    along = math.degrees(math.atan2(y1 - y0, x1 - x0))
    leather = affinity.rotate(allowed(hide, CUTTING, pattern.parts[-1][1]), -along, origin=(0, 0))
    if shapely.Point(*_turn((x0 + x1) / 2, (y0 + y1) / 2, -along)).y > leather.centroid.y:
        leather = affinity.rotate(leather, 180.0, origin=(0, 0))
        along += 180.0
    if other_end:
        leather = affinity.scale(leather, -1.0, 1.0, origin=(0, 0))
    middle = _hand_angle(pattern.panel, allowed_turns(pattern, spine), along)
    shapes = []
    for turned in (turned_first, not turned_first):
        angle = middle + (180.0 if turned else 0.0)
        shape = affinity.rotate(ring_polygon(panel.outline), angle, origin=(0, 0))
        if other_end:
            shape = affinity.scale(shape, -1.0, 1.0, origin=(0, 0))
        bx, by, _, _ = shape.bounds
        shapes.append(affinity.translate(shape, -bx, -by))
    return _lay_rows(leather, shapes)


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


def _turn(x: float, y: float, angle_deg: float) -> tuple[float, float]:
    a = math.radians(angle_deg)
    return x * math.cos(a) - y * math.sin(a), x * math.sin(a) + y * math.cos(a)


def _lay_rows(leather: BaseGeometry, shapes: list[BaseGeometry]) -> int:
    x0, y0, x1, y1 = leather.bounds
    high = max(s.bounds[3] for s in shapes)
    gap = CUTTING.kerf_mm + CUTTING.gap_mm
    shapely.prepare(leather)
    laid: list[BaseGeometry] = []
    base = y0
    while base < y1:
        x, count_in_row, near = x0, 0, [p for p in laid if p.bounds[3] > base - 0.5 * high]
        row: list[BaseGeometry] = []
        while x < x1:
            placed = _first_fit(leather, shapes[count_in_row % 2], x, base, high, near + row[-2:], gap)
            if placed is None:
                x += STEP_MM
                continue
            row.append(placed)
            count_in_row += 1
            x = placed.bounds[0] + 0.4 * (placed.bounds[2] - placed.bounds[0])
        laid += row
        base += high + gap if row else 2.0 * STEP_MM
    return len(laid)


def _first_fit(
    leather: BaseGeometry, shape: BaseGeometry, x: float, base: float, high: float,
    others: list[BaseGeometry], gap: float,
) -> BaseGeometry | None:  # fmt: skip
    for up in np.arange(0.0, high / 6.0, STEP_MM):
        trial = affinity.translate(shape, x, base + up)
        if shapely.covers(leather, trial) and all(shapely.distance(trial, o) >= gap for o in others):
            return trial
    return None


def greedy_count(order: Order) -> int:
    """Pieces of the packer's first greedy layout."""
    search = Search(order, 1, lambda: False)
    for _ in search.run():
        return sum(len(poses) for units in search.plan().on for _, _, poses in units)
    return 0


def searched(order: Order, marks: list[float]) -> list[int]:
    """Pieces laid after each of ``marks`` seconds."""
    start, best, found = time.monotonic(), 0, []
    waiting = list(marks)
    layout = None
    for improvement in improving_layouts(order, 1, MaxSeconds(marks[-1])):
        while waiting and time.monotonic() - start > waiting[0]:
            found.append(best)
            waiting.pop(0)
        if improvement is not None:
            layout = improvement.layout
            best = max(best, sum(len(h.placements) for h in layout.hides))
    if layout is not None and faults(layout):
        raise ValueError("the judge refuses the layout")
    return found + [best] * len(waiting)


def main() -> None:
    """Run the benchmark; see the module's words."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.hides", description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--panels", default=",".join(PANELS))
    parser.add_argument("--hides", default=",".join(SHOULDERS))
    options = parser.parse_args()
    warm_up()
    gains = []
    print("hide         panel       bound  hand  greedy   1 s   end   end/hand")
    for name in options.hides.split(","):
        for kind in options.panels.split(","):
            hide = replace(read_hide(SAMPLES / f"{name}.hide.json"), weight_oz=None)
            panel = read_panel(SAMPLES / f"{kind}.panel.json")
            order = fill_order(hide, panel)
            hand = by_hand(hide, panel)
            one, end = searched(order, [1.0, options.seconds])
            gains.append(end / max(1, hand))
            print(
                f"{name:12s} {kind:10s} {bound(hide, panel):6d} {hand:5d} {greedy_count(order):7d} {one:5d} "
                f"{end:5d} {end / max(1, hand):8.2f}",
                flush=True,
            )
    print(f"mean of end/hand over {len(gains)} cases: {sum(gains) / len(gains):.3f}")


if __name__ == "__main__":
    main()
