"""The layout over a photograph: places through a made-up camera, and the mat's lines counted by hand."""

from __future__ import annotations

import io
from functools import lru_cache

import matplotlib.image
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.output import palette
from nesting.output.mat import Mat
from nesting.output.over_photo import STRIP_PX, Seen, layout_over_photo
from nesting.output.paper import panels_to_pdf
from nesting.output.record import record

GREY = 90
SCALE, LEFT, TOP = 0.9, 150.0, 760.0


def camera(points):
    """A camera straight above, turned by 2 degrees: x right, y down."""
    cos, sin = np.cos(np.radians(2)), np.sin(np.radians(2))
    x, y = points[:, 0] * cos - points[:, 1] * sin, points[:, 0] * sin + points[:, 1] * cos
    return np.column_stack((LEFT + SCALE * x, TOP - SCALE * y))


def seen(offset=(7.0, 20.0)):
    return Seen(np.full((820, 1300, 3), GREY, dtype=np.uint8), camera, Mat(25.4, offset))


@pytest.fixture
def drawn(workshop):
    """The picture (rows, columns, 3) of 0 to 255, and the drawing it shows."""
    layout = workshop()
    (drawing,) = record(layout)
    return picture(layout), drawing


@lru_cache
def picture(layout):
    data = layout_over_photo(layout, record(layout)[0], seen())
    return np.round(255 * matplotlib.image.imread(io.BytesIO(data), format="png")[:, :, :3])


def colour_at(image, point):
    x, y = camera(np.array([point]))[0]
    return image[int(np.floor(y + 0.5)), int(np.floor(x + 0.5))]


def test_the_photograph_is_kept_pixel_for_pixel_where_nothing_is_drawn(drawn):
    image, _ = drawn
    assert image.shape[1] == 1300
    assert image.shape[0] > 820 + STRIP_PX
    assert (image[:12, :, :] == GREY).all()
    assert (image[:820, 1285:, :] == GREY).all()
    assert (image[:820, :2, :] == GREY).all()


def test_pieces_are_tinted_and_their_outline_drawn_where_the_camera_sees_it(drawn):
    image, drawing = drawn
    tints = palette.tints(tuple(piece.placement for piece in drawing.pieces))
    (chap,) = [piece for piece in drawing.pieces if piece.placement.piece == "half-chap-02-L"]
    # A spot inside, off labels, holes and mat lines: the panel's (30, 60) shifted to (323, 6).
    tint = np.array([int(tints["half-chap-02-L"][i : i + 2], 16) for i in (1, 3, 5)])
    assert colour_at(image, (353.0, 64.0)) == pytest.approx(0.4 * tint + 0.6 * GREY, abs=2)
    ink = np.array([int(palette.INK[i : i + 2], 16) for i in (1, 3, 5)])
    (x0, y0, _), (x1, y1, _) = chap.outline[0], chap.outline[1]
    for share in (0.3, 0.7):
        # The side is an arc in neither its first tenth; here it is straight: the next corner is an arc's end.
        spot = (x0 + share * (x1 - x0), y0 + share * (y1 - y0))
        assert np.abs(colour_at(image, spot) - ink).max() < 60
    # Beside the hide nothing is tinted.
    assert (colour_at(image, (1130.0, 40.0)) == GREY).all()


def test_flaws_stand_where_they_were_measured(drawn):
    image, drawing = drawn
    (weak,) = [flaw for flaw in drawing.hide.flaws if flaw.severity == "weak"]
    line = np.array([int(palette.FLAW_LOOKS["weak"].line[i : i + 2], 16) for i in (1, 3, 5)])
    (x0, y0, _), (x1, y1, _) = weak.outline[0], weak.outline[1]
    assert np.abs(colour_at(image, ((x0 + x1) / 2, (y0 + y1) / 2)) - line).max() < 60


def test_same_bytes(workshop):
    layout = workshop(2)
    drawing = record(layout)[1]
    assert layout_over_photo(layout, drawing, seen()) == layout_over_photo(layout, drawing, seen())


# --- the mat's lines -------------------------------------------------------------------------


def test_lines_are_counted_from_the_last_ones_left_of_and_below_the_hide():
    """Pitch 10, the hide's corner at mat (23, -4): line 0 is at 20 and at -10, 3 and 6 mm off."""
    mat = Mat(10.0, (23.0, -4.0))
    assert mat.first == (2, -1)
    assert mat.line(0, 0) == pytest.approx(-3.0)
    assert mat.line(1, 0) == pytest.approx(-6.0)
    (right, x), (up, y) = mat.count((30.0, 100.0))
    assert (right, up) == (3, 10)
    assert (x, y) == pytest.approx((3.0, 6.0))


def test_a_mat_printed_unevenly():
    """Pitch 10 across and 9.9 up, the corner at mat (23, -4): level line 0 is at -9.9, 5.9 mm below it."""
    mat = Mat(10.0, (23.0, -4.0), 9.9)
    assert mat.line(1, 0) == pytest.approx(-5.9)
    # 100 up is 105.9 above line 0: ten lines of 9.9 and 6.9.
    assert mat.count((30.0, 100.0))[1] == (10, pytest.approx(6.9))
    assert mat.words == "10 mm across and 9.9 mm up apart"
    assert Mat(25.4, (0.0, 0.0)).words == "25.4 mm apart"


def test_a_place_all_but_on_a_line_is_on_it():
    assert Mat(25.4, (0.0, 0.0)).count((50.79999, 50.80001)) == ((2, 0.0), (2, 0.0))


@given(st.floats(1, 100), st.floats(-1e3, 1e3), st.floats(0, 2e3))
def test_lines_and_millimetres_add_up(pitch, offset, x):
    mat = Mat(pitch, (offset, 0.0))
    (lines, past), _ = mat.count((x, 0.0))
    assert lines >= 0
    assert 0.0 <= past < pitch + 0.05
    assert mat.line(0, lines) + past == pytest.approx(x, abs=0.06)


def test_the_sheet_from_the_mats_lines_follows_where_there_is_a_mat(workshop):
    layout = workshop(2)
    plain = panels_to_pdf(layout).count(b"/MediaBox")
    # 23 pieces: those that find no room below the picture go on over another page.
    assert panels_to_pdf(layout, mats={0: Mat(25.4, (7.0, 20.0))}).count(b"/MediaBox") == plain + 2
    assert panels_to_pdf(layout, mats={}).count(b"/MediaBox") == plain
