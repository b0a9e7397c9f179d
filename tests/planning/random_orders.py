"""Random small orders for the property test: arcs, flaws on the edge, straight edges, all limits at once."""

from __future__ import annotations

import math

import numpy as np

from nesting.files.hide import Flaw, Hide, Severity
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import HiddenZone, Pairing, Panel, Stretch
from nesting.judge.shapes import encloses, polygon
from nesting.rings import Ring

Chance = np.random.Generator
SEVERITIES: tuple[Severity, ...] = ("hole", "weak", "blemish")


def blob(chance: Chance, size: float, corners: tuple[int, int] = (3, 8)) -> Ring:
    """A star-shaped ring around the origin with straight sides and arcs, sane for the judge."""
    while True:
        count = int(chance.integers(*corners))
        turns = 2 * math.pi * (np.arange(count) + chance.uniform(-0.3, 0.3, count)) / count
        radii = size * chance.uniform(0.55, 1.0, count)
        bulges = chance.choice([0.0, 0.0, 0.3, -0.15], count)
        points = zip(radii * np.cos(turns), radii * np.sin(turns), bulges, strict=True)
        ring = tuple((float(x), float(y), float(b)) for x, y, b in points)
        if encloses(ring):
            return ring


def circle(radius: float, x: float = 0.0, y: float = 0.0) -> Ring:
    """Two half circles."""
    return ((x - radius, y, 1.0), (x + radius, y, 1.0))


def moved(ring: Ring, x: float, y: float) -> Ring:
    return tuple((a + x, b + y, c) for a, b, c in ring)


def random_hide(chance: Chance, name: str) -> Hide:
    """200 to 300 mm across; flaws anywhere near, many across its edge."""
    outline = circle(130.0) if chance.random() < 0.15 else blob(chance, 150.0, (5, 10))
    flat = [i for i, vertex in enumerate(outline) if vertex[2] == 0.0]
    straight = tuple(
        (outline[i][:2], outline[(i + 1) % len(outline)][:2]) for i in flat[: int(chance.integers(0, 3))]
    )
    flaws = []
    for _ in range(int(chance.integers(0, 5))):
        ring = moved(blob(chance, float(chance.uniform(4, 30))), *map(float, chance.uniform(-120, 120, 2)))
        if polygon(ring).intersects(polygon(outline)):
            flaws.append(Flaw("mark", SEVERITIES[int(chance.integers(3))], ring))
    lean = float(chance.uniform(0, 2 * math.pi))
    spine = ((0.0, 0.0), (math.cos(lean), math.sin(lean))) if chance.random() < 0.7 else None
    return Hide(name, outline, straight_edges=straight, flaws=tuple(flaws), spine=spine)


def random_panel(chance: Chance, name: str) -> Panel:
    """30 to 120 mm across."""
    size = float(chance.uniform(20, 60))
    outline = circle(size) if chance.random() < 0.15 else blob(chance, size)
    pairings: tuple[Pairing, ...] = ("mirrored", "alike", "none")
    stretch = Stretch(float(chance.uniform(0, 180)), float(chance.choice([0.0, 5.0, 30.0, 90.0])))
    zones: tuple[HiddenZone, ...] = ()
    if chance.random() < 0.5:
        zone = moved(blob(chance, 0.8 * size), *map(float, chance.uniform(-size, size, 2)))
        zones = (HiddenZone(zone, tuple(s for s in ("weak", "blemish") if chance.random() < 0.7)),)
    return Panel(
        name,
        outline,
        cutouts=(circle(0.2 * size),) if polygon(outline).contains(polygon(circle(0.2 * size))) else (),
        pairing=pairings[int(chance.integers(3))],
        stretch=stretch if chance.random() < 0.5 else None,
        turns_deg=tuple(map(float, chance.choice([0, 33, 90, 180, 270], 2)))
        if chance.random() < 0.2
        else None,
        accepts=("blemish",) if chance.random() < 0.3 else (),
        hidden_zones=zones,
    )


def random_order(seed: int, most_lines: int = 3) -> Order:
    """One or two hides, up to so many lines."""
    chance = np.random.default_rng(seed)
    hides = tuple(random_hide(chance, f"hide-{i}") for i in range(int(chance.integers(1, 3))))
    lines = []
    for i in range(int(chance.integers(1, most_lines + 1))):
        panel = random_panel(chance, f"panel-{i}")
        pairs, many = panel.pairing != "none", int(chance.integers(1, 4))
        within = float(chance.uniform(60, 200)) if pairs and chance.random() < 0.5 else None
        if i == most_lines - 1 and chance.random() < 0.5:
            lines.append(OrderLine(panel, fill=True, pair_within_mm=within))
        elif pairs:
            lines.append(OrderLine(panel, pairs=many, pair_within_mm=within))
        else:
            lines.append(OrderLine(panel, pieces=many))
    margin = float(chance.choice([0.0, 2.0, 6.0]))
    cutting = Cutting(
        kerf_mm=float(chance.choice([0.0, 0.3])), gap_mm=float(chance.choice([0.0, 0.5, 2.0])),
        edge_margin_mm=margin, straight_edge_margin_mm=margin * float(chance.choice([0.0, 0.25, 1.0])),
        flaw_margin_mm=float(chance.choice([0.0, 3.0])),
    )  # fmt: skip
    return Order(f"random {seed}", hides, tuple(lines), cutting)
