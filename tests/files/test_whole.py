"""Files whole or not at all, one or several: what stood before stands when one cannot be written."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from nesting.errors import InputError
from nesting.files.whole import write_together, write_whole


def test_text_is_utf8_and_bytes_are_bytes(tmp_path: Path) -> None:
    write_together({tmp_path / "a.txt": "7.25 ft²", tmp_path / "b.bin": b"\x00\xff"})
    assert (tmp_path / "a.txt").read_bytes() == "7.25 ft²".encode()
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\xff"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.txt", "b.bin"]


@pytest.mark.parametrize("bad", ["none/b.txt", "folder"])
def test_one_that_cannot_be_written_keeps_all_as_they_were(tmp_path: Path, bad: str) -> None:
    (tmp_path / "a.txt").write_text("old")
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="cannot be written") as refused:
        write_together({tmp_path / "a.txt": "new", tmp_path / bad: "new", tmp_path / "c.txt": "new"})
    assert str(refused.value).startswith(str(tmp_path / bad))
    assert (tmp_path / "a.txt").read_text() == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.txt", "folder"]


def test_broken_off_in_the_middle(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk while writing (simulated) leaves the old file and no part of the new one."""
    (tmp_path / "a.txt").write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(InputError, match="No space left on device"):
        write_whole(tmp_path / "a.txt", "new")
    assert (tmp_path / "a.txt").read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


def test_an_interrupt_leaves_no_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_whole(tmp_path / "a.txt", "new")
    assert list(tmp_path.iterdir()) == []
