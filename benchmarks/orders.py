"""The orders that ``benchmarks.hides`` lays, all on the invented leather of ``sample_hides`` or like it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely

from benchmarks.shapes import dense, hide_outline, loop
from nesting.files.hide import Flaw, Hide
from nesting.files.hide_file import read_hide
from nesting.files.order import Cutting, Order, OrderLine
from nesting.files.panel import Panel, Stretch
from nesting.files.panel_file import read_panel
from nesting.planning.leather import ring_polygon
from nesting.rings import area, ring_from_points

SAMPLES = Path(__file__).parent.parent / "sample_hides"
SHOULDERS = ("shoulder-02", "shoulder-04", "shoulder-05", "shoulder-06")
PANELS = ("half-chap", "gaiter", "cuff", "key-fob")
CUTTING = Cutting()
FT2_MM2 = 92903.04


@dataclass(frozen=True)
class Case:
    """One line of the table."""

    name: str
    what: str
    order: Order


def hide(name: str) -> Hide:
    """A sample hide of no stated weight, so that any panel may lie on it."""
    return replace(read_hide(SAMPLES / f"{name}.hide.json"), weight_oz=None)


def panel(name: str) -> Panel:
    """A sample panel."""
    return read_panel(SAMPLES / f"{name}.panel.json")


def fill(leather: Hide, wanted: Panel) -> Order:
    """As many of one panel as the hide holds."""
    return Order("fill", (leather,), (OrderLine(wanted, fill=True),), CUTTING)


def line(wanted: Panel, pieces: int) -> OrderLine:
    """So many pieces, in whole pairs where the panel pairs."""
    if wanted.pairing == "none":
        return OrderLine(wanted, pieces=pieces)
    return OrderLine(wanted, pairs=max(1, pieces // 2))


def shared(title: str, hides: tuple[Hide, ...], panels: tuple[Panel, ...], share: float) -> Order:
    """Like areas of each panel, in all ``share`` of the hides' area: more than can be laid."""
    each = share * sum(area(h.outline) for h in hides) / len(panels)
    return Order(title, hides, tuple(line(p, int(each / area(p.outline))) for p in panels), CUTTING)


def cases() -> Iterator[Case]:
    """All of them, the flawed shoulders filled with one panel first."""
    for name in SHOULDERS:
        for kind in PANELS:
            yield Case(f"{name} {kind}", "fill", fill(hide(name), panel(kind)))
    double = hide("double-shoulder-04")
    five = tuple(panel(name) for name in (*PANELS, "brow-band"))
    yield Case("five panels", "mixed", shared("five panels", (double,), five, 0.9))
    yield Case("belts and half-chaps", "mixed", belts(double))
    four = tuple(hide(name) for name in SHOULDERS)
    yield Case(
        "four hides",
        "mixed",
        shared("four hides", four, (panel("half-chap"), panel("gaiter"), panel("cuff")), 0.75),
    )
    for name in ("shoulder-04", "shoulder-05"):
        tight = replace(panel("half-chap"), stretch=Stretch(90.0, 2.0))
        yield Case(f"{name} half-chap, stretch 2°", "tight stretch", fill(hide(name), tight))
    yield Case("zones, tolerant gaiters", "zones", zones())
    whole = (whole_hide("whole-1", 11), whole_hide("whole-2", 12))
    many = Order("240 pieces", whole, (OrderLine(panel("gaiter"), pairs=120),), CUTTING)
    yield Case("240 pieces, 2 hides of 50 ft²", "large", many)
    rough = many_flaws()
    yield Case("100 flaws, 2000 vertices", "large", fill(rough, panel("half-chap")))
    plain = replace(rough, outline=coarse(rough), flaws=())
    yield Case("the same, plain", "large", fill(plain, panel("half-chap")))


def belts(leather: Hide) -> Order:
    """Six long belts, then as many half-chaps as fit."""
    belt = Panel("belt", ((0, 0, 0), (960, 0, 0.4), (960, 34, 0), (0, 34, 0)), stretch=Stretch(0.0, 5.0))
    along = replace(leather, spine=((0.0, 0.0), (1.0, 0.0)))
    lines = (OrderLine(belt, pieces=6), OrderLine(panel("half-chap"), fill=True))
    return Order("belts and half-chaps", (along,), lines, CUTTING)


def zones() -> Order:
    """A third of a shoulder blemished: half-chaps need the prime, gaiters (no half-chaps) take either."""
    leather = hide("shoulder-06")
    x0, y0, x1, y1 = ring_polygon(leather.outline).bounds
    across = ((x0, y0), (x0 + 0.38 * (x1 - x0), y0), (x0 + 0.30 * (x1 - x0), y1), (x0, y1))
    zone = shapely.Polygon(across).intersection(ring_polygon(leather.outline).buffer(-1.0))
    ring = ring_from_points(shapely.get_coordinates(zone.exterior)[:-1])
    blemished = replace(leather, flaws=(*leather.flaws, Flaw("insect marks", "blemish", ring)))
    lines = (line(panel("half-chap"), 10), OrderLine(panel("gaiter"), fill=True))
    return Order("zones", (blemished,), lines, CUTTING)


def whole_hide(name: str, seed: int) -> Hide:
    """An invented whole hide of 50 ft² with a dozen flaws."""
    rng = np.random.default_rng(seed)
    outline = shapely.Polygon(hide_outline("bend", 50 * FT2_MM2, 5.0, True, rng)).simplify(1.0)
    points = shapely.get_coordinates(outline)[:-1]
    return _with_flaws(name, points, 12, (12.0, 40.0), rng)


def many_flaws() -> Hide:
    """Some 2,000 vertices and 100 flaws on 15 ft²."""
    rng = np.random.default_rng(5)
    points = dense(hide_outline("single shoulder", 15 * FT2_MM2, 4.0, True, rng), 2.7)
    return _with_flaws("rough", points, 100, (1.0, 3.0), rng)


def coarse(leather: Hide) -> tuple[tuple[float, float, float], ...]:
    """The outline with few vertices, a little inside."""
    inside = ring_polygon(leather.outline).buffer(-2.0).simplify(2.0)
    return ring_from_points(shapely.get_coordinates(inside.exterior)[:-1])


def _with_flaws(
    name: str, points: np.ndarray, count: int, radii: tuple[float, float], rng: np.random.Generator
) -> Hide:
    """A hide with flaws anywhere inside; its longest side is the one cut true."""
    outline = shapely.Polygon(points)
    inside = outline.buffer(-1.5 * radii[1])
    x0, y0, x1, y1 = inside.bounds
    flaws: list[Flaw] = []
    while len(flaws) < count:
        at = rng.uniform((x0, y0), (x1, y1))
        if inside.contains(shapely.Point(at)):
            ring = ring_from_points(loop(at, rng.uniform(*radii), rng)[::8])
            flaws.append(Flaw("scar", ("weak", "blemish")[len(flaws) % 2], ring))
    nexts = np.roll(points, -1, axis=0)
    longest = int(np.argmax(np.hypot(*(nexts - points).T)))
    edge = (_point(points[longest]), _point(nexts[longest]))
    return Hide(
        name, ring_from_points(points), straight_edges=(edge,), flaws=tuple(flaws), spine=((0, 0), (1, 0))
    )


def _point(at: np.ndarray) -> tuple[float, float]:
    return float(at[0]), float(at[1])
