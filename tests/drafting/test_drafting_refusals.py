"""Measures that make no panel: one message each, with the mend."""

from __future__ import annotations

from typing import Any

import pytest

from nesting.drafting import draft
from nesting.errors import InputError
from nesting.files.measures_file import measures_from_options

WRAP = {"lower": "7 in", "upper": "8 in", "height": "4 1/2 in"}
LEG = {"ankle": "10 in", "calf": "14 in", "height": "13 in"}
STRAP = {"length": "500 mm", "width": "25 mm"}
HOLES = {"holes": 4, "hole": "4 mm"}


@pytest.mark.parametrize(
    ("shape", "options", "said"),
    [
        ("wrap", WRAP | {"ease": "-1/2 in"}, '--ease: "-1/2 in": a length cannot be negative'),
        ("wrap", WRAP | {"ease": "1/2"}, '--ease: "1/2" has no unit'),
        ("wrap", WRAP | {"lower": "0 in"}, '--lower: "0 in": the length must be more than zero'),
        ("wrap", WRAP | {"height": "0 mm"}, "--height: .* more than zero"),
        ("disc", {"diameter": "0 mm"}, "--diameter: .* more than zero"),
        ("wrap", WRAP | HOLES | {"hole": "0 mm"}, "--hole: .* more than zero"),
        ("wrap", WRAP | {"groove": "0 mm"}, "--groove: .* more than zero"),
        ("wrap", WRAP | {"holes": 0, "hole": "4 mm"}, "--holes: must be at least 1, not 0"),
        ("wrap", WRAP | {"gap": "20 in"}, "lacing gap of 508 mm .* leaves no leather .* smaller gap"),
        ("wrap", WRAP | {"groove": "60 mm"}, "a groove 60 mm .* is wider than the panel .* less than 57"),
        ("disc", {"diameter": "40 mm", "groove": "20 mm"}, "a groove 20 mm .* is wider than the panel"),
        ("strap", STRAP | {"groove": "12.5 mm"}, "a groove 12.5 mm .* is wider than the panel"),
        ("wrap", WRAP | {"radius": "3 in"}, "corners rounded to 76.2 mm .* find no room; at most"),
        ("strap", STRAP | {"radius": "13 mm"}, "corners rounded to 13 mm .* at most 12.5 mm"),
        ("wrap", WRAP | HOLES | {"holes": 30}, "holes overlap: .* 3.3 mm apart; take fewer or smaller"),
        ("strap", STRAP | HOLES | {"hole_inset": "11 mm"}, "holes overlap"),
        ("disc", {"diameter": "40 mm", "holes": 30, "hole": "4 mm"}, "holes overlap"),
        ("wrap", WRAP | HOLES | {"hole_inset": "2 mm"}, "hole of 4 mm .* reaches over the edge; set it in"),
        ("wrap", WRAP | HOLES | {"hole_inset": "5 in"}, "5 in.* in from both sides find no room"),
        ("wrap", WRAP | HOLES | {"hole_ends": "1 mm", "hole_inset": "9 mm"}, "reaches over the edge"),
        ("wrap", WRAP | HOLES | {"hole_ends": "3 in"}, "keep 76.2 mm .* find no room on a height of 114.3"),
        ("wrap", WRAP | HOLES | {"radius": "40 mm"}, "the hole at .* lies outside the panel"),
        ("disc", {"diameter": "15 mm", "holes": 1, "hole": "4 mm"}, "lie beyond the middle of a disc"),
        ("strap", STRAP | {"buckle_holes": 30, "buckle_spacing": "25 mm", "buckle_start": "50 mm",
                           "hole": "4 mm"}, "the hole at .* lies outside the panel"),
        ("wrap", WRAP | {"marks_top": 9, "spread_top": "30 mm"}, "the mark at .* lies outside the panel"),
        ("wrap", WRAP | {"marks_top": 1, "mark_inset": "5 in"}, "the mark at .* lies outside the panel"),
        ("wrap", WRAP | HOLES | {"marks_bottom": 2, "spread_bottom": "158 mm", "mark_inset": "9.5 mm"},
         "the mark at .* falls into a hole"),
        ("wrap", WRAP | HOLES | {"groove": "9 mm"}, "the groove runs through the hole at"),
        ("strap", STRAP | {"tip": "pointed", "marks_top": 1}, "a pointed tip has no upper edge"),
        ("strap", {"length": "12 mm", "width": "25 mm", "tip": "pointed"}, "too short for a point"),
        ("leg", LEG | {"calf": "9 in"}, "the calf .* must be wider than the ankle"),
        ("leg", LEG | {"top": "15 in"}, "upper edge .* must not be wider than the calf"),
        ("leg", LEG | {"calf_height": "14 in"}, "the calf at 355.6 mm .* lies above the panel"),
        ("leg", LEG | {"calf_height": "13 in", "top": "12 in"}, "the calf lies at the upper edge"),
        ("leg", LEG | {"front": 1.5}, "--front: must be at most 1, not 1.5"),
        ("leg", LEG | {"leg": "left", "right": {"calf": "15 in"}}, "--leg: .* both are drafted"),
        ("leg", LEG | {"pairing": "alike", "right": {"calf": "15 in"}}, "--pairing: the legs differ"),
        ("leg", LEG | {"right": {"calf": "0 in"}}, "--right-calf: .* more than zero"),
    ],
)  # fmt: skip
def test_no_panel(shape: str, options: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said) as caught:
        draft(measures_from_options(shape, options))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("shape", "options", "said"),
    [
        ("wrap", {"lower": "7 in", "upper": "8 in"}, "a wrap needs --height"),
        ("strap", {"width": "1 in"}, "a strap needs --length"),
        ("disc", {"diameter": "2 in", "radius": "1 mm"}, "--radius: a disc has no use for it"),
        ("rectangle", {"width": "2 in", "height": "1 in", "gap": "1 mm"}, "--gap: a rectangle has no use"),
        ("wrap", WRAP | {"calf": "9 in"}, "--calf: a wrap has no use for it .*--lower, --upper, --height"),
        ("wrap", WRAP | {"hole": "4 mm"}, "--hole: says nothing without --holes;"),
        ("strap", STRAP | {"hole": "4 mm"}, "--hole: says nothing without --holes or --buckle-holes"),
        ("wrap", WRAP | {"spread_top": "1 in"}, "--spread-top: says nothing without --marks-top"),
        ("wrap", WRAP | {"holes": 4}, "--holes: how large is a hole.*--hole, or --barrel"),
        ("wrap", WRAP | HOLES | {"barrel": "4 mm"}, "--holes: .* not both"),
        ("wrap", WRAP | {"holes": 1, "hole": "4 mm", "lace": "3 mm"}, "--lace: .* at least two holes a side"),
        ("strap", STRAP | {"buckle_holes": 3, "hole": "4 mm"}, "--buckle-holes: .* Give --buckle-start"),
        ("strap", STRAP | {"buckle_holes": 3, "hole": "4 mm", "buckle_start": "5 cm"},
         "Give --buckle-spacing"),
        ("wrap", WRAP | HOLES | {"leather": "thick"}, "--leather: .* is not a leather weight"),
        ("wrap", WRAP | {"worn": ["1 mm", "two"]}, '--worn: "two" is not a length'),
    ],
)  # fmt: skip
def test_measures_that_do_not_belong_together(shape: str, options: dict[str, Any], said: str) -> None:
    with pytest.raises(InputError, match=said):
        measures_from_options(shape, options)


def test_thin_leather_is_told() -> None:
    (tight,) = draft(
        measures_from_options("wrap", WRAP | HOLES | {"hole_inset": "4 mm", "hole_ends": "9 mm"})
    )
    assert any("2 mm" in note and "between a hole and the edge" in note for note in tight.notes)
    (many,) = draft(measures_from_options("wrap", WRAP | HOLES | {"holes": 15}))
    assert any("between two holes" in note for note in many.notes)
    (sound,) = draft(measures_from_options("wrap", WRAP | HOLES))
    assert sound.notes == ()


def test_a_lace_wider_than_its_holes_is_told() -> None:
    (drafted,) = draft(measures_from_options("wrap", WRAP | HOLES | {"lace": "5 mm"}))
    assert any("passes only folded" in note for note in drafted.notes)
