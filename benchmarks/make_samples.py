"""Rebuild the traced sample hides and panels in ``sample_hides/``, byte for byte.

    python benchmarks/make_samples.py [FOLDER]

The workshop is invented: that of a riding school. Outlines follow the usual cuts (single and double
shoulder, bend: sizes from TRADE notes, common practice) with seeded irregularity; nothing here was
traced from a real hide.
"""

from __future__ import annotations

import math
import random
import sys
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

from nesting.files.hide import Flaw, Hide, Price, Severity
from nesting.files.hide_file import write_hide
from nesting.files.panel import HiddenZone, Line, Panel, Punch, Stretch
from nesting.files.panel_file import write_panel
from nesting.files.ring_rules import ring_of
from nesting.rings import Point, Ring, area

FT2 = 92903.04
SPACING_MM = 15.0

# Half outlines in units of the backbone's length, from the far end of the straight edge round to its
# near end. The straight edge runs from (0, 0) to (1, 0).
SINGLE_SHOULDER = (
    (1.0, 0.0), (1.03, 0.09), (1.0, 0.2), (0.92, 0.27), (0.83, 0.34), (0.76, 0.45), (0.735, 0.6),
    (0.67, 0.7), (0.595, 0.66), (0.555, 0.56), (0.46, 0.525), (0.3, 0.56), (0.15, 0.585), (0.02, 0.57),
    (-0.02, 0.46), (0.0, 0.28), (-0.012, 0.12), (0.0, 0.0),
)  # fmt: skip
BEND = (
    (1.0, 0.0), (1.015, 0.15), (1.0, 0.34), (1.01, 0.5), (0.9, 0.545), (0.75, 0.52), (0.6, 0.505),
    (0.42, 0.53), (0.25, 0.55), (0.12, 0.5), (0.045, 0.36), (-0.02, 0.24), (0.02, 0.1), (0.0, 0.0),
)  # fmt: skip
# A double shoulder lies across: the straight edge is the cut to the bends, the backbone runs up its middle.
DOUBLE_SHOULDER = (
    (1.0, 0.0), (1.02, 0.1), (1.0, 0.26), (0.985, 0.36), (1.05, 0.46), (1.07, 0.55), (1.0, 0.6),
    (0.9, 0.56), (0.78, 0.62), (0.7, 0.72), (0.64, 0.84), (0.5, 0.875), (0.37, 0.85), (0.3, 0.73),
    (0.21, 0.61), (0.1, 0.57), (0.0, 0.61), (-0.075, 0.56), (-0.05, 0.45), (0.01, 0.37),
    (0.005, 0.25), (-0.02, 0.1), (0.0, 0.0),
)  # fmt: skip


@dataclass(frozen=True)
class Recipe:
    """What a sample hide is made from; a flaw is kind, severity, centre, half size (outline units), turn."""

    name: str
    cut: str
    half: tuple[Point, ...]
    area_ft2: float
    weight_oz: tuple[float, float]
    tannage: str
    price: Price
    spine: tuple[Point, Point]
    seed: int
    flaws: tuple[tuple[str, Severity, Point, Point, float], ...]


ALONG, ACROSS = ((0.0, 0.0), (1.0, 0.0)), ((0.0, 0.0), (0.0, 1.0))


def price(amount: str, basis: str) -> Price:
    return Price(Decimal(amount), "USD", basis)  # type: ignore[arg-type]


RECIPES = (
    Recipe(
        "shoulder-02", "single shoulder", SINGLE_SHOULDER, 7.75, (2, 3), "chrome",
        price("5.90", "ft2"), ALONG, 2, (
            ("scar", "blemish", (0.35, 0.22), (0.085, 0.012), 35),
            ("tick hole", "hole", (0.62, 0.18), (0.005, 0.005), 0),
            ("tick hole", "hole", (0.66, 0.22), (0.004, 0.004), 0),
            ("fat wrinkles", "blemish", (0.93, 0.13), (0.05, 0.11), 8),
        ),
    ),
    Recipe(
        "shoulder-04", "single shoulder", SINGLE_SHOULDER, 7.25, (4, 5), "vegetable",
        price("62.00", "hide"), ALONG, 4, (
            ("brand", "weak", (0.12, 0.37), (0.042, 0.036), 20),
            ("scar", "blemish", (0.5, 0.3), (0.07, 0.009), -25),
            ("tick hole", "hole", (0.78, 0.13), (0.004, 0.004), 0),
            ("loose belly", "weak", (0.2, 0.6), (0.2, 0.045), 3),
            ("fat wrinkles", "blemish", (0.95, 0.12), (0.035, 0.1), 4),
        ),
    ),
    Recipe(
        "shoulder-05", "single shoulder", SINGLE_SHOULDER, 6.6, (4, 5), "vegetable",
        price("47.50", "hide"), ALONG, 5, (
            ("flay cut", "weak", (0.33, 0.13), (0.055, 0.006), 60),
            ("tick hole", "hole", (0.56, 0.22), (0.006, 0.006), 0),
            ("tick hole", "hole", (0.6, 0.27), (0.005, 0.005), 0),
            ("tick hole", "hole", (0.57, 0.3), (0.004, 0.004), 0),
            ("scar", "blemish", (0.18, 0.28), (0.06, 0.008), 10),
            ("warble marks", "blemish", (0.76, 0.07), (0.07, 0.035), 0),
            ("loose belly", "weak", (0.38, 0.57), (0.15, 0.05), 0),
            ("brand", "weak", (0.07, 0.16), (0.03, 0.033), 0),
            ("fat wrinkles", "blemish", (0.96, 0.11), (0.045, 0.09), 0),
        ),
    ),
    Recipe(
        "shoulder-06", "single shoulder", SINGLE_SHOULDER, 7.9, (6, 7), "vegetable",
        price("8.40", "ft2"), ALONG, 6, (
            ("brand", "weak", (0.2, 0.14), (0.035, 0.045), -12),
            ("scratch", "blemish", (0.45, 0.4), (0.09, 0.005), 12),
            ("scratch", "blemish", (0.42, 0.37), (0.06, 0.004), 20),
            ("loose belly", "weak", (0.13, 0.6), (0.16, 0.05), 5),
        ),
    ),
    Recipe(
        "bend-08", "bend", BEND, 9.0, (8, 9), "vegetable",
        price("96.00", "hide"), ALONG, 8, (
            ("flay cut", "weak", (0.62, 0.42), (0.06, 0.007), -40),
            ("insect bites", "blemish", (0.3, 0.2), (0.05, 0.04), 0),
            ("hole", "hole", (0.86, 0.3), (0.009, 0.009), 0),
        ),
    ),
    Recipe(
        "double-shoulder-04", "double shoulder", DOUBLE_SHOULDER, 14.0, (4, 5), "vegetable",
        price("1.15", "dm2"), ACROSS, 14, (
            ("brand", "weak", (0.2, 0.3), (0.045, 0.04), 15),
            ("neck wrinkles", "blemish", (0.5, 0.74), (0.13, 0.014), 2),
            ("neck wrinkles", "blemish", (0.5, 0.8), (0.11, 0.011), -3),
            ("scar", "blemish", (0.72, 0.26), (0.09, 0.008), 55),
            ("tick hole", "hole", (0.42, 0.2), (0.0035, 0.0035), 0),
            ("tick hole", "hole", (0.445, 0.235), (0.003, 0.003), 0),
            ("loose belly", "weak", (1.03, 0.16), (0.05, 0.14), 0),
            ("loose belly", "weak", (-0.02, 0.18), (0.045, 0.12), 0),
        ),
    ),
)  # fmt: skip


def curve(points: tuple[Point, ...], steps: int = 24) -> list[Point]:
    """Points on the Catmull-Rom spline through ``points``, ends included."""
    ends = (points[0], *points, points[-1])
    found: list[Point] = []
    for a, b, c, d in zip(ends, ends[1:], ends[2:], ends[3:], strict=False):
        for i in range(steps):
            t = i / steps
            found.append(tuple(_spline(a[k], b[k], c[k], d[k], t) for k in (0, 1)))  # type: ignore[arg-type]
    return [*found, points[-1]]


def _spline(a: float, b: float, c: float, d: float, t: float) -> float:
    return 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)


def evenly(points: list[Point], spacing: float) -> list[Point]:
    """Points at even steps along a polyline, ends included."""
    lengths = [math.dist(p, q) for p, q in pairwise(points)]
    count = max(2, round(sum(lengths) / spacing))
    step = sum(lengths) / count
    found, walked, i = [points[0]], 0.0, 0
    for k in range(1, count):
        while walked + lengths[i] < k * step:
            walked += lengths[i]
            i += 1
        t = (k * step - walked) / lengths[i]
        (x0, y0), (x1, y1) = points[i], points[i + 1]
        found.append((x0 + t * (x1 - x0), y0 + t * (y1 - y0)))
    return [*found, points[-1]]


def ragged(points: list[Point], rng: random.Random, amplitude: float) -> list[Point]:
    """Move points along the outline's normal by a sum of waves that dies away at both ends."""
    waves = [(n, rng.uniform(0, 2 * math.pi), amplitude / (1 + n / 6)) for n in range(3, 40)]
    found, last = [points[0]], len(points) - 1
    for i in range(1, last):
        (x0, y0), (x1, y1) = points[i - 1], points[i + 1]
        length = math.hypot(x1 - x0, y1 - y0)
        t = i / last
        shift = sum(a * math.sin(2 * math.pi * n * t + phase) for n, phase, a in waves)
        shift *= min(1.0, 8 * t, 8 * (1 - t))
        found.append((points[i][0] + shift * (y1 - y0) / length, points[i][1] - shift * (x1 - x0) / length))
    return [*found, points[-1]]


def outline_of(recipe: Recipe, rng: random.Random) -> tuple[Ring, float]:
    """The outline, scaled to the recipe's area, and the length of one outline unit in mm."""
    shape = curve(own_shape(recipe.half, rng))
    state, unit = rng.getstate(), 1100.0
    for _ in range(5):  # the waves keep their size in mm, so the scale settles in a few rounds
        rng.setstate(state)
        rough = evenly([(x * unit, y * unit) for x, y in shape], SPACING_MM)
        ring = to_tenths(ragged(rough, rng, 2.2))
        unit *= math.sqrt(recipe.area_ft2 * FT2 / area(ring))
    return ring, ring[0][0]


def own_shape(half: tuple[Point, ...], rng: random.Random) -> tuple[Point, ...]:
    """No two hides are alike: move all but the ends, and their neighbours along the edge, a little."""
    moved = [(x + rng.uniform(-0.022, 0.022), y + rng.uniform(-0.022, 0.022)) for x, y in half[2:-2]]
    return (*half[:2], *moved, *half[-2:])


def to_tenths(points: list[Point]) -> Ring:
    """A straight-sided ring, millimetres to a tenth as one reads them off."""
    return tuple((round(x, 1) + 0.0, round(y, 1) + 0.0, 0.0) for x, y in points)


def flaw_ring(centre: Point, size: Point, turn_deg: float, rng: random.Random) -> Ring:
    """A loop as one chalks it: a circle for a small hole, else a wavering oval of 8 to 20 points."""
    x, y = centre
    if size[0] == size[1] and size[0] < 15:
        return ((round(x - size[0], 1), round(y, 1), 1.0), (round(x + size[0], 1), round(y, 1), 1.0))
    count = max(8, min(20, round(max(size) / 6)))
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    points = []
    for k in range(count):
        angle, grow = 2 * math.pi * k / count, rng.uniform(0.88, 1.12)
        u, v = size[0] * grow * math.cos(angle), size[1] * grow * math.sin(angle)
        points.append((x + u * cos - v * sin, y + u * sin + v * cos))
    return to_tenths(points)


def hide_of(recipe: Recipe) -> Hide:
    rng = random.Random(recipe.seed)
    outline, unit = outline_of(recipe, rng)
    flaws = tuple(
        Flaw(kind, severity, flaw_ring((x * unit, y * unit), (u * unit, v * unit), turn, rng))
        for kind, severity, (x, y), (u, v), turn in recipe.flaws
    )
    corner = (outline[0][0], 0.0)
    return Hide(
        recipe.name, outline, recipe.cut, recipe.weight_oz, recipe.tannage, recipe.price,  # type: ignore[arg-type]
        straight_edges=(((0.0, 0.0), corner),), flaws=flaws, spine=recipe.spine,
    )  # fmt: skip


QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter circle; a half circle has bulge 1."""


def line(role: str, *points: tuple[float, ...]) -> Line:
    return Line(role, ring_of(points))


def half_chap() -> Panel:
    """The outer half of a pony rider's half-chap: laced at the left, curved over the calf at the right."""
    outline = (
        (18.0, 0.0, -0.1), (108.0, 0.0, 0.09), (142.0, 150.0, 0.06), (128.0, 240.0, -0.07),
        (8.0, 240.0, -0.02),
    )  # fmt: skip
    top_fold = ((-5.0, 222.0, 0.0), (145.0, 222.0, 0.0), (145.0, 250.0, 0.0), (-5.0, 250.0, 0.0))
    lacing = tuple(Punch((18.5 + 1.5 * k, 210.0 - 36.0 * k), 4.0) for k in range(6))
    return Panel(
        "half-chap", outline, punches=lacing, marks=((112.0, 205.0), (96.0, 30.0)),
        lines=(line("groove", (102.5, 6.0, 0.09), (135.5, 150.0)),
               line("fold", (9.0, 222.0), (131.0, 222.0))),
        pairing="mirrored", stretch=Stretch(90.0, 15.0),
        hidden_zones=(HiddenZone(top_fold, ("weak", "blemish")),),
    )  # fmt: skip


def cuff() -> Panel:
    """A tapered cuff, 8 1/2 in and 7 1/2 in by 4 1/2 in: 36 in² by geometry."""
    holes = ((14.0, 20.0), (201.9, 20.0), (22.7, 94.3), (193.2, 94.3))
    return Panel(
        "cuff", ((0.0, 0.0, 0.0), (215.9, 0.0, 0.0), (203.2, 114.3, 0.0), (12.7, 114.3, 0.0)),
        punches=tuple(Punch(at, 3.5) for at in holes),
        lines=(line("stitch", (11.0, 8.0), (204.9, 8.0)),), pairing="mirrored", accepts=("blemish",),
    )  # fmt: skip


def brow_band() -> Panel:
    """A brow band, 400 by 25 mm with round ends, cut along the back so that it does not stretch."""
    return Panel(
        "brow-band", ((12.5, 0.0, 0.0), (387.5, 0.0, 1.0), (387.5, 25.0, 0.0), (12.5, 25.0, 1.0)),
        punches=tuple(Punch((x, 12.5), 5.0) for x in (12.5, 32.5, 367.5, 387.5)),
        lines=tuple(line("groove", (45.0, y), (355.0, y)) for y in (3.0, 22.0)),
        stretch=Stretch(0.0, 5.0),
    )  # fmt: skip


def key_fob() -> Panel:
    """A key fob, a drop with a slot for the ring."""
    slot = ((36.0, 55.0, 0.0), (46.0, 55.0, 1.0), (46.0, 59.0, 0.0), (36.0, 59.0, 1.0))
    outline = (
        (6.0, 0.0, 0.0), (76.0, 0.0, QUARTER), (82.0, 6.0, 0.12), (60.0, 52.0, 0.0), (56.0, 58.0, 0.75),
        (26.0, 58.0, 0.0), (22.0, 52.0, 0.12), (0.0, 6.0, QUARTER),
    )  # fmt: skip
    return Panel("key-fob", outline, cutouts=(slot,), marks=((41.0, 25.0),), accepts=("blemish",))


def gaiter() -> Panel:
    """A gaiter panel: a crescent that wraps the ankle, two as drawn."""
    outline = (
        (0.0, 0.0, QUARTER / 4), (52.0, -8.0, -0.05), (70.0, 40.0, -0.42), (160.0, 40.0, -0.05),
        (178.0, -8.0, QUARTER / 4), (230.0, 0.0, 0.06), (206.0, 118.0, 0.1), (24.0, 118.0, 0.06),
    )  # fmt: skip
    return Panel(
        "gaiter", outline, punches=(Punch((24.0, 14.0), 4.0), Punch((206.0, 14.0), 4.0)), pairing="alike",
        marks=((115.0, 100.0),), lines=(line("stitch", (30.0, 112.0, -0.09), (200.0, 112.0)),),
        accepts=("blemish",),
    )  # fmt: skip


def main(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for recipe in RECIPES:
        write_hide(folder / f"{recipe.name}.hide.json", hide_of(recipe))
    for panel in (half_chap(), cuff(), brow_band(), key_fob(), gaiter()):
        write_panel(folder / f"{panel.name}.panel.json", panel)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent / "sample_hides")
