"""The job sheet as Markdown."""

from __future__ import annotations

import re
from collections.abc import Iterable

from nesting.output.job import JobSheet, Table


def job_to_markdown(sheet: JobSheet) -> str:
    """CommonMark, with tables as in GitHub's; names stand as they are, whatever signs they hold."""
    parts = [f"# {_plain(sheet.title)}", _plain(sheet.summary)]
    for section in sheet.sections:
        parts.append(f"## {_plain(section.title)}")
        parts += [_plain(line) for line in section.lines]
        if section.table and section.table.rows:
            parts.append(_table(section.table))
    return "\n\n".join(parts) + "\n"


def _table(table: Table) -> str:
    rows = [table.headings, tuple("---" for _ in table.headings)]
    lines = [_row(rows[0]), "|" + "|".join(rows[1]) + "|", *(_row(row) for row in table.rows)]
    return "\n".join(lines)


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(_plain(cell) for cell in cells) + " |"


def _plain(words: str) -> str:
    """Signs that Markdown would read as its own, kept as signs."""
    return re.sub(r"([\\`*_\[\]<>|#])", r"\\\1", words)
