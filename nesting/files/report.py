"""A report: areas that add up exactly, yields, costs and how well the pairs match."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from decimal import Decimal
from typing import Any, Literal, get_args

from nesting.files.layout import Unplaced


@dataclass(frozen=True)
class Areas:
    """Areas in mm²: hide = margins + flaws + usable, usable = pieces + between + remnant."""

    hide: float
    margins: float
    flaws: float
    usable: float
    pieces: float
    between: float
    remnant: float


@dataclass(frozen=True)
class Yield:
    """Share of the hide's and of the usable area that becomes pieces, 0 to 1."""

    of_hide: float
    of_usable: float


@dataclass(frozen=True)
class Cost:
    """Money in the order's currency, already rounded to the cent.

    ``total`` is the cost: leather, hardware, lace, dye, finish, labour and overhead. Leather, overhead and
    total are None where a hide has no price: unknown, not free. ``price`` = total + ``margin``; both are
    None where the total is, and where the order asks for no price.
    """

    leather: Decimal | None
    hardware: Decimal
    labour: Decimal
    total: Decimal | None
    lace: Decimal = Decimal(0)
    dye: Decimal = Decimal(0)
    finish: Decimal = Decimal(0)
    overhead: Decimal | None = Decimal(0)
    margin: Decimal | None = None
    price: Decimal | None = None

    def shares(self) -> list[tuple[str, Decimal | None]]:
        """What the total is made of, by name: leather, and of all else what there is."""
        names = ("hardware", "lace", "dye", "finish", "labour", "overhead")
        further = [(name, getattr(self, name)) for name in names]
        return [("leather", self.leather), *((name, amount) for name, amount in further if amount != 0)]


@dataclass(frozen=True)
class HideCost:
    """``cost`` of all that is cut from a hide: its leather is the price less the credit for remnants.

    ``price`` is what the hide was bought for (``hide_price`` in the file); what its pieces sell for is
    ``cost.price``.
    """

    hide: str
    price: Decimal | None
    remnant_credit: Decimal | None
    cost: Cost


@dataclass(frozen=True)
class CostLine:
    """Cost of what ``name`` names: a piece, a pair, or all ``pieces`` of a panel."""

    name: str
    pieces: int
    cost: Cost


Way = Literal["net area", "area taken", "whole hide"]
WAYS: tuple[Way, ...] = get_args(Way)


@dataclass(frozen=True)
class LeatherWay:
    """What everything, and all pieces of each panel, come to when leather is charged this way.

    - ``net area``: the pieces' own area at the hide's price by area;
    - ``area taken``: the hide's price less the credit for its remnants;
    - ``whole hide``: the hide's whole price.
    """

    way: Way
    total: Cost
    panels: tuple[CostLine, ...]


@dataclass(frozen=True)
class CostTable:
    """Every cent in four ways: per hide, panel and piece each add up to ``total``; pairs to their pieces.

    ``currency`` is None where neither a hide nor the order names one. Leather is charged by the area
    taken; ``leather_ways`` sets that beside the two other ways.
    """

    currency: str | None
    total: Cost
    hides: tuple[HideCost, ...]
    panels: tuple[CostLine, ...]
    pieces: tuple[CostLine, ...]
    pairs: tuple[CostLine, ...]
    leather_ways: tuple[LeatherWay, ...] = ()


@dataclass(frozen=True)
class PairMatch:
    """How well two pieces match: centre to centre in mm, and in stretch direction (0 to 90 degrees).

    ``stretch_difference_deg`` is None where it hangs on a spine that is not known.
    """

    pair: str
    panel: str
    hide: str
    distance_mm: float
    stretch_difference_deg: float | None
    mate: str | None = None
    """The panel of the second piece, where it is not that of the first."""

    @property
    def kind(self) -> tuple[str, ...]:
        """The panel's name, or those of two that are mates."""
        return (self.panel,) if self.mate is None else (self.panel, self.mate)


@dataclass(frozen=True)
class HideAccount:
    """One hide: its areas and yield, the pieces cut from it, and the area that its price is for.

    ``common_cut_mm``: length of the straight cuts that free two pieces at once, as with no kerf and no gap.
    """

    hide: str
    pieces: int
    areas: Areas
    yields: Yield
    priced_area_mm2: float
    common_cut_mm: float = 0.0


@dataclass(frozen=True)
class Report:
    """The account of a layout. ``cost`` is None where there is no order to reckon it from."""

    title: str
    areas: Areas
    yields: Yield
    hides: tuple[HideAccount, ...]
    cost: CostTable | None
    pairs: tuple[PairMatch, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def common_cut_mm(self) -> float:
        """Length of the straight cuts that free two pieces at once, on all hides."""
        return sum(hide.common_cut_mm for hide in self.hides)


def report_to_json(report: Report) -> dict[str, Any]:
    """The report as the object that ``report.json`` holds, keys in the contract's order."""
    return {
        "kind": "report",
        "version": 1,
        "title": report.title,
        "areas_mm2": asdict(report.areas),
        "yield": asdict(report.yields),
        "common_cut_mm": round(report.common_cut_mm, 2),
        "cost": None if report.cost is None else _table(report.cost),
        "pairs": [_match(match) for match in report.pairs],
        "hides": [_hide(hide) for hide in report.hides],
        "unplaced": [asdict(unplaced) for unplaced in report.unplaced],
        "cautions": list(report.cautions),
        "notes": list(report.notes),
    }


def _match(match: PairMatch) -> dict[str, Any]:
    data = asdict(match)
    mate = data.pop("mate")
    return data if mate is None else data | {"mate": mate}


def _hide(account: HideAccount) -> dict[str, Any]:
    return {
        "hide": account.hide,
        "pieces": account.pieces,
        "areas_mm2": asdict(account.areas),
        "yield": asdict(account.yields),
        "priced_area_mm2": account.priced_area_mm2,
        "common_cut_mm": round(account.common_cut_mm, 2),
    }


def _table(table: CostTable) -> dict[str, Any]:
    hides = [
        {
            "hide": hide.hide,
            "hide_price": _number(hide.price),
            "remnant_credit": _number(hide.remnant_credit),
            **_cost(hide.cost),
        }
        for hide in table.hides
    ]
    return {
        "currency": table.currency,
        "total": _cost(table.total),
        "per_hide": hides,
        "per_panel": _lines("panel", table.panels),
        "per_piece": [
            {"piece": line.name, **_cost(line.cost)} for line in table.pieces
        ],
        "per_pair": _lines("pair", table.pairs),
        "leather_ways": [
            {"way": one.way, "total": _cost(one.total), "per_panel": _lines("panel", one.panels)}
            for one in table.leather_ways
        ],
    }  # fmt: skip


def _lines(what: str, lines: Iterable[CostLine]) -> list[dict[str, Any]]:
    return [{what: line.name, "pieces": line.pieces, **_cost(line.cost)} for line in lines]


def _cost(cost: Cost) -> dict[str, float | None]:
    return {
        "leather": _number(cost.leather),
        "hardware": _number(cost.hardware),
        "lace": _number(cost.lace),
        "dye": _number(cost.dye),
        "finish": _number(cost.finish),
        "labour": _number(cost.labour),
        "overhead": _number(cost.overhead),
        "total": _number(cost.total),
        "margin": _number(cost.margin),
        "price": _number(cost.price),
    }


def _number(money: Decimal | None) -> float | None:
    """A JSON number; to the cent it reads back as the same decimal."""
    return None if money is None else float(money)
