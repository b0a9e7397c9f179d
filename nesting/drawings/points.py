"""CSV of points: ``x,y`` or ``x,y,bulge`` a line, one closed outline.

Separators are commas, semicolons or tabs; with the latter two a decimal comma is understood. A header
may name the unit: ``x_mm,y_mm``, ``x [in],y [in]``, ``x (cm);y (cm)``. Lines that start with # are
remarks.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

from nesting.drawings.collect import Collected
from nesting.drawings.drawing import Drawing
from nesting.drawings.unit import UNIT_MM, settle_unit, unit_named
from nesting.errors import InputError
from nesting.rings import Vertex

LAYER = "outline"

Row = tuple[int, list[str]]  # line number from 1, cells


def read_points(path: Path, unit: str | None = None) -> Drawing:
    """An outline from a CSV file. Raises InputError naming the line that is wrong."""
    source = str(path)
    rows = _rows(source, path)
    header = rows[0][1] if rows and not _is_number(rows[0][1][0]) else []
    unit = settle_unit(source, _stated_unit(source, header), unit)
    vertices = [_vertex(source, *row) for row in rows[bool(header) :]]
    if len(vertices) < 2:
        raise InputError(f"{source}: holds {len(vertices)} points; an outline needs at least three")
    factor = UNIT_MM[unit]
    collected = Collected(source)
    run = [(x * factor, y * factor, bulge) for x, y, bulge in vertices]
    collected.add_run(LAYER, (LAYER,), run, closed=True)
    return collected.drawing(unit)


def _rows(source: str, path: Path) -> list[Row]:
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(f"{source}: this is not a text file of points; save it as CSV in UTF-8") from None
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), start=1)]
    lines = [(number, line) for number, line in lines if line and not line.startswith("#")]
    if not lines:
        raise InputError(f"{source}: holds no points; give one x,y a line")
    first = lines[0][1]
    separator = next((mark for mark in ("\t", ";") if mark in first), ",")
    return [(number, [cell.strip() for cell in line.split(separator)]) for number, line in lines]


def _number(cell: str) -> float:
    return float(cell if "." in cell else cell.replace(",", "."))


def _is_number(cell: str) -> bool:
    try:
        _number(cell)
    except ValueError:
        return False
    return True


def _vertex(source: str, line: int, cells: list[str]) -> Vertex:
    if len(cells) not in (2, 3):
        raise InputError(f"{source}: line {line}: needs x,y or x,y,bulge, and holds {len(cells)} cells")
    try:
        x, y, *rest = (_number(cell) for cell in cells)
    except ValueError:
        raise InputError(f"{source}: line {line}: {' '.join(cells)!r} is not two or three numbers") from None
    bulge = rest[0] if rest else 0.0
    if not all(math.isfinite(value) for value in (x, y, bulge)):
        raise InputError(f"{source}: line {line}: a coordinate is not a finite number; measure it again")
    return x, y, bulge


def _stated_unit(source: str, header: list[str]) -> str | None:
    """The unit in the header's x and y cells; bulges have none."""
    units = {_unit_in(source, cell) for cell in header[:2]}
    if len(units) > 1:
        raise InputError(f"{source}: line 1: x and y must be in one unit")
    return units.pop() if units else None


def _unit_in(source: str, cell: str) -> str | None:
    found = re.fullmatch(r"[xy]\s*(?:[_\s]\s*(\S+)|[\[(]\s*(.+?)\s*[\])])", cell.strip("\"' "), re.IGNORECASE)
    if not found:
        return None
    word = (found[1] or found[2]).strip("[]() ")
    unit = unit_named(word)
    if unit is None:
        raise InputError(f"{source}: line 1: {word!r} is not a unit known here; use mm, cm, m, in or ft")
    return unit
