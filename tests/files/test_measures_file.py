"""Measures files: fields as they are typed, options before the file, one message on what is wrong."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from nesting.errors import FileFormatError, InputError
from nesting.files.any_file import read_any
from nesting.files.measures import (
    Disc,
    Fit,
    Holes,
    HoleSize,
    Lacing,
    LegPanel,
    Marks,
    Measures,
    ShapeName,
    Taken,
    Wrap,
)
from nesting.files.measures_fields import NEEDS, REQUIRED, TAKEN, LegFields, MeasuresModel
from nesting.files.measures_file import measures_from_options, read_measures, says_shape
from nesting.files.panel import Stretch

WRAP = """\
shape = "wrap"
lower = "7 in"
upper = "8 in"
height = "4 1/2 in"
ease = "1/2 in"
worn = ["1 mm", "0.5 mm"]
gap = "1 in"
radius = "15 mm"
groove = "1/8 in"
holes = 4
barrel = "3/16 in"
marks_top = 5
spread_top = "1 1/4 in"
leather = "4-5 oz"
accepts = ["blemish", "blemish"]
stretch = {angle_deg = 90, tolerance_deg = 15}
turns_deg = [0, 180]
"""
LEG = """\
shape = "leg"
name = "chap"
ankle = "10 in"
calf = "14 in"
height = "12 in"
"""


def file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "cuff.toml"
    path.write_text(text)
    return path


def test_every_field_of_a_wrap(tmp_path: Path) -> None:
    measures = read_measures(file(tmp_path, WRAP))
    assert measures.shape == Wrap(177.8, 203.2, 114.3, Fit(12.7, 1.5, 25.4))
    assert measures == Measures(
        name="cuff",
        shape=measures.shape,
        radius_mm=15.0,
        holes=Holes(4, 9.525, 9.525, HoleSize(barrel_mm=4.7625)),
        marks_top=Marks(5, 31.75, 9.525),
        groove_mm=3.175,
        # 4 1/2 oz of 1/64 in: ASTM D1814.
        lacing=Lacing(254.0, None, 4.5 * 25.4 / 64),
        stretch=Stretch(90, 15),
        turns_deg=(0, 180),
        accepts=("blemish",),
        taken=(
            Taken("the holes were set in by 3/8 in (9.5 mm), as is usual", "hole_inset says otherwise"),
            Taken("the marks were set in as far as the holes", "mark_inset says otherwise"),
            Taken("the lace was given tails of 10 in (254 mm), enough for a bow", "tails says otherwise"),
        ),
    )


def test_options_go_before_the_file(tmp_path: Path) -> None:
    path = file(tmp_path, WRAP)
    measures = read_measures(path, {"ease": "0 in", "hole": "6 mm", "holes": 5}, "w")
    assert measures.name == "w"
    assert isinstance(measures.shape, Wrap)
    assert measures.shape.fit == Fit(0.0, 1.5, 25.4)
    # The hole typed as an option replaces the barrel in the file.
    assert measures.holes == Holes(5, 9.525, 9.525, HoleSize(hole_mm=6.0))
    assert read_measures(file(tmp_path, LEG), {}, "w").name == "chap"
    assert read_measures(file(tmp_path, LEG), {"name": "boot"}, "w").name == "boot"
    with pytest.raises(InputError, match=r"^--ease: "):
        read_measures(path, {"ease": "wide"})


def test_legs(tmp_path: Path) -> None:
    plain = read_measures(file(tmp_path, LEG))
    assert plain.pairing == "mirrored"
    assert plain.right is None
    assert plain.shape == LegPanel(254.0, 355.6, 304.8, 304.8, 355.6, 1 / 3)
    both = read_measures(file(tmp_path, LEG + '[right]\ncalf = "14 1/2 in"\n'))
    assert both.pairing == "none"
    assert both.shape == plain.shape
    assert both.right == LegPanel(254.0, 368.3, 304.8, 304.8, 368.3, 1 / 3, "right")
    more = read_measures(file(tmp_path, LEG + '[right]\ncalf = "14 1/2 in"\n'), {"right": {"ankle": "11 in"}})
    assert more.right is not None
    assert (more.right.ankle_mm, more.right.calf_mm) == (279.4, 368.3)
    with_top = read_measures(file(tmp_path, LEG + 'top = "13 in"\n'))
    assert isinstance(with_top.shape, LegPanel)
    assert with_top.shape.calf_height_mm == pytest.approx(203.2)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('shape = "cone"', "cuff.toml: shape: must be 'wrap', 'leg', 'strap', 'rectangle' or 'disc'"),
        ("lower = 7", "cuff.toml: shape: is missing"),
        ('shape = "disc"', "cuff.toml: a disc needs diameter: give it with its unit"),
        ('shape = "disc"\ndiameter = 42', "cuff.toml: diameter: must be a text in quotes, not 42"),
        ('shape = "disc"\ndiameter = "42"', 'cuff.toml: diameter: "42" has no unit'),
        ('shape = "disc"\ndiamter = "42 mm"', "cuff.toml: diamter: is not a known field here; did you mean"),
        ('shape = "disc"\ndiameter = "0 mm"', "cuff.toml: diameter: .* more than zero"),
        ('shape = "disc"\ndiameter = "2 in"\ngap = "1 mm"', "cuff.toml: gap: a disc has no use for it"),
        (WRAP.replace('"1/2 in"', '"-1/2 in"'), "cuff.toml: ease: .* cannot be negative"),
        (WRAP + 'hole = "3 mm"', "cuff.toml: holes: how large is a hole\\? Give hole, or barrel"),
        (WRAP.replace("holes = 4", "holes = 4.5"), "cuff.toml: holes: must be a whole number"),
        (LEG + '[right]\ncalf = "0 in"', "cuff.toml: right.calf: .* more than zero"),
        (LEG + '[right]\nease = "1 in"', "cuff.toml: right.ease: is not a known field"),
        (LEG + 'leg = "left"\n[right]\ncalf = "15 in"', "cuff.toml: leg: .* both are drafted"),
        ('shape = "disc', "cuff.toml: is not TOML"),
        ('shape = "disc"\nshape = "leg"', "cuff.toml: is not TOML"),
    ],
)
def test_one_message(tmp_path: Path, text: str, said: str) -> None:
    path = file(tmp_path, text)
    with pytest.raises(InputError, match=said) as caught:
        read_measures(path)
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)


def test_any_file_tells_measures_from_orders(tmp_path: Path) -> None:
    path = file(tmp_path, WRAP)
    assert says_shape(path)
    assert read_any(path) == read_measures(path)
    with pytest.raises(FileFormatError, match="hides: is missing"):
        read_any(file(tmp_path, "title = 'an order'"))


def test_options_alone() -> None:
    measures = measures_from_options("disc", {"diameter": "42 mm"})
    assert (measures.name, measures.shape) == ("disc", Disc(42.0))
    with pytest.raises(InputError, match=re.escape("--holes: must be at least 1, not 0")):
        measures_from_options("disc", {"diameter": "42 mm", "holes": 0})
    with pytest.raises(InputError, match=re.escape("--right-ease: is not a known field")):
        measures_from_options("leg", {"right": {"ease": "1 in"}})


def test_the_tables_speak_of_fields() -> None:
    fields = set(MeasuresModel.model_fields)
    shapes = set(get_args(ShapeName))
    assert set(REQUIRED) == set(TAKEN) == shapes
    assert shapes == set(get_args(MeasuresModel.model_fields["shape"].annotation))
    used = set().union(*TAKEN.values(), *REQUIRED.values())
    assert used == fields
    assert set(NEEDS) | set().union(*NEEDS.values()) <= fields
    assert set(LegFields.model_fields) <= set(REQUIRED["leg"]) | TAKEN["leg"]
