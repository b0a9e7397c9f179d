"""The journal of a shelf: one line of JSON a layout that was cut."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from nesting.errors import FileFormatError
from nesting.files.boundary import Name, NotNegative, Share, Strict, Text, check_header, validated
from nesting.files.json_text import parse_json, read_text
from nesting.files.report import Areas, Yield

JOURNAL = "journal.jsonl"


@dataclass(frozen=True)
class CutHide:
    """A hide that left the shelf: ``file`` in the folder of what was cut, ``price`` of the whole of it."""

    hide: str
    file: str
    pieces: int
    area_mm2: float
    price: Decimal | None


@dataclass(frozen=True)
class NewRemnant:
    """A remnant that joined the shelf: ``of`` names the hide it was left from."""

    hide: str
    file: str
    of: str
    area_mm2: float
    price: Decimal | None


@dataclass(frozen=True)
class Cut:
    """A layout that was cut. Areas and yields are of the hides it was cut from, and of no others.

    ``pieces_net_mm2`` is the leather in the pieces, that of their cut-outs not counted.
    ``cost`` holds the sums of all pieces by kind (``leather``, ``labour``, ``total``, ...) as the report
    named them, None where that was not known; it is empty where no report said a cost. ``currency`` is that
    of all sums, None where there are none.
    """

    date: date
    title: str
    layout_sha256: str
    pieces: int
    pieces_net_mm2: float
    areas: Areas
    yields: Yield
    currency: str | None
    cost: dict[str, Decimal | None]
    hides: tuple[CutHide, ...]
    remnants: tuple[NewRemnant, ...]


def _money(value: object) -> object:
    """Money through its decimal text: to the cent it reads back as it was written."""
    plain_number = isinstance(value, int | float) and not isinstance(value, bool)
    return Decimal(str(value)) if plain_number else value


def _day(value: object) -> object:
    if not isinstance(value, str):
        raise ValueError("must be a date like 2026-03-31, in quotes")
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise ValueError(f'must be a date like 2026-03-31, not "{value[:40]}"') from None


Money = Annotated[Decimal, BeforeValidator(_money)]
Count = Annotated[int, Field(ge=0)]


class _Areas(Strict):
    hide: NotNegative
    margins: NotNegative
    flaws: NotNegative
    usable: NotNegative
    pieces: NotNegative
    between: NotNegative
    remnant: NotNegative


class _Yield(Strict):
    of_hide: Share
    of_usable: Share


class _CutHide(Strict):
    hide: Name
    file: Name
    pieces: Count
    area_mm2: NotNegative
    price: Money | None


class _NewRemnant(Strict):
    hide: Name
    file: Name
    of: Name
    area_mm2: NotNegative
    price: Money | None


class CutModel(Strict):
    """The fields of a line of the journal."""

    kind: Literal["cut"]
    version: int
    date: Annotated[date, BeforeValidator(_day)]
    title: Text
    layout_sha256: Text
    pieces: Count
    pieces_net_mm2: NotNegative
    areas_mm2: _Areas
    yields: Annotated[_Yield, Field(alias="yield")]
    currency: Name | None
    cost: dict[Name, Money | None] | None
    hides: list[_CutHide]
    remnants: list[_NewRemnant]


def read_journal(folder: Path) -> tuple[Cut, ...]:
    """All that was cut from the shelf in ``folder``, in the journal's order; () where nothing was.

    Raises FileFormatError, with the line, on anything that a journal does not hold.
    """
    path = folder / JOURNAL
    if not path.exists():
        return ()
    lines = enumerate(read_text(path).splitlines(), 1)
    return tuple(_line(text, path, number) for number, text in lines if text.strip())


def _line(text: str, path: Path, number: int) -> Cut:
    source = f"{path}: line {number}"
    try:
        return cut_from_json(parse_json(text, source), source)
    except FileFormatError as error:
        raise FileFormatError(error.file, error.place, f"{error.problem} (or remove the line)") from None


def cut_from_json(data: dict[str, Any], source: str, place: str = "") -> Cut:
    """A cut from the object of a line; ``source`` and ``place`` say in messages where it stood."""
    check_header(data, "cut", source, place)
    model = validated(CutModel, data, source, place)
    return Cut(
        date=model.date,
        title=model.title,
        layout_sha256=model.layout_sha256,
        pieces=model.pieces,
        pieces_net_mm2=model.pieces_net_mm2,
        areas=Areas(**model.areas_mm2.model_dump()),
        yields=Yield(**model.yields.model_dump()),
        currency=model.currency,
        cost=dict(model.cost or {}),
        hides=tuple(CutHide(**hide.model_dump()) for hide in model.hides),
        remnants=tuple(NewRemnant(**remnant.model_dump()) for remnant in model.remnants),
    )


def cut_to_json(cut: Cut) -> dict[str, Any]:
    """A cut as the object that its line holds."""
    data = {
        "kind": "cut",
        "version": 1,
        "date": cut.date.isoformat(),
        "title": cut.title,
        "layout_sha256": cut.layout_sha256,
        "pieces": cut.pieces,
        "pieces_net_mm2": cut.pieces_net_mm2,
        "areas_mm2": asdict(cut.areas),
        "yield": asdict(cut.yields),
        "currency": cut.currency,
        "cost": cut.cost or None,
        "hides": [asdict(hide) for hide in cut.hides],
        "remnants": [asdict(remnant) for remnant in cut.remnants],
    }
    plain: dict[str, Any] = json.loads(json.dumps(data, default=float, allow_nan=False))
    return plain


def cut_line(cut: Cut) -> str:
    """The line of the journal, with its end."""
    return json.dumps(cut_to_json(cut), ensure_ascii=False, allow_nan=False) + "\n"
