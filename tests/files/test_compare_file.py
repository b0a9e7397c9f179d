"""Comparison files: areas and yields that must agree, and a best that was compared."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from nesting.errors import FileFormatError
from nesting.files.any_file import read_any

OUTCOME = {
    "flaws": "as they are", "pieces": 4, "yield": {"of_hide": 0.5, "of_usable": 0.625},
    "areas_mm2": {
        "hide": 100.0, "margins": 15.0, "flaws": 5.0, "usable": 80.0,
        "pieces": 50.0, "between": 10.0, "remnant": 20.0,
    },
}  # fmt: skip
COMPARE: dict[str, Any] = {
    "kind": "compare", "version": 1, "title": "fobs",
    "entries": [{"hide": "a", "panels": ["fob"], "outcomes": [OUTCOME]}],
    "best": [{"panels": ["fob"], "hide": "a", "reason": "it holds all"}],
}  # fmt: skip


def written(folder: Path, change: Callable[[dict[str, Any]], None]) -> Path:
    data = copy.deepcopy(COMPARE)
    change(data)
    (folder / "compare.json").write_text(json.dumps(data))
    return folder / "compare.json"


def test_a_sound_one(tmp_path: Path) -> None:
    assert read_any(written(tmp_path, lambda data: None)) == COMPARE
    assert read_any(written(tmp_path, lambda data: data["best"][0].update(hide=None)))


@pytest.mark.parametrize(
    ("change", "place", "mend"),
    [
        (lambda d: d.update(version=2), "version", "newer"),
        (lambda d: d.update(entries=[]), "entries", "at least 1 item"),
        (lambda d: d["entries"][0].update(outcomes=[]), "entries[0].outcomes", "at least 1 item"),
        (
            lambda d: d["entries"][0]["outcomes"][0].update(pieces=-1),
            "entries[0].outcomes[0].pieces",
            "at least 0",
        ),
        (
            lambda d: d["entries"][0]["outcomes"][0]["areas_mm2"].update(between=11.0),
            "entries[0].outcomes[0].areas_mm2.usable",
            "is 80, but pieces + between + remnant make 81",
        ),
        (
            lambda d: d["entries"][0]["outcomes"][0]["yield"].update(of_usable=0.7),
            "entries[0].outcomes[0].yield.of_usable",
            "is 0.7, but the areas make 0.625",
        ),
        (lambda d: d["best"][0].update(hide="b"), "best[0].hide", '"b" is none of the hides compared'),
        (lambda d: d["best"][0].update(panels=["x"]), "best[0].hide", '"a" is none of the hides compared'),
    ],
)
def test_one_at_fault(
    tmp_path: Path, change: Callable[[dict[str, Any]], None], place: str, mend: str
) -> None:
    path = written(tmp_path, change)
    with pytest.raises(FileFormatError) as caught:
        read_any(path)
    assert str(caught.value).startswith(f"{path}: {place}: ")
    assert mend in str(caught.value)
