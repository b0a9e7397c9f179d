"""Files are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from nesting.errors import InputError


def write_whole(path: Path, data: bytes | str) -> None:
    """Write ``data`` (text as UTF-8) to ``path``: the old file stays until the new one is complete.

    Raises InputError when the folder is missing or cannot be written.
    """
    write_together({path: data})


def write_together(files: Mapping[Path, bytes | str]) -> None:
    """Write several files as ``write_whole`` does one; none takes its place before all are complete.

    Raises InputError naming the file that cannot be written, with all old files as they were.
    """
    waiting: list[tuple[Path, Path]] = []
    try:
        for path, data in files.items():
            waiting.append((path.with_name(f".{path.name}.{secrets.token_hex(4)}.part"), path))
            _write(*waiting[-1], data)
        for temporary, path in waiting:
            os.replace(temporary, path)
    except OSError as error:
        raise InputError(
            f"{path}: cannot be written ({error.strerror}); choose a folder that exists and may be written"
        ) from error
    finally:
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)


def _write(temporary: Path, path: Path, data: bytes | str) -> None:
    if path.is_dir():
        raise IsADirectoryError(None, "there is a folder of that name")
    with open(temporary, "xb") as stream:
        stream.write(data.encode("utf-8") if isinstance(data, str) else data)
        stream.flush()
        os.fsync(stream.fileno())
