"""What ``trace`` and ``panel`` share: reading a drawing and telling what was made of it."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from nesting.errors import InputError

if TYPE_CHECKING:
    from nesting.drawings.drawing import Note
    from nesting.drawings.loops import Joined
    from nesting.rings import Ring

UNIT_HELP = "What one drawing unit is, where the file does not state it: mm, cm, m, in, ft or px."

T = TypeVar("T")

_HEADS = {"repair": "Repaired:", "decision": "Understood:", "warning": "Please look again:"}


def read_joined(drawing: Path, unit: str | None, join: str) -> Joined:
    """The drawing's strokes in mm, joined; ``join`` is the widest gap, as typed."""
    from nesting.drawings.loops import join_strokes
    from nesting.drawings.reading import read_drawing
    from nesting.units import parse_length

    try:
        tolerance = parse_length(join, "mm")
    except InputError as error:
        raise typer.BadParameter(str(error), param_hint="--join") from error
    if tolerance > 10.0:
        raise typer.BadParameter("gaps of more than 10 mm are mended in the drawing", param_hint="--join")
    return join_strokes(read_drawing(drawing, unit), tolerance)


def refuse_same(drawing: Path, out: Path) -> None:
    """InputError where the result would take the drawing's place."""
    if out.resolve() == drawing.resolve():
        raise InputError(f"{out}: is the drawing itself; give the result a name of its own")


def one_of(value: str, known: Sequence[str], option: str) -> str:
    """``value`` in small letters when it is one of ``known``; else a usage error."""
    word = value.strip().lower()
    if word not in known:
        raise typer.BadParameter(f"{value!r} is not one of {', '.join(known)}", param_hint=option)
    return word


def typed(parse: Callable[[str], T], text: str, option: str) -> T:
    """What ``parse`` makes of an option's text; its InputError names the option."""
    try:
        return parse(text)
    except InputError as error:
        raise InputError(f"{option}: {error}") from error


def name_from(out: Path, kind: str) -> str:
    """``shoulder-07`` from ``shoulder-07.hide.json``."""
    return out.name.removesuffix(".json").removesuffix(f".{kind}")


def tell(joined: Joined, notes: Sequence[Note], out: Path, summary: str) -> None:
    """Every note on stderr, numbered, under its head; what was written last."""
    print(f"{joined.source}: drawn in {joined.unit}", file=sys.stderr)
    number = 0
    for kind, head in _HEADS.items():
        chosen = [note for note in notes if note.kind == kind]
        if chosen:
            print(head, file=sys.stderr)
        for note in chosen:
            number += 1
            print(f"{number:3}. {note.text}", file=sys.stderr)
    print(f"wrote {out}: {summary}", file=sys.stderr)


def print_json(
    joined: Joined, notes: Sequence[Note], out: Path, outline: Ring, figures: dict[str, Any]
) -> None:
    """The machine-readable result on stdout: the file, the unit, the area, and every note with its code."""
    from nesting.rings import area

    said = [{"kind": note.kind, "code": note.code, "text": note.text} for note in notes]
    result = {
        "file": str(out),
        "drawing": joined.source,
        "unit": joined.unit,
        **figures,
        "area_mm2": area(outline),
        "repairs": [entry for entry in said if entry["kind"] == "repair"],
        "decisions": [entry for entry in said if entry["kind"] == "decision"],
        "warnings": [entry for entry in said if entry["kind"] == "warning"],
    }
    print(json.dumps(result, indent=2, ensure_ascii=False))
