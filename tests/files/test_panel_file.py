"""Panel files: the contract's example and every refusal with its place and mend."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import contract_examples as examples
import pytest
from contract_examples import put

from nesting.errors import FileFormatError
from nesting.files.json_text import dump_json, parse_json
from nesting.files.panel import HiddenZone, Line, Panel, Punch, Stretch
from nesting.files.panel_file import panel_from_json, panel_to_json, read_panel, write_panel

SQUARE = [[50, 50], [60, 50], [60, 60], [50, 60]]


def read(data: dict[str, Any]) -> Panel:
    return panel_from_json(data, "x.panel.json")


def test_the_contract_example() -> None:
    panel = panel_from_json(parse_json(examples.PANEL, "x"), "x")
    assert panel == Panel(
        name="half-chap",
        outline=((0, 0, 0), (200, 0, 0), (220, 300, 0), (-10, 310, 0)),
        punches=(Punch((10, 20), 4),),
        marks=((100, 20),),
        lines=(Line("groove", ((5, 5, 0), (195, 5, 0))),),
        pairing="mirrored",
        stretch=Stretch(90, 15),
        turns_deg=None,
        accepts=("blemish",),
        hidden_zones=(
            HiddenZone(((0, 280, 0), (210, 280, 0), (210, 310, 0), (0, 310, 0)), ("weak", "blemish")),
        ),
    )


def test_an_older_file_gets_defaults() -> None:
    data = {"kind": "panel", "version": 1, "name": "old", "outline": [[0, 0], [10, 0], [0, 10]]}
    assert read(data) == Panel("old", ((0, 0, 0), (10, 0, 0), (0, 10, 0)))


def test_the_lace_of_a_piece_is_optional() -> None:
    assert read(examples.panel()).lace_mm == 0.0
    assert "lace_mm" not in panel_to_json(read(examples.panel()))
    laced = read(examples.panel() | {"lace_mm": 741.4})
    assert laced.lace_mm == 741.4
    assert read(panel_to_json(laced)) == laced
    for wrong in (0, -1, 1e300, "30 in", True):
        with pytest.raises(FileFormatError, match="lace_mm"):
            read(examples.panel() | {"lace_mm": wrong})


def test_a_centre_line_is_optional() -> None:
    assert read(examples.panel()).centre_line is None
    assert "centre_line" not in panel_to_json(read(examples.panel()))
    lined = read(examples.panel() | {"centre_line": [[100, 0], [105, 305]]})
    assert lined.centre_line == ((100, 0), (105, 305))
    assert read(panel_to_json(lined)) == lined
    for wrong in ([[0, 0]], [[0, 0], [0, 0]], [[0, 0], [0, "a"]], [[0, 0, 0], [0, 1, 0]], "up"):
        with pytest.raises(FileFormatError, match="centre_line"):
            read(examples.panel() | {"centre_line": wrong})


def test_round_trip_with_everything(tmp_path: Path) -> None:
    data = examples.panel()
    data["outline"][0] = [0, 0, 0.1234567890123]
    data["cutouts"] = [[[100, 100, 1], [110, 100, 1]], SQUARE]
    data["lines"].append({"role": "stitch", "points": [[5, 9, 0.25], [60, 9], [60, 30]]})
    data |= {"turns_deg": [0, 180], "stretch": None, "accepts": ["weak", "weak"]}
    panel = read(data)
    assert panel.outline[0] == (0, 0, 0.1234567890123)
    assert panel.accepts == ("weak",)
    write_panel(tmp_path / "p.panel.json", panel)
    assert read_panel(tmp_path / "p.panel.json") == panel
    assert panel_from_json(parse_json(dump_json(panel_to_json(panel)), "x"), "x") == panel


def test_a_punch_may_touch_the_edge() -> None:
    data = examples.panel()
    data["punches"] = [{"at": [100, 2], "diameter": 4}]
    assert len(read(data).punches) == 1


REFUSED: list[tuple[Callable[[dict[str, Any]], None], str, str]] = [
    (put("kind", "hide"), "kind", 'must be "panel"'),
    (put("version", 9), "version", "newer"),
    (put("outline", ...), "outline", "is missing"),
    (put("outline", [[0, 0], [9, 9], [9, 0], [0, 9]]), "outline", "crosses or touches itself near"),
    (put("name", " "), "name", "visible"),
    (put("pairs", 2), "pairs", "not a known field"),
    (put("pairing", "twins"), "pairing", "must be 'mirrored', 'alike' or 'none'"),
    (put("cutouts", [[[0, 0], [10, 0], [10, 10]]]), "cutouts[0]", "reaches over the outline"),
    (put("cutouts", [[[500, 0], [510, 0], [510, 10]]]), "cutouts[0]", "reaches over the outline"),
    (put("cutouts", [SQUARE, SQUARE]), "cutouts[1]", "overlaps or touches cutouts[0]; join the two"),
    (put("cutouts", [SQUARE, [[52, 52], [54, 52], [54, 54]]]), "cutouts[1]", "overlaps or touches"),
    (put("cutouts", [SQUARE, [[60, 50], [70, 50], [70, 60]]]), "cutouts[1]", "overlaps or touches"),
    (put("cutouts", [[[50, 50], [60, 60]]]), "cutouts[0]", "at least three points"),
    (put("punches.0.at", [-50, 20]), "punches[0]", "reaches over the outline; move it inside"),
    (put("punches.0.at", [100, 1.9]), "punches[0]", "the hole of 4 mm at (100, 1.9) reaches over"),
    (put("punches.0.diameter", 0), "punches[0].diameter", "must be more than 0, not 0"),
    (put("punches.0.diameter", -4), "punches[0].diameter", "must be more than 0, not -4"),
    (put("punches.0.diameter", "4"), "punches[0].diameter", "must be a number"),
    (put("punches.0.at", [1, 2, 3]), "punches[0].at", "must hold at most 2 items"),
    (put("marks.0", [1, 2]), "marks[0]", "must be an object"),
    (put("lines.0.points", [[5, 5]]), "lines[0].points", "must hold at least 2 items, not 1"),
    (put("lines.0.points", [[5, 5], [6, 5], [6, 5]]), "lines[0].points[1]", "given twice in a row"),
    (put("lines.0.role", ...), "lines[0].role", "is missing"),
    (put("stretch.tolerance_deg", -1), "stretch.tolerance_deg", "must be at least 0, not -1"),
    (put("stretch.tolerance_deg", 91), "stretch.tolerance_deg", "must be at most 90, not 91"),
    (put("stretch.angle_deg", "90"), "stretch.angle_deg", "must be a number"),
    (put("turns_deg", []), "turns_deg", "must hold at least 1 item, not 0"),
    (put("turns_deg", 90), "turns_deg", "must be a list"),
    (put("accepts", ["hole"]), "accepts[0]", "must be 'weak' or 'blemish'"),
    (put("hidden_zones.0.accepts", ["hole"]), "hidden_zones[0].accepts[0]", "must be 'weak' or 'blemish'"),
    (
        put("hidden_zones.0.outline", [[0, 400], [9, 400], [9, 410]]),
        "hidden_zones[0].outline",
        "covers no part",
    ),
    (put("hidden_zones.0.outline", [[0, 0], [9, 9], [9, 0], [0, 9]]), "hidden_zones[0].outline", "crosses"),
]


@pytest.mark.parametrize(("change", "place", "mend"), REFUSED)
def test_refused(change: Callable[[dict[str, Any]], None], place: str, mend: str) -> None:
    data = examples.panel()
    change(data)
    with pytest.raises(FileFormatError) as caught:
        read(data)
    message = str(caught.value)
    assert message.startswith(f"x.panel.json: {place}: "), message
    assert mend in message


def test_nothing_is_written_that_would_not_be_read(tmp_path: Path) -> None:
    flat = Panel("flat", ((0, 0, 0), (10, 0, 0), (20, 0, 0)))
    with pytest.raises(FileFormatError, match="no area"):
        write_panel(tmp_path / "a.panel.json", flat)
    assert list(tmp_path.iterdir()) == []
