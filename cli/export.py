"""``hidewright export LAYOUT.json``: cut files, pictures and 1:1 paper of a layout that holds its rules."""

from __future__ import annotations

import json
import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli.exported import Wishes, write_all


class DxfVersion(StrEnum):
    """Versions of DXF that can be written."""

    R12 = "R12"
    R2000 = "R2000"


class PaperSize(StrEnum):
    """Sheets to print on."""

    A4 = "a4"
    LETTER = "letter"


def run(
    layout: Annotated[
        Path, typer.Argument(metavar="LAYOUT.json", help="A layout as the layout command writes it.")
    ],
    dxf: Annotated[Path | None, typer.Option(metavar="F", help="Cut file, 1:1 in mm.")] = None,
    dxf_version: Annotated[
        DxfVersion, typer.Option(case_sensitive=False, help="R12 for cutters that read nothing newer.")
    ] = DxfVersion.R2000,
    svg: Annotated[Path | None, typer.Option(metavar="F", help="Drawing, 1:1 in mm.")] = None,
    png: Annotated[Path | None, typer.Option(metavar="F", help="Picture for the wall.")] = None,
    pdf: Annotated[
        Path | None, typer.Option(metavar="F", help="1:1 paper patterns, and where each lies.")
    ] = None,
    job: Annotated[
        list[Path] | None,
        typer.Option(
            metavar="F.pdf|F.md", help="Job sheet: what to gather, steps, cut order. May be repeated."
        ),
    ] = None,
    order: Annotated[
        Path | None,
        typer.Option(metavar="ORDER.toml", help="The layout's order: hardware, lace, finish, times, costs."),
    ] = None,
    over: Annotated[
        Path | None, typer.Option(metavar="PHOTO", help="Draw onto the photograph a hide was measured from.")
    ] = None,
    pitch: Annotated[
        str | None, typer.Option(help="With --over: the mat's pitch, where the hide file does not say it.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="F.png", help="With --over: the picture to write.")
    ] = None,
    kerf_compensated: Annotated[
        bool, typer.Option("--kerf-compensated", help="Move the cuts of DXF and SVG out by half the kerf.")
    ] = False,
    paper: Annotated[PaperSize, typer.Option(case_sensitive=False, help="Paper for PDFs.")] = PaperSize.A4,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Cut files and 1:1 paper. The layout is judged first; nothing is written of one that is not valid."""
    jobs = {"job" if n == 1 else f"job{n}": path for n, path in enumerate(job or (), 1)}
    wanted = {"dxf": dxf, "svg": svg, "png": png, "pdf": pdf, **jobs}
    asked = {kind: path for kind, path in wanted.items() if path is not None}
    refuse_half_over(over, pitch, out)
    if over is not None:
        asked["over"] = out or layout.with_suffix(".over.png")
    refuse_usage(asked, [path for path in (layout, order, over) if path is not None], kerf_compensated)
    if order is not None and not {"job", "png", "svg"} & asked.keys():
        raise typer.BadParameter("--order is for --job, --png and --svg")
    photo = None if over is None else (over, pitch)
    wishes = Wishes(dxf_version.value, paper.value, kerf_compensated, order, photo)
    if not write_all(layout, asked, wishes):
        print(f"{layout}: no piece is laid, so there is nothing to cut in what was written", file=sys.stderr)
    _tell(asked, json_)


def refuse_half_over(over: Path | None, pitch: str | None, out: Path | None) -> None:
    """A usage error where what goes with a photograph comes without it."""
    if over is None and (pitch is not None or out is not None):
        raise typer.BadParameter("--pitch and --out are for --over")


def refuse_usage(asked: dict[str, Path], read: list[Path], kerf_compensated: bool) -> None:
    """Usage errors: nothing asked for, files in one another's way, options without what they are for."""
    options = ", ".join(f"--{kind}" for kind in ("dxf", "svg", "png", "pdf", "job"))
    if not asked:
        raise typer.BadParameter(f"say what to write: {options}, each with a file name, or --over PHOTO")
    written = [path.absolute() for path in asked.values()]
    if len(set(written)) < len(written) or set(written) & {path.absolute() for path in read}:
        raise typer.BadParameter(f"give each of {options} and --over a file of its own, none that is read")
    if kerf_compensated and not {"dxf", "svg"} & asked.keys():
        raise typer.BadParameter("--kerf-compensated is for --dxf and --svg; paper patterns stay true size")
    jobs = [path for kind, path in asked.items() if kind.startswith("job")]
    if any(path.suffix.lower() not in (".pdf", ".md") for path in jobs):
        raise typer.BadParameter("--job writes a file named .pdf or .md")


def _tell(asked: dict[str, Path], as_json: bool) -> None:
    if as_json:
        print(json.dumps({"written": {kind: str(path) for kind, path in asked.items()}}, ensure_ascii=False))
        return
    for path in asked.values():
        print(f"written: {path}", file=sys.stderr)
