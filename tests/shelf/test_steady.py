"""Hides read from a shelf that is being changed, or whose last change was broken off: before or after."""

from __future__ import annotations

import json
import os
import pkgutil
import threading
from pathlib import Path
from typing import Any

import pytest
from shelf_bench import DAY, PANEL, hide, make_shelf, one_cut, state
from typer.testing import CliRunner, Result

from cli.main import app
from cli.shelved import read_order_steadily
from nesting.errors import InputError
from nesting.files.order_file import read_order
from nesting.files.panel_file import write_panel
from nesting.shelf import keep_layout, open_shelf
from nesting.shelf import steady as steadily
from nesting.shelf.change import UNFINISHED
from nesting.shelf.lock import LOCK_FILE, locked
from nesting.shelf.steady import folders_of, read_steadily

ONE, TWO = hide("shoulder-04"), hide("shoulder-05")
AFTER = ["shoulder-04-r1", "shoulder-05"]


class Killed(BaseException):
    """Like a kill: nothing in the program catches it."""


@pytest.fixture
def order(tmp_path: Path) -> Path:
    """An order on a shelf of two hides."""
    make_shelf(tmp_path / "shelf", [ONE, TWO])
    write_panel(tmp_path / "apron.panel.json", PANEL)
    text = 'hides = ["shelf/*.hide.json"]\n[[pieces]]\npanel = "apron.panel.json"\npieces = 1\n'
    (tmp_path / "aprons.toml").write_text(text)
    return tmp_path / "aprons.toml"


def half_entered(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cut killed after the hide left and before its remnant joined."""

    def kill(*_: Any) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr("nesting.shelf.change._join", kill)
        with pytest.raises(Killed):
            keep_layout(one_cut(ONE), shelf, DAY)
    assert (shelf / UNFINISHED).exists()


def names(order: Path) -> list[str]:
    return [one.name for one in read_order_steadily(order).hides]


def run(*words: object) -> Result:
    return CliRunner().invoke(app, list(map(str, words)))


def test_a_cut_that_was_broken_off_is_entered_first(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    half_entered(order.parent / "shelf", monkeypatch)
    # Read as it lies there the shelf is between its two states: the leather left has vanished.
    assert [one.name for one in read_order(order).hides] == ["shoulder-05"]
    assert names(order) == AFTER
    assert open_shelf(order.parent / "shelf").finished is None


@pytest.mark.parametrize("words", [("layout",), ("compare",)])
def test_commands_see_no_half_entered_cut(
    order: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    half_entered(order.parent / "shelf", monkeypatch)
    out = order.parent / "out"
    result = run(*words, order, "--out", out, "--rounds", "1")
    assert result.exit_code == 0, result.stderr
    assert [one.hide.name for one in open_shelf(order.parent / "shelf").hides] == AFTER
    if words == ("compare",):
        data = json.loads((out / "compare.json").read_text())
        assert {entry["hide"] for entry in data["entries"]} == set(AFTER)


def test_named_hides_of_a_half_entered_shelf(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = order.parent / "shelf"
    half_entered(shelf, monkeypatch)
    out = order.parent / "out"
    named = shelf / "shoulder-04-r1.hide.json"
    assert run("compare", order, named, "--out", out, "--rounds", "1").exit_code == 0
    assert named.exists()


# When a remnant joins, the shelf is marked; before the decision nothing but the lock tells of the cut.
@pytest.mark.parametrize("step", ["nesting.shelf.change._join", "nesting.shelf.keeping.decide"])
def test_a_reader_waits_while_a_cut_is_entered(
    order: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """The reader begins just before a step of the very first cut, and still sees all of it."""
    shelf, seen = order.parent / "shelf", list[list[str]]()
    reader = threading.Thread(target=lambda: seen.append(names(order)))
    real = pkgutil.resolve_name(step)

    def delayed(*arguments: Any) -> Any:
        reader.start()
        reader.join(0.3)
        assert seen == []
        return real(*arguments)

    monkeypatch.setattr(step, delayed)
    keep_layout(one_cut(ONE), shelf, DAY)
    reader.join()
    assert seen == [AFTER]


def test_the_very_first_cut_waits_for_a_reader(order: Path) -> None:
    """The folder is no shelf yet; the first cut that is ever entered there begins while it is read."""
    shelf, done = order.parent / "shelf", list[str]()

    def keep() -> None:
        keep_layout(one_cut(ONE), shelf, DAY)
        done.append("kept")

    keeper = threading.Thread(target=keep)

    def read() -> list[str]:
        found = [one.name for one in read_order(order).hides]
        keeper.start()
        keeper.join(0.5)
        assert done == []
        assert [one.name for one in read_order(order).hides] == found
        return found

    assert read_steadily([shelf], read) == ["shoulder-04", "shoulder-05"]
    keeper.join()
    assert done == ["kept"]
    assert names(order) == AFTER
    assert not (shelf / LOCK_FILE).exists()


def test_nothing_is_left_in_a_folder_that_is_no_shelf(order: Path) -> None:
    shelf = order.parent / "shelf"
    before = sorted(os.listdir(shelf))
    assert names(order) == ["shoulder-04", "shoulder-05"]
    assert sorted(os.listdir(shelf)) == before


def test_a_shelf_that_is_held_for_long(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = order.parent / "shelf"
    keep_layout(one_cut(ONE), shelf, DAY)
    monkeypatch.setattr(steadily, "locked", lambda folder: locked(folder, 0.05))
    before = state(shelf)
    with locked(shelf), pytest.raises(InputError, match="another command is at this shelf"):
        names(order)
    assert state(shelf) == before


def test_files_of_hides_that_were_cut_are_not_laid(order: Path) -> None:
    keep_layout(one_cut(ONE), order.parent / "shelf", DAY)
    order.write_text(order.read_text().replace("shelf/*", "shelf/**/*"))
    with pytest.raises(InputError, match=r"cut/shoulder-04\.hide\.json: this hide was cut"):
        names(order)
    # A folder of that name beside no shelf holds hides like any other.
    (order.parent / "cut").mkdir()
    (order.parent / "shelf" / "shoulder-05.hide.json").rename(order.parent / "cut" / "five.hide.json")
    order.write_text(order.read_text().replace("shelf/**/*", "cut/*"))
    assert names(order) == ["shoulder-05"]


def test_folders_of_patterns(tmp_path: Path) -> None:
    for name in ("shelf/cut", "rack/low", "rack/high"):
        (tmp_path / name).mkdir(parents=True)
    (tmp_path / "rack" / "low" / "a.hide.json").touch()

    def found(*patterns: str) -> set[Path]:
        return {path.relative_to(tmp_path) for path in folders_of(patterns, tmp_path)}

    # Matches or not: while a cut is entered the only hide may just have left.
    assert found("shelf/*.hide.json") == {Path("shelf")}
    assert found("*.hide.json", "none/*.json") == {Path()}
    assert found("rack/*/*.hide.json") == {Path("rack"), Path("rack/low")}
