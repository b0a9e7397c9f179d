"""``hidewright photo IMAGE --pitch "1 in" -o X.hide.json``: a photograph on a mat to a hide."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, cast

import typer

from cli.drawn import name_from, one_of, typed
from cli.trace import TANNAGES
from nesting.errors import CaptureRefused, InputError

if TYPE_CHECKING:
    from nesting.capture.measure import Measurement
    from nesting.files.hide import Hide, Segment, Severity, Tannage

COLOURS = ("red", "orange", "yellow", "green", "blue", "violet", "pink", "white", "black", "grey")
SEVERITIES = ("weak", "blemish", "hole")


def run(
    image: Annotated[
        Path, typer.Argument(help="Photograph of one hide on a ruled mat: JPEG, PNG, TIFF, WebP.")
    ],
    pitch: Annotated[
        str, typer.Option(help='Distance between the mat\'s finest ruled lines: "1 in", "10 mm".')
    ],
    out: Annotated[Path, typer.Option("-o", "--out", help="The hide file to write (NAME.hide.json).")],
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
        typer.Option(help='Backbone: a straight side ("left edge") or two points in mm ("x1,y1 x2,y2").'),
    ] = None,
    severity: Annotated[
        list[str] | None,
        typer.Option(help='What a stroke\'s colour means: "blue=blemish,red=weak"; else weak.'),
    ] = None,
    overlay: Annotated[
        Path | None, typer.Option(help="Picture to check the result by; else beside the hide.")
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Measure a hide photographed on a ruled mat, with its flaw loops, holes and straight edges.

    Lay the hide flat in the middle of the mat, draw loops round flaws in chalk or pen of another colour, and
    photograph all of it with grid showing on every side. Look at the overlay picture before you cut.
    """
    from nesting.prices import parse_price
    from nesting.units import parse_length, parse_weight

    severities = parse_severities(severity or [])
    kept_tannage = cast("Tannage", one_of(tannage, TANNAGES, "--tannage"))
    size = partial(parse_length, positive=True)
    pitch_mm = typed(size, pitch, "--pitch")
    weight_oz = None if weight is None else typed(parse_weight, weight, "--weight")
    thickness_mm = None if thickness is None else typed(size, thickness, "--thickness")
    if thickness_mm is not None and thickness_mm > 15.0:
        raise InputError(f"--thickness: {thickness_mm:g} mm is not leather; give it like 2 mm")
    if not 2.0 <= pitch_mm <= 500.0:
        raise InputError(f"--pitch: {pitch_mm:g} mm is not that of a ruled mat; give it like 1 in or 10 mm")
    kept_price = None if price is None else typed(parse_price, price, "--price")
    picture = overlay or out.with_name(name_from(out, "hide") + ".overlay.png")
    check_targets(image, out, picture)

    from nesting.capture.measure import measure_photograph

    try:
        measurement = measure_photograph(
            image, pitch_mm, name=name or name_from(out, "hide"), weight_oz=weight_oz,
            thickness_mm=thickness_mm, severity=severities, progress=progress,
        )  # fmt: skip
    except CaptureRefused as refusal:
        words = str(refusal)
        raise CaptureRefused(words if words.startswith(str(image)) else f"{image}: {words}") from refusal
    hide = replace(
        measurement.hide, cut=cut, price=kept_price, tannage=kept_tannage,
        spine=None if spine is None else spine_of(measurement.hide, spine),
    )  # fmt: skip
    measurement = replace(measurement, hide=hide)
    write_both(measurement, out, picture)
    tell(measurement, out, picture)
    if json_:
        print(json.dumps(summary(measurement, out, picture), indent=2, ensure_ascii=False))


def progress(what: str) -> None:
    """What is done next, for someone who waits at a terminal."""
    if sys.stderr.isatty():
        print(f"{what} ...", file=sys.stderr)


def parse_severities(given: list[str]) -> dict[str, Severity]:
    """``blue=blemish,red=weak`` to a mapping; a usage error for an unknown colour or severity."""
    found: dict[str, Severity] = {}
    for part in (p.strip() for text in given for p in text.split(",")):
        colour, _, severity = (v.strip().lower() for v in part.partition("="))
        if colour not in COLOURS or severity not in SEVERITIES:
            raise typer.BadParameter(
                f"{part!r} is not COLOUR=SEVERITY with a colour of {', '.join(COLOURS)} "
                f"and a severity of {', '.join(SEVERITIES)}",
                param_hint="--severity",
            )
        found[colour] = cast("Severity", severity)
    return found


def check_targets(image: Path, out: Path, picture: Path) -> None:
    """Refuse to write over the photograph, two results into one file, or into a folder that is not there.

    Asked before the photograph is measured, so that nobody waits for a result that has no place.
    """
    places = [p.resolve() for p in (image, out, picture)]
    if len(set(places)) < 3:
        raise InputError(f"{out} and {picture} must be two files, neither of them the photograph")
    for path in (out, picture):
        if not path.absolute().parent.is_dir():
            raise InputError(f"{path}: there is no folder {path.parent}; make it first or choose another")


def spine_of(hide: Hide, text: str) -> Segment:
    """The spine as typed: a straight side of the outline, or two points."""
    from nesting.drawings.straight import edge_on_side, side_named, typed_segment

    side = side_named(text)
    if side is None:
        return typed_segment(text, "--spine")
    return edge_on_side(side, list(hide.straight_edges), hide.name)


def write_both(measurement: Measurement, out: Path, picture: Path) -> None:
    """The overlay, then the hide; neither stays when the other cannot be written."""
    from nesting.capture.overlay import overlay_png
    from nesting.files.hide_file import write_hide
    from nesting.files.whole import write_whole

    png = overlay_png(measurement)
    before = picture.read_bytes() if picture.is_file() else None
    write_whole(picture, png)
    try:
        write_hide(out, measurement.hide)
    except BaseException:
        if before is None:
            picture.unlink(missing_ok=True)
        else:
            write_whole(picture, before)
        raise


def tell(m: Measurement, out: Path, picture: Path) -> None:
    """What was measured and found, for a person, on stderr."""
    from nesting.units import DM2_MM2, FT2_MM2, format_area

    q = m.hide.measured
    assert q is not None
    ft2, dm2 = float(FT2_MM2), float(DM2_MM2)
    doubt = f"± {q.area_u_mm2 / ft2:.3f} ft² (± {q.area_u_mm2 / dm2:.2f} dm², k = 2)"
    quarter = round(q.best_area_mm2 / ft2 * 4) / 4
    lines = [
        f"area      {format_area(q.best_area_mm2)}, {q.best_area_mm2 / 1e6:.4f} m², {doubt}; "
        f"to the quarter foot {quarter:.2f}",
        f"inside    {format_area(q.inside_area_mm2)} within the outline that is kept for cutting",
        f"scale     {q.px_per_mm:.2f} px a mm; pitch {m.pitch_mm:g} mm taken as stated; "
        f"camera about {m.stand.height:.0f} mm above the mat",
        f"lens      {m.lattice.camera.model} model, k1 {q.k1:+.4f} at the picture's corner; "
        f"residual {q.residual_px:.2f} px, 95 % under {m.residual_p95_px:.2f} px",
        "hold-out  none: nothing could be left out"
        if q.holdout_area_pct is None
        else f"hold-out  {q.holdout_area_pct:+.3f} % of area at most (grid on the {m.holdout_side} left out)",
        f"thickness {q.thickness_mm:.2f} mm allowed for",
        f"edges     {len(m.hide.straight_edges)} straight; undecided along {q.undecided_mm:.0f} mm",
    ]
    for number, flaw in enumerate(m.hide.flaws, 1):
        from nesting.rings import area

        lines.append(f"flaw {number:3}  {flaw.kind}, {flaw.severity}, {area(flaw.outline) / 100:.1f} cm²")
    lines += [f"note      {text}" for text in m.notes]
    lines += [f"warning   {text}" for text in m.warnings]
    lines.append(f"wrote {out} and {picture}; look at the picture before you cut")
    print("\n".join(lines), file=sys.stderr)


def summary(m: Measurement, out: Path, picture: Path) -> dict[str, Any]:
    """The machine-readable result."""
    from nesting.rings import area

    assert m.hide.measured is not None
    return {
        "file": str(out),
        "overlay": str(picture),
        "kind": "hide",
        "name": m.hide.name,
        "measured": dict(vars(m.hide.measured)),
        "pitch_mm": m.pitch_mm,
        "lens_model": m.lattice.camera.model,
        "camera_height_mm": round(m.stand.height, 1),
        "residual_p95_px": round(m.residual_p95_px, 4),
        "holdout_side": m.holdout_side,
        "grid_points": len(m.lattice.labels),
        "sides_seen": {side: round(share, 2) for side, share in m.sides.items()},
        "straight_edges": [[list(p) for p in edge] for edge in m.hide.straight_edges],
        "flaws": [
            {"kind": f.kind, "severity": f.severity, "area_mm2": round(area(f.outline), 1)}
            for f in m.hide.flaws
        ],
        "open_marks": [
            {"colour": k.colour, "length_mm": round(k.length, 1), "at": [float(v) for v in k.at - m.to_mat]}
            for k in m.open_marks
        ],
        "notes": list(m.notes),
        "warnings": list(m.warnings),
    }
