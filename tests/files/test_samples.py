"""The samples: valid, of the sizes of the trade, and rebuilt byte for byte by their script."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

from nesting.files.any_file import read_any
from nesting.files.hide_file import read_hide
from nesting.files.order_file import read_order
from nesting.files.panel_file import read_panel
from nesting.rings import area
from nesting.units import parse_area

ROOT = Path(__file__).parent.parent.parent
SAMPLES = ROOT / "sample_hides"
FILES = sorted([*SAMPLES.glob("*.hide.json"), *SAMPLES.glob("*.panel.json"), *SAMPLES.glob("*.toml")])


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_valid(path: Path) -> None:
    read_any(path)


def test_rebuilt_byte_for_byte(tmp_path: Path) -> None:
    runpy.run_path(str(ROOT / "benchmarks" / "make_samples.py"))["main"](tmp_path)
    rebuilt = sorted(path.name for path in tmp_path.iterdir())
    assert len(rebuilt) == 11
    for name in rebuilt:
        assert (tmp_path / name).read_bytes() == (SAMPLES / name).read_bytes(), name


def test_sizes_of_the_trade() -> None:
    """Common practice, no source: a double shoulder is about 14 ft², a single one half of it; a bend 8-11."""
    feet = {path.name.removesuffix(".hide.json"): area(read_hide(path).outline) / parse_area("1 ft2")
            for path in SAMPLES.glob("*.hide.json") if read_hide(path).measured is None}  # fmt: skip
    assert feet.pop("double-shoulder-04") == pytest.approx(14, abs=0.1)
    assert 8 <= feet.pop("bend-08") <= 11
    assert all(6.5 <= size <= 8 for name, size in feet.items() if name.startswith("shoulder-"))


def test_the_cuff_is_the_check_figure() -> None:
    """A trapezoid of 8 1/2 and 7 1/2 by 4 1/2 in is 36 in²: geometry."""
    assert area(read_panel(SAMPLES / "cuff.panel.json").outline) == pytest.approx(parse_area("36 in2"))


def test_the_demo_order_leaves_room_on_its_first_hide() -> None:
    order = read_order(SAMPLES / "half-chaps.toml")
    (line,) = order.lines
    assert line.pairs == 6
    wanted = 12 * area(line.panel.outline)
    assert 0.4 < wanted / area(order.hides[0].outline) < 0.6
