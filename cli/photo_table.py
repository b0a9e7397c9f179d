"""The table of many photographs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nesting.capture.measurement import Measurement

HEADS = ("photograph", "ft²", "± ft²", "dm²", "quarters", "flaws", "edges", "look at")


@dataclass(frozen=True)
class Row:
    """One photograph: its figures, or why it was not measured."""

    name: str
    figures: tuple[str, ...] = ()
    refused: str = ""

    @classmethod
    def of(cls, name: str, m: Measurement) -> Row:
        """The row of a measurement."""
        from cli.photo_words import quarters
        from nesting.units import DM2_MM2, FT2_MM2

        q = m.hide.measured
        assert q is not None
        return cls(
            name,
            (
                f"{q.best_area_mm2 / float(FT2_MM2):.2f}", f"{q.area_u_mm2 / float(FT2_MM2):.3f}",
                f"{q.best_area_mm2 / float(DM2_MM2):.1f}", quarters(q.best_area_mm2).removesuffix(" ft²"),
                str(len(m.hide.flaws)), str(len(m.hide.straight_edges)),
                f"{len(m.warnings)} warning{'s' * (len(m.warnings) != 1)}" if m.warnings else "",
            ),
        )  # fmt: skip


def shown(rows: list[Row]) -> str:
    """The figures in columns; below them each photograph that was not measured, with the reason."""
    good = [row for row in rows if not row.refused]
    lines = []
    if good:
        cells = [HEADS, *((row.name, *row.figures) for row in good)]
        widths = [max(len(line[k]) for line in cells) for k in range(len(HEADS))]
        for line in cells:
            first, *rest = (cell.ljust(w) if k in (0, 7) else cell.rjust(w) for k, (cell, w) in enumerate(
                zip(line, widths, strict=True)
            ))  # fmt: skip
            lines.append("  ".join((first, *rest)).rstrip())
    lines += [f"not measured: {row.refused}" for row in rows if row.refused]
    return "\n".join(lines)
