"""``hidewright mat --paper a4 -o F.pdf``: corner targets to print where there is no grid mat."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from cli.export import PaperSize


def run(
    out: Annotated[Path, typer.Option("-o", "--out", metavar="F.pdf", help="The PDF file to write.")],
    paper: Annotated[PaperSize, typer.Option(case_sensitive=False, help="Paper size.")] = PaperSize.A4,
    sheets: Annotated[int, typer.Option(min=4, max=11, help="How many sheets, A, B, C and so on.")] = 6,
    json_: Annotated[bool, typer.Option("--json", help="Machine-readable result on stdout.")] = False,
) -> None:
    """Corner targets to print 1:1 and lay around a hide, where there is no grid mat.

    The first page says how to lay them. Then photograph the hide and measure it with "photo --targets".
    """
    from nesting.capture.targets import FIELD_MM
    from nesting.files.whole import write_whole
    from nesting.output.target_sheets import targets_to_pdf

    write_whole(out, targets_to_pdf(paper.value, sheets))
    across, along = FIELD_MM
    print(
        f"wrote {out}: how to lay them, and {sheets} sheets\n"
        f"print at 100 %, then measure the chequered field of one: it should be {across:g} mm x {along:g} mm",
        file=sys.stderr,
    )
    if json_:
        print(
            json.dumps(
                {"file": str(out), "paper": paper.value, "sheets": sheets, "field_mm": [across, along]}
            )
        )
