"""The picture one pins above the table."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace

from nesting.account import remnants
from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.files.report import Report
from nesting.output import palette
from nesting.output.caption import caption
from nesting.output.pen import Pen, text_width
from nesting.output.picture_hide import draw_hide
from nesting.output.picture_plan import View, plan
from nesting.output.picture_words import BODY_PX, caption_lines, legend, scale_bar
from nesting.output.record import record
from nesting.output.wording import hide_words

WIDTH_PX = 1800
TALLEST_PX = 1500.0
MARGIN_PX = 40.0
TITLE_PX = 64.0
BAR_PX = 64.0
OVER_BAR_PX = 26.0
SMALL_PRINT_GAP_PX = 10.0


def layout_to_png(
    layout: Layout,
    report: Report | None = None,
    order: Order | None = None,
    anew: Set[str] | None = None,
) -> bytes:
    """The layout as a PNG picture, 1800 px wide: every hide at one scale, its pieces, flaws, edges and spine.

    Both of a pair have one tint and one number; a piece turned over has a second line inside its outline;
    flaws are told apart by colour, hatch and lightness. With a report the caption says yield and cost and
    the remnants to keep are outlined, as the account of ``order`` (where given) counts them.
    Pieces named in ``anew`` have a heavy outline: they are what a late find has moved.
    """
    words = caption(layout, report, anew)
    room = WIDTH_PX - 2 * MARGIN_PX
    views, tall = plan(record(layout), room, TALLEST_PX)
    if report is not None:
        views = [replace(view, remnants=tuple(remnants(layout, i, order))) for i, view in enumerate(views)]
    lines = caption_lines(words, room)
    foot = BAR_PX + sum(1.5 * size for _, size, _ in lines) + SMALL_PRINT_GAP_PX + MARGIN_PX
    height = round(TITLE_PX + tall + OVER_BAR_PX + foot)
    pen = Pen(WIDTH_PX, height)
    headline = WIDTH_PX - MARGIN_PX - text_width(words.headline, 22, "bold")
    title_size = min(28.0, 28.0 * (headline - 2 * MARGIN_PX) / text_width(words.title, 28, "bold"))
    pen.text((MARGIN_PX, height - 44), words.title, title_size, palette.INK, "bold")
    pen.text((headline, height - 44), words.headline, 22, palette.INK, "bold")
    views = [
        replace(view, left=view.left + MARGIN_PX, bottom=view.bottom + foot + OVER_BAR_PX) for view in views
    ]
    for view in views:
        draw_hide(pen, view, anew or frozenset())
        about = "   ".join(hide_words(view.drawing.hide))
        wide = WIDTH_PX - MARGIN_PX - view.heading[0]
        pen.text(view.heading, about, min(17.0, 17.0 * wide / text_width(about, 17)), palette.INK)
    if views:
        scale_bar(pen, MARGIN_PX, foot, views[0].scale, 0.3 * room)
        _legend(pen, foot, views, bool(anew))
    y = foot - BAR_PX
    for line, size, colour in lines:
        y -= 1.5 * size
        pen.text((MARGIN_PX, y - (SMALL_PRINT_GAP_PX if size < BODY_PX else 0)), line, size, colour)
    return pen.png()


def _legend(pen: Pen, base: float, views: list[View], anew: bool) -> None:
    severities = {flaw.severity for view in views for flaw in view.drawing.hide.flaws}
    mirrored = any(piece.placement.pose.mirrored for view in views for piece in view.drawing.pieces)
    legend(pen, WIDTH_PX - MARGIN_PX, base, severities, mirrored, any(view.remnants for view in views), anew)
