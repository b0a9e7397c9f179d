"""One hide with its pieces where they lie, as the rules look at it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely import Polygon

from nesting.files.hide import Hide, Severity
from nesting.files.layout import LaidHide, Placement
from nesting.files.panel import Panel
from nesting.judge.shapes import SAGITTA_MM, encloses, laid, polygon, sane


@dataclass(frozen=True)
class Pattern:
    """A panel's shapes in its own frame."""

    panel: Panel

    @cached_property
    def filled(self) -> Polygon:
        """All inside the outline, cut-outs too."""
        return polygon(self.panel.outline)

    @cached_property
    def net(self) -> Polygon:
        """The leather of the piece."""
        return polygon(self.panel.outline, self.panel.cutouts)

    def exposed(self, severity: Severity) -> shapely.Geometry:
        """The part that does not accept a flaw of this severity: empty when all of it does."""
        if severity == "hole":
            return self.net
        if severity in self.panel.accepts:
            return Polygon()
        zones = [polygon(zone.outline) for zone in self.panel.hidden_zones if severity in zone.accepts]
        if not zones:
            return self.net
        hidden = shapely.union_all(zones)
        # A zone drawn along the panel's own edge may leave slivers of that edge, as wide as what
        # flattening takes from an arc. They are no part that shows: keep what lies by the rest.
        grown = shapely.buffer(hidden, 2.0 * SAGITTA_MM, join_style="mitre")
        core = shapely.difference(self.net, grown)
        by_core = shapely.buffer(core, 4.0 * SAGITTA_MM, join_style="mitre")
        return shapely.intersection(shapely.difference(self.net, hidden), by_core)

    @cached_property
    def broken(self) -> list[str]:
        """What is wrong with the panel itself, so that no piece of it can be judged."""
        name, panel = f'panel "{self.panel.name}"', self.panel
        stretch = panel.stretch
        angles = (stretch.angle_deg, stretch.tolerance_deg) if stretch else ()
        if not sane(*angles, *(panel.turns_deg or ())):
            return [f"{name}: a turn or the stretch is not a finite number"]
        if not encloses(panel.outline, panel.cutouts):
            return [f"{name}: its outline or a cut-out is not finite, or crosses or touches itself"]
        if not all(encloses(zone.outline) for zone in panel.hidden_zones):
            return [f"{name}: the outline of a hidden zone is not finite, or crosses or touches itself"]
        return []


@dataclass(frozen=True)
class Piece:
    """A placement with its pattern; ``filled`` and ``net`` lie on the hide."""

    placement: Placement
    pattern: Pattern

    @property
    def name(self) -> str:
        """How messages call the piece."""
        return f'piece "{self.placement.piece}"'

    @property
    def panel(self) -> Panel:
        """The panel it is cut from."""
        return self.pattern.panel

    @cached_property
    def filled(self) -> shapely.Geometry:
        """All inside the outline, on the hide."""
        return laid(self.pattern.filled, self.placement.pose)

    @cached_property
    def net(self) -> shapely.Geometry:
        """The leather of the piece, on the hide."""
        return laid(self.pattern.net, self.placement.pose)

    @cached_property
    def centre(self) -> tuple[float, float]:
        """Centre of area of the outline, mm."""
        point = self.filled.centroid
        return point.x, point.y


@dataclass(frozen=True)
class Scene:
    """A hide and those of its pieces that can be judged."""

    hide: Hide
    pieces: tuple[Piece, ...]

    @property
    def name(self) -> str:
        """How messages call the hide."""
        return f'hide "{self.hide.name}"'

    @cached_property
    def leather(self) -> Polygon:
        """All inside the hide's outline."""
        return polygon(self.hide.outline)


def scene_of(laid_hide: LaidHide, patterns: dict[str, Pattern]) -> tuple[Scene, list[str]]:
    """The scene of one hide, and a fault for each piece that had to be left out of it."""
    name = f'hide "{laid_hide.hide.name}"'
    pieces, faults = [], []
    for placement in laid_hide.placements:
        pattern = patterns.get(placement.panel)
        if pattern is None:
            faults.append(
                f'piece "{placement.piece}" on {name}: panel "{placement.panel}" is not in the layout'
            )
        elif not sane(placement.pose.rotation_deg, *placement.pose.at):
            faults.append(f'piece "{placement.piece}" on {name}: its place or turn is not a finite number')
        elif not pattern.broken:
            pieces.append(Piece(placement, pattern))
    return Scene(laid_hide.hide, tuple(pieces)), faults


def hide_broken(hide: Hide) -> list[str]:
    """What is wrong with the hide itself, so that nothing on it can be judged."""
    name = f'hide "{hide.name}"'
    segments = (*hide.straight_edges, *((hide.spine,) if hide.spine else ()))
    if not sane(*(number for segment in segments for point in segment for number in point)):
        return [f"{name}: a straight edge or the spine is not finite"]
    if not encloses(hide.outline):
        return [f"{name}: its outline is not finite, or crosses or touches itself"]
    return [
        f'{name}: the outline of flaw {i} "{flaw.kind}" is not finite, or crosses or touches itself'
        for i, flaw in enumerate(hide.flaws, 1)
        if not encloses(flaw.outline)
    ]
