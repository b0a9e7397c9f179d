"""What the README says to type is what works: its commands are those of .ci/run and of the program."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest
import typer

from cli.main import app
from nesting.files.order_file import OrderModel

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    """The code blocks of the README in a language."""
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)


def typed() -> list[str]:
    """Every command of the program that the README shows."""
    lines = [line for block in blocks("sh")[2:] for line in block.splitlines()]
    return [line.removeprefix("hidewright ") for line in lines if line.startswith("hidewright ")]


def test_it_opens_with_the_job_and_two_commands() -> None:
    head = README.split("```sh")[0]
    assert head.startswith("# hidewright\n\n")
    set_up, tests = (block.strip() for block in blocks("sh")[:2])
    assert "\n" not in set_up
    assert set_up.startswith("python3 -m venv .venv && ")
    assert set_up.endswith(" hidewright demo") or set_up.endswith("/hidewright demo")
    assert "pytest" in tests


def test_the_automatic_run_types_the_same() -> None:
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    for block in blocks("sh")[:2]:
        for line in block.strip().splitlines():
            assert run.count(line) == 1, line


@pytest.mark.parametrize("line", typed())
def test_commands_are_understood(line: str) -> None:
    name, *words = shlex.split(line)
    command = typer.main.get_command(app).commands[name]
    command.make_context(name, words)
    named = [word for word in words if word.startswith("sample_hides/")]
    assert [word for word in named if not (ROOT / word).is_file()] == []


def test_every_command_is_in_the_table() -> None:
    listed = re.findall(r"^\| `hidewright (\w+)` \|", README, re.MULTILINE)
    assert sorted(listed) == sorted(typer.main.get_command(app).commands)


def test_options_in_the_text_exist() -> None:
    commands = typer.main.get_command(app).commands.values()
    known = {option for command in commands for parameter in command.params for option in parameter.opts}
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README)) - {"--help"} <= known


def test_the_order_is_one() -> None:
    (order,) = blocks("toml")
    OrderModel.model_validate(tomllib.loads(order))


def test_pictures_and_pages_are_there() -> None:
    linked = re.findall(r"\]\(([^)#]+)\)", README)
    assert [name for name in linked if not (ROOT / name).is_file()] == []
    pictures = [ROOT / name for name in linked if name.endswith((".png", ".jpg"))]
    assert sum(picture.stat().st_size for picture in pictures) < 400_000


def test_it_says_that_photographs_are_rendered() -> None:
    assert "The sample photographs are rendered" in README
