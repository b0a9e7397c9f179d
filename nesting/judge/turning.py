"""The rules of turn: stretch along the spine, and the turns that a panel allows."""

from __future__ import annotations

import math

from nesting.files.hide import Hide
from nesting.files.panel import Panel
from nesting.judge.scene import Piece, Scene
from nesting.rings import Pose

TOLERANCE_DEG = 0.01
"""A turn may be off by this much: what 0.02 mm is on a panel 115 mm long."""


def turn_faults(scene: Scene) -> list[str]:
    """One sentence per piece and rule of turn that it breaks."""
    return [
        fault for piece in scene.pieces for fault in (*_stretch(piece, scene.hide), *_turns(piece, scene))
    ]


def spine_deg(hide: Hide) -> float | None:
    """Direction of the spine in degrees, 0 to 180; None when it is not known."""
    if hide.spine is None or hide.spine[0] == hide.spine[1]:
        return None
    (x0, y0), (x1, y1) = hide.spine
    return math.degrees(math.atan2(y1 - y0, x1 - x0)) % 180.0


def line_on_hide_deg(angle_deg: float, pose: Pose) -> float:
    """A direction of the panel as it lies on the hide, modulo 180."""
    upright = 180.0 - angle_deg if pose.mirrored else angle_deg
    return (upright + pose.rotation_deg) % 180.0


def between_lines_deg(one_deg: float, other_deg: float) -> float:
    """The acute angle between two lines, 0 to 90 degrees."""
    return abs((one_deg - other_deg + 90.0) % 180.0 - 90.0)


def _stretch(piece: Piece, hide: Hide) -> list[str]:
    spine, stretch = spine_deg(hide), piece.panel.stretch
    if spine is None or stretch is None:
        return []
    off = between_lines_deg(line_on_hide_deg(stretch.angle_deg, piece.placement.pose), spine)
    if off <= stretch.tolerance_deg + TOLERANCE_DEG:
        return []
    return [
        f'{piece.name} on hide "{hide.name}" lies {off:.2f}° off the spine; '
        f'panel "{piece.panel.name}" allows {stretch.tolerance_deg:g}°'
    ]


def _turns(piece: Piece, scene: Scene) -> list[str]:
    turns = piece.panel.turns_deg
    if turns is None or _listed(turns, piece.placement.pose.rotation_deg):
        return []
    return [
        f"{piece.name} on {scene.name} is turned {piece.placement.pose.rotation_deg:.2f}°; "
        f"{_turn_words(piece.panel)}"
    ]


def _listed(turns: tuple[float, ...], rotation_deg: float) -> bool:
    return any(abs((rotation_deg - turn + 180.0) % 360.0 - 180.0) <= TOLERANCE_DEG for turn in turns)


def _turn_words(panel: Panel) -> str:
    listed = ", ".join(f"{turn:g}°" for turn in panel.turns_deg or ())
    return f'panel "{panel.name}" allows {listed or "no turn at all"}'
