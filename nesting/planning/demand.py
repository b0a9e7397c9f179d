"""What an order asks for, in units that may not be torn: a pair, or a single piece."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import takewhile

from nesting.files.layout import Placement
from nesting.files.order import Order, OrderLine


@dataclass(frozen=True)
class Unit:
    """One pair or single piece of an order line.

    ``members`` are (name suffix, other): ``other`` is the second of the two shapes of a pair, which is the
    panel's mirror image, or where left and right differ (``mated``) the mate as drawn.
    """

    line: int
    members: tuple[tuple[str, bool], ...]
    wanted: bool
    """False for the units that a ``fill`` line only takes if there is room."""
    mated: bool = False

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
    if lines[line].mate is not None:
        return Unit(line, (("", False), ("", True)), wanted, mated=True)
    return Unit(line, _MEMBERS[lines[line].panel.pairing], wanted)


def is_other(line: OrderLine, placement: Placement) -> bool:
    """Whether a piece of the line is of the second of the two shapes of a pair."""
    return placement.pose.mirrored or (line.mate is not None and placement.panel == line.mate.name)


def names_of(lines: tuple[OrderLine, ...], line: int, number: int) -> tuple[str | None, tuple[str, ...]]:
    """The name of a line's unit as a pair (None for a single piece), and those of its pieces."""
    what, unit = lines[line], unit_of(lines, line, True)
    if what.mate is not None:
        pieces = tuple(f"{what.panel_of(other).name}-{number:02d}" for _, other in unit.members)
        return f"{_stem(lines, what)}-{number:02d}", pieces
    base = f"{what.panel.name}-{number:02d}"
    pieces = tuple(f"{base}-{suffix}" if suffix else base for suffix, _ in unit.members)
    return (base if unit.pieces > 1 else None), pieces


def _stem(lines: tuple[OrderLine, ...], line: OrderLine) -> str:
    """``cuff`` of cuff-left and cuff-right; both names where they share no word or another has that one."""
    taken = {panel.name for one in lines for panel in one.panels}
    stems = [_shared_words(one) for one in lines if one.mate is not None]
    stem = _shared_words(line)
    return (
        stem
        if stem and stem not in taken and stems.count(stem) == 1
        else "+".join(p.name for p in line.panels)
    )


def _shared_words(line: OrderLine) -> str:
    words = zip(*(panel.name.split("-") for panel in line.panels), strict=False)
    return "-".join(word for word, _ in takewhile(lambda pair: pair[0] == pair[1], words))


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
