"""What is written on a drafted panel and beside it: labels with leaders, halves, the stretch."""

from __future__ import annotations

import math

import shapely

from nesting.drafting.dimensions import TEXT_PX, Label, View, plain_dimension
from nesting.drafting.draft import Draft
from nesting.drafting.fit import hole_mm
from nesting.drafting.rows import crossings
from nesting.drafting.sketch import Item, Trace, Words
from nesting.drafting.spans import ends
from nesting.drafting.words import hole_words
from nesting.files.measures import LegPanel, Strap
from nesting.output.labels import upright
from nesting.output.palette import SOFT_INK
from nesting.rings import Point, flatten
from nesting.units import format_both

CLEAR_PX = 60.0
"""A label of marks stands so much higher than they do: its leader clears the holes beside them."""

LEAST_HALF_PX = 28.0
"""A strap that is narrower on either side of its centre line has the words of its stretch below it."""


def labels(one: Draft) -> list[Label]:
    """What is said beside the panel, with leaders to where it is."""
    measures, panel, found = one.measures, one.panel, []
    side = one.rows[1] or one.rows[0]
    if side:
        found.append(Label(side[0 if len(side) < 3 else len(side) - 2].at, hole_words(one)))
    buckle = measures.buckle_holes
    if buckle is not None:
        size = f"{buckle.count} of {format_both(hole_mm(buckle.size))}"
        found.append(Label(panel.punches[-buckle.count].at, (size, "on the centre line")))
    marks, at = (measures.marks_top, 0) if measures.marks_top else (measures.marks_bottom, 0)
    if marks is not None and not isinstance(one.shape, Strap):
        last = panel.marks[at + marks.count - 1]
        count = f"{marks.count} {'mark' if marks.count == 1 else 'marks'}"
        words = f"{format_both(marks.inset_mm)} from the edge"
        found.append(Label(last, (count, words), CLEAR_PX))
    found += _corner(one)
    if measures.groove_mm is not None:
        found.append(Label(_on_groove(one), ("groove", f"{format_both(measures.groove_mm)} from the edge")))
    return found


def _corner(one: Draft) -> list[Label]:
    """The lower right corner where it is rounded; of a strap the one nearest its tip."""
    plan = one.plan
    rounded = [i for i, radius in enumerate(plan.radii) if radius > 0.0]
    if not rounded:
        return []
    up = 1.0 if isinstance(one.shape, Strap) else -1.0
    right = [i for i in rounded if plan.ring[i][0] > 0.0]
    corner = max(right, key=lambda i: up * plan.ring[i][1])
    alike = len({plan.radii[i] for i in rounded}) == 1 and one.measures.radius_mm > 0.0
    words = "corners rounded to" if alike else "rounded to"
    at = _nearest(one, plan.ring[corner][:2])
    return [Label(at, (words, format_both(plan.radii[corner])))]


def _nearest(one: Draft, point: Point) -> Point:
    """The nearest point of the outline."""
    ring = shapely.LinearRing(flatten(one.panel.outline, 0.01))
    found = shapely.get_point(shapely.shortest_line(ring, shapely.Point(point)), 0)
    return float(found.x), float(found.y)


def _on_groove(one: Draft) -> Point:
    """A point of the groove on the right, a third of the way up; on a strap near its tip."""
    shape, height = one.shape, one.plan.height
    y = height - 0.6 * shape.width_mm if isinstance(shape, Strap) else height / 3.0
    return max(crossings(one.panel.lines[0].points[:-1], y)), y


def inside(one: Draft, view: View) -> list[Item]:
    """What stands on the panel: the calf's halves, front and back, the stretch."""
    items: list[Item] = []
    shape, height = one.shape, one.plan.height
    if isinstance(shape, LegPanel):
        y = shape.calf_height_mm
        left, right = ends(one, y)
        if y < height:
            for end in (left, right):
                items += plain_dimension(view.at((0.0, y)), view.at((end, y)), format_both(abs(end)))
        if shape.front != 0.5:
            words = ("back", "front") if shape.leg == "left" else ("front", "back")
            low = 0.2 * height
            for word, end in zip(words, ends(one, low), strict=True):
                at = view.at((0.55 * end, low))
                items.append(Words(at, word, TEXT_PX, SOFT_INK, align="center"))
    return [*items, *_stretch(one, view)]


def _stretch(one: Draft, view: View) -> list[Item]:
    """A double arrow along the backbone's direction, left of the centre line."""
    stretch = one.panel.stretch
    if stretch is None:
        return []
    angle = math.radians(stretch.angle_deg)
    y = (0.45 if isinstance(one.shape, LegPanel) else 0.5) * one.plan.height
    left, right = ends(one, y)
    middle, reach = (left / 2.0, y), 0.15 * min(right - left, one.plan.height)
    if isinstance(one.shape, Strap):
        middle, reach = (0.0, y), 0.1 * one.plan.height
    tips = [
        (middle[0] + sign * reach * math.cos(angle), y + sign * reach * math.sin(angle)) for sign in (-1, 1)
    ]
    start, end = map(view.at, tips)
    turn = upright(math.degrees(math.atan2(end[1] - start[1], end[0] - start[0])))
    items: list[Item] = [Trace(((*start, 0.0), (*end, 0.0)), SOFT_INK, 1.2)]
    for tip, back in ((start, end), (end, start)):
        items.append(Trace(_barbs(tip, back), SOFT_INK, 1.2))
    x, y = view.at(middle)
    off, away = math.radians(turn + 90.0), 13.0
    across = view.scale * (right - left)
    if isinstance(one.shape, Strap) and across < 2.0 * LEAST_HALF_PX:
        away = -(across / 2.0 + 16.0)
    at = (x + away * math.cos(off), y + away * math.sin(off))
    words = f"along the backbone ± {stretch.tolerance_deg:g}°"
    return [*items, Words(at, words, 13.0, SOFT_INK, align="center", turn_deg=turn)]


def _barbs(tip: Point, back: Point) -> tuple[tuple[float, float, float], ...]:
    length = max(1e-9, math.dist(tip, back))
    ux, uy = (back[0] - tip[0]) / length * 9.0, (back[1] - tip[1]) / length * 9.0
    wing = 0.4
    return (
        (tip[0] + ux - wing * uy, tip[1] + uy + wing * ux, 0.0),
        (*tip, 0.0),
        (tip[0] + ux + wing * uy, tip[1] + uy - wing * ux, 0.0),
    )
