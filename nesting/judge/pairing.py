"""The rules of pairs: whole, of one panel or two mates, on one hide, near enough, mirrored as is said."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from nesting.files.layout import Layout
from nesting.judge.placing import TOLERANCE_MM, millimetres
from nesting.judge.scene import Piece, Scene

Member = tuple[Scene, Piece]


def pair_faults(
    scenes: Sequence[Scene], within_mm: Sequence[tuple[str, float]], mates: Sequence[tuple[str, str]] = ()
) -> list[str]:
    """One sentence per pair or piece and rule of pairs that it breaks.

    ``within_mm`` is by panel; ``mates`` are the names of two panels that make a pair together.
    """
    mate = {name: other for pair in mates for name, other in (pair, pair[::-1])}
    members = [(scene, piece) for scene in scenes for piece in scene.pieces]
    faults = [fault for member in members for fault in _single(*member, mate)]
    for name, pair in pairs_of(members).items():
        faults += _pair(f'pair "{name}"', pair, within_mm, mate)
    return faults


def mate_faults(layout: Layout) -> list[str]:
    """One sentence per panel that cannot be the mate that the layout calls it."""
    names = [name for pair in layout.mates for name in pair]
    faults = [
        f'panel "{name}" is the mate of {count} panels; it may be that of one'
        for name, count in Counter(names).items()
        if count > 1
    ]
    for name in dict.fromkeys(names):
        panel = layout.panel_by_name.get(name)
        if panel is None:
            faults.append(f'panel "{name}" is said to have a mate and is not in the layout')
        elif panel.pairing != "none":
            faults.append(f'panel "{name}" has a mate and pairs with itself ("{panel.pairing}") besides')
    return faults


def pairs_of(members: Sequence[Member]) -> dict[str, list[Member]]:
    """The pieces of each pair by its name, in the layout's order."""
    pairs: dict[str, list[Member]] = defaultdict(list)
    for scene, piece in members:
        if piece.placement.pair is not None:
            pairs[piece.placement.pair].append((scene, piece))
    return dict(pairs)


def _single(scene: Scene, piece: Piece, mate: Mapping[str, str]) -> list[str]:
    panel, placement = piece.panel, piece.placement
    paired = panel.pairing != "none" or panel.name in mate
    faults = []
    if panel.pairing != "mirrored" and placement.pose.mirrored:
        faults.append(f'{piece.name} on {scene.name} is mirrored; panel "{panel.name}" is never mirrored')
    if not paired and placement.pair is not None:
        faults.append(
            f'{piece.name} on {scene.name} is said to be of pair "{placement.pair}"; '
            f'panel "{panel.name}" has no pairs'
        )
    if paired and placement.pair is None:
        faults.append(f'{piece.name} on {scene.name} is of no pair; panel "{panel.name}" comes in pairs')
    return faults


def _pair(
    name: str, pair: list[Member], within_mm: Sequence[tuple[str, float]], mate: Mapping[str, str]
) -> list[str]:
    if len(pair) != 2:
        return [f"{name} has {len(pair)} piece{'s' if len(pair) != 1 else ''} in the layout; a pair has two"]
    (scene, one), (other_scene, other) = pair
    asked = mate.get(one.panel.name)
    if asked is not None and other.panel.name != asked:
        return [
            f'{name}: the mate of panel "{one.panel.name}" is "{asked}", but its pieces are of '
            f'"{one.panel.name}" and "{other.panel.name}"'
        ]
    if asked is None and one.panel.name != other.panel.name:
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
        panels = (one.panel.name, other.panel.name)
        faults += _near(name, one, other, [mm for panel, mm in within_mm if panel in panels])
    return faults


def _near(name: str, one: Piece, other: Piece, limits: list[float]) -> list[str]:
    apart = math.dist(one.centre, other.centre)
    return [
        f"{name}: its pieces lie {millimetres(apart)} apart, centre to centre; "
        f"{millimetres(limit)} was asked for"
        for limit in limits
        if not apart <= limit + TOLERANCE_MM
    ]
