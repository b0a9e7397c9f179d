"""The rules of names: nothing twice; and numbers that are numbers."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable

from nesting.files.layout import Layout


def name_faults(layout: Layout) -> list[str]:
    """One sentence per name that stands twice in the layout."""
    pieces = (placement.piece for laid in layout.hides for placement in laid.placements)
    return [
        *_twice("piece", pieces),
        *_twice("hide", (laid.hide.name for laid in layout.hides)),
        *_twice("panel", (panel.name for panel in layout.panels)),
    ]


def number_faults(layout: Layout) -> list[str]:
    """One sentence per margin or limit that is negative or no number."""
    cutting = layout.cutting
    numbers = {
        "kerf": cutting.kerf_mm,
        "gap": cutting.gap_mm,
        "edge margin": cutting.edge_margin_mm,
        "straight edge margin": cutting.straight_edge_margin_mm,
        "flaw margin": cutting.flaw_margin_mm,
    } | {f'pair limit of panel "{panel}"': limit for panel, limit in layout.pair_within_mm}
    return [
        f"the {name} is {value:g} mm; it must be zero or more"
        for name, value in numbers.items()
        if not (math.isfinite(value) and value >= 0.0)
    ]


def _twice(what: str, names: Iterable[str]) -> list[str]:
    return [
        f'{what} "{name}" occurs {count} times in the layout; it may occur once'
        for name, count in Counter(names).items()
        if count > 1
    ]
