"""Colours of the picture: apart for colour-blind people, and in grey by lightness, hatch and line.

Pair tints are lightened from the colour set of Okabe and Ito (Color Universal Design, 2008); flaws take
its strong colours, each with its own hatch.
"""

from __future__ import annotations

from dataclasses import dataclass

from nesting.files.hide import Severity
from nesting.files.layout import Placement

LEATHER = "#d3a876"
REMNANT = "#dfbd92"
LEATHER_EDGE = "#6b4423"
INK = "#2b2118"
SOFT_INK = "#6f6258"
PAPER = "#ffffff"
STRAIGHT_EDGE = "#0b3c5d"
GROOVE = "#8a7a66"
ANEW = "#7a1f5c"
"""Outline of a piece that a late find has moved."""
SINGLE_TINT = "#f4ead8"
PAIR_TINTS = ("#bfe0f5", "#a9dcc9", "#efc3dd", "#f7ec9f", "#b9c8ee", "#f6cba4")
"""Sky blue, green, purple, yellow, blue and orange, lightened."""


@dataclass(frozen=True)
class FlawLook:
    """How a severity is drawn: ``angles_deg`` of its hatch lines, ``step`` mm apart."""

    fill: str
    line: str
    angles_deg: tuple[float, ...]
    step: float
    words: str


FLAW_LOOKS: dict[Severity, FlawLook] = {
    "hole": FlawLook("#ffffff", "#1a1a1a", (45.0, -45.0), 7.0, "hole: no leather"),
    "weak": FlawLook("#ec8d5e", "#8f2f00", (45.0,), 7.0, "weak: no load here"),
    "blemish": FlawLook("#f3e79b", "#7a6a00", (0.0,), 7.0, "blemish: looks only"),
}


def tints(placements: tuple[Placement, ...]) -> dict[str, str]:
    """Fill of each piece by its name: both of a pair alike, neighbours in the list different."""
    pairs = list(dict.fromkeys(p.pair for p in placements if p.pair is not None))
    by_pair = {pair: PAIR_TINTS[i % len(PAIR_TINTS)] for i, pair in enumerate(pairs)}
    return {p.piece: by_pair[p.pair] if p.pair is not None else SINGLE_TINT for p in placements}
