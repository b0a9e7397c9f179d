"""What a job is made of: pieces by panel, with what the order says of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from nesting.account.charges import surface
from nesting.errors import InputError
from nesting.files.layout import Layout
from nesting.files.order import Order, OrderLine, Step, StepTime
from nesting.files.panel import Panel


@dataclass(frozen=True)
class Lot:
    """All pieces of one panel; ``line`` is what the order says of it, None without an order."""

    panel: Panel
    pieces: int
    line: OrderLine | None

    @property
    def lace_mm(self) -> float:
        """The lace for one piece: as the order states it, else as the panel does."""
        return self.panel.lace_mm if self.line is None else self.line.lace_of(self.panel)


@dataclass(frozen=True)
class Batch:
    """The pieces of a layout that are made at one go, and the order behind it, if known."""

    layout: Layout
    order: Order | None
    lots: tuple[Lot, ...]

    @property
    def pieces(self) -> int:
        """Of all panels together."""
        return sum(lot.pieces for lot in self.lots)

    @property
    def times(self) -> dict[Step, StepTime]:
        """What the order states about its steps."""
        return dict(self.order.work) if self.order else {}

    @property
    def holes(self) -> Counter[float]:
        """Punches by diameter, mm."""
        return Counter(
            {
                diameter: sum(
                    lot.pieces * sum(punch.diameter == diameter for punch in lot.panel.punches)
                    for lot in self.lots
                )
                for diameter in sorted({punch.diameter for lot in self.lots for punch in lot.panel.punches})
            }
        )

    @property
    def hardware(self) -> Counter[str]:
        """Items by name."""
        found: Counter[str] = Counter()
        for lot, line in self.ordered():
            for one in line.hardware:
                found[one.item] += one.count * lot.pieces
        return found

    @property
    def laces(self) -> Counter[float]:
        """Laces by length, mm."""
        found: Counter[float] = Counter()
        for lot in self.lots:
            if lot.lace_mm:
                found[lot.lace_mm] += lot.pieces
        return found

    def ordered(self) -> Iterator[tuple[Lot, OrderLine]]:
        """The lots with what the order says of them; none without an order."""
        return ((lot, lot.line) for lot in self.lots if lot.line is not None)

    def coated(self, coat: Step) -> tuple[int, float]:
        """Pieces that get a coat of ``dye``, ``antique`` or ``finish``, and the area to cover, mm².

        Dye and finish where the order prices them or states their time; antique, on the dyed sides, where it
        states its time.
        """
        if self.order is None:
            return 0, 0.0
        rates = {"dye": self.order.costs.dye, "finish": self.order.costs.finish}
        if coat not in self.times and rates.get(coat) is None:
            return 0, 0.0
        sides = [
            (lot, line.finished_sides if coat == "finish" else line.dyed_sides)
            for lot, line in self.ordered()
        ]
        count = sum(lot.pieces for lot, number in sides if number)
        return count, sum(lot.pieces * number * surface(lot.panel) for lot, number in sides)

    @property
    def is_coated(self) -> bool:
        """Whether anything wet comes on the leather that would fill its holes."""
        coats: tuple[Step, ...] = ("dye", "antique", "finish")
        return any(self.coated(coat)[0] for coat in coats)


def batch_of(layout: Layout, order: Order | None) -> Batch:
    """The batch of all placed pieces. Raises InputError when the order does not name a placed panel."""
    counts = Counter(placement.panel for laid in layout.hides for placement in laid.placements)
    lines = order.line_of if order else {}
    if order and (strange := [name for name in counts if name not in lines]):
        names = ", ".join(f'"{name}"' for name in strange)
        raise InputError(f"the order does not name {names}; give the order that the layout was made from")
    return Batch(
        layout,
        order,
        tuple(
            Lot(panel, counts[panel.name], lines.get(panel.name))
            for panel in layout.panels
            if counts[panel.name]
        ),
    )
