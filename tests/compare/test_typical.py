"""Typical hides have the stated area and can be read as hide files; nothing about them is chance."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
import shapely

from nesting.compare.typical import Described, typical_hides
from nesting.compare.typical_shapes import SHAPES
from nesting.errors import InputError
from nesting.files.hide import Price
from nesting.files.hide_file import hide_from_json, hide_to_json
from nesting.rings import area, flatten
from nesting.units import FT2_MM2

CUTS = sorted(SHAPES)
SEVEN_AND_A_QUARTER = Fraction(29, 4) * FT2_MM2


@pytest.mark.parametrize("cut", CUTS)
def test_the_area_is_the_stated_one_less_open_holes(cut: str) -> None:
    # Open holes are not counted in a stamped area (common practice, no source).
    for hide in typical_hides(Described(cut, SEVEN_AND_A_QUARTER)):
        holes = sum(area(flaw.outline) for flaw in hide.flaws if flaw.severity == "hole")
        assert holes > 0
        assert area(hide.outline) - holes == pytest.approx(7.25 * 92903.04, rel=1e-9)


@pytest.mark.parametrize("cut", CUTS)
def test_one_four_and_nine_per_cent_are_flawed(cut: str) -> None:
    for hide, share in zip(typical_hides(Described(cut)), (0.01, 0.04, 0.09), strict=True):
        outline = shapely.Polygon(flatten(hide.outline))
        flaws = [shapely.Polygon(flatten(flaw.outline)) for flaw in hide.flaws]
        assert all(outline.covers(flaw) for flaw in flaws)
        assert shapely.union_all(flaws).area / outline.area == pytest.approx(share, rel=1e-6)


@pytest.mark.parametrize("cut", CUTS)
def test_they_can_be_read_as_hide_files(cut: str) -> None:
    for hide in typical_hides(Described(cut, weight_oz=(4, 5))):
        read = hide_from_json(hide_to_json(hide), "typical")
        assert (read.cut, read.weight_oz) == (cut, (4, 5))
        assert read.straight_edges
        assert read.spine


def test_three_outlines_the_same_on_any_run() -> None:
    first, again = (typical_hides(Described("side")) for _ in range(2))
    assert first == again
    assert len({hide.outline for hide in first}) == 3


@pytest.mark.parametrize(
    ("cut", "low", "high"),
    # Side ≈ 24 of whole hides 45-55 (35-70), double shoulder ≈ 14, single half of it (common practice, no
    # source); bend 8-11, belly 4-7 (from memory).
    [
        ("side", 24, 24),
        ("double shoulder", 14, 14),
        ("single shoulder", 7, 7),
        ("bend", 8, 11),
        ("belly", 4, 7),
    ],
)
def test_usual_areas(cut: str, low: float, high: float) -> None:
    usual = Described(cut)
    assert low <= usual.area / FT2_MM2 <= high
    assert usual.unusual is None


def test_an_unusual_area_is_told() -> None:
    said = Described("bend", 24 * FT2_MM2).unusual
    assert said == "24.00 ft² is unusual for a bend, which has 8 to 11 ft²; check the area"


def test_an_unknown_cut() -> None:
    with pytest.raises(
        InputError, match='"saddle" is no cut with a typical outline; there are single shoulder'
    ):
        typical_hides(Described("saddle"))


def test_the_price_is_of_the_stated_area_to_the_cent() -> None:
    # 7.25 × 9.50 = 68.875, halves up.
    described = Described("bend", SEVEN_AND_A_QUARTER, price=Price(Decimal("9.50"), "USD", "ft2"))
    for hide in typical_hides(described):
        assert hide.price == Price(Decimal("68.88"), "USD", "hide")
