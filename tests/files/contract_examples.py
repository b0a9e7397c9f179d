"""The examples of the file contract, word for word: what they hold stays valid for good."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

HIDE = """
{"kind": "hide", "version": 1, "name": "shoulder-07", "cut": "single shoulder",
 "weight_oz": [4, 5], "tannage": "vegetable", "unit": "mm",
 "price": {"amount": 62.0, "currency": "USD", "basis": "hide"},
 "outline": [[0, 0], [1100, 0], [1130, 420], [20, 640]],
 "straight_edges": [[[0, 0], [1100, 0]]],
 "flaws": [{"kind": "brand", "severity": "weak", "outline": [[300, 200], [340, 210], [330, 250]]}],
 "spine": [[0, 0], [0, 1]],
 "measured": null}
"""

PANEL = """
{"kind": "panel", "version": 1, "name": "half-chap", "unit": "mm", "outline": [[0, 0], [200, 0], [220, 300], [-10, 310]],
 "cutouts": [], "punches": [{"at": [10, 20], "diameter": 4.0}], "marks": [{"at": [100, 20]}],
 "lines": [{"role": "groove", "points": [[5, 5], [195, 5]]}],
 "pairing": "mirrored", "stretch": {"angle_deg": 90, "tolerance_deg": 15}, "turns_deg": null,
 "accepts": ["blemish"], "hidden_zones": [{"outline": [[0, 280], [210, 280], [210, 310], [0, 310]], "accepts": ["weak", "blemish"]}]}
"""  # noqa: E501

ORDER = """
title = "Half-chaps for a riding school"
hides = ["shoulder-*.hide.json"]          # relative to this file
[cutting]
tool = "knife"                            # knife, die, laser, blade, waterjet
kerf = "0 mm"
gap = "0.5 mm"                            # left between pieces on top of the kerf
edge_margin = "6 mm"                      # from the rough outline
straight_edge_margin = "1.5 mm"
flaw_margin = "3 mm"
[[pieces]]
panel = "half-chap.panel.json"
pairs = 6                                 # or: pieces = 12, or: fill = true (after the rest, as many as fit)
pair_within = "400 mm"                    # optional: how far apart the two of a pair may lie
weight_oz = [4, 6]                        # optional: only hides inside this range
hardware = [{item = "eyelet", count = 8, each = 0.06}]
labour_minutes = 35
[costs]
labour_per_hour = 24.0
remnant_credit = 0.5                      # share of its area price that a kept remnant is worth
"""

LAYOUT = """
{"kind": "layout", "version": 1, "title": "...", "seed": 1,
 "cutting": {"tool": "knife", "kerf_mm": 0, "gap_mm": 0.5, "edge_margin_mm": 6, "straight_edge_margin_mm": 1.5, "flaw_margin_mm": 3},
 "panels": ["...the panel objects..."],
 "hides": [{"hide": "...the hide object...",
   "placements": [{"piece": "half-chap-03-R", "pair": "half-chap-03", "panel": "half-chap", "mirrored": true, "rotation_deg": 91.7, "at": [412.08, 96.5]}]}],
 "unplaced": [{"panel": "half-chap", "pieces": 2, "why": "no room left on any hide of 4-6 oz"}]}
"""  # noqa: E501


def hide() -> dict[str, Any]:
    """The hide's example as an object of its own."""
    return dict(json.loads(HIDE))


def panel() -> dict[str, Any]:
    """The panel's example as an object of its own."""
    return dict(json.loads(PANEL))


def layout() -> dict[str, Any]:
    """The layout's example with the panel's and the hide's in the places kept for them."""
    data = dict(json.loads(LAYOUT))
    data["panels"] = [panel()]
    data["hides"][0]["hide"] = hide()
    return data


def put(place: str, value: Any) -> Callable[[dict[str, Any]], None]:
    """A change that sets ``place`` (``flaws.0.kind``) of an object; ``...`` as the value removes it."""

    def change(data: dict[str, Any]) -> None:
        *way, last = [int(key) if key.isdigit() else key for key in place.split(".")]
        at: Any = data
        for key in way:
            at = at[key]
        if value is ...:
            del at[last]
        else:
            at[last] = value

    return change
