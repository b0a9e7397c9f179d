"""Any file, told apart by its kind or ending; reports, whose areas must add up."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import contract_examples as examples
import pytest

from nesting.errors import FileFormatError, InputError
from nesting.files.any_file import read_any
from nesting.files.hide import Hide
from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.files.panel import Panel

AREAS = {
    "hide": 100.0, "margins": 10.0, "flaws": 5.0, "usable": 85.0,
    "pieces": 50.0, "between": 15.0, "remnant": 20.0,
}  # fmt: skip
REPORT: dict[str, Any] = {
    "kind": "report", "version": 1, "areas_mm2": AREAS, "yield": {"of_hide": 0.5, "of_usable": 0.588},
    "hides": [{"name": "a", "areas_mm2": AREAS}], "cost": {"total": "1.00"},
}  # fmt: skip


def written(folder: Path, data: Any, name: str = "a.json") -> Path:
    (folder / name).write_text(json.dumps(data))
    return folder / name


def test_every_kind(tmp_path: Path) -> None:
    assert isinstance(read_any(written(tmp_path, examples.hide(), "shoulder-1.hide.json")), Hide)
    assert isinstance(read_any(written(tmp_path, examples.panel(), "half-chap.panel.json")), Panel)
    assert isinstance(read_any(written(tmp_path, examples.layout())), Layout)
    assert read_any(written(tmp_path, REPORT)) == REPORT
    (tmp_path / "order.toml").write_text(examples.ORDER)
    assert isinstance(read_any(tmp_path / "order.toml"), Order)


def test_what_is_of_no_kind(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match=r"kind: is missing; write one of hide, panel, layout, report"):
        read_any(written(tmp_path, {}))
    with pytest.raises(FileFormatError, match=r"kind: 'shoe' is not known"):
        read_any(written(tmp_path, {"kind": "shoe"}))
    with pytest.raises(FileFormatError, match=r"kind: \[\] is not known"):
        read_any(written(tmp_path, {"kind": []}))
    with pytest.raises(InputError, match=r"a\.txt: is no file of a workshop"):
        read_any(written(tmp_path, examples.hide(), "a.txt"))


@pytest.mark.parametrize(
    ("change", "place", "mend"),
    [
        ({"version": 2}, "version", "newer"),
        ({"areas_mm2": {}}, "areas_mm2.hide", "is missing"),
        ({"areas_mm2": AREAS | {"flaws": "5"}}, "areas_mm2.flaws", "must be a number"),
        ({"areas_mm2": AREAS | {"flaws": -5}}, "areas_mm2.flaws", "must be at least 0"),
        (
            {"areas_mm2": AREAS | {"flaws": 5.1}},
            "areas_mm2.hide",
            "is 100, but margins + flaws + usable make 100.1",
        ),
        (
            {"areas_mm2": AREAS | {"pieces": 49}},
            "areas_mm2.usable",
            "is 85, but pieces + between + remnant make 84",
        ),
        ({"hides": [{"areas_mm2": AREAS | {"remnant": 21}}]}, "hides[0].areas_mm2.usable", "make 86"),
        ({"yield": {"of_hide": 1.2, "of_usable": 1}}, "yield.of_hide", "must be at most 1"),
    ],
)
def test_a_report_at_fault(tmp_path: Path, change: dict[str, Any], place: str, mend: str) -> None:
    path = written(tmp_path, REPORT | change)
    with pytest.raises(FileFormatError) as caught:
        read_any(path)
    assert str(caught.value).startswith(f"{path}: {place}: ")
    assert mend in str(caught.value)
