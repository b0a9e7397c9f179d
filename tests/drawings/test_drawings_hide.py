"""Drawings to hides: outline, flaws and severities, straight edges, spine, and what is refused."""

from __future__ import annotations

import math

import pytest
from ezdxf.layouts import Modelspace

from nesting.drawings.as_hide import HideWishes, hide_from_drawing
from nesting.drawings.flaw_words import FLAWS, judge
from nesting.drawings.loops import join_strokes
from nesting.drawings.reading import read_drawing
from nesting.errors import FileFormatError, InputError
from nesting.files.hide import SEVERITIES
from nesting.rings import area

OUTLINE = [(0, 0), (1100, 0), (1130, 420), (20, 640)]
BRAND = [(300, 200), (340, 210), (330, 250)]


def hide_in(path, tolerance=0.1, unit=None, **wishes):
    joined = join_strokes(read_drawing(path, unit), tolerance)
    return hide_from_drawing(joined, HideWishes("side", **wishes))


def texts(notes):
    return "\n".join(note.text for note in notes)


def ring(space: Modelspace, points, layer="0"):
    space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def plain(space: Modelspace):
    ring(space, OUTLINE, "outline")


def test_the_contract_s_hide_from_a_drawing(dxf_file) -> None:
    def draw(space):
        plain(space)
        ring(space, BRAND, "brand weak")
        space.add_line((0, 0), (1100, 0), dxfattribs={"layer": "straight"})
        space.add_line((500, 100), (500, 300), dxfattribs={"layer": "spine"})

    hide, notes = hide_in(dxf_file(draw))
    assert [v[:2] for v in hide.outline] == OUTLINE
    assert [(f.kind, f.severity, [v[:2] for v in f.outline]) for f in hide.flaws] == [
        ("brand", "weak", BRAND)
    ]
    assert hide.straight_edges == (((0, 0), (1100, 0)),)
    assert hide.spine == ((500, 100), (500, 300))
    assert hide.measured is None
    assert all(note.kind == "decision" for note in notes)


def test_arcs_come_through_to_the_hide(dxf_file) -> None:
    def draw(space):
        points = [(0, 0, 0), (900, 0, 0.5), (900, 600, 0), (0, 600, -0.1)]
        space.add_lwpolyline(points, format="xyb", close=True)
        space.add_circle((400, 300), 12.5, dxfattribs={"layer": "hole"})

    hide, _ = hide_in(dxf_file(draw))
    assert [bulge for *_, bulge in hide.outline] == [0, 0.5, 0, -0.1]
    assert area(hide.flaws[0].outline) == pytest.approx(math.pi * 12.5**2, rel=1e-9)


@pytest.mark.parametrize(
    ("name", "kind", "severity", "by"),
    [
        ("hole", "hole", "hole", "name"),
        ("Holes-2", "hole", "hole", "name"),
        ("weak", "weak spot", "weak", "name"),
        ("BLEMISH_3", "blemish", "blemish", "name"),
        ("brand", "brand", "weak", "table"),
        ("brand blemish", "brand", "blemish", "name"),
        ("FlayCut", "flay cut", "weak", "table"),
        ("flay-cuts 4", "flay cuts", "weak", "table"),
        ("scratches", "scratches", "blemish", "table"),
        ("loose belly", "loose belly", "weak", "table"),
        ("fat wrinkles", "fat wrinkles", "blemish", "table"),
        ("tick hole", "tick", "hole", "name"),
        ("flaws", "flaw", "weak", "nothing"),
        ("callus", "callus", "weak", "nothing"),
        ("0", "flaw", "weak", "nothing"),
        ("whole", "whole", "weak", "nothing"),
    ],
)  # fmt: skip
def test_words_for_flaws(name: str, kind: str, severity: str, by: str) -> None:
    judged = judge((name,))
    assert (judged.kind, judged.severity, judged.by) == (kind, severity, by)


def test_a_severity_on_the_group_wins_over_the_table() -> None:
    assert judge(("brand-1", "holes")).severity == "hole"
    assert judge(("brand-1", "holes")).kind == "brand"
    assert judge(("brand-1 weak", "holes")).severity == "weak"


def test_the_table_of_words_is_sound() -> None:
    assert set(FLAWS.values()) <= set(SEVERITIES)
    for word, severity in FLAWS.items():
        assert judge((word,)).severity == severity, word


def test_every_severity_is_listed_for_correction(dxf_file) -> None:
    def draw(space):
        plain(space)
        ring(space, BRAND, "brand")
        ring(space, [(600, 200), (640, 210), (630, 250)], "callus")

    hide, notes = hide_in(dxf_file(draw))
    assert [(f.kind, f.severity) for f in hide.flaws] == [("brand", "weak"), ("callus", "weak")]
    assert 'flaw "brand", weak by the table of flaw words: the ring on layer brand' in texts(notes)
    assert "write hole, weak or blemish into the layer's name" in texts(notes)
    assert [note.text.split(":")[0] for note in notes if note.kind == "warning"] == [
        'flaw "callus", weak for want of a word that says how bad it is'
    ]


def test_without_names_the_largest_ring_is_the_hide(dxf_file) -> None:
    def draw(space):
        ring(space, BRAND)
        ring(space, OUTLINE)

    hide, notes = hide_in(dxf_file(draw))
    assert len(hide.flaws) == 1
    assert hide.flaws[0].severity == "weak"
    assert "the largest ring" in texts(notes)


def test_a_named_outline_wins_over_a_larger_frame(dxf_file) -> None:
    def draw(space):
        plain(space)
        ring(space, [(-50, -50), (1300, -50), (1300, 800), (-50, 800)])
        ring(space, [(-90, -90), (1400, -90), (1400, 900), (-90, 900)], "frame")

    hide, notes = hide_in(dxf_file(draw))
    assert hide.flaws == ()
    assert "runs around the hide" in texts(notes)
    assert "its name says it is no leather" in texts(notes)


def test_an_unnamed_zone_over_most_of_the_hide_is_a_flaw(dxf_file) -> None:
    def draw(space):
        plain(space)
        ring(space, [(10, 10), (1090, 10), (1090, 700), (10, 700)])

    hide, notes = hide_in(dxf_file(draw))
    assert [flaw.severity for flaw in hide.flaws] == ["weak"]
    assert "severity-unknown" in [note.code for note in notes]


def test_points_and_lines_on_flaw_layers_become_zones(dxf_file) -> None:
    def draw(space):
        plain(space)
        space.add_point((200, 200), dxfattribs={"layer": "tick"})
        space.add_lwpolyline([(400, 300), (500, 300)], dxfattribs={"layer": "scratch"})

    hide, _ = hide_in(dxf_file(draw))
    sizes = {flaw.kind: area(flaw.outline) for flaw in hide.flaws}
    assert sizes["tick"] == pytest.approx(math.pi * 4)
    assert sizes["scratch"] == pytest.approx(100 * 4 + math.pi * 4, rel=1e-3)  # a stadium, its ends in chords


def test_a_flaw_ring_left_open_is_refused_with_its_gap(dxf_file) -> None:
    def draw(space):
        plain(space)
        space.add_lwpolyline([*BRAND, (301, 199)], dxfattribs={"layer": "brand"})

    with pytest.raises(InputError, match=r'flaw on layer brand is open: a gap of 1.41 mm .*--join "1.5 mm"'):
        hide_in(dxf_file(draw))
    assert len(hide_in(dxf_file(draw), tolerance=1.5)[0].flaws) == 1


def test_flaw_outside_the_hide_is_refused(dxf_file) -> None:
    def draw(space):
        plain(space)
        ring(space, [(2000, 0), (2040, 0), (2040, 40)], "brand")

    with pytest.raises(InputError, match=r'the flaw "brand".* lies outside the hide'):
        hide_in(dxf_file(draw))


def test_two_hides_in_one_drawing_are_refused(dxf_file) -> None:
    def draw(space):
        ring(space, OUTLINE)
        ring(space, [(x + 1500, y) for x, y in OUTLINE])

    with pytest.raises(InputError, match="give one hide a file"):
        hide_in(dxf_file(draw))


def test_the_outline_drawn_twice(dxf_file) -> None:
    def draw(space):
        plain(space)
        ring(space, OUTLINE[2:] + OUTLINE[:2], "hide")

    hide, notes = hide_in(dxf_file(draw))
    assert hide.flaws == ()
    assert [note.code for note in notes if note.kind == "warning"] == ["duplicate-outline"]


def test_open_outline_names_the_gap_and_the_place(dxf_file) -> None:
    def draw(space):
        space.add_lwpolyline([*OUTLINE, (0, 3)], dxfattribs={"layer": "outline"})

    said = (
        r'outline of the hide on layer outline is open: a gap of 3.00 mm from \(0, 0\) to \(0, 3\).*"3.1 mm"'
    )
    with pytest.raises(InputError, match=said):
        hide_in(dxf_file(draw))
    assert area(hide_in(dxf_file(draw), tolerance=3.1)[0].outline) > 0


def test_open_outline_without_a_name_beside_a_small_ring(dxf_file) -> None:
    def draw(space):
        space.add_lwpolyline(OUTLINE)
        ring(space, BRAND)

    with pytest.raises(InputError, match=r"is open: a gap of 640.31 mm"):
        hide_in(dxf_file(draw))


def test_a_straight_edge_on_its_own_layer_closes_the_outline(dxf_file) -> None:
    def draw(space):
        space.add_lwpolyline([*OUTLINE[1:], OUTLINE[0]], dxfattribs={"layer": "outline"})
        space.add_line(OUTLINE[1], OUTLINE[0], dxfattribs={"layer": "straight"})

    hide, _ = hide_in(dxf_file(draw))
    assert sorted(v[:2] for v in hide.outline) == sorted(OUTLINE)
    assert hide.straight_edges == (((1100, 0), (0, 0)),)


class TestStraightEdges:
    def test_long_parts_are_only_listed(self, dxf_file) -> None:
        hide, notes = hide_in(dxf_file(plain))
        assert hide.straight_edges == ()
        assert '"0,0 1100,0" (1100 mm)' in texts(notes)
        assert "--straight auto takes them" in texts(notes)

    def test_auto_takes_them(self, dxf_file) -> None:
        hide, _ = hide_in(dxf_file(plain), straight=("auto",))
        assert {frozenset(edge) for edge in hide.straight_edges} == {
            frozenset(pair) for pair in zip(OUTLINE, [*OUTLINE[1:], OUTLINE[0]], strict=True)
        }

    def test_auto_follows_points_in_line_and_leaves_the_rough_edge(self, dxf_file) -> None:
        rough = [(1000 - 40 * i, 500 + 30 * math.sin(3 * i)) for i in range(26)]
        points = [(0, 0), (180, 0.2), (430, -0.1), (1000, 0), *rough]
        hide, _ = hide_in(dxf_file(lambda s: ring(s, points)), straight=("auto",))
        assert {frozenset(edge) for edge in hide.straight_edges} == {
            frozenset(((0, 0), (1000, 0))),
            frozenset(((1000, 0), (1000, 500))),
            frozenset((tuple(round(v, 6) for v in rough[-1]), (0, 0))),
        }

    def test_by_side(self, dxf_file) -> None:
        hide, _ = hide_in(dxf_file(plain), straight=("left edge", "bottom"), spine="left edge")
        assert hide.straight_edges == (((20, 640), (0, 0)), ((0, 0), (1100, 0)))
        assert hide.spine == ((20, 640), (0, 0))

    def test_part_of_an_edge_is_moved_onto_it(self, dxf_file) -> None:
        hide, _ = hide_in(dxf_file(plain), straight=("100,0.8 900,-0.6",))
        assert hide.straight_edges == (((100, 0), (900, 0)),)

    @pytest.mark.parametrize("edge", ["0,5 1100,5", "0,0 1130,420", "0,0 2000,0"])
    def test_off_the_outline_is_refused(self, dxf_file, edge: str) -> None:
        with pytest.raises(InputError, match="strays from the outline by more than 1 mm"):
            hide_in(dxf_file(plain), straight=(edge,))

    @pytest.mark.parametrize("text", ["left hand", "0,0", "0,0 nan,1", "", "1,1 1,1"])
    def test_not_understood(self, dxf_file, text: str) -> None:
        with pytest.raises(InputError):
            hide_in(dxf_file(plain), straight=(text,))

    def test_an_arc_is_no_straight_edge(self, dxf_file) -> None:
        def draw(space):
            plain(space)
            space.add_arc((550, 0), 550, 0, 180, dxfattribs={"layer": "straight"})

        with pytest.raises(InputError, match="holds an arc"):
            hide_in(dxf_file(draw))


class TestSpine:
    @pytest.mark.parametrize(
        ("text", "spine"), [("0 1", ((0, 0), (0, 1))), ("10,20 10,400", ((10, 20), (10, 400)))]
    )
    def test_typed(self, dxf_file, text: str, spine) -> None:
        assert hide_in(dxf_file(plain), spine=text)[0].spine == spine

    def test_unknown_is_said(self, dxf_file) -> None:
        hide, notes = hide_in(dxf_file(plain))
        assert hide.spine is None
        assert "direction of least stretch is unknown" in texts(notes)

    def test_no_straight_part_on_that_side(self, dxf_file) -> None:
        with pytest.raises(InputError, match="no long straight part on its left"):
            hide_in(dxf_file(lambda s: s.add_circle((0, 0), 400)), spine="left edge")

    def test_two_lines_are_one_too_many(self, dxf_file) -> None:
        def draw(space):
            plain(space)
            for x in (100, 300):
                space.add_line((x, 100), (x, 300), dxfattribs={"layer": "backbone"})

        with pytest.raises(InputError, match="2 lines are named spine"):
            hide_in(dxf_file(draw))


@pytest.mark.parametrize(
    ("unit", "said"),
    [
        (4, "that is a hide of 43 x 25 mm, 0.012 ft²"),
        (6, "that is a hide of 43000 x 25000 mm, 11571.20 ft²"),
    ],
)
def test_a_size_that_no_hide_has_is_warned_of(dxf_file, unit: int, said: str) -> None:
    """43 x 25 in drawn in inches, read as mm or m."""

    def draw(space):
        ring(space, [(0, 0), (43, 0), (43, 25), (0, 25)])

    [note] = [note for note in hide_in(dxf_file(draw, unit=unit))[1] if note.code == "size"]
    assert note.text.startswith(said)
    assert note.text.endswith("is the unit right?")
    assert not [note for note in hide_in(dxf_file(draw, unit=1))[1] if note.code == "size"]


def test_a_hide_of_a_kilometre_is_refused(dxf_file) -> None:
    with pytest.raises(InputError, match=r"1130000 x 640000 mm, .*read in m: is the unit right\?"):
        hide_in(dxf_file(plain, unit=6))


def test_self_crossing_outline_is_refused(dxf_file) -> None:
    with pytest.raises(
        FileFormatError, match=r"drawn.dxf: outline: crosses or touches itself near \(50, 50\)"
    ):
        hide_in(dxf_file(lambda s: ring(s, [(0, 0), (100, 100), (100, 0), (0, 100)], "outline")))


def test_outline_without_an_area_is_refused(dxf_file) -> None:
    with pytest.raises((FileFormatError, InputError), match=r"encloses no area|no closed ring"):
        hide_in(dxf_file(lambda s: ring(s, [(0, 0), (100, 0), (50, 0)], "outline")))


def test_only_points_are_no_hide(dxf_file) -> None:
    with pytest.raises(InputError, match="no closed ring is drawn"):
        hide_in(dxf_file(lambda s: s.add_point((3, 4))))


def test_a_hide_in_svg_groups(svg_file) -> None:
    body = """<g inkscape:label="hide" id="layer1">
        <path id="path1" d="M 10 10 h 180 v 250 a 40 40 0 0 1 -40 40 h -140 z"/>
        <g id="weak"><ellipse id="belly" cx="80" cy="80" rx="30" ry="12"/></g>
        <circle id="hole-1" cx="120" cy="200" r="4"/>
        <line id="spine" x1="15" y1="20" x2="15" y2="280"/>
      </g>"""
    hide, _ = hide_in(svg_file(body))
    assert area(hide.outline) == pytest.approx(180 * 290 - 40 * 40 * (1 - math.pi / 4), rel=1e-9)
    assert {(flaw.kind, flaw.severity) for flaw in hide.flaws} == {("belly", "weak"), ("hole", "hole")}
    assert hide.spine == ((15, 280), (15, 20))
