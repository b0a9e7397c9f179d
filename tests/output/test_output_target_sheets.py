"""The printed targets: one drawing for the printer, looked for by the other half."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest

from nesting.capture import cv
from nesting.capture.targets import COLUMNS, FIELD_MM, MARKER_MM, PER_SHEET, ROWS, SQUARE_MM, marker_cells
from nesting.output.target_sheets import field_at, targets_to_pdf
from nesting.output.tiles import PAPER_MM, SIDE_MM


def test_the_same_wishes_give_the_same_bytes() -> None:
    assert targets_to_pdf("a4", 4) == targets_to_pdf("a4", 4)


@pytest.mark.parametrize("count", [3, 12])
def test_too_few_or_too_many_sheets(count: int) -> None:
    with pytest.raises(ValueError, match="sheets"):
        targets_to_pdf("a4", count)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_field_fits_where_printers_reach(paper: str) -> None:
    page = PAPER_MM[paper]
    x, y = field_at(page)
    assert x >= SIDE_MM
    assert x + FIELD_MM[0] <= page[0] - SIDE_MM
    # Below it the cross and the two check lines take 42 mm.
    assert y - 42.0 >= 5.0


def test_the_markers_are_those_of_the_open_dictionary() -> None:
    # OpenCV's own drawing of such a board, 10 px a mm, against our cells.
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    ids = np.arange(PER_SHEET) + 2 * PER_SHEET
    board = cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_MM, MARKER_MM, dictionary, ids)
    theirs = board.generateImage((int(FIELD_MM[0] * 10), int(FIELD_MM[1] * 10)), marginSize=0)
    cell = MARKER_MM / 6
    for corner, cells in marker_cells(2):
        for row in range(6):
            for column in range(6):
                x, y = corner + np.array([column + 0.5, 5.5 - row]) * cell
                assert theirs[int((FIELD_MM[1] - y) * 10), int(x * 10)] == 255 * cells[row, column]


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="no pdftoppm to turn the PDF into pixels")
def test_the_printed_page_is_true_to_size(tmp_path: Path) -> None:
    (tmp_path / "m.pdf").write_bytes(targets_to_pdf("letter", 4))
    subprocess.run(
        ["pdftoppm", "-r", "254", "-f", "4", "-l", "4", "-png", "m.pdf", "m"], cwd=tmp_path, check=True
    )
    (picture,) = tmp_path.glob("m-*.png")
    image = cv2.imread(str(picture))
    assert image.shape[:2] == (2794, 2159)
    numbers, _ = cv.find_markers(image)
    assert sorted(numbers) == [*range(2 * PER_SHEET, 3 * PER_SHEET)]
    # 10 px a mm: the field's black corners lie where the design says, to 0.1 mm.
    x, y = field_at(PAPER_MM["letter"])
    dark = np.argwhere(image[..., 0] < 100)
    inside = dark[(dark[:, 0] > (PAPER_MM["letter"][1] - y - FIELD_MM[1]) * 10 - 10)]
    assert inside[:, 0].min() / 10 == pytest.approx(PAPER_MM["letter"][1] - y - FIELD_MM[1], abs=0.15)
    row = image[int((PAPER_MM["letter"][1] - y - 5) * 10), :, 0]
    black = np.flatnonzero(row < 100)
    assert black.min() / 10 == pytest.approx(x, abs=0.15)
