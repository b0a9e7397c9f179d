"""What every reader makes of a drawing: strokes and points by layer, in millimetres, y up.

Codes of notes are stable; the text beside them is for people and may change. Repairs:
``joined-ends``, ``closed-gap``, ``dropped-duplicate``, ``dropped-zero-length``,
``dropped-closing-point``, ``joined-across-names``, ``dxf-recovered``, ``dxf-audit``. Decisions:
``approximated``, ``ignored``, ``outline``, ``flaw``, ``cutout``, ``punch``, ``mark``, ``line``,
``hidden-zone``, ``spine``, ``straight-edge``, ``stretch``. Warnings: ``size``, ``severity-unknown``,
``junction``, ``open-line``, ``duplicate-outline``, ``not-flat``, ``dxf-guessed``; also ``ignored``,
``mark`` and ``dxf-audit`` where something is lost.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from nesting.rings import Point, Vertex

NoteKind = Literal["repair", "decision", "warning"]


@dataclass(frozen=True)
class Note:
    """One thing that was mended, decided or looks doubtful, in plain words."""

    kind: NoteKind
    code: str
    text: str


@dataclass(frozen=True)
class Stroke:
    """A run of straight segments and arcs as drawn.

    ``layer`` says which strokes may belong together; ``names`` are the words to judge it by, the
    nearest first (own name, then those of the groups around it). A closed stroke does not repeat its
    first vertex; the last bulge of an open one is 0.
    """

    layer: str
    names: tuple[str, ...]
    vertices: tuple[Vertex, ...]
    closed: bool = False

    @property
    def start(self) -> Point:
        """First point."""
        return self.vertices[0][:2]

    @property
    def end(self) -> Point:
        """Last point of an open stroke."""
        return self.vertices[-1][:2]


@dataclass(frozen=True)
class Spot:
    """A single point as drawn."""

    layer: str
    names: tuple[str, ...]
    at: Point


@dataclass(frozen=True)
class Drawing:
    """A whole drawing in millimetres, y up. ``unit`` is the word for the unit it was drawn in."""

    source: str
    unit: str
    strokes: tuple[Stroke, ...] = ()
    spots: tuple[Spot, ...] = ()
    notes: tuple[Note, ...] = field(default=())


def repair(code: str, text: str) -> Note:
    """Something was mended."""
    return Note("repair", code, text)


def decision(code: str, text: str) -> Note:
    """Something was understood in one of several ways."""
    return Note("decision", code, text)


def warning(code: str, text: str) -> Note:
    """Something looks doubtful; a person should look."""
    return Note("warning", code, text)


def place(point: Point) -> str:
    """A point in words, to a hundredth of a millimetre."""
    return f"({_short(point[0])}, {_short(point[1])})"


def _short(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) >= 0.005 else "0"


def on_layer(layer: str) -> str:
    """`` on layer X``, or nothing where the layer has no name."""
    return f" on layer {layer}" if layer else ""


def counted(count: int, word: str) -> str:
    """``1 text``, ``3 texts``."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def all_finite(vertices: Iterable[tuple[float, ...]]) -> bool:
    """True when no coordinate is NaN or infinite."""
    return all(math.isfinite(value) for vertex in vertices for value in vertex)
