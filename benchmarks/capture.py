"""How well photographs are measured, over rendered scenes whose truth is known.

``python -m benchmarks.capture [--count 60] [--seed 1] [--max-tilt 35] [--keep DIR]``

Each scene is rendered, stored as JPEG, measured through ``measure_photograph`` with the thickness stated,
and compared: area error of the best estimate; distances of the stored outline's points, and of points along
the truth to it (after the best shift and turn, for the hide's frame is its own); flaw loops
found, and how much larger their zones are; whether U (k = 2) covers the area error; seconds, in
this process, rendering left out. Refusals are listed with their reasons.
"""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from benchmarks.render import render_to
from benchmarks.scenes import random_scene
from nesting.capture.measure import Measurement, measure_photograph
from nesting.errors import HidewrightError
from nesting.rings import flatten

Points = NDArray[np.float64]


@dataclass
class Row:
    """One scene's result; ``refused`` holds the reason."""

    seed: int
    what: str
    seconds: float = 0.0
    refused: str = ""
    area_pct: float = 0.0
    u_pct: float = 0.0
    p95: float = 0.0
    worst: float = 0.0
    loops: int = 0
    found: int = 0
    contained: int = 0
    extra: int = 0
    growth_mm: list[float] = field(default_factory=list)


def rigid(source: Points, target: Points) -> tuple[Points, Points]:
    """Rotation (2, 2) and shift (2,) that bring source points to target points (Kabsch)."""
    a, b = source.mean(axis=0), target.mean(axis=0)
    u, _, vt = np.linalg.svd((source - a).T @ (target - b))
    turn = vt.T @ np.diag([1.0, np.sign(np.linalg.det(vt.T @ u.T))]) @ u.T
    return turn, b - turn @ a


def aligned(outline: Points, truth: Points) -> tuple[Points, Points]:
    """Rotation and shift that lay the measured outline on the true one: closest points, repeated."""
    polygon, edge = shapely.Polygon(outline), shapely.Polygon(truth)
    best: tuple[float, Points, Points] | None = None
    dense = np.array(
        [polygon.exterior.interpolate(t, normalized=True).coords[0] for t in np.linspace(0, 1, 500, False)]
    )
    for quarter in range(4):
        c, s = np.cos(quarter * np.pi / 2), np.sin(quarter * np.pi / 2)
        turn = np.array([[c, -s], [s, c]])
        shift = np.array(edge.centroid.coords[0]) - turn @ np.array(polygon.centroid.coords[0])
        for _ in range(25):
            moved = dense @ turn.T + shift
            ring = edge.exterior
            near = shapely.get_coordinates(ring.interpolate(ring.project(shapely.points(moved))))
            turn, shift = rigid(dense, near)
        cost = float(np.median(np.hypot(*(dense @ turn.T + shift - near).T)))
        if best is None or cost < best[0]:
            best = (cost, turn, shift)
    assert best is not None
    return best[1], best[2]


def compare(m: Measurement, truth: dict[str, Any], row: Row) -> None:
    """Fill the row from a measurement and the truth beside it."""
    q = m.hide.measured
    assert q is not None
    true = np.array(truth["outline"])
    row.area_pct = 100 * (q.best_area_mm2 / truth["area_mm2"] - 1)
    row.u_pct = 100 * q.area_u_mm2 / q.best_area_mm2
    outline = flatten(m.hide.outline)
    turn, shift = aligned(outline, true)
    placed = shapely.Polygon(outline @ turn.T + shift)
    edge = shapely.make_valid(shapely.Polygon(true))
    steps = np.linspace(0, 1, 3000, False)
    ours = shapely.distance(edge.boundary, placed.exterior.interpolate(steps, normalized=True))
    theirs = shapely.distance(placed.exterior, edge.boundary.interpolate(steps, normalized=True))
    both = np.concatenate((ours, theirs))
    row.p95, row.worst = float(np.percentile(both, 95)), float(both.max())
    _flaws(m, truth, edge, turn, shift, row)


def _flaws(m: Measurement, truth: dict[str, Any], hide: Any, turn: Points, shift: Points, row: Row) -> None:
    zones = [shapely.make_valid(shapely.Polygon(flatten(f.outline) @ turn.T + shift)) for f in m.hide.flaws]
    union = shapely.union_all(zones) if zones else shapely.Polygon()
    wanted = []
    for flaw in truth["flaws"]:
        loop = shapely.make_valid(shapely.Polygon(flaw["points"]).buffer(flaw["width"] / 2)).intersection(
            hide
        )
        if loop.area > 60:
            wanted.append(loop)
    holes = [shapely.make_valid(shapely.Polygon(h)) for h in truth["holes"]]
    for loop in [*wanted, *holes]:
        row.loops += 1
        row.found += bool(union.intersection(loop).area > 0.9 * loop.area)
        row.contained += bool(union.buffer(0.3).covers(loop))
        near = shapely.union_all([z for z in zones if z.intersects(loop)] or [shapely.Polygon()])
        row.growth_mm.append(float((near.area - loop.area) / loop.length))
    everything = shapely.union_all([*wanted, *holes]) if wanted or holes else shapely.Polygon()
    row.extra = sum(not z.intersects(everything) for z in zones)


def run_scene(seed: int, max_tilt: float, megapixels: tuple[float, ...], folder: Path) -> Row:
    """Render (unless it is there already), measure and compare one scene."""
    scene = random_scene(seed, megapixels, max_tilt)
    stem = folder / f"scene-{seed:03d}"
    if not stem.with_name(stem.name + ".jpg").exists():
        render_to(scene, stem)
    truth = json.loads(stem.with_name(stem.name + ".truth.json").read_text())
    camera = truth["camera"]
    row = Row(
        seed, f"{camera['mat']}, {camera['leather']}, {camera['pitch']:g} mm, tilt {camera['tilt']:.0f}"
    )
    start = time.perf_counter()
    try:
        m = measure_photograph(
            stem.with_name(stem.name + ".jpg"), camera["pitch"], thickness_mm=camera["thickness"]
        )
    except HidewrightError as error:
        row.refused = str(error)
    else:
        row.seconds = time.perf_counter() - start
        compare(m, truth, row)
    return row


def show(row: Row) -> str:
    """One line of the table."""
    if row.refused:
        return f"{row.seed:4}  {row.what:48} refused: {row.refused}"
    return (
        f"{row.seed:4}  {row.what:48} {row.area_pct:+6.3f} {row.u_pct:6.3f} {row.p95:6.2f} {row.worst:6.2f} "
        f"{row.found:3}/{row.loops:<3}{row.contained:3} {row.extra:3} {row.seconds:6.1f}"
    )


def totals(rows: list[Row]) -> str:
    """Medians and worst of those not refused."""
    good = [r for r in rows if not r.refused]
    if not good:
        return "all refused"
    area = np.abs([r.area_pct for r in good])
    loops, found = sum(r.loops for r in good), sum(r.found for r in good)
    grown = float(np.median([g for r in good for g in r.growth_mm] or [0.0]))
    u, seconds = [r.u_pct for r in good], [r.seconds for r in good]
    lines = [
        f"{len(rows)} scenes, {len(rows) - len(good)} refused",
        f"area error      median {np.median(area):.3f} %, worst {area.max():.3f} %",
        f"U (k = 2)       covers {np.mean(area <= u):.0%}; median {np.median(u):.3f} %",
        f"outline         95th percentile: median {np.median([r.p95 for r in good]):.2f} mm, "
        f"worst {max(r.p95 for r in good):.2f} mm; worst point {max(r.worst for r in good):.2f} mm",
        f"flaws and holes {found} of {loops} found, {sum(r.contained for r in good)} wholly in their zones, "
        f"{sum(r.extra for r in good)} found that are none; zones grown by {grown:.1f} mm",
        f"seconds         median {np.median(seconds):.1f}, worst {max(seconds):.1f}",
    ]
    return "\n".join(lines)


def main() -> None:
    """Print the table, then the totals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--max-tilt", type=float, default=35.0)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[8.0, 12.0, 12.0, 24.0])
    parser.add_argument("--keep", type=Path, help="folder to keep the photographs in, and to reuse them from")
    args = parser.parse_args()
    print(f"seed  {'scene':48} area %    U %    p95  worst  flaws  in  extra   s")
    with TemporaryDirectory() as temporary:
        folder = args.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        rows = []
        for seed in range(args.seed, args.seed + args.count):
            rows.append(run_scene(seed, args.max_tilt, tuple(args.megapixels), folder))
            print(show(rows[-1]), flush=True)
    print(totals(rows))


if __name__ == "__main__":
    main()
