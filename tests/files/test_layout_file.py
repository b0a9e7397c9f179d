"""Layout files: the contract's example, its growth, and every refusal with its place and mend."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import contract_examples as examples
import pytest
from contract_examples import put

from nesting.errors import FileFormatError
from nesting.files.hide_file import hide_from_json
from nesting.files.json_text import dump_json, parse_json
from nesting.files.layout import Layout, Placement, Unplaced
from nesting.files.layout_file import (
    layout_from_json,
    layout_to_json,
    read_layout,
    rounded_pose,
    write_layout,
)
from nesting.files.order import Cutting
from nesting.files.panel_file import panel_from_json
from nesting.rings import Pose


def read(data: dict[str, Any]) -> Layout:
    return layout_from_json(data, "layout.json")


def test_the_contract_example() -> None:
    layout = read(examples.layout())
    assert (layout.title, layout.seed) == ("...", 1)
    assert layout.cutting == Cutting("knife", 0, 0.5, 6, 1.5, 3)
    assert layout.panels == (panel_from_json(examples.panel(), "x"),)
    (laid,) = layout.hides
    assert laid.hide == hide_from_json(examples.hide(), "x")
    pose = Pose(True, 91.7, (412.08, 96.5))
    assert laid.placements == (Placement("half-chap-03-R", "half-chap", pose, "half-chap-03"),)
    assert layout.unplaced == (Unplaced("half-chap", 2, "no room left on any hide of 4-6 oz"),)
    assert layout.pair_within_mm == ()


def test_a_single_piece_names_no_pair() -> None:
    data = examples.layout()
    del data["hides"][0]["placements"][0]["pair"]
    assert read(data).hides[0].placements[0].pair is None


def test_round_trip(tmp_path: Path) -> None:
    data = examples.layout() | {"pair_within_mm": {"half-chap": 400.5}}
    data["hides"][0]["placements"][0]["pair"] = None
    layout = read(data)
    assert layout.pair_within_mm == (("half-chap", 400.5),)
    write_layout(tmp_path / "layout.json", layout)
    assert read_layout(tmp_path / "layout.json") == layout
    assert layout_from_json(parse_json(dump_json(layout_to_json(layout)), "x"), "x") == layout


def test_mates_are_optional_names_of_panels() -> None:
    assert "mates" not in layout_to_json(read(examples.layout()))
    panels = [examples.panel() | {"name": name, "pairing": "none"} for name in ("chap-left", "chap-right")]
    bare = {**examples.layout(), "panels": panels, "hides": [], "unplaced": []}
    layout = read(bare | {"mates": [["chap-left", "chap-right"]]})
    assert layout.mates == (("chap-left", "chap-right"),)
    assert read(layout_to_json(layout)) == layout
    for wrong in ([["chap-left"]], [["chap-left", "cuff"]], [["chap-left", "chap-right", "x"]], {"a": "b"}):
        with pytest.raises(FileFormatError, match="mates"):
            read(bare | {"mates": wrong})


def test_a_rounded_pose_is_what_the_file_holds() -> None:
    pose = Pose(True, -0.0000001, (math.pi * 100, -math.e))
    rounded = rounded_pose(pose)
    assert rounded == Pose(True, 0.0, (314.159265, -2.718282))
    assert rounded_pose(rounded) == rounded


PLACED = "hides.0.placements.0"
REFUSED: list[tuple[Callable[[dict[str, Any]], None], str, str]] = [
    (put("kind", "hide"), "kind", 'must be "layout"'),
    (put("version", 2), "version", "newer"),
    (put("title", ...), "title", "is missing"),
    (put("seed", "1"), "seed", "must be a whole number"),
    (put("author", "me"), "author", "not a known field"),
    (put("cutting.kerf_mm", ...), "cutting.kerf_mm", "is missing"),
    (put("cutting.kerf_mm", -0.1), "cutting.kerf_mm", "must be at least 0"),
    (put("cutting.gap_mm", "0.5 mm"), "cutting.gap_mm", "must be a number"),
    (put("cutting.tool", "axe"), "cutting.tool", "must be 'knife'"),
    (put("panels", ["...the panel objects..."]), "panels[0]", "must be an object"),
    (put("panels.0.outline.1.0", "1"), "panels[0].outline[1][0]", "must be a number"),
    (put("panels.0.version", 3), "panels[0].version", "newer"),
    (put("panels", []), f"{PLACED}.panel", 'there is no panel "half-chap" in panels'),
    (put("hides.0.hide", "...the hide object..."), "hides[0].hide", "must be an object"),
    (put("hides.0.hide.flaws.0.severity", 1), "hides[0].hide.flaws[0].severity", "must be 'hole'"),
    (put("hides.0.hide.kind", "panel"), "hides[0].hide.kind", 'must be "hide"'),
    (put("hides.0.placements", ...), "hides[0].placements", "is missing"),
    (put(f"{PLACED}.panel", "cuff"), f"{PLACED}.panel", 'there is no panel "cuff"'),
    (put(f"{PLACED}.mirrored", ...), f"{PLACED}.mirrored", "is missing"),
    (put(f"{PLACED}.mirrored", 1), f"{PLACED}.mirrored", "must be true or false"),
    (put(f"{PLACED}.rotation_deg", None), f"{PLACED}.rotation_deg", "must be a number, not null"),
    (put(f"{PLACED}.rotation_deg", math.nan), f"{PLACED}.rotation_deg", "finite"),
    (put(f"{PLACED}.at", [1]), f"{PLACED}.at", "must hold at least 2 items"),
    (put(f"{PLACED}.turned", 1), f"{PLACED}.turned", "not a known field"),
    (put("unplaced.0.panel", "cuff"), "unplaced[0].panel", 'there is no panel "cuff"'),
    (put("unplaced.0.pieces", 0), "unplaced[0].pieces", "must be at least 1"),
    (put("pair_within_mm", {"cuff": 400}), "pair_within_mm.cuff", 'there is no panel "cuff"'),
    (put("pair_within_mm", {"half-chap": 0}), "pair_within_mm.half-chap", "must be more than 0"),
]


@pytest.mark.parametrize(("change", "place", "mend"), REFUSED)
def test_refused(change: Callable[[dict[str, Any]], None], place: str, mend: str) -> None:
    data = examples.layout()
    change(data)
    with pytest.raises(FileFormatError) as caught:
        read(data)
    message = str(caught.value)
    where = place.replace(PLACED, "hides[0].placements[0]")
    assert message.startswith(f"layout.json: {where}: "), message
    assert mend in message


@pytest.mark.parametrize(
    ("twice", "place", "first"),
    [
        ("panels", "panels[1].name", "panels[0].name"),
        ("hides", "hides[1].hide.name", "hides[0].hide.name"),
        ("placements", "hides[0].placements[1].piece", "hides[0].placements[0].piece"),
    ],
)
def test_names_occur_once(twice: str, place: str, first: str) -> None:
    data = examples.layout()
    where = data["hides"][0] if twice == "placements" else data
    where[twice] = where[twice] * 2
    with pytest.raises(FileFormatError) as caught:
        read(data)
    assert str(caught.value).startswith(f"layout.json: {place}: the name ")
    assert f"is taken by {first}" in str(caught.value)


def test_a_piece_on_two_hides_is_one_too_many() -> None:
    data = examples.layout()
    other = examples.layout()["hides"][0]
    other["hide"]["name"] = "shoulder-08"
    data["hides"].append(other)
    with pytest.raises(
        FileFormatError, match=r'hides\[1\]\.placements\[0\]\.piece: the name "half-chap-03-R"'
    ):
        read(data)


def test_nothing_is_written_that_would_not_be_read(tmp_path: Path) -> None:
    layout = read(examples.layout())
    twice = Layout(layout.title, 1, layout.cutting, layout.panels, layout.hides * 2)
    with pytest.raises(FileFormatError, match="is taken by"):
        write_layout(tmp_path / "layout.json", twice)
    assert list(tmp_path.iterdir()) == []
