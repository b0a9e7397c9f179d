"""Hides read from a shelf as it is before a cut or after it, never between."""

from __future__ import annotations

import glob
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TypeVar

from nesting.errors import InputError
from nesting.shelf.change import UNFINISHED, finish
from nesting.shelf.folder import CUT_FOLDER
from nesting.shelf.journal import JOURNAL
from nesting.shelf.lock import LOCK_FILE, CannotLockError, locked

Found = TypeVar("Found")


def is_shelf(folder: Path) -> bool:
    """Whether a cut was ever entered here, or begun; a folder of hide files alone has nothing to hold."""
    return any((folder / name).exists() for name in (LOCK_FILE, JOURNAL, UNFINISHED))


def read_steadily(folders: Iterable[Path], read: Callable[[], Found]) -> Found:
    """What ``read`` finds while nobody changes the shelves among the folders.

    A cut that was broken off is entered first. Where a folder becomes a shelf meanwhile ``read`` is asked
    again. Raises InputError where a shelf is held by another for long, or a cut cannot be entered.
    """
    places = sorted({folder.resolve() for folder in folders})
    while True:
        shelves = [place for place in places if is_shelf(place)]
        with _steady(shelves):
            found = read()
        if shelves == [place for place in places if is_shelf(place)]:
            return found


@contextmanager
def _steady(shelves: Sequence[Path]) -> Iterator[None]:
    with ExitStack() as held:
        for shelf in shelves:
            try:
                held.enter_context(locked(shelf))
            except CannotLockError:
                # A shelf that may only be read can still be read, unless it is between two states.
                if (shelf / UNFINISHED).exists():
                    raise
                continue
            finish(shelf)
        yield


def folders_of(patterns: Sequence[str], base: Path) -> list[Path]:
    """The folders beside ``base`` that patterns of hide files look into, with or without a match now."""
    return [
        folder
        for pattern in patterns
        for folder in (base / _plain(pattern), *(path.parent for path in _matches(pattern, base)))
        if folder.is_dir()
    ]


def refuse_cut(patterns: Sequence[str], base: Path) -> None:
    """Raise InputError where a pattern takes in the file of a hide that was cut from a shelf."""
    for pattern in patterns:
        for path in _matches(pattern, base):
            if path.parent.name == CUT_FOLDER and is_shelf(path.parent.parent):
                raise InputError(
                    f'{path}: this hide was cut, its file is only kept; "{pattern}" takes it in: name those '
                    "on the shelf alone, as in shelf/*.hide.json"
                )


def _matches(pattern: str, base: Path) -> list[Path]:
    return [base / name for name in sorted(glob.glob(pattern, root_dir=base, recursive=True))]


def _plain(pattern: str) -> Path:
    """The folder that a pattern begins with, up to its first part with a sign of a pattern."""
    plain = Path()
    for part in Path(pattern).parent.parts:
        if glob.has_magic(part):
            break
        plain /= part
    return plain
