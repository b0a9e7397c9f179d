"""Names that are free: of remnants, of their files, and of the files of hides that were cut."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import count
from pathlib import Path

from nesting.shelf.folder import CUT_FOLDER, HIDE_ENDING, Shelf


class Names:
    """Hands out names that nothing on the shelf has, has had, or was handed already.

    Compared without regard to case, as some systems compare file names.
    """

    def __init__(self, shelf: Shelf) -> None:
        self._hides = {one.hide.name.casefold() for one in shelf.hides}
        for cut in shelf.journal:
            self._hides |= {hide.hide.casefold() for hide in cut.hides}
            self._hides |= {hide.hide.casefold() for hide in cut.remnants}
        self._files = _files(shelf.folder)
        self._cut_files = _files(shelf.folder / CUT_FOLDER)

    def remnant(self, of: str) -> str:
        """``shoulder-04-r1``, ``-r2``, ... for what is left of ``shoulder-04``."""
        return _free(lambda n: f"{of}-r{n}", self._hides)

    def file(self, hide: str) -> str:
        """A file for a hide, of letters, digits, points, dashes and blanks that every system takes."""
        stem = re.sub(r"[^\w.\- ]", "_", hide).strip(". ") or "hide"
        # Names of files are limited in bytes; the hide's own name stands inside the file.
        stem = stem.encode()[:200].decode(errors="ignore")
        return _free(lambda n: stem + ("" if n == 1 else f"-{n}") + HIDE_ENDING, self._files)

    def cut_file(self, file: str) -> str:
        """Where the file of a hide that is cut goes, relative to the shelf's folder."""
        stem = file.removesuffix(HIDE_ENDING)
        name = _free(lambda n: stem + ("" if n == 1 else f"-{n}") + HIDE_ENDING, self._cut_files)
        return f"{CUT_FOLDER}/{name}"


def _files(folder: Path) -> set[str]:
    return {path.name.casefold() for path in folder.iterdir()} if folder.is_dir() else set()


def _free(name: Callable[[int], str], taken: set[str]) -> str:
    """The first of ``name(1)``, ``name(2)``, ... that is not taken; it is now."""
    free = next(made for n in count(1) if (made := name(n)).casefold() not in taken)
    taken.add(free.casefold())
    return free
