"""Hide files: the contract's example, what older files lack, and every refusal with its place and mend."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import contract_examples as examples
import pytest
import shapely
from contract_examples import put
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import FileFormatError, InputError
from nesting.files.hide import Flaw, Hide, Measured, Price
from nesting.files.hide_file import hide_from_json, hide_to_json, read_hide, write_hide
from nesting.files.json_text import dump_json, parse_json
from nesting.rings import Ring, area, flatten

MEASURED = {
    "best_area_mm2": 652_000.0, "inside_area_mm2": 648_000.0, "area_u_mm2": 3_100.0, "px_per_mm": 2.7,
    "k1": -3.1e-9, "residual_px": 0.21, "holdout_area_pct": -0.12, "thickness_mm": 1.8, "undecided_mm": 0.6,
    "image_sha256": "0f" * 32,
}  # fmt: skip


VIEW = {
    "homography": [[1e-3, 0.0, -0.5], [0.0, -1e-3, 0.4], [1e-5, 0.0, 1.0]],
    "lens": "brown",
    "size": [1800, 1352],
}


def read(data: dict[str, Any]) -> Hide:
    return hide_from_json(data, "x.hide.json")


def test_the_contract_example() -> None:
    hide = hide_from_json(parse_json(examples.HIDE, "x"), "x")
    assert hide.name == "shoulder-07"
    assert hide.cut == "single shoulder"
    assert hide.weight_oz == (4, 5)
    assert hide.tannage == "vegetable"
    assert hide.price == Price(Decimal("62"), "USD", "hide")
    assert hide.outline == ((0, 0, 0), (1100, 0, 0), (1130, 420, 0), (20, 640, 0))
    assert hide.straight_edges == (((0, 0), (1100, 0)),)
    assert hide.flaws == (Flaw("brand", "weak", ((300, 200, 0), (340, 210, 0), (330, 250, 0))),)
    assert hide.spine == ((0, 0), (0, 1))
    assert hide.measured is None


def test_an_older_file_gets_defaults() -> None:
    hide = read({"kind": "hide", "version": 1, "name": "old", "outline": [[0, 0], [10, 0], [0, 10]]})
    assert hide == Hide("old", ((0, 0, 0), (10, 0, 0), (0, 10, 0)))


def test_the_view_of_the_photograph_is_kept(tmp_path: Path) -> None:
    data = parse_json(examples.HIDE, "x")
    hide = read({**data, "measured": {**MEASURED, "view": VIEW}})
    assert hide.measured is not None
    assert hide.measured.view is not None
    assert hide.measured.view.homography[2] == (1e-5, 0.0, 1.0)
    assert hide.measured.view.size == (1800, 1352)
    write_hide(tmp_path / "a.hide.json", hide)
    assert read_hide(tmp_path / "a.hide.json") == hide


@pytest.mark.parametrize(
    "change",
    [{"homography": [[1, 0, 0], [2, 0, 0], [0, 0, 1]]}, {"homography": [[1, 0], [0, 1]]}, {"lens": "fish"},
     {"size": [0, 9]}, {"size": [1.5, 9]}, {"more": 1}],
)  # fmt: skip
def test_what_is_no_view(change: dict[str, Any]) -> None:
    data = {**parse_json(examples.HIDE, "x"), "measured": {**MEASURED, "view": {**VIEW, **change}}}
    with pytest.raises(FileFormatError, match=r"measured\.view"):
        read(data)


def test_two_arcs_make_a_circle() -> None:
    hide = read({"kind": "hide", "version": 1, "name": "round", "outline": [[-50, 0, 1], [50, 0, 1]]})
    assert area(hide.outline) == pytest.approx(math.pi * 2500)


def test_either_turn_and_points_kept() -> None:
    data = examples.hide()
    data["outline"].reverse()
    assert read(data).outline == ((20, 640, 0), (1130, 420, 0), (1100, 0, 0), (0, 0, 0))


def test_a_flaw_may_stick_out() -> None:
    data = examples.hide()
    data["flaws"][0]["outline"] = [[-50, 100], [50, 100], [50, 200], [-50, 200]]
    assert len(read(data).flaws) == 1


def test_a_straight_edge_may_stray_a_millimetre() -> None:
    data = examples.hide()
    data["straight_edges"] = [[[100, 0.9], [1000, -0.9]], [[1100, 0], [1130, 420]]]
    assert len(read(data).straight_edges) == 2


def test_measured_is_kept_to_the_last_digit() -> None:
    data = examples.hide() | {"measured": MEASURED}
    hide = read(data)
    assert hide.measured == Measured(**MEASURED)
    assert read(json.loads(dump_json(hide_to_json(hide)))) == hide


def test_where_it_lay_over_the_mats_lines() -> None:
    """Written where it is known only: a hide measured before stays word for word what it was."""
    measured = MEASURED | {"mat_pitch_mm": [25.4, 25.3], "mat_offset_mm": [-102.5, 7.25]}
    hide = read(examples.hide() | {"measured": measured})
    assert hide.measured is not None
    assert (hide.measured.mat_pitch_mm, hide.measured.mat_offset_mm) == ((25.4, 25.3), (-102.5, 7.25))
    assert json.loads(dump_json(hide_to_json(hide)))["measured"] == measured
    plain = read(examples.hide() | {"measured": MEASURED})
    assert json.loads(dump_json(hide_to_json(plain)))["measured"] == MEASURED


REFUSED: list[tuple[Callable[[dict[str, Any]], None], str, str]] = [
    (put("kind", ...), "kind", "is missing"),
    (put("kind", "panel"), "kind", 'must be "hide"'),
    (put("version", ...), "version", "is missing"),
    (put("version", 2), "version", "newer than this program knows"),
    (put("version", 0), "version", "whole number 1"),
    (put("version", "1"), "version", "whole number 1"),
    (put("version", True), "version", "whole number 1"),
    (put("version", 1.0), "version", "whole number 1"),
    (put("name", ...), "name", "is missing; add it"),
    (put("name", 7), "name", "must be a text in quotes, not 7"),
    (put("name", ""), "name", "at least one visible character"),
    (put("name", "a\nb"), "name", "on one line"),
    (put("cut", "single\ud800"), "cut", "printable characters"),
    (put("cut", "single\n"), "cut", "printable characters"),
    (put("cut\a", 1), "cut?", "not a known field"),
    (put("colour", "tan"), "colour", "not a known field here; remove it"),
    (put("tanage", "chrome"), "tanage", 'did you mean "tannage"'),
    (put("price.curency", "USD"), "price.curency", "not a known field"),
    (put("unit", "in"), "unit", "must be 'mm'"),
    (put("tannage", "brain"), "tannage", "must be 'vegetable', 'chrome', 'other' or 'unknown'"),
    (put("weight_oz", "4-5 oz"), "weight_oz", "must be a list in [ ]"),
    (put("weight_oz", [4]), "weight_oz", "must hold at least 2 items, not 1"),
    (put("weight_oz", [4, 5, 6]), "weight_oz", "must hold at most 2 items, not 3"),
    (put("weight_oz", [5, 4]), "weight_oz", "the thinner comes first"),
    (put("weight_oz", [0, 4]), "weight_oz[0]", "must be more than 0, not 0"),
    (put("price.amount", 1e300), "price.amount", "must be at most 1e+09, not 1e+300"),
    (put("price.amount", -1), "price.amount", "must be at least 0, not -1"),
    (put("price.amount", "62"), "price.amount", "must be a number"),
    (put("price.basis", "foot"), "price.basis", "must be 'hide', 'ft2', 'dm2' or 'm2'"),
    (put("price.currency", ...), "price.currency", "is missing"),
    (put("outline", ...), "outline", "is missing"),
    (put("outline", []), "outline", "at least three points"),
    (put("outline", [[0, 0], [10, 0]]), "outline", "at least three points"),
    (put("outline", [[0, 0, 1]]), "outline", "at least three points"),
    (put("outline.1", [1100]), "outline[1]", "must hold at least 2 items"),
    (put("outline.1", [1100, 0, 0, 0]), "outline[1]", "must hold at most 3 items"),
    (put("outline.1", {"x": 1}), "outline[1]", "must be a list"),
    (put("outline.1.0", "1100"), "outline[1][0]", 'must be a number, not the text "1100"'),
    (put("outline.1.0", True), "outline[1][0]", "must be a number, not true"),
    (put("outline.1.0", None), "outline[1][0]", "must be a number, not null"),
    (put("outline.1.0", math.nan), "outline[1][0]", "finite"),
    (put("outline.1.0", math.inf), "outline[1][0]", "finite"),
    (put("outline.1.0", 2e6), "outline[1][0]", "must be at most 1e+06"),
    (put("outline.1.0", 10**400), "outline[1][0]", "must be a number"),
    (put("outline", [[0, 0], [10, 0], [10, 0], [0, 10]]), "outline[1]", "given twice; drop one"),
    (
        put("outline", [[0, 0], [10, 0], [0, 10], [0, 0]]),
        "outline[3]",
        "repeats the first: rings are not closed",
    ),
    (put("outline", [[0, 0], [10, 0], [20, 0]]), "outline", "encloses no area"),
    (put("outline", [[0, 0, 1e-9], [10, 0, 1e-9]]), "outline", "encloses no area"),
    (put("outline", [[0, 0], [1e-4, 0], [0, 1e-4]]), "outline", "encloses no area"),
    (put("outline", [[0, 0, 1], [10, 0, -1]]), "outline", "crosses or touches itself"),
    (
        put("outline", [[0, 0], [10, 10], [10, 0], [0, 10]]),
        "outline",
        "crosses or touches itself near (5, 5)",
    ),
    (put("outline", [[0, 0, -0.9], [10, 0], [5, 6]]), "outline", "crosses or touches itself"),
    (put("outline", [[0, 0, 1e7], [10, 0], [5, -4]]), "outline[0][2]", "must be at most"),
    (put("outline", [[0, 0, 1e5], [1000, 0], [5, -4]]), "outline", "farther than a kilometre"),
    (put("flaws.0.severity", "bad"), "flaws[0].severity", "must be 'hole', 'weak' or 'blemish'"),
    (put("flaws.0.outline", [[0, 0], [1, 1]]), "flaws[0].outline", "at least three points"),
    (
        put("flaws.0.outline", [[2000, 0], [2100, 0], [2100, 50]]),
        "flaws[0].outline",
        'the flaw "brand" lies outside',
    ),
    (put("flaws.0.outline", [[0, -9], [9, -9], [9, 0], [0, 0]]), "flaws[0].outline", "lies outside the hide"),
    (put("flaws.0.kind", ...), "flaws[0].kind", "is missing"),
    (put("straight_edges.0", [[0, 50], [1100, 50]]), "straight_edges[0]", "does not lie along the outline"),
    (put("straight_edges.0", [[0, 1.1], [1100, 1.1]]), "straight_edges[0]", "does not lie along the outline"),
    (put("straight_edges.0", [[0, 0], [1130, 420]]), "straight_edges[0]", "does not lie along the outline"),
    (put("straight_edges.0", [[0, 0], [1120, 0]]), "straight_edges[0]", "does not lie along the outline"),
    (put("straight_edges.0", [[0, 0], [0, 0]]), "straight_edges[0]", "has no length"),
    (put("straight_edges.0", [[0, 0]]), "straight_edges[0]", "must hold at least 2 items"),
    (put("spine", [[1, 1], [1, 1]]), "spine", "has no length"),
    (put("spine", [[1, 1, 1], [1, 2]]), "spine[0]", "must hold at most 2 items"),
    (put("measured", {}), "measured.best_area_mm2", "is missing"),
    (put("measured", MEASURED | {"best_area_mm2": -1}), "measured.best_area_mm2", "must be more than 0"),
    (put("measured", MEASURED | {"mat_pitch_mm": [25.4, 25.4]}), "measured.mat_offset_mm", "go together"),
    (put("measured", MEASURED | {"mat_offset_mm": [1, 1]}), "measured.mat_pitch_mm", "go together"),
    (
        put("measured", MEASURED | {"mat_pitch_mm": [25.4, 0], "mat_offset_mm": [1, 1]}),
        "measured.mat_pitch_mm[1]",
        "must be more than 0",
    ),
    (put("ancestry", [""]), "ancestry[0]", "at least one visible character"),
]


@pytest.mark.parametrize(("change", "place", "mend"), REFUSED)
def test_refused(change: Callable[[dict[str, Any]], None], place: str, mend: str) -> None:
    data = examples.hide()
    change(data)
    with pytest.raises(FileFormatError) as caught:
        read(data)
    message = str(caught.value)
    assert message.startswith(f"x.hide.json: {place}: "), message
    assert mend in message
    assert len(message.splitlines()) == 1


def test_an_object_is_asked_for() -> None:
    with pytest.raises(FileFormatError, match="must be a hide object"):
        hide_from_json("...the hide object...", "x")  # type: ignore[arg-type]


def test_files_are_read_and_written_whole(tmp_path: Path) -> None:
    hide = read(examples.hide())
    path = tmp_path / "a.hide.json"
    write_hide(path, hide)
    assert read_hide(path) == hide
    assert path.read_text().startswith('{\n  "kind": "hide",\n  "version": 1,\n')
    with pytest.raises(InputError, match="there is no such file"):
        read_hide(tmp_path / "b.hide.json")


def test_nothing_is_written_that_would_not_be_read(tmp_path: Path) -> None:
    crossed = Hide("crossed", ((0, 0, 0), (10, 10, 0), (10, 0, 0), (0, 10, 0)))
    with pytest.raises(FileFormatError, match="crosses"):
        write_hide(tmp_path / "a.hide.json", crossed)
    assert list(tmp_path.iterdir()) == []


micrometres = st.integers(-2_000_000_000, 2_000_000_000).map(lambda n: round(n * 1e-6, 6))
bulges = st.one_of(st.just(0.0), st.floats(-0.2, 0.2))


@st.composite
def rings(draw: st.DrawFn) -> Ring:
    """A star about a point, arcs included: mostly simple, never with a repeated point."""
    x, y = draw(micrometres), draw(micrometres)
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(20, 900), min_size=count, max_size=count))
    return tuple(
        (
            round(x + r * math.cos(2 * math.pi * k / count), 6) + 0.0,
            round(y + r * math.sin(2 * math.pi * k / count), 6) + 0.0,
            draw(bulges),
        )
        for k, r in enumerate(radii)
    )


@given(rings(), st.sampled_from(["vegetable", "chrome", "unknown"]), st.decimals(0, 9999, places=2))
def test_round_trip(ring: Ring, tannage: Any, amount: Decimal) -> None:
    """Every simple ring comes back to the last digit; the others are refused. Simple by shapely."""
    hide = Hide(
        "h", ring, tannage=tannage, price=Price(amount, "EUR", "m2"), flaws=(Flaw("scar", "weak", ring),)
    )
    text = dump_json(hide_to_json(hide))
    if shapely.Polygon(flatten(ring)).is_valid:
        again = hide_from_json(parse_json(text, "x"), "x")
        assert again == hide
        assert dump_json(hide_to_json(again)) == text
    else:
        with pytest.raises(FileFormatError, match="outline"):
            hide_from_json(parse_json(text, "x"), "x")
