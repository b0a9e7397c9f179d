"""The job sheet: counts against the layout, steps in a sound order, stated times, the cut order in words."""

from __future__ import annotations

import dataclasses
import html
import re
import shutil
import subprocess
from decimal import Decimal
from fractions import Fraction

import pytest

from nesting.errors import InputError
from nesting.files.order import STEPS, Costs, Hardware, Order, OrderLine, Rate, StepTime
from nesting.files.order_work import WorkModel
from nesting.output.cut_words import COLUMNS
from nesting.output.job import job_sheet
from nesting.output.job_batch import batch_of
from nesting.output.job_md import job_to_markdown
from nesting.output.job_pdf import job_to_pdf
from nesting.output.job_steps import job_steps, time_words

FT2 = Fraction("304.8") ** 2
DYED = Costs(dye=Rate(Decimal("0.3"), FT2), finish=Rate(Decimal("0.2"), FT2))


def ordered(layout, costs=DYED, work=()):
    """Six pairs of half-chaps with eyelets and lace, two bands, nine fobs that are dyed but not finished."""
    panels = layout.panel_by_name
    lines = (
        OrderLine(panels["half-chap"], pairs=6, hardware=(Hardware("eyelet", 6, Decimal("0.06")),),
                  lace_mm=762.0, labour_minutes=35),
        OrderLine(panels["brow-band"], pieces=2, labour_minutes=15),
        OrderLine(panels["key-fob"], pieces=9, hardware=(Hardware("split ring", 1, Decimal("0.11")),),
                  finished_sides=0),
    )  # fmt: skip
    hides = tuple(laid.hide for laid in layout.hides)
    return Order(layout.title, hides, lines, layout.cutting, costs, work=work)


def section(sheet, title):
    return next(one for one in sheet.sections if one.title == title)


def titles(layout, order=None):
    return [step.title for step in job_steps(batch_of(layout, order))]


def gathered(sheet):
    return {(what, which): much for what, which, much in section(sheet, "Gather").table.rows}


# --- gather ----------------------------------------------------------------------------------


def test_what_to_gather_is_counted_from_the_layout(workshop):
    found = gathered(job_sheet(workshop(), ordered(workshop())))
    assert found["leather", "4-5 oz (1.6-2.0 mm): shoulder-07, single shoulder"].endswith("; 23 pieces")
    assert found["hardware", "eyelet"] == "72"  # 12 × 6
    assert found["hardware", "split ring"] == "9"
    assert found["lace", "762 mm (30 in)"] == "12"
    assert found["lace", "in all"] == "9.14 m (30.0 ft)"  # 12 × 2.5 ft
    assert found["punch", "4 mm"] == "72 holes"
    assert found["punch", "5 mm"] == "13 holes"  # two on each band, one on each fob
    assert ("dye", "23 pieces") in found
    assert ("finish", "14 pieces") in found


def test_lace_that_a_panel_states_is_gathered_without_an_order_too(workshop):
    layout = workshop()
    laced = tuple(
        dataclasses.replace(panel, lace_mm=609.6) if panel.name == "brow-band" else panel
        for panel in layout.panels
    )
    layout = dataclasses.replace(layout, panels=laced)
    alone, whole = (dict(gathered(job_sheet(layout, order))) for order in (None, ordered(layout)))
    assert alone["lace", "609.6 mm (24 in)"] == "2"
    assert alone["lace", "in all"] == "1.22 m (4.0 ft)"
    assert (whole["lace", "609.6 mm (24 in)"], whole["lace", "762 mm (30 in)"]) == ("2", "12")
    assert whole["lace", "in all"] == "10.36 m (34.0 ft)"


def test_hides_stand_by_weight_thinnest_first(workshop):
    leather = [which for what, which in gathered(job_sheet(workshop(3))) if what == "leather"]
    assert [words.split(":")[0][:3] for words in leather] == ["3-4", "3-4", "4-5"]


def test_the_area_to_cover_counts_sides_and_leaves_out_cutouts(workshop):
    layout = workshop()
    order = ordered(layout)
    both = tuple(dataclasses.replace(line, dyed_sides=2) for line in order.lines)
    once, twice = (
        batch_of(layout, dataclasses.replace(order, lines=lines)).coated("dye")
        for lines in (order.lines, both)
    )
    assert twice == (once[0], pytest.approx(2 * once[1]))
    band = dataclasses.replace(
        order,
        lines=tuple(
            dataclasses.replace(line, dyed_sides=int(line.panel.name == "brow-band")) for line in order.lines
        ),
    )
    # 380 × 26 with round ends of radius 13: 354 × 26 + 13² π, twice.
    assert batch_of(layout, band).coated("dye") == (2, pytest.approx(2 * (354 * 26 + 530.929), abs=0.01))


def test_without_an_order_the_layout_alone_speaks(workshop):
    sheet = job_sheet(workshop())
    assert "--order" in section(sheet, "Gather").lines[0]
    assert {what for what, _ in gathered(sheet)} == {"leather", "punch"}
    assert titles(workshop()) == ["Mark out", "Punch the holes", "Cut", "Make the lines", "Look over"]


def test_an_order_of_other_panels_is_refused(workshop):
    order = ordered(workshop())
    with pytest.raises(InputError, match='does not name "key-fob"'):
        job_sheet(workshop(), dataclasses.replace(order, lines=order.lines[:2]))


# --- steps -----------------------------------------------------------------------------------


def test_by_hand_holes_come_after_all_that_would_fill_them_and_hardware_last(workshop):
    work = (("antique", StepTime()), ("edge", StepTime()))
    assert titles(workshop(), ordered(workshop(), work=work)) == [
        "Mark out", "Cut", "Make the lines", "Dress the edges", "Dye", "Antique", "Finish", "Punch the holes",
        "Cut the lace", "Set the hardware", "Look over",
    ]  # fmt: skip
    sheet = job_sheet(workshop(), ordered(workshop()))
    assert not [row for row in section(sheet, "Cut order: shoulder-07").table.rows if "punch" in row[1]]


def test_plain_leather_is_punched_while_it_lies_whole(workshop):
    plain = ordered(workshop(), Costs())
    found = titles(workshop(), plain)
    assert found.index("Punch the holes") < found.index("Cut")
    rows = section(job_sheet(workshop(), plain), "Cut order: shoulder-07").table.rows
    assert "punch" in rows[0][1]


def test_a_machine_punches_as_it_cuts_and_the_sheet_warns_of_filled_holes(workshop):
    laser = workshop(tool="laser")
    steps = job_steps(batch_of(laser, ordered(laser)))
    assert "Punch the holes" not in [step.title for step in steps]
    (cut,) = [step for step in steps if step.title == "Cut"]
    assert "dye and antique" in cut.how
    (plain,) = [step for step in job_steps(batch_of(laser, ordered(laser, Costs()))) if step.title == "Cut"]
    assert "antique" not in plain.how


def test_times_are_the_orders_own_where_it_states_them(workshop):
    work = (("dye", StepTime(minutes=5, wait_hours=3)), ("hardware", StepTime(minutes=2)))
    steps = {step.title: step for step in job_steps(batch_of(workshop(), ordered(workshop(), work=work)))}
    assert (steps["Dye"].minutes, steps["Dye"].wait_hours) == (23 * 5, 3)
    assert steps["Set the hardware"].minutes == (72 + 9) * 2
    assert (steps["Finish"].minutes, steps["Finish"].wait_hours) == (14 * 2, 24)
    lines = section(job_sheet(workshop(), ordered(workshop(), work=work)), "Steps").lines
    assert "no source" in lines[0]
    # 12 × 35 + 2 × 15 minutes.
    assert "7 h 30 min of labour" in lines[1]


def test_every_step_that_can_be_stated_is_a_field_of_the_order():
    assert set(WorkModel.model_fields) == set(STEPS)


def test_times_in_words():
    assert [time_words(m) for m in (0, 0.4, 45, 60, 200.2, 2880)] == [
        "", "", "45 min", "1 h", "3 h 20 min", "48 h",
    ]  # fmt: skip


def test_cautions_follow_the_work(workshop):
    wet = " ".join(section(job_sheet(workshop(), ordered(workshop())), "Cautions").lines)
    dry = " ".join(section(job_sheet(workshop(tool="laser")), "Cautions").lines)
    assert "solvents" in wet
    assert "solvents" not in dry
    assert "eye protection" in wet
    assert "extraction" in dry
    assert "certifies nothing" in wet


# --- cut order -------------------------------------------------------------------------------


def test_the_cut_order_counts_every_cut_and_says_where_to_stop(workshop):
    rows = section(job_sheet(workshop()), "Cut order: shoulder-07").table.rows
    assert all(len(row) == len(COLUMNS) for row in rows)
    spans = [tuple(map(int, row[0].split("-"))) for row in rows]
    assert [span[0] for span in spans] == [1, *(span[-1] + 1 for span in spans[:-1])]
    corners = {row[6] for row in rows}
    assert "set in at the corner: half-chap 3 R begins" in corners
    assert "" in corners
    # A band's long side, 354 mm straight, measured along the straight edge from its end at x = 0.
    (band,) = [row for row in rows if row[1:3] == ("straight", "brow-band 1") and ", 446" in row[3]]
    assert {band[3], band[4]} == {"73, 446", "427, 446"}
    assert band[5] == "354"


def test_a_machine_needs_no_list(workshop):
    words = section(job_sheet(workshop(tool="laser")), "Cut order: shoulder-07").lines[0]
    assert words.startswith("As in the cut file: 85 punches, 12 cut-outs, 23 outlines; ")


# --- paper and Markdown ----------------------------------------------------------------------


def test_markdown_keeps_odd_names_and_whole_tables(workshop):
    layout = dataclasses.replace(workshop(), title="Chaps | <b>*6*</b>")
    text = job_to_markdown(job_sheet(layout, ordered(layout)))
    assert text.startswith("# Chaps \\| \\<b\\>\\*6\\*\\</b\\>\n")
    for table in re.findall(r"(?:^\|.*\n)+", text, re.M):
        columns = {len(re.findall(r"(?<!\\)\|", line)) for line in table.splitlines()}
        assert len(columns) == 1
    assert "## Cut order: shoulder-07" in text


@pytest.mark.parametrize(("paper", "box"), [("a4", rb"595.27\d* 841.88\d*"), ("letter", rb"612 792")])
def test_paper(workshop, paper, box):
    sheet = job_sheet(workshop(), ordered(workshop()))
    data = job_to_pdf(sheet, paper)
    assert data == job_to_pdf(sheet, paper)
    assert len(re.findall(rb"/MediaBox \[ 0 0 " + box, data)) > 1


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler is not installed")
def test_every_word_is_on_the_paper_and_none_off_it(workshop, tmp_path):
    """Read back with poppler: each cell's words, and each word's box within the page."""
    sheet = job_sheet(workshop(), ordered(workshop()))
    (tmp_path / "job.pdf").write_bytes(job_to_pdf(sheet))
    words = subprocess.run(
        ["pdftotext", "-bbox", tmp_path / "job.pdf", "-"], capture_output=True, text=True, check=True
    )
    found = re.findall(
        r'xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)">([^<]*)', words.stdout
    )
    there = {html.unescape(text) for *_, text in found}
    asked = {
        word
        for one in sheet.sections
        for cell in (*one.lines, *(cell for row in (one.table.rows if one.table else ()) for cell in row))
        for word in cell.split()
    }
    assert asked <= there
    for x0, y0, x1, y1, _ in found:
        assert 0 < float(x0) < float(x1) < 595.3
        assert 0 < float(y0) < float(y1) < 841.9


def test_an_empty_layout_has_a_sheet(workshop):
    bare = dataclasses.replace(workshop(), hides=())
    assert job_to_markdown(job_sheet(bare)).startswith("# Half-chaps")
    assert job_to_pdf(job_sheet(bare)).startswith(b"%PDF-")
