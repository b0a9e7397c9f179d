"""One at a time: a shelf is changed by one process, the others wait."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from nesting.errors import InputError

LOCK_FILE = ".shelf-lock"
PATIENCE_S = 30.0


class CannotLockError(InputError):
    """The folder cannot be written, so nobody can lock it."""


@contextmanager
def locked(folder: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold the shelf alone. Raises InputError when another holds it for longer than ``patience_s``.

    SQLite's exclusive transaction is one lock that works alike on every system, and the system itself
    lets go of it when the process that holds it dies, so no stale lock is ever left. Nothing is stored
    in the file.
    """
    try:
        connection = sqlite3.connect(folder / LOCK_FILE, timeout=patience_s, isolation_level=None)
    except sqlite3.Error as error:
        raise _refused(folder, error) from error
    with closing(connection):
        try:
            connection.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            raise _refused(folder, error) from error
        yield


def _refused(folder: Path, error: sqlite3.Error) -> InputError:
    if "locked" in str(error):
        return InputError(f"{folder}: another command is at this shelf; try again when it is done")
    if "not a database" in str(error):
        return InputError(f"{folder / LOCK_FILE}: is no lock of a shelf; remove the file")
    return CannotLockError(
        f"{folder}: the shelf cannot be locked ({error}); choose a folder that may be written"
    )
