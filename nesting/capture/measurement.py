"""A measured hide with what a person needs to judge it, and what goes in besides the photograph."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nesting.capture.anchors import Anchors
from nesting.capture.decode import Photo
from nesting.capture.height import Stand
from nesting.capture.lattice import Lattice
from nesting.capture.marks import OpenMark
from nesting.capture.shape import Edge
from nesting.files.hide import Hide, Severity

Points = NDArray[np.float64]
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Measurement:
    """A measured hide with everything a person needs to judge it.

    ``to_mat`` (2,) is added to the hide's coordinates to reach the mat's (x = i · pitch, y = j · pitch)
    at the leather's height; ``outline_pixels`` (n, 2) is the outline as seen in the photograph. Where
    there is no ruled mat, ``lattice`` holds the points of known place, in mm, and ``pitch_mm`` is 1.
    """

    hide: Hide
    photo: Photo
    lattice: Lattice | Anchors
    stand: Stand
    pitch_mm: float
    thickness_mm: float
    to_mat: Points
    outline_pixels: Points
    open_marks: tuple[OpenMark, ...]
    sides: Mapping[str, float]
    holdout_side: str
    residual_p95_px: float
    straight_edges: tuple[Edge, ...]
    doubts: Mapping[str, float] = field(default_factory=dict)
    """The parts of the area's doubt by cause: one standard deviation each, mm²."""
    undecided_pixels: Points = field(default_factory=lambda: np.zeros((0, 2)))
    """Places (n, 2) px of the photograph that could be leather or mat."""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def pixels(self, points: Points) -> Points:
        """Points (n, 2) of the hide, in mm, to where they are seen in the photograph, in px."""
        raised = points + self.to_mat
        t = self.thickness_mm / self.stand.height
        # The inverse of ``lowered``.
        seen = (raised - self.stand.foot * t) / (1.0 - t)
        return self.lattice.camera.project(seen / self.pitch_mm)


@dataclass(frozen=True)
class Wishes:
    """What the person states: name and weight of the hide, thickness (mm), severities by the look of a stroke
    ("red", "dashed" or "red dashed"; the longest counts, then dashes), where others are ``weak``.

    ``spine_colour`` is the colour of an arrow drawn along the backbone, in no other use.
    """

    name: str = "hide"
    weight_oz: tuple[float, float] | None = None
    thickness_mm: float | None = None
    severity: Mapping[str, Severity] = field(default_factory=dict)
    spine_colour: str | None = None


NO_WISHES = Wishes()


@dataclass(frozen=True)
class Trust:
    """How far the frame of the measurement may be trusted.

    ``sides`` are shares of the hide's sides that show grid; ``held`` the largest change of area (%) with a
    part of the evidence left out, and which part, None where nothing can be left out; ``share`` the standard
    deviation of the area, as a share of it, that comes from the frame, and ``scale_share`` that of the mat's
    pitch; ``edge_mm`` how far all of the outline may lie in or out.
    """

    sides: Mapping[str, float]
    held: tuple[float, str] | None
    share: float
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    edge_mm: float | None = None
    scale_share: float = 0.0
