"""A PDF page to draw on in millimetres; the same drawing gives the same bytes."""

from __future__ import annotations

import io
import math
from pathlib import Path as File

import matplotlib
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from nesting.output.strokes import Box
from nesting.rings import Point, Points

PT_PER_MM = 72 / 25.4
FONTS = {"DejaVuSans": "DejaVuSans.ttf", "DejaVuSans-Bold": "DejaVuSans-Bold.ttf"}
"""Open fonts that come with matplotlib: names of panels and hides may hold any letters."""
LEAST_MM = 1.4
"""Capitals of words that had to be set smaller are at least so high."""
TAIL = 6
"""So many letters at the end of shortened words stay."""
CAPITAL = 0.729
"""Height of a capital over the font size of DejaVu Sans."""


class Ink:
    """Pages in mm, origin in the lower left corner, y up. Shift and clip with :meth:`window`."""

    def __init__(self, title: str) -> None:
        for name, file in FONTS.items():
            if name not in pdfmetrics.getRegisteredFontNames():
                pdfmetrics.registerFont(
                    TTFont(name, str(File(matplotlib.get_data_path(), "fonts/ttf", file)))
                )
        self._stream = io.BytesIO()
        self._canvas = Canvas(self._stream, invariant=1, pageCompression=1)
        self._canvas.setTitle(title)
        self._shift = (0.0, 0.0, 1.0)

    def page(self, size: tuple[float, float]) -> None:
        """Begin a page of ``size`` mm (width, height)."""
        self._canvas.setPageSize((size[0] * PT_PER_MM, size[1] * PT_PER_MM))
        self._shift = (0.0, 0.0, 1.0)

    def end_page(self) -> None:
        """Done with this page."""
        self._canvas.showPage()

    def window(self, frame: Box, at: Point, scale: float = 1.0) -> None:
        """From now on draw clipped to a frame of the page (mm), the drawing's point ``at`` in its corner."""
        self._canvas.saveState()
        path = self._canvas.beginPath()
        path.rect(*(v * PT_PER_MM for v in (frame[0], frame[1], frame[2] - frame[0], frame[3] - frame[1])))
        self._canvas.clipPath(path, stroke=0, fill=0)
        self._shift = (frame[0] - scale * at[0], frame[1] - scale * at[1], scale)

    def end_window(self) -> None:
        """Back to the whole page."""
        self._canvas.restoreState()
        self._shift = (0.0, 0.0, 1.0)

    def line(
        self, points: Points, width: float = 0.3, colour: str = "#000000", closed: bool = False,
        dash: tuple[float, ...] = (), fill: str | None = None,
    ) -> None:  # fmt: skip
        """Straight lines through points of shape (n, 2); ``width`` and ``dash`` in mm of paper."""
        canvas = self._canvas
        canvas.setLineWidth(width * PT_PER_MM)
        canvas.setStrokeColor(colour)
        canvas.setDash([d * PT_PER_MM for d in dash] if dash else [])
        if fill:
            canvas.setFillColor(fill)
        path = canvas.beginPath()
        path.moveTo(*self._pt(points[0]))
        for point in points[1:]:
            path.lineTo(*self._pt(point))
        if closed:
            path.close()
        canvas.drawPath(path, stroke=1, fill=1 if fill else 0)

    def circle(self, at: Point, radius: float, width: float = 0.25, colour: str = "#000000") -> None:
        """A circle; ``radius`` in the drawing's mm."""
        self._canvas.setLineWidth(width * PT_PER_MM)
        self._canvas.setStrokeColor(colour)
        self._canvas.setDash([])
        self._canvas.circle(*self._pt(at), radius * self._shift[2] * PT_PER_MM)

    def cross(self, at: Point, arm: float, width: float = 0.2, colour: str = "#000000") -> None:
        """An upright cross; ``arm`` in mm of paper."""
        x, y = self._pt(at)
        self._canvas.setLineWidth(width * PT_PER_MM)
        self._canvas.setStrokeColor(colour)
        self._canvas.setDash([])
        self._canvas.line(x - arm * PT_PER_MM, y, x + arm * PT_PER_MM, y)
        self._canvas.line(x, y - arm * PT_PER_MM, x, y + arm * PT_PER_MM)

    def text(
        self, at: Point, words: str, height: float = 2.2, bold: bool = False, align: str = "left",
        turn_deg: float = 0.0, colour: str = "#000000", room: float = math.inf,
    ) -> None:  # fmt: skip
        """One line, capitals ``height`` mm high on paper; ``centre`` centres it both ways.

        What is wider than ``room`` mm is set smaller, and shortened where that does not do.
        """
        words, height = fitted(words, height, bold, room)
        canvas, font, size = (
            self._canvas,
            "DejaVuSans-Bold" if bold else "DejaVuSans",
            height / CAPITAL * PT_PER_MM,
        )
        canvas.saveState()
        canvas.setFont(font, size)
        canvas.setFillColor(colour)
        canvas.translate(*self._pt(at))
        canvas.rotate(turn_deg)
        if align == "centre":
            canvas.drawCentredString(0, -height / 2 * PT_PER_MM, words)
        elif align == "right":
            canvas.drawRightString(0, 0, words)
        else:
            canvas.drawString(0, 0, words)
        canvas.restoreState()

    def pdf(self) -> bytes:
        """The whole file."""
        self._canvas.save()
        return self._stream.getvalue()

    def _pt(self, point: Points | Point) -> tuple[float, float]:
        dx, dy, scale = self._shift
        return (scale * float(point[0]) + dx) * PT_PER_MM, (scale * float(point[1]) + dy) * PT_PER_MM


def fitted(words: str, height: float, bold: bool, room: float) -> tuple[str, float]:
    """The words, shortened if need be, and the height (mm) in which they are no wider than ``room`` mm.

    What is left out is left out before the end: there stands what tells pieces of one panel apart.
    """
    width = text_width_mm(words, height, bold) if math.isfinite(room) else 0.0
    if width <= room:
        return words, height
    height = max(min(height, LEAST_MM), height * room / width)
    start, end = words[:-TAIL], words[-TAIL:]
    while start and text_width_mm(words, height, bold) > room:
        start = start[:-1]
        words = f"{start.rstrip()}…{end}"
    return words, height


def text_width_mm(words: str, height: float = 2.2, bold: bool = False) -> float:
    """Width in mm of one line whose capitals are ``height`` mm high; the fonts must be registered."""
    font = "DejaVuSans-Bold" if bold else "DejaVuSans"
    return float(pdfmetrics.stringWidth(words, font, height / CAPITAL * PT_PER_MM)) / PT_PER_MM
