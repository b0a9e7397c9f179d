"""The picture: its size and words; how it looks is for eyes. No pixels are compared to a stored picture."""

from __future__ import annotations

import dataclasses
import io
import itertools
from decimal import Decimal

import matplotlib.image
import numpy as np
import pytest
import shapely
from matplotlib.colors import to_rgb

from nesting.account import account
from nesting.files.order import Hardware, Order, OrderLine
from nesting.output import all_files, palette
from nesting.output.caption import caption
from nesting.output.labels import remnant_label
from nesting.output.pen import text_width
from nesting.output.picture_hide import hatch
from nesting.output.picture_plan import plan, shown
from nesting.output.png import WIDTH_PX, layout_to_png
from nesting.output.record import record
from nesting.output.strokes import box_of
from nesting.output.wording import wrapped


def pixels(data):
    return matplotlib.image.imread(io.BytesIO(data), format="png")[:, :, :3]


def share_of(colour, image):
    """Share of the picture's pixels that have exactly this colour."""
    return float((np.abs(image - np.array(to_rgb(colour))).max(axis=2) < 2 / 255).mean())


def luminance(colour):
    """Relative luminance, W3C Web Content Accessibility Guidelines 2.1, definition of that name."""
    channels = np.array(to_rgb(colour))
    linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(one, other):
    """Contrast ratio, same source."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def order_for(layout):
    chap = layout.panel_by_name["half-chap"]
    line = OrderLine(chap, pairs=6, hardware=(Hardware("eyelet", 6, Decimal("0.06")),), labour_minutes=35)
    return Order(layout.title, tuple(laid.hide for laid in layout.hides), (line,), layout.cutting)


def test_the_picture_is_as_wide_as_promised_and_shows_leather_and_pairs(workshop):
    image = pixels(layout_to_png(workshop()))
    assert image.shape[1] == WIDTH_PX
    assert share_of(palette.LEATHER, image) > 0.1
    for tint in palette.PAIR_TINTS:
        assert share_of(tint, image) > 0.01


def test_remnants_are_shown_with_a_report_only(workshop):
    layout = workshop()
    assert share_of(palette.REMNANT, pixels(layout_to_png(layout))) < 0.001
    assert share_of(palette.REMNANT, pixels(layout_to_png(layout, account(layout)))) > 0.05


def test_same_bytes(workshop):
    layout = workshop(2)
    assert layout_to_png(layout, account(layout)) == layout_to_png(layout, account(layout))


def test_layouts_with_little_on_them_are_drawn(workshop):
    layout = workshop()
    bare = dataclasses.replace(
        layout.hides[0].hide, flaws=(), straight_edges=(), spine=None, weight_oz=None, price=None
    )
    for hides in ((), (dataclasses.replace(layout.hides[0], hide=bare, placements=()),)):
        assert pixels(layout_to_png(dataclasses.replace(layout, hides=hides))).shape[1] == WIDTH_PX


def test_names_in_any_letters_are_drawn(workshop):
    """Dollar signs are no formulas, and letters the font lacks are no warning (which would fail here)."""
    layout = dataclasses.replace(workshop(), title="Gamaschen für $5 & Кожа 皮 <x>")
    assert layout_to_png(layout)


@pytest.mark.parametrize("hides", [1, 2, 3])
def test_hides_share_one_scale_and_do_not_overlap(workshop, hides):
    views, tall = plan(record(workshop(hides)), 1700.0, 1500.0)
    assert len({view.scale for view in views}) == 1
    assert tall <= 1500.0 + 1e-6
    frames = [shapely.box(*view.at(view.box[:2]), *view.at(view.box[2:])) for view in views]
    for one, other in itertools.combinations(frames, 2):
        assert one.distance(other) > 10.0
    for frame in frames:
        assert shapely.box(-1e-6, -1e-6, 1700.001, tall + 1e-6).contains(frame)


def test_the_check_square_is_not_in_the_picture(workshop):
    (drawing,) = record(workshop())
    assert box_of(shown(drawing))[1] > drawing.box[1]


def test_words_can_be_read_on_every_tint():
    """Contrast of at least 7 to 1 (WCAG 2.1, level AAA for text)."""
    for tint in (*palette.PAIR_TINTS, palette.SINGLE_TINT, palette.REMNANT):
        assert contrast(palette.INK, tint) >= 7.0


def test_pieces_stand_off_the_leather_in_grey():
    for tint in (*palette.PAIR_TINTS, palette.SINGLE_TINT):
        assert luminance(tint) > luminance(palette.LEATHER)


def test_severities_differ_in_hatch_not_in_colour_alone():
    hatches = {look.angles_deg for look in palette.FLAW_LOOKS.values()}
    assert len(hatches) == len(palette.FLAW_LOOKS)


def test_both_of_a_pair_have_one_tint(workshop):
    placements = workshop().hides[0].placements
    tints = palette.tints(placements)
    assert tints["half-chap-02-L"] == tints["half-chap-02-R"] != tints["half-chap-03-L"]
    assert tints["key-fob-01"] == palette.SINGLE_TINT


def test_hatch_lines_lie_in_the_zone_evenly():
    """A 40 x 20 rectangle hatched level at 5: lines of 40 at distances of 5 (geometry)."""
    lines = hatch(np.array([(0.0, 0.0), (40, 0), (40, 20), (0, 20)]), 0.0, 5.0)
    heights = sorted(line[0, 1] for line in lines)
    inner = [y for y in heights if 0 < y < 20]
    assert np.diff(inner) == pytest.approx([5.0] * (len(inner) - 1))
    assert all(abs(line[1, 0] - line[0, 0]) == pytest.approx(40.0) for line in lines)


def test_caption_agrees_with_the_report(workshop):
    layout = workshop()
    order = order_for(layout)
    report = account(layout, order)
    words = caption(layout, report)
    text = " ".join(words.figures)
    assert f"yield {100 * report.yields.of_hide:.1f} % of the hide" in text
    assert f"{100 * report.yields.of_usable:.1f} % of the usable" in text
    waste = report.areas.margins + report.areas.flaws + report.areas.between
    assert f"waste {100 * waste / report.areas.hide:.1f} %" in text
    assert f"cost {report.cost.total.total:.2f} USD" in text
    pairs = [line.cost.total for line in report.cost.pairs]
    assert f"a pair of half-chap {sum(pairs) / len(pairs):.2f} USD" in text
    assert "not placed: 2 of brow-band" in text


def test_pieces_laid_anew_are_outlined_and_named(workshop):
    layout = workshop()
    anew = {"half-chap-02-L", "key-fob-01"}
    assert share_of(palette.ANEW, pixels(layout_to_png(layout, anew=anew))) > 0.002
    assert share_of(palette.ANEW, pixels(layout_to_png(layout))) == 0.0
    count = sum(len(laid.placements) for laid in layout.hides)
    said = f"{count - 2} pieces lie where they lay; laid anew: half-chap-02-L, key-fob-01"
    assert said in caption(layout, anew=anew).figures
    assert f"{count} pieces lie where they lay; laid anew: none" in caption(layout, anew=set()).figures
    assert not any("laid anew" in line for line in caption(layout).figures)


def test_caption_without_a_price_says_so(workshop):
    layout = workshop(2)
    words = caption(layout, account(layout, order_for(layout)))
    assert "cost not known" in " ".join(words.figures)


def test_a_remnant_is_named_off_its_flaws():
    remnant = shapely.box(0, 0, 400, 200)
    flaw = ((150.0, 0.0, 0.0), (400.0, 0.0, 0.0), (400.0, 200.0, 0.0), (150.0, 200.0, 0.0))
    label = remnant_label(remnant, [flaw])
    assert label.at[0] < 150
    # 400 x 200 mm over 304.8² mm² to the foot.
    assert label.text == "remnant 0.9 ft²"


def test_a_remnant_that_lies_in_a_flaw_wholly_is_named_there():
    remnant = shapely.box(0, 0, 400, 200)
    label = remnant_label(remnant, [((-5, -5, 0.0), (405, -5, 0.0), (405, 205, 0.0), (-5, 205, 0.0))])
    assert label.at == pytest.approx((200, 100))
    assert label.text == "remnant 0.9 ft²"


def test_wrapping_keeps_every_word_and_the_room():
    words = "one two three four five six seven eight nine ten"
    lines = wrapped(words, lambda line: text_width(line, 13), 90.0)
    assert " ".join(lines) == words
    assert len(lines) > 2
    assert all(text_width(line, 13) <= 90.0 for line in lines)


def test_all_files_are_named_as_the_contract_names_them(workshop):
    layout = workshop()
    files = all_files(layout, account(layout))
    assert sorted(files) == ["cut.dxf", "layout.png", "layout.svg"]
    assert isinstance(files["layout.svg"], str)
