"""SVG read back by svgelements, at 25.4 units an inch."""

from __future__ import annotations

import dataclasses
import io
import math
import string
import xml.etree.ElementTree as ET
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
import svgelements as se

from nesting.output.dxf import layout_to_dxf
from nesting.output.record import record, side_by_side
from nesting.output.svg import layout_to_svg, safe_id
from nesting.output.svg_path import Page, path_data
from nesting.rings import area, signed_area

NS = {"s": "http://www.w3.org/2000/svg"}


# svgelements takes a millimetre as 0.0393701 in; this makes its unit a millimetre to the last digit.
PPI = 1 / 0.0393701


def parse(text):
    return se.SVG.parse(io.StringIO(text), ppi=PPI, reify=True)


def shapes_under(drawing, group_id, kind):
    """Elements of a kind anywhere below the group with this id, in document order."""

    def walk(node):
        for child in node:
            if isinstance(child, kind):
                yield child
            if isinstance(child, se.Group):
                yield from walk(child)

    (group,) = [e for e in drawing.elements() if isinstance(e, se.Group) and e.id == group_id]
    return list(walk(group))


def area_y_down(path):
    """Signed area of a closed path of lines and circular arcs, exact, from svgelements' own arc geometry."""
    total = 0.0
    for segment in path.segments():
        if isinstance(segment, se.Move):
            continue
        (x0, y0), (x1, y1) = segment.start, segment.end
        total += (x0 * y1 - x1 * y0) / 2
        if isinstance(segment, se.Arc):
            total += segment.rx**2 * (segment.sweep - math.sin(segment.sweep)) / 2
    return total


def test_page_is_one_to_one_in_millimetres(workshop):
    root = ET.fromstring(layout_to_svg(workshop(3)))
    _, _, width, height = map(float, root.get("viewBox").split())
    assert float(root.get("width")[:-2]) == width
    assert root.get("width").endswith("mm")
    assert float(root.get("height")[:-2]) == height
    assert root.get("height").endswith("mm")


def test_areas_in_mm2_equal_ours(workshop):
    layout = workshop(3)
    drawing = parse(layout_to_svg(layout))
    for one in side_by_side(record(layout)):
        for piece in one.pieces:
            paths = shapes_under(drawing, f"cut-{piece.placement.piece}", se.Path)
            ours = [*piece.cutouts, piece.outline]
            assert len(paths) == len(ours)
            for path, ring in zip(paths, ours, strict=True):
                # y is turned down, so the sign turns too.
                assert area_y_down(path) == pytest.approx(-signed_area(ring), rel=1e-6)


def test_arcs_are_arcs(workshop):
    (fob,) = shapes_under(parse(layout_to_svg(workshop())), "cut-key-fob-01", se.Path)
    arcs = [s for s in fob.segments() if isinstance(s, se.Arc)]
    assert {round(a.rx, 4) for a in arcs} == {21.0}
    assert sum(abs(a.sweep) for a in arcs) == pytest.approx(2 * math.pi)
    assert not [s for s in fob.segments() if isinstance(s, se.CubicBezier | se.QuadraticBezier)]


def test_same_geometry_as_the_dxf(workshop):
    """Every vertex and punch of the DXF is in the SVG, mirrored top to bottom on one and the same page."""
    layout = workshop(3)
    drawing = parse(layout_to_svg(layout))
    space = ezdxf.read(io.StringIO(layout_to_dxf(layout).decode("cp1252"))).modelspace()
    theirs = {"punch": [], "cut": []}
    for circle in space.query('CIRCLE[layer=="punch"]'):
        theirs["punch"].append((circle.dxf.center.x, circle.dxf.center.y, circle.dxf.radius))
    for line in space.query('LWPOLYLINE[layer=="cut"]'):
        theirs["cut"] += line.get_points("xy")
    ours = {
        "punch": [(c.cx, c.cy, c.rx) for c in shapes_under(drawing, "punch", se.Circle)],
        "cut": [tuple(p) for path in shapes_under(drawing, "cut", se.Path) for p in path.as_points()],
    }
    left = min(p[0] for p in ours["punch"]) - min(p[0] for p in theirs["punch"])
    top = max(p[1] for p in theirs["punch"]) + min(p[1] for p in ours["punch"])
    wanted = sorted((px + left, top - py, r) for px, py, r in theirs["punch"])
    assert np.allclose(wanted, sorted(ours["punch"]), atol=2e-6)
    points = np.array(ours["cut"])
    for px, py in theirs["cut"]:
        assert np.abs(points - (px + left, top - py)).max(axis=1).min() < 2e-6


def test_cut_groups_hold_lines_only(workshop):
    root = ET.fromstring(layout_to_svg(workshop(3)))
    for layer in ("cut", "punch", "mark", "line"):
        (group,) = root.findall(f"s:g[@id='{layer}']", NS)
        assert group.get("fill") == "none"
        assert not [e for e in group.iter() if e is not group and "fill" in e.attrib]
        assert not [e for e in group.iter() if e.tag.endswith("text")]


def test_document_order_is_order_of_cutting(workshop):
    root = ET.fromstring(layout_to_svg(workshop()))
    assert [g.get("id") for g in root.findall("s:g", NS)] == ["note", "mark", "line", "punch", "cut"]
    (chap,) = root.findall(".//s:g[@id='cut-half-chap-02-R']", NS)
    assert [path.get("class") for path in chap] == ["cut-out", "outline"]


def test_ids_are_unique_and_safe(workshop):
    layout = workshop()
    first = layout.hides[0]
    odd = dataclasses.replace(first.placements[0], piece="half-chap 'ö' <1>")
    first = dataclasses.replace(first, placements=(odd, *first.placements[1:]))
    layout = dataclasses.replace(layout, hides=(first,))
    root = ET.fromstring(layout_to_svg(layout))
    ids = [e.get("id") for e in root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    assert "cut-" + safe_id("half-chap 'ö' <1>") in ids
    allowed = set(string.ascii_letters + string.digits + "-_.")
    assert all(set(name) <= allowed for name in ids)


def test_no_line_twice_among_the_cuts(touching):
    drawing = parse(layout_to_svg(touching()))
    ends = []
    for path in shapes_under(drawing, "cut", se.Path):
        points = [tuple(round(c, 4) for c in p) for p in path.as_points()]
        ends += [frozenset(pair) for pair in pairwise(points) if pair[0] != pair[1]]
    assert len(ends) == len(set(ends)) == 7


@pytest.mark.parametrize("bulge", [-3.0, -1.0, -0.2, 0.2, 0.9, 1.0, 3.0])
def test_path_data_of_any_arc(bulge):
    """A segment of a disc bounded by a chord: its exact area comes back through the text (geometry)."""
    ring = ((10.0, 20.0, bulge), (40.0, 60.0, 0.0))
    path = se.Path(path_data(ring, True, Page(0.0, 100.0)))
    assert area_y_down(path) == pytest.approx(-signed_area(ring), rel=1e-6)
    assert abs(area_y_down(path)) == pytest.approx(area(ring), rel=1e-6)


def test_caption_and_cautions_are_there(workshop):
    root = ET.fromstring(layout_to_svg(workshop(tool="laser")))
    words = " ".join(e.text for e in root.findall(".//s:g[@id='caption']/s:text", NS))
    assert "Half-chaps for a riding school" in words
    assert "6 pairs of half-chap" in words
    assert "PVC" in words
    assert "certifies nothing" in words


def test_same_bytes(workshop):
    assert layout_to_svg(workshop(2)) == layout_to_svg(workshop(2))


def test_empty_layout_is_an_empty_page(workshop):
    root = ET.fromstring(layout_to_svg(dataclasses.replace(workshop(), hides=())))
    (cut,) = root.findall(".//s:g[@id='cut']", NS)
    assert len(cut) == 0
