"""The comparison as a picture: what becomes of each hide, and what its leather costs."""

from __future__ import annotations

import io
import textwrap
from typing import Any

from nesting.compare.comparison import Comparison
from nesting.compare.outcome import Entry
from nesting.compare.words import best_lines, groups, in_cents, leather_words
from nesting.output.palette import INK, SOFT_INK
from nesting.units import format_area

_PARTS = (
    ("pieces", "pieces: the yield", "#0072b2", "#ffffff"),
    ("remnant", "remnant to keep", "#7fc4ee", INK),
    ("between", "between pieces", "#e69f00", INK),
    ("flaws", "flaws", "#b8470b", "#ffffff"),
    ("margins", "margins", "#a39a92", INK),
)
"""Of the areas: name, words, colour (after Okabe and Ito, 2008, apart for colour-blind people), ink."""

_BEST = "#009e73"


def comparison_chart(comparison: Comparison) -> bytes:
    """A PNG picture: a bar a hide under its weight and cut, and the cost of the leather beside it.

    Typical hides show the usual of three outlines, and the range of the cost as a line. 1600 pixels wide.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    rows, levels = _rows(comparison)
    head, *verdict = _title(comparison)
    above = 0.5 + 0.19 * len(verdict)
    height = above + 0.5 * levels[-1] + 1.15
    figure = Figure(figsize=(10.0, height), dpi=160)
    bottom, tall = 0.85 / height, 1.0 - (above + 0.85) / height
    left = figure.add_axes((0.26, bottom, 0.42, tall))
    right = figure.add_axes((0.715, bottom, 0.265, tall), sharey=left)
    figure.text(0.02, 1.0 - 0.14 / height, head, fontsize=12, color=INK, va="top", weight="bold")
    words = "\n".join(verdict)
    figure.text(0.02, 1.0 - 0.40 / height, words, fontsize=9, color=INK, va="top", linespacing=1.35)
    bars = [(at, row) for at, row in zip(levels, rows, strict=True) if not isinstance(row, str)]
    for at, row in zip(levels, rows, strict=True):
        if isinstance(row, str):
            # Flush with the title: the axes start at 0.26 and are 0.42 wide.
            x = (0.02 - 0.26) / 0.42
            left.text(
                x, at, row, transform=left.get_yaxis_transform(), fontsize=8.5, color=SOFT_INK, va="center"
            )
        else:
            _name(left, at, row, comparison)
            _bar(left, at, row)
    _costs(right, bars, comparison)
    _dress(left, right, levels[-1])
    _legend(figure, comparison, height)
    picture = io.BytesIO()
    FigureCanvasAgg(figure).print_png(picture, metadata={"Software": None})  # type: ignore[no-untyped-call]
    return picture.getvalue()


def _rows(comparison: Comparison) -> tuple[list[Entry | str], list[float]]:
    """Headings and bars, and where each lies, in heights of a bar from above."""
    rows: list[Entry | str] = []
    levels: list[float] = []
    at = -0.5
    for words, group in groups(comparison):
        rows.append(words)
        levels.append(at + 0.35)
        at += 0.15
        for entry in group:
            at += 1.0
            rows.append(entry)
            levels.append(at)
        at += 0.45
    return rows, levels


def _title(comparison: Comparison) -> list[str]:
    amount = ": as many as fit" if comparison.fill else ""
    lines = [comparison.title + amount]
    for line in best_lines(comparison)[:8]:
        lines += textwrap.wrap(line[0].upper() + line[1:], 158)
    return lines


def _name(axes: Any, at: float, entry: Entry, comparison: Comparison) -> None:
    best = _is_best(entry, comparison)
    weight = "bold" if best else "normal"
    name = f"{entry.name} ✓" if best else entry.name
    axes.text(-2.0, at - 0.14, name, ha="right", va="center", fontsize=9, color=INK, weight=weight)
    outcome = entry.usual
    placed = ", ".join(_laid(one.pieces, one.paired, one.panel) for one in outcome.placed)
    if len(outcome.placed) > 1:
        placed = f"{outcome.pieces} pieces"
    said = (
        [format_area(outcome.report.areas.hide).split(" (")[0]] if not entry.trial.candidate.typical else []
    )
    missing = [f"{outcome.missing} without room"] if outcome.missing else []
    axes.text(
        -2.0, at + 0.22, ", ".join([*said, placed, *missing]), ha="right", va="center", fontsize=7.2,
        color=SOFT_INK,
    )  # fmt: skip


def _laid(pieces: int, paired: bool, panel: str) -> str:
    count = pieces // 2 if paired else pieces
    return f"{count} {'pair' if paired else 'piece'}{'' if count == 1 else 's'} of {panel}"


def _is_best(entry: Entry, comparison: Comparison) -> bool:
    return entry.trial.outside is None and any(
        verdict.hide == entry.name and verdict.panels == entry.trial.panels for verdict in comparison.best
    )


def _bar(axes: Any, at: float, entry: Entry) -> None:
    """The parts of the hide in per cent; paler where the hide is outside the weights."""
    areas, start = entry.usual.report.areas, 0.0
    alpha = 0.45 if entry.trial.outside else 1.0
    for name, _, colour, ink in _PARTS:
        share = 100.0 * getattr(areas, name) / areas.hide
        axes.barh(
            at, share, left=start, height=0.68, color=colour, alpha=alpha, edgecolor="#ffffff", linewidth=0.8
        )
        if share >= 4.5:
            axes.text(
                start + share / 2, at, f"{share:.0f}", ha="center", va="center", fontsize=8,
                color=INK if entry.trial.outside else ink,
            )  # fmt: skip
        start += share


def _costs(axes: Any, bars: list[tuple[float, Entry]], comparison: Comparison) -> None:
    """Cost of the leather: a dot with its figure; for typical hides a line over the range, and its ends."""
    known = [(at, row, exact) for at, row in bars if (exact := comparison.leather(row.usual)) is not None]
    spans = [row.range(comparison.leather) or (exact, exact) for _, row, exact in known]
    most = max([float(high) for _, high in spans], default=1.0)
    for (at, row, exact), (low, high) in zip(known, spans, strict=True):
        best = _is_best(row, comparison)
        colour, alpha = _BEST if best else INK, 0.45 if row.trial.outside else 1.0
        axes.plot([0.0, float(exact)], [at, at], color="#e4ded8", linewidth=1.0, zorder=1)
        axes.plot([float(exact)], [at], "o", color=colour, markersize=7, alpha=alpha, zorder=3)
        x, weight = float(high) + 0.06 * most, "bold" if best else "normal"
        axes.text(x, at, in_cents(exact), va="center", fontsize=8.5, color=colour, weight=weight)
        if high > low:
            ends = [float(low), float(high)]
            axes.plot(ends, [at, at], color=colour, linewidth=3.0, alpha=0.5 * alpha, zorder=2)
            words = f"{in_cents(low)} to {in_cents(high)}"
            axes.text(x, at + 0.32, words, va="center", fontsize=7.2, color=SOFT_INK)
    for at, row in bars:
        if comparison.leather(row.usual) is None:
            words = "no price" if row.usual.pieces else "no room"
            axes.text(0.02 * most, at, words, va="center", fontsize=8.5, color=SOFT_INK)
    axes.set_xlim(0.0, 1.55 * most)
    axes.set_xticks([tick for tick in axes.get_xticks() if 0.0 <= tick <= most])
    axes.set_xlabel(leather_words(comparison), fontsize=8.5, color=INK)


def _dress(left: Any, right: Any, lowest: float) -> None:
    left.set_xlim(0.0, 100.0)
    left.set_ylim(lowest + 0.6, -0.6)
    left.set_xlabel("share of the hide, %", fontsize=8.5, color=INK)
    for axes in (left, right):
        axes.set_yticks([])
        axes.tick_params(labelsize=8, colors=SOFT_INK)
        axes.spines[["top", "right", "left"]].set_visible(False)
    right.spines["left"].set_visible(True)
    right.spines[["left", "bottom"]].set_color("#c9c0b8")
    left.spines["bottom"].set_color("#c9c0b8")


def _legend(figure: Any, comparison: Comparison, height: float) -> None:
    from matplotlib.patches import Patch

    handles = [Patch(color=colour, label=words) for _, words, colour, _ in _PARTS]
    figure.legend(
        handles=handles, loc="lower left", bbox_to_anchor=(0.255, 0.2 / height), ncols=5, frameon=False,
        fontsize=8, handlelength=1.0, columnspacing=1.2, borderaxespad=0.0,
    )  # fmt: skip
    notes = ["leather: the hide's price less the credit for the remnant"]
    if any(entry.trial.candidate.typical for entry in comparison.entries):
        notes.append(
            "typical hides: drawn outlines stand in, 1 to 9 % flawed (assumed), the line is their range"
        )
    figure.text(0.98, 0.05 / height, "; ".join(notes), fontsize=7, color=SOFT_INK, ha="right", va="bottom")
