"""DXF read back: by GDAL (through pyogrio), which shares no code with the writer, and by ezdxf for arcs."""

from __future__ import annotations

import dataclasses
import io
import itertools
import logging
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf import recover

from nesting.output.dxf import VERSIONS, layout_to_dxf
from nesting.output.record import record, side_by_side
from nesting.output.strokes import Loop
from nesting.rings import area

pytestmark = pytest.mark.filterwarnings("ignore:.*pyarrow.*:UserWarning")


ARC_STEP_DEG = 0.1


def gdal_read(path, data):
    """Layer names and geometries of every entity, as GDAL sees them."""
    path.write_bytes(data)
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": ARC_STEP_DEG})
    try:
        meta, _, wkb, columns = pyogrio.raw.read(path)
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    return list(columns[list(meta["fields"]).index("Layer")]), shapely.from_wkb(wkb)


def lines_on(layer, layers, geometries):
    kept = [g for name, g in zip(layers, geometries, strict=True) if name == layer]
    return [g for g in kept if g.geom_type == "LineString"]


def ezdxf_read(data):
    document, auditor = recover.read(io.BytesIO(data))
    assert not auditor.has_errors
    assert not auditor.has_fixes
    return document


def rings_of(document, layer):
    """Rings (x, y, bulge) of the polylines on a layer, with their closed flags."""
    found = []
    for entity in document.modelspace().query(f'LWPOLYLINE POLYLINE[layer=="{layer}"]'):
        if entity.dxftype() == "LWPOLYLINE":
            ring = tuple(tuple(point) for point in entity.get_points("xyb"))
        else:
            ring = tuple(
                (v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices
            )
        found.append((ring, entity.is_closed))
    return found


@pytest.mark.parametrize("version", VERSIONS)
def test_gdal_sees_the_same_layers_counts_and_areas(tmp_path, workshop, version):
    layout = workshop(3)
    layers, geometries = gdal_read(tmp_path / "cut.dxf", layout_to_dxf(layout, version))
    sheet = side_by_side(record(layout))
    wanted = Counter(stroke.layer for drawing in sheet for stroke in drawing.strokes)
    assert Counter(layers) == wanted
    cuts = lines_on("cut", layers, geometries)
    assert all(line.is_closed for line in cuts)
    ours = [s.ring for d in sheet for s in d.strokes if s.layer == "cut"]
    theirs = [shapely.Polygon(line).area for line in cuts]
    # GDAL draws arcs as chords of 0.1 degrees, inscribed: 1 - sin(x)/x = 5e-7 of the disc (geometry).
    for ring, seen in zip(ours, theirs, strict=True):
        assert seen == pytest.approx(area(ring), rel=1e-6)


@pytest.mark.parametrize("version", VERSIONS)
def test_gdal_measures_the_check_square_at_100_mm(tmp_path, workshop, version):
    layers, geometries = gdal_read(tmp_path / "cut.dxf", layout_to_dxf(workshop(), version))
    squares = [
        line
        for line in lines_on("note", layers, geometries)
        if line.is_closed and shapely.Polygon(line).area == 10000.0
    ]
    assert len(squares) == 1
    low_x, low_y, high_x, high_y = squares[0].bounds
    assert (high_x - low_x, high_y - low_y) == (100.0, 100.0)


def test_gdal_finds_punches_where_the_panel_has_them(tmp_path, workshop):
    layout = workshop()
    layers, geometries = gdal_read(tmp_path / "cut.dxf", layout_to_dxf(layout))
    placement = layout.hides[0].placements[1]
    assert placement.pose.mirrored
    panel = layout.panel_by_name[placement.panel]
    circles = lines_on("punch", layers, geometries)
    for punch in panel.punches:
        x, y = placement.pose.apply_point(punch.at)
        near = [c for c in circles if shapely.Polygon(c).centroid.distance(shapely.Point(x, y)) < 1e-6]
        assert len(near) == 1
        low_x, _, high_x, _ = near[0].bounds
        assert high_x - low_x == pytest.approx(punch.diameter, rel=1e-5)


@pytest.mark.parametrize("version", VERSIONS)
def test_arcs_stay_exact_arcs(workshop, version):
    document = ezdxf_read(layout_to_dxf(workshop(3), version))
    ours = [s for d in side_by_side(record(workshop(3))) for s in d.strokes if s.layer == "cut"]
    theirs = rings_of(document, "cut")
    assert len(theirs) == len(ours)
    for stroke, (ring, closed) in zip(ours, theirs, strict=True):
        assert isinstance(stroke, Loop)
        assert closed
        assert np.allclose(ring, stroke.ring, rtol=0, atol=1e-9)


def test_units_are_stated(workshop):
    document = ezdxf_read(layout_to_dxf(workshop()))
    assert document.dxfversion == "AC1015"
    assert document.header["$INSUNITS"] == 4  # millimetres, by the DXF reference
    assert document.header["$MEASUREMENT"] == 1  # metric, by the DXF reference
    assert not document.modelspace().query("POLYLINE")


def test_r12_has_no_lwpolyline_and_says_millimetres(workshop, caplog):
    with caplog.at_level(logging.WARNING, "ezdxf"):
        data = layout_to_dxf(workshop(), "R12")
    assert not caplog.records
    document = ezdxf_read(data)
    assert document.dxfversion == "AC1009"
    assert not document.modelspace().query("LWPOLYLINE")
    assert any("millimetres" in text.dxf.text for text in document.modelspace().query("TEXT"))


def test_kerf_is_stated_beside_the_check_square(workshop):
    layout = workshop()
    layout = dataclasses.replace(layout, cutting=dataclasses.replace(layout.cutting, kerf_mm=0.2))
    texts = [text.dxf.text for text in ezdxf_read(layout_to_dxf(layout)).modelspace().query("TEXT")]
    assert any("true size" in text and "0.2 mm" in text for text in texts)


@pytest.mark.parametrize("share", [1.0, 0.4])
def test_no_segment_twice_to_gdal(tmp_path, touching, share):
    layers, geometries = gdal_read(tmp_path / "cut.dxf", layout_to_dxf(touching(share)))
    lines = [shapely.LineString(pair) for g in lines_on("cut", layers, geometries) for pair in pairs(g)]
    assert shapely.union_all(lines).length == pytest.approx(sum(line.length for line in lines))
    ends = Counter(frozenset(map(tuple, np.round(line.coords, 4))) for line in lines)
    assert max(ends.values()) == 1


def pairs(line):
    points = list(line.coords)
    return itertools.pairwise(points)


def test_notes_repeat_no_line(tmp_path, workshop):
    """Straight edges are segments of the outline; their mark must not lie on it."""
    layers, geometries = gdal_read(tmp_path / "cut.dxf", layout_to_dxf(workshop()))
    lines = [shapely.LineString(pair) for g in lines_on("note", layers, geometries) for pair in pairs(g)]
    assert shapely.union_all(lines).length == pytest.approx(sum(line.length for line in lines))


def test_header_extent_holds_all_entities(tmp_path, workshop):
    data = layout_to_dxf(workshop(3))
    header = ezdxf_read(data).header
    _, geometries = gdal_read(tmp_path / "cut.dxf", data)
    low_x, low_y, high_x, high_y = shapely.total_bounds(geometries)
    assert header["$EXTMIN"][0] <= low_x
    assert header["$EXTMIN"][1] <= low_y
    assert header["$EXTMAX"][0] >= high_x - 1e-9
    assert header["$EXTMAX"][1] >= high_y - 1e-9


@pytest.mark.parametrize("version", VERSIONS)
def test_same_bytes_in_any_process(workshop, version):
    here = layout_to_dxf(workshop(), version)
    assert layout_to_dxf(workshop(), version) == here
    code = (
        "import sys; from conftest import example_layout; from nesting.output.dxf import layout_to_dxf;"
        f"sys.stdout.buffer.write(layout_to_dxf(example_layout(), {version!r}))"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "7"}
    there = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parent,
        env=environment,
        capture_output=True,
        check=True,
    )
    assert there.stdout == here


def test_the_switch_for_fixed_ids_is_put_back(workshop):
    layout_to_dxf(workshop())
    assert not ezdxf.options.write_fixed_meta_data_for_testing


def test_an_unknown_version_is_refused(workshop):
    with pytest.raises(ValueError, match="R2018"):
        layout_to_dxf(workshop(), "R2018")
