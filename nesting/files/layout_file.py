"""Layout files ``layout.json``: self-contained; read strictly, geometry is for the judge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from nesting.errors import FileFormatError
from nesting.files.boundary import XY, Name, NotNegative, Positive, Strict, Text, check_header, validated
from nesting.files.hide_file import hide_from_json, hide_to_json
from nesting.files.json_text import dump_json, join, parse_json, read_text
from nesting.files.layout import LaidHide, Layout, Placement, Unplaced
from nesting.files.order import Cutting, Tool
from nesting.files.panel_file import Angle, panel_from_json, panel_to_json
from nesting.files.ring_rules import rounded
from nesting.files.whole import write_whole
from nesting.rings import Pose


class _Cutting(Strict):
    tool: Tool
    kerf_mm: NotNegative
    gap_mm: NotNegative
    edge_margin_mm: NotNegative
    straight_edge_margin_mm: NotNegative
    flaw_margin_mm: NotNegative


class _Placement(Strict):
    piece: Name
    panel: Name
    mirrored: bool
    rotation_deg: Angle
    at: XY
    pair: Name | None = None


class _LaidHide(Strict):
    hide: dict[str, Any]
    placements: list[_Placement]


class _Unplaced(Strict):
    panel: Name
    pieces: Annotated[int, Field(ge=1)]
    why: Text


class LayoutModel(Strict):
    """The fields of a layout file; panels and hides are read as such afterwards."""

    kind: Literal["layout"]
    version: int
    title: Text
    seed: int
    cutting: _Cutting
    panels: list[dict[str, Any]]
    hides: list[_LaidHide]
    unplaced: list[_Unplaced] = Field(default_factory=list)
    pair_within_mm: dict[Name, Positive] = Field(default_factory=dict)
    mates: list[Annotated[list[Name], Field(min_length=2, max_length=2)]] = Field(default_factory=list)


def read_layout(path: Path) -> Layout:
    """A layout from its file, not yet judged. Raises InputError or FileFormatError."""
    return layout_from_json(parse_json(read_text(path), str(path)), str(path))


def write_layout(path: Path, layout: Layout) -> None:
    """Write ``layout`` to ``path``, whole or not at all. Judge it before: this does not."""
    text = dump_json(layout_to_json(layout))
    layout_from_json(parse_json(text, str(path)), str(path))
    write_whole(path, text)


def layout_from_json(data: Mapping[str, Any], source: str) -> Layout:
    """A layout from parsed JSON; ``source`` names the file in messages.

    Raises FileFormatError on anything that the contract of the layout file does not allow, save for
    the geometry of the placements.
    """
    check_header(data, "layout", source)
    model = validated(LayoutModel, data, source)
    panels = tuple(panel_from_json(panel, source, join("panels", i)) for i, panel in enumerate(model.panels))
    known = _once([(join("panels", i, "name"), panel.name) for i, panel in enumerate(panels)], source)
    hides = tuple(
        LaidHide(
            hide_from_json(laid.hide, source, join("hides", i, "hide")),
            tuple(_placement(placed) for placed in laid.placements),
        )
        for i, laid in enumerate(model.hides)
    )
    _once([(join("hides", i, "hide.name"), laid.hide.name) for i, laid in enumerate(hides)], source)
    placed = [
        (join("hides", i, "placements", j), placement)
        for i, laid in enumerate(hides)
        for j, placement in enumerate(laid.placements)
    ]
    _once([(join(place, "piece"), placement.piece) for place, placement in placed], source)
    for place, placement in placed:
        _known(placement.panel, known, source, join(place, "panel"))
    for i, unplaced in enumerate(model.unplaced):
        _known(unplaced.panel, known, source, join("unplaced", i, "panel"))
    for name in model.pair_within_mm:
        _known(name, known, source, join("pair_within_mm", name))
    for i, pair in enumerate(model.mates):
        for j, name in enumerate(pair):
            _known(name, known, source, join("mates", i, j))
    return Layout(
        title=model.title,
        seed=model.seed,
        cutting=Cutting(**model.cutting.model_dump()),
        panels=panels,
        hides=hides,
        unplaced=tuple(Unplaced(**unplaced.model_dump()) for unplaced in model.unplaced),
        pair_within_mm=tuple(model.pair_within_mm.items()),
        mates=tuple((one, other) for one, other in model.mates),
    )


def _placement(model: _Placement) -> Placement:
    pose = Pose(model.mirrored, model.rotation_deg, (model.at[0], model.at[1]))
    return Placement(model.piece, model.panel, pose, model.pair)


def _once(named: Sequence[tuple[str, str]], source: str) -> set[str]:
    """The names, each of which may occur only once."""
    places: dict[str, str] = {}
    for place, name in named:
        if name in places:
            raise FileFormatError(
                source, place, f'the name "{name}" is taken by {places[name]}; every name occurs once'
            )
        places[name] = place
    return set(places)


def _known(name: str, known: set[str], source: str, place: str) -> None:
    if name not in known:
        raise FileFormatError(source, place, f'there is no panel "{name}" in panels; add it or mend the name')


def layout_to_json(layout: Layout) -> dict[str, Any]:
    """A layout as the object its file holds, keys in the contract's order."""
    data: dict[str, Any] = {"kind": "layout", "version": 1, "title": layout.title, "seed": layout.seed}
    data["cutting"] = dict(vars(layout.cutting))
    data["panels"] = [panel_to_json(panel) for panel in layout.panels]
    data["hides"] = [
        {"hide": hide_to_json(laid.hide), "placements": [_raw_placement(p) for p in laid.placements]}
        for laid in layout.hides
    ]
    data["unplaced"] = [dict(vars(unplaced)) for unplaced in layout.unplaced]
    if layout.pair_within_mm:
        data["pair_within_mm"] = dict(layout.pair_within_mm)
    if layout.mates:
        data["mates"] = [list(pair) for pair in layout.mates]
    return data


def rounded_pose(pose: Pose) -> Pose:
    """The pose as a file holds it, to 1e-6 mm and degrees. Round before judging, and nothing shifts after."""
    return Pose(pose.mirrored, rounded(pose.rotation_deg), (rounded(pose.at[0]), rounded(pose.at[1])))


def _raw_placement(placement: Placement) -> dict[str, Any]:
    pose = rounded_pose(placement.pose)
    return {
        "piece": placement.piece,
        "pair": placement.pair,
        "panel": placement.panel,
        "mirrored": pose.mirrored,
        "rotation_deg": pose.rotation_deg,
        "at": list(pose.at),
    }
