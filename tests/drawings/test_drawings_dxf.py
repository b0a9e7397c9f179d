"""DXF in: exact arcs, units, blocks, mirrored drawing planes, old versions, damage."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf.layouts import Modelspace
from scipy.interpolate import BSpline

from nesting.drawings.drawing import Drawing
from nesting.drawings.loops import Joined, join_strokes
from nesting.drawings.reading import read_drawing
from nesting.errors import InputError
from nesting.rings import area, flatten

pytestmark = pytest.mark.filterwarnings("ignore:.*pyarrow.*:UserWarning")

BEHIND = {"extrusion": (0, 0, -1)}


def joined(path: Path, unit: str | None = None) -> Joined:
    return join_strokes(read_drawing(path, unit))


def codes(drawing: Drawing | Joined) -> list[str]:
    return [note.code for note in drawing.notes]


def texts(drawing: Drawing | Joined) -> str:
    return "\n".join(note.text for note in drawing.notes)


def slot(space: Modelspace, **attributes: object) -> None:
    """A slot 100 long between centres, 100 wide: 100 x 100 and a circle of radius 50."""
    space.add_line((0, 0), (100, 0), dxfattribs=attributes)
    space.add_arc((100, 50), 50, -90, 90, dxfattribs=attributes)
    space.add_line((0, 100), (100, 100), dxfattribs=attributes)  # against the way round
    space.add_arc((0, 50), 50, 90, 270, dxfattribs=attributes)


SLOT_MM2 = 100 * 100 + math.pi * 50**2


def square(space: Modelspace) -> None:
    space.add_lwpolyline([(0, 0), (10, 0), (10, 10), (0, 10)], close=True)


def test_circle_area_is_exact(dxf_file) -> None:
    [loop] = joined(dxf_file(lambda s: s.add_circle((30, 40), 12.5))).loops
    assert area(loop.vertices) == pytest.approx(math.pi * 12.5**2, rel=1e-14)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_slot_of_loose_lines_and_arcs(dxf_file, version: str) -> None:
    path = dxf_file(slot, version=version)
    [loop] = joined(path, "mm" if version == "R12" else None).loops
    assert area(loop.vertices) == pytest.approx(SLOT_MM2, rel=1e-12)
    assert sorted(abs(bulge) for *_, bulge in loop.vertices) == pytest.approx([0, 0, 1, 1], abs=1e-12)


@pytest.mark.parametrize(("number", "unit", "size"), [
    (1, "in", 25.4), (2, "ft", 304.8), (4, "mm", 1), (5, "cm", 10), (6, "m", 1000), (14, "dm", 100),
])  # fmt: skip
def test_stated_units_are_honoured(dxf_file, number: int, unit: str, size: float) -> None:
    drawing = joined(dxf_file(slot, unit=number))
    assert drawing.unit == unit
    assert area(drawing.loops[0].vertices) == pytest.approx(SLOT_MM2 * size**2, rel=1e-12)


def test_inch_file_is_25_4_times_the_same_numbers(dxf_file) -> None:
    [mm] = joined(dxf_file(slot, unit=4, name="mm.dxf")).loops
    [inch] = joined(dxf_file(slot, unit=1, name="in.dxf")).loops
    scaled = np.array(mm.vertices) * (25.4, 25.4, 1)
    assert np.array(inch.vertices) == pytest.approx(scaled, rel=1e-12)


def test_a_file_without_a_unit_is_asked_for(dxf_file) -> None:
    path = dxf_file(square, unit=0)
    with pytest.raises(InputError, match=r"does not state its unit.*--unit mm"):
        read_drawing(path)
    assert area(joined(path, "inch").loops[0].vertices) == pytest.approx(100 * 25.4**2)


def test_r12_states_no_unit(dxf_file) -> None:
    with pytest.raises(InputError, match="does not state its unit"):
        read_drawing(dxf_file(slot, version="R12"))


def test_contradicting_unit_is_refused(dxf_file) -> None:
    with pytest.raises(InputError, match=r"states that it is in mm, and --unit says in"):
        read_drawing(dxf_file(square), "in")
    assert read_drawing(dxf_file(square), "mm").unit == "mm"


def test_unit_of_no_workshop_is_refused(dxf_file) -> None:
    with pytest.raises(InputError, match=r"INSUNITS 20"):
        read_drawing(dxf_file(square, unit=20))


def test_unknown_unit_option(dxf_file) -> None:
    with pytest.raises(InputError, match="unknown unit"):
        read_drawing(dxf_file(square, unit=0), "cubit")


@pytest.mark.parametrize("bulge", [0.3, -0.7, 1.0, 2.5])
def test_bulges_are_kept_exactly(dxf_file, bulge: float) -> None:
    points = [(0, 0, 0), (80, 0, bulge), (80, 60, 0), (0, 60, 0)]
    path = dxf_file(lambda s: s.add_lwpolyline(points, format="xyb", close=True))
    assert joined(path).loops[0].vertices == tuple((float(x), float(y), b) for x, y, b in points)


def test_old_polyline_of_r12_keeps_bulges(dxf_file) -> None:
    points = [(0, 0, 0.5), (80, 0, 0), (80, 60, -0.25), (0, 60, 0)]
    path = dxf_file(lambda s: s.add_polyline2d(points, format="xyb", close=True), version="R12")
    assert joined(path, "mm").loops[0].vertices == tuple((float(x), float(y), b) for x, y, b in points)


def test_polyline_that_repeats_its_first_point(dxf_file) -> None:
    points = [(0, 0), (80, 0), (80, 60), (0, 0)]
    closed = joined(dxf_file(lambda s: s.add_lwpolyline(points, close=True)))
    unclosed = joined(dxf_file(lambda s: s.add_lwpolyline(points)))
    for drawing in (closed, unclosed):
        assert [len(loop.vertices) for loop in drawing.loops] == [3]
        assert area(drawing.loops[0].vertices) == pytest.approx(2400)
    assert codes(closed) == ["dropped-closing-point"]


@pytest.mark.parametrize("mirrored", [False, True])
def test_everything_seen_from_behind(dxf_file, mirrored: bool) -> None:
    """Extrusion (0, 0, -1): x runs the other way and arcs turn clockwise (DXF reference, OCS)."""
    attributes = BEHIND if mirrored else {}

    def draw(space: Modelspace) -> None:
        space.add_lwpolyline(
            [(0, 0, 0.4), (80, 0, 0), (80, 60, 0)], format="xyb", close=True, dxfattribs=attributes
        )
        space.add_circle((200, 10), 5, dxfattribs=attributes)
        space.add_arc((300, 50), 50, 10, 130, dxfattribs=attributes)

    drawing = joined(dxf_file(draw))
    side = -1 if mirrored else 1
    polyline, circle = drawing.loops
    assert polyline.vertices == ((0, 0, side * 0.4), (side * 80, 0, 0), (side * 80, 60, 0))
    assert flatten(circle.vertices).mean(axis=0) == pytest.approx((side * 200, 10), abs=1e-9)
    [arc] = drawing.chains
    assert arc.vertices[0][2] == pytest.approx(side * math.tan(math.radians(30)))
    assert arc.start == pytest.approx(
        (side * (300 + 50 * math.cos(math.radians(10))), 50 + 50 * math.sin(math.radians(10)))
    )


def test_mirrored_slot_still_joins(dxf_file) -> None:
    def draw(space: Modelspace) -> None:
        space.add_line((0, 0), (-100, 0))  # lines are always in world coordinates
        space.add_arc((100, 50), 50, -90, 90, dxfattribs=BEHIND)
        space.add_line((0, 100), (-100, 100))
        space.add_arc((0, 50), 50, 90, 270, dxfattribs=BEHIND)

    [loop] = joined(dxf_file(draw)).loops
    assert area(loop.vertices) == pytest.approx(SLOT_MM2, rel=1e-12)


def test_tilted_plane_is_refused(dxf_file) -> None:
    with pytest.raises(InputError, match="circle on layer 0 lies in a tilted plane"):
        read_drawing(dxf_file(lambda s: s.add_circle((0, 0), 5, dxfattribs={"extrusion": (0, 1, 1)})))


def test_blocks_are_opened_with_their_transform(dxf_file) -> None:
    """Nested, mirrored and turned; layer 0 inside takes the layer of the insert."""

    def draw(space: Modelspace) -> None:
        inner = space.doc.blocks.new("INNER")
        inner.add_circle((3, 0), 2)
        inner.add_lwpolyline(
            [(0, 0, 0.4), (10, 0, 0), (10, 8, 0)], format="xyb", close=True, dxfattribs={"layer": "own"}
        )
        outer = space.doc.blocks.new("OUTER")
        outer.add_blockref("INNER", (5, 5), dxfattribs={"rotation": 90})
        space.add_blockref("OUTER", (100, 0), dxfattribs={"layer": "holes", "xscale": -2, "yscale": 2})

    drawing = joined(dxf_file(draw))
    rings = {loop.layer: loop.vertices for loop in drawing.loops}
    assert set(rings) == {"holes", "own"}
    assert area(rings["holes"]) == pytest.approx(math.pi * 16, rel=1e-12)
    # (3, 0) turned by 90 degrees to (0, 3), moved to (5, 8), scaled by (-2, 2), moved by (100, 0)
    assert flatten(rings["holes"]).mean(axis=0) == pytest.approx((90, 16), abs=1e-9)
    assert sorted(bulge for *_, bulge in rings["own"]) == pytest.approx([-0.4, 0, 0])


def test_unevenly_scaled_circle_becomes_an_ellipse(dxf_file) -> None:
    def draw(space: Modelspace) -> None:
        space.doc.blocks.new("B").add_circle((0, 0), 20)
        space.add_blockref("B", (0, 0), dxfattribs={"layer": "eye", "xscale": 3, "yscale": 1})

    drawing = joined(dxf_file(draw))
    assert area(drawing.loops[0].vertices) == pytest.approx(math.pi * 60 * 20, abs=0.02 * 280)
    assert "1 ellipse on layer eye became arcs and chords within 0.02 mm" in texts(drawing)


def test_closed_spline_against_scipy(dxf_file) -> None:
    corners = [(0, 300), (50, 300), (70, 350), (0, 350)]
    path = dxf_file(lambda s: s.add_spline().set_closed([(*p, 0) for p in corners]))
    around = np.array([*corners, *corners[:3]], dtype=float)
    truth = BSpline(np.arange(11.0), around, 3)(np.linspace(3, 7, 2000))  # where all four bases are full
    [loop] = joined(path).loops
    apart = shapely.distance(shapely.points(truth), shapely.LinearRing(flatten(loop.vertices, 1e-4)))
    assert apart.max() <= 0.0201
    assert area(loop.vertices) == pytest.approx(shapely.Polygon(truth).area, abs=0.02 * 200)


def test_part_of_an_ellipse_against_its_equation(dxf_file) -> None:
    [stroke] = read_drawing(dxf_file(lambda s: s.add_ellipse((300, 0), (40, 10), 0.5, 0.5, 4))).strokes
    t = np.linspace(0.5, 4, 2000)
    truth = np.column_stack((300 + 40 * np.cos(t) - 5 * np.sin(t), 10 * np.cos(t) + 20 * np.sin(t)))
    apart = shapely.distance(shapely.points(truth), shapely.LineString(flatten(stroke.vertices, 1e-4)))
    assert apart.max() <= 0.0201
    assert not stroke.closed
    assert stroke.start == pytest.approx(tuple(truth[0]))


def test_round_ellipse_is_an_exact_circle(dxf_file) -> None:
    drawing = joined(dxf_file(lambda s: s.add_ellipse((5, 5), (20, 0), 1.0)))
    assert area(drawing.loops[0].vertices) == pytest.approx(math.pi * 400, rel=1e-12)
    assert codes(drawing) == []


def test_hidden_layers_and_texts_are_left_out_and_listed(dxf_file) -> None:
    def draw(space: Modelspace) -> None:
        square(space)
        for layer in ("frozen", "off"):
            space.add_circle((0, 0), 3, dxfattribs={"layer": layer})
        space.doc.layers.add("frozen").freeze()
        space.doc.layers.add("off").off()
        space.add_text("near side")
        space.add_mtext("two\\Plines")
        space.add_point((1, 1), dxfattribs={"layer": "Defpoints"})
        space.add_circle((0, 0), 4, dxfattribs={"invisible": 1})

    drawing = joined(dxf_file(draw))
    assert len(drawing.loops) == 1
    assert drawing.spots == ()
    for text in (
        "left out 1 circle: layer frozen is frozen",
        "left out 1 circle: layer off is off",
        "left out 2 texts: it is not geometry",
        "left out 1 point: layer Defpoints is never drawn",
        "left out 1 circle: it is invisible",
    ):
        assert text in texts(drawing)


def test_a_line_that_climbs_is_listed(dxf_file) -> None:
    drawing = read_drawing(dxf_file(lambda s: s.add_line((0, 0, 0), (10, 0, 5))))
    assert codes(drawing) == ["not-flat"]


def test_areas_against_gdal(dxf_file) -> None:
    """GDAL, through pyogrio, reads the same file; it turns arcs into chords of at most a degree here."""

    def draw(space: Modelspace) -> None:
        points = [(0, 0, 0.4), (120, 0, -0.2), (140, 90, 1.3), (10, 80, 0)]
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "a"})
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "b", **BEHIND})
        space.add_ellipse((300, 0), (40, 10), 0.5, dxfattribs={"layer": "c"})
        space.doc.blocks.new("B").add_lwpolyline(points, format="xyb", close=True)
        space.add_blockref(
            "B", (500, 500), dxfattribs={"layer": "d", "rotation": 33, "xscale": -1.5, "yscale": 1.5}
        )

    path = dxf_file(draw)
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.2"})
    try:
        meta, _, wkb, columns = pyogrio.raw.read(path)
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    layers = columns[list(meta["fields"]).index("Layer")]
    shapes = [p for g in shapely.from_wkb(wkb) for p in (g.geoms if hasattr(g, "geoms") else [g])]
    theirs = dict(zip(layers, shapes, strict=True))
    ours = {loop.layer: loop.vertices for loop in joined(path).loops}
    assert set(ours) == set(theirs) == {"a", "b", "c", "d"}
    for layer, ring in ours.items():
        polygon = shapely.Polygon(theirs[layer].coords)
        assert area(ring) == pytest.approx(polygon.area, rel=2e-5 if layer != "c" else 2e-4)
        assert shapely.Polygon(flatten(ring)).symmetric_difference(polygon).area < 1e-3 * polygon.area


def test_damaged_dxf_is_recovered_and_listed(dxf_file) -> None:
    path = dxf_file(slot)
    text = path.read_text()
    start = text.index("  0\nSECTION\n  2\nCLASSES")
    path.write_text(text[:start] + "  0\nRUBBISH\n" + text[start:].replace("  0\nEOF\n", ""))
    drawing = joined(path)
    assert area(drawing.loops[0].vertices) == pytest.approx(SLOT_MM2, rel=1e-12)
    assert "dxf-recovered" in codes(drawing)


def test_guessed_numbers_of_a_damaged_dxf_are_warned_of(dxf_file) -> None:
    path = dxf_file(lambda s: s.add_lwpolyline([(0, 0), (12.125, 0), (5, 5)], close=True))
    path.write_text(path.read_text().replace("12.125", "12.1,25"))
    drawing = joined(path)
    assert drawing.loops[0].vertices[1][:2] == (12.1, 0)
    [warned] = [note for note in drawing.notes if note.code == "dxf-guessed" and "12.1,25" in note.text]
    assert warned.kind == "warning"


def test_a_kind_of_entity_nobody_knows_is_listed(dxf_file) -> None:
    path = dxf_file(lambda s: (square(s), s.add_circle((5, 5), 1)))
    path.write_text(path.read_text().replace("\nCIRCLE\n", "\nCIRCUS\n"))
    assert "left out 1 circus: this kind is not read" in texts(joined(path))


BAD = {
    "picture": (b"\x89PNG\r\n\x1a\n" + bytes(100), "this is a PNG picture"),
    "photo": (b"\xff\xd8\xff\xe0" + bytes(100), "this is a JPEG picture"),
    "page": (b"%PDF-1.7\n", "this is a PDF page"),
    "words": (b"Dear saddler,\nplease find attached\n", "no DXF drawing"),
    "bytes": (bytes(range(1, 256)) * 20, "no DXF drawing"),
    "nothing": (b"", "the file is empty"),
    "cut short": (b"  0\nSECTION\n  2\nHEADER\n", "no line is drawn|no DXF drawing|does not state"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_dxf(tmp_path: Path, name: str) -> None:
    data, said = BAD[name]
    path = tmp_path / "bad.dxf"
    path.write_bytes(data)
    with pytest.raises(InputError, match=said):
        read_drawing(path)


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_drawing(tmp_path / "gone.dxf")
    with pytest.raises(InputError, match="not a file"):
        read_drawing(tmp_path)


def test_unknown_kind_of_file(tmp_path: Path) -> None:
    path = tmp_path / "hide.step"
    path.write_text("ISO-10303-21;")
    with pytest.raises(InputError, match=r"\.dxf, a \.svg or a \.csv"):
        read_drawing(path)


def test_drawings_without_lines(dxf_file) -> None:
    with pytest.raises(InputError, match=r"no line is drawn in it$"):
        read_drawing(dxf_file(lambda s: None))
    with pytest.raises(InputError, match=r"no line is drawn in it \(left out 1 text"):
        read_drawing(dxf_file(lambda s: s.add_text("empty")))
    with pytest.raises(InputError, match="dropped a line of no length"):
        read_drawing(dxf_file(lambda s: s.add_line((3, 3), (3, 3))))


@pytest.mark.parametrize("value", ["nan", "inf", "1e999"])
def test_numbers_that_are_none(dxf_file, value: str) -> None:
    path = dxf_file(lambda s: s.add_lwpolyline([(0, 0), (12.125, 0), (5, 5)], close=True))
    path.write_text(path.read_text().replace("12.125", value))
    with pytest.raises(InputError, match="not a number"):
        read_drawing(path)


def test_circle_without_a_radius(dxf_file) -> None:
    with pytest.raises(InputError, match="has the radius 0"):
        read_drawing(dxf_file(lambda s: s.add_circle((0, 0), 0)))
