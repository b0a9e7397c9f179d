"""An order: which panels, from which hides, cut how, at what cost."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Literal, get_args

from nesting.files.hide import Hide
from nesting.files.panel import Panel
from nesting.units import mm_to_oz

Tool = Literal["knife", "die", "laser", "blade", "waterjet"]
Step = Literal[
    "mark", "punch", "cut", "line", "edge", "dye", "antique", "finish", "lace", "hardware", "check"
]
STEPS: tuple[Step, ...] = get_args(Step)
"""Steps of a job whose times an order may state."""


@dataclass(frozen=True)
class Cutting:
    """How pieces are cut; all lengths in mm."""

    tool: Tool = "knife"
    kerf_mm: float = 0.0
    gap_mm: float = 0.5
    edge_margin_mm: float = 6.0
    straight_edge_margin_mm: float = 1.5
    flaw_margin_mm: float = 3.0


@dataclass(frozen=True)
class Hardware:
    """So many of an item on each piece, at a price each."""

    item: str
    count: int
    each: Decimal


@dataclass(frozen=True)
class OrderLine:
    """One panel and how often: exactly one of ``pairs``, ``pieces`` and ``fill`` is given.

    ``fill`` asks, after all the rest, for as many as fit (in whole pairs where they come in pairs). Where
    left and right differ ``mate`` is the other panel of each pair, and both panels have the pairing "none".
    ``lace_mm`` is the lace that one piece takes, None = what its panel states; ``dyed_sides`` and
    ``finished_sides`` count the sides of a piece (0 to 2) that are dyed and finished, where the order
    prices that.
    """

    panel: Panel
    pairs: int | None = None
    pieces: int | None = None
    fill: bool = False
    pair_within_mm: float | None = None
    weight_oz: tuple[float, float] | None = None
    hardware: tuple[Hardware, ...] = ()
    labour_minutes: float = 0.0
    lace_mm: float | None = None
    dyed_sides: int = 1
    finished_sides: int = 1
    mate: Panel | None = None

    @property
    def panels(self) -> tuple[Panel, ...]:
        """The panel, and its mate where there is one."""
        return (self.panel,) if self.mate is None else (self.panel, self.mate)

    @property
    def name(self) -> str:
        """The panel's name, or both: ``cuff-left and cuff-right``."""
        return " and ".join(panel.name for panel in self.panels)

    @property
    def paired(self) -> bool:
        """Whether the pieces come in pairs."""
        return self.mate is not None or self.panel.pairing != "none"

    def panel_of(self, other: bool) -> Panel:
        """The panel that a piece is cut from; ``other``: the second of a pair."""
        return self.mate if other and self.mate is not None else self.panel

    def lace_of(self, panel: Panel) -> float:
        """The lace for one piece of one of the line's panels, mm."""
        return panel.lace_mm if self.lace_mm is None else self.lace_mm

    def takes(self, hide: Hide) -> bool:
        """Whether the hide lies within the ordered weights; one of unknown weight does not.

        Thickness is stated to a tenth of a millimetre (4-5 oz is "1.6-2.0 mm"), so half of that is
        given at both ends.
        """
        if self.weight_oz is None:
            return True
        if hide.weight_oz is None:
            return False
        (low, high), slack = self.weight_oz, mm_to_oz(0.05)
        return low - slack <= hide.weight_oz[0] and hide.weight_oz[1] <= high + slack


@dataclass(frozen=True)
class Rate:
    """``price`` for every ``per``, a length in mm or an area in mm²."""

    price: Decimal
    per: Fraction

    def of(self, amount: float) -> Fraction:
        """What an amount costs, in mm or mm² as ``per``."""
        return Fraction(self.price) * Fraction(amount) / self.per


@dataclass(frozen=True)
class Costs:
    """``remnant_credit``: share of its area price that a kept remnant is worth, 0 to 1.

    ``currency`` None: that of the hides, which is one and the same in an order. ``lace`` is by length,
    ``dye`` and ``finish`` by area. Overhead is a share of leather, material and labour, plus so much an
    hour of labour. At most one of ``margin`` (share of the price, below 1) and ``markup`` (share of the
    cost) is given; with neither no price is reckoned.
    """

    labour_per_hour: Decimal = Decimal(0)
    remnant_credit: Decimal = Decimal(0)
    currency: str | None = None
    lace: Rate | None = None
    dye: Rate | None = None
    finish: Rate | None = None
    overhead: Decimal = Decimal(0)
    overhead_per_hour: Decimal = Decimal(0)
    margin: Decimal | None = None
    markup: Decimal | None = None

    @property
    def on_cost(self) -> Fraction | None:
        """What the price adds to the cost, as a share of the cost; None where no price is asked for.

        A margin of a quarter of the price is a third on the cost.
        """
        if self.margin is not None:
            return Fraction(self.margin) / (1 - Fraction(self.margin))
        return None if self.markup is None else Fraction(self.markup)


@dataclass(frozen=True)
class StepTime:
    """Working ``minutes`` for one piece (one hole, item or lace where the step is of those), and the hours
    that the batch then waits; None = as is usual."""

    minutes: float | None = None
    wait_hours: float | None = None


@dataclass(frozen=True)
class Order:
    """A whole order with its hides and panels read."""

    title: str
    hides: tuple[Hide, ...]
    lines: tuple[OrderLine, ...]
    cutting: Cutting = Cutting()
    costs: Costs = Costs()
    path: Path | None = None
    work: tuple[tuple[Step, StepTime], ...] = ()
    """Times that the order states, by step."""

    @cached_property
    def panels(self) -> tuple[Panel, ...]:
        """The panels of all lines, mates after the panel that they go with."""
        return tuple(panel for line in self.lines for panel in line.panels)

    @cached_property
    def line_of(self) -> dict[str, OrderLine]:
        """The line that each panel stands in, by the panel's name."""
        return {panel.name: line for line in self.lines for panel in line.panels}

    @property
    def mates(self) -> tuple[tuple[str, str], ...]:
        """Names of the two panels of a pair, for each line where these differ."""
        return tuple((line.panel.name, line.mate.name) for line in self.lines if line.mate is not None)
