"""A table in the middle of the search: which units are on it, and which slots are free."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.packing import kernels
from nesting.packing.arrays import State
from nesting.packing.separate import reach
from nesting.planning.demand import Unit
from nesting.planning.table import Table

Floats = NDArray[np.float64]


@dataclass
class Laid:
    """A table, what lies on it, and its front: ``limit`` (xmin, ymin, xmax, ymax) keeps all pieces.

    ``bite`` is the share of the length that was last squeezed off, ``waited`` how often the mate of a piece
    on the table has found no room.
    """

    table: Table
    state: State
    limit: Floats
    bite: float = 0.02
    waited: int = 0

    def on(self) -> list[int]:
        """Indices of the units that are whole on the table."""
        active = self.state.active
        return [u for u, group in enumerate(self.table.groups) if active[group[0]] and active[group[-1]]]

    def torn(self) -> list[int]:
        """Indices of the pairs of which one piece is on the table and waits for its mate."""
        active = self.state.active
        return [u for u, group in enumerate(self.table.groups) if active[group[0]] != active[group[-1]]]

    def clear_torn(self) -> None:
        """Take pieces without their mate off the table."""
        self.waited = 0
        for u in self.torn():
            for item in self.table.groups[u]:
                kernels.lift(item, self.state)

    def reach(self) -> float:
        """How far the pieces reach on the table."""
        return reach(self.state)

    def taken(self) -> float:
        """Usable leather up to where the pieces reach, mm²."""
        return self.table.taken(self.reach()) if self.state.active.any() else 0.0


class Pool:
    """The free slots of a table: units that are not on it, by line and whether wanted."""

    def __init__(self, laid: Laid) -> None:
        self.free: dict[tuple[int, bool], list[int]] = {}
        active = laid.state.active
        for u in reversed(range(len(laid.table.units))):
            first, last = laid.table.groups[u][0], laid.table.groups[u][-1]
            if not (active[first] or active[last]):
                unit = laid.table.units[u]
                self.free.setdefault((unit.line, unit.wanted), []).append(u)

    def take(self, unit: Unit) -> int | None:
        """A free slot for such a unit, None when the table offers none."""
        slots = self.free.get((unit.line, unit.wanted))
        return slots.pop() if slots else None

    def take_all(self, wanted: list[Unit]) -> tuple[list[int], list[Unit]]:
        """Free slots for the wanted units and then for all fill units; and the wanted ones that have none."""
        slots, left = [], []
        for unit in wanted:
            slot = self.take(unit)
            if slot is None:
                left.append(unit)
            else:
                slots.append(slot)
        slots += [u for (_, asked), free in self.free.items() if not asked for u in reversed(free)]
        return slots, left
