"""1:1 paper: pages, tiles and measures by their numbers, and the printed size by poppler if installed."""

from __future__ import annotations

import base64
import dataclasses
import itertools
import math
import re
import shutil
import subprocess
import zlib

import matplotlib.image
import numpy as np
import pytest
import shapely

from nesting.files.panel import Panel, Stretch
from nesting.output.ink import LEAST_MM, Ink, fitted, text_width_mm
from nesting.output.measure import baseline
from nesting.output.paper import panels_to_pdf
from nesting.output.pattern import centre_line, reference_points, stretch_arrow
from nesting.output.tiles import OVERLAP_MM, PAPER_MM, tile
from nesting.rings import Pose

PT = 72 / 25.4
"""Points to a millimetre: 72 to the inch (PDF 1.7, ISO 32000-1, 8.3.2.3)."""
SLIP = Panel("slip", ((0, 0, 0), (100, 0, 0), (100, 60, 0), (0, 60, 0)))


def page_sizes(data):
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    return [(float(w) / PT, float(h) / PT) for w, h in boxes]


def contents(data):
    """The drawing commands of every page, in order."""
    streams = re.findall(
        rb"/Filter \[ /ASCII85Decode /FlateDecode \][^>]*>>\s*stream\r?\n(.*?)endstream", data, re.S
    )
    texts = [zlib.decompress(base64.a85decode(b"<~" + stream.strip(), adobe=True)) for stream in streams]
    return [text.decode("latin-1") for text in texts if b"1 0 0 1 0 0 cm" in text]


def level_lines(content):
    """Lengths in mm of all level two-point paths."""
    moves = re.findall(r"([\d.-]+) ([\d.-]+) m ([\d.-]+) ([\d.-]+) l\s+S", content)
    return [(float(x1) - float(x0)) / PT for x0, y0, x1, y1 in moves if y0 == y1]


def longest_run(row):
    """Length of the longest unbroken dark stretch."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(int), [0]))))
    return int((edges[1::2] - edges[::2]).max())


def only(layout, *panels):
    return dataclasses.replace(layout, panels=panels, hides=(), unplaced=())


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pages_have_the_size_of_the_paper(workshop, paper):
    sizes = page_sizes(panels_to_pdf(workshop(2), paper))
    wanted = [pytest.approx(PAPER_MM[paper], abs=0.01), pytest.approx(PAPER_MM[paper][::-1], abs=0.01)]
    assert len(sizes) >= 5
    assert all(size in wanted for size in sizes)


def test_every_pattern_page_has_both_check_lines(workshop):
    layout = only(workshop(), *workshop().panels)
    pages = contents(panels_to_pdf(layout))
    assert len(pages) == len(page_sizes(panels_to_pdf(layout))) == 4
    for page in pages:
        lengths = level_lines(page)
        # The stream is written to a thousandth of a point or finer; 4 in is 101.6 mm.
        assert min(abs(length - 100.0) for length in lengths) < 0.01
        assert min(abs(length - 101.6) for length in lengths) < 0.01


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="poppler is not installed")
def test_printed_size_by_poppler(workshop, tmp_path):
    """At 254 dots an inch a millimetre is ten dots: the slip of 100 x 60 mm is 1000 x 600 dots."""
    (tmp_path / "slip.pdf").write_bytes(panels_to_pdf(only(workshop(), SLIP)))
    command = ["pdftoppm", "-r", "254", "-gray", "-png", "slip.pdf", "slip"]
    subprocess.run(command, cwd=tmp_path, check=True, capture_output=True)
    (picture,) = tmp_path.glob("slip-*.png")
    image = matplotlib.image.imread(picture)
    dark = image.reshape(*image.shape[:2], -1)[:, :, 0] < 0.5
    # The outline's four sides are the longest dark runs of the upper part of the page.
    top = dark[: int(dark.shape[0] * 0.8)]
    rows = np.flatnonzero(top.sum(axis=1) > 950)
    columns = np.flatnonzero(top.sum(axis=0) > 550)
    # A line is 0.35 mm wide, so its two edges lie 3 or 4 dots apart.
    assert rows.max() - rows.min() == pytest.approx(600, abs=5)
    assert columns.max() - columns.min() == pytest.approx(1000, abs=5)
    foot = dark[int(dark.shape[0] * 0.8) :]
    runs = [longest_run(row) for row in foot if row.sum() > 950]
    assert any(run == pytest.approx(1000, abs=4) for run in runs)
    assert any(run == pytest.approx(1016, abs=4) for run in runs)


@pytest.mark.parametrize("size", [(100, 60), (250, 60), (60, 250), (700, 500), (1200, 30)])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_tiles_cover_the_drawing_and_overlap(size, paper):
    box = (-10.0, -20.0, size[0] - 10.0, size[1] - 20.0)
    tiling = tile(box, paper)
    windows = [shapely.box(*one.window) for one in tiling.tiles]
    assert shapely.union_all(windows).buffer(1e-6).contains(shapely.box(*box))
    assert len(windows) == tiling.columns * tiling.rows
    for one, other in itertools.combinations(tiling.tiles, 2):
        if abs(one.column - other.column) + abs(one.row - other.row) == 1:
            low = np.maximum(one.window[:2], other.window[:2])
            high = np.minimum(one.window[2:], other.window[2:])
            assert (high - low).min() == pytest.approx(OVERLAP_MM)


def test_joining_marks_fall_on_both_pages():
    tiling = tile((0.0, 0.0, 700.0, 500.0), "a4")
    seen: dict[str, list] = {}
    for one in tiling.tiles:
        for name, at in tiling.joints(one):
            seen.setdefault(name, []).append(at)
            assert shapely.box(*one.window).contains(shapely.Point(at).buffer(5.0))
    assert seen
    for places in seen.values():
        assert len(places) == 2
        assert places[0] == pytest.approx(places[1])


def test_a_page_is_turned_when_that_saves_paper():
    assert tile((0, 0, 100, 200), "a4").page == PAPER_MM["a4"]
    lying = tile((0, 0, 250, 100), "a4")
    assert lying.page == PAPER_MM["a4"][::-1]
    assert len(lying.tiles) == 1


def test_reference_points_are_the_far_corners():
    assert {*reference_points(SLIP)} == {(0.0, 0.0), (100.0, 60.0)}
    assert math.dist(*reference_points(SLIP)) == pytest.approx(math.hypot(100, 60))


@pytest.mark.parametrize("mirrored", [False, True])
def test_two_points_fix_a_placed_pattern(workshop, mirrored):
    """A and B from the sheet give back the pose: turn and place (plane geometry)."""
    panel = workshop().panel_by_name["half-chap"]
    pose = Pose(mirrored, 37.0, (210.0, 95.0))
    a, b = (np.array(pose.apply_point(p)) for p in reference_points(panel))
    pa, pb = (np.array(p) * ((-1, 1) if mirrored else (1, 1)) for p in reference_points(panel))
    turn = math.degrees(math.atan2(*(b - a)[::-1]) - math.atan2(*(pb - pa)[::-1])) % 360
    assert turn == pytest.approx(37.0)


def test_centre_lines(workshop):
    trapezoid = Panel("wrap", ((-95, 0, 0), (95, 0, 0), (108, 114, 0), (-108, 114, 0)))
    assert centre_line(trapezoid) == ((0.0, -4.0), (0.0, 118.0))
    lying = Panel("wrap", tuple((y, x, 0.0) for x, y, _ in trapezoid.outline))
    assert centre_line(lying) == ((-4.0, 0.0), (118.0, 0.0))
    assert centre_line(workshop().panel_by_name["half-chap"]) is None


def test_a_panel_that_is_not_symmetrical_shows_the_line_it_was_drawn_from(workshop):
    chap = dataclasses.replace(
        workshop().panel_by_name["half-chap"], centre_line=((100.0, 0.0), (100.0, 300.0))
    )
    assert centre_line(chap) == ((100.0, -4.0), (100.0, 304.0))
    assert centre_line(dataclasses.replace(chap, centre_line=((0.0, 0.0), (30.0, 40.0)))) == (
        pytest.approx((-2.4, -3.2)), pytest.approx((32.4, 43.2))
    )  # fmt: skip
    plain = contents(panels_to_pdf(only(workshop(), workshop().panel_by_name["half-chap"])))
    lined = contents(panels_to_pdf(only(workshop(), chap)))
    assert len(plain) == len(lined)
    assert all(len(after) > len(before) for before, after in zip(plain, lined, strict=True))


def test_the_stretch_arrow_points_as_the_panel_says():
    panel = dataclasses.replace(SLIP, stretch=Stretch(30.0, 10.0))
    shaft, *heads = stretch_arrow(panel, (50.0, 30.0), 40.0)
    (x0, y0), (x1, y1) = shaft
    assert math.degrees(math.atan2(y1 - y0, x1 - x0)) == pytest.approx(30.0)
    assert math.hypot(x1 - x0, y1 - y0) == pytest.approx(40.0)
    assert len(heads) == 2
    assert stretch_arrow(SLIP, (50.0, 30.0), 40.0) == []


def test_measures_run_from_the_straight_edge(workshop):
    hide = workshop().hides[0].hide
    for edge in (hide.straight_edges[0], hide.straight_edges[0][::-1]):
        line = baseline(dataclasses.replace(hide, straight_edges=(edge,)))
        assert line.trued
        # The edge is the hide's lower side, so along is x from its left end and off is y.
        assert line.measure((250.0, 80.0)) == pytest.approx((250.0, 80.0))


def test_without_a_straight_edge_a_rule_is_laid_against_the_hide(workshop):
    hide = dataclasses.replace(workshop().hides[0].hide, straight_edges=())
    line = baseline(hide)
    assert not line.trued
    offs = [line.measure(vertex[:2])[1] for vertex in hide.outline]
    assert min(offs) == pytest.approx(0.0, abs=1e-6)
    assert sum(off < 1e-3 for off in offs) >= 2


def test_same_bytes_and_any_letters(workshop):
    layout = dataclasses.replace(workshop(), title="Gamaschen für €5 & Кожа 皮")
    assert panels_to_pdf(layout) == panels_to_pdf(layout)


def test_a_long_list_runs_over_several_sheets(workshop):
    layout = dataclasses.replace(workshop(), panels=workshop().panels)
    laid = layout.hides[0]
    many = tuple(dataclasses.replace(laid.placements[-1], piece=f"key-fob-{i:03d}") for i in range(150))
    one = page_sizes(panels_to_pdf(layout))
    more = page_sizes(
        panels_to_pdf(dataclasses.replace(layout, hides=(dataclasses.replace(laid, placements=many),)))
    )
    assert len(more) > len(one) + 1


def test_words_too_wide_are_set_smaller_and_then_shortened():
    Ink("registers the fonts")
    assert fitted("strap-01", 1.8, False, math.inf) == ("strap-01", 1.8)
    room = 0.8 * text_width_mm("strap-01", 1.8)
    words, height = fitted("strap-01", 1.8, False, room)
    assert (words, height) == ("strap-01", pytest.approx(0.8 * 1.8))
    words, height = fitted(f"{'half-chap-' * 9}03-R", 3.6, True, 60.0)
    assert text_width_mm(words, height, True) <= 60.0
    assert height == LEAST_MM
    assert words.startswith("half-chap-half")
    assert words.endswith("…p-03-R")


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="needs poppler's pdftotext")
def test_a_long_name_stays_on_the_page_and_off_the_page_number(workshop, tmp_path):
    slip = dataclasses.replace(SLIP, name="slip-" * 30)
    (tmp_path / "p.pdf").write_bytes(panels_to_pdf(only(workshop(1), slip)))
    subprocess.run(["pdftotext", "-bbox", tmp_path / "p.pdf", tmp_path / "p.html"], check=True)
    page = (tmp_path / "p.html").read_text()
    found = re.findall(r'xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="[\d.]+">([^<]*)<', page)
    places = {words: (float(left), float(right)) for left, _, right, words in found}
    title = next(right for words, (_, right) in places.items() if words.startswith("slip-"))
    assert title < places["page"][0]
    assert max(right for _, right in places.values()) < 210 * PT
