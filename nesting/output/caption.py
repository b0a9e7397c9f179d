"""What the picture says in words: figures first, cautions in small print."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

from nesting.files.layout import Layout
from nesting.judge.cautions import cautions
from nesting.output.wording import sentence
from nesting.rings import area
from nesting.units import format_area

Report = Any


@dataclass(frozen=True)
class Caption:
    """``title``, the few ``figures`` that matter, how it is cut (``settings``), and ``cautions``."""

    title: str
    figures: tuple[str, ...]
    settings: str
    cautions: tuple[str, ...]


def caption(layout: Layout, report: Report | None = None) -> Caption:
    """The words of a layout's picture; without a report only what the layout itself tells."""
    figures = [_counted(layout), *_unplaced(layout)]
    if report is None:
        figures.append(_areas(layout))
    return Caption(
        layout.title, tuple(figures), _settings(layout), tuple(sentence(words) for words in cautions(layout))
    )


def _counted(layout: Layout) -> str:
    """``6 pairs of half-chap, 2 of brow-band``."""
    pairs: dict[str, set[str]] = {}
    singles: Counter[str] = Counter()
    for placement in (placement for laid in layout.hides for placement in laid.placements):
        if placement.pair is None:
            singles[placement.panel] += 1
        else:
            pairs.setdefault(placement.panel, set()).add(placement.pair)
    words = [
        f"{len(names)} {'pair' if len(names) == 1 else 'pairs'} of {panel}" for panel, names in pairs.items()
    ]
    words += [f"{count} of {panel}" for panel, count in singles.items()]
    return ", ".join(words) or "no pieces"


def _unplaced(layout: Layout) -> list[str]:
    return [f"not placed: {left.pieces} of {left.panel} ({left.why})" for left in layout.unplaced]


def _areas(layout: Layout) -> str:
    panels = layout.panel_by_name
    hide = sum(area(laid.hide.outline) for laid in layout.hides)
    pieces = sum(_net(panels[p.panel]) for laid in layout.hides for p in laid.placements)
    return f"hide {format_area(hide)}, pieces {format_area(pieces)}"


def _net(panel: Any) -> float:
    return area(panel.outline) - sum(area(ring) for ring in panel.cutouts)


def _settings(layout: Layout) -> str:
    cutting = layout.cutting
    return (
        f"{cutting.tool}, kerf {cutting.kerf_mm:g} mm, gap {cutting.gap_mm:g} mm; margins: "
        f"edge {cutting.edge_margin_mm:g}, straight edge {cutting.straight_edge_margin_mm:g}, "
        f"flaws {cutting.flaw_margin_mm:g} mm; seed {layout.seed}"
    )
