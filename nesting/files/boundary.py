"""The strict edge between files and the dataclasses: pydantic models in, one plain message out."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from nesting.errors import FileFormatError, InputError
from nesting.files.json_text import join
from nesting.quantities import shown

VERSION = 1
_FARTHEST_MM = 1e6


class Strict(BaseModel):
    """Unknown fields, wrong types (text for a number, true for 1) and NaN are refused."""

    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False, frozen=True)


def _printable(text: str) -> str:
    if not text.strip() or not text.isprintable():
        raise ValueError("must be a text of at least one visible character, on one line")
    return text


def _one_line(text: str) -> str:
    if text and not text.isprintable():
        raise ValueError("must be a text of printable characters, on one line")
    return text


Text = Annotated[str, Field(max_length=2000), AfterValidator(_one_line)]
Name = Annotated[str, Field(max_length=200), AfterValidator(_printable)]
Coordinate = Annotated[float, Field(ge=-_FARTHEST_MM, le=_FARTHEST_MM)]
Positive = Annotated[float, Field(gt=0)]
NotNegative = Annotated[float, Field(ge=0)]
Amount = Annotated[float, Field(ge=0, le=1e9)]
"""Money, minutes, hours or a share: more is a slip of the hand, and sums of it would not stay finite."""
LaceLength = Annotated[float, Field(gt=0, le=_FARTHEST_MM)]
Share = Annotated[float, Field(ge=0, le=1)]
XY = Annotated[list[Coordinate], Field(min_length=2, max_length=2)]
XYBulge = Annotated[list[Coordinate], Field(min_length=2, max_length=3)]
RawRing = list[XYBulge]
Ounces = Annotated[list[Annotated[float, Field(gt=0, le=100)]], Field(min_length=2, max_length=2)]
FlawAccepted = Literal["weak", "blemish"]

Model = TypeVar("Model", bound=BaseModel)
Typed = TypeVar("Typed")


def validated(model: type[Model], data: Any, source: str, place: str = "") -> Model:
    """``data`` as a ``model``. Raises FileFormatError with the first fault: file, place and mend."""
    try:
        return model.model_validate(data)
    except ValidationError as error:
        faults = error.errors(include_url=False)
        # A misspelt field shows up as one that is missing and one that is unknown: tell the cause.
        first = next((f for f in faults if f["type"] == "extra_forbidden"), faults[0])
        keys = [key for key in first["loc"] if not _is_tag(key)]
        raise FileFormatError(source, join(place, *keys), _problem(first, model, faults)) from None


def typed(parse: Callable[[str], Typed], text: str, source: str, place: str) -> Typed:
    """What a person typed, parsed, or the parser's complaint with the place where it was typed."""
    try:
        return parse(text)
    except InputError as error:
        raise FileFormatError(source, place, str(error)) from None


def check_header(data: object, kind: str, source: str, place: str = "") -> None:
    """Refuse another kind of file and a newer version before anything else is looked at."""
    if not isinstance(data, Mapping):
        raise FileFormatError(source, place, f"must be a {kind} object in {{ }}, not {_show(data)}")
    found = data.get("kind")
    if found is None:
        raise FileFormatError(source, join(place, "kind"), f'is missing; write "kind": "{kind}" first')
    if found != kind:
        raise FileFormatError(source, join(place, "kind"), f'must be "{kind}" here, not {_show(found)}')
    version = data.get("version")
    if version is None:
        raise FileFormatError(source, join(place, "version"), f'is missing; write "version": {VERSION}')
    if type(version) is not int or version < 1:
        raise FileFormatError(
            source, join(place, "version"), f"must be the whole number {VERSION}, not {_show(version)}"
        )
    if version > VERSION:
        raise FileFormatError(
            source,
            join(place, "version"),
            f"is {version}, newer than this program knows ({VERSION}); update the program",
        )


def _is_tag(key: str | int) -> bool:
    """Pydantic adds the names of union members to a place; files know nothing of them."""
    return isinstance(key, str) and ("[" in key or key in {"str", "float", "int"})


_WORDS = {
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be a text in quotes",
    "string_unicode": "must be a text of printable characters",
    "bool_type": "must be true or false",
    "list_type": "must be a list in [ ]",
    "dict_type": "must be an object in { }",
    "model_type": "must be an object in { }",
    "model_attributes_type": "must be an object in { }",
    "finite_number": "must be a finite number",
}


def _problem(fault: ErrorDetails, model: type[BaseModel], faults: list[ErrorDetails]) -> str:
    kind, limits = fault["type"], fault.get("ctx", {})
    given = _show(fault["input"])
    if kind == "missing":
        return "is missing; add it"
    if kind == "extra_forbidden":
        return "is not a known field here; " + _guess(fault, model, faults)
    if kind in _WORDS:
        return f"{_WORDS[kind]}, not {given}"
    if kind == "literal_error":
        return f"must be {limits['expected']}, not {given}"
    if kind in {"greater_than_equal", "greater_than", "less_than_equal", "less_than"}:
        return f"{_limit(kind, limits)}, not {given}"
    if kind in {"too_short", "too_long"}:
        side, key = ("at least", "min_length") if kind == "too_short" else ("at most", "max_length")
        return f"must hold {side} {_count(limits[key])}, not {limits['actual_length']}"
    if kind == "value_error":
        return f"{limits['error']}"
    return f"{fault['msg']}, not {given}"


def _limit(kind: str, limits: Mapping[str, Any]) -> str:
    words = {
        "greater_than_equal": ("must be at least", "ge"),
        "greater_than": ("must be more than", "gt"),
        "less_than_equal": ("must be at most", "le"),
        "less_than": ("must be less than", "lt"),
    }
    phrase, key = words[kind]
    return f"{phrase} {limits[key]:g}"


def _guess(fault: ErrorDetails, model: type[BaseModel], faults: list[ErrorDetails]) -> str:
    """A misspelling's likely meaning: a missing field beside it, or one of the model's own."""
    *parent, name = fault["loc"]
    known = [str(f["loc"][-1]) for f in faults if f["type"] == "missing" and list(f["loc"][:-1]) == parent]
    if not parent:
        known += list(model.model_fields)
    close = difflib.get_close_matches(str(name), known, n=1, cutoff=0.6)
    return f'did you mean "{close[0]}"? Otherwise remove it' if close else "remove it"


def _count(number: int) -> str:
    return f"{number} item" if number == 1 else f"{number} items"


def _show(value: Any) -> str:
    if isinstance(value, str):
        return f'the text "{shown(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if value is None:
        return "null"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "an object"
    return str(value)[:40]
