"""Colours of mat and leather that a compressed file bends."""

from __future__ import annotations

import numpy as np

from nesting.capture.colours import SORTING, Fields, leather_share

GREY, BLACK = (0.13, 0.125, 0.12), (0.01, 0.011, 0.012)


def fields_of(mat: tuple[float, ...], leather: tuple[float, ...], noise: float) -> Fields:
    flat = np.ones((30, 30, 3), np.float32)
    return Fields(
        flat * np.array(mat, np.float32), flat * np.array(leather, np.float32), noise, flat * np.float32(0.3)
    )


def test_grey_mat_of_a_slightly_bent_hue_is_no_black_leather() -> None:
    # The leather is a little bluer than the mat, and so is the mat itself where the file keeps little colour.
    fields = fields_of(GREY, BLACK, 0.0005)
    bent = np.array(GREY, np.float32) * np.array([0.98, 1.0, 1.02], np.float32)
    share, _ = leather_share(
        np.broadcast_to(bent, (30, 30, 3)).copy(), fields, np.zeros((30, 30), bool), SORTING
    )
    assert share.max() < 0.35
    lit = np.broadcast_to(np.array(BLACK, np.float32), (30, 30, 3)).copy()
    assert leather_share(lit, fields, np.zeros((30, 30), bool), SORTING)[0].min() > 0.9
