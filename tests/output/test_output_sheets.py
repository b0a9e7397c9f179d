"""The sheets of a hide: which words stand where in the pictures, and the mat's lines in true places."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from nesting.files.layout import Layout, Placement
from nesting.output.ink import Ink
from nesting.output.mat import Mat
from nesting.output.mat_sheet import mat_sheet
from nesting.output.pattern import reference_points
from nesting.output.record import record
from nesting.output.sheet import placing_sheet
from nesting.rings import Pose, flatten


class Heard(Ink):
    """An ink that remembers the words of each page, and dashed lines inside windows with their scale."""

    def __init__(self) -> None:
        super().__init__("heard")
        self.words: list[tuple[str, tuple[float, float]]] = []
        self.dashed: list[np.ndarray] = []

    def text(self, at, words, *arguments, **rest):
        self.words.append((words, (float(at[0]), float(at[1]))))
        super().text(at, words, *arguments, **rest)

    def line(self, points, *arguments, dash=(), **rest):
        if dash:
            self.dashed.append(np.array(points))
        super().line(points, *arguments, dash=dash, **rest)


def heard(layout: Layout, sheet, *arguments) -> Heard:
    ink = Heard()
    sheet(ink, layout, record(layout)[0], "a4", *arguments)
    ink.pdf()
    return ink


def with_pieces(layout: Layout, *placements: Placement) -> Layout:
    (first, *_) = layout.hides
    return dataclasses.replace(layout, hides=(dataclasses.replace(first, placements=placements),))


def chap(number: int, x: float) -> Placement:
    return Placement(
        f"half-chap-{number:02d}-L", "half-chap", Pose(False, 0.0, (x, 50.0)), f"half-chap-{number:02d}"
    )


def fob(number: int, x: float) -> Placement:
    return Placement(f"key-fob-{number}", "key-fob", Pose(False, 0.0, (x, 400.0)))


def brow(number: int, x: float) -> Placement:
    return Placement(f"brow-band-{number}", "brow-band", Pose(False, 0.0, (x, 300.0)))


def test_pieces_of_two_panels_that_share_a_number_are_told_apart(workshop):
    """Key fob 1 and brow band 1 are both "1" on the table: the picture names the panels of these."""
    both = with_pieces(workshop(), chap(1, 50), fob(1, 300), brow(1, 400), fob(2, 360))
    said = [words for words, _ in heard(both, placing_sheet).words]
    assert said.count("1") == 2
    assert (said.count("key-fob"), said.count("brow-band"), said.count("half-chap")) == (1, 1, 0)
    # Alone each number is enough.
    alone = with_pieces(workshop(), chap(1, 50), fob(1, 300), fob(2, 360))
    said = [words for words, _ in heard(alone, placing_sheet).words]
    assert "key-fob" not in said
    assert said.count("1") == 1


def test_the_mats_lines_lie_where_the_mat_says(workshop):
    layout = with_pieces(workshop(), chap(1, 50), fob(1, 300))
    mat = Mat(25.4, (7.0, 20.0), 25.0)
    ink = heard(layout, mat_sheet, mat)
    box = flatten(layout.hides[0].hide.outline, 0.5)
    low, high = box.min(axis=0), box.max(axis=0)
    upright = sorted(ends[0, 0] for ends in ink.dashed if ends[0, 0] == ends[1, 0])
    level = sorted(ends[0, 1] for ends in ink.dashed if ends[0, 1] == ends[1, 1])
    assert len(upright) + len(level) == len(ink.dashed)
    for places, axis, pitch in ((upright, 0, 25.4), (level, 1, 25.0)):
        # Whole lines of the mat: the hide's own zero lies 7 right of one, and 20 above one.
        lines = (np.array(places) + mat.offset[axis]) / pitch
        assert lines == pytest.approx(np.round(lines), abs=1e-9)
        # The first counted lies left of or below zero, where a measured hide's box begins.
        assert -pitch < places[0] <= 0.0
        assert places[-1] >= high[axis] - 2 * pitch
        assert len(set(np.diff(np.round(lines)).tolist())) == 1
    # Each is numbered beside the hide, from 0.
    numbers = {words for words, at in ink.words if words.isdigit() and (at[0] < low[0] or at[1] < low[1])}
    step = round((upright[1] - upright[0]) / 25.4)
    assert {"0", str(step), str(step * (len(upright) - 1))} <= numbers


def test_the_table_from_the_mats_lines_is_that_of_the_points(workshop):
    layout = with_pieces(workshop(), Placement("slip-1", "brow-band", Pose(False, 0.0, (100.0, 200.0))))
    ink = heard(layout, mat_sheet, Mat(10.0, (3.0, 0.0)))
    cells = [words for words, _ in ink.words if " lines + " in words]
    assert len(cells) == 4
    panel = layout.panel_by_name["brow-band"]
    for point, right, up in zip(reference_points(panel), cells[::2], cells[1::2], strict=True):
        for cell, value in ((right, point[0] + 103.0), (up, point[1] + 200.0)):
            lines, mm = cell.removesuffix(" mm").split(" lines + ")
            assert 10 * int(lines) + float(mm) == pytest.approx(value, abs=0.06)
