"""``--help`` answers at once: nothing heavy is imported for it; every command explains itself."""

from __future__ import annotations

import subprocess
import sys

import pytest
import typer
from typer.testing import CliRunner

from cli.main import app

HEAVY = "{'pydantic', 'numpy', 'shapely', 'scipy', 'cv2', 'numba', 'matplotlib', 'ezdxf', 'reportlab', 'PIL'}"


def test_nothing_heavy_is_imported() -> None:
    code = f"import sys, cli.main; print({HEAVY} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


@pytest.mark.parametrize("name", sorted(typer.main.get_command(app).commands))
def test_every_command_explains_itself(name: str) -> None:
    result = CliRunner().invoke(app, [name, "--help"])
    assert result.exit_code == 0
    about = result.stdout.split("Options:")[0].split("Usage:")[1].splitlines()[1:]
    assert "".join(about).strip()
