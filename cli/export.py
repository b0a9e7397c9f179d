"""``hidewright export LAYOUT.json``: cut files, pictures and 1:1 paper of a layout that holds its rules."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nesting.files.layout import Layout
    from nesting.files.order import Order


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
        Path | None, typer.Option(metavar="F.pdf|F.md", help="Job sheet: what to gather, steps, cut order.")
    ] = None,
    order: Annotated[
        Path | None,
        typer.Option(metavar="ORDER.toml", help="The layout's order: hardware, lace, finish, times, costs."),
    ] = None,
    kerf_compensated: Annotated[
        bool, typer.Option("--kerf-compensated", help="Move the cuts of DXF and SVG out by half the kerf.")
    ] = False,
    paper: Annotated[PaperSize, typer.Option(case_sensitive=False, help="Paper for PDFs.")] = PaperSize.A4,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Cut files and 1:1 paper. The layout is judged first; nothing is written of one that is not valid."""
    wanted = {"dxf": dxf, "svg": svg, "png": png, "pdf": pdf, "job": job}
    asked = {kind: path for kind, path in wanted.items() if path is not None}
    refuse_usage(asked, layout, order, kerf_compensated)
    _write(layout, asked, _Wishes(dxf_version.value, paper.value, kerf_compensated, order))
    _tell(asked, json_)


def refuse_usage(asked: dict[str, Path], layout: Path, order: Path | None, kerf_compensated: bool) -> None:
    """Usage errors: nothing asked for, files in one another's way, options without what they are for."""
    options = ", ".join(f"--{kind}" for kind in ("dxf", "svg", "png", "pdf"))
    if not asked:
        raise typer.BadParameter(f"say what to write: {options} or --job, each with a file name")
    read = [path.absolute() for path in (layout, order) if path is not None]
    written = [path.absolute() for path in asked.values()]
    if len({*written, *read}) < len(written) + len(read):
        raise typer.BadParameter(f"give each of {options} and --job a file of its own, none that is read")
    if kerf_compensated and not {"dxf", "svg"} & asked.keys():
        raise typer.BadParameter("--kerf-compensated is for --dxf and --svg; paper patterns stay true size")
    if order is not None and not {"job", "png", "svg"} & asked.keys():
        raise typer.BadParameter("--order is for --job, --png and --svg")
    if "job" in asked and asked["job"].suffix.lower() not in (".pdf", ".md"):
        raise typer.BadParameter("--job writes a file named .pdf or .md")


@dataclass(frozen=True)
class _Wishes:
    """How the files are to be drawn."""

    version: str
    paper: str
    kerf_compensated: bool
    order_file: Path | None

    @cached_property
    def order(self) -> Order | None:
        """The order, read once."""
        if self.order_file is None:
            return None
        from nesting.files.order_file import read_order

        return read_order(self.order_file)


def _write(source: Path, asked: dict[str, Path], wishes: _Wishes) -> None:
    from nesting.errors import InputError, InvalidLayout
    from nesting.files.layout_file import read_layout
    from nesting.files.whole import write_whole
    from nesting.judge import assert_layout_valid

    layout = read_layout(source)
    try:
        assert_layout_valid(layout)
    except InvalidLayout as error:
        raise InputError(f"{source}: {error}; nothing was written") from error
    # All are drawn before the first is written: a failure leaves no half set behind.
    drawn = {path: _drawn(kind, path, layout, wishes) for kind, path in asked.items()}
    for path, data in drawn.items():
        write_whole(path, data)


def _drawn(kind: str, file: Path, layout: Layout, wishes: _Wishes) -> bytes | str:
    if kind == "dxf":
        from nesting.output.dxf import layout_to_dxf

        return layout_to_dxf(layout, wishes.version, wishes.kerf_compensated)  # type: ignore[arg-type]
    if kind == "pdf":
        from nesting.output.paper import panels_to_pdf

        return panels_to_pdf(layout, wishes.paper)  # type: ignore[arg-type]
    if kind == "job":
        return _job(layout, file, wishes)
    from nesting.account import account

    report = account(layout, wishes.order)
    if kind == "svg":
        from nesting.output.svg import layout_to_svg

        return layout_to_svg(layout, report, wishes.kerf_compensated)
    from nesting.output.png import layout_to_png

    return layout_to_png(layout, report, wishes.order)


def _job(layout: Layout, file: Path, wishes: _Wishes) -> bytes | str:
    from nesting.output.job import job_sheet

    sheet = job_sheet(layout, wishes.order)
    if file.suffix.lower() == ".md":
        from nesting.output.job_md import job_to_markdown

        return job_to_markdown(sheet)
    from nesting.output.job_pdf import job_to_pdf

    return job_to_pdf(sheet, wishes.paper)  # type: ignore[arg-type]


def _tell(asked: dict[str, Path], as_json: bool) -> None:
    if as_json:
        print(json.dumps({"written": {kind: str(path) for kind, path in asked.items()}}, ensure_ascii=False))
        return
    for path in asked.values():
        print(f"written: {path}", file=sys.stderr)
