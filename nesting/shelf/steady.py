"""Hides read from a shelf as it is before a cut or after it, never between."""

from __future__ import annotations

import glob
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TypeVar

from nesting.errors import InputError
from nesting.shelf.change import UNFINISHED, finish
from nesting.shelf.folder import CUT_FOLDER
from nesting.shelf.journal import JOURNAL
from nesting.shelf.lock import CannotLockError, locked

Found = TypeVar("Found")


def is_shelf(folder: Path) -> bool:
    """Whether a cut was ever entered here, or begun."""
    return any((folder / name).exists() for name in (JOURNAL, UNFINISHED))


def read_steadily(folders: Iterable[Path], read: Callable[[], Found]) -> Found:
    """What ``read`` finds while nobody changes the shelves among the folders.

    A cut that was broken off is entered first. Every folder is held, for the first cut may be entered in any
    of them; nothing is left in one that is no shelf. Raises InputError where a folder is held by another for
    long, or a cut cannot be entered.
    """
    with ExitStack() as held:
        # In one order, so that no two wait for each other.
        for place in sorted({folder.resolve() for folder in folders}):
            try:
                held.enter_context(locked(place))
            except CannotLockError:
                # A shelf that may only be read can still be read, unless it is between two states.
                if (place / UNFINISHED).exists():
                    raise
                continue
            finish(place)
        return read()


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
