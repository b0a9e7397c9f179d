"""The three ways in which a photograph carries its scale, chosen by the options that were typed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Protocol

import typer

from cli.drawn import typed

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from nesting.capture.measurement import Measurement, Wishes


class Way(Protocol):
    """Measures one photograph."""

    def __call__(
        self, path: Path, *, wishes: Wishes = ..., progress: Callable[[str], None] | None = ...
    ) -> Measurement: ...


def way_of(
    pitch: str | None, targets: bool, printed: str | None, corners: str | None, rectangle: str | None,
    known: Sequence[str],
) -> Way:  # fmt: skip
    """How to measure: on a ruled mat, between target sheets, or by the corners of a rectangle.

    A usage error where the options contradict each other or leave the scale open; InputError for what cannot
    be read.
    """
    _refuse_mixture(pitch, targets, printed, corners, rectangle, known)

    from nesting.capture.known import parse_known

    distances = [typed(parse_known, text, "--known") for text in known]
    if targets:
        from nesting.capture.on_plain import measure_with_targets, parse_printed

        size = None if printed is None else typed(parse_printed, printed, "--printed")
        return partial(measure_with_targets, printed=size, known=distances)
    if corners is not None and rectangle is not None:
        from nesting.capture.corners import measure_with_corners, parse_corners, parse_rectangle

        points = typed(parse_corners, corners, "--corners")
        sides = typed(parse_rectangle, rectangle, "--rectangle")
        return partial(measure_with_corners, corners=points, sides=sides, known=distances)
    from nesting.capture.measure import measure_photograph
    from nesting.capture.pitches import parse_pitches

    pitches = None if pitch is None else typed(parse_pitches, pitch, "--pitch")
    return partial(measure_photograph, pitch_mm=pitches, known=distances)


def _refuse_mixture(
    pitch: str | None, targets: bool, printed: str | None, corners: str | None, rectangle: str | None,
    known: Sequence[str],
) -> None:  # fmt: skip
    if (corners is None) != (rectangle is None):
        raise typer.BadParameter("--corners and --rectangle go together: four points, and the two sides")
    if sum((pitch is not None, targets, corners is not None)) > 1:
        raise typer.BadParameter("--pitch, --targets and --corners are three ways; choose one")
    if printed is not None and not targets:
        raise typer.BadParameter("--printed is for --targets")
    if targets and printed is None and not known:
        raise typer.BadParameter(
            "--targets needs the size of the print, which is never guessed: --printed with what the field "
            'measures, or --known with a distance by tape between two sheets\' crosses, "A B 600 mm"'
        )
    if pitch is None and not targets and corners is None and not known:
        raise typer.BadParameter(
            'the scale is never guessed: give the mat\'s --pitch, like "1 in", or a --known distance on '
            "the mat; without a ruled mat --targets or --corners"
        )
