"""What lies in a shelf's folder, told apart: hides, what is broken, and what is none of the shelf's."""

from __future__ import annotations

from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path

from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.hide_file import read_hide
from nesting.shelf.change import UNFINISHED, finish
from nesting.shelf.journal import JOURNAL, Cut, read_journal
from nesting.shelf.lock import CannotLockError, locked

HIDE_ENDING = ".hide.json"
CUT_FOLDER = "cut"
_OWN = {JOURNAL, UNFINISHED, CUT_FOLDER}


@dataclass(frozen=True)
class Shelved:
    """A hide and the name of its file in the shelf's folder."""

    file: str
    hide: Hide


@dataclass(frozen=True)
class Shelf:
    """A shelf as it was found. ``broken``: a message for each hide file that cannot be read;
    ``strange``: names of files and folders that are no hides, and are left alone;
    ``finished``: the cut that had been broken off and was entered first, if any."""

    folder: Path
    hides: tuple[Shelved, ...]
    broken: tuple[str, ...]
    strange: tuple[str, ...]
    journal: tuple[Cut, ...]
    finished: Cut | None = None


def open_shelf(folder: Path) -> Shelf:
    """The shelf in ``folder``, for looking at. A cut that was broken off is entered first.

    Raises InputError when it is no folder, is held by another for long, or its journal is broken.
    """
    check_folder(folder)
    with ExitStack() as held:
        # A folder that may only be read can still be looked at.
        with suppress(CannotLockError):
            held.enter_context(locked(folder))
        return look(folder)


def check_folder(folder: Path) -> None:
    """Raises InputError unless ``folder`` is one."""
    if folder.is_dir():
        return
    if folder.exists():
        raise InputError(f"{folder}: is a file; a shelf is a folder of hide files (NAME{HIDE_ENDING})")
    raise InputError(f"{folder}: there is no such folder; make it, and put the hide files into it")


def look(folder: Path) -> Shelf:
    """The shelf, by one who holds it; a cut that was broken off is entered first."""
    finished = finish(folder)
    hides, broken, strange = [], [], []
    for path in sorted(folder.iterdir(), key=lambda path: path.name):
        if path.name.startswith(".") or path.name in _OWN:
            continue
        if not path.name.endswith(HIDE_ENDING) or path.is_dir():
            strange.append(path.name + ("/" if path.is_dir() else ""))
            continue
        try:
            hides.append(Shelved(path.name, read_hide(path)))
        except InputError as error:
            broken.append(str(error))
    return Shelf(folder, tuple(hides), tuple(broken), tuple(strange), read_journal(folder), finished)
