"""Measures as they were typed: values by field, and what to call a field in a message."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from nesting.errors import InputError
from nesting.files.measures import Taken
from nesting.units import parse_length

Typed = TypeVar("Typed")


@dataclass(frozen=True)
class Fields:
    """Fields that were given, by name; ``options`` are those typed as options and not in ``file``.

    ``right`` holds the names of fields that the right leg has of its own. ``taken`` gathers
    everything that was not said and so taken as usual.
    """

    values: Mapping[str, Any]
    file: str | None
    options: frozenset[str]
    right: frozenset[str] = frozenset()
    taken: list[Taken] = field(default_factory=list)

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def get(self, key: str) -> Any:
        """The value as typed, or None."""
        return self.values.get(key)

    def call(self, key: str) -> str:
        """What a person types for the field: ``--hole-inset``, ``hole_inset`` or ``right.calf``."""
        right = key in self.right
        if self.file is None or ("right" if right else key) in self.options:
            return "--" + ("right-" if right else "") + key.replace("_", "-")
        return f"right.{key}" if right else key

    def fault(self, key: str, problem: str) -> InputError:
        """The error to raise about a field."""
        name = self.call(key)
        place = name if name.startswith("--") else f"{self.file}: {name}"
        return InputError(f"{place}: {problem}")

    def take(self, what: str, key: str, more: str = "") -> None:
        """Note what was taken as usual, once, and the field that says otherwise."""
        taken = Taken(what, f"{self.call(key)} says otherwise{more}")
        if taken not in self.taken:
            self.taken.append(taken)

    def typed(self, key: str, text: str, parse: Callable[[str], Typed]) -> Typed:
        """What ``parse`` makes of ``text``, or its complaint under the field's name."""
        try:
            return parse(text)
        except InputError as error:
            raise self.fault(key, str(error)) from None

    def length(self, key: str) -> float | None:
        """Millimetres, zero or more; None where the field was not given."""
        text = self.get(key)
        return None if text is None else self.typed(key, text, parse_length)

    def size(self, key: str) -> float | None:
        """Millimetres, more than zero; None where the field was not given."""
        text = self.get(key)
        return None if text is None else self.typed(key, text, lambda t: parse_length(t, positive=True))

    def sizes(self, keys: tuple[str, ...]) -> list[float]:
        """Millimetres, more than zero, of fields that must be given; InputError names one that is missing."""
        missing = next((key for key in keys if key not in self), None)
        if missing is not None:
            head = f"{self.file}: " if self.file else ""
            raise InputError(
                f"{head}a {self.get('shape')} needs {self.call(missing)}: give it with its unit "
                '("8 1/2 in" or "215 mm")'
            )
        return [self.size(key) or 0.0 for key in keys]
