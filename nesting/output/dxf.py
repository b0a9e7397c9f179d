"""DXF for cutting tables: 1:1 in millimetres, closed polylines, arcs as arcs, the same bytes every time."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal, get_args

from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace

from nesting.files.layout import Layout
from nesting.output.record import record, side_by_side
from nesting.output.strokes import Circle, Dot, Layer, Loop, Path, Stroke, Text, box_of

Version = Literal["R2000", "R12"]
VERSIONS: tuple[Version, ...] = get_args(Version)
COLOURS: dict[Layer, int] = {"cut": 1, "punch": 4, "mark": 3, "line": 6, "note": 8}
"""DXF colour number of each layer: red, cyan, green, magenta, grey."""
LINE_TYPES = {"stitch": "DASHED", "fold": "DASHDOT", "spine": "CONTINUOUS", "hide": "CONTINUOUS"}
"""Line type by role, where it differs from its layer's."""


def layout_to_dxf(layout: Layout, version: Version = "R2000", kerf_compensated: bool = False) -> bytes:
    """The whole layout as one DXF file, hides side by side 200 mm apart, each with its zero stated.

    Layers: ``cut``, ``punch``, ``mark``, ``line`` and ``note`` (see :mod:`nesting.output.strokes`). Outlines
    are closed LWPOLYLINEs with bulges (closed POLYLINEs in R12, which has no LWPOLYLINE), punches CIRCLEs,
    marks POINTs. ``$INSUNITS`` is 4 (mm) and ``$MEASUREMENT`` 1; R12 knows neither, so a 100 mm check square
    on ``note`` states the scale. Entities come in the order of cutting, inner cuts first. Cut lines are the
    pieces' true size, or half the kerf out in the waste; a note says which. Raises ValueError for another
    version, InputError where a kerf cannot be compensated.
    """
    if version not in VERSIONS:
        raise ValueError(f"DXF version {version!r} is not one of {', '.join(VERSIONS)}")
    strokes = tuple(
        stroke for drawing in side_by_side(record(layout, kerf_compensated)) for stroke in drawing.strokes
    )
    with _fixed_metadata():
        document = _new_document(version)
        space = document.modelspace()
        for stroke in strokes:
            _add(space, stroke, version)
        if strokes:
            low_x, low_y, high_x, high_y = box_of(strokes)
            space.reset_extents((low_x, low_y, 0.0), (high_x, high_y, 0.0))
            document.set_modelspace_vport(
                1.1 * (high_y - low_y), ((low_x + high_x) / 2, (low_y + high_y) / 2)
            )
        stream = io.StringIO()
        document.write(stream)
    return document.encode(stream.getvalue())


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """No dates, no random ids: ezdxf offers that as one switch only, put back afterwards."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _new_document(version: Version) -> Drawing:
    # Not ezdxf.new(): for R12 that logs a warning about the units, which R12 cannot state.
    document = Drawing.new(version)
    if version != "R12":
        document.header["$INSUNITS"] = units.MM
        document.header["$MEASUREMENT"] = 1
    for name, pattern in (("DASHED", [9.0, 6.0, -3.0]), ("DASHDOT", [12.0, 6.0, -2.5, 1.0, -2.5])):
        document.linetypes.add(name, pattern, description=name.lower())
    for layer, colour in COLOURS.items():
        document.layers.add(layer, color=colour)
    document.header["$PDMODE"] = 2
    document.header["$PDSIZE"] = 3.0
    return document


def _add(space: Modelspace, stroke: Stroke, version: Version) -> None:
    attributes: dict[str, str] = {"layer": stroke.layer}
    if stroke.role in LINE_TYPES:
        attributes["linetype"] = LINE_TYPES[stroke.role]
    if isinstance(stroke, Loop):
        _add_polyline(space, stroke.ring, True, attributes, version)
    elif isinstance(stroke, Path):
        _add_polyline(space, stroke.points, False, attributes, version)
    elif isinstance(stroke, Circle):
        space.add_circle(stroke.at, stroke.diameter / 2, attributes)
    elif isinstance(stroke, Dot):
        space.add_point(stroke.at, attributes)
    else:
        _add_text(space, stroke, attributes)


def _add_polyline(
    space: Modelspace,
    points: tuple[tuple[float, float, float], ...],
    closed: bool,
    attributes: dict[str, str],
    version: Version,
) -> None:
    if version == "R12":
        space.add_polyline2d(points, format="xyb", close=closed, dxfattribs=attributes)
    else:
        space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs=attributes)


def _add_text(space: Modelspace, stroke: Text, attributes: dict[str, str]) -> None:
    text = space.add_text(
        stroke.text, height=stroke.height, rotation=stroke.rotation_deg, dxfattribs=attributes
    )
    centred = stroke.align == "centre"
    text.set_placement(
        stroke.at, align=TextEntityAlignment.MIDDLE_CENTER if centred else TextEntityAlignment.LEFT
    )
