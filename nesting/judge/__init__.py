"""The judge: says whether a layout is valid, and which rule is broken where.

shapely and numpy only. It shares no code with what makes layouts: it flattens arcs, places pieces
and measures by its own means, so that a bug elsewhere shows here. Nothing is written that it finds
fault with.
"""

from __future__ import annotations

from nesting.errors import InvalidLayout
from nesting.files.layout import Layout
from nesting.judge.cautions import cautions
from nesting.judge.naming import name_faults, number_faults
from nesting.judge.pairing import mate_faults, pair_faults
from nesting.judge.placing import TOLERANCE_MM, place_faults
from nesting.judge.scene import Pattern, hide_broken, scene_of
from nesting.judge.turning import TOLERANCE_DEG, turn_faults

__all__ = ["TOLERANCE_DEG", "TOLERANCE_MM", "assert_layout_valid", "cautions", "faults"]


def faults(layout: Layout) -> list[str]:
    """Every rule of the layout contract that ``layout`` breaks, one plain sentence each; [] = valid.

    Lengths are held to within ``TOLERANCE_MM``, angles to within ``TOLERANCE_DEG``:

    - each piece lies inside the hide's outline, by the edge margin from its rough portion and by the
      straight-edge margin from the portion along a straight edge (see ``nesting.judge.edges``);
    - any two pieces of a hide are kerf + gap apart; a piece may lie in another's cut-out;
    - each part of a piece is the flaw margin clear of every flaw whose severity neither its panel nor
      the hidden zone that covers the part accepts; a hole is accepted nowhere;
    - the stretch direction lies along a known spine, and the turn is one that the panel lists;
    - pairs are whole, on one hide, mirrored as the panel says, and within their limit;
    - no piece, hide or panel occurs twice, and every number is finite.

    A piece, panel or hide that cannot be judged (NaN, an outline that crosses itself) is a fault.
    """
    found = name_faults(layout)
    if wrong := number_faults(layout):
        return found + wrong
    patterns = {panel.name: Pattern(panel) for panel in layout.panels}
    for pattern in patterns.values():
        found += pattern.broken
    scenes = []
    for laid in layout.hides:
        broken = hide_broken(laid.hide)
        scene, left_out = scene_of(laid, patterns)
        scenes.append(scene)
        found += [*broken, *left_out]
        if not broken:
            found += [*place_faults(scene, layout.cutting), *turn_faults(scene)]
    return found + mate_faults(layout) + pair_faults(scenes, layout.pair_within_mm, layout.mates)


def assert_layout_valid(layout: Layout) -> None:
    """Raise InvalidLayout, which carries the sentences of ``faults``, unless there are none."""
    if found := faults(layout):
        raise InvalidLayout(found)
