"""The README's day in a small workshop: its ten commands run in their order, on the samples.

One test, for each command works on what those before it have written. The searches are bounded by
``--rounds 1``; nothing else differs from what the README says.
"""

from __future__ import annotations

import itertools
import json
import re
import shlex
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.main import app
from nesting.files.hide_file import read_hide
from nesting.files.layout_file import read_layout
from nesting.files.panel_file import read_panel
from nesting.judge import assert_layout_valid

ROOT = Path(__file__).parent.parent
BOUNDS = {"compare": ["--rounds", "1"], "layout": ["--rounds", "1", "--workers", "1"]}


def commands() -> list[list[str]]:
    """The commands of the section, words apart; the copy of the samples is the reader's own."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    day = readme.split("## A day in a small workshop\n")[1].split("\n## ")[0]
    lines = [
        line for block in re.findall(r"^```sh\n(.*?)^```$", day, re.M | re.S) for line in block.splitlines()
    ]
    assert lines[0] == "cp -r sample_hides day"
    assert all(line.startswith("hidewright ") for line in lines[1:])
    return [shlex.split(line)[1:] for line in lines[1:]]


def test_the_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert len(commands()) == 10
    shutil.copytree(ROOT / "sample_hides", tmp_path / "day")
    monkeypatch.chdir(tmp_path)
    for words in commands():
        result = CliRunner().invoke(app, [*words, *BOUNDS.get(words[0], [])])
        assert result.exit_code == 0, (words, result.output, result.exception)
        for name in written(words):
            assert (tmp_path / name).stat().st_size > 0, name
    holds_together(tmp_path / "day")


def written(words: list[str]) -> list[str]:
    """Files that a command is told to write."""
    options = ("-o", "--picture", "--pdf", "--dxf", "--job", "--chart")
    return [value for option, value in itertools.pairwise(words) if option in options]


def holds_together(day: Path) -> None:
    """Each step went on from those before: the hide photographed was compared, cut, and left remnants."""
    assert read_panel(day / "cuff.panel.json").pairing == "mirrored"
    compared = {
        entry["hide"] for entry in json.loads((day / "compared" / "compare.json").read_text())["entries"]
    }
    assert {"shoulder-01", "shoulder-05", "typical single shoulder 7.25 ft²"} <= compared
    layout = read_layout(day / "cuffs" / "layout.json")
    assert_layout_valid(layout)
    assert layout.unplaced == ()
    # The photograph can be drawn on because the new shoulder, the cheapest, holds it all.
    assert [laid.hide.name for laid in layout.hides] == ["shoulder-01"]
    assert len(layout.hides[0].placements) == 12
    assert not (day / "shoulder-01.hide.json").exists()
    remnant = read_hide(day / "shoulder-01-r1.hide.json")
    assert (remnant.ancestry, remnant.cut) == (("shoulder-01",), "remnant of single shoulder")
    (cut,) = (day / "journal.jsonl").read_text().splitlines()
    report = json.loads((day / "cuffs" / "report.json").read_text())
    assert json.loads(cut)["cost"]["total"] == report["cost"]["total"]["total"]
    assert "Antique" in (day / "job.md").read_text()
