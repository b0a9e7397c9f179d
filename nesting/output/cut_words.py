"""The cut order in words, each cut by where it begins and ends as a hand measures it."""

from __future__ import annotations

import itertools
import math

from nesting.files.order import Tool
from nesting.output.cut_order import cut_steps
from nesting.output.cut_steps import CutStep
from nesting.output.measure import Baseline
from nesting.output.record import HideDrawing
from nesting.output.strokes import Circle, Loop, flat_path
from nesting.rings import Point, flatten

COLUMNS = ("no.", "cut", "piece", "from: along, off (mm)", "to", "long (mm)", "corners")
OWN = "its own leather goes on"


def cut_rows(drawing: HideDrawing, tool: Tool, line: Baseline, punches: bool) -> list[tuple[str, ...]]:
    """A row for each straight side, and one for a cut-out, a piece's curves or its punches, as ``COLUMNS``.

    Punches only where asked for. Places are along and off the base line.
    """
    names = {piece.placement.piece: piece.label.text for piece in drawing.pieces}
    steps = [step for step in cut_steps(drawing, tool) if punches or step.kind != "punch"]
    groups = [list(group) for _, group in itertools.groupby(enumerate(steps, 1), _together)]
    return [_row(group, names, line) for group in groups]


def _together(numbered: tuple[int, CutStep]) -> tuple[object, ...]:
    """What stands in one row: all but straight sides, piece by piece."""
    number, step = numbered
    if step.kind == "straight" and step.stroke.role == "outline":
        return (number,)
    return step.stroke.role, step.kind == "punch", step.pieces


def _row(group: list[tuple[int, CutStep]], names: dict[str, str], line: Baseline) -> tuple[str, ...]:
    (first, step), (last, _) = group[0], group[-1]
    steps = [step for _, step in group]
    alone = len(steps) == 1 and step.start != step.end
    return (
        str(first) if first == last else f"{first}-{last}",
        _what(steps),
        " + ".join(names[piece] for piece in step.pieces),
        _place(line, step.start),
        _place(line, step.end) if alone else "",
        f"{sum(map(length_mm, steps)):.0f}",
        ends_words(step, names) if alone else _corner_words(steps, names),
    )


def _what(steps: list[CutStep]) -> str:
    """``straight``, ``2 curves``, ``6 punches``, ``cut-out: 2 straight, 2 curves``."""
    counts = [
        (sum(step.kind == kind for step in steps), one, many)
        for kind, one, many in (
            ("punch", "punch", "punches"), ("straight", "straight", "straight"), ("curve", "curve", "curves"),
        )
    ]  # fmt: skip
    told = [(count, one, many) for count, one, many in counts if count]
    words = ", ".join(
        one if count == 1 == len(told) else f"{count} {many if count > 1 else one}"
        for count, one, many in told
    )
    return f"cut-out: {words}" if steps[0].stroke.role == "cut-out" else words


def cut_counts(drawing: HideDrawing, tool: Tool) -> str:
    """``96 punches, 12 cut-outs, 23 outlines; 14.2 m of cuts, 9.1 m between them``."""
    steps = cut_steps(drawing, tool)
    kinds = {"punch": "punches", "cut-out": "cut-outs", "outline": "outlines"}
    counted = [(sum(step.kind == kind for step in steps), words) for kind, words in kinds.items()]
    cut = sum(length_mm(step) for step in steps) / 1000
    between = sum(math.dist(one.end, other.start) for one, other in itertools.pairwise(steps)) / 1000
    words = ", ".join(f"{count} {word}" for count, word in counted if count)
    return f"{words}; {cut:.1f} m of cuts, {between:.1f} m between them"


def length_mm(step: CutStep) -> float:
    """How long a cut is; a punch by its edge."""
    if isinstance(step.stroke, Circle):
        return math.pi * step.stroke.diameter
    points = flatten(step.stroke.ring) if isinstance(step.stroke, Loop) else flat_path(step.stroke.points)
    closing = math.dist(points[-1], points[0]) if isinstance(step.stroke, Loop) else 0.0
    return closing + sum(math.dist(a, b) for a, b in itertools.pairwise(points.tolist()))


def ends_words(step: CutStep, names: dict[str, str]) -> str:
    """Where the blade must not pass the corner, and for what; empty where it may run out."""
    start, end = (_beyond(name, step, names) for name in (step.begins_at, step.stops_at))
    if start and end:
        return f"set in and stop at the corners: {start if start == end else f'{start}; {end}'}"
    if end:
        return f"stop at the corner: {end}"
    return f"set in at the corner: {start}" if start else ""


def _corner_words(steps: list[CutStep], names: dict[str, str]) -> str:
    """Of several cuts: what begins behind their corners."""
    tied = dict.fromkeys(
        _beyond(name, step, names) for step in steps for name in (step.begins_at, step.stops_at) if name
    )
    return f"stop at the corners: {', '.join(tied)}" if tied else ""


def _beyond(name: str, step: CutStep, names: dict[str, str]) -> str:
    if not name:
        return ""
    return OWN if (name,) == step.pieces else f"{names[name]} begins"


def _place(line: Baseline, point: Point) -> str:
    along, off = line.measure(point)
    return f"{along:.0f}, {off:.0f}"
