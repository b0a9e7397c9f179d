"""``hidewright layout``: files, judged; the same bytes for the same rounds; Ctrl-C keeps the best."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from cli.bar import SearchBar
from cli.main import app
from nesting import assert_layout_valid
from nesting.files.layout_file import read_layout
from nesting.files.report_file import check_report

FILES = ("layout.json", "report.json", "layout.png", "layout.svg", "cut.dxf")
PROGRAM = (sys.executable, "-c", "from cli.main import main; main()")

HIDE = {
    "kind": "hide", "version": 1, "name": "offcut", "unit": "mm", "weight_oz": [4, 5],
    "outline": [[0, 0], [420, 0], [400, 260], [10, 250]], "straight_edges": [[[0, 0], [420, 0]]],
    "flaws": [{"kind": "brand", "severity": "weak", "outline": [[200, 100], [240, 100], [220, 140]]}],
}  # fmt: skip
FOB = {
    "kind": "panel", "version": 1, "name": "fob", "unit": "mm", "pairing": "mirrored",
    "outline": [[0, 0], [60, 0, 0.2], [70, 40], [10, 45]],
}  # fmt: skip
ORDER = 'hides = ["offcut.hide.json"]\n[[pieces]]\npanel = "fob.panel.json"\npairs = {pairs}\n'


@pytest.fixture
def order(tmp_path: Path) -> Path:
    return written(tmp_path, pairs=3)


def written(folder: Path, pairs: int) -> Path:
    (folder / "offcut.hide.json").write_text(json.dumps(HIDE))
    (folder / "fob.panel.json").write_text(json.dumps(FOB))
    (folder / "fobs.toml").write_text(ORDER.format(pairs=pairs))
    return folder / "fobs.toml"


def lay(order: Path, out: Path, *options: str) -> Result:
    return CliRunner().invoke(app, ["layout", str(order), "--out", str(out), *options])


def test_five_files_of_a_valid_layout(order: Path, tmp_path: Path) -> None:
    result = lay(order, tmp_path / "deep" / "out", "--rounds", "2", "--workers", "1", "--json")
    assert result.exit_code == 0, result.stderr
    out = tmp_path / "deep" / "out"
    assert sorted(path.name for path in out.iterdir()) == sorted(FILES)
    layout = read_layout(out / "layout.json")
    assert_layout_valid(layout)
    assert [len(laid.placements) for laid in layout.hides] == [6]
    report = json.loads((out / "report.json").read_text())
    check_report(report, "report.json")
    assert json.loads(result.stdout) == report
    assert "caution: knife" in result.stderr
    assert "so far: 6 pieces, 1 hide, yield" in result.stderr


def test_some_without_room_is_status_3_and_says_why(tmp_path: Path) -> None:
    result = lay(written(tmp_path, 60), tmp_path / "out", "--rounds", "1", "--workers", "1")
    assert result.exit_code == 3
    layout = read_layout(tmp_path / "out" / "layout.json")
    (left,) = layout.unplaced
    assert left.panel == "fob"
    assert left.pieces == 120 - len(layout.hides[0].placements) > 0
    assert left.why == "no room left on any hide"


def test_same_rounds_same_bytes_whatever_the_workers(order: Path, tmp_path: Path) -> None:
    bound = ("--rounds", "3", "--seed", "5", "--workers")
    assert lay(order, tmp_path / "one", *bound, "1").exit_code == 0
    words = ["layout", order, "--out", tmp_path / "two", *bound, "2"]
    subprocess.run([*PROGRAM, *words], check=True, capture_output=True)
    for file in FILES:
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes(), file
    assert read_layout(tmp_path / "one" / "layout.json").seed == 5


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="no process groups")
@pytest.mark.parametrize("workers", ["1", "2"])
def test_ctrl_c_keeps_the_best_so_far(order: Path, tmp_path: Path, workers: str) -> None:
    words = ["layout", order, "--out", tmp_path / "out", "--seconds", "600", "--workers", workers]
    process = subprocess.Popen(
        [*PROGRAM, *words], stderr=subprocess.PIPE, text=True, start_new_session=True,
        # Children of a shell in the background ignore Ctrl-C, and so would this one.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    try:
        assert process.stderr is not None
        first = next((line for line in process.stderr if line.startswith("so far: ")), "")
        # As a terminal does it: to the program and all that it started.
        os.killpg(process.pid, signal.SIGINT)
        _, rest = process.communicate(timeout=120)
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
    assert process.returncode == 0, rest
    assert first
    assert "Traceback" not in rest
    layout = read_layout(tmp_path / "out" / "layout.json")
    assert_layout_valid(layout)
    assert sum(len(laid.placements) for laid in layout.hides) == 6
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == sorted(FILES)


def test_time_and_rounds_exclude_each_other(order: Path, tmp_path: Path) -> None:
    result = lay(order, tmp_path / "out", "--rounds", "2", "--seconds", "2")
    assert result.exit_code == 2
    assert not (tmp_path / "out").exists()


def test_the_first_run_says_that_it_prepares(
    order: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = []

    def slow() -> None:
        # As long as compiling takes, seen from here: until the message is there.
        for _ in range(2000):
            said.append(capsys.readouterr().err)
            if "".join(said):
                return
            time.sleep(0.01)

    monkeypatch.setattr("nesting.packing.warm.warm_up", slow)
    with pytest.raises(SystemExit):
        app(["layout", str(order), "--out", str(tmp_path / "out"), "--rounds", "1", "--workers", "1"])
    assert "".join(said).startswith("preparing the packing engine for its first run on this machine")


def test_progress_off_a_terminal_is_a_line_a_change(capsys: pytest.CaptureFixture[str]) -> None:
    with SearchBar(10.0, shown=False) as bar:
        for words in ("2 pieces", None, "2 pieces", "4 pieces"):
            bar.update(1.0, words)
    assert capsys.readouterr().err == "so far: 2 pieces\nso far: 4 pieces\n"


def test_results_go_through_the_judge(order: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A search gone wrong writes nothing: two pieces on one spot are caught before the first file."""
    from dataclasses import replace

    from nesting.files.layout import Layout
    from nesting.planning import workers

    sound = workers.best_layout

    def spoilt(*arguments: object) -> tuple[Layout, object]:
        found = sound(*arguments)  # type: ignore[arg-type]
        assert found is not None
        layout, score = found
        laid = layout.hides[0]
        one, two, *rest = laid.placements
        twice = (one, replace(two, pose=replace(two.pose, at=one.pose.at)), *rest)
        return replace(layout, hides=(replace(laid, placements=twice),)), score

    monkeypatch.setattr(workers, "best_layout", spoilt)
    result = lay(order, tmp_path / "out", "--rounds", "1", "--workers", "1")
    assert type(result.exception).__name__ == "InvalidLayout"
    assert not (tmp_path / "out").exists()


def test_a_bound_that_ends_a_fill_is_said(
    order: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from nesting.planning import laying

    order.write_text(order.read_text().replace("pairs = 3", "fill = true"))
    free = lay(order, tmp_path / "free", "--rounds", "1", "--workers", "1")
    assert (free.exit_code, "more may have room" in free.stderr) == (0, False)
    monkeypatch.setattr(laying, "MOST_FILL", 6)
    result = lay(order, tmp_path / "out", "--rounds", "1", "--workers", "1")
    assert result.exit_code == 0
    assert 'note: "offcut" is filled with 6 pieces of "fob"' in result.stderr
