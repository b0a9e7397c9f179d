"""``hidewright photo IMAGE... -o X.hide.json``: photographs to measured hides."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.drawn import one_of, typed
from cli.trace import TANNAGES
from nesting.errors import InputError

if TYPE_CHECKING:
    from nesting.files.hide import Severity, Tannage

COLOURS = ("red", "orange", "yellow", "green", "blue", "violet", "pink", "white", "black", "grey")
SEVERITIES = ("weak", "blemish", "hole")


def run(
    images: Annotated[
        list[Path],
        typer.Argument(metavar="IMAGE...", help="Photographs, one hide on each: JPEG, PNG, TIFF, WebP."),
    ],
    out: Annotated[
        Path,
        typer.Option("-o", "--out", help="The hide file to write (NAME.hide.json), or a folder for many."),
    ],
    pitch: Annotated[
        str | None,
        typer.Option(
            help='Distance between the mat\'s finest ruled lines: "1 in"; '
            'two, across and up, for a mat printed unevenly: "25.4 mm x 25.2 mm"; '
            'and how sure it is, if you know: "1 in +/- 0.02 mm".'
        ),
    ] = None,
    targets: Annotated[
        bool, typer.Option("--targets", help="The hide lies between target sheets (see: hidewright mat).")
    ] = False,
    printed: Annotated[
        str | None,
        typer.Option(help='With --targets: what the printed field measures: "179.5 mm x 215.6 mm".'),
    ] = None,
    corners: Annotated[
        str | None,
        typer.Option(help='Four points of the picture, the corners of a rectangle: "x,y x,y x,y x,y".'),
    ] = None,
    rectangle: Annotated[
        str | None,
        typer.Option(
            help='With --corners: the sides, the one from first to second first: "900 mm x 600 mm".'
        ),
    ] = None,
    known: Annotated[
        list[str] | None,
        typer.Option(
            help='A distance on the ground between two points of the picture, "820,1410 2310,1395 600 mm", '
            'or two target sheets, "A B 600 mm": confirms the scale, or decides it. May be repeated.'
        ),
    ] = None,
    name: Annotated[str | None, typer.Option(help="The hide's name; else that of the file written.")] = None,
    weight: Annotated[
        str | None, typer.Option(help='Weight of the leather: "4-5 oz" or "1.6-2.0 mm".')
    ] = None,
    thickness: Annotated[str | None, typer.Option(help='Thickness as measured: "2 mm".')] = None,
    price: Annotated[str | None, typer.Option(help='"62 USD" for the hide, or "9.50 USD/ft2".')] = None,
    tannage: Annotated[str, typer.Option(help="vegetable, chrome, other or unknown.")] = "unknown",
    cut: Annotated[str, typer.Option(help='What part of the animal: "single shoulder", "side", ...')] = "",
    spine: Annotated[
        str | None,
        typer.Option(
            help='Backbone: a straight side ("left edge"), two points in mm ("x1,y1 x2,y2"), or an arrow '
            'drawn on the leather in a colour of its own ("red arrow").'
        ),
    ] = None,
    severity: Annotated[
        list[str] | None,
        typer.Option(
            help='What a stroke\'s colour means: "blue=blemish,red=weak"; or that it is drawn as dashes, of '
            'whatever colour or of one: "dashed=blemish", "blue dashed=hole"; else weak.'
        ),
    ] = None,
    stamp: Annotated[
        str | None, typer.Option(help='The area that the seller states, to be held against: "7 1/4 ft2".')
    ] = None,
    overlay: Annotated[
        Path | None, typer.Option(help="Picture to check the result by; else beside the hide.")
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Measure hides on photographs, with their flaw loops, holes and straight edges.

    Lay the hide flat on a ruled mat (--pitch), between target sheets (--targets), or on a plain ground
    within a rectangle (--corners). Draw loops round flaws in chalk or pen of another colour, and photograph
    all of it from above with mat or ground showing on every side. Look at the overlay picture before you cut.
    """
    from cli.photo_ways import way_of
    from cli.photographs import Job, Labels, run_many, run_one
    from nesting.capture.measurement import Wishes
    from nesting.prices import parse_price
    from nesting.units import parse_area, parse_length, parse_weight

    severities = parse_severities(severity or [])
    kept_tannage = cast("Tannage", one_of(tannage, TANNAGES, "--tannage"))
    way = way_of(pitch, targets, printed, corners, rectangle, known or [])
    thickness_mm = None
    if thickness is not None:
        thickness_mm = typed(partial(parse_length, positive=True), thickness, "--thickness")
        if thickness_mm > 15.0:
            raise InputError(f"--thickness: {thickness_mm:g} mm is not leather; give it like 2 mm")
    weight_oz = None if weight is None else typed(parse_weight, weight, "--weight")
    kept_price = None if price is None else typed(parse_price, price, "--price")
    stamped = None if stamp is None else typed(partial(parse_area, positive=True), stamp, "--stamp")
    colour = arrow_colour(spine)
    refuse_no_spine(None if colour else spine)
    wishes = Wishes("hide", weight_oz, thickness_mm, severities, colour)
    labels = Labels(cut, kept_tannage, kept_price, None if colour else spine, stamped, wishes)
    many = len(images) > 1 or out.is_dir() or not out.suffix
    if many:
        refuse_alone(name, stamp, overlay)
        if out.suffix.lower() == ".json" and not out.is_dir():
            raise typer.BadParameter("several photographs go into a folder: -o shelf", param_hint="--out")
        run_many(images, out, way, labels, json_)
    else:
        run_one(Job(images[0], out, overlay, name), way, labels, json_)


def refuse_alone(name: str | None, stamp: str | None, overlay: Path | None) -> None:
    """A usage error for options that say something of one hide alone."""
    for option, value in (("--name", name), ("--stamp", stamp), ("--overlay", overlay)):
        if value is not None:
            raise typer.BadParameter(
                f"{option} is for one photograph and its hide file; with a folder, each hide is named "
                "after its photograph",
                param_hint=option,
            )


def progress(what: str) -> None:
    """What is done next, for someone who waits at a terminal."""
    if sys.stderr.isatty():
        print(f"{what} ...", file=sys.stderr)


def arrow_colour(spine: str | None) -> str | None:
    """``red`` from ``red arrow``, None where the spine is given otherwise; a usage error for no colour."""
    words = (spine or "").lower().split()
    if len(words) != 2 or words[1] != "arrow":
        return None
    if words[0] not in COLOURS:
        raise typer.BadParameter(f"{words[0]!r} is not one of {', '.join(COLOURS)}", param_hint="--spine")
    return words[0]


def refuse_no_spine(spine: str | None) -> None:
    """Raise InputError for a spine that is neither a side nor two points, before anything is measured."""
    from nesting.drawings.straight import side_named, typed_segment

    if spine is None or side_named(spine) is not None:
        return
    try:
        typed_segment(spine, "--spine")
    except InputError as error:
        raise InputError(
            f'--spine: "{spine}" is not understood; write a straight side of the hide, like "left edge" '
            '(left, right, top or bottom), an arrow drawn in a colour of its own, like "red arrow", or two '
            'points in mm, like "0,0 0,640"'
        ) from error


def parse_severities(given: list[str]) -> dict[str, Severity]:
    """``blue=blemish,red=weak`` to a mapping; a usage error for an unknown colour or severity.

    A stroke is described by a colour, by ``dashed``, or by both, the colour first.
    """
    looks = {*COLOURS, "dashed", *(f"{colour} dashed" for colour in COLOURS)}
    found: dict[str, Severity] = {}
    for part in (p.strip() for text in given for p in text.split(",")):
        left, _, severity = part.partition("=")
        look, severity = " ".join(left.lower().split()), severity.strip().lower()
        if look not in looks or severity not in SEVERITIES:
            raise typer.BadParameter(
                f"{part!r} is not COLOUR=SEVERITY with a colour of {', '.join(COLOURS)} "
                f'(or "dashed", or a colour and "dashed") and a severity of {", ".join(SEVERITIES)}',
                param_hint="--severity",
            )
        if found.get(look, severity) != severity:
            raise typer.BadParameter(
                f"{look} is said to mean {found[look]} and {severity}; choose one",
                param_hint="--severity",
            )
        found[look] = cast("Severity", severity)
    return found
