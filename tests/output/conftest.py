"""An invented order laid by hand in rows: what the tests of the output formats draw."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from math import pi, tan

import pytest

from nesting.files.hide import Flaw, Hide, Price
from nesting.files.layout import LaidHide, Layout, Placement, Unplaced
from nesting.files.order import Cutting
from nesting.files.panel import HiddenZone, Line, Panel, Punch, Stretch
from nesting.rings import Pose, Ring

QUARTER = tan(pi / 8)
"""Bulge of a quarter circle."""


def slab(width: float, height: float, radius: float, x: float = 0.0, y: float = 0.0) -> Ring:
    """A rectangle with round corners, lower left corner at (x, y)."""
    corners = (
        (x + radius, y, 0.0), (x + width - radius, y, QUARTER),
        (x + width, y + radius, 0.0), (x + width, y + height - radius, QUARTER),
        (x + width - radius, y + height, 0.0), (x + radius, y + height, QUARTER),
        (x, y + height - radius, 0.0), (x, y + radius, QUARTER),
    )  # fmt: skip
    # Where the round ends meet there is no side between them.
    after = corners[1:] + corners[:1]
    return tuple(one for one, other in zip(corners, after, strict=True) if one[:2] != other[:2])


def disc(x: float, y: float, radius: float) -> Ring:
    """A circle of two half arcs."""
    return ((x - radius, y, 1.0), (x + radius, y, 1.0))


HALF_CHAP = Panel(
    name="half-chap",
    outline=(
        (0, 0, 0),
        (118, 0, 0.15),
        (124, 60, 0),
        (146, 178, 0),
        (140, 190, QUARTER / 2),
        (122, 196, 0),
        (14, 204, 0.1),
        (-6, 190, 0),
    ),
    cutouts=(slab(40, 12, 6, 46, 168),),
    punches=tuple(Punch((10.0, 20.0 + 32 * i), 4.0) for i in range(6)),
    marks=((60.0, 8.0), (60.0, 150.0)),
    lines=(
        Line("groove", ((5, 5, 0), (112, 5, 0.15), (118, 60, 0))),
        Line("stitch", ((106, 12, 0), (128, 176, 0))),
    ),
    pairing="mirrored",
    stretch=Stretch(90.0, 15.0),
    accepts=("blemish",),
    hidden_zones=(HiddenZone(((0, 0, 0), (118, 0, 0), (118, 25, 0), (0, 25, 0)), ("weak", "blemish")),),
)
BROW_BAND = Panel(
    name="brow-band", outline=slab(380, 26, 13), punches=(Punch((12, 13), 5), Punch((368, 13), 5))
)
KEY_FOB = Panel(
    name="key-fob",
    outline=disc(0, 0, 21),
    punches=(Punch((0, 12), 5),),
    marks=((0, -6),),
    accepts=("blemish",),
)
SHOULDER = Hide(
    name="shoulder-07",
    outline=(
        (0, 0, 0), (1080, 0, 0), (1118, 70, 0.05), (1096, 330, 0), (1130, 470, 0.2), (1010, 610, 0),
        (760, 622, -0.08), (520, 604, 0), (300, 655, 0.06), (90, 640, 0), (18, 560, 0),
        (-14, 300, -0.05), (12, 120, 0),
    ),
    cut="single shoulder",
    weight_oz=(4, 5),
    tannage="vegetable",
    price=Price(Decimal("62.00"), "USD", "hide"),
    straight_edges=(((0, 0), (1080, 0)),),
    flaws=(
        Flaw("brand", "weak", ((905, 415, 0), (1000, 430, 0.2), (1010, 500, 0), (930, 520, 0.1))),
        Flaw("tick hole", "hole", disc(1046, 240, 14)),
        Flaw("range mark", "blemish", ((398, 95, 0), (470, 120, 0.3), (455, 150, 0), (400, 130, 0))),
    ),
    spine=((0, 0), (0, 1)),
)  # fmt: skip


def chap(number: int, side: str, x: float, y: float, turn: float = 0.0) -> Placement:
    """Half of a pair: ``L`` as drawn, ``R`` mirrored."""
    pair = f"half-chap-{number:02d}"
    return Placement(f"{pair}-{side}", "half-chap", Pose(side == "R", turn, (x, y)), pair)


def row_of_chaps() -> tuple[Placement, ...]:
    """Six pairs in two rows and a bit: the right one beside its left, turned over and upside down."""
    placed = []
    for number in range(1, 7):
        x, y = 23.0 + 300 * ((number - 1) % 3), 6.0 + 218 * ((number - 1) // 3)
        placed += [chap(number, "L", x, y), chap(number, "R", x + 148.0, y + 208, 180.0)]
    return tuple(placed)


def _belly(left: float) -> Ring:
    return tuple((0.55 * x - left, 0.75 * y, bulge) for x, y, bulge in SHOULDER.outline)


def example_layout(hides: int = 1, tool: str = "knife") -> Layout:
    """Six pairs, two brow bands and nine fobs on a shoulder; further hides carry two pairs each."""
    bands = tuple(
        Placement(f"brow-band-{i + 1}", "brow-band", Pose(False, 0.0, (60.0 + 395 * i, 446.0)))
        for i in range(2)
    )
    fobs = tuple(
        Placement(f"key-fob-{i + 1:02d}", "key-fob", Pose(False, 30.0 * i, (70.0 + 44 * i, 505.0)))
        for i in range(9)
    )
    first = LaidHide(SHOULDER, row_of_chaps() + bands + fobs)
    further = [
        LaidHide(
            Hide(f"belly-{i:02d}", _belly(50.0 * i), "belly", (3, 4)),
            (
                chap(5 + 2 * i, "L", 40 - 50 * i, 30), chap(5 + 2 * i, "R", 336 - 50 * i, 30),
                chap(6 + 2 * i, "L", 60 - 50 * i, 250), chap(6 + 2 * i, "R", 500 - 50 * i, 220),
            ),
        )
        for i in range(1, hides)
    ]  # fmt: skip
    return Layout(
        title="Half-chaps for a riding school",
        seed=1,
        cutting=Cutting(tool=tool),  # type: ignore[arg-type]
        panels=(HALF_CHAP, BROW_BAND, KEY_FOB),
        hides=(first, *further),
        unplaced=(Unplaced("brow-band", 2, "no room left on any hide of 4-6 oz"),) if hides == 1 else (),
        pair_within_mm=(("half-chap", 400.0),),
    )


def edge_to_edge(overlap_share: float = 1.0) -> Layout:
    """Two 80 x 50 mm slips side by side with nothing between; the second shifted up along the shared cut."""
    slip = Panel("slip", ((0, 0, 0), (80, 0, 0), (80, 50, 0), (0, 50, 0)), punches=(Punch((10, 10), 4),))
    hide = Hide("offcut", ((-20, -20, 0), (300, -20, 0), (300, 200, 0), (-20, 200, 0)))
    placements = (
        Placement("slip-1", "slip", Pose(False, 0.0, (0.0, 0.0))),
        Placement("slip-2", "slip", Pose(False, 0.0, (80.0, 50.0 * (1.0 - overlap_share)))),
    )
    cutting = Cutting("laser", kerf_mm=0.0, gap_mm=0.0)
    return Layout("Slips", 1, cutting, (slip,), (LaidHide(hide, placements),))


@pytest.fixture
def workshop() -> Callable[..., Layout]:
    """``workshop(hides=1, tool="knife")``: the example layout."""
    return example_layout


@pytest.fixture
def touching() -> Callable[..., Layout]:
    """``touching(overlap_share=1.0)``: two pieces that share a cut."""
    return edge_to_edge
