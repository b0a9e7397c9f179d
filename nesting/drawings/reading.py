"""One door for drawings of every kind."""

from __future__ import annotations

from pathlib import Path

from nesting.drawings.drawing import Drawing
from nesting.drawings.unit import unit_asked
from nesting.errors import InputError

LARGEST_BYTES = 100_000_000

_PICTURES = {b"\x89PNG": "a PNG picture", b"\xff\xd8\xff": "a JPEG picture", b"GIF8": "a GIF picture"}
_OTHERS = {b"%PDF": "a PDF page", b"AC10": "a DWG drawing", b"PK\x03\x04": "a ZIP archive"}


def read_drawing(path: Path, unit: str | None = None) -> Drawing:
    """A DXF, SVG or CSV file as strokes in mm; ``unit`` is a word for what one drawing unit is.

    Raises InputError for a missing or foreign file, an unstated or contradicted unit, numbers that
    are none, and a drawing without a single line.
    """
    from nesting.drawings.dxf import read_dxf
    from nesting.drawings.points import read_points
    from nesting.drawings.svg import read_svg

    readers = {".dxf": read_dxf, ".svg": read_svg, ".csv": read_points, ".txt": read_points}
    asked = None if unit is None else unit_asked(unit)
    reader = readers.get(path.suffix.lower())
    _check_file(path)
    if reader is None:
        raise InputError(
            f"{path}: a drawing is a .dxf, a .svg or a .csv of points; export it as one of these"
        )
    try:
        drawing = reader(path, asked)
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from error
    if not drawing.strokes and not drawing.spots:
        held = "; ".join(note.text for note in drawing.notes)
        raise InputError(f"{path}: no line is drawn in it" + (f" ({held})" if held else ""))
    return drawing


def _check_file(path: Path) -> None:
    if not path.exists():
        raise InputError(f"{path}: there is no such file")
    if not path.is_file():
        raise InputError(f"{path}: this is not a file")
    try:
        with open(path, "rb") as stream:
            head = stream.read(8)
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from error
    if not head:
        raise InputError(f"{path}: the file is empty; export the drawing again")
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(f"{path}: larger than 100 MB; export only the outline and its marks")
    for start, what in {**_PICTURES, **_OTHERS}.items():
        if head.startswith(start):
            raise InputError(f"{path}: this is {what}, not a drawing; export the drawing as DXF or SVG")
