"""SVG at 1:1: one user unit is one millimetre, arcs stay arcs, y turned down as SVG has it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence, Set

from nesting.files.layout import Layout
from nesting.files.report import Report
from nesting.output import palette
from nesting.output.caption import Caption, caption
from nesting.output.record import HideDrawing, record, side_by_side
from nesting.output.strokes import LAYERS, Circle, Dot, Layer, Loop, Path, Stroke, Text, box_of
from nesting.output.svg_path import Page, number, pair, path_data
from nesting.output.wording import wrapped

PAD_MM = 10.0
LINE_MM = 0.4
MARK_ARM_MM = 1.5
ANEW_MM = 3.0
FONT_PER_HEIGHT = 1.35
"""Font size over the height of a capital, as in common sans-serif faces."""
CAPTION_MM = 10.0
LAYER_STYLES: dict[Layer, dict[str, str]] = {
    "note": {"stroke": palette.LEATHER_EDGE, "fill": "none"},
    "mark": {"stroke": "#006b4f", "fill": "none"},
    "line": {"stroke": "#a3357f", "fill": "none"},
    "punch": {"stroke": "#0059a8", "fill": "none"},
    "cut": {"stroke": "#b30000", "fill": "none"},
}
ROLE_STYLES: dict[str, dict[str, str]] = {
    "hide": {"fill": palette.LEATHER, "stroke-width": "0.8"},
    "straight edge": {"stroke": palette.STRAIGHT_EDGE, "stroke-width": "3"},
    "stitch": {"stroke-dasharray": "5 2.5"},
    "fold": {"stroke-dasharray": "8 2 1.5 2"},
    **{
        f"flaw {severity}": {"fill": f"url(#{severity})", "stroke": look.line}
        for severity, look in palette.FLAW_LOOKS.items()
    },
}


def layout_to_svg(
    layout: Layout,
    report: Report | None = None,
    kerf_compensated: bool = False,
    anew: Set[str] | None = None,
) -> str:
    """The whole layout as one SVG document; ``width`` and ``height`` in mm, the viewBox in the same mm.

    One group a layer (``note``, ``mark``, ``line``, ``punch``, ``cut``), inside it one group a piece
    (``cut-half-chap-03-R``), in the order of cutting. Colour fills are in the ``note`` group alone, so that
    a cutter told to leave ``note`` out has lines only. Marks are small crosses, as SVG has no points.
    ``kerf_compensated`` as for the DXF, ``anew`` as for the PNG.
    """
    sheet = side_by_side(record(layout, kerf_compensated))
    strokes = tuple(stroke for drawing in sheet for stroke in drawing.strokes)
    words = caption(layout, report, anew)
    low_x, low_y, high_x, high_y = box_of(strokes) if strokes else (0.0, 0.0, 400.0, 0.0)
    width, height = high_x - low_x + 2 * PAD_MM, high_y - low_y + 2 * PAD_MM
    lines = _caption_lines(words, width - 2 * PAD_MM)
    page = Page(low_x - PAD_MM, high_y + PAD_MM)
    root = _document(layout.title, width, height + 1.6 * CAPTION_MM * len(lines))
    for layer in LAYERS:
        group = ET.SubElement(
            root, "g", {"id": layer, **LAYER_STYLES[layer], "stroke-width": number(LINE_MM)}
        )
        if layer == "note":
            _backgrounds(group, sheet, page, anew or frozenset())
            _caption(group, lines, height)
        _layer(group, [stroke for stroke in strokes if stroke.layer == layer and stroke.role != "hide"], page)
    ET.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _document(title: str, width: float, height: float) -> ET.Element:
    w, h = number(width), number(height)
    size = {"width": f"{w}mm", "height": f"{h}mm", "viewBox": f"0 0 {w} {h}"}
    # A white sheet to the eye, and no shape that a cutter could take for one.
    sheet = {"style": f"background: {palette.PAPER}"}
    root = ET.Element("svg", {"xmlns": "http://www.w3.org/2000/svg", **size, **sheet})
    ET.SubElement(root, "title").text = title
    ET.SubElement(root, "desc").text = "1:1 in millimetres; leave the group 'note' out of the cut."
    defs = ET.SubElement(root, "defs")
    for severity, look in palette.FLAW_LOOKS.items():
        step = number(look.step)
        pattern = ET.SubElement(defs, "pattern", {
            "id": severity, "width": step, "height": step, "patternUnits": "userSpaceOnUse",
            "patternTransform": f"rotate({number(-look.angles_deg[0])})",
        })  # fmt: skip
        ET.SubElement(pattern, "rect", {"width": step, "height": step, "fill": look.fill})
        hatch = "M 0 0 H " + step + (" M 0 0 V " + step if len(look.angles_deg) > 1 else "")
        ET.SubElement(pattern, "path", {"d": hatch, "stroke": look.line, "stroke-width": "1", "fill": "none"})
    return root


def _backgrounds(group: ET.Element, sheet: Sequence[HideDrawing], page: Page, anew: Set[str]) -> None:
    """Hides, and over them the tint of every piece: filled, without a line unless it is laid anew."""
    _layer(group, [stroke for drawing in sheet for stroke in drawing.strokes if stroke.role == "hide"], page)
    tinted = ET.SubElement(group, "g", {"id": "tint", "stroke": "none", "fill-rule": "evenodd"})
    for drawing in sheet:
        tints = palette.tints(tuple(piece.placement for piece in drawing.pieces))
        for piece in drawing.pieces:
            data = " ".join(path_data(ring, True, page) for ring in (piece.outline, *piece.cutouts))
            look = {"fill": tints[piece.placement.piece], "d": data}
            if piece.placement.piece in anew:
                look |= {"stroke": palette.ANEW, "stroke-width": number(ANEW_MM)}
            ET.SubElement(tinted, "path", look)


def _caption_lines(words: Caption, room: float) -> list[str]:
    # No font is measured here: six tenths of the size is wider than the mean letter of common faces.
    size = FONT_PER_HEIGHT * 0.7 * CAPTION_MM
    whole = (words.title, *words.figures, words.settings, *words.cautions)
    return [line for text in whole for line in wrapped(text, lambda part: 0.6 * size * len(part), room)]


def _caption(group: ET.Element, lines: Sequence[str], top: float) -> None:
    size = FONT_PER_HEIGHT * 0.7 * CAPTION_MM
    style = {"font-family": "sans-serif", "font-size": number(size), "fill": palette.INK, "stroke": "none"}
    words = ET.SubElement(group, "g", {"id": "caption", **style})
    for row, line in enumerate(lines):
        at = {"x": number(PAD_MM), "y": number(top + 1.6 * CAPTION_MM * (row + 0.7))}
        ET.SubElement(words, "text", {**at, "font-weight": "normal" if row else "bold"}).text = line


def _layer(group: ET.Element, strokes: Sequence[Stroke], page: Page) -> None:
    groups: dict[str, ET.Element] = {}
    for stroke in strokes:
        if stroke.piece not in groups:
            ids = {"id": f"{group.get('id')}-{safe_id(stroke.piece)}"} if stroke.piece else {}
            groups[stroke.piece] = ET.SubElement(group, "g", ids)
        groups[stroke.piece].append(_element(stroke, page))


def safe_id(name: str) -> str:
    """A name as an XML id may hold it: anything but letters, digits, ``.``, ``-`` and ``_`` by its code."""
    return re.sub(r"[^A-Za-z0-9.\-]", lambda match: f"_{ord(match[0]):x}_" if match[0] != "_" else "_", name)


def _element(stroke: Stroke, page: Page) -> ET.Element:
    style = {"class": stroke.role.replace(" ", "-"), **ROLE_STYLES.get(stroke.role, {})}
    if isinstance(stroke, Text):
        return _text(stroke, page)
    if isinstance(stroke, Loop):
        return ET.Element("path", {**style, "d": path_data(stroke.ring, True, page)})
    if isinstance(stroke, Path):
        return ET.Element("path", {**style, "d": path_data(stroke.points, False, page)})
    x, y = page.at(stroke.at)
    if isinstance(stroke, Circle):
        return ET.Element(
            "circle", {**style, "cx": number(x), "cy": number(y), "r": number(stroke.diameter / 2)}
        )
    assert isinstance(stroke, Dot)
    arm = MARK_ARM_MM
    cross = f"M {pair((x - arm, y))} L {pair((x + arm, y))} M {pair((x, y - arm))} L {pair((x, y + arm))}"
    return ET.Element("path", {**style, "d": cross})


def _text(stroke: Text, page: Page) -> ET.Element:
    x, y = page.at(stroke.at)
    attributes = {
        "x": number(x), "y": number(y), "font-family": "sans-serif", "fill": palette.INK, "stroke": "none",
        "font-size": number(FONT_PER_HEIGHT * stroke.height),
    }  # fmt: skip
    if stroke.align == "centre":
        attributes |= {"text-anchor": "middle", "y": number(y + stroke.height / 2)}
    if stroke.rotation_deg:
        attributes["transform"] = f"rotate({number(-stroke.rotation_deg)} {pair((x, y))})"
    element = ET.Element("text", attributes)
    element.text = stroke.text
    return element
