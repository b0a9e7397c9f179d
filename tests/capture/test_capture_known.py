"""Known distances, two pitches and the drawn arrow, on hand-made cameras and marks."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.capture.arrow import take_arrow
from nesting.capture.camera import Camera, image_frame
from nesting.capture.known import (
    Known,
    confirm,
    on_picture,
    parse_known,
    pitch_from,
    scale_doubt,
    tape_deviation,
)
from nesting.capture.marks import Mark, OpenMark
from nesting.capture.pitches import StatedPitch, mean_pitch, parse_pitches, stated_pitch
from nesting.errors import CaptureRefused, InputError


def flat(px_per_label: float) -> Camera:
    """From straight above, the picture's middle at label (0, 0), y up."""
    centre, unit = image_frame((1001, 801))
    k = px_per_label / unit
    return Camera(np.diag([k, -k, 1.0]), 0.0, "brown", centre, unit)


def known(length: float, a: tuple[float, float] = (100, 400), b: tuple[float, float] = (900, 400)) -> Known:
    return Known((a, b), length, "100,400 900,400")


def with_ends(*ones: Known) -> list[tuple[np.ndarray, Known]]:
    return [(np.array(one.ends, float), one) for one in ones]


@pytest.mark.parametrize(
    ("text", "ends", "length"),
    [
        ("A B 600 mm", ("A", "B"), 600.0),
        ("a  d 2 ft 1/2 in", ("A", "D"), 622.3),
        ("820,1410 2310.5,1395 60 cm", ((820.0, 1410.0), (2310.5, 1395.0)), 600.0),
    ],
)
def test_known_distances_as_typed(text: str, ends: tuple, length: float) -> None:
    one = parse_known(text)
    assert one.ends == ends
    assert one.length_mm == pytest.approx(length)


@pytest.mark.parametrize(
    "text", ["", "A B", "A 600 mm", "A 10,20 600 mm", "A A 600 mm", "AB C 600 mm", "1,2 3,4 600", "A B 0 mm"]
)
def test_what_is_no_known_distance(text: str) -> None:
    with pytest.raises(InputError):
        parse_known(text)


def test_the_tape_of_class_two() -> None:
    # Directive 2014/32/EU, MI-008: 0.3 mm + 0.2 mm a begun metre, here 0.5 and 0.7 mm, evenly spread.
    assert tape_deviation(600) == pytest.approx(np.hypot(0.5, 0.5 / np.sqrt(3)))
    assert tape_deviation(1200) == pytest.approx(np.hypot(0.5, 0.7 / np.sqrt(3)))


def test_a_known_distance_decides_the_pitch() -> None:
    # 800 px are 40 lines of 20 px; they are 1016 mm: 25.4 mm a line.
    pitch, share = pitch_from(flat(20.0), with_ends(known(1016.0)))
    assert pitch == pytest.approx(25.4)
    assert 0.0005 < share < 0.003


def test_distances_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(CaptureRefused, match="contradict each other"):
        pitch_from(flat(20.0), with_ends(known(1016.0), known(1050.0)))


def test_points_too_close_are_refused() -> None:
    with pytest.raises(CaptureRefused, match="less than one line"):
        pitch_from(flat(20.0), with_ends(known(10.0, (100, 400), (110, 400))))


def test_a_pitch_that_agrees_is_confirmed_and_one_that_does_not_is_refused() -> None:
    ends = with_ends(known(1016.0))
    (said,) = confirm(flat(20.0), np.array([25.4, 25.4]), ends, 1e-4, "the pitch of 25.4 mm")
    assert "1016.0 mm" in said
    with pytest.raises(CaptureRefused, match=r"contradicts the pitch of 25 mm.*\+1\.6 %"):
        confirm(flat(20.0), np.array([25.0, 25.0]), ends, 1e-4, "the pitch of 25 mm")


def test_the_doubt_decides_how_far_off_is_too_far() -> None:
    # Two points a pixel uncertain at 0.8 px a mm: about 4 mm (k = 2) of doubt.
    ends = with_ends(known(1019.0))
    assert confirm(flat(20.0), np.array([25.4, 25.4]), ends, 1e-4, "the pitch")
    with pytest.raises(CaptureRefused):
        confirm(flat(20.0), np.array([25.4, 25.4]), with_ends(known(1022.0)), 1e-4, "the pitch")


def test_a_picture_read_at_half_its_size_keeps_its_points() -> None:
    at = on_picture(np.array([[0.0, 0.0], [1999.0, 1.0]]), True, (1000, 800), "--known")
    assert at == pytest.approx(np.array([[-0.25, -0.25], [999.25, 0.25]]))
    with pytest.raises(InputError, match="beyond the picture of 2000 x 1600"):
        on_picture(np.array([[2100.0, 5.0]]), True, (1000, 800), "--known")


def test_pitches_as_typed() -> None:
    assert parse_pitches("1 in") == StatedPitch((25.4, 25.4))
    assert parse_pitches("25.4 mm x 25.2 mm") == StatedPitch((25.4, 25.2))
    assert parse_pitches("1 in × 25.3 mm") == StatedPitch((25.4, 25.3))
    for sign in ("±", "+/-", "+-"):
        assert parse_pitches(f"1 in {sign} 0.02 mm") == StatedPitch((25.4, 25.4), 0.02)
    assert mean_pitch((25.0, 25.0)) == 25.0
    assert mean_pitch((25.4, 25.2)) ** 2 == pytest.approx(25.4 * 25.2)


@pytest.mark.parametrize(
    "text", ["25.4 mm x 12.7 mm", "1 x 2 x 3 mm", "25.4 mm x", "0.5 mm", "25.4", "1 in ± 0.02", "1 in ± 2 mm",
             "1 in ± 1 mm ± 1 mm"],
)  # fmt: skip
def test_pitches_that_are_none(text: str) -> None:
    with pytest.raises(InputError):
        parse_pitches(text)


def test_a_stated_pitch_is_as_good_as_a_tape_over_the_grid_that_is_seen() -> None:
    tape = {span: tape_deviation(span) / span for span in (1000.0, 600.0)}
    assert StatedPitch((10.0, 10.0)).share(np.array([100.0, 60.0])) == pytest.approx(tape[1000.0])
    two = StatedPitch((10.0, 10.1)).share(np.array([100.0, 600.0 / 10.1]))
    assert two == pytest.approx(0.5 * (tape[1000.0] + tape[600.0]))


def test_limits_stated_with_a_pitch_are_evenly_spread_between() -> None:
    # JCGM 100:2008, clause 4.3.7: half width over the root of three.
    assert StatedPitch((25.0, 25.0), 0.05).share(np.array([9.0, 9.0])) == pytest.approx(0.002 / np.sqrt(3))
    assert stated_pitch(10) == stated_pitch((10.0, 10.0)) == StatedPitch((10.0, 10.0))
    assert stated_pitch(None) is None


def test_a_known_distance_narrows_the_doubt_of_a_pitch_that_it_agrees_with() -> None:
    ends, both = with_ends(known(1016.0)), np.array([25.4, 25.4])
    alone = pitch_from(flat(20.0), ends)[1]
    told = scale_doubt(flat(20.0), both, ends, alone)
    assert told == pytest.approx(alone / np.sqrt(2), rel=1e-6)
    # Half of what the distance is off, as both are equally sure, is left uncorrected and counts as doubt.
    off = scale_doubt(flat(20.0), both / 1.002, ends, alone)
    assert off == pytest.approx(np.hypot(alone / np.sqrt(2), 0.001), rel=0.02)


# ------------------------------------------------------------------------------------- the arrow


def box(low: tuple[float, float], high: tuple[float, float]) -> np.ndarray:
    return np.array([low, (high[0], low[1]), high, (low[0], high[1])], float)


def turned(points: np.ndarray, degrees: float) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return points @ np.array([[c, s], [-s, c]])


def line(low: tuple[float, float], high: tuple[float, float], colour: str, degrees: float = 0.0) -> OpenMark:
    return OpenMark(turned(box(low, high), degrees), colour, high[0] - low[0], low)


def test_an_arrow_is_taken_out_of_the_marks() -> None:
    shaft = line((0, -1), (200, 1), "red", 30.0)
    head = Mark(turned(np.array([[190.0, -8], [206, 0], [190, 8]]), 30.0), "red")
    loop = Mark(box((0, 100), (30, 130)), "blue")
    scratch = line((50, 50), (80, 52), "blue")
    ends, marks, others = take_arrow("red", [loop, head], [shaft, scratch])
    assert marks == [loop]
    assert others == [scratch]
    along = ends[1] - ends[0]
    assert np.degrees(np.arctan2(along[1], along[0])) % 180 == pytest.approx(30.0, abs=0.6)
    assert float(np.hypot(*along)) == pytest.approx(206, abs=2)


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ([line((0, 0), (100, 2), "blue")], "no red arrow was found.*blue"),
        ([line((0, 0), (40, 2), "red")], "make no arrow"),
        ([line((0, 0), (100, 2), "red"), line((0, 80), (100, 82), "red")], "make no arrow"),
    ],
)
def test_what_is_no_arrow(marks: list[OpenMark], words: str) -> None:
    with pytest.raises(CaptureRefused, match=words):
        take_arrow("red", [], marks)
