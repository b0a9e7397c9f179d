"""Dimensioned pictures: PNG and SVG from one record, every figure on them, words clear of one another."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ET
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib.image
import pytest
from shapely import Polygon, affinity, box

from nesting.drafting import Draft, draft
from nesting.drafting.dimensions import Label, View, leaders
from nesting.drafting.picture import picture, sketched
from nesting.drafting.sketch import Area, Words
from nesting.errors import InputError
from nesting.files.measures_file import measures_from_options
from nesting.output.pen import text_width
from nesting.rings import Pose, area

WRAP: dict[str, Any] = {
    "lower": "7 in", "upper": "8 in", "height": "4 1/2 in", "ease": "1/2 in", "holes": 4, "barrel": "3/16 in",
    "groove": "1/8 in", "marks_top": 5, "marks_bottom": 5, "spread_top": "1 1/4 in",
    "spread_bottom": "1 1/8 in", "radius": "15 mm", "lace": "1/8 in",
    "stretch": {"angle_deg": 90, "tolerance_deg": 15},
}  # fmt: skip
LEG: dict[str, Any] = {
    "ankle": "10 in", "calf": "14 in", "top": "13 in", "height": "13 in", "calf_height": "9 in",
    "worn": "1 mm", "holes": 9, "hole": "4 mm", "groove": "1/8 in", "radius": "15 mm", "gap": "3/4 in",
    "marks_top": 3, "stretch": {"angle_deg": 90, "tolerance_deg": 15},
}  # fmt: skip
STRAP: dict[str, Any] = {
    "length": "22 in", "width": "1 in", "tip": "pointed", "radius": "2 mm", "buckle_holes": 5,
    "buckle_spacing": "1 in", "buckle_start": "3 in", "hole": "5 mm", "groove": "1/8 in", "marks_bottom": 2,
    "mark_inset": "1 1/2 in", "spread_bottom": "1/2 in",
}  # fmt: skip
DISC: dict[str, Any] = {"diameter": "42 mm", "holes": 6, "hole": "4 mm", "groove": "2 mm"}
RECTANGLE: dict[str, Any] = {"width": "8 in", "height": "3 in", "holes": 3, "hole": "4 mm", "marks_bottom": 4}
CASES = [("wrap", WRAP), ("leg", LEG), ("strap", STRAP), ("disc", DISC), ("rectangle", RECTANGLE)]


def one(shape: str, options: dict[str, Any]) -> Draft:
    return draft(measures_from_options(shape, options))[0]


def words(drafted: Draft) -> list[str]:
    return [item.text for item in sketched(drafted).items if isinstance(item, Words)]


def room(item: Words) -> Polygon:
    """What a line of text covers, px."""
    x, y = item.at
    wide = text_width(item.text, item.size, "bold" if item.bold else "normal")
    if item.align == "center":
        return affinity.rotate(
            box(x - wide / 2, y - 0.36 * item.size, x + wide / 2, y + 0.36 * item.size), item.turn_deg
        )
    return box(x, y, x + wide, y + 0.72 * item.size)


@pytest.mark.parametrize(("shape", "options"), CASES)
def test_words_lie_on_the_sheet_and_clear_of_one_another(shape: str, options: dict[str, Any]) -> None:
    sketch = sketched(one(shape, options))
    texts = [item for item in sketch.items if isinstance(item, Words) and item.text]
    sheet = box(0, 0, sketch.width, sketch.height)
    assert [item.text for item in texts if not sheet.contains(room(item))] == []
    for i, item in enumerate(texts):
        for other in texts[i + 1 :]:
            assert not room(item).intersects(room(other)), (item.text, other.text)


@pytest.mark.parametrize(("shape", "options"), CASES)
def test_the_panel_is_drawn_to_one_scale(shape: str, options: dict[str, Any]) -> None:
    drafted = one(shape, options)
    rings = [item.ring for item in sketched(drafted).items if isinstance(item, Area)]
    outline = max(rings, key=area)
    scale = math.sqrt(area(outline) / area(drafted.panel.outline))
    assert 1.0 < scale <= 12.0
    holes = [area(ring) for ring in rings if len(ring) == 2]
    size = drafted.panel.punches[0].diameter
    drawn = sum(math.isclose(hole, math.pi * (scale * size / 2) ** 2, rel_tol=1e-6) for hole in holes)
    assert drawn == len(drafted.panel.punches)


def test_the_figures_of_a_wrap() -> None:
    said = words(one("wrap", WRAP))
    for dimension in (
        "215.9 mm (8 1/2 in)", "190.5 mm (7 1/2 in)", "114.3 mm (4 1/2 in)", "3 × 31.8 mm (1 1/4 in)",
        "4 × 31.8 mm (1 1/4 in)", "4 × 28.6 mm (1 1/8 in)", "9.5 mm (3/8 in) from the side",
        "15 mm (19/32 in)", "3.2 mm (1/8 in) from the edge", "along the backbone ± 15°",
    ):  # fmt: skip
        assert dimension in said
    assert "Lower edge: 177.8 mm (7 in) around + 12.7 mm (1/2 in) of ease = 190.5 mm (7 1/2 in)" in said
    assert any(line.startswith("Lace of 3.2 mm (1/8 in): 750.2 mm (≈ 29 9/16 in) long") for line in said)
    assert any("certifies nothing" in line for line in said)


def test_the_figures_of_a_leg() -> None:
    said = words(one("leg", LEG | {"worn": "0 mm", "gap": "0 mm"}))
    for dimension in ("355.6 mm (14 in)", "330.2 mm (13 in)"):
        assert any(dimension in line for line in said)
    # The halves at the calf: 5 in, and a third and two thirds of 4 in (geometry).
    assert "160.9 mm (≈ 6 5/16 in)" in said or "160.9 mm (6 5/16 in)" in said
    assert any(line.startswith("194.7 mm") for line in said)
    assert {"front", "back"} <= set(said)
    assert not {"front", "back"} & set(words(one("leg", LEG | {"front": 0.5})))


def test_what_is_worn_underneath_is_told() -> None:
    said = words(one("leg", LEG))
    assert any(
        "+ 6.3 mm (1/4 in) for 1 mm worn underneath − 19.1 mm (3/4 in) left open" in line for line in said
    )


@pytest.mark.parametrize(("shape", "options"), CASES)
def test_png_and_svg(shape: str, options: dict[str, Any]) -> None:
    drafted = one(shape, options)
    sketch = sketched(drafted)
    png, svg = picture(drafted, Path("p.png")), picture(drafted, Path("P.SVG"))
    assert isinstance(png, bytes)
    assert isinstance(svg, str)
    pixels = matplotlib.image.imread(io.BytesIO(png), format="png")
    assert pixels.shape[:2] == (sketch.height, sketch.width)
    root = ET.fromstring(svg)
    texts = ["".join(element.itertext()) for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert texts == words(drafted)
    assert svg.count(" A ") >= 2 * len(drafted.panel.punches)
    assert (png, svg) == (picture(drafted, Path("q.png")), picture(drafted, Path("q.svg")))


@pytest.mark.parametrize("at", [-500.0, 100.0, 500.0])
def test_labels_keep_to_their_column(at: float) -> None:
    labels = [
        Label((0.0, at), ("one", "more")),
        Label((0.0, at), ("two", "more")),
        Label((0.0, at), ("three",)),
    ]
    items = leaders(View(Pose(False, 0.0, (0.0, 0.0)), 1.0, (0.0, 0.0)), labels, 300.0, (0.0, 200.0))
    texts = [item for item in items if isinstance(item, Words)]
    assert [item.text for item in texts] == ["one", "more", "two", "more", "three"]
    heights = [item.at[1] for item in texts]
    assert all(upper - lower >= 21.0 for upper, lower in pairwise(heights))
    assert heights[0] < 200.0
    assert heights[-1] > 0.0


def test_another_ending() -> None:
    with pytest.raises(InputError, match=r"p\.jpg: a picture is drawn as PNG or SVG"):
        picture(one("disc", DISC), Path("p.jpg"))
