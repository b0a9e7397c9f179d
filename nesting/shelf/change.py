"""Changing a shelf: all of a cut is entered, or nothing of it.

``decide`` writes the whole change to one file, by one rename; ``finish`` does what it says, step by
step, each step harmless to repeat, and removes the file last. Whoever opens the shelf calls ``finish``.
"""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from dataclasses import dataclass
from glob import escape
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from nesting.errors import InputError
from nesting.files.boundary import Name, Strict, check_header, validated
from nesting.files.hide import Hide
from nesting.files.hide_file import hide_from_json, hide_to_json
from nesting.files.json_text import dump_json, join, parse_json, read_text
from nesting.files.whole import write_whole
from nesting.shelf.journal import JOURNAL, Cut, cut_from_json, cut_line, cut_to_json, read_journal

UNFINISHED = "unfinished-cut.json"
_KIND = "unfinished cut"


@dataclass(frozen=True)
class Leaving:
    """A file of the shelf that moves to ``to``, relative to the folder, if it still is what it was."""

    file: str
    to: str
    sha256: str


@dataclass(frozen=True)
class Change:
    """All that a cut does to a shelf: files that leave it, hides that join it (by file), its record."""

    leaving: tuple[Leaving, ...]
    joining: tuple[tuple[str, Hide], ...]
    cut: Cut


def _bare(name: str) -> str:
    if name in {"", ".", ".."} or {"/", "\\", "\0"} & set(name):
        raise ValueError("must be the name of a file, without a folder")
    return name


FileName = Annotated[str, AfterValidator(_bare)]


class _Leaving(Strict):
    file: FileName
    to: Annotated[list[FileName], Field(min_length=1, max_length=2)]
    sha256: Name


class _Joining(Strict):
    file: FileName
    hide: dict[str, Any]


class _Change(Strict):
    kind: Literal["unfinished cut"]
    version: int
    leaving: list[_Leaving]
    joining: list[_Joining]
    cut: dict[str, Any]


def decide(folder: Path, change: Change) -> None:
    """Write the change down. When this returns it will be done, whatever happens next.

    Raises InputError when the folder cannot be written: then nothing has changed.
    """
    data = {
        "kind": _KIND,
        "version": 1,
        "leaving": [
            {"file": one.file, "to": one.to.split("/"), "sha256": one.sha256} for one in change.leaving
        ],
        "joining": [{"file": file, "hide": hide_to_json(hide)} for file, hide in change.joining],
        "cut": cut_to_json(change.cut),
    }
    text = dump_json(data)
    # What cannot be read back could never be finished, and would shut the shelf for good.
    _read_change(text, str(folder / UNFINISHED))
    write_whole(folder / UNFINISHED, text)
    _settle(folder)


def finish(folder: Path) -> Cut | None:
    """Do what is left of a change that was decided; the cut it enters, None when there was none.

    The caller holds the lock. Raises InputError where a step cannot be done; the rest stays decided.
    """
    path = folder / UNFINISHED
    _sweep(folder, UNFINISHED)
    _sweep(folder, JOURNAL)
    if not path.exists():
        return None
    change = _read_change(read_text(path), str(path))
    for leaving in change.leaving:
        _leave(folder, leaving)
    for file, hide in change.joining:
        _sweep(folder, file)
        _join(folder / file, hide)
    _enter(folder, change.cut)
    _settle(folder)
    path.unlink()
    return change.cut


def digest(path: Path) -> str:
    """SHA-256 of a file, in hex."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _read_change(text: str, source: str) -> Change:
    data = parse_json(text, source)
    check_header(data, _KIND, source)
    model = validated(_Change, data, source)
    return Change(
        tuple(Leaving(one.file, "/".join(one.to), one.sha256) for one in model.leaving),
        tuple(
            (one.file, hide_from_json(one.hide, source, join("joining", i, "hide")))
            for i, one in enumerate(model.joining)
        ),
        cut_from_json(model.cut, source, "cut"),
    )


def _leave(folder: Path, leaving: Leaving) -> None:
    """Move the file unless that is done; another file put in its place since is not touched."""
    source, target = folder / leaving.file, folder / leaving.to
    if not source.exists() or (target.exists() and digest(source) != leaving.sha256):
        return
    target.parent.mkdir(exist_ok=True)
    os.replace(source, target)
    _settle(target.parent)


def _join(path: Path, hide: Hide) -> None:
    text = dump_json(hide_to_json(hide))
    if path.exists():
        if path.read_bytes() == text.encode():
            return
        raise InputError(
            f"{path}: stands where a remnant belongs whose cut was broken off; move it away, then try again"
        )
    write_whole(path, text)


def _enter(folder: Path, cut: Cut) -> None:
    if any(one.layout_sha256 == cut.layout_sha256 for one in read_journal(folder)):
        return
    path = folder / JOURNAL
    old = read_text(path) if path.exists() else ""
    if old and not old.endswith("\n"):
        old += "\n"
    write_whole(path, old + cut_line(cut))


def _sweep(folder: Path, name: str) -> None:
    """Remove what a process that was killed left of writing a file; nobody else writes it now."""
    for path in folder.glob(f".{escape(name)}.*.part"):
        path.unlink(missing_ok=True)


def _settle(folder: Path) -> None:
    """Have the folder's names on the disk, where the system can, before the next step relies on them."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    with suppress(OSError):
        os.fsync(handle)
    os.close(handle)
