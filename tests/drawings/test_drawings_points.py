"""CSV of points: separators, headers with units, closing points, and lines that are wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from nesting.drawings.drawing import Drawing
from nesting.drawings.reading import read_drawing
from nesting.errors import InputError

TRIANGLE = ((0.0, 0.0, 0.0), (12.5, 0.0, 0.0), (12.5, 30.0, 0.0))


def read(tmp_path: Path, text: str, unit: str | None = None, encoding: str = "utf-8") -> Drawing:
    path = tmp_path / "points.csv"
    path.write_bytes(text.encode(encoding))
    return read_drawing(path, unit)


@pytest.mark.parametrize(
    "text",
    [
        "0,0\n12.5,0\n12.5,30\n",
        "x,y\n0,0\n12.5,0\n12.5,30",
        "x;y\r\n0;0\r\n12,5;0\r\n12,5;30\r\n",
        "0\t0\n12,5\t0\n12.5\t30\n",
        "# traced on the table\n\nx, y, bulge\n 0, 0, 0\n 12.5, 0, 0\n\n12.5, 30, 0\n",
        "0,0\n12.5,0\n12.5,30\n0,0\n",
    ],
)
def test_forms_of_one_outline(tmp_path: Path, text: str) -> None:
    [stroke] = read(tmp_path, text, "mm").strokes
    assert stroke.closed
    assert stroke.vertices == TRIANGLE
    assert read(tmp_path, text, "mm", encoding="utf-8-sig").strokes == (stroke,)


def test_closing_point_is_listed(tmp_path: Path) -> None:
    drawing = read(tmp_path, "0,0\n12.5,0\n12.5,30\n0,0\n", "mm")
    assert [note.code for note in drawing.notes] == ["dropped-closing-point"]


@pytest.mark.parametrize(
    ("header", "size"),
    [("x_mm,y_mm", 1), ("x [in],y [in]", 25.4), ("X (cm),Y (cm),bulge", 10), ("x_inches,y_inches", 25.4)],
)
def test_units_in_the_header(tmp_path: Path, header: str, size: float) -> None:
    bulge = header.count("bulge") * ",0.25"
    [stroke] = read(tmp_path, f"{header}\n0,0{bulge}\n2,0{bulge}\n2,3{bulge}\n").strokes
    assert stroke.vertices[2][:2] == pytest.approx((2 * size, 3 * size))
    assert stroke.vertices[0][2] == (0.25 if bulge else 0)


def test_unit_is_asked_for_and_may_not_contradict(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not state its unit"):
        read(tmp_path, "0,0\n1,0\n1,1\n")
    with pytest.raises(InputError, match="states that it is in cm, and --unit says mm"):
        read(tmp_path, "x_cm,y_cm\n0,0\n1,0\n1,1\n", "mm")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0,0\n1,nan\n1,1\n", "line 2: a coordinate is not a finite number"),
        ("0,0\n1,0\n1,inf\n", "line 3: a coordinate is not a finite number"),
        ("0,0\n1,0\nhere,1\n", "line 3: 'here 1' is not two or three numbers"),
        ("0,0\n1\n1,1\n", "line 2: needs x,y"),
        ("0,0,0,0\n", "line 1: needs x,y"),
        ("x_mm,y_mm\n", "holds 0 points"),
        ("0,0\n", "holds 1 points"),
        ("# nothing\n\n", "holds no points"),
        ("x_ell,y_ell\n0,0\n1,0\n1,1\n", "'ell' is not a unit"),
        ("x_mm,y_cm\n0,0\n1,0\n1,1\n", "in one unit"),
        ("5,5\n5,5\n5,5\n", "no line is drawn in it"),
    ],
)
def test_what_is_wrong_is_named_by_line(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(tmp_path, text, None if "_" in text else "mm")


def test_what_is_no_text(tmp_path: Path) -> None:
    path = tmp_path / "points.csv"
    path.write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(InputError, match="not a text file of points"):
        read_drawing(path, "mm")
