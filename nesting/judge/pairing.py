"""The rules of pairs: whole, of one panel, on one hide, near enough, mirrored as the panel says."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence

from nesting.judge.placing import TOLERANCE_MM, millimetres
from nesting.judge.scene import Piece, Scene

Member = tuple[Scene, Piece]


def pair_faults(scenes: Sequence[Scene], within_mm: Sequence[tuple[str, float]]) -> list[str]:
    """One sentence per pair or piece and rule of pairs that it breaks; ``within_mm`` by panel."""
    members = [(scene, piece) for scene in scenes for piece in scene.pieces]
    faults = [fault for member in members for fault in _single(*member)]
    for name, pair in pairs_of(members).items():
        faults += _pair(f'pair "{name}"', pair, within_mm)
    return faults


def pairs_of(members: Sequence[Member]) -> dict[str, list[Member]]:
    """The pieces of each pair by its name, in the layout's order."""
    pairs: dict[str, list[Member]] = defaultdict(list)
    for scene, piece in members:
        if piece.placement.pair is not None:
            pairs[piece.placement.pair].append((scene, piece))
    return dict(pairs)


def _single(scene: Scene, piece: Piece) -> list[str]:
    panel, placement = piece.panel, piece.placement
    faults = []
    if panel.pairing != "mirrored" and placement.pose.mirrored:
        faults.append(f'{piece.name} on {scene.name} is mirrored; panel "{panel.name}" is never mirrored')
    if panel.pairing == "none" and placement.pair is not None:
        faults.append(
            f'{piece.name} on {scene.name} is said to be of pair "{placement.pair}"; '
            f'panel "{panel.name}" has no pairs'
        )
    if panel.pairing != "none" and placement.pair is None:
        faults.append(f'{piece.name} on {scene.name} is of no pair; panel "{panel.name}" comes in pairs')
    return faults


def _pair(name: str, pair: list[Member], within_mm: Sequence[tuple[str, float]]) -> list[str]:
    if len(pair) != 2:
        return [f"{name} has {len(pair)} piece{'s' if len(pair) != 1 else ''} in the layout; a pair has two"]
    (scene, one), (other_scene, other) = pair
    if one.panel.name != other.panel.name:
        return [
            f"{name} is of one panel by its rule, but its pieces are of "
            f'"{one.panel.name}" and "{other.panel.name}"'
        ]
    faults = []
    if scene is not other_scene:
        faults.append(f"{name} lies on {scene.name} and {other_scene.name}; both must come from one hide")
    if one.panel.pairing == "mirrored" and one.placement.pose.mirrored == other.placement.pose.mirrored:
        how = "both mirrored" if one.placement.pose.mirrored else "neither mirrored"
        faults.append(f"{name} on {scene.name}: {how}; one must be as drawn and one mirrored")
    if scene is other_scene:
        faults += _near(name, one, other, [mm for panel, mm in within_mm if panel == one.panel.name])
    return faults


def _near(name: str, one: Piece, other: Piece, limits: list[float]) -> list[str]:
    apart = math.dist(one.centre, other.centre)
    return [
        f"{name}: its pieces lie {millimetres(apart)} apart, centre to centre; "
        f"{millimetres(limit)} was asked for"
        for limit in limits
        if not apart <= limit + TOLERANCE_MM
    ]
