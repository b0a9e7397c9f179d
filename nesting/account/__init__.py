"""The account of a layout: areas, yield, cost, and how well the pairs match.

Areas are exact partitions (``nesting.account.areas`` defines each), money is counted in whole cents
that add up (``nesting.account.costs``), the trade's own figures stand in ``nesting.account.trade``.
"""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from nesting.account.areas import areas, holes_area, priced_area, total, yields
from nesting.account.common_cuts import common_cut_mm
from nesting.account.costs import CutHide, cost_table
from nesting.account.pairs import pair_matches
from nesting.account.regions import Keep, Regions, regions
from nesting.account.words import report_lines
from nesting.errors import InvalidLayout
from nesting.files.hide import Hide
from nesting.files.layout import Layout
from nesting.files.order import Cutting, Order
from nesting.files.report import Areas, HideAccount, Report, report_to_json
from nesting.judge.cautions import cautions
from nesting.judge.scene import Pattern, Scene, hide_broken, scene_of

__all__ = ["Keep", "account", "remnants", "report_lines", "report_to_json"]


def account(layout: Layout, order: Order | None = None, keep: Keep = Keep()) -> Report:  # noqa: B008
    """The report of a valid layout; costs only with the order that it answers.

    With the order, leather counts as usable only for panels that it allows on that hide by weight.
    A hide of the layout from which nothing is cut counts in the areas but is not charged.

    Raises InputError on prices in several currencies, InvalidLayout where a piece or hide cannot be
    measured at all. Whether the layout keeps its rules is the judge's question.
    """
    scenes = _scenes(layout)
    found = [_regions(layout, scene, order, keep) for scene in scenes]
    hides = [
        _hide_account(scene, areas(scene, one), layout.cutting)
        for scene, one in zip(scenes, found, strict=True)
    ]
    sums = total(hide.areas for hide in hides)
    cut = [
        CutHide(scene.hide, scene.pieces, hide.priced_area_mm2, hide.areas.remnant)
        for scene, hide in zip(scenes, hides, strict=True)
    ]
    return Report(
        title=layout.title,
        areas=sums,
        yields=yields(sums),
        hides=tuple(hides),
        cost=None if order is None else cost_table(cut, order),
        pairs=pair_matches(scenes),
        unplaced=layout.unplaced,
        cautions=tuple(cautions(layout)),
        notes=tuple(_notes(scenes, order)),
    )


def remnants(
    layout: Layout,
    index: int,
    order: Order | None = None,
    keep: Keep = Keep(),  # noqa: B008
) -> list[Polygon]:
    """What is left of the layout's hide ``index`` and big enough to keep, largest first, in mm.

    Parts of the usable leather, kerf and gap away from the pieces; a part may have holes.
    """
    return list(_regions(layout, _scenes(layout)[index], order, keep).remnants)


def _scenes(layout: Layout) -> list[Scene]:
    patterns = {panel.name: Pattern(panel) for panel in layout.panels}
    faults = [fault for pattern in patterns.values() for fault in pattern.broken]
    scenes = []
    for laid in layout.hides:
        scene, left_out = scene_of(laid, patterns)
        faults += [*hide_broken(laid.hide), *left_out]
        scenes.append(scene)
    if faults:
        raise InvalidLayout(faults)
    return scenes


def _regions(layout: Layout, scene: Scene, order: Order | None, keep: Keep) -> Regions:
    patterns = [Pattern(panel) for panel in layout.panels if _allowed(panel.name, scene.hide, order)]
    return regions(scene, patterns, layout.cutting, keep)


def _allowed(panel: str, hide: Hide, order: Order | None) -> bool:
    """Whether the order allows the panel on the hide; what it does not name is not held back."""
    line = order.line_of.get(panel) if order else None
    return line is None or line.takes(hide)


def _hide_account(scene: Scene, found: Areas, cutting: Cutting) -> HideAccount:
    return HideAccount(
        hide=scene.hide.name,
        pieces=len(scene.pieces),
        areas=found,
        yields=yields(found),
        priced_area_mm2=priced_area(scene.hide),
        common_cut_mm=common_cut_mm(scene, cutting),
    )


def _notes(scenes: Sequence[Scene], order: Order | None) -> list[str]:
    """What a reader of the figures must know about this layout."""
    notes = []
    for scene in scenes:
        name = f'hide "{scene.hide.name}"'
        if order is not None and scene.pieces and scene.hide.price is None:
            notes.append(f"{name} has no price: the cost of its leather is not known")
        if not scene.pieces:
            notes.append(f"{name} is not cut: it counts in the areas, and is not charged")
        if holes_area(scene.hide) > 0.0:
            notes.append(
                f"{name} has open holes: they count as flaws, and not in the area that a price is for"
            )
    placed = dict.fromkeys(piece.panel.name for scene in scenes for piece in scene.pieces)
    if order is not None and (strange := [name for name in placed if name not in order.line_of]):
        names = ", ".join(f'"{name}"' for name in strange)
        notes.append(f"the order does not name {names}: no hardware and labour are counted for it")
    if order is not None:
        idle = [line.name for line in order.lines if line.fill and line.panel.name not in placed]
        notes += [f'"{name}" fills what room the others leave: there was none for it' for name in idle]
    if order is not None and order.costs.lace is None:
        panels = [panel for panel in order.panels if panel.name in placed]
        laced = [panel.name for panel in panels if order.line_of[panel.name].lace_of(panel)]
        if laced:
            names = ", ".join(f'"{name}"' for name in laced)
            notes.append(f"the order gives lace no price: it is not counted for {names}")
    if any(piece.panel.cutouts for scene in scenes for piece in scene.pieces):
        notes.append("the area of a piece is that inside its outline, cut-outs included")
    return notes
