"""What the leather for so many pairs costs, as a picture."""

from __future__ import annotations

import io
from itertools import groupby
from typing import Any

from nesting.compare.buying import HideSet
from nesting.compare.comparison import PairSets
from nesting.compare.words import hides_in_words
from nesting.output.palette import INK, SOFT_INK
from nesting.units import FT2_MM2

_BLUE, _ORANGE = "#0072b2", "#e69f00"


def pairs_chart(pairs: PairSets, currency: str | None) -> bytes:
    """A PNG picture, 1600 pixels wide: the price of the cheapest set for each number, and which hides it is.

    Without prices the area of the hides stands for it.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine
    from matplotlib.ticker import MaxNLocator

    figure = Figure(figsize=(10.0, 5.625), dpi=160, layout=ConstrainedLayoutEngine(w_pad=0.15, h_pad=0.12))
    axes = figure.add_subplot()
    priced = all(found.price is not None for found in pairs.sets if found is not None)
    _steps(axes, pairs, pairs.sets, priced, labelled=True)
    word = "pairs" if pairs.paired else "pieces"
    if pairs.at_best != pairs.sets:
        _steps(axes, pairs, pairs.at_best, priced, labelled=False)
        axes.plot([], [], color=_BLUE, linewidth=2.5, label="reckoned with the poorest typical hides")
        axes.plot([], [], color=_ORANGE, linewidth=1.5, label="if they turn out as the best ones")
        axes.legend(frameon=False, fontsize=9, loc="lower right")
    axes.set_xlim(pairs.first - 0.5, pairs.last + 0.5)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True))
    axes.set_xlabel(f"{word} of {pairs.panel}", color=INK)
    unit = f", {currency}" if currency else ""
    axes.set_ylabel(f"price of the hides{unit}" if priced else "area of the hides, ft²", color=INK)
    axes.set_title(f"The cheapest hides for {pairs.first} to {pairs.last} {word} of {pairs.panel}", color=INK)
    axes.grid(axis="y", color="#e4ded8", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    # Room for the words over the highest step.
    axes.set_ylim(0.0, 1.2 * axes.dataLim.y1)
    picture = io.BytesIO()
    FigureCanvasAgg(figure).print_png(picture, metadata={"Software": None})  # type: ignore[no-untyped-call]
    return picture.getvalue()


def _steps(
    axes: Any, pairs: PairSets, sets: tuple[HideSet | None, ...], priced: bool, labelled: bool
) -> None:
    """A level a set of hides, with the set's names above it."""
    numbered = [(pairs.first + i, found) for i, found in enumerate(sets) if found is not None]
    colour, width = (_BLUE, 2.5) if labelled else (_ORANGE, 1.5)
    last: tuple[float, float] | None = None
    for hides, run in groupby(numbered, key=lambda row: row[1].hides):
        members = list(run)
        found = members[0][1]
        level = float(found.price) if priced and found.price is not None else found.area_mm2 / float(FT2_MM2)
        start, end = members[0][0] - 0.5, members[-1][0] + 0.5
        if last is not None:
            axes.plot([start, start], [last[1], level], color=colour, linewidth=0.8, alpha=0.6)
        axes.plot([start, end], [level, level], color=colour, linewidth=width, solid_capstyle="butt")
        if labelled:
            words = hides_in_words(hides).replace(" + ", "\n+ ")
            axes.annotate(
                f"{words}\n{level:.2f}", (end, level), (-3.0, 4.0), textcoords="offset points",
                fontsize=7.5, color=INK, ha="right", va="bottom", linespacing=1.1,
            )  # fmt: skip
        last = end, level
    if len(numbered) < len(sets) and labelled:
        axes.text(
            numbered[-1][0] + 0.7, last[1] if last else 0.0, "more than these hides hold", fontsize=8.5,
            color=SOFT_INK, va="center",
        )  # fmt: skip
