"""A picture recorded once, in pixels, y up: replayed to PNG and SVG."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from typing import Literal

from nesting.output.palette import INK, PAPER
from nesting.output.pen import Pen
from nesting.output.strokes import flat_path
from nesting.output.svg_path import Page, number, path_data
from nesting.rings import Point, Ring, flatten

FLAT_PX = 0.05


@dataclass(frozen=True)
class Area:
    """A closed shape."""

    ring: Ring
    fill: str
    line: str = "none"
    width: float = 1.0


@dataclass(frozen=True)
class Trace:
    """An open line; ``dash`` as lengths on and off."""

    points: Ring
    colour: str
    width: float = 1.0
    dash: tuple[float, ...] = ()


@dataclass(frozen=True)
class Words:
    """One line of text, ``size`` px: centred both ways, or its left end on the base line."""

    at: Point
    text: str
    size: float
    colour: str = INK
    bold: bool = False
    align: Literal["left", "center"] = "left"
    turn_deg: float = 0.0


Item = Area | Trace | Words


@dataclass(frozen=True)
class Sketch:
    """Items in the order of drawing on a sheet of ``width`` by ``height`` px."""

    title: str
    width: int
    height: int
    items: tuple[Item, ...]


def to_png(sketch: Sketch) -> bytes:
    """The sketch as a PNG picture."""
    pen = Pen(sketch.width, sketch.height)
    for item in sketch.items:
        match item:
            case Area(ring, fill, line, width):
                pen.shape([flatten(ring, FLAT_PX)], fill, line, width)
            case Trace(points, colour, width, dash):
                # The pen scales dashes by the line's width.
                pen.line(flat_path(points, FLAT_PX), colour, width, tuple(d / width for d in dash) or None)
            case Words(at, text, size, colour, bold, align, turn):
                weight: Literal["bold", "normal"] = "bold" if bold else "normal"
                pen.text(at, text, size, colour, weight, align, turn, PAPER if align == "center" else None)
    return pen.png()


def to_svg(sketch: Sketch) -> str:
    """The sketch as an SVG drawing with its arcs; not to scale."""
    width, height = str(sketch.width), str(sketch.height)
    root = ET.Element(
        "svg",
        {"xmlns": "http://www.w3.org/2000/svg", "width": width, "height": height,
         "viewBox": f"0 0 {width} {height}", "style": f"background: {PAPER}",
         "font-family": "DejaVu Sans, sans-serif"},
    )  # fmt: skip
    ET.SubElement(root, "title").text = sketch.title
    page = Page(0.0, float(sketch.height))
    for item in sketch.items:
        root.append(_element(item, page))
    ET.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _element(item: Item, page: Page) -> ET.Element:
    match item:
        case Area(ring, fill, line, width):
            style = {"fill": fill, "stroke": line, "stroke-width": number(width)}
            return ET.Element("path", {**style, "d": path_data(ring, True, page)})
        case Trace(points, colour, width, dash):
            style = {"fill": "none", "stroke": colour, "stroke-width": number(width)}
            if dash:
                style["stroke-dasharray"] = " ".join(map(number, dash))
            return ET.Element("path", {**style, "d": path_data(points, False, page)})
        case Words():
            return _text(item, page)


def _text(words: Words, page: Page) -> ET.Element:
    x, y = page.at(words.at)
    attributes = {"font-size": number(words.size), "fill": words.colour}
    if words.bold:
        attributes["font-weight"] = "bold"
    if words.align == "center":
        # A capital is about 0.73 of the size high, and the halo is painted under the letters.
        attributes |= {"text-anchor": "middle", "paint-order": "stroke", "stroke": PAPER, "stroke-width": "5"}
        inner = {"x": "0", "y": number(0.365 * words.size)}
        turn = f" rotate({number(-words.turn_deg)})" if words.turn_deg else ""
        place = {**inner, "transform": f"translate({number(x)} {number(y)}){turn}"}
    else:
        place = {"x": number(x), "y": number(y)}
    element = ET.Element("text", {**place, **attributes})
    element.text = words.text
    return element
