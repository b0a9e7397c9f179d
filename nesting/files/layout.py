"""A layout: which piece lies where on which hide. Self-contained: it can be judged and exported alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from nesting.files.hide import Hide
from nesting.files.order import Cutting
from nesting.files.panel import Panel
from nesting.rings import Pose


@dataclass(frozen=True)
class Placement:
    """One piece. ``pair`` names the pair it belongs to, None for a single piece."""

    piece: str
    panel: str
    pose: Pose
    pair: str | None = None


@dataclass(frozen=True)
class LaidHide:
    """A hide with the pieces that are cut from it."""

    hide: Hide
    placements: tuple[Placement, ...]


@dataclass(frozen=True)
class Unplaced:
    """Pieces that found no room, and why."""

    panel: str
    pieces: int
    why: str


@dataclass(frozen=True)
class Layout:
    """The result of planning. ``pair_within_mm`` maps a panel's name to its limit, where one was ordered.

    A pair's distance is measured from centre of area to centre of area of the two outlines. ``mates`` are
    names of the two panels of a pair where left and right differ; a limit stands under either of them.
    """

    title: str
    seed: int
    cutting: Cutting
    panels: tuple[Panel, ...]
    hides: tuple[LaidHide, ...]
    unplaced: tuple[Unplaced, ...] = ()
    pair_within_mm: tuple[tuple[str, float], ...] = ()
    mates: tuple[tuple[str, str], ...] = ()

    @cached_property
    def panel_by_name(self) -> dict[str, Panel]:
        """The panels by their names."""
        return {panel.name: panel for panel in self.panels}

    @property
    def pair_kinds(self) -> tuple[tuple[str, ...], ...]:
        """What pairs are made of: names of one panel, or of two that are mates."""
        alone = tuple((panel.name,) for panel in self.panels if panel.pairing != "none")
        return (*alone, *self.mates)
