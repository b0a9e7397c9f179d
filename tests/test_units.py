"""Typed quantities against pint, ASTM D1814 and the exact definitions of the inch and the square foot."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import InputError
from nesting.units import (
    area_mm2,
    format_area,
    format_both,
    format_inches,
    format_length,
    format_weight,
    length_mm,
    mm_to_oz,
    oz_to_mm,
    parse_angle,
    parse_area,
    parse_length,
    parse_weight,
)


@pytest.fixture(scope="module")
def registry() -> Any:
    return pint.UnitRegistry()


@pytest.mark.parametrize(
    ("text", "pint_text"),
    [
        ("8 1/2 in", "8.5 inch"),
        ('8.5"', "8.5 inch"),
        ('8 1/2"', "8.5 inch"),
        ("8½ inches", "8.5 inch"),
        ("8-1/2″", "8.5 inch"),
        ("1/2 in.", "0.5 inch"),
        (".5 in", "0.5 inch"),
        ("215 mm", "215 millimeter"),
        ("21.5 cm", "21.5 centimeter"),
        ("2.15dm", "2.15 decimeter"),
        ("0.5 m", "0.5 meter"),
        ("3 ft", "3 foot"),
        ("2 yards", "2 yard"),
        ("1 ft 3 in", "15 inch"),
        ("1' 3\"", "15 inch"),
        ("1'3''", "15 inch"),
        ("1 ft 3 1/2 in", "15.5 inch"),
        ("2 m 5 cm", "2.05 meter"),
        ("0 mm", "0 meter"),
    ],
)
def test_lengths_agree_with_pint(registry: Any, text: str, pint_text: str) -> None:
    assert parse_length(text) == pytest.approx(registry(pint_text).to("millimeter").magnitude, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "pint_text"),
    [
        ("7 1/4 ft2", "7.25 foot**2"),
        ("7.25 sq ft", "7.25 foot**2"),
        ("7¼ ft²", "7.25 foot**2"),
        ("7.5 ft^2", "7.5 foot**2"),
        ("7 square feet", "7 foot**2"),
        ("36 sq. in.", "36 inch**2"),
        ("65 dm2", "65 decimeter**2"),
        ("65.2 dm²", "65.2 decimeter**2"),
        ("6040 cm2", "6040 centimeter**2"),
        ("0.6 m2", "0.6 meter**2"),
        ("0.6 square metres", "0.6 meter**2"),
        ("600 mm2", "600 millimeter**2"),
    ],
)
def test_areas_agree_with_pint(registry: Any, text: str, pint_text: str) -> None:
    assert parse_area(text) == pytest.approx(registry(pint_text).to("millimeter**2").magnitude, rel=1e-14)


def test_the_square_foot_is_exact() -> None:
    """International yard and pound agreement, 1959: 1 in = 25.4 mm, so 1 ft² = 0.09290304 m²."""
    assert area_mm2("1 ft2") == Fraction("92903.04")
    assert area_mm2("1 ft2") / area_mm2("1 dm2") == Fraction("9.290304")
    assert area_mm2("1 m2") == 1_000_000
    assert float(area_mm2("1 m2") / area_mm2("1 ft2")) == pytest.approx(10.7639, abs=5e-5)
    assert length_mm("8 1/2 in") == Fraction("215.9")
    assert length_mm("1/3 in") == Fraction(254, 30)


def test_an_ounce_is_a_64th_of_an_inch() -> None:
    """ASTM D1814: 1 oz = 1/64 in = 0.397 mm; 4 oz = 1/16 in = 1.588 mm; 8 oz = 1/8 in = 3.175 mm."""
    assert oz_to_mm(1) == pytest.approx(0.397, abs=5e-4)
    assert oz_to_mm(4) == 1.5875
    assert oz_to_mm(8) == 3.175
    assert mm_to_oz(3.175) == 8
    assert oz_to_mm(64) == parse_length("1 in")


@pytest.mark.parametrize(
    ("text", "ounces"),
    [
        ("4-5 oz", (4, 5)),
        ("4 – 5 oz", (4, 5)),
        ("4 to 5 oz", (4, 5)),
        ("4 oz - 5 oz", (4, 5)),
        ("4-5oz.", (4, 5)),
        ("4 oz", (4, 4)),
        ("3 1/2-4 ounces", (3.5, 4)),
        ("1.6-2.0 mm", (1.6 / 0.396875, 2 / 0.396875)),
        ("3.175 mm", (8, 8)),
    ],
)
def test_weights(text: str, ounces: tuple[float, float]) -> None:
    assert parse_weight(text) == pytest.approx(ounces, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "degrees"), [("15 deg", 15), ("15", 15), ("22.5°", 22.5), ("90 degrees", 90), ("7 1/2", 7.5)]
)
def test_angles(text: str, degrees: float) -> None:
    assert parse_angle(text) == degrees


def test_a_signed_angle_only_where_asked() -> None:
    assert parse_angle("-15 deg", signed=True) == -15
    with pytest.raises(InputError, match="cannot be negative"):
        parse_angle("-15 deg")


def test_a_bare_number_needs_a_unit_to_be_passed() -> None:
    assert parse_length("5", "in") == 127
    assert parse_length("5 mm", "in") == 5
    assert parse_area("6 3/4", "ft2") == pytest.approx(6.75 * 92903.04)
    with pytest.raises(InputError, match="has no unit; write one of mm"):
        parse_length("5")
    with pytest.raises(InputError, match="has no unit"):
        parse_length("1 ft 3", "in")


def test_a_foot_stamp_is_ambiguous() -> None:
    """Roberts & Etherington, *Bookbinding and the Conservation of Books*: "5.2" may be 5.2 or 5 1/2."""
    for text in ("5.2 ft2", "5.2 sq ft", "5.2 ft²"):
        with pytest.raises(InputError, match=r'5\.2 or 5 1/2 square feet.*"5\.2 ft2 tenths" or "5 1/2 ft2"'):
            parse_area(text)
    with pytest.raises(InputError, match=r"5\.1 or 5 1/4"):
        parse_area("5.1", "ft2")
    with pytest.raises(InputError, match=r"\.3 or 3/4"):
        parse_area(".3 ft2")


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("5.2 ft2 tenths", 5.2),
        ("5.2 ft2 quarters", 5.5),
        ("5.3 quarters", 5.75),
        ("5.0 ft2 quarters", 5),
        ("5.20 ft2", 5.2),
        ("5.25 ft2", 5.25),
        ("5.4 ft2", 5.4),
        ("5.5 ft2", 5.5),
        ("5.0 ft2", 5),
        ("5 1/2 ft2", 5.5),
    ],
)
def test_a_clear_foot_stamp(text: str, feet: float) -> None:
    assert parse_area(text, "ft2") == pytest.approx(feet * 92903.04, rel=1e-14)


@pytest.mark.parametrize("text", ["5.4 ft2 quarters", "5 ft2 quarters", "5.25 ft2 quarters"])
def test_quarters_that_are_none(text: str) -> None:
    with pytest.raises(InputError, match="quarters are stamped"):
        parse_area(text)


def test_stamp_words_belong_to_feet() -> None:
    with pytest.raises(InputError, match="leave the word out"):
        parse_area("5.2 dm2 tenths")


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("", "an empty text"),
        ("-5 mm", "cannot be negative"),
        ("−5 mm", "cannot be negative"),
        ("nan mm", "write it like"),
        ("inf mm", "write it like"),
        ("infinity", "write it like"),
        ("5 furlong", '"furlong" is not a unit of length'),
        ("5 oz", '"oz" is not a unit of length'),
        ("5 mm2", '"mm2" is not a unit of length'),
        ("1,5 cm", "write a decimal point"),
        ("1e3 mm", "not a unit"),
        ("8.5 1/2 in", "has no unit"),
        ("8 3/2 in", "write it like"),
        ("1/0 in", "write it like"),
        ("1 3 in", "has no unit"),
        ("3 in 1 ft", "the larger unit first"),
        ("1 in 1 in", "the larger unit first"),
        ("5 mm mm", "not a unit"),
        ("1 ft - 3 in", "write it like"),
        ("8 in 1/2", "has no unit"),
        ("٣ mm", "write it like"),
        ("1001 m", "more than a kilometre"),
        ("9" * 50 + " mm", "write it like"),
    ],
)
def test_lengths_refused(text: str, mend: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_length(text)
    assert mend in str(caught.value)


def test_zero_refused_where_a_size_is_asked() -> None:
    with pytest.raises(InputError, match="more than zero"):
        parse_length("0 mm", positive=True)
    with pytest.raises(InputError, match="more than zero"):
        parse_area("0 m2", positive=True)
    assert parse_area("0 m2") == 0


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("5", "has no unit"),
        ("5 mm", "not a unit of area"),
        ("-5 ft2", "cannot be negative"),
        ("NaN ft2", "write it like"),
        ("1 ft2 3 in2", "not one area"),
        ("5 acres", "not a unit of area"),
        ("", "an empty text"),
    ],
)
def test_areas_refused(text: str, mend: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_area(text)
    assert mend in str(caught.value)


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("4/5 oz", 'write "4-5 oz"'),
        ("5-4 oz", "the thinner comes first"),
        ("0 oz", "more than nothing"),
        ("-4 oz", "write it like"),
        ("4-5", "write it like"),
        ("4 mm - 5 oz", "write it like"),
        ("4-5-6 oz", "write it like"),
        ("nan oz", "write it like"),
        ("4-5 lb", "write it like"),
        ("", "write it like"),
    ],
)
def test_weights_refused(text: str, mend: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_weight(text)
    assert mend in str(caught.value)


@pytest.mark.parametrize("text", ["", "15 rad", "15 deg 3", "nan", "inf", "right"])
def test_angles_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_angle(text)


def test_back_to_people() -> None:
    assert format_length(215.9) == "215.9 mm"
    assert format_length(1200.0) == "1200 mm"
    assert format_length(-0.0) == "0 mm"
    assert format_inches(215.9) == "8 1/2 in"
    assert format_inches(0) == "0 in"
    assert format_inches(1.5875) == "1/16 in"
    assert format_inches(-3.175) == "-1/8 in"
    assert format_both(215.9) == "215.9 mm (8 1/2 in)"
    assert format_both(3.175) == "3.2 mm (1/8 in)"
    assert format_both(37) == "37 mm (≈ 1 7/16 in)"
    assert format_both(5.5) == "5.5 mm (7/32 in)"
    assert format_both(2) == "2 mm (5/64 in)"
    assert format_both(8.4) == "8.4 mm (≈ 11/32 in)"
    assert format_both(25.4) == "25.4 mm (1 in)"
    assert format_both(0) == "0 mm (0 in)"
    assert format_area(7.25 * 92903.04) == "7.25 ft² (67.4 dm²)"
    assert format_area(3845.2) == "0.041 ft² (0.38 dm²)"
    # Common practice, no source: 4-5 oz is spoken of as 1.6-2.0 mm.
    assert format_weight((4, 5)) == "4-5 oz (1.6-2.0 mm)"
    assert format_weight((4, 4)) == "4 oz (1.6 mm)"


@given(st.integers(0, 400), st.integers(0, 15))
def test_inches_read_back(whole: int, sixteenths: int) -> None:
    exact = (whole + Fraction(sixteenths, 16)) * Fraction("25.4")
    assert length_mm(format_inches(float(exact))) == exact


@given(st.integers(0, 99), st.integers(1, 98), st.integers(1, 99))
def test_mixed_fractions_are_exact(whole: int, over: int, under: int) -> None:
    text = f"{whole} {over}/{under} in"
    if over >= under:
        with pytest.raises(InputError):
            length_mm(text)
    else:
        assert length_mm(text) == (whole + Fraction(over, under)) * Fraction("25.4")


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    for parse in (parse_length, parse_area, parse_weight, parse_angle):
        try:
            result = parse(text)
        except InputError as error:
            assert len(str(error).splitlines()) == 1  # noqa: PT017 - whatever was typed
        else:
            assert min(result if isinstance(result, tuple) else (result,)) >= 0
