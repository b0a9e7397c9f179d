"""What an order asks for, in units that may not be torn: a pair, or a single piece."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.files.order import Order, OrderLine


@dataclass(frozen=True)
class Unit:
    """One pair or single piece of an order line. ``members`` are (name suffix, mirrored)."""

    line: int
    members: tuple[tuple[str, bool], ...]
    wanted: bool
    """False for the units that a ``fill`` line only takes if there is room."""

    @property
    def pieces(self) -> int:
        """How many pieces the unit holds."""
        return len(self.members)


_MEMBERS = {
    "mirrored": (("L", False), ("R", True)),
    "alike": (("1", False), ("2", False)),
    "none": (("", False),),
}


def unit_of(lines: tuple[OrderLine, ...], line: int, wanted: bool) -> Unit:
    """One unit of an order line."""
    return Unit(line, _MEMBERS[lines[line].panel.pairing], wanted)


def wanted_units(order: Order) -> list[Unit]:
    """The units that the order asks for by number, line by line."""
    units: list[Unit] = []
    for index, line in enumerate(order.lines):
        unit = unit_of(order.lines, index, True)
        if line.pairs is not None:
            units += [unit] * line.pairs
        elif line.pieces is not None:
            units += [unit] * (line.pieces // unit.pieces)
    return units


def fill_lines(order: Order) -> list[int]:
    """The lines that ask for as many as fit."""
    return [i for i, line in enumerate(order.lines) if line.fill]
