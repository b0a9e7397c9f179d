"""How well pairs match: near each other on the hide, and stretching as mirror images of each other.

The two of a pair should stretch the same way; they are cut from corresponding positions, mirrored
about the backbone, or close together (Golding, *Manufacture of Boots and Shoes*, 1902). No numeric
limit is published: the figures are for a person to judge.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from nesting.files.report import PairMatch
from nesting.judge.pairing import pairs_of
from nesting.judge.scene import Piece, Scene
from nesting.judge.turning import between_lines_deg, spine_deg


def pair_matches(scenes: Sequence[Scene]) -> tuple[PairMatch, ...]:
    """The match of every whole pair, in the layout's order."""
    pairs = pairs_of([(scene, piece) for scene in scenes for piece in scene.pieces])
    return tuple(
        _match(name, members[0][0], members[0][1], members[1][1])
        for name, members in pairs.items()
        if len(members) == 2
    )


def _match(name: str, scene: Scene, one: Piece, other: Piece) -> PairMatch:
    return PairMatch(
        pair=name,
        panel=one.panel.name,
        mate=other.panel.name if other.panel.name != one.panel.name else None,
        hide=scene.hide.name,
        distance_mm=math.dist(one.centre, other.centre),
        stretch_difference_deg=stretch_difference_deg(scene, one, other),
    )


def stretch_difference_deg(scene: Scene, one: Piece, other: Piece) -> float | None:
    """The angle, 0 to 90 degrees, between the spine's direction in the one panel and in the other.

    Seen from the panel's own frame, where both pieces have one shape: so two pieces that mirror each
    other about the backbone differ by 0°, and so do two alike pieces turned the same way or by half a
    turn. Where the one is mirrored and the other is not this hangs on the spine: None if unknown. Two
    panels that are mates are left and right, the one drawn about as the mirror image of the other.
    """
    spine = spine_deg(scene.hide)
    mates = one.panel.name != other.panel.name
    if spine is None:
        if mates or one.placement.pose.mirrored != other.placement.pose.mirrored:
            return None
        spine = 0.0
    return between_lines_deg(_in_panel(spine, one), _in_panel(spine, other, mates))


def _in_panel(spine: float, piece: Piece, as_mate: bool = False) -> float:
    """The spine's direction in the panel's frame: turned back, then mirrored back."""
    back = spine - piece.placement.pose.rotation_deg
    return 180.0 - back if piece.placement.pose.mirrored or as_mate else back
