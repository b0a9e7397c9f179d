"""Masks of the hide: what hangs on it by a spike along a ruled line."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.capture.colours import Fields
from nesting.capture.masks import spikes_cut

MAT, LEATHER, BLUE = (0.15, 0.15, 0.14), (0.01, 0.01, 0.01), (0.3, 0.05, 0.02)


@pytest.mark.parametrize(("between", "kept"), [(BLUE, True), (MAT, False)])
def test_a_part_that_hangs_by_a_spike_is_kept_where_a_stroke_parts_it(
    between: tuple[float, float, float], kept: bool
) -> None:
    mask = np.zeros((120, 120), np.uint8)
    mask[10:110, 10:60] = 1
    mask[50:80, 63:90] = 1  # 810 px, of 4 px to the mm²: about 2 cm²
    mask[60:62, 60:63] = 1
    on_line = np.zeros(mask.shape, bool)
    on_line[59:63] = True
    linear = np.zeros((120, 120, 3), np.float32) + np.array(MAT, np.float32)
    linear[mask > 0] = LEATHER
    linear[50:80, 60:63] = between
    small = np.ones((40, 40, 3), np.float32)
    fields = Fields(
        small * np.array(MAT, np.float32),
        small * np.array(LEATHER, np.float32),
        0.002,
        small * np.float32(0.3),
    )
    cut = spikes_cut(mask, linear, fields, on_line, 1.8, 2.0)
    assert bool(cut[65, 80]) == kept
    assert cut[50:110, 10:60].all()
