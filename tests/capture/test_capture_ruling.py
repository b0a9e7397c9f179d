"""Ruled lines of two breadths beside leather that looks like the mat with some of their ink; 3 px a mm."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.capture import cv
from nesting.capture.colours import SORTING, leather_share, smoothed
from nesting.capture.edge import place_edge
from nesting.capture.learning import field_of, learn
from nesting.capture.plan import Plan
from nesting.capture.ruling import learn_ruling, line_bands, near_lines

SCALE, PITCH, SIZE, EDGE = 3.0, 10.0, 360, 211.3
PLAN = Plan(-5.0, 115.0, SCALE, SIZE, SIZE)
MAT, INK = np.array([0.05, 0.11, 0.02], np.float32), np.array([0.31, 0.62, 0.55], np.float32)
LEATHER = MAT + np.float32(0.12) * (INK - MAT) * np.array([0.6, 1.0, 1.6], np.float32)
HALF = {False: 0.4, True: 1.1}  # mm: of a thin and of a bold line


def picture(blur: float = 1.2) -> np.ndarray:
    """A mat with every fifth line bold, in linear light, and leather to the right of column ``EDGE``."""
    rng = np.random.default_rng(5)
    away = np.arange(SIZE) / SCALE
    cover = np.zeros((2, SIZE), np.float32)
    for axis, v in enumerate((PLAN.left + away, PLAN.top - away)):
        for k in range(-1, 13):
            half = HALF[k % 5 == 0]
            cover[axis] = np.maximum(cover[axis], np.clip((half - np.abs(v - k * PITCH)) * SCALE + 0.5, 0, 1))
    ink = np.maximum(cover[0][None, :], cover[1][:, None])[..., None]
    image = MAT + ink * (INK - MAT)
    right = np.clip(np.arange(SIZE) - EDGE + 0.5, 0, 1)[None, :, None]
    image = cv.blur((image + right * (LEATHER - image)).astype(np.float32), blur)
    return np.asarray(image * (1 + 0.015 * rng.standard_normal(image.shape)), np.float32)


def sides() -> tuple[np.ndarray, np.ndarray]:
    columns = np.broadcast_to(np.arange(SIZE)[None, :], (SIZE, SIZE))
    return columns < EDGE - 12, columns > EDGE + 12


SIGMAS = (21.0, 75.0, 300.0)


def bands(image: np.ndarray, mat: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    wide, core = near_lines(PLAN, PITCH, 3.0), near_lines(PLAN, PITCH, 0.4)
    field = field_of(image, PLAN, mat & ~(wide[0][None, :] | wide[1][:, None]), SIGMAS)
    return line_bands(image, field, mat, wide, near_lines(PLAN, PITCH, 1.07), core)


def test_every_line_is_as_broad_as_it_is_seen() -> None:
    across, down = bands(picture(), sides()[0])
    for band, thin, bold in ((across, 10.0, 50.0), (down, 40.0, 50.0)):
        at = [PLAN.to_pixels(np.array([[v, v]]))[0][0 if band is across else 1] for v in (thin, bold)]
        breadths = []
        for middle in np.round(at).astype(int):
            assert band[middle]
            off = np.flatnonzero(~band)
            breadths.append(off[off > middle].min() - off[off < middle].max() - 1)
        # Twice the half breadth, and the blur on both sides.
        assert 2 * 0.4 * SCALE + 2 < breadths[0] < 2 * 0.4 * SCALE + 8
        assert 2 * 1.1 * SCALE + 2 < breadths[1] < 2 * 1.1 * SCALE + 8
    # A line that lies nowhere open keeps the usual breadth.
    hidden = PLAN.to_pixels(np.array([[100.0, 0.0]]))[0][0]
    assert across[int(hidden) - 2 : int(hidden) + 3].all()
    assert not across[int(hidden) + 6]


def test_flanks_of_lines_that_look_like_the_leather_do_not_move_the_edge() -> None:
    image = picture()
    mat, leather = sides()
    found = bands(image, mat)
    on_line = found[0][None, :] | found[1][:, None]
    fields = learn(image, PLAN, mat, leather, on_line, SIGMAS)
    share, trust = leather_share(image, fields, on_line, SORTING)
    # Nothing on the open mat is taken for leather, nothing of the leather for mat.
    smooth = smoothed(share, trust, 1.0, 3.0, 6.0)
    inner = np.s_[10:-10, 10:-10]
    assert (smooth > 0.5)[inner][mat[inner]].mean() < 1e-3
    assert (smooth < 0.5)[inner][leather[inner]].mean() < 1e-3
    ruling = learn_ruling(image, fields, mat, found)
    mask = np.zeros((SIZE, SIZE), np.uint8)
    mask[12:-12, round(EDGE) : -12] = 1
    ring = place_edge(image, fields, ruling, mask, (3.0, 6.0))
    edge = ring[(np.abs(ring[:, 0] - EDGE) < 8) & (ring[:, 1] > 24) & (ring[:, 1] < SIZE - 24)]
    assert len(edge) > 250
    assert np.median(edge[:, 0]) == pytest.approx(EDGE, abs=0.25)
    assert np.abs(edge[:, 0] - EDGE).max() < 2.0


def test_ink_and_its_deviation_along_a_line() -> None:
    image = picture()
    mat, leather = sides()
    found = bands(image, mat)
    fields = learn(image, PLAN, mat, leather, found[0][None, :] | found[1][:, None], SIGMAS)
    ruling = learn_ruling(image, fields, mat, found)
    assert np.trace(ruling.spread) == pytest.approx(1.0)
    middle = round(float(PLAN.to_pixels(np.array([[50.0, 0.0]]))[0, 0]))
    rows = np.full(4, SIZE // 2)
    columns = middle + np.array([0, 3, 8, 15])
    ink, doubt = ruling.at(rows, columns)
    size = np.hypot.reduce(ink, axis=1)
    assert size[0] > 0.7
    assert size[0] > size[1] > 5 * max(size[2], size[3])
    assert doubt[3] == 0.0
    # Where two lines cross the ink lies once.
    crossing = round(float(PLAN.to_pixels(np.array([[0.0, 50.0]]))[0, 1]))
    both, _ = ruling.at(np.array([crossing]), np.array([middle]))
    assert np.hypot.reduce(both[0]) < 1.2 * size[0]
