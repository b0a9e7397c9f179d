"""Measuring photographs, one or many, and writing what was found."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from cli.drawn import name_from
from nesting.errors import CaptureRefused, HidewrightError, InputError

if TYPE_CHECKING:
    from cli.photo_ways import Way
    from nesting.capture.measurement import Measurement, Wishes
    from nesting.files.hide import Hide, Price, Segment, Tannage


@dataclass(frozen=True)
class Labels:
    """What the person says of the hide and no photograph shows; ``stamped`` is a seller's area, mm².

    ``wishes`` go into the measurement itself, but for the name, which is each photograph's own.
    """

    cut: str
    tannage: Tannage
    price: Price | None
    spine: str | None
    stamped: float | None
    wishes: Wishes


@dataclass(frozen=True)
class Places:
    """Where the results of one photograph go."""

    hide: Path
    overlay: Path
    residuals: Path

    def written(self, m: Measurement) -> list[Path]:
        """Those that are written: no residual map of a handful of points."""
        from nesting.capture.residual_map import LEAST_POINTS

        enough = len(m.lattice.points) >= LEAST_POINTS
        return [self.hide, self.overlay, *([self.residuals] if enough else [])]


@dataclass(frozen=True)
class Job:
    """One photograph, the hide file to write, and what was asked of its name and overlay."""

    image: Path
    out: Path
    overlay: Path | None = None
    name: str | None = None

    @property
    def places(self) -> Places:
        stem = name_from(self.out, "hide")
        overlay = self.overlay or self.out.with_name(f"{stem}.overlay.png")
        return Places(self.out, overlay, overlay.with_name(f"{stem}.residuals.png"))


def run_one(job: Job, way: Way, labels: Labels, json_: bool) -> None:
    """Measure one photograph, write, and tell."""
    from cli.photo import progress
    from cli.photo_words import summary, tell

    check_targets(job)
    measurement = measured(job, way, labels, progress)
    write_all(measurement, job.places)
    tell(measurement, job.places, labels.stamped)
    if json_:
        print(json.dumps(summary(measurement, job.places, labels.stamped), indent=2, ensure_ascii=False))


def run_many(images: Sequence[Path], folder: Path, way: Way, labels: Labels, json_: bool) -> None:
    """Measure each photograph into the folder; one that cannot be measured does not stop the rest.

    Exit status 1 when any was not measured, after a table of all.
    """
    from cli.photo_table import Row, shown
    from cli.photo_words import summary

    jobs = jobs_for(images, folder)
    rows: list[Row] = []
    results = []
    with steps(len(jobs)) as step:
        for job in jobs:
            step(job.image.name)
            try:
                refuse_over_other(job)
                measurement = measured(job, way, labels, None)
                write_all(measurement, job.places)
            except HidewrightError as error:
                rows.append(Row(job.image.name, refused=str(error)))
                results.append({"photograph": str(job.image), "refused": str(error)})
            else:
                rows.append(Row.of(job.image.name, measurement))
                told = summary(measurement, job.places, None)
                results.append({"photograph": str(job.image), **told})
    print(shown(rows), file=sys.stderr)
    if json_:
        print(json.dumps(results, indent=2, ensure_ascii=False))
    bad = sum(bool(row.refused) for row in rows)
    if bad:
        print(f"hidewright: {bad} of {len(rows)} photographs were not measured", file=sys.stderr)
        raise typer.Exit(1)
    print(f"wrote {len(rows)} hides to {folder}; look at each overlay before you cut", file=sys.stderr)


def steps(count: int) -> _Steps:
    """A bar over so many photographs on a terminal; elsewhere a line for each."""
    return _Steps(count, sys.stderr.isatty())


class _Steps:
    def __init__(self, count: int, bar: bool) -> None:
        self.count, self.at = count, 0
        self._bar = None
        if bar:
            from rich.console import Console
            from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

            self._bar = Progress(
                TextColumn("measuring"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(),
                TextColumn("{task.description}"), console=Console(stderr=True), transient=True,
            )  # fmt: skip

    def __enter__(self) -> Callable[[str], None]:
        if self._bar:
            self._bar.start()
            self._task = self._bar.add_task("", total=self.count)
        return self.begin

    def begin(self, name: str) -> None:
        if self._bar:
            self._bar.update(self._task, completed=self.at, description=name)
        else:
            print(f"{self.at + 1} of {self.count}: {name}", file=sys.stderr, flush=True)
        self.at += 1

    def __exit__(self, *_: object) -> None:
        if self._bar:
            self._bar.stop()


def jobs_for(images: Sequence[Path], folder: Path) -> list[Job]:
    """A hide file in the folder for each photograph, named after it.

    Raises InputError where two would have the same name, or the folder cannot be made.
    """
    jobs: dict[str, Job] = {}
    for image in images:
        if image.stem in jobs:
            raise InputError(
                f"{image} and {jobs[image.stem].image} would both become {image.stem}.hide.json; rename one"
            )
        jobs[image.stem] = Job(image, folder / f"{image.stem}.hide.json")
    if folder.exists() and not folder.is_dir():
        raise InputError(f"{folder}: is a file, not a folder; choose another --out")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be made ({error.strerror}); choose another --out") from error
    return list(jobs.values())


def refuse_over_other(job: Job) -> None:
    """Raise InputError where a hide of that name is there already that this photograph did not give."""
    import hashlib

    from nesting.files.hide_file import read_hide

    if not job.out.exists() or not job.image.is_file():
        return
    there = read_hide(job.out)
    digest = hashlib.sha256(job.image.read_bytes()).hexdigest()
    if there.measured is None or there.measured.image_sha256 != digest:
        raise InputError(
            f"{job.image}: {job.out} is there already and was not measured from this photograph; "
            "rename one of the two"
        )


def measured(job: Job, way: Way, labels: Labels, progress: Callable[[str], None] | None) -> Measurement:
    """The photograph measured and labelled; a refusal names the photograph."""
    name = job.name or name_from(job.out, "hide")
    try:
        measurement = way(job.image, wishes=replace(labels.wishes, name=name), progress=progress)
    except CaptureRefused as refusal:
        words = str(refusal)
        named = words if words.startswith(str(job.image)) else f"{job.image}: {words}"
        raise CaptureRefused(named) from refusal
    hide = replace(measurement.hide, cut=labels.cut, price=labels.price, tannage=labels.tannage)
    if labels.spine is not None:
        hide = replace(hide, spine=spine_of(hide, labels.spine))
    return replace(measurement, hide=hide)


def spine_of(hide: Hide, text: str) -> Segment:
    """The spine as typed: a straight side of the outline, or two points."""
    from nesting.drawings.straight import edge_on_side, side_named, typed_segment

    side = side_named(text)
    if side is None:
        return typed_segment(text, "--spine")
    return edge_on_side(side, list(hide.straight_edges), hide.name)


def check_targets(job: Job) -> None:
    """Refuse to write over the photograph, two results into one file, or into a folder that is not there.

    Asked before the photograph is measured, so that nobody waits for a result that has no place.
    """
    places = job.places
    own = [places.hide, places.overlay, places.residuals]
    if len({p.resolve() for p in (job.image, *own)}) < 4:
        raise InputError(
            f"{places.hide}, {places.overlay} and {places.residuals} must be three files, "
            "none of them the photograph"
        )
    for path in own:
        if not path.absolute().parent.is_dir():
            raise InputError(f"{path}: there is no folder {path.parent}; make it first or choose another")


def write_all(measurement: Measurement, places: Places) -> None:
    """The hide and its pictures, all or none."""
    from nesting.capture.overlay import overlay_png
    from nesting.capture.residual_map import residual_map_png
    from nesting.files.hide_file import hide_from_json, hide_to_json
    from nesting.files.json_text import dump_json, parse_json
    from nesting.files.whole import write_together

    text = dump_json(hide_to_json(measurement.hide))
    # Read back strictly, as every file of ours is before it is written.
    hide_from_json(parse_json(text, str(places.hide)), str(places.hide))
    files: dict[Path, bytes | str] = {places.overlay: overlay_png(measurement), places.hide: text}
    residuals = residual_map_png(measurement)
    if residuals is not None:
        files[places.residuals] = residuals
    write_together(files)
