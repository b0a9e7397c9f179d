"""The dataclasses stay cheap to import: ``hidewright --help`` answers at once."""

from __future__ import annotations

import subprocess
import sys

HEAVY = "{'pydantic', 'shapely', 'scipy', 'cv2', 'numba', 'matplotlib', 'ezdxf', 'reportlab'}"


def test_dataclasses_import_nothing_heavy() -> None:
    code = f"import sys, nesting.files.layout, nesting.units; print({HEAVY} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
