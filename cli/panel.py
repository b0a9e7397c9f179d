"""``hidewright panel DRAWING -o X.panel.json``: a panel drawn elsewhere to a panel."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, cast

import typer

from cli.drawn import UNIT_HELP, name_from, one_of, print_json, read_joined, refuse_same, tell
from cli.wishes import (
    ACCEPTS_HELP,
    PAIRING_HELP,
    PAIRINGS,
    STRETCH_HELP,
    TURNS_HELP,
    accepts_of,
    stretch_of,
    turns_of,
)

if TYPE_CHECKING:
    from nesting.files.panel import Pairing, Panel


def run(
    drawing: Annotated[Path, typer.Argument(help="DXF, SVG, or CSV of points.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="The panel file to write (NAME.panel.json).")],
    unit: Annotated[str | None, typer.Option(help=UNIT_HELP)] = None,
    name: Annotated[str | None, typer.Option(help="The panel's name; else that of the file written.")] = None,
    pairing: Annotated[str, typer.Option(help=PAIRING_HELP)] = "none",
    stretch: Annotated[str | None, typer.Option(help=STRETCH_HELP)] = None,
    turns: Annotated[str | None, typer.Option(help=TURNS_HELP)] = None,
    accepts: Annotated[list[str] | None, typer.Option(help=ACCEPTS_HELP)] = None,
    layer: Annotated[str | None, typer.Option(help="The layer (or id) that holds the outline.")] = None,
    join: Annotated[str, typer.Option(help="Widest gap between line ends that is joined.")] = "0.1 mm",
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Make a panel of a drawing: the outer ring, what is cut out of it, punched in it and drawn on it.

    Rings inside are cut out, circles of up to 20 mm are punched, points are marks. Open lines are drawn
    (groove, stitch, fold, ...: their layer's name). A ring on a layer named hidden is a zone that will not be
    seen. Layers named note, frame or grid are left out.
    """
    from nesting.drawings.as_panel import PanelWishes, panel_from_drawing
    from nesting.files.panel import Stretch
    from nesting.files.panel_file import write_panel

    wishes = PanelWishes(
        name=name or name_from(out, "panel"),
        pairing=cast("Pairing", one_of(pairing, PAIRINGS, "--pairing")),
        stretch=None if stretch is None else Stretch(*stretch_of(stretch)),
        turns_deg=None if turns is None else turns_of(turns),
        accepts=accepts_of(accepts or ()),
        layer=layer,
    )
    refuse_same(drawing, out)
    joined = read_joined(drawing, unit, join)
    panel, notes = panel_from_drawing(joined, wishes)
    write_panel(out, panel)
    tell(joined, notes, out, _summary(panel))
    if json_:
        figures = {
            "kind": "panel",
            "name": panel.name,
            "cutouts": len(panel.cutouts),
            "punches": len(panel.punches),
            "marks": len(panel.marks),
            "lines": len(panel.lines),
            "hidden_zones": len(panel.hidden_zones),
        }
        print_json(joined, notes, out, panel.outline, figures)


def _summary(panel: Panel) -> str:
    from nesting.rings import area
    from nesting.units import format_area

    parts = {
        "cut-outs": len(panel.cutouts),
        "punches": len(panel.punches),
        "marks": len(panel.marks),
        "lines": len(panel.lines),
        "hidden zones": len(panel.hidden_zones),
    }
    held = ", ".join(f"{what}: {count}" for what, count in parts.items() if count)
    return f'panel "{panel.name}", {format_area(area(panel.outline))}' + (f", {held}" if held else "")
