"""The shapes of the usual cuts, in units of their straight edge, which runs from (0, 0) to (1, 0)."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.rings import Point


@dataclass(frozen=True)
class CutShape:
    """Points round the outline from the far end of the straight edge to its near end, and areas in ft².

    ``spine_across``: the backbone runs square to the straight edge, not along it.
    """

    points: tuple[Point, ...]
    usual_ft2: float
    range_ft2: tuple[float, float]
    spine_across: bool = False


_SINGLE_SHOULDER = CutShape(
    (
        (1.0, 0.0), (1.02, 0.08), (1.01, 0.19), (0.94, 0.27), (0.85, 0.33), (0.78, 0.43), (0.74, 0.56),
        (0.68, 0.68), (0.6, 0.67), (0.55, 0.57), (0.44, 0.54), (0.3, 0.56), (0.16, 0.58), (0.03, 0.56),
        (-0.01, 0.44), (0.0, 0.28), (-0.01, 0.12), (0.0, 0.0),
    ),
    7.0, (5.0, 9.0),
)  # fmt: skip
_DOUBLE_SHOULDER = CutShape(
    (
        (1.0, 0.0), (1.01, 0.1), (1.0, 0.24), (1.0, 0.36), (1.05, 0.47), (1.06, 0.56), (0.99, 0.6),
        (0.89, 0.58), (0.78, 0.63), (0.7, 0.73), (0.63, 0.83), (0.5, 0.86), (0.37, 0.83), (0.3, 0.73),
        (0.22, 0.63), (0.11, 0.58), (0.01, 0.6), (-0.06, 0.56), (-0.05, 0.47), (0.0, 0.36),
        (0.0, 0.24), (-0.01, 0.1), (0.0, 0.0),
    ),
    14.0, (10.0, 18.0), spine_across=True,
)  # fmt: skip
_SIDE = CutShape(
    (
        (1.0, 0.0), (1.01, 0.06), (1.0, 0.13), (0.95, 0.21), (0.89, 0.29), (0.86, 0.38), (0.83, 0.48),
        (0.77, 0.49), (0.73, 0.42), (0.65, 0.42), (0.52, 0.44), (0.4, 0.44), (0.3, 0.43), (0.24, 0.48),
        (0.18, 0.56), (0.1, 0.55), (0.08, 0.44), (0.03, 0.32), (-0.01, 0.19), (0.0, 0.08), (0.0, 0.0),
    ),
    24.0, (17.5, 35.0),
)  # fmt: skip
_BEND = CutShape(
    (
        (1.0, 0.0), (1.01, 0.14), (1.0, 0.32), (1.0, 0.47), (0.91, 0.53), (0.76, 0.52), (0.6, 0.51),
        (0.42, 0.53), (0.26, 0.55), (0.13, 0.51), (0.05, 0.38), (-0.01, 0.24), (0.01, 0.1), (0.0, 0.0),
    ),
    9.5, (8.0, 11.0),
)  # fmt: skip
_BELLY = CutShape(
    (
        (1.0, 0.0), (1.02, 0.06), (1.0, 0.14), (0.93, 0.23), (0.85, 0.24), (0.77, 0.18), (0.62, 0.165),
        (0.45, 0.17), (0.3, 0.175), (0.2, 0.2), (0.13, 0.26), (0.05, 0.25), (0.0, 0.15), (-0.01, 0.06),
        (0.0, 0.0),
    ),
    5.5, (4.0, 7.0),
)  # fmt: skip

SHAPES: dict[str, CutShape] = {
    "single shoulder": _SINGLE_SHOULDER,
    "double shoulder": _DOUBLE_SHOULDER,
    "side": _SIDE,
    "bend": _BEND,
    "belly": _BELLY,
}
"""By the trade's words for the cuts. Usual areas: side 24 ft² (half a hide of 35 to 70), double shoulder
14 and single half of it (common practice, no source); bend 8 to 11, belly 4 to 7 (from memory); the
ranges of the shoulders are our own."""
