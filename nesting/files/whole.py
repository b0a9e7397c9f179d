"""Files are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from nesting.errors import InputError


def write_whole(path: Path, data: bytes | str) -> None:
    """Write ``data`` (text as UTF-8) to ``path``: the old file stays until the new one is complete.

    Raises InputError when the folder is missing or cannot be written.
    """
    payload = data.encode("utf-8") if isinstance(data, str) else data
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with open(temporary, "xb") as stream:
            stream.write(payload)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, path)
    except OSError as error:
        temporary.unlink(missing_ok=True)
        raise InputError(
            f"{path}: cannot be written ({error.strerror}); choose a folder that exists and may be written"
        ) from error
