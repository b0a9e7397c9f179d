"""The job sheet on paper."""

from __future__ import annotations

import numpy as np

from nesting.output.ink import Ink, text_width_mm
from nesting.output.job import JobSheet, Section, Table
from nesting.output.tiles import PAPER_MM, SIDE_MM, Paper
from nesting.output.wording import wrapped

TOP_MM, FOOT_MM = 16.0, 14.0
BODY_MM, LEADING_MM = 1.9, 3.6
CELL_PAD_MM = 1.5
BAND, RULE = "#ececec", "#000000"


def job_to_pdf(sheet: JobSheet, paper: Paper = "a4") -> bytes:
    """The sheet on as many pages as it takes; the same sheet gives the same bytes."""
    flow = _Flow(sheet, paper)
    flow.write(sheet.title, 3.6, bold=True)
    flow.write(sheet.summary)
    for section in sheet.sections:
        _section(flow, section)
    return flow.done()


def _section(flow: _Flow, section: Section) -> None:
    # A heading takes at least two lines of what it heads along.
    flow.need(8.0 + 4 * LEADING_MM)
    flow.space(4.0)
    flow.write(section.title, 2.6, bold=True)
    for line in section.lines:
        flow.write(line)
    if section.table and section.table.rows:
        flow.space(1.0)
        flow.table(section.table)


class _Flow:
    """Lines and tables down the page, and on to the next when it is full."""

    def __init__(self, sheet: JobSheet, paper: Paper) -> None:
        self.ink = Ink(sheet.title)
        self.title = sheet.title
        self.width, self.height = PAPER_MM[paper]
        self.pages = 0
        self._begin()

    def _begin(self) -> None:
        self.ink.page((self.width, self.height))
        self.pages += 1
        self.y = self.height - TOP_MM
        if self.pages > 1:
            self.ink.text((SIDE_MM, self.height - 9.0), self.title, 1.6, colour="#555555")
        self.ink.text((self.width - SIDE_MM, 7.0), f"page {self.pages}", 1.8, align="right")

    def need(self, height: float) -> bool:
        """Begin a new page unless so much room is left; whether one was begun."""
        if self.y - height >= FOOT_MM:
            return False
        self.ink.end_page()
        self._begin()
        return True

    def space(self, height: float) -> None:
        self.y -= height

    def write(self, words: str, height: float = BODY_MM, bold: bool = False) -> None:
        room = self.width - 2 * SIDE_MM
        for line in wrapped(words, lambda part: text_width_mm(part, height, bold), room):
            self.need(LEADING_MM)
            self.y -= max(LEADING_MM, 1.7 * height)
            self.ink.text((SIDE_MM, self.y), line, height, bold)

    def table(self, table: Table) -> None:
        room = self.width - 2 * SIDE_MM
        widths = [share * room for share in table.widths]
        self._row(table.headings, widths, bold=True)
        for number, row in enumerate(table.rows):
            if self.need(self._tall(row, widths)):
                self._row(table.headings, widths, bold=True)
            self._row(row, widths, shade=number % 2 == 1)
        self.space(1.0)

    def _cells(self, row: tuple[str, ...], widths: list[float], bold: bool) -> list[list[str]]:
        return [
            wrapped(cell, lambda part: text_width_mm(part, BODY_MM, bold), width - CELL_PAD_MM)
            for cell, width in zip(row, widths, strict=True)
        ]

    def _tall(self, row: tuple[str, ...], widths: list[float], bold: bool = False) -> float:
        return max(map(len, self._cells(row, widths, bold)), default=1) * LEADING_MM + 1.4

    def _row(
        self, row: tuple[str, ...], widths: list[float], bold: bool = False, shade: bool = False
    ) -> None:
        tall = self._tall(row, widths, bold)
        if shade:
            left, right = SIDE_MM - 1.0, self.width - SIDE_MM + 1.0
            corners = [(left, self.y), (right, self.y), (right, self.y - tall), (left, self.y - tall)]
            self.ink.line(np.array(corners), 0.01, BAND, closed=True, fill=BAND)
        x = SIDE_MM
        for lines, width in zip(self._cells(row, widths, bold), widths, strict=True):
            for i, line in enumerate(lines):
                # A word too long for its column is set smaller rather than over its neighbour.
                at = (x, self.y - LEADING_MM * (i + 1) + 0.6)
                self.ink.text(at, line, BODY_MM, bold, room=width - CELL_PAD_MM)
            x += width
        self.y -= tall
        if bold:
            self.ink.line(np.array([(SIDE_MM, self.y), (self.width - SIDE_MM, self.y)]), 0.25, RULE)

    def done(self) -> bytes:
        self.ink.end_page()
        return self.ink.pdf()
