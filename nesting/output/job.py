"""The job sheet: what to gather, what to do in which order, what to mind; for paper or Markdown."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.judge.cautions import cautions
from nesting.output.caption import counted
from nesting.output.cut_words import COLUMNS, cut_counts, cut_rows
from nesting.output.job_batch import Batch, batch_of
from nesting.output.job_steps import count_words, job_steps, length_words, time_words
from nesting.output.measure import baseline
from nesting.output.record import HideDrawing, record
from nesting.output.wording import sentence
from nesting.rings import area
from nesting.units import FOOT_MM, format_area, format_weight

WET = (
    "dyes, finishes and adhesives with solvents: fresh air, gloves, and what the safety data sheet says",
    "punches and setters: a firm block, eye protection, fingers off the struck end",
)
"""Solvents: health and safety bodies (HSE HSG193); the second is common practice, no source."""
TIMES = "Times are common practice, no source; state your own in [work] of the order."


@dataclass(frozen=True)
class Table:
    """``widths`` are shares of the page's width, one a column."""

    headings: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Section:
    """A heading, lines of text, and a table where there is one."""

    title: str
    lines: tuple[str, ...] = ()
    table: Table | None = None


@dataclass(frozen=True)
class JobSheet:
    """``title``, what is made, and the sections in reading order."""

    title: str
    summary: str
    sections: tuple[Section, ...]


def job_sheet(layout: Layout, order: Order | None = None) -> JobSheet:
    """The job sheet of a valid layout; hardware, dye and finish only with the order that it answers.

    Raises InputError when the order does not name a panel that the layout places.
    """
    batch = batch_of(layout, order)
    sections = [_gather(batch), _steps(batch), Section("Cautions", tuple(_cautions(batch)))]
    sections += [_cut_order(drawing, batch) for drawing in record(layout) if drawing.pieces]
    return JobSheet(layout.title, counted(layout), tuple(sections))


def _gather(batch: Batch) -> Section:
    rows = [("leather", *row) for row in _leather(batch)]
    rows += [("lace", length_words(mm), str(count)) for mm, count in batch.laces.items()]
    if batch.laces:
        total = sum(mm * count for mm, count in batch.laces.items())
        rows.append(("lace", "in all", f"{total / 1000:.2f} m ({total / float(FOOT_MM):.1f} ft)"))
    rows += [("hardware", item, str(count)) for item, count in batch.hardware.items()]
    for coat in ("dye", "antique", "finish"):
        count, covered = batch.coated(coat)
        if count:
            rows.append((coat, count_words(count, "piece"), f"for {format_area(covered)}"))
    rows += [("punch", f"{diameter:g} mm", count_words(n, "hole")) for diameter, n in batch.holes.items()]
    lines = () if batch.order else ("Hardware, dye and finish stand in the order: give it with --order.",)
    return Section("Gather", lines, Table(("what", "which", "how much"), (0.14, 0.56, 0.3), tuple(rows)))


def _leather(batch: Batch) -> list[tuple[str, str]]:
    """Hides that are cut, thinnest first, weight by weight."""
    used = [laid for laid in batch.layout.hides if laid.placements]
    used.sort(key=lambda laid: laid.hide.weight_oz or (float("inf"), 0.0))
    return [
        (
            ": ".join(
                part
                for part in (
                    format_weight(laid.hide.weight_oz) if laid.hide.weight_oz else "weight unknown",
                    ", ".join(part for part in (laid.hide.name, laid.hide.cut) if part),
                )
            ),
            f"{format_area(area(laid.hide.outline))}; {count_words(len(laid.placements), 'piece')}",
        )
        for laid in used
    ]


def _steps(batch: Batch) -> Section:
    steps = job_steps(batch)
    rows = tuple(
        (
            str(number),
            step.title,
            step.how,
            step.amount,
            time_words(step.minutes),
            time_words(60 * step.wait_hours),
        )
        for number, step in enumerate(steps, 1)
    )
    work = sum(step.minutes for step in steps)
    wait = sum(step.wait_hours for step in steps)
    lines = [f"Work {time_words(work) or 'none'}, waiting {time_words(60 * wait) or 'none'}. {TIMES}"]
    charged = sum(line.labour_minutes * lot.pieces for lot, line in batch.ordered())
    if charged:
        lines.append(f"The order charges {time_words(charged)} of labour for these pieces.")
    table = Table(
        ("no.", "step", "how", "amount", "work", "then wait"), (0.05, 0.15, 0.48, 0.11, 0.11, 0.1), rows
    )
    return Section("Steps", tuple(lines), table)


def _cautions(batch: Batch) -> list[str]:
    by_hand = batch.hardware or (batch.holes and batch.layout.cutting.tool == "knife")
    own = [WET[0]] * batch.is_coated + [WET[1]] * bool(by_hand)
    return [sentence(words) for words in (*own, *cautions(batch.layout))]


def _cut_order(drawing: HideDrawing, batch: Batch) -> Section:
    title, tool = f"Cut order: {drawing.hide.name}", batch.layout.cutting.tool
    if tool != "knife":
        return Section(title, (f"As in the cut file: {cut_counts(drawing, tool)}.",))
    line = baseline(drawing.hide)
    where = "the straight edge" if line.trued else "a rule laid against the hide"
    lines = (
        f"Along: from the end marked 0 on the placing sheet (minus: before it), along {where}; off: square "
        "to it, into the leather. Where nothing is said of its corners a cut may run out past them.",
        *(["Holes are punched after the finish."] if batch.is_coated and batch.holes else []),
    )
    rows = cut_rows(drawing, tool, line, punches=not batch.is_coated)
    return Section(title, lines, Table(COLUMNS, (0.07, 0.22, 0.15, 0.11, 0.08, 0.06, 0.31), tuple(rows)))
