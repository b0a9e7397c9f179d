"""Cautions: what no rule forbids, and a person should know before cutting."""

from __future__ import annotations

from nesting.files.layout import LaidHide, Layout
from nesting.judge.turning import spine_deg

_BY_TOOL = {
    "knife": "knife: keep it sharp and guarded, and the holding hand out of its way",
    "blade": "machine blade: keep hands out while it moves; guards and training as local rules ask",
    "die": "press and die: two-hand controls and guards as local rules ask; never reach under the press",
    "waterjet": "waterjet: run it as its maker and local rules say, by trained people",
    "laser": "laser: cut only under extraction, never unattended, and never material with PVC or chlorine",
}
"""Two-hand press controls and PVC in lasers: health and safety bodies, university laser policies; the
rest is common practice, no source."""

PROTECTIVE = (
    "gear meant to protect a person is certified by others; a pattern or layout from this program "
    "certifies nothing"
)


def cautions(layout: Layout) -> list[str]:
    """Plain sentences to show beside the layout: unknown spines, laser and tannage, tools.

    They do not make a layout invalid. Where work can hurt someone they name the usual caution and
    defer to local rules and the people answerable for safety.
    """
    used = [laid for laid in layout.hides if laid.placements]
    found = [text for laid in used for text in _unknown_spine(laid, layout)]
    if layout.cutting.tool == "laser":
        found += [text for laid in used for text in _laser(laid)]
    return [*found, _BY_TOOL[layout.cutting.tool], PROTECTIVE]


def _unknown_spine(laid: LaidHide, layout: Layout) -> list[str]:
    if spine_deg(laid.hide) is not None:
        return []
    placed = {placement.panel for placement in laid.placements}
    asking = [panel.name for panel in layout.panels if panel.stretch is not None and panel.name in placed]
    if not asking:
        return []
    names = ", ".join(f'"{name}"' for name in asking)
    return [f'hide "{laid.hide.name}": its spine is not known, so the stretch of {names} was not held']


def _laser(laid: LaidHide) -> list[str]:
    """REACH Annex XVII entry 47 and OSHA 29 CFR 1910.1026 limit hexavalent chromium."""
    tannage = laid.hide.tannage
    if tannage == "vegetable":
        return []
    what = {
        "chrome": "is chrome-tanned and may give off hexavalent chromium under a laser (evidence unsettled)",
        "other": 'has tannage "other": ask the tanner whether chromium or chlorine is in it',
        "unknown": "has no stated tannage: ask the tanner; chrome-tanned leather may give off hexavalent "
        "chromium under a laser",
    }[tannage]
    return [f'hide "{laid.hide.name}" {what}; let extraction and the safety officer decide']
