"""SVG in: exact arcs under transforms, page sizes, names of groups, and what is not drawn."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from nesting.drawings.loops import join_strokes
from nesting.drawings.reading import read_drawing
from nesting.errors import InputError
from nesting.rings import area, flatten, signed_area


def rings(path, unit=None):
    return [loop.vertices for loop in join_strokes(read_drawing(path, unit)).loops]


def test_circle_is_exact_and_y_points_up(svg_file) -> None:
    [ring] = rings(svg_file('<circle cx="30" cy="40" r="12.5"/>'))
    assert area(ring) == pytest.approx(math.pi * 12.5**2, rel=1e-12)
    points = flatten(ring)
    centre = 0.5 * (points.min(axis=0) + points.max(axis=0))
    assert centre == pytest.approx((30, 300 - 40), abs=1e-9)


SLOT = '<path id="slot" d="M 50 50 h 100 a 50 50 0 0 1 0 100 h -100 a 50 50 0 0 1 0 -100 z"/>'
SLOT_MM2 = 100 * 100 + math.pi * 50**2


@pytest.mark.parametrize(
    ("size", "unit", "scale"),
    [
        ('width="200mm" height="300mm" viewBox="0 0 200 300"', "mm", 1),
        ('width="20cm" height="30cm" viewBox="0 0 200 300"', "mm", 1),
        ('width="200in" height="300in" viewBox="0 0 200 300"', "in", 25.4),
        ('width="200mm" height="300mm" viewBox="10 20 20 30"', "cm", 10),
        ('width="200mm" viewBox="0 0 200 300"', "mm", 1),
        ('width="200px" height="300mm" viewBox="0 0 200 300"', "mm", 1),
        ('width="72pt" height="108pt" viewBox="0 0 96 144"', "px", 25.4 / 96),
        ('width="2100mm" height="300mm" viewBox="0 0 200 300"', "mm", 1),  # fitted, kept in proportion
        (
            'width="100mm" height="100mm" viewBox="0 0 200 300" preserveAspectRatio="xMidYMid slice"',
            None,
            0.5,
        ),
    ],
)
def test_page_sizes_that_state_the_unit(svg_file, size: str, unit: str | None, scale: float) -> None:
    path = svg_file(SLOT, size)
    [ring] = rings(path)
    assert area(ring) == pytest.approx(SLOT_MM2 * scale**2, rel=1e-12)
    assert read_drawing(path).unit == (unit or "units of 0.5 mm")


UNSTATED = [
    'width="200" height="300" viewBox="0 0 200 300"',
    'width="200px" height="300px"',
    'width="100%" height="100%" viewBox="0 0 200 300"',
    'viewBox="0 0 200 300"',
    'width="200mm" height="300mm"',  # without a viewBox the numbers inside are pixels of an unsure size
    "",
]


@pytest.mark.parametrize("size", UNSTATED)
def test_pages_that_state_no_unit_are_asked_for(svg_file, size: str) -> None:
    path = svg_file(SLOT, size)
    with pytest.raises(InputError, match="does not state its unit"):
        read_drawing(path)
    for unit, scale in (("mm", 1), ("in", 25.4), ("px", 25.4 / 96)):
        assert area(rings(path, unit)[0]) == pytest.approx(SLOT_MM2 * scale**2, rel=1e-12)


def test_pixels_of_a_scaled_page(svg_file) -> None:
    path = svg_file(SLOT, 'width="400" height="600" viewBox="0 0 200 300"')
    assert area(rings(path, "px")[0]) == pytest.approx(SLOT_MM2 * (2 * 25.4 / 96) ** 2, rel=1e-12)
    assert area(rings(path, "mm")[0]) == pytest.approx(SLOT_MM2, rel=1e-12)


def test_contradicting_unit_is_refused(svg_file) -> None:
    with pytest.raises(InputError, match="makes one drawing unit 1 mm, and --unit says in"):
        read_drawing(svg_file(SLOT), "in")
    assert read_drawing(svg_file(SLOT), "mm").unit == "mm"


TRANSFORMS = {
    "translate(30 -20)": 1,
    "rotate(37)": 1,
    "rotate(-90 20 30)": 1,
    "scale(2)": 4,
    "scale(-1 1)": -1,
    "scale(1,-3) scale(3,1)": -9,
    "matrix(0 1 1 0 5 6)": -1,
    "translate(10,20) rotate(30) scale(-0.5,0.5)": -0.25,
}


@pytest.mark.parametrize("transform", TRANSFORMS)
@pytest.mark.parametrize("shape", [SLOT, '<rect x="3" y="4" width="50" height="30" rx="6"/>'])
def test_similar_transforms_keep_arcs_exact(svg_file, transform: str, shape: str) -> None:
    """Nested groups; a mirrored one turns every arc the other way and the ring with it."""
    [plain] = rings(svg_file(shape))
    [moved] = rings(svg_file(f'<g transform="translate(1 2)"><g transform="{transform}">{shape}</g></g>'))
    factor = TRANSFORMS[transform]
    assert signed_area(moved) == pytest.approx(factor * signed_area(plain), rel=1e-11)
    assert len(moved) == len(plain)
    side = math.copysign(1, factor)
    assert [side * bulge for *_, bulge in moved] == pytest.approx([bulge for *_, bulge in plain], abs=1e-12)


def test_skewed_circle_is_fitted(svg_file) -> None:
    path = svg_file('<g transform="skewX(30) rotate(20)"><circle cx="50" cy="50" r="20"/></g>')
    drawing = read_drawing(path)
    [ring] = rings(path)
    assert area(ring) == pytest.approx(math.pi * 400, abs=0.02 * 140)  # skewing keeps areas
    assert "4 elliptical arcs became arcs and chords within 0.02 mm" in [n.text for n in drawing.notes]


def test_skewed_ellipse_against_its_equation(svg_file) -> None:
    path = svg_file('<ellipse cx="60" cy="50" rx="40" ry="15" transform="skewX(25)"/>')
    t = np.linspace(0, 2 * math.pi, 2000)
    x, y = 60 + 40 * np.cos(t), 50 + 15 * np.sin(t)
    truth = np.column_stack((x + math.tan(math.radians(25)) * y, 300 - y))
    ring = shapely.LinearRing(flatten(rings(path)[0], 1e-4))
    assert shapely.distance(shapely.points(truth), ring).max() <= 0.0201


def test_quadratic_curve_area_is_two_thirds(svg_file) -> None:
    """A parabola's segment is two thirds of its triangle's parallelogram (Archimedes)."""
    [ring] = rings(svg_file('<path d="M 0 0 Q 50 100 100 0 Z"/>'))
    assert area(ring) == pytest.approx(2 / 3 * 100 * 50, abs=0.02 * 200)


def test_cubic_curve_within_the_tolerance(svg_file) -> None:
    path = svg_file('<path d="M 10 10 C 150 10 -50 110 110 110"/>')
    t = np.linspace(0, 1, 2000)[:, None]
    p = np.array([(10, 290), (150, 290), (-50, 190), (110, 190)], dtype=float)
    truth = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3]
    [stroke] = read_drawing(path).strokes
    line = shapely.LineString(flatten(stroke.vertices, 1e-4))
    assert shapely.distance(shapely.points(truth), line).max() <= 0.0201


def test_a_path_of_several_pieces(svg_file) -> None:
    path = svg_file('<path d="M0 0 h10 v10 h-10 z m 20 0 h5 v5 z l -5 -5 M 50 50 l 3 4"/>')
    strokes = read_drawing(path).strokes
    assert [stroke.closed for stroke in strokes] == [True, True, False, False]
    assert [area(s.vertices) for s in strokes if s.closed] == pytest.approx([100, 12.5])
    assert strokes[2].start == (20, 300)  # after z the pen is back at the start
    assert strokes[2].end == (15, 305)


def test_polygon_polyline_and_line(svg_file) -> None:
    body = """<polygon points="0,0 10,0 10,10"/><polyline points="20,0 30,0 30,10"/>
      <line x1="0" y1="50" x2="9" y2="50"/>"""
    assert [stroke.closed for stroke in read_drawing(svg_file(body)).strokes] == [True, False, False]


def test_names_nearest_first_and_layers_of_groups(svg_file) -> None:
    body = """
      <g inkscape:label="Hide" id="layer1">
        <g id="flaws"><path id="brand-2" d="M0 0h9v9z"/><path id="path812" d="M20 0h9v9z"/></g>
        <rect id="rect3" width="5" height="5"/>
      </g>"""
    drawing = read_drawing(svg_file(body))
    assert [(stroke.layer, stroke.names) for stroke in drawing.strokes] == [
        ("Hide/flaws", ("brand-2", "flaws", "Hide")),
        ("Hide/flaws", ("flaws", "Hide")),
        ("Hide", ("Hide",)),
    ]


def test_references_and_what_only_they_draw(svg_file) -> None:
    body = """
      <defs><circle id="eye" r="2"/></defs>
      <symbol id="never"><rect width="9" height="9"/></symbol>
      <marker id="arrow"><path d="M0 0h3v3z"/></marker>
      <clipPath id="clip"><rect width="9" height="9"/></clipPath>
      <g id="punch">
        <use xlink:href="#eye" x="5" y="7"/><use href="#eye" transform="translate(20 30) scale(2)"/>
      </g>"""
    found = rings(svg_file(body))
    assert [area(ring) for ring in found] == pytest.approx([math.pi * 4, math.pi * 16])
    assert flatten(found[0]).mean(axis=0) == pytest.approx((5, 293), abs=1e-9)
    assert flatten(found[1]).mean(axis=0) == pytest.approx((20, 270), abs=1e-9)


def test_hidden_shapes_and_texts_are_listed(svg_file) -> None:
    body = """<rect width="5" height="5"/><text x="1" y="2">near side</text>
      <g style="display:none"><rect width="6" height="6"/></g>
      <rect width="7" height="7" visibility="hidden"/>"""
    drawing = read_drawing(svg_file(body))
    assert len(drawing.strokes) == 1
    assert [note.text for note in drawing.notes] == [
        "left out 1 text: it is not geometry",
        "left out 1 shape: it is not displayed",
        "left out 1 shape: it is hidden",
    ]


def test_lengths_inside_with_units_of_their_own(svg_file) -> None:
    """CSS: 10 mm inside a drawing are 10 x 96 / 25.4 drawing units, whatever a unit's size."""
    [ring] = rings(svg_file('<rect width="10mm" height="10"/>'))
    assert area(ring) == pytest.approx(10 * 96 / 25.4 * 10, rel=1e-6)


BAD = {
    "<path d='M 0 0 L 10 10 L foo 20'/>": "d is not understood at 'foo'",
    "<path id='flap' d='M 0 0 L 10 nan'/>": "<path> flap: d is not understood at 'nan'",
    "<path d='L 10 10 L 20 0 Z'/>": "d must start with a move",
    "<path id='flap' d='M 0 0 A 5 5 0 0 1 20'/>": "path flap",
    "<polygon points='0,0 10,0 inf,10'/>": "points is not understood at 'inf'",
    "<rect width='abc' height='3'/>": "width is 'abc', which is no length",
    "<circle r='NaN'/>": "r is 'NaN'",
    "<g transform='turn(5)'><rect width='3' height='3'/></g>": "transform is not understood at 'turn",
    "<g id='a'><use href='#a'/></g>": "refers to itself",
    "": "no line is drawn in it$",
    "<text>only words</text>": r"no line is drawn in it \(left out 1 text",
    "<rect width='0' height='5'/>": "no line is drawn",
    "<rect width='1e999' height='5'/>": "not a number",
    "<path d='M 5 5 L 5 5 Z'/>": "no line is drawn",
}


@pytest.mark.parametrize("body", BAD)
def test_what_cannot_be_read(svg_file, body: str) -> None:
    with pytest.raises(InputError, match=BAD[body]):
        read_drawing(svg_file(body))


@pytest.mark.parametrize("size", ['viewBox="0 0 0 10"', 'viewBox="0 0 10"', 'viewBox="a b c d"'])
def test_page_without_a_size(svg_file, size: str) -> None:
    with pytest.raises(InputError, match="viewBox"):
        read_drawing(svg_file(SLOT, size))


@pytest.mark.parametrize(
    "text", ["<svg", "<html></html>", "no markup", "<?xml version='1.0'?>", "<svg xmlns='x'/>"]
)
def test_what_is_no_svg(tmp_path, text: str) -> None:
    path = tmp_path / "bad.svg"
    path.write_text(text)
    with pytest.raises(InputError, match="not an SVG drawing"):
        read_drawing(path)
