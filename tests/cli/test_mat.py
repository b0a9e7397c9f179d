"""The mat command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cli.main import app
from nesting.errors import InputError


def test_writes_a_pdf_and_says_how_large_the_field_is(tmp_path: Path) -> None:
    out = tmp_path / "targets.pdf"
    result = CliRunner().invoke(
        app, ["mat", "--paper", "letter", "--sheets", "4", "-o", str(out), "--json"], catch_exceptions=False
    )
    assert result.exit_code == 0
    assert out.read_bytes()[:5] == b"%PDF-"
    assert json.loads(result.stdout)["field_mm"] == [180.0, 216.0]
    assert "180 mm x 216 mm" in result.stderr


@pytest.mark.parametrize("options", [["--paper", "a0"], ["--sheets", "2"], ["--sheets", "40"]])
def test_usage_errors(tmp_path: Path, options: list[str]) -> None:
    assert CliRunner().invoke(app, ["mat", "-o", str(tmp_path / "x.pdf"), *options]).exit_code == 2


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["mat", "-o", str(tmp_path / "no" / "x.pdf")])
    assert isinstance(result.exception, InputError)
