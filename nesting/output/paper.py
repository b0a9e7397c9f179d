"""1:1 paper: every panel on pages to join, and a sheet a hide that says where each pattern lies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from nesting.files.layout import Layout
from nesting.files.panel import Panel
from nesting.output.ink import Ink
from nesting.output.labels import Label, upright
from nesting.output.mat import Mat
from nesting.output.pattern import Segment, centre_line, reference_points, stretch_arrow
from nesting.output.record import record, record_panel
from nesting.output.sheet import placing_sheet
from nesting.output.strokes import Circle, Dot, Loop, Path, Stroke, flat_path, ring_box
from nesting.output.tiles import FOOT_MM, HEAD_MM, PAGES_MM, SIDE_MM, Paper, Tile, Tiling, tile
from nesting.rings import Point, flatten
from nesting.units import INCH_MM, format_both

PAIRING_WORDS = {
    "mirrored": "mirrored pair: one as drawn, one turned over",
    "alike": "alike pair: two as drawn",
    "none": "single piece, as drawn",
}
ROLE_DASHES: dict[str, tuple[float, ...]] = {"stitch": (2.5, 1.5), "fold": (5.0, 1.2, 1.0, 1.2)}
SOFT = "#555555"


def panels_to_pdf(
    layout: Layout, paper: Paper = "a4", mats: Mapping[int, Mat] = MappingProxyType({})
) -> bytes:
    """The layout's panels as a PDF at 1:1, then one sheet (or more) a hide with the place of each piece.

    Every pattern page has a 100 mm and a 4 in check line; a panel larger than a page runs over pages that
    overlap by 15 mm and carry joining marks and a page map. Patterns are true size: nothing is added for a
    kerf. ``mats`` are the mats under hides of these numbers, as they were photographed: there the places are
    also given from the mat's lines. The same layout gives the same bytes.
    """
    ink = Ink(layout.title)
    for panel in layout.panels:
        _panel_pages(ink, panel, paper, _pairing_words(panel, layout))
    for number, drawing in enumerate(record(layout)):
        placing_sheet(ink, layout, drawing, paper, mats.get(number))
    return ink.pdf()


def _pairing_words(panel: Panel, layout: Layout) -> str:
    others = [name for pair in layout.mates if panel.name in pair for name in pair if name != panel.name]
    return f"as drawn; its mate in each pair is {others[0]}" if others else PAIRING_WORDS[panel.pairing]


def _panel_pages(ink: Ink, panel: Panel, paper: Paper, pairing: str) -> None:
    low_x, low_y, high_x, high_y = ring_box(panel.outline)
    # The outline's own line needs room too, and the centre line and its name reach past it.
    tiling = tile((low_x - 5.0, low_y - 5.0, high_x + 5.0, high_y + 5.0), paper)
    for one in tiling.tiles:
        ink.page(tiling.page)
        _head(ink, panel, tiling, one, pairing)
        _pattern(ink, panel, tiling, one)
        _foot(ink, tiling)
        if len(tiling.tiles) > 1:
            _page_map(ink, panel, tiling, one)
        ink.end_page()


def _head(ink: Ink, panel: Panel, tiling: Tiling, one: Tile, pairing: str) -> None:
    width, height = tiling.page
    room = width - 2 * SIDE_MM
    ink.text((SIDE_MM, height - 12.0), panel.name, 3.6, bold=True, room=room - PAGES_MM)
    lace = f"; lace {format_both(panel.lace_mm)} a piece" if panel.lace_mm else ""
    words = f"{pairing}{lace}; true size, cut inside the drawn line"
    ink.text((SIDE_MM, height - 17.0), words, 2.0, room=room)
    pages = f"page {tiling.number(one)} of {len(tiling.tiles)}"
    ink.text((width - SIDE_MM, height - 12.0), pages, 2.6, align="right")


def _pattern(ink: Ink, panel: Panel, tiling: Tiling, one: Tile) -> None:
    width, height = tiling.page
    frame = (SIDE_MM, FOOT_MM, width - SIDE_MM, height - HEAD_MM)
    piece, strokes = record_panel(panel)
    ink.window(frame, one.window[:2])
    for stroke in strokes:
        _stroke(ink, stroke, piece.label.at)
    _helps(ink, panel, piece.label)
    if len(tiling.tiles) > 1:
        for name, at in tiling.joints(one):
            ink.cross(at, 5.0, 0.25)
            ink.circle(at, 2.5, 0.25)
            ink.text((at[0], at[1] + 6.2), name, 1.8, align="centre")
    ink.end_window()
    if len(tiling.tiles) > 1:
        corners = np.array([frame[:2], (frame[2], frame[1]), frame[2:], (frame[0], frame[3])])
        ink.line(corners, 0.15, SOFT, closed=True, dash=(1.0, 1.0))


def _stroke(ink: Ink, stroke: Stroke, inside: Point) -> None:
    if isinstance(stroke, Loop):
        ink.line(flatten(stroke.ring), 0.35, closed=True)
    elif isinstance(stroke, Path):
        points = flat_path(stroke.points)
        ink.line(points, 0.2, dash=ROLE_DASHES.get(stroke.role, ()))
        x, y = points[len(points) // 2 - 1 : len(points) // 2 + 1].mean(axis=0)
        # On the side of the line that has room.
        side = 1.2 if inside[0] > x else -1.2
        ink.text((x + side, y + 1.2), stroke.role, 1.6, align="left" if side > 0 else "right", colour=SOFT)
    elif isinstance(stroke, Circle):
        ink.circle(stroke.at, stroke.diameter / 2)
        ink.cross(stroke.at, stroke.diameter / 2 + 1.0, 0.12)
    elif isinstance(stroke, Dot):
        ink.cross(stroke.at, 2.0)


def _helps(ink: Ink, panel: Panel, label: Label) -> None:
    """Name, reference points, centre line and stretch."""
    at, room = label.at, min(label.width, label.height)
    height = min(5.0, max(1.8, room / 10))
    # On a small piece the name may run over the edge: it is the paper's, too.
    ink.text(at, panel.name, height, bold=True, align="centre", room=max(0.9 * label.width, 40.0))
    for name, point in zip("AB", reference_points(panel), strict=True):
        ink.circle(point, 1.6)
        inward = np.array(at) - point
        spot = point + inward / max(1e-9, float(np.hypot(*inward))) * 4.0
        ink.text((float(spot[0]), float(spot[1])), name, 2.4, bold=True, align="centre")
    if line := centre_line(panel):
        ink.line(np.array(line), 0.15, SOFT, dash=(6.0, 1.5, 1.0, 1.5))
        (x0, y0), (x1, y1) = line
        turn = 0.0 if x0 == x1 else upright(math.degrees(math.atan2(y1 - y0, x1 - x0)))
        beside = (x1 + 1.2, y1 - 2.6) if x0 == x1 else _along(line, 8.0, 1.0)
        ink.text(beside, "centre line", 1.6, colour=SOFT, turn_deg=turn)
    _stretch(ink, panel, at, room, height)


def _along(line: Segment, reach: float, aside: float) -> Point:
    """So far from the left end of a line that is not upright, and so far above it."""
    (x0, y0), (x1, y1) = sorted(line)
    ux, uy = (x1 - x0) / math.dist(*line), (y1 - y0) / math.dist(*line)
    return x0 + reach * ux - aside * uy, y0 + reach * uy + aside * ux


def _stretch(ink: Ink, panel: Panel, at: Point, room: float, height: float) -> None:
    if panel.stretch is None:
        return
    below = (at[0], at[1] - 0.28 * room - height)
    for line in stretch_arrow(panel, below, 0.4 * room):
        ink.line(line, 0.35)
    words = f"along the spine, within {panel.stretch.tolerance_deg:g}°"
    ink.text((at[0], at[1] - 1.6 * height), words, min(2.0, height), align="centre")


def _foot(ink: Ink, tiling: Tiling) -> None:
    for y, length, words, parts in ((24.0, 100.0, "100 mm", 10), (15.5, 4 * float(INCH_MM), "4 in", 4)):
        ink.line(np.array([(SIDE_MM, y), (SIDE_MM + length, y)]), 0.3)
        for i in range(parts + 1):
            x = SIDE_MM + length * i / parts
            ink.line(np.array([(x, y), (x, y + (3.0 if i in (0, parts) else 1.5))]), 0.2)
        ink.text((SIDE_MM + length + 2.0, y - 0.5), words, 2.2)
    ink.text(
        (SIDE_MM, 9.5),
        "Print at 100 %, not fitted to the page. Measure both check lines before cutting.",
        2.0,
    )


def _page_map(ink: Ink, panel: Panel, tiling: Tiling, one: Tile) -> None:
    """All pages small, this one shaded, in the lower right corner."""
    box = (min(t.window[0] for t in tiling.tiles), min(t.window[1] for t in tiling.tiles),
           max(t.window[2] for t in tiling.tiles), max(t.window[3] for t in tiling.tiles))  # fmt: skip
    scale = min(48.0 / (box[2] - box[0]), 20.0 / (box[3] - box[1]))
    right = tiling.page[0] - SIDE_MM
    frame = (right - scale * (box[2] - box[0]) - 1.0, 9.0, right + 1.0, 11.0 + scale * (box[3] - box[1]))
    ink.window(frame, (box[0] - 1.0 / scale, box[1] - 1.0 / scale), scale)
    for other in sorted(tiling.tiles, key=lambda t: t == one):
        x0, y0, x1, y1 = other.window
        corners = np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
        ink.line(corners, 0.15, closed=True, fill="#cccccc" if other == one else None)
    ink.line(flatten(panel.outline, 0.5), 0.25, closed=True)
    for other in tiling.tiles:
        x0, y0, x1, y1 = other.window
        ink.text(((x0 + x1) / 2, (y0 + y1) / 2), str(tiling.number(other)), 2.0, align="centre")
    ink.end_window()
