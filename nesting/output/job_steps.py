"""The steps of a job in a sound order, with the time that each takes and the batch then waits.

All times are common practice, no source; an order states its own in ``[work]``. Lines are made before
the dye, which would else miss them; holes are punched by hand after dye, antique and finish, which would fill
them; hardware comes last, on dry leather.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from nesting.files.order import Step, Tool
from nesting.output.job_batch import Batch
from nesting.units import format_both

USUAL_MINUTES: dict[Step, float] = {
    "mark": 1.0, "punch": 0.25, "line": 2.0, "edge": 4.0, "dye": 3.0, "antique": 3.0, "finish": 2.0,
    "lace": 1.0, "hardware": 0.5, "check": 0.5,
}  # fmt: skip
"""For one piece; one hole, lace or item of hardware."""
CUT_MINUTES: dict[Tool, float] = {"knife": 4.0, "die": 0.5, "laser": 1.5, "blade": 1.0, "waterjet": 1.5}
USUAL_WAIT_HOURS: dict[Step, float] = {"dye": 12.0, "antique": 12.0, "finish": 24.0}
_ON_THE_TABLE = (
    "Lay the hide flat on the table as the picture shows; a straight edge, if it has one, to the table's."
)
LAY_WORDS: dict[Tool, str] = {
    "knife": "Lay each pattern where the placing sheet says, draw round it, prick the marks through, and "
    "write the piece's name on the flesh side.",
    "die": "Set each die where the placing sheet says, and write the piece's name on the flesh side.",
    "laser": _ON_THE_TABLE,
    "blade": _ON_THE_TABLE,
    "waterjet": _ON_THE_TABLE,
}
COATS: dict[Step, tuple[str, str]] = {
    "dye": ("Dye", "Even coats, the cut edges too; let it dry through."),
    "antique": ("Antique", "Work it into lines and grain, wipe it off the high places; let it dry through."),
    "finish": ("Finish", "Thin coats over dry colour; let it harden."),
}


@dataclass(frozen=True)
class JobStep:
    """``title`` and ``how`` of one step, ``amount`` of what, working ``minutes`` of the whole batch.

    ``wait_hours`` is how long the batch then waits before the next step.
    """

    title: str
    how: str
    amount: str
    minutes: float
    wait_hours: float = 0.0


def job_steps(batch: Batch) -> list[JobStep]:
    """All steps of the batch, first to last."""
    by_hand = batch.layout.cutting.tool == "knife"
    holes_late = by_hand and batch.is_coated
    return [
        *_mark(batch),
        *(_punch(batch, "While the leather lies whole.") if by_hand and not holes_late else []),
        *_cut(batch),
        *_lines(batch),
        *_edge(batch),
        *_coats(batch),
        *(_punch(batch, "Only now: dye, antique and finish would have filled them.") if holes_late else []),
        *_lace(batch),
        *_hardware(batch),
        *_check(batch),
    ]


def _timed(batch: Batch, step: Step, title: str, how: str, amount: str, count: int) -> Iterable[JobStep]:
    """The step with the order's own times where it states them; none where there is nothing to do."""
    if not count:
        return []
    stated = batch.times.get(step)
    usual = CUT_MINUTES[batch.layout.cutting.tool] if step == "cut" else USUAL_MINUTES[step]
    each = usual if stated is None or stated.minutes is None else stated.minutes
    wait = (
        USUAL_WAIT_HOURS.get(step, 0.0) if stated is None or stated.wait_hours is None else stated.wait_hours
    )
    return [JobStep(title, how, amount, each * count, wait)]


def _mark(batch: Batch) -> Iterable[JobStep]:
    how = "Look the leather over first: its weight, and flaws that the hide file does not show. "
    title = "Mark out" if batch.layout.cutting.tool == "knife" else "Lay"
    words = LAY_WORDS[batch.layout.cutting.tool]
    return _timed(batch, "mark", title, how + words, count_words(batch.pieces, "piece"), batch.pieces)


def _punch(batch: Batch, why: str) -> Iterable[JobStep]:
    sizes = ", ".join(f"{count} of {diameter:g} mm" for diameter, count in batch.holes.items())
    total = batch.holes.total()
    return _timed(batch, "punch", "Punch the holes", f"{why} {sizes}.", count_words(total, "hole"), total)


def _cut(batch: Batch) -> Iterable[JobStep]:
    if batch.layout.cutting.tool == "knife":
        how = (
            "Cut-outs, then straight sides along a rule, then curves: see the cut order. Cut inside the line."
        )
    else:
        how = "In the order of the cut file; measure the check square first."
        if batch.is_coated and batch.holes.total():
            how += (
                " Holes are cut here: keep dye and antique from setting in them, or leave the layer 'punch' "
                "out of the cut and punch by hand after the finish."
            )
    return _timed(batch, "cut", "Cut", how, count_words(batch.pieces, "piece"), batch.pieces)


def _lines(batch: Batch) -> Iterable[JobStep]:
    lots = [lot for lot in batch.lots if lot.panel.lines]
    roles = ", ".join(dict.fromkeys(line.role for lot in lots for line in lot.panel.lines))
    count = sum(lot.pieces for lot in lots)
    how = f"{roles}: before any dye, which would else miss them."
    return _timed(batch, "line", "Make the lines", how, count_words(count, "piece"), count)


def _edge(batch: Batch) -> Iterable[JobStep]:
    count = batch.pieces if "edge" in batch.times else 0
    how = "Bevel and smooth, before any dye."
    return _timed(batch, "edge", "Dress the edges", how, count_words(count, "piece"), count)


def _coats(batch: Batch) -> Iterable[JobStep]:
    for coat, (title, how) in COATS.items():
        count, _ = batch.coated(coat)
        yield from _timed(batch, coat, title, how, count_words(count, "piece"), count)


def _lace(batch: Batch) -> Iterable[JobStep]:
    lengths = ", ".join(f"{count} of {length_words(mm)}" for mm, count in batch.laces.items())
    total = batch.laces.total()
    return _timed(
        batch, "lace", "Cut the lace", f"{lengths}; point the ends.", count_words(total, "lace"), total
    )


def _hardware(batch: Batch) -> Iterable[JobStep]:
    items = ", ".join(f"{count} {item}" for item, count in batch.hardware.items())
    total = batch.hardware.total()
    how = f"{items}. Last, on dry leather: nothing wet or waxed comes on the metal. Try one on an offcut."
    return _timed(batch, "hardware", "Set the hardware", how, count_words(total, "item"), total)


def _check(batch: Batch) -> Iterable[JobStep]:
    how = "Lay pairs together by their names: side, shade, substance; lace up; count against the list."
    return _timed(batch, "check", "Look over", how, count_words(batch.pieces, "piece"), batch.pieces)


def length_words(mm: float) -> str:
    """``762 mm (30 in)``, ``741.4 mm (≈ 29 3/16 in)``."""
    return format_both(mm)


def count_words(number: int, word: str) -> str:
    """``1 piece``, ``24 pieces``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def time_words(minutes: float) -> str:
    """``45 min``, ``3 h 20 min``; nothing for none."""
    hours, rest = divmod(round(minutes), 60)
    return " ".join(f"{n} {unit}" for n, unit in ((hours, "h"), (rest, "min")) if n)
