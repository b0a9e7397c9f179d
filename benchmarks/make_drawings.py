"""Rebuild the sample drawings in ``sample_hides/``, byte for byte.

    python -m benchmarks.make_drawings [FOLDER]

``knee-roll.svg`` is a panel as a drawing program leaves it; ``side-03.dxf`` is a side traced around
the leather, with its flaws on layers of their names. Both belong to the invented workshop of a riding
school: the side's shape and size follow common practice (about 24 square feet), not a real hide.
"""

from __future__ import annotations

import io
import random
import sys
from pathlib import Path

import ezdxf
from ezdxf.enums import TextEntityAlignment

from benchmarks.make_samples import curve, evenly, flaw_ring, own_shape, ragged, to_tenths
from nesting.files.whole import write_whole
from nesting.rings import Ring, area

FT2 = 92903.04
SIDE_FT2 = 23.5
SPACING_MM = 25.0

# Half of a hide along the backbone, in units of its length: butt at the right, head at the left. The
# straight cut down the back runs from (0, 0) to (1, 0).
SIDE = (
    (1.0, 0.0), (1.03, 0.06), (1.01, 0.15), (1.06, 0.27), (1.04, 0.37), (0.96, 0.39), (0.9, 0.33),
    (0.8, 0.37), (0.66, 0.42), (0.52, 0.43), (0.4, 0.41), (0.32, 0.4), (0.27, 0.47), (0.19, 0.49),
    (0.17, 0.38), (0.19, 0.28), (0.12, 0.22), (0.03, 0.2), (-0.05, 0.15), (-0.02, 0.05), (0.0, 0.0),
)  # fmt: skip

# Layer, centre and half size in mm, turn in degrees.
FLAWS = (
    ("brand", (1780.0, 330.0), (60.0, 52.0), 15.0),
    ("hole", (905.0, 410.0), (7.0, 7.0), 0.0),
    ("scar blemish", (1250.0, 300.0), (95.0, 9.0), -30.0),
    ("loose belly weak", (1150.0, 860.0), (320.0, 60.0), 2.0),
    ("flay cut", (560.0, 180.0), (55.0, 8.0), 60.0),
)
TICKS = ((700.0, 330.0), (742.0, 300.0), (1490.0, 520.0))

KNEE_ROLL = """<?xml version="1.0" encoding="UTF-8"?>
<!-- A padded knee roll for the riding school's saddles. One drawing unit is 1 mm. -->
<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297"
     fill="none" stroke="black" stroke-width="0.5">
  <g id="outline">
    <path d="M 60 30 H 120 A 18 18 0 0 1 138 48 C 138 110 168 150 160 215 A 50 50 0 0 1 60 215
             C 72 150 42 110 42 48 A 18 18 0 0 1 60 30 Z"/>
  </g>
  <g id="stitch" stroke-dasharray="3 2">
    <path d="M 49 50 C 49 108 80 150 67 214"/>
    <path d="M 131 50 C 131 108 161 150 153 214"/>
  </g>
  <g id="fold"><line x1="42.5" y1="56" x2="137.5" y2="56"/></g>
  <g id="punch" transform="translate(90 38)">
    <circle cx="-24" cy="0" r="2"/><circle cx="-8" cy="0" r="2"/>
    <circle cx="8" cy="0" r="2"/><circle cx="24" cy="0" r="2"/>
  </g>
  <g id="cutout"><rect x="104" y="225" width="12" height="4" rx="2"/></g>
  <g id="mark">
    <path d="M 108 140 h 6 M 111 137 v 6"/>
    <path d="M 97 90 h 6 M 100 87 v 6"/>
  </g>
  <g id="hidden-weak" stroke="grey"><rect x="36" y="26" width="108" height="30"/></g>
  <g id="stretch"><line x1="90" y1="200" x2="90" y2="100"/></g>
  <text x="70" y="120" font-size="8" stroke="none" fill="black">knee roll, near side</text>
</svg>
"""


def side_outline(rng: random.Random) -> Ring:
    """The traced side, scaled to its area, millimetres to a tenth."""
    shape = curve(own_shape(SIDE, rng))
    state, unit = rng.getstate(), 2200.0
    for _ in range(5):  # the waves keep their size in mm, so the scale settles in a few rounds
        rng.setstate(state)
        ring = to_tenths(ragged(evenly([(x * unit, y * unit) for x, y in shape], SPACING_MM), rng, 3.0))
        unit *= (SIDE_FT2 * FT2 / area(ring)) ** 0.5
    return ring


def side_dxf() -> str:
    """The side as DXF R2000 in mm: the rough edge open, closed by the straight cut along the back."""
    rng = random.Random(3)
    document = ezdxf.new("R2000")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    outline = side_outline(rng)
    space.add_lwpolyline([(x, y) for x, y, _ in outline], dxfattribs={"layer": "outline"})
    back = (outline[-1][:2], outline[0][:2])
    space.add_line(*back, dxfattribs={"layer": "straight"})
    space.add_line((back[0][0], -40.0), (back[1][0], -40.0), dxfattribs={"layer": "spine"})
    for layer, centre, size, turn in FLAWS:
        ring = flaw_ring(centre, size, turn, rng)
        space.add_lwpolyline(ring, format="xyb", close=True, dxfattribs={"layer": layer})
    for x, y in TICKS:
        space.add_point((x, y), dxfattribs={"layer": "tick"})
    scratch = [(1500.0, 700.0), (1580.0, 730.0), (1690.0, 720.0), (1760.0, 755.0)]
    space.add_lwpolyline(scratch, dxfattribs={"layer": "scratch"})
    label = space.add_text("side 03, grain up", height=40.0, dxfattribs={"layer": "note"})
    label.set_placement((100.0, -120.0), align=TextEntityAlignment.LEFT)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def main(folder: Path) -> None:
    """Write both drawings."""
    ezdxf.options.write_fixed_meta_data_for_testing = True
    write_whole(folder / "knee-roll.svg", KNEE_ROLL)
    write_whole(folder / "side-03.dxf", side_dxf())


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent / "sample_hides")
