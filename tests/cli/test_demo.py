"""``hidewright demo``: the whole job on the samples, every file of it sound."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cli import demo
from cli.main import app
from nesting import assert_layout_valid
from nesting.errors import InputError
from nesting.files.hide_file import read_hide
from nesting.files.layout_file import read_layout

ROOT = Path(__file__).parent.parent.parent


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Result]:
    out = tmp_path_factory.mktemp("demo") / "out"
    result = CliRunner().invoke(app, ["demo", "--out", str(out), "--rounds", "1"])
    assert result.exit_code == 0, result.output
    return out, result


def test_layouts_hold_all_that_was_asked(ran: tuple[Path, Result]) -> None:
    for order, pieces in (("half-chaps", 12), ("own-leather", 20)):
        layout = read_layout(ran[0] / order / "layout.json")
        assert_layout_valid(layout)
        assert layout.unplaced == ()
        assert sum(len(laid.placements) for laid in layout.hides) == pieces


def test_the_measured_hide_is_the_rendered_one(ran: tuple[Path, Result]) -> None:
    hide = read_hide(ran[0] / "shoulder-photo-01.hide.json")
    # The renderer wrote the truth beside the photograph; 1 % is what an area machine is allowed.
    truth = json.loads((ROOT / "sample_hides" / "shoulder-photo-01.truth.json").read_text())
    assert hide.measured is not None
    assert hide.measured.best_area_mm2 == pytest.approx(truth["area_mm2"], rel=0.01)
    assert len(hide.flaws) == len(truth["flaws"]) + len(truth["holes"])


def test_every_named_file_is_there(ran: tuple[Path, Result]) -> None:
    out, result = ran
    named = [
        word for line in result.stdout.splitlines() for word in line.split() if word.startswith(str(out))
    ]
    made = [Path(word.rstrip(".,:")) for word in named if not word.endswith(("own-leather", "half-chaps"))]
    assert len(made) > 15
    assert [path for path in made if not path.exists()] == []
    assert (out / "half-chaps" / "patterns.pdf").read_bytes().startswith(b"%PDF-")
    assert (out / "half-chaps" / "cut-r12.dxf").read_text().count("AC1009") == 1


def test_it_says_each_step_and_that_the_photograph_is_rendered(ran: tuple[Path, Result]) -> None:
    words = ran[1].stdout
    assert "rendered, not taken" in words
    commands = [line.split()[2] for line in words.splitlines() if line.startswith("   $ hidewright ")]
    assert commands == ["photo", "trace", "panel", "layout", "layout", "export", "check"]


def test_samples_of_an_installed_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    installed = tmp_path / "site" / "cli"
    (installed / "sample_hides").mkdir(parents=True)
    monkeypatch.setattr(demo, "__file__", str(installed / "demo.py"))
    with pytest.raises(InputError, match="install hidewright again"):
        demo.samples_folder()
    for name in demo.NEEDED:
        (installed / "sample_hides" / name).touch()
    assert demo.samples_folder() == installed / "sample_hides"


def test_samples_of_a_checkout() -> None:
    assert demo.samples_folder() == ROOT / "sample_hides"


def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "demo").write_text("mine")
    result = CliRunner().invoke(app, ["demo", "--out", str(tmp_path / "demo")])
    assert isinstance(result.exception, InputError)
    assert (tmp_path / "demo").read_text() == "mine"
