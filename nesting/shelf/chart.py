"""Yields over time, drawn from the journal."""

from __future__ import annotations

import io
from collections.abc import Sequence

from nesting.errors import InputError
from nesting.shelf.journal import Cut
from nesting.shelf.stock import share_of_used

_OF_HIDE, _OF_USABLE, _USED = "#0072b2", "#e69f00", "#2b2118"
"""Blue and orange apart for colour-blind people (Okabe and Ito, 2008)."""


def yield_chart(cuts: Sequence[Cut]) -> bytes:
    """A PNG picture, 1600 × 900: the yields of every cut by its date, and the share of all leather used up.

    Raises InputError where nothing was cut yet.
    """
    if not cuts:
        raise InputError("nothing was cut from this shelf yet; there is no yield to draw")
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
    from matplotlib.figure import Figure
    from matplotlib.layout_engine import ConstrainedLayoutEngine

    cuts = sorted(cuts, key=lambda cut: cut.date)
    days = [float(date2num(cut.date)) for cut in cuts]  # type: ignore[no-untyped-call]
    spaced = ConstrainedLayoutEngine(w_pad=0.15, h_pad=0.12)
    figure = Figure(figsize=(10.0, 5.625), dpi=160, layout=spaced)
    axes = figure.add_subplot()
    usable = [100.0 * cut.yields.of_usable for cut in cuts]
    of_hide = [100.0 * cut.yields.of_hide for cut in cuts]
    axes.vlines(days, of_hide, usable, color="#c9c0b8", linewidth=1.0, zorder=1)
    axes.plot(days, usable, "s", color=_OF_USABLE, markersize=7, label="of the usable leather")
    axes.plot(days, of_hide, "o", color=_OF_HIDE, markersize=7, label="of the hide")
    used = [100.0 * share_of_used(cuts[: i + 1]) for i in range(len(cuts))]
    axes.plot(days, used, "-d", color=_USED, markersize=4, label="of all leather used up so far")
    axes.set_ylim(0.0, 100.0)
    # Room beside the first and last date, so that a single day does not lie on the picture's edge.
    room = max(3.0, (days[-1] - days[0]) / 20.0)
    axes.set_xlim(days[0] - room, days[-1] + room)
    locator = AutoDateLocator(minticks=2, maxticks=9)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    axes.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    axes.set_ylabel("yield: pieces as a share of the leather, %")
    axes.set_title(f"Yield of {len(cuts)} layout{'s' if len(cuts) != 1 else ''} cut from this shelf")
    axes.grid(axis="y", color="#e4ded8", linewidth=0.8)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    figure.legend(loc="outside lower center", ncols=3, frameon=False)
    picture = io.BytesIO()
    FigureCanvasAgg(figure).print_png(picture, metadata={"Software": None})  # type: ignore[no-untyped-call]
    return picture.getvalue()
