"""One at a time: a shelf is changed by one process, the others wait."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager, suppress
from pathlib import Path

from nesting.errors import InputError

LOCK_FILE = ".shelf-lock"
PATIENCE_S = 30.0

Identity = tuple[int, int, int]


class CannotLockError(InputError):
    """The folder cannot be written, so nobody can lock it."""


@contextmanager
def locked(folder: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold the shelf alone. Raises InputError when another holds it for longer than ``patience_s``.

    SQLite's exclusive transaction is one lock that works alike on every system, and the system itself
    lets go of it when the process that holds it dies, so no stale lock is ever left. Nothing is stored
    in the file. Who made it takes it away again, so that a folder that was only looked at is as it was;
    whoever waited for it meanwhile sees that what was waited for is no longer the folder's lock.
    """
    path, until = folder.absolute() / LOCK_FILE, time.monotonic() + patience_s
    while True:
        made = _make_sure(path)
        before = _identity(path)
        with ExitStack() as held:
            refused: sqlite3.Error | None = None
            try:
                held.enter_context(closing(_hold(path, max(0.0, until - time.monotonic()))))
            except sqlite3.Error as error:
                refused = error
            # A file once taken away never comes back: the same one before and after was there all along.
            if before is None or _identity(path) != before:
                continue
            if refused is not None:
                raise _refused(folder, refused) from refused
            try:
                yield
            finally:
                if made:
                    # Not on systems that keep a file which is open: there it stays, and does no harm.
                    with suppress(OSError):
                        path.unlink()
            return


def _hold(path: Path, patience_s: float) -> sqlite3.Connection:
    """The lock file, held until it is closed; it must be there. Raises sqlite3.Error."""
    connection = sqlite3.connect(
        f"{path.as_uri()}?mode=rw", timeout=patience_s, isolation_level=None, uri=True
    )
    try:
        # There is nothing to roll back, and so no second file to leave behind.
        connection.execute("PRAGMA journal_mode = MEMORY")
        connection.execute("BEGIN EXCLUSIVE")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _make_sure(path: Path) -> bool:
    """Have the file there; whether it had to be made. Raises CannotLockError."""
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o666))
    except FileExistsError:
        return False
    except OSError as error:
        raise _cannot(path.parent, error.strerror or str(error)) from error
    return True


def _identity(path: Path) -> Identity | None:
    """What tells a file from every other that stands in its place later; None where there is none.

    The number alone may be given to a later file, but not with the same time of making.
    """
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino, found.st_ctime_ns


def _refused(folder: Path, error: sqlite3.Error) -> InputError:
    if "locked" in str(error):
        return InputError(f"{folder}: another command is at this shelf; try again when it is done")
    if "not a database" in str(error):
        return InputError(f"{folder / LOCK_FILE}: is no lock of a shelf; remove the file")
    return _cannot(folder, str(error))


def _cannot(folder: Path, why: str) -> CannotLockError:
    return CannotLockError(
        f"{folder}: the shelf cannot be locked ({why}); choose a folder that may be written"
    )
