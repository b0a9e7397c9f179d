"""The picture one pins above the table."""

from __future__ import annotations

from nesting.files.layout import Layout
from nesting.output import palette
from nesting.output.caption import Report, caption
from nesting.output.pen import Pen
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
SMALL_PRINT_GAP_PX = 10.0


def layout_to_png(layout: Layout, report: Report | None = None) -> bytes:
    """The layout as a PNG picture, 1800 px wide: every hide at one scale, its pieces, flaws, edges and spine.

    Both of a pair have one tint and one number; a piece turned over has a second line inside its outline;
    flaws are told apart by colour, hatch and lightness. With a report the caption says yield and cost.
    """
    words = caption(layout, report)
    room = WIDTH_PX - 2 * MARGIN_PX
    views, tall = plan(record(layout), room, TALLEST_PX)
    lines = caption_lines(words, room)
    foot = BAR_PX + sum(1.5 * size for _, size, _ in lines) + SMALL_PRINT_GAP_PX + MARGIN_PX
    height = round(TITLE_PX + tall + 12 + foot)
    pen = Pen(WIDTH_PX, height)
    pen.text((MARGIN_PX, height - 44), words.title, 28, palette.INK, "bold")
    for view in views:
        shifted = View(
            view.drawing, view.strokes, view.scale, view.left + MARGIN_PX, view.bottom + foot + 12, view.box
        )
        draw_hide(pen, shifted)
        _heading(pen, shifted)
    if views:
        scale_bar(pen, MARGIN_PX, foot, views[0].scale, 0.3 * room)
        _legend(pen, foot, layout)
    y = foot - BAR_PX
    for line, size, colour in lines:
        y -= 1.5 * size
        pen.text((MARGIN_PX, y - (SMALL_PRINT_GAP_PX if size < BODY_PX else 0)), line, size, colour)
    return pen.png()


def _heading(pen: Pen, view: View) -> None:
    pen.text(view.heading, "   ".join(hide_words(view.drawing.hide)), 17, palette.INK)


def _legend(pen: Pen, base: float, layout: Layout) -> None:
    severities = {flaw.severity for laid in layout.hides for flaw in laid.hide.flaws}
    mirrored = any(placement.pose.mirrored for laid in layout.hides for placement in laid.placements)
    legend(pen, WIDTH_PX - MARGIN_PX, base, severities, mirrored, remnants=False)
