"""JSON text: read without leniency, written for people to read and for programs to compare."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from nesting.errors import FileFormatError, InputError
from nesting.quantities import shown

_WIDTH = 150
_MAX_BYTES = 64 * 1024 * 1024


def read_text(path: Path) -> str:
    """The text of a file of ours (UTF-8, a byte-order mark is dropped).

    Raises InputError when there is no such file, it cannot be read, or it is no text.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read(_MAX_BYTES + 1)
        if len(data) > _MAX_BYTES:
            raise InputError(f"{path}: is larger than 64 MB; that is no file of a workshop's: give another")
        return data.decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file; check the name and the folder") from None
    except IsADirectoryError:
        raise InputError(f"{path}: is a folder; name a file in it") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}); check who may read it") from error
    except UnicodeDecodeError as error:
        raise FileFormatError(
            str(path), f"byte {error.start}", "is not UTF-8 text; give a JSON or TOML file, saved as UTF-8"
        ) from None


class _Reading:
    """What one pass over the text found that plain dictionaries cannot hold."""

    def __init__(self) -> None:
        self.repeated: list[tuple[dict[str, Any], str]] = []

    def pairs(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key, value in pairs:
            if key in found:
                self.repeated.append((found, key))
            found[key] = value
        return found

    def fault(self, value: Any, place: str = "") -> tuple[str, str] | None:
        """Place and problem of the first repeated key or number that is not finite."""
        if isinstance(value, float) and not math.isfinite(value):
            return place, "is not a finite number (NaN or Infinity); write the number that is meant"
        if isinstance(value, dict):
            for owner, key in self.repeated:
                if owner is value:
                    return join(place, key), "is given twice in the same object; keep one of the two"
        children: Sequence[tuple[Any, Any]] = ()
        if isinstance(value, dict):
            children = tuple(value.items())
        elif isinstance(value, list):
            children = tuple(enumerate(value))
        for key, child in children:
            if isinstance(child, float | dict | list) and (found := self.fault(child, join(place, key))):
                return found
        return None


def join(place: str, *keys: str | int) -> str:
    """A place inside a file in words, on one line: ``flaws[0].outline[3]``."""
    for key in keys:
        if isinstance(key, int):
            place += f"[{key}]"
        else:
            place += ("." if place else "") + shown(key)
    return place


def parse_json(text: str, source: str) -> dict[str, Any]:
    """The object in ``text``; ``source`` names the file in messages.

    Raises FileFormatError on broken JSON, a key given twice, NaN or Infinity, or anything but an object.
    """
    reading = _Reading()
    try:
        data = json.loads(text, object_pairs_hook=reading.pairs)
        fault = reading.fault(data)
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise FileFormatError(source, place, f"is not JSON ({error.msg}); mend the text there") from None
    except ValueError:  # an integer of thousands of digits
        raise FileFormatError(source, "", "holds a number too long to be real; mend it") from None
    except RecursionError:
        raise FileFormatError(source, "", "is nested too deeply to be a file of ours; give another") from None
    if fault is not None:
        raise FileFormatError(source, *fault)
    if not isinstance(data, dict):
        raise FileFormatError(source, "", 'must hold one object that starts with "kind" and "version"')
    return data


def dump_json(obj: Mapping[str, Any]) -> str:
    """Text of a file: keys in the order given, what fits on a line on one line, long lists one item a line.

    Whole floats are written without ``.0``, Decimals as plain numbers, other floats so that they read
    back the same. Raises ValueError on NaN and Infinity, TypeError on anything JSON has no word for.
    """
    inner = ",\n".join(f"  {_text(str(k))}: {_pretty(v, 2, len(str(k)) + 4)}" for k, v in obj.items())
    return "{\n" + inner + "\n}\n"


def _pretty(value: Any, indent: int, used: int) -> str:
    compact = _compact(value)
    if indent + used + len(compact) <= _WIDTH or not isinstance(value, Mapping | list | tuple) or not value:
        return compact
    pad, close = " " * (indent + 2), " " * indent
    if isinstance(value, Mapping):
        rows = [f"{_text(str(k))}: {_pretty(v, indent + 2, len(str(k)) + 4)}" for k, v in value.items()]
        return "{\n" + ",\n".join(pad + row for row in rows) + "\n" + close + "}"
    rows = [_pretty(item, indent + 2, 0) for item in value]
    return "[\n" + ",\n".join(pad + row for row in rows) + "\n" + close + "]"


def _compact(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_text(str(k))}: {_compact(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_compact, value)) + "]"
    if isinstance(value, Decimal):
        value = float(value) if not value.is_finite() else value
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, float):
        return _number(value)
    return _text(value)


def _number(value: float) -> str:
    if value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return json.dumps(value, allow_nan=False)


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
