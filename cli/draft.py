"""``hidewright draft SHAPE ... -o X.panel.json``: a panel from body measurements."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.drawn import name_from, one_of
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
    from nesting.drafting import Draft
    from nesting.files.measures import Measures

SHAPES = ("wrap", "leg", "strap", "rectangle", "disc")
TIPS = ("square", "round", "pointed")
SIDES = ("left", "right")
PICTURES = (".png", ".svg")


def _length(what: str) -> Any:
    return typer.Option(help=what, metavar="LENGTH", show_default=False)


def run(
    what: Annotated[
        str,
        typer.Argument(metavar="SHAPE|MEASURES.toml", help=f"{', '.join(SHAPES)}, or a file of measures."),
    ],
    out: Annotated[Path, typer.Option("-o", "--out", help="The panel file to write (NAME.panel.json).")],
    name: Annotated[str | None, typer.Option(help="The panel's name; else that of the file written.")] = None,
    lower: Annotated[str | None, _length("wrap: girth at the lower edge.")] = None,
    upper: Annotated[str | None, _length("wrap: girth at the upper edge.")] = None,
    ankle: Annotated[str | None, _length("leg: girth at the ankle, the lower edge.")] = None,
    calf: Annotated[str | None, _length("leg: girth at the calf.")] = None,
    calf_height: Annotated[
        str | None, _length("leg: how high the calf lies; else at the upper edge.")
    ] = None,
    top: Annotated[str | None, _length("leg: girth at the upper edge, where it lies above the calf.")] = None,
    height: Annotated[str | None, _length("wrap, leg, rectangle: from the lower to the upper edge.")] = None,
    width: Annotated[str | None, _length("strap, rectangle: from side to side.")] = None,
    length: Annotated[str | None, _length("strap: from end to tip.")] = None,
    diameter: Annotated[str | None, _length("disc: across.")] = None,
    tip: Annotated[str | None, typer.Option(help=f"strap: {', '.join(TIPS)}.")] = None,
    front: Annotated[
        float | None, typer.Option(help="leg: the front half's share of the growth to the calf, 0 to 1.")
    ] = None,
    leg: Annotated[str | None, typer.Option(help="leg: the leg it is drawn for, left or right.")] = None,
    right_ankle: Annotated[str | None, _length("leg: the right leg's own measure; two panels.")] = None,
    right_calf: Annotated[str | None, _length("leg: the right leg's own measure; two panels.")] = None,
    right_calf_height: Annotated[str | None, _length("leg: the right leg's own; two panels.")] = None,
    right_top: Annotated[str | None, _length("leg: the right leg's own measure; two panels.")] = None,
    right_height: Annotated[str | None, _length("leg: the right leg's own measure; two panels.")] = None,
    ease: Annotated[str | None, _length("wrap, leg: added to every girth.")] = None,
    worn: Annotated[
        list[str] | None, _length("wrap, leg: thickness of what is worn underneath. May be repeated.")
    ] = None,
    gap: Annotated[str | None, _length("wrap, leg: left open between the laced sides.")] = None,
    radius: Annotated[str | None, _length("Corners are rounded to it; else left.")] = None,
    groove: Annotated[str | None, _length("A groove all around, so far from the edge.")] = None,
    holes: Annotated[int | None, typer.Option(help="Holes a side; on a disc all around.")] = None,
    hole: Annotated[str | None, _length("Diameter of a hole.")] = None,
    barrel: Annotated[
        str | None, _length("Or: the barrel of the eyelet that is to sit in it snugly.")
    ] = None,
    hole_inset: Annotated[str | None, _length("From the side to the middle of a hole; else 3/8 in.")] = None,
    hole_ends: Annotated[str | None, _length("From the ends of a side; else as the inset.")] = None,
    buckle_holes: Annotated[int | None, typer.Option(help="strap: holes on the centre line.")] = None,
    buckle_spacing: Annotated[str | None, _length("strap: from one to the next.")] = None,
    buckle_start: Annotated[str | None, _length("strap: from the tip to the first.")] = None,
    marks_top: Annotated[int | None, typer.Option(help="Marks along the upper edge.")] = None,
    marks_bottom: Annotated[int | None, typer.Option(help="Marks along the lower edge.")] = None,
    spread_top: Annotated[str | None, _length("From mark to mark; else spread over the edge.")] = None,
    spread_bottom: Annotated[str | None, _length("From mark to mark; else spread over the edge.")] = None,
    mark_inset: Annotated[str | None, _length("From the edge to a mark; else as the holes.")] = None,
    lace: Annotated[
        str | None, _length("wrap, leg: width of the lace, to be held against the holes.")
    ] = None,
    tails: Annotated[str | None, _length("wrap, leg: lace left at each end; else 10 in.")] = None,
    leather: Annotated[
        str | None, typer.Option(help='wrap, leg: weight that the lace goes through: "4-5 oz".')
    ] = None,
    pairing: Annotated[str | None, typer.Option(help=PAIRING_HELP + " Legs: mirrored, else none.")] = None,
    stretch: Annotated[str | None, typer.Option(help=STRETCH_HELP + ' Straps: "90 15".')] = None,
    turns: Annotated[str | None, typer.Option(help=TURNS_HELP)] = None,
    accepts: Annotated[list[str] | None, typer.Option(help=ACCEPTS_HELP)] = None,
    picture: Annotated[
        Path | None, typer.Option(metavar="F", help="Show it with its dimensions: F.png or F.svg.")
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Draft a panel from measurements, from its centre line outward: symmetrical, but for a leg's back.

    Lengths are typed with their unit: "8 1/2 in", "215 mm". Girths are of the body; ease, what is worn
    underneath (2 pi times its thickness) and the lacing gap make the panel's width of them. A file of
    measures holds the same names with an underscore for a hyphen (hole_inset = "3/8 in"), and a table
    [right] where the right leg differs; options go before the file. Legs that differ come as two panels,
    -left and -right; in an order the one is the panel and the other its mate.
    """
    typed = {key: value for key, value in locals().items() if value is not None and value != []}
    if out.suffix != ".json":
        raise typer.BadParameter("a panel is kept as NAME.panel.json", param_hint="--out")
    if picture is not None and picture.suffix.lower() not in PICTURES:
        raise typer.BadParameter("a picture is drawn as F.png or F.svg", param_hint="--picture")
    measures = _measures(what, _fields(typed), name_from(out, "panel"))
    _write(measures, out, picture, json_)


def _fields(typed: dict[str, Any]) -> dict[str, Any]:
    """The fields of a measures file among the options that were given."""
    others = {"what", "out", "picture", "json_", "turns"}
    fields = {key: value for key, value in typed.items() if key not in others}
    for key, known in (("tip", TIPS), ("leg", SIDES), ("pairing", PAIRINGS)):
        if key in fields:
            fields[key] = one_of(fields[key], known, f"--{key}")
    if "stretch" in fields:
        angle, tolerance = stretch_of(fields["stretch"])
        fields["stretch"] = {"angle_deg": angle, "tolerance_deg": tolerance}
    if "turns" in typed:
        fields["turns_deg"] = list(turns_of(typed["turns"]))
    if "accepts" in fields:
        fields["accepts"] = list(accepts_of(fields["accepts"]))
    right = {key: fields.pop(key) for key in list(fields) if key.startswith("right_")}
    if right:
        fields["right"] = {key.removeprefix("right_"): value for key, value in right.items()}
    return fields


def _measures(what: str, fields: dict[str, Any], name: str) -> Measures:
    from nesting.files.measures_file import measures_from_options, read_measures

    if what.lower().endswith(".toml"):
        return read_measures(Path(what), fields, name)
    if what not in SHAPES:
        shapes = ", ".join(SHAPES)
        raise typer.BadParameter(f"{what!r} is no file of measures (.toml) and not one of {shapes}")
    return measures_from_options(what, fields, name)


def _write(measures: Measures, out: Path, picture: Path | None, as_json: bool) -> None:
    from nesting.drafting import draft
    from nesting.files.panel_file import panel_text
    from nesting.files.whole import write_together

    drafts = draft(measures)
    files: dict[Path, bytes | str] = {
        (file := _own_file(out, one)): panel_text(one.panel, str(file)) for one in drafts
    }
    pictures: dict[Path, bytes | str] = {}
    if picture is not None:
        from nesting.drafting.picture import picture as drawn

        # All are drawn before the first file is written: a failure leaves no half set behind.
        pictures = {_own_file(picture, one): drawn(one, picture) for one in drafts}
    write_together(files | pictures)
    _tell(drafts, out, list(pictures))
    if as_json:
        print(json.dumps(_result(drafts, out, list(pictures)), indent=2, ensure_ascii=False))


def _own_file(path: Path, one: Draft) -> Path:
    """Where the panel or picture of one of two legs goes: ``X-left.panel.json`` for ``X.panel.json``."""
    from nesting.files.measures import LegPanel

    if one.measures.right is None or not isinstance(one.shape, LegPanel):
        return path
    tail = ".panel.json" if path.name.endswith(".panel.json") else path.suffix
    return path.with_name(f"{path.name.removesuffix(tail)}-{one.shape.leg}{tail}")


def _tell(drafts: tuple[Draft, ...], out: Path, pictures: list[Path]) -> None:
    """Everything on stderr: how the widths came about, what was taken as usual, what to look at again."""
    from nesting.drafting.words import cautions, figures, what_it_is
    from nesting.units import format_both

    lines: list[str] = []
    for one in drafts:
        lines += [f"{one.panel.name}: {what_it_is(one)}", *(f"  {figure}" for figure in figures(one))]
    first = drafts[0]
    if first.measures.taken:
        lines += ["Taken as usual:", *(f"  {t.what}; {t.otherwise}" for t in first.measures.taken)]
    notes = dict.fromkeys(note for one in drafts for note in one.notes)
    if notes:
        lines += ["Please look again:", *(f"  {note}" for note in notes)]
    lines += cautions(first)
    for one in drafts:
        held = {"holes": len(one.panel.punches), "marks": len(one.panel.marks), "lines": len(one.panel.lines)}
        counts = ", ".join(f"{what}: {count}" for what, count in held.items() if count)
        counts += f", lace: {format_both(one.panel.lace_mm)}" if one.panel.lace_mm else ""
        lines.append(
            f'wrote {_own_file(out, one)}: panel "{one.panel.name}"' + (f", {counts}" if counts else "")
        )
    lines += [f"wrote {path}" for path in pictures]
    print("\n".join(lines), file=sys.stderr)


def _result(drafts: tuple[Draft, ...], out: Path, pictures: list[Path]) -> dict[str, Any]:
    from nesting.rings import area

    panels = [
        {
            "file": str(_own_file(out, one)),
            "kind": "panel",
            "name": one.panel.name,
            "area_mm2": area(one.panel.outline),
            "punches": len(one.panel.punches),
            "marks": len(one.panel.marks),
            "lines": len(one.panel.lines),
            "lace_mm": one.lace_mm,
            "notes": list(one.notes),
        }
        for one in drafts
    ]
    taken = [f"{t.what}; {t.otherwise}" for t in drafts[0].measures.taken]
    return {"panels": panels, "pictures": [str(path) for path in pictures], "taken": taken}
