"""``hidewright trace DRAWING -o X.hide.json``: a traced outline to a hide."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.drawn import UNIT_HELP, name_from, one_of, print_json, read_joined, refuse_same, tell, typed

if TYPE_CHECKING:
    from nesting.files.hide import Tannage

TANNAGES = ("vegetable", "chrome", "other", "unknown")
POINTS = 'two points in mm ("x1,y1 x2,y2")'


def run(
    drawing: Annotated[Path, typer.Argument(help="DXF, SVG, or CSV of points.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="The hide file to write (NAME.hide.json).")],
    unit: Annotated[str | None, typer.Option(help=UNIT_HELP)] = None,
    name: Annotated[str | None, typer.Option(help="The hide's name; else that of the file written.")] = None,
    weight: Annotated[str | None, typer.Option(help='Thickness: "4-5 oz" or "1.6-2.0 mm".')] = None,
    price: Annotated[str | None, typer.Option(help='"62 USD" for the hide, or "9.50 USD/ft2".')] = None,
    tannage: Annotated[str, typer.Option(help="vegetable, chrome, other or unknown.")] = "unknown",
    cut: Annotated[str, typer.Option(help='What part of the animal: "single shoulder", "side", ...')] = "",
    spine: Annotated[
        str | None,
        typer.Option(help=f'Backbone: a straight side ("left edge"), {POINTS} or a direction ("0 1").'),
    ] = None,
    straight: Annotated[
        list[str] | None,
        typer.Option(help=f'An edge already cut true: {POINTS}, "left edge", or auto. May be repeated.'),
    ] = None,
    join: Annotated[str, typer.Option(help="Widest gap between line ends that is joined.")] = "0.1 mm",
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Make a hide of a traced outline and flaws drawn on layers (or ids) of their names.

    The outline is the ring on a layer named outline or hide, else the largest. Rings on it are flaws;
    the layer's name says of which kind, and may say hole, weak or blemish. Lines on layers named spine
    and straight give the backbone and edges already cut true. Coordinates are in mm, y up.
    """
    from nesting.drawings.as_hide import HideWishes, hide_from_drawing
    from nesting.files.hide_file import write_hide
    from nesting.prices import parse_price
    from nesting.rings import area
    from nesting.units import format_area, parse_weight

    wishes = HideWishes(
        name=name or name_from(out, "hide"),
        cut=cut,
        weight_oz=None if weight is None else typed(parse_weight, weight, "--weight"),
        price=None if price is None else typed(parse_price, price, "--price"),
        tannage=cast("Tannage", one_of(tannage, TANNAGES, "--tannage")),
        spine=spine,
        straight=tuple(straight or ()),
    )
    refuse_same(drawing, out)
    joined = read_joined(drawing, unit, join)
    hide, notes = hide_from_drawing(joined, wishes)
    write_hide(out, hide)
    summary = f'hide "{hide.name}", {format_area(area(hide.outline))}, flaws: {len(hide.flaws)}'
    tell(joined, notes, out, summary)
    if json_:
        figures = {"kind": "hide", "name": hide.name, "flaws": len(hide.flaws)}
        print_json(joined, notes, out, hide.outline, figures)
