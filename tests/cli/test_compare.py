"""``hidewright compare``: each hide laid and judged alone, the best named, sets for so many pairs."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner, Result

from cli.main import app
from nesting.files.compare_file import check_compare
from nesting.files.layout_file import read_layout
from nesting.judge import assert_layout_valid

LARGE = {
    "kind": "hide", "version": 1, "name": "large", "unit": "mm", "cut": "offcut", "weight_oz": [4, 5],
    "price": {"amount": 30.0, "currency": "USD", "basis": "hide"},
    "outline": [[0, 0], [620, 0], [600, 300], [10, 290]], "straight_edges": [[[0, 0], [620, 0]]],
    "flaws": [{"kind": "brand", "severity": "weak", "outline": [[300, 100], [340, 100], [320, 140]]}],
}  # fmt: skip
SMALL = LARGE | {
    "name": "small", "price": {"amount": 8.0, "currency": "USD", "basis": "hide"}, "flaws": [],
    "outline": [[0, 0], [330, 0], [330, 190], [0, 190]], "straight_edges": [],
}  # fmt: skip
THICK = SMALL | {"name": "thick", "weight_oz": [8, 9]}
PANEL = {
    "kind": "panel", "version": 1, "name": "cuff", "unit": "mm", "pairing": "mirrored",
    "outline": [[0, 0], [150, 0], [140, 80], [10, 80]],
}  # fmt: skip
ORDER = """\
hides = ["*.hide.json"]
[[pieces]]
panel = "cuff.panel.json"
pairs = 3
weight_oz = "4-5 oz"
[costs]
remnant_credit = 0.5
"""


@pytest.fixture
def order(tmp_path: Path) -> Path:
    for hide in (LARGE, SMALL, THICK):
        write(tmp_path / f"{hide['name']}.hide.json", hide)
    write(tmp_path / "cuff.panel.json", PANEL)
    (tmp_path / "cuffs.toml").write_text(ORDER)
    return tmp_path / "cuffs.toml"


def write(path: Path, data: dict[str, Any]) -> None:
    path.write_text(json.dumps(data))


def compare(order: Path, *words: str | Path) -> Result:
    out = order.parent / "out"
    bound = () if "--rounds" in words else ("--rounds", "1")
    return CliRunner().invoke(app, ["compare", str(order), "--out", str(out), *map(str, words), *bound])


def entries(order: Path) -> dict[str, dict[str, Any]]:
    data = json.loads((order.parent / "out" / "compare.json").read_text())
    check_compare(data, "compare.json")
    return {entry["hide"]: entry for entry in data["entries"]}


def test_every_hide_of_the_order(order: Path) -> None:
    result = compare(order, "--json")
    assert result.exit_code == 0, result.stderr
    out = order.parent / "out"
    assert sorted(path.name for path in out.iterdir()) == ["compare.json", "compare.png", "large", "small"]
    assert (out / "compare.png").read_bytes().startswith(b"\x89PNG")
    data = json.loads((out / "compare.json").read_text())
    assert json.loads(result.stdout) == data
    found = entries(order)
    assert set(found) == {"large", "small", "thick"}
    large, small = found["large"]["outcomes"][0], found["small"]["outcomes"][0]
    # Six pieces of 90 by 150 mm; the small hide holds no more than four (2 x 80 mm high, 2 x 150 mm wide).
    assert (large["pieces"], large["missing"], found["large"]["whole"]) == (6, 0, True)
    assert small["pieces"] + small["missing"] == 6
    assert not found["small"]["whole"]
    # (150 + 130) / 2 × 80 mm² a piece.
    assert large["areas_mm2"]["pieces"] == pytest.approx(6 * 11_200)
    (best,) = data["best"]
    assert (best["hide"], best["panels"]) == ("large", ["cuff"])
    assert "it alone holds all that is asked for" in best["reason"]
    assert f"best: large: {best['reason']}" in result.stderr


def test_cost_of_leather_is_price_less_credit(order: Path) -> None:
    assert compare(order).exit_code == 0
    outcome = entries(order)["large"]["outcomes"][0]
    areas = outcome["areas_mm2"]
    credit = 0.5 * 30.0 * areas["remnant"] / areas["hide"]
    assert outcome["leather"] == pytest.approx(30.0 - credit, abs=0.0051)
    assert outcome["leather_per_unit"] == pytest.approx(outcome["leather"] / 3, abs=0.0051)
    (panel,) = outcome["panels"]
    assert panel["cost_per_pair"]["leather"] == outcome["leather_per_unit"]


def test_a_hide_outside_the_weights_is_shown_and_never_best(order: Path) -> None:
    result = compare(order, order.parent / "thick.hide.json")
    assert result.exit_code == 0
    (thick,) = entries(order).values()
    assert thick["outcomes"][0]["pieces"] > 0
    assert thick["outside_weight"] == "outside the 4-5 oz (1.6-2.0 mm) asked for"
    assert "8-9 oz (3.2-3.6 mm), offcut: outside the 4-5 oz (1.6-2.0 mm) asked for" in result.stderr
    assert "best: none: no hide is of the weight that the order asks for" in result.stderr


def test_what_was_compared_can_be_cut(order: Path) -> None:
    """The layouts of hides at hand are kept: those that the figures speak of, to be exported and entered."""
    assert compare(order).exit_code == 0
    out, found = order.parent / "out", entries(order)
    named = {hide: entry["layout"] for hide, entry in found.items()}
    # The thick one is outside the order's weights: shown, but not to be cut for it.
    assert named == {"large": "large/layout.json", "small": "small/layout.json", "thick": None}
    for hide in ("large", "small"):
        layout = read_layout(out / named[hide])
        assert_layout_valid(layout)
        assert [laid.hide.name for laid in layout.hides] == [hide]
        (outcome,) = found[hide]["outcomes"]
        assert len(layout.hides[0].placements) == outcome["pieces"]
        report = json.loads((out / hide / "report.json").read_text())
        assert report["areas_mm2"] == outcome["areas_mm2"]
    dxf = order.parent / "cut.dxf"
    result = CliRunner().invoke(app, ["export", str(out / "large/layout.json"), "--dxf", str(dxf)])
    assert (result.exit_code, dxf.is_file()) == (0, True)


def test_layouts_of_several_panels_and_odd_names(order: Path) -> None:
    write(order.parent / "large.hide.json", LARGE | {"name": "a/b"})
    write(order.parent / "small.hide.json", SMALL | {"name": "Compare.json"})
    write(order.parent / "tag.panel.json", PANEL | {"name": "tag", "pairing": "none"})
    more = '[[pieces]]\npanel = "tag.panel.json"\npieces = 1\nweight_oz = "4-5 oz"\n'
    order.write_text(ORDER.replace("[costs]", more + "[costs]"))
    assert compare(order).exit_code == 0
    kept = {hide: entry["layout"] for hide, entry in entries(order).items()}
    assert kept == {"a/b": "a_b/layout.json", "Compare.json": "Compare.json-2/layout.json", "thick": None}
    assert compare(order, "--fill").exit_code == 0
    data = json.loads((order.parent / "out" / "compare.json").read_text())
    layouts = [entry["layout"] for entry in data["entries"] if entry["hide"] == "a/b"]
    assert sorted(layouts) == ["a_b/cuff/layout.json", "a_b/tag/layout.json"]
    for name in layouts:
        (laid,) = read_layout(order.parent / "out" / name).hides
        assert {placement.panel for placement in laid.placements} == {Path(name).parts[1]}


def test_named_hides_instead_of_the_orders(order: Path) -> None:
    order.write_text(ORDER.replace("*.hide.json", "gone-*.hide.json"))
    assert compare(order).exit_code == 1
    assert compare(order, order.parent / "small.hide.json").exit_code == 0
    assert set(entries(order)) == {"small"}


def test_same_rounds_same_bytes(order: Path) -> None:
    out = order.parent / "out"
    words = (order.parent / "small.hide.json", "--seed", "3", "--pairs", "1..3")
    first, second = [
        {path.name: path.read_bytes() for path in out.rglob("*") if path.is_file()}
        for _ in range(2)
        if compare(order, *words).exit_code == 0
    ]
    assert first == second
    assert sorted(first) == ["compare.json", "compare.png", "layout.json", "pairs.png", "report.json"]


def test_sets_for_so_many_pairs(order: Path) -> None:
    result = compare(order, "--pairs", "1..9")
    assert result.exit_code == 0, result.stderr
    data = json.loads((order.parent / "out" / "compare.json").read_text())
    assert data["amount"] == "as many as fit"
    held = {e["hide"]: e["outcomes"][0]["pieces"] // 2 for e in data["entries"]}
    sets = data["pairs"]["sets"]
    assert [one["for"] for one in sets] == list(range(1, 10))
    assert held["large"] > held["small"] >= 1
    for one in sets:
        names = [hide["hide"] for hide in one["hides"] or []]
        pairs = one["for"]
        # 8 USD and 30 USD; the thick one is outside the weights.
        if pairs <= held["small"]:
            assert names == ["small"]
        elif pairs <= held["large"]:
            assert names == ["large"]
        elif pairs <= held["small"] + held["large"]:
            assert sorted(names) == ["large", "small"]
            assert (one["price"], one["holds"]) == (38.0, held["small"] + held["large"])
        else:
            assert one["hides"] is None
    assert held["small"] + held["large"] < 9
    assert "more than these hides hold" in result.stderr


def test_a_hide_not_yet_bought_comes_with_a_range(order: Path) -> None:
    write(order.parent / "cuff.panel.json", PANEL | {"outline": [[0, 0], [330, 0], [330, 210], [0, 210]]})
    order.write_text(ORDER.replace('"*.hide.json"', "").replace("pairs = 3", "pairs = 20"))
    words = ("--cut", "Belly", "--area", "4 1/4 ft2", "--price", "6 USD/ft2")
    result = compare(order, *words)
    assert result.exit_code == 0, result.stderr
    (entry,) = entries(order).values()
    assert (entry["hide"], entry["typical"]) == ("typical belly 4.25 ft²", True)
    assert entry["weight_oz"] == [4, 5]
    # 4.25 × 6.00.
    assert entry["price"] == {"amount": 25.5, "currency": "USD", "basis": "hide"}
    assert [outcome["flaws"] for outcome in entry["outcomes"]] == ["few flaws", "usual flaws", "many flaws"]
    pieces = [outcome["pieces"] for outcome in entry["outcomes"]]
    assert pieces[0] > pieces[2]
    assert f"{min(pieces)}-{max(pieces)}" in result.stderr
    assert "typical hides are none that anyone measured" in result.stderr


def test_an_order_of_several_panels(order: Path) -> None:
    write(order.parent / "tag.panel.json", PANEL | {"name": "tag", "pairing": "none"})
    more = '[[pieces]]\npanel = "tag.panel.json"\npieces = 1\nweight_oz = "4-9 oz"\n'
    order.write_text(ORDER.replace("[costs]", more + "[costs]"))
    result = compare(order, "--pairs", "3")
    assert result.exit_code == 2
    assert "--panel NAME, one of cuff, tag" in result.stderr
    assert compare(order).exit_code == 0
    found = entries(order)
    assert (found["thick"]["panels"], found["thick"]["left_out"]) == (["tag"], ["cuff"])
    assert found["large"]["panels"] == ["cuff", "tag"]
    assert compare(order, "--panel", "tag", "--pairs", "3").exit_code == 0
    assert entries(order)["small"]["outcomes"][0]["pieces"] > 1


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("--seconds", "1", "--rounds", "1"), 2, "not both"),
        (("--pairs", "0..3"), 2, "write a number or a range"),
        (("--pairs", "5..3"), 2, "write a number or a range"),
        (("--area", "7 1/4 ft2"), 2, "say which cut"),
        (("--cut", "bend", "--area", "9 ft2", "--area", "8 ft2"), 2, "once for all, or once a cut"),
        (("--cut", "saddle"), 1, '--cut: "saddle" is no cut with a typical outline'),
        (("--cut", "bend", "--area", "0 ft2"), 1, "--area: "),
        (("--cut", "bend", "--price", "9 EUR/ft2"), 1, "prices in EUR and USD cannot be added up"),
        (("--cut", "bend", "--cut", "bend"), 1, '"typical bend 9.50 ft²" is there twice'),
        (("--panel", "boot"), 1, 'has no panel "boot"; it has cuff'),
    ],
)
def test_what_is_refused(order: Path, words: tuple[str, ...], status: int, said: str) -> None:
    result = compare(order, *words)
    assert result.exit_code == status
    told = str(result.exception) if status == 1 else result.stderr.replace("\n", " ")
    assert said in " ".join(told.replace("│", " ").split())
    assert not (order.parent / "out").exists()


def test_nothing_fits_anywhere(order: Path) -> None:
    write(order.parent / "cuff.panel.json", PANEL | {"outline": [[0, 0], [900, 0], [900, 80], [0, 80]]})
    result = compare(order)
    assert result.exit_code == 1
    assert 'nothing can be laid: panel "cuff" (900 x 80 mm) found no room' in str(result.exception)
    assert not (order.parent / "out").exists()


def test_every_layout_goes_through_the_judge(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A search gone wrong writes nothing: a piece moved off the hide is caught."""
    from nesting.compare import laying
    from nesting.files.layout import Layout

    sound = laying._best

    def spoilt(*arguments: object) -> Layout:
        layout = sound(*arguments)  # type: ignore[arg-type]
        laid = layout.hides[0]
        one, *rest = laid.placements
        off = replace(one, pose=replace(one.pose, at=(5000.0, 0.0)))
        return replace(layout, hides=(replace(laid, placements=(off, *rest)),))

    monkeypatch.setattr(laying, "_best", spoilt)
    result = compare(order)
    assert type(result.exception).__name__ == "InvalidLayout"
    assert not (order.parent / "out").exists()


def test_check_knows_the_file(order: Path) -> None:
    assert compare(order, order.parent / "small.hide.json").exit_code == 0
    file = order.parent / "out" / "compare.json"
    result = CliRunner().invoke(app, ["check", str(file)])
    assert result.exit_code == 0
    assert result.stdout == f'ok  {file}: comparison "cuffs": 1 hide; its areas and yields add up\n'
    data = json.loads(file.read_text())
    data["entries"][0]["outcomes"][0]["yield"]["of_hide"] += 0.01
    write(file, data)
    assert CliRunner().invoke(app, ["check", str(file)]).exit_code == 1
