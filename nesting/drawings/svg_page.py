"""The SVG page: is its text sound, what is hidden in it, and how large is one drawing unit?

Sizes follow SVG 2, sections 8.2 and 8.6 (viewBox, preserveAspectRatio), and CSS Values 3, section
5.2 (absolute lengths; 1 px is 1/96 in). A page states its unit when it has a viewBox and its width
or height is given in a physical unit; without a viewBox the drawing's own numbers are pixels,
which programs have taken for 1/72, 1/90 and 1/96 in, so that the person is asked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from xml.etree.ElementTree import Element, ParseError, fromstring, tostring

from nesting.drawings.unit import UNIT_MM, settle_unit
from nesting.errors import InputError

PHYSICAL_MM = {"mm": 1.0, "cm": 10.0, "q": 0.25, "in": 25.4, "pt": 25.4 / 72.0, "pc": 25.4 / 6.0}

SPACE = "{http://www.w3.org/2000/svg}"

_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*(mm|cm|in|pt|pc|px|q|)\s*", re.IGNORECASE)
_PATH_REST = re.compile(rf"{_NUMBER}|[MmZzLlHhVvCcSsQqTtAa\s,]")
_TRANSFORM_REST = re.compile(rf"{_NUMBER}|(?:matrix|translate|scale|rotate|skewX|skewY)\s*\(|[\s,)]")
_SIZES = ("x", "y", "width", "height", "rx", "ry", "cx", "cy", "r", "x1", "y1", "x2", "y2")
_SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_ASIDE = ("symbol", "marker", "mask", "pattern", "clipPath")  # only drawn where something refers to them


@dataclass(frozen=True)
class Page:
    """The cleaned text and the map from drawing units to mm: X = scale_x x, Y = scale_y (foot - y)."""

    text: bytes
    unit: str
    scale_x: float
    scale_y: float
    foot: float
    texts: int
    images: int


def read_page(source: str, data: bytes, unit: str | None) -> Page:
    """Check and measure an SVG text. Raises InputError for a broken one or one without a unit."""
    root = _parsed(source, data)
    for element in root.iter():
        _check(source, element)
    box = _box(source, root)
    unit, scale_x, scale_y = _scales(source, root, box, unit)
    foot = box[1] + box[3] if box else _pixels(root, "height") or 0.0
    _set_plain_size(root, box)
    _set_aside(root)
    names = [_tag(element) for element in root.iter()]
    return Page(tostring(root), unit, scale_x, scale_y, foot, names.count("text"), names.count("image"))


def _parsed(source: str, data: bytes) -> Element:
    try:
        root = fromstring(data)
    except (ParseError, ValueError, LookupError) as error:
        raise InputError(f"{source}: this is not an SVG drawing ({error}); export it again as SVG") from error
    if _tag(root) != "svg":
        raise InputError(f"{source}: this XML file is not an SVG drawing (it starts with <{_tag(root)}>)")
    if root.tag not in ("svg", SPACE + "svg"):
        raise InputError(f'{source}: this is not an SVG drawing; its xmlns must be "{SPACE[1:-1]}"')
    return root


def _tag(element: Element) -> str:
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


def _check(source: str, element: Element) -> None:
    """Refuse numbers that the reading library would silently stop at."""
    tag = _tag(element)
    if tag in _SHAPES:
        _check_shape(source, element, tag)
    transform = element.get("transform", "")
    if rest := _TRANSFORM_REST.sub("", transform):
        raise InputError(f"{source}: <{tag}>{_called(element)}: transform is not understood at {rest[:20]!r}")


def _check_shape(source: str, element: Element, tag: str) -> None:
    for name in ("d", "points"):
        words = re.split(r"[\s,]+", element.get(name, ""))
        if wrong := next((word for word in words if _PATH_REST.sub("", word)), None):
            raise InputError(
                f"{source}: <{tag}>{_called(element)}: {name} is not understood at {wrong[:20]!r}; "
                f"draw it afresh"
            )
    if element.get("d", "m").strip()[:1] not in ("m", "M", ""):
        raise InputError(f"{source}: <{tag}>{_called(element)}: d must start with a move (M); draw it afresh")
    for name in _SIZES:
        value = element.get(name, "0").strip()
        if value != "auto" and not value.endswith("%") and not _LENGTH.fullmatch(value):
            raise InputError(f"{source}: <{tag}>{_called(element)}: {name} is {value!r}, which is no length")


def _called(element: Element) -> str:
    return f" {element.get('id')}" if element.get("id") else ""


def _box(source: str, root: Element) -> tuple[float, float, float, float] | None:
    text = root.get("viewBox")
    if text is None:
        return None
    numbers = re.findall(_NUMBER, text)
    x, y, width, height = map(float, numbers) if len(numbers) == 4 else (0.0, 0.0, 0.0, 0.0)
    if not (width > 0 and height > 0):
        raise InputError(f"{source}: viewBox {text!r} must be four numbers with a width and height above 0")
    return x, y, width, height


def _scales(
    source: str, root: Element, box: tuple[float, float, float, float] | None, asked: str | None
) -> tuple[str, float, float]:
    """The unit's word and millimetres in a drawing unit along x and along y."""
    across, down = _physical(root, "width"), _physical(root, "height")
    if box is None or (across is None and down is None):
        unit = settle_unit(source, None, asked)
        scale = UNIT_MM[unit] * (_pixels_in_unit(root, box) if unit == "px" else 1.0)
        return unit, scale, scale
    scale_x, scale_y = _fit(root, across and across / box[2], down and down / box[3])
    unit = _word_for(scale_x)
    if asked is not None and abs(UNIT_MM[asked] - scale_x) > 1e-3 * scale_x:
        raise InputError(
            f"{source}: the page size makes one drawing unit {scale_x:.6g} mm, and --unit says {asked}; "
            f"leave --unit away, or correct the page size in the drawing"
        )
    return unit, scale_x, scale_y


def _fit(root: Element, scale_x: float | None, scale_y: float | None) -> tuple[float, float]:
    """Both scales under preserveAspectRatio; a missing one follows the other."""
    first = scale_x or scale_y or 1.0
    scale_x, scale_y = scale_x or first, scale_y or first
    how = root.get("preserveAspectRatio", "")
    if "none" in how:
        return scale_x, scale_y
    scale = max(scale_x, scale_y) if "slice" in how else min(scale_x, scale_y)
    return scale, scale


def _word_for(scale: float) -> str:
    for unit, size in UNIT_MM.items():
        if abs(scale - size) <= 1e-3 * size:
            return unit
    return f"units of {scale:.6g} mm"


def _physical(root: Element, name: str) -> float | None:
    """A length in mm, None when it is absent, relative, zero or in pixels."""
    match = _LENGTH.fullmatch(root.get(name, ""))
    if not match or match[2].lower() not in PHYSICAL_MM:
        return None
    return float(match[1]) * PHYSICAL_MM[match[2].lower()] or None


def _pixels(root: Element, name: str) -> float | None:
    match = _LENGTH.fullmatch(root.get(name, ""))
    if not match:
        return None
    size = PHYSICAL_MM.get(match[2].lower())
    return float(match[1]) * (size / UNIT_MM["px"] if size else 1.0)


def _pixels_in_unit(root: Element, box: tuple[float, float, float, float] | None) -> float:
    width, height = _pixels(root, "width"), _pixels(root, "height")
    if box is None or (not width and not height):
        return 1.0
    return _fit(root, width and width / box[2], height and height / box[3])[0]


def _set_plain_size(root: Element, box: tuple[float, float, float, float] | None) -> None:
    """Make the page one pixel a drawing unit: the exact scale is applied by us, not through text."""
    root.attrib.pop("viewBox", None)
    if box:
        root.set("width", repr(box[2]))
        root.set("height", repr(box[3]))


def _set_aside(root: Element) -> None:
    """Move what is only drawn by reference into <defs>, where the reading library leaves it alone."""
    space = root.tag[: -len("svg")]
    aside = Element(f"{space}defs")
    for parent in list(root.iter()):
        if _tag(parent) == "defs":
            continue
        for child in [child for child in parent if _tag(child) in _ASIDE]:
            parent.remove(child)
            aside.append(child)
    root.insert(0, aside)
