"""What ``hidewright export`` writes: every file drawn before the first is written."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nesting.files.layout import Layout
    from nesting.files.order import Order
    from nesting.output.over_photo import Seen


@dataclass(frozen=True)
class Wishes:
    """How the files are to be drawn."""

    version: str
    paper: str
    kerf_compensated: bool
    order_file: Path | None
    photo: tuple[Path, str | None] | None

    @cached_property
    def order(self) -> Order | None:
        """The order, read once, without its hides: those it names may have been cut since."""
        if self.order_file is None:
            return None
        from nesting.files.order_file import read_order_bare

        return read_order_bare(self.order_file)[0]


def write_all(source: Path, asked: dict[str, Path], wishes: Wishes) -> int:
    """Judge the layout, draw all that is asked for by kind, and write it; nothing where the judge objects.

    Returns the number of pieces in the layout.
    """
    from nesting.errors import InputError, InvalidLayout
    from nesting.files.layout_file import read_layout
    from nesting.files.whole import write_together
    from nesting.judge import assert_layout_valid

    layout = read_layout(source)
    try:
        assert_layout_valid(layout)
    except InvalidLayout as error:
        raise InputError(f"{source}: {error}; nothing was written") from error
    seen = None
    if wishes.photo is not None:
        from cli.onto_photo import seen_in

        seen = seen_in(*wishes.photo, layout)
    # All are drawn before the first is written: a failure leaves no half set behind.
    write_together({path: _drawn(kind, path, layout, wishes, seen) for kind, path in asked.items()})
    return sum(len(laid.placements) for laid in layout.hides)


def _drawn(
    kind: str, file: Path, layout: Layout, wishes: Wishes, seen: tuple[int, Seen] | None
) -> bytes | str:
    if kind == "dxf":
        from nesting.output.dxf import layout_to_dxf

        return layout_to_dxf(layout, wishes.version, wishes.kerf_compensated)  # type: ignore[arg-type]
    if kind == "pdf":
        from nesting.output.mat import mat_under
        from nesting.output.paper import panels_to_pdf

        known = {number: mat_under(laid.hide) for number, laid in enumerate(layout.hides)}
        mats = {number: mat for number, mat in known.items() if mat is not None}
        if seen is not None and seen[1].mat is not None:
            mats[seen[0]] = seen[1].mat
        return panels_to_pdf(layout, wishes.paper, mats)  # type: ignore[arg-type]
    if kind == "over" and seen is not None:
        from nesting.output.over_photo import layout_over_photo
        from nesting.output.record import record

        return layout_over_photo(layout, record(layout)[seen[0]], seen[1])
    if kind.startswith("job"):
        return _job(layout, file, wishes)
    from nesting.account import account

    report = account(layout, wishes.order)
    if kind == "svg":
        from nesting.output.svg import layout_to_svg

        return layout_to_svg(layout, report, wishes.kerf_compensated)
    from nesting.output.png import layout_to_png

    return layout_to_png(layout, report, wishes.order)


def _job(layout: Layout, file: Path, wishes: Wishes) -> bytes | str:
    from nesting.output.job import job_sheet

    sheet = job_sheet(layout, wishes.order)
    if file.suffix.lower() == ".md":
        from nesting.output.job_md import job_to_markdown

        return job_to_markdown(sheet)
    from nesting.output.job_pdf import job_to_pdf

    return job_to_pdf(sheet, wishes.paper)  # type: ignore[arg-type]
