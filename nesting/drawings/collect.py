"""What a reader gathers on its way through a file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from nesting.drawings.curves import TOLERANCE_MM
from nesting.drawings.drawing import (
    Drawing,
    Note,
    Spot,
    Stroke,
    all_finite,
    counted,
    decision,
    on_layer,
    place,
    repair,
)
from nesting.errors import InputError
from nesting.rings import Vertex

SAME_MM = 1e-3  # nearer than this is one point: noise of files that keep three or four decimals


@dataclass
class Collected:
    """Strokes and points so far, and counts of what was passed over."""

    source: str
    strokes: list[Stroke] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    ignored: Counter[tuple[str, str]] = field(default_factory=Counter)
    approximated: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add_run(self, layer: str, names: tuple[str, ...], run: Sequence[Vertex], closed: bool) -> None:
        """A run of vertices; points that repeat are dropped, and noted unless they only close the run.

        Raises InputError for a coordinate that is not a number.
        """
        if not all_finite(run):
            raise InputError(
                f"{self.source}: a coordinate{on_layer(layer)} is not a number; draw that line afresh"
            )
        kept, repeated = _without_repeats(run, closed)
        if not closed and len(kept) > 2 and _same(kept[0], kept[-1]):
            kept, closed = kept[:-1], True
        self._note_repeats(layer, run, len(kept), repeated, closed)
        if len(kept) >= 2:
            self.strokes.append(Stroke(layer, names, tuple(kept), closed))

    def _note_repeats(
        self, layer: str, run: Sequence[Vertex], kept: int, repeated: list[Vertex], closed: bool
    ) -> None:
        if not repeated and kept >= 2:
            return
        if kept < 2:
            text = f"dropped a line of no length{on_layer(layer)} at {place(run[0][:2])}"
            self.notes.append(repair("dropped-zero-length", text))
            return
        closing = closed and _same(repeated[-1], run[0])
        inner = repeated[:-1] if closing else repeated
        for vertex in inner:
            text = f"dropped a segment of no length{on_layer(layer)} at {place(vertex[:2])}"
            self.notes.append(repair("dropped-zero-length", text))
        if closing:
            text = f"dropped a closing point that repeats the first{on_layer(layer)} at {place(run[0][:2])}"
            self.notes.append(repair("dropped-closing-point", text))

    def add_spot(self, layer: str, names: tuple[str, ...], x: float, y: float) -> None:
        """A single point. Raises InputError when it is not a number."""
        if not all_finite([(x, y)]):
            raise InputError(f"{self.source}: a point{on_layer(layer)} is not a number; draw it afresh")
        self.spots.append(Spot(layer, names, (x, y)))

    def drawing(self, unit: str) -> Drawing:
        """Everything gathered; counts become notes."""
        notes = [*self.notes]
        for (what, layer), count in self.approximated.items():
            text = f"{counted(count, what)}{on_layer(layer)} became arcs and chords within {TOLERANCE_MM} mm"
            notes.append(decision("approximated", text))
        for (what, why), count in self.ignored.items():
            notes.append(decision("ignored", f"left out {counted(count, what)}: {why}"))
        return Drawing(self.source, unit, tuple(self.strokes), tuple(self.spots), tuple(notes))


def _without_repeats(run: Sequence[Vertex], closed: bool) -> tuple[list[Vertex], list[Vertex]]:
    """The run without vertices that repeat the one before, and those that were dropped."""
    kept: list[Vertex] = []
    dropped: list[Vertex] = []
    for vertex in run:
        if kept and _same(kept[-1], vertex):
            dropped.append(vertex)
            kept[-1] = (*kept[-1][:2], vertex[2])  # the segment that goes on starts at the later one
        else:
            kept.append(vertex)
    if closed and len(kept) > 1 and _same(kept[0], kept[-1]):
        dropped.append(kept.pop())
    return kept, dropped


def _same(a: Vertex, b: Vertex) -> bool:
    return abs(a[0] - b[0]) <= SAME_MM and abs(a[1] - b[1]) <= SAME_MM
