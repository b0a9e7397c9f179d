"""Order files ``NAME.toml``: which panels, from which hides, cut how, at what cost."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from nesting.errors import FileFormatError
from nesting.files.boundary import Amount, Name, Ounces, Strict, typed, validated
from nesting.files.json_text import join, read_text
from nesting.files.order import Cutting, Hardware, Order, OrderLine, Tool
from nesting.files.order_costs import CostsModel, costs_of
from nesting.files.order_rules import (
    hides_of,
    refuse_mixed_money,
    refuse_twice,
    refuse_unlike_pairing,
    refuse_unmet_weight,
)
from nesting.files.order_work import WorkModel, work_of
from nesting.files.panel import Panel
from nesting.files.panel_file import read_panel
from nesting.units import parse_length, parse_weight

Count = Annotated[int, Field(ge=1, le=100_000)]
Sides = Annotated[int, Field(ge=0, le=2)]


class _Cutting(Strict):
    tool: Tool = "knife"
    kerf: str = "0 mm"
    gap: str = "0.5 mm"
    edge_margin: str = "6 mm"
    straight_edge_margin: str = "1.5 mm"
    flaw_margin: str = "3 mm"


class _Hardware(Strict):
    item: Name
    count: Count
    each: Amount


class _Line(Strict):
    panel: Name
    mate: Name | None = None
    pairs: Count | None = None
    pieces: Count | None = None
    fill: bool = False
    pair_within: str | None = None
    weight_oz: Ounces | str | None = None
    hardware: list[_Hardware] = Field(default_factory=list)
    labour_minutes: Amount = 0.0
    lace: str | None = None
    dyed_sides: Sides = 1
    finished_sides: Sides = 1


class OrderModel(Strict):
    """The fields of an order file; lengths are still the texts that were typed."""

    title: Name | None = None
    hides: list[Name]
    cutting: _Cutting = Field(default_factory=_Cutting)
    pieces: Annotated[list[_Line], Field(min_length=1)]
    costs: CostsModel = Field(default_factory=CostsModel)
    work: WorkModel = Field(default_factory=WorkModel)


def read_order(path: Path) -> Order:
    """An order with the hides and panels that it names, read from beside it.

    Raises InputError or FileFormatError, one message each, also for a hide or panel file at fault.
    """
    source = str(path)
    bare, patterns = read_order_bare(path)
    hides = hides_of(patterns, path, source)
    for i, line in enumerate(bare.lines):
        refuse_unmet_weight(line, hides, source, join("pieces", i, "weight_oz"))
    refuse_mixed_money(hides, bare.costs.currency, source)
    return replace(bare, hides=hides)


def read_order_bare(path: Path) -> tuple[Order, list[str]]:
    """An order without its hides, and the patterns that name them: for those who choose hides themselves.

    No hide is read, so no line's weights and no prices are held against any. Raises as ``read_order``.
    """
    source = str(path)
    model = validated(OrderModel, _parse_toml(read_text(path), source), source)
    lines = [_line(line, path, source, join("pieces", i)) for i, line in enumerate(model.pieces)]
    named = [(join("pieces", i, key), panel.name) for i, line in enumerate(lines)
             for key, panel in zip(("panel", "mate"), line.panels, strict=False)]  # fmt: skip
    refuse_twice(named, source)
    order = Order(
        title=model.title or path.stem,
        hides=(),
        lines=tuple(lines),
        cutting=_cutting(model.cutting, source),
        costs=costs_of(model.costs, source),
        path=path,
        work=work_of(model.work),
    )
    return order, model.hides


def _parse_toml(text: str, source: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(source, "", f"is not TOML: {error}; mend the text there") from None
    except (RecursionError, ValueError) as error:
        raise FileFormatError(source, "", f"is not usable TOML ({error}); mend it") from None


def _cutting(model: _Cutting, source: str) -> Cutting:
    texts = model.model_dump(exclude={"tool"})
    lengths = {
        f"{key}_mm": typed(parse_length, text, source, f"cutting.{key}") for key, text in texts.items()
    }
    return Cutting(model.tool, **lengths)


def _line(model: _Line, path: Path, source: str, place: str) -> OrderLine:
    panel = _panel(model.panel, path, source, join(place, "panel"))
    mate = None if model.mate is None else _panel(model.mate, path, source, join(place, "mate"))
    refuse_unlike_pairing(panel, mate, source, place)
    paired = mate is not None or panel.pairing != "none"
    _check_amount(model, panel, paired, source, place)
    within = model.pair_within
    if within is not None and not paired:
        raise FileFormatError(
            source, join(place, "pair_within"), f'panel "{panel.name}" has pairing "none"; remove pair_within'
        )
    return OrderLine(
        panel=panel,
        pairs=model.pairs,
        pieces=model.pieces,
        fill=model.fill,
        pair_within_mm=None if within is None else _distance(within, source, join(place, "pair_within")),
        weight_oz=_ounces(model.weight_oz, source, join(place, "weight_oz")),
        hardware=tuple(Hardware(h.item, h.count, Decimal(str(h.each))) for h in model.hardware),
        labour_minutes=model.labour_minutes,
        lace_mm=None if model.lace is None else typed(parse_length, model.lace, source, join(place, "lace")),
        dyed_sides=model.dyed_sides,
        finished_sides=model.finished_sides,
        mate=mate,
    )


def _check_amount(model: _Line, panel: Panel, paired: bool, source: str, place: str) -> None:
    """Exactly one of pairs, pieces and fill, in keeping with whether the pieces come in pairs."""
    given = [model.pairs is not None, model.pieces is not None, model.fill]
    if sum(given) != 1:
        raise FileFormatError(source, place, "give exactly one of pairs = N, pieces = N and fill = true")
    if model.pairs is not None and not paired:
        raise FileFormatError(
            source,
            join(place, "pairs"),
            f'panel "{panel.name}" has pairing "none"; write pieces = {2 * model.pairs}, give the panel '
            'the pairing "mirrored" or "alike", or name the other panel of each pair: mate = "..."',
        )
    if model.pieces is not None and paired and model.pieces % 2:
        raise FileFormatError(
            source,
            join(place, "pieces"),
            f'panel "{panel.name}" comes in pairs, so {model.pieces} pieces leave one over; '
            f"write pairs = {model.pieces // 2 + 1}",
        )


def _panel(name: str, path: Path, source: str, place: str) -> Panel:
    file = path.parent / name
    if not file.is_file():
        raise FileFormatError(source, place, f'there is no file "{name}" beside the order; check the name')
    return read_panel(file)


def _distance(text: str, source: str, place: str) -> float:
    return typed(lambda words: parse_length(words, positive=True), text, source, place)


def _ounces(given: list[float] | str | None, source: str, place: str) -> tuple[float, float] | None:
    if given is None:
        return None
    if isinstance(given, str):
        return typed(parse_weight, given, source, place)
    if given[0] > given[1]:
        raise FileFormatError(source, place, "the thinner comes first; swap the two numbers")
    return given[0], given[1]
