"""What ``panel`` and ``draft`` are told of a panel alike: pairing, stretch, turns, flaws it tolerates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

import typer

from cli.drawn import one_of

if TYPE_CHECKING:
    from nesting.files.hide import Severity

PAIRINGS = ("mirrored", "alike", "none")
PAIRING_HELP = "mirrored, alike or none."
STRETCH_HELP = 'Direction that must lie along the spine, and its tolerance, in degrees: "90 15".'
TURNS_HELP = 'Allowed rotations in degrees: "0,180"; else any rotation.'
ACCEPTABLE = ("weak", "blemish")
ACCEPTS_HELP = "Flaws that the whole panel tolerates: blemish, weak. May be repeated."


def turns_of(text: str) -> tuple[float, ...]:
    """Rotations in degrees from ``0,180``; else a usage error."""
    return tuple(_numbers(text, "--turns", '"0,180"'))


def stretch_of(text: str) -> tuple[float, float]:
    """Direction and tolerance in degrees from ``90 15``; else a usage error."""
    numbers = _numbers(text, "--stretch", '"90 15"')
    if len(numbers) != 2 or not 0 <= numbers[1] <= 90:
        raise typer.BadParameter(
            f'{text!r}: write the direction and its tolerance (0 to 90), like "90 15"', param_hint="--stretch"
        )
    return numbers[0], numbers[1]


def accepts_of(given: Sequence[str]) -> tuple[Severity, ...]:
    """Severities from words parted by commas or blanks; else a usage error."""
    words = [word for text in given for word in text.replace(",", " ").split()]
    return tuple(cast("Severity", one_of(word, ACCEPTABLE, "--accepts")) for word in words)


def _numbers(text: str, option: str, form: str) -> list[float]:
    """Degrees from a list parted by commas or blanks."""
    try:
        numbers = [float(part.removesuffix("°")) for part in text.replace(",", " ").split()]
    except ValueError:
        numbers = []
    if not numbers or not all(map(math.isfinite, numbers)):
        raise typer.BadParameter(f"{text!r} is not understood; write degrees like {form}", param_hint=option)
    return numbers
