"""Drawings to panels: what is cut out, punched, marked, drawn and hidden, and what is refused."""

from __future__ import annotations

import math

import pytest
from ezdxf.layouts import Modelspace

from nesting.drawings.as_panel import PanelWishes, panel_from_drawing
from nesting.drawings.loops import join_strokes
from nesting.drawings.reading import read_drawing
from nesting.errors import FileFormatError, InputError
from nesting.files.panel import HiddenZone, Line, Punch, Stretch
from nesting.rings import area


def panel_in(path, unit=None, tolerance=0.1, **wishes):
    joined = join_strokes(read_drawing(path, unit), tolerance)
    return panel_from_drawing(joined, PanelWishes("flap", **wishes))


def texts(notes):
    return "\n".join(note.text for note in notes)


def box(space: Modelspace, x, y, width, height, layer="0"):
    points = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def body(space: Modelspace):
    box(space, 0, 0, 200, 300)


def test_everything_on_one_layer_by_its_form(dxf_file) -> None:
    def draw(space):
        body(space)
        space.add_circle((20, 30), 2)
        space.add_circle((60, 30), 10.01)
        box(space, 100, 100, 30, 5)
        space.add_point((100, 20))
        space.add_line((5, 50), (195, 50))

    panel, notes = panel_in(dxf_file(draw))
    assert panel.punches == (Punch((20, 30), 4),)
    assert [area(ring) for ring in panel.cutouts] == pytest.approx([math.pi * 10.01**2, 150])
    assert panel.marks == ((100, 20),)
    assert panel.lines == (Line("line", ((5, 50, 0), (195, 50, 0))),)
    assert panel.hidden_zones == ()
    assert "punch of 4 mm on layer 0 at (20, 30)" in texts(notes)
    assert [n.text for n in notes if n.kind == "warning"] == [
        "the open line on layer 0 at (5, 50) does not close: it will be drawn, not cut"
    ]


def test_layers_say_what_things_are(dxf_file) -> None:
    def draw(space):
        box(space, 0, 0, 200, 300, "cut")
        space.add_circle((100, 150), 15, dxfattribs={"layer": "punch"})
        space.add_circle((30, 30), 2, dxfattribs={"layer": "cut-out"})
        space.add_circle((60, 30), 1, dxfattribs={"layer": "marks"})
        box(space, 5, 5, 190, 290, "Stitch 1")
        space.add_lwpolyline([(10, 250, 0.2), (190, 250, 0)], format="xyb", dxfattribs={"layer": "GROOVE"})
        space.add_line((10, 240), (190, 240), dxfattribs={"layer": "pricking"})
        box(space, -5, 270, 210, 40, "hidden")
        box(space, -5, -5, 210, 30, "hidden weak")
        box(space, -50, -50, 400, 500, "frame")
        space.add_line((0, 0), (9, 9), dxfattribs={"layer": "note"})

    panel, notes = panel_in(dxf_file(draw))
    assert panel.punches == (Punch((100, 150), 30),)
    assert [area(ring) for ring in panel.cutouts] == pytest.approx([math.pi * 4])
    assert panel.marks == ((60, 30),)
    lines = {line.role: line.points for line in panel.lines}
    assert set(lines) == {"stitch", "groove", "pricking"}
    assert lines["groove"] == ((10, 250, 0.2), (190, 250, 0))
    assert lines["stitch"] == ((5, 5, 0), (195, 5, 0), (195, 295, 0), (5, 295, 0), (5, 5, 0))
    assert [zone.accepts for zone in panel.hidden_zones] == [("blemish",), ("weak", "blemish")]
    assert "write weak into its name" in texts(notes)
    assert "the open line on layer note at (0, 0): its name says it is no part of the panel" in texts(notes)


def test_wishes_are_kept(dxf_file) -> None:
    panel, _ = panel_in(
        dxf_file(body), pairing="mirrored", stretch=Stretch(90, 15), turns_deg=(0, 180), accepts=("blemish",)
    )
    assert (panel.name, panel.pairing, panel.stretch) == ("flap", "mirrored", Stretch(90, 15))
    assert (panel.turns_deg, panel.accepts) == ((0, 180), ("blemish",))


@pytest.mark.parametrize(("end", "angle"), [((0, -80), 90), ((80, 0), 0), ((-30, 30), 135)])
def test_a_stretch_line_gives_the_direction(dxf_file, end, angle: float) -> None:
    def draw(space):
        body(space)
        space.add_line((100, 100), (100 + end[0], 100 + end[1]), dxfattribs={"layer": "stretch"})

    assert panel_in(dxf_file(draw))[0].stretch == Stretch(angle, 15)
    assert panel_in(dxf_file(draw), stretch=Stretch(10, 5))[0].stretch == Stretch(10, 5)


def test_crosses_on_a_mark_layer(svg_file) -> None:
    page = """<g id="outline"><rect x="10" y="10" width="100" height="200"/></g>
      <g id="mark"><path d="M 48 50 h 4 M 50 48 v 4"/>
        <path d="M 20 20 l 3 3 M 23 20 l -3 3 M 60 60 h 9"/></g>"""
    panel, notes = panel_in(svg_file(page))
    assert panel.marks == ((50, 250), (21.5, 278.5))
    assert [line.role for line in panel.lines] == ["mark"]
    assert texts(notes).count("mark: the cross on layer mark") == 2


def test_a_circle_drawn_as_curves_is_a_punch(svg_file) -> None:
    """Four Bézier quarters with the usual handle, 0.5523 r, stay within 0.03 % of the circle."""
    k = 3 * 0.5522847
    circle = (
        f"M 53 100 C 53 {100 + k} {50 + k} 103 50 103 C {50 - k} 103 47 {100 + k} 47 100 "
        f"C 47 {100 - k} {50 - k} 97 50 97 C {50 + k} 97 53 {100 - k} 53 100 Z"
    )
    panel, _ = panel_in(svg_file(f'<rect width="100" height="200"/><path d="{circle}"/>'))
    [punch] = panel.punches
    assert punch.at == pytest.approx((50, 200), abs=0.02)
    assert punch.diameter == pytest.approx(6, abs=0.02)


def test_a_hexagon_is_no_punch(dxf_file) -> None:
    def draw(space):
        body(space)
        corners = [(50 + 4 * math.cos(a), 50 + 4 * math.sin(a)) for a in (math.tau * i / 6 for i in range(6))]
        space.add_lwpolyline(corners, close=True)

    panel, _ = panel_in(dxf_file(draw))
    assert panel.punches == ()
    assert len(panel.cutouts) == 1


def test_several_outer_rings_are_refused_and_named(dxf_file) -> None:
    def draw(space):
        box(space, 0, 0, 200, 300, "left")
        box(space, 300, 0, 100, 100, "right")
        space.add_circle((350, 50), 2, dxfattribs={"layer": "right"})

    path = dxf_file(draw)
    with pytest.raises(
        InputError, match=r"layer left of 200.0 x 300.0 mm .*layer right of 100.0 x 100.0 mm.*--layer"
    ):
        panel_in(path)
    panel, notes = panel_in(path, layer="RIGHT")
    assert area(panel.outline) == pytest.approx(10000)
    assert panel.punches == (Punch((350, 50), 4),)
    assert "left out the ring on layer left of 200.0 x 300.0 mm at (0, 0): it lies outside" in texts(notes)
    with pytest.raises(InputError, match="no ring lies on layer middle; there are rings on left, right"):
        panel_in(path, layer="middle")


def test_a_named_outline_leaves_strays_out(dxf_file) -> None:
    def draw(space):
        box(space, 0, 0, 200, 300, "outline")
        box(space, 300, 0, 10, 10)
        space.add_point((500, 500))
        space.add_line((500, 0), (600, 0), dxfattribs={"layer": "fold"})

    panel, notes = panel_in(dxf_file(draw))
    assert (panel.cutouts, panel.marks, panel.lines) == ((), (), ())
    assert [note.kind for note in notes if "outside the panel" in note.text] == ["warning"] * 3


def test_panels_that_share_an_edge_are_several(dxf_file) -> None:
    def draw(space):
        body(space)
        box(space, 200, 0, 100, 300)

    with pytest.raises(InputError, match="several rings"):
        panel_in(dxf_file(draw))


def test_the_outline_drawn_twice_is_no_cutout(dxf_file) -> None:
    def draw(space):
        body(space)
        box(space, 0, 0, 200, 300, "cut")

    panel, notes = panel_in(dxf_file(draw))
    assert panel.cutouts == ()
    assert [note.code for note in notes if note.kind == "warning"] == ["duplicate-outline"]


def test_outline_on_a_cut_line_layer_with_its_cutouts(dxf_file) -> None:
    def draw(space):
        box(space, 0, 0, 200, 300, "CUT_LINE")
        box(space, 20, 20, 50, 5, "CUT_LINE")
        box(space, 10, 10, 180, 280, "lines")

    panel, _ = panel_in(dxf_file(draw))
    assert [area(ring) for ring in panel.cutouts] == pytest.approx([250])
    assert [line.role for line in panel.lines] == ["lines"]


def test_a_fold_across_corners_on_the_same_layer(dxf_file) -> None:
    def draw(space):
        corners = [(0, 0), (200, 0), (200, 300), (0, 300)]
        for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
            space.add_line(start, end)
        space.add_line((0, 0), (200, 300))

    panel, notes = panel_in(dxf_file(draw))
    assert area(panel.outline) == pytest.approx(60000)
    assert [line.points for line in panel.lines] == [((0, 0, 0), (200, 300, 0))]
    assert "junction" in [note.code for note in notes]


def test_open_outline_is_refused(dxf_file) -> None:
    def draw(space):
        space.add_lwpolyline([(0, 0), (200, 0), (200, 300), (0, 300), (0, 0.6)])
        space.add_circle((50, 50), 2)

    with pytest.raises(
        InputError, match=r'outline of the panel on layer 0 is open: a gap of 0.60 mm.*"0.7 mm"'
    ):
        panel_in(dxf_file(draw))
    assert area(panel_in(dxf_file(draw), tolerance=0.7)[0].outline) == pytest.approx(60000)


@pytest.mark.parametrize("layer", ["hidden", "holes", "window"])
def test_open_rings_that_must_close_are_refused(dxf_file, layer: str) -> None:
    def draw(space):
        body(space)
        space.add_lwpolyline([(10, 10), (60, 10), (60, 60), (10, 12)], dxfattribs={"layer": layer})

    with pytest.raises(InputError, match=f"on layer {layer} is open: a gap of 2.00 mm"):
        panel_in(dxf_file(draw))


def test_a_cutout_over_the_edge_is_refused(dxf_file) -> None:
    def draw(space):
        body(space)
        box(space, 180, 100, 50, 20)

    with pytest.raises(InputError, match=r"ring on layer 0 of 50.0 x 20.0 mm at \(180, 100\) reaches over"):
        panel_in(dxf_file(draw))


def test_a_punch_over_the_edge_is_refused(dxf_file) -> None:
    def draw(space):
        body(space)
        space.add_circle((199, 100), 3)

    with pytest.raises(FileFormatError, match=r"the hole of 6 mm at \(199, 100\) reaches over the outline"):
        panel_in(dxf_file(draw))


def test_self_crossing_outline_is_refused(dxf_file) -> None:
    with pytest.raises(FileFormatError, match="outline: crosses or touches itself"):
        panel_in(dxf_file(lambda s: s.add_lwpolyline([(0, 0), (100, 100), (100, 0), (0, 100)], close=True)))


def test_a_point_on_a_punch_layer_has_no_diameter(dxf_file) -> None:
    def draw(space):
        body(space)
        space.add_point((50, 50), dxfattribs={"layer": "eyelets"})

    panel, notes = panel_in(dxf_file(draw))
    assert panel.marks == ((50, 50),)
    assert [n.text for n in notes if n.kind == "warning"] == [
        "the point on layer eyelets at (50, 50) has no diameter: it is a mark, not a punch"
    ]


@pytest.mark.parametrize(("unit", "warned"), [(4, True), (5, False), (1, False), (6, True)])
def test_a_size_that_no_panel_has_is_warned_of(dxf_file, unit: int, warned: bool) -> None:
    _, notes = panel_in(dxf_file(lambda s: box(s, 0, 0, 3, 4), unit=unit))
    assert ("size" in [note.code for note in notes]) is warned


def test_mirrored_page_mirrors_the_panel(svg_file) -> None:
    """A group flipped sideways: areas stay, the punch moves to the other side, arcs turn."""
    shapes = '<path d="M 10 10 h 80 a 20 20 0 0 1 20 20 v 100 h -100 z"/><circle cx="30" cy="50" r="3"/>'
    plain, _ = panel_in(svg_file(shapes))
    flipped, _ = panel_in(svg_file(f'<g transform="translate(200 0) scale(-1 1)">{shapes}</g>'))
    assert area(flipped.outline) == pytest.approx(area(plain.outline), rel=1e-12)
    assert sorted(b for *_, b in flipped.outline) == pytest.approx(sorted(-b for *_, b in plain.outline))
    assert plain.punches == (Punch((30, 250), 6),)
    assert flipped.punches == (Punch((170, 250), 6),)


def test_hidden_zone_keeps_its_arcs(dxf_file) -> None:
    def draw(space):
        body(space)
        points = [(0, 280, 0), (200, 280, 0.3), (200, 310, 0), (0, 310, 0)]
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": "hidden"})

    zone = ((0, 280, 0), (200, 280, 0.3), (200, 310, 0), (0, 310, 0))
    assert panel_in(dxf_file(draw))[0].hidden_zones == (HiddenZone(zone, ("blemish",)),)
