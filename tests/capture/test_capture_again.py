"""A photograph measured again for the hide it gave: its points are found where the renderer drew them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from nesting.capture.again import hide_of_photograph, measure_again
from nesting.capture.measure import Measurement, Wishes, measure_photograph
from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.hide_file import hide_from_json, hide_to_json
from nesting.rings import flatten, ring_from_points


@pytest.fixture(scope="module")
def hide(plain: Any) -> Hide:
    """As a person gets it: measured with a weight, written and read."""
    found = measure_photograph(plain.path, 10.0, wishes=Wishes("piece", (3.5, 4.0)))
    return hide_from_json(hide_to_json(found.hide), "piece")


@pytest.fixture(scope="module")
def again(plain: Any, hide: Hide) -> Measurement:
    return measure_again(plain.path, 10.0, hide)


def test_points_of_the_hide_are_seen_where_the_renderer_puts_them(
    plain: Any, hide: Hide, again: Measurement
) -> None:
    """The renderer's own camera, which shares no code with the measurement, projects the same points.

    Its mat begins at another line: the shift between the two is a whole number of pitches and its offset.
    """
    from benchmarks.render import Camera

    ours = np.array(shapely.Polygon(flatten(hide.outline)).centroid.coords[0])
    true = np.array(shapely.make_valid(shapely.Polygon(plain.scene.outline)).centroid.coords[0])
    offset = np.array(plain.scene.mat_offset)
    lines = np.round((true - ours - again.to_mat - offset) / plain.scene.pitch)
    shift = again.to_mat + offset + lines * plain.scene.pitch
    spots = np.array([(x, y) for x in range(20, 380, 40) for y in range(20, 160, 40)], dtype=float)
    seen = Camera(plain.scene).project(spots + shift, plain.scene.thickness)
    assert np.hypot(*(again.pixels(spots) - seen).T).max() < 0.5


def test_the_mat_offset_puts_lines_where_lines_are(plain: Any, again: Measurement) -> None:
    """Lattice points, as mat millimetres less the offset, project back to where the lines were seen."""
    labels, points = again.lattice.labels, again.lattice.points
    flat = replace(again, thickness_mm=0.0).pixels(labels * 10.0 - again.to_mat)
    assert np.percentile(np.hypot(*(flat - points).T), 95) < 0.5


def test_which_hide_it_was(plain: Any, hide: Hide, tmp_path: Path) -> None:
    traced = replace(hide, name="traced", measured=None)
    assert hide_of_photograph(plain.path, [traced, hide]) == 1
    with pytest.raises(
        InputError, match=r'no hide of the layout \("traced"\) was measured from this photograph'
    ):
        hide_of_photograph(plain.path, [traced])
    saved_anew = tmp_path / "copy.jpg"
    saved_anew.write_bytes(plain.path.read_bytes() + b"\0")
    with pytest.raises(InputError, match="not a copy saved anew"):
        hide_of_photograph(saved_anew, [hide])
    with pytest.raises(InputError, match="check the name"):
        hide_of_photograph(tmp_path / "none.jpg", [hide])


def test_another_pitch_is_named_and_the_right_one_suggested(
    plain: Any, hide: Hide, again: Measurement, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Measured at 12 mm what was measured at 10: all areas come out 1.44 times as large."""
    monkeypatch.setattr("nesting.capture.again.measure_photograph", lambda *_, **__: again)
    assert hide.measured is not None
    smaller = replace(hide.measured, best_area_mm2=hide.measured.best_area_mm2 / 1.44)
    with pytest.raises(InputError, match=r"with a pitch of 12 mm .*\(about 10 mm\)"):
        measure_again(plain.path, 12.0, replace(hide, measured=smaller))


def test_a_hide_changed_since_is_refused(
    plain: Any, hide: Hide, again: Measurement, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nesting.capture.again.measure_photograph", lambda *_, **__: again)
    moved = replace(hide, outline=ring_from_points(flatten(hide.outline) + np.array((3.0, 0.0))))
    with pytest.raises(InputError, match="has been changed since it was measured"):
        measure_again(plain.path, 10.0, moved)
    assert measure_again(plain.path, 10.0, hide) is again
    with pytest.raises(InputError, match="was not measured from a photograph"):
        measure_again(plain.path, 10.0, replace(hide, measured=None))
