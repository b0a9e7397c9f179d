"""``hidewright demo``: the whole job on the samples, each step by the command a person would type."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from nesting.errors import InputError

PHOTO = "shoulder-photo-01"
NEEDED = (
    f"{PHOTO}.jpg", "side-03.dxf", "knee-roll.svg", "half-chap.panel.json", "half-chaps.toml",
    "shoulder-04.hide.json", "shoulder-05.hide.json",
)  # fmt: skip
ORDER = f"""\
title = "Half-chaps from the photographed shoulder, knee rolls from the traced side"
hides = ["{PHOTO}.hide.json", "side-03.hide.json"]

[[pieces]]
panel = "samples/half-chap.panel.json"
pairs = 4
weight_oz = "4-5 oz"                      # the shoulder
labour_minutes = 35

[[pieces]]
panel = "knee-roll.panel.json"
pairs = 6
weight_oz = "6-7 oz"                      # the side
labour_minutes = 20

[costs]
labour_per_hour = 24.0
remnant_credit = 0.5
"""


@dataclass(frozen=True)
class Step:
    """What is done, in plain words, and the words of the command that does it."""

    does: str
    words: tuple[str, ...]


def run(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder for all that is made.")] = Path(
        "demo"
    ),
    seconds: Annotated[
        float, typer.Option(min=0.1, help="How long to look for better layouts, for each of two orders.")
    ] = 8.0,
    rounds: Annotated[int | None, typer.Option(min=1, help="Bound that work instead of the time.")] = None,
) -> None:
    """The whole job on the samples: photograph and drawings to judged layouts and cut files, in a minute."""
    from cli.layout import make_folder, ready_folder

    samples = samples_folder()
    make_folder(ready_folder(out) / "samples")
    bound = ("--seconds", f"{seconds:g}") if rounds is None else ("--rounds", str(rounds))
    print(f"The samples are an invented workshop's. Copied to {out / 'samples'}.")
    copy_samples(samples, out)
    steps = steps_in(out, bound)
    statuses = [done(step, f"{i} of {len(steps)}") for i, step in enumerate(steps, start=1)]
    print(closing(out))
    if any(statuses):
        raise typer.Exit(max(statuses))


def samples_folder() -> Path:
    """Where the samples lie: beside this file when installed, beside its folder in a checkout."""
    here = Path(__file__).resolve().parent
    for folder in (here / "sample_hides", here.parent / "sample_hides"):
        if all((folder / name).is_file() for name in NEEDED):
            return folder
    raise InputError("the samples are missing from this installation; install hidewright again")


def copy_samples(samples: Path, out: Path) -> None:
    """The files that the demo needs, and the order that it lays second."""
    from nesting.files.whole import write_whole

    for name in NEEDED:
        shutil.copyfile(samples / name, out / "samples" / name)
    write_whole(out / "own-leather.toml", ORDER)


def steps_in(out: Path, bound: Sequence[str]) -> list[Step]:
    """The steps of the demo, with their files in ``out``; ``bound`` are the options that end a search."""

    def at(name: str) -> str:
        return str(out / name)

    return [
        Step(
            "Measure a shoulder on a photograph (rendered, not taken: no camera saw this shoulder).",
            ("photo", at(f"samples/{PHOTO}.jpg"), "--pitch", "1 in", "--weight", "4-5 oz",
             "--price", "49 USD", "--tannage", "vegetable", "--cut", "single shoulder",
             "--spine", "bottom edge", "-o", at(f"{PHOTO}.hide.json")),
        ),
        Step(
            "Take a side traced elsewhere, with its flaws, from a DXF drawing.",
            ("trace", at("samples/side-03.dxf"), "--weight", "6-7 oz", "--price", "7.40 USD/ft2",
             "--tannage", "vegetable", "--cut", "side", "-o", at("side-03.hide.json")),
        ),
        Step(
            "Take a panel drawn elsewhere, a knee roll, from an SVG drawing.",
            ("panel", at("samples/knee-roll.svg"), "--pairing", "mirrored", "-o", at("knee-roll.panel.json")),
        ),
        Step(
            "Lay six pairs of half-chaps from two shoulders: on one alone, if time allows.",
            ("layout", at("samples/half-chaps.toml"), "--out", at("half-chaps"), *bound),
        ),
        Step(
            "Lay half-chaps on the photographed shoulder and knee rolls on the traced side.",
            ("layout", at("own-leather.toml"), "--out", at("own-leather"), *bound),
        ),
        Step(
            "Draw 1:1 paper patterns, and a cut file for a cutter that reads only old DXF.",
            ("export", at("half-chaps/layout.json"), "--pdf", at("half-chaps/patterns.pdf"), "--paper", "a4",
             "--dxf", at("half-chaps/cut-r12.dxf"), "--dxf-version", "R12"),
        ),
        Step(
            "Check every file; the layouts are judged afresh.",
            ("check", *map(at, (
                f"{PHOTO}.hide.json", "side-03.hide.json", "knee-roll.panel.json", "own-leather.toml",
                "half-chaps/layout.json", "half-chaps/report.json", "own-leather/layout.json",
                "own-leather/report.json",
            ))),
        ),
    ]  # fmt: skip


def done(step: Step, number: str) -> int:
    """Say what is done and by which command, do it by that command; its exit status."""
    from cli.main import app

    print(f"\n{number}. {step.does}\n   $ hidewright {shlex.join(step.words)}", flush=True)
    command = typer.main.get_command(app)
    return int(command(list(step.words), prog_name="hidewright", standalone_mode=False) or 0)


def closing(out: Path) -> str:
    """What to look at first."""
    return "\n".join(
        (
            "\nDone. Look at these first:",
            f"  {out / f'{PHOTO}.overlay.png'}   what was found on the photograph",
            f"  {out / 'half-chaps' / 'layout.png'}   the layout, with its yield and cost",
            f"  {out / 'half-chaps' / 'cut.dxf'}   the cut file, 1:1 in mm",
            f"  {out / 'half-chaps' / 'patterns.pdf'}   paper patterns to print at 100 %",
            f"  {out / 'half-chaps' / 'report.json'}   areas, yield and cost in full",
            f"Change {out / 'own-leather.toml'} in a text editor and run its command again.",
        )
    )
