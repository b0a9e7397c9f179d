"""SVG files: shapes and paths of every group to strokes in millimetres, y up.

The library resolves styles, groups and references; the page's scale and the turn to y up are
applied here to its untransformed segments, so that circles and circular arcs stay exact under any
similarity, mirrored or not.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

import numpy as np

from nesting.drawings.collect import SAME_MM, Collected
from nesting.drawings.curves import arc, arcs_along
from nesting.drawings.drawing import Drawing
from nesting.drawings.svg_page import Page, read_page
from nesting.errors import InputError
from nesting.rings import Points, Vertex

LABEL = "{http://www.inkscape.org/namespaces/inkscape}label"

_AUTOMATIC = re.compile(
    r"(path|rect|circle|ellipse|line|polyline|polygon|g|group|use|layer|svg|shape|object)[-_ ]?[\d\-_.]*",
    re.IGNORECASE,
)


def read_svg(path: Path, unit: str | None = None) -> Drawing:
    """An SVG file; ``unit`` is what one drawing unit is, where the page does not state it.

    Raises InputError for broken text, references that run in a circle, or a missing unit.
    """
    from svgelements import SVG

    source = str(path)
    page = read_page(source, path.read_bytes(), unit)
    collected = Collected(source)
    try:
        root = SVG.parse(
            io.BytesIO(page.text), reify=False, ppi=96.0, parse_display_none=True, on_error="raise"
        )
    except RecursionError as error:
        raise InputError(f"{source}: a <use> refers to itself; export the drawing again") from error
    except Exception as error:  # of broken attributes the parser raises whatever it runs into
        place = _broken_path(page.text) or str(error)
        raise InputError(f"{source}: this SVG drawing cannot be read ({place}); export it again") from error
    if page.texts:
        collected.ignored["text", "it is not geometry"] += page.texts
    if page.images:
        collected.ignored["image", "it is not geometry"] += page.images
    for shape, layer, names in _shapes(root, (), collected):
        _add_shape(shape, layer, names, page, collected)
    return collected.drawing(page.unit)


def _broken_path(text: bytes) -> str:
    """The first path whose data cannot be parsed, in words; nothing when all can."""
    from svgelements import Path as PathData

    for element in fromstring(text).iter():
        data = element.get("d", "")
        try:
            PathData(data)
        except Exception:
            called = element.get("id")
            return f"path {called}" if called else f"the path {data[:40]!r}"
    return ""


def _shapes(
    group: Any, around: tuple[str, ...], collected: Collected
) -> Iterator[tuple[Any, str, tuple[str, ...]]]:
    """Every visible shape with its layer and names; ``around`` holds the groups' names, the nearest first."""
    from svgelements import Group, Shape, Use

    for element in group:
        if isinstance(element, (Group, Use)):
            yield from _shapes(element, (*_own_names(element), *around), collected)
        elif isinstance(element, Shape):
            names = (*_own_names(element), *around)
            if why := _hidden(element):
                collected.ignored["shape", why] += 1
            else:
                yield element, "/".join(reversed(around)), names


def _own_names(element: Any) -> tuple[str, ...]:
    own = element.values.get("attributes", {})
    given = (own.get(LABEL), own.get("id"))
    words = [word.strip() for word in given if word and not _AUTOMATIC.fullmatch(word.strip())]
    return tuple(dict.fromkeys(words))


def _hidden(element: Any) -> str:
    if str(element.values.get("display", "")).lower() == "none":
        return "it is not displayed"
    return "it is hidden" if str(element.values.get("visibility", "")).lower() == "hidden" else ""


class _Map:
    """From a shape's own coordinates to millimetres on the page, y up."""

    def __init__(self, matrix: Any, page: Page) -> None:
        sx, sy = page.scale_x, page.scale_y
        self.linear = np.array([[sx * matrix.a, sx * matrix.c], [-sy * matrix.b, -sy * matrix.d]])
        self.shift = np.array([sx * matrix.e, sy * (page.foot - matrix.f)])

    def __call__(self, points: Points) -> Points:
        mapped: Points = points @ self.linear.T + self.shift
        return mapped

    def one(self, point: Any) -> tuple[float, float]:
        x, y = self(np.array([[point.x, point.y]]))[0]
        return float(x), float(y)

    @property
    def turn(self) -> float:
        """1 when arcs keep their turn, -1 when they reverse it, 0 when circles do not stay round."""
        (a, b), (c, d) = self.linear
        size = math.hypot(a, c)
        same = math.isclose(a, d, abs_tol=1e-9 * size) and math.isclose(b, -c, abs_tol=1e-9 * size)
        mirrored = math.isclose(a, -d, abs_tol=1e-9 * size) and math.isclose(b, c, abs_tol=1e-9 * size)
        return 1.0 if same else -1.0 if mirrored else 0.0


def _add_shape(shape: Any, layer: str, names: tuple[str, ...], page: Page, collected: Collected) -> None:
    to_page = _Map(shape.transform, page)
    if not (np.isfinite(to_page.linear).all() and np.isfinite(to_page.shift).all()):
        raise InputError(f"{collected.source}: a transform holds no proper numbers; export the drawing again")
    run: list[Vertex] = []
    for segment in shape.segments(transformed=False):
        kind = type(segment).__name__
        if not all(math.isfinite(value) for point in segment if point for value in (point.x, point.y)):
            raise InputError(f"{collected.source}: a coordinate is not a number; draw that shape afresh")
        if kind == "Move":
            _finish(run, layer, names, collected, closed=False)
            run = [(*to_page.one(segment.end), 0.0)]
        elif kind == "Close":
            start = run[0]
            _finish(run, layer, names, collected, closed=True)
            run = [start]
        elif kind != "Line" or segment.start != segment.end:  # rounded rectangles come with empty sides
            run[-1:] = _piece(segment, kind, to_page, layer, collected)
    _finish(run, layer, names, collected, closed=False)


def _piece(segment: Any, kind: str, to_page: _Map, layer: str, collected: Collected) -> list[Vertex]:
    """One segment as an open run of vertices."""
    start, end = to_page.one(segment.start), to_page.one(segment.end)
    if kind == "Line":
        return [(*start, 0.0), (*end, 0.0)]
    if kind == "Arc" and to_page.turn and math.isclose(segment.rx, segment.ry, rel_tol=1e-9):
        if start == end or segment.sweep == 0.0:
            return [(*start, 0.0), (*end, 0.0)]
        return arc(start, end, to_page.turn * segment.sweep)
    collected.approximated[{"Arc": "elliptical arc"}.get(kind, "curve"), layer] += 1
    if kind == "Arc":
        return arcs_along(lambda t: to_page(_on_ellipse(segment, t)), [0.0, 0.25, 0.5, 0.75, 1.0])
    return arcs_along(lambda t: to_page(_on_bezier(segment, t)), [0.0, 0.5, 1.0])


def _on_ellipse(segment: Any, t: Points) -> Points:
    angle = segment.get_start_t() + segment.sweep * t
    centre, *radii = (np.array([p.x, p.y]) for p in (segment.center, segment.prx, segment.pry))
    across, along = radii[0] - centre, radii[1] - centre
    points: Points = centre + np.outer(np.cos(angle), across) + np.outer(np.sin(angle), along)
    return points


def _on_bezier(segment: Any, t: Points) -> Points:
    """Points on a quadratic or cubic Bézier curve (de Casteljau's scheme)."""
    controls = [np.array([p.x, p.y]) for p in segment]
    level = [np.tile(control, (len(t), 1)) for control in controls]
    while len(level) > 1:
        level = [a + (b - a) * t[:, None] for a, b in pairwise(level)]
    return level[0]


def _finish(
    run: list[Vertex], layer: str, names: tuple[str, ...], collected: Collected, *, closed: bool
) -> None:
    if closed and len(run) > 1 and math.dist(run[0][:2], run[-1][:2]) <= SAME_MM:
        run = run[:-1]  # drawing back to the start before closing is the normal way, not a fault
    if len(run) > 1:
        collected.add_run(layer, names, run, closed)
