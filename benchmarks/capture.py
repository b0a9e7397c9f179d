"""How well photographs are measured, over rendered scenes whose truth is known.

``python -m benchmarks.capture [--count 60] [--seed 1] [--max-tilt 35] [--minutes M] [--json F] [--keep DIR]
[--dashed SHARE]``

Each scene is rendered in a process of its own, stored as JPEG, measured through ``measure_photograph`` with
the thickness stated, and compared: area error of the best estimate; distances of the stored outline's
points, and of points along the truth to it (after the best shift and turn, for the hide's frame is its own);
flaw loops found (nine tenths of their area), by how much any zone is smaller than the truth, and how much
larger zones are; whether U (k = 2) covers the area error; seconds and peak memory of the measurement alone.
Refusals are listed with their reasons. ``--minutes`` starts no further scene after that time. ``--dashed``
draws a share of the loops as dashes, which the scenes of the bar do not have.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from nesting.capture.measure import Measurement, Wishes, measure_photograph
from nesting.errors import HidewrightError
from nesting.rings import flatten

Points = NDArray[np.float64]

SHORT_MM = 0.1
"""What laying one outline on the other leaves open: a zone that falls short by less is not counted."""
BARS = {
    "area_median_pct": 0.3, "area_worst_pct": 1.0, "outline_p95_mm": 1.5, "refused_share": 0.1,
    "u_covers_share": 0.9, "seconds_12mp": 15.0, "memory_12mp_mib": 1536.0,
}  # fmt: skip


@dataclass
class Row:
    """One scene's result; ``refused`` holds the reason."""

    seed: int
    what: str
    tilt: float = 0.0
    megapixels: float = 0.0
    seconds: float = 0.0
    memory_mib: float = 0.0
    refused: str = ""
    area_pct: float = 0.0
    u_pct: float = 0.0
    p95: float = 0.0
    worst: float = 0.0
    loops: int = 0
    found: int = 0
    extra: int = 0
    dashed: int = 0
    told_dashed: int = 0
    solid_told_dashed: int = 0
    short_mm: list[float] = field(default_factory=list)
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
    named = shapely.union_all([z for z, f in zip(zones, m.hide.flaws, strict=True) if "dashed" in f.kind])
    wanted = []
    for flaw in truth["flaws"]:
        loop = shapely.make_valid(shapely.Polygon(flaw["points"]).buffer(flaw["width"] / 2)).intersection(
            hide
        )
        if loop.area > 60:
            wanted.append(loop)
            told = bool(named.intersection(loop).area > 0.5 * loop.area)
            row.dashed += "dash" in flaw
            row.told_dashed += "dash" in flaw and told
            row.solid_told_dashed += "dash" not in flaw and told
    holes = [shapely.make_valid(shapely.Polygon(h)) for h in truth["holes"]]
    for loop in [*wanted, *holes]:
        row.loops += 1
        row.found += bool(union.intersection(loop).area > 0.9 * loop.area)
        rim = shapely.points(shapely.get_coordinates(loop))
        row.short_mm.append(float(shapely.distance(union, rim).max()) if zones else float("inf"))
        near = shapely.union_all([z for z in zones if z.intersects(loop)] or [shapely.Polygon()])
        row.growth_mm.append(float((near.area - loop.area) / loop.length))
    everything = shapely.union_all([*wanted, *holes]) if wanted or holes else shapely.Polygon()
    row.extra = sum(not z.intersects(everything) for z in zones)


def peak_memory(reset: bool = False) -> float:
    """Largest memory (MiB) that this process held since the last reset; 0 where Linux does not tell."""
    try:
        if reset:
            Path("/proc/self/clear_refs").write_text("5")
        status = Path("/proc/self/status").read_text()
    except OSError:
        return 0.0
    return float(status.split("VmHWM:")[1].split()[0]) / 1024.0


def rendered(seed: int, max_tilt: float, megapixels: list[float], folder: Path, dashed: float = 0.0) -> Path:
    """The photograph of a scene, rendered unless it is there already; its truth lies beside it."""
    path = folder / f"scene-{seed:03d}.jpg"
    if not path.with_suffix(".truth.json").exists():
        command = [sys.executable, "-m", "benchmarks.render", "--out", str(folder), "--seed", str(seed)]
        command += ["--max-tilt", str(max_tilt), "--dashed", str(dashed)]
        command += ["--megapixels", *map(str, megapixels)]
        subprocess.run(command, check=True)
    return path


def run_scene(path: Path, seed: int) -> Row:
    """Measure and compare one scene."""
    truth = json.loads(path.with_suffix(".truth.json").read_text())
    camera = truth["camera"]
    what = f"{camera['mat']}, {camera['leather']}, {camera['pitch']:g} mm, tilt {camera['tilt']:.0f}"
    row = Row(seed, what, camera["tilt"], camera["width"] * camera["height"] / 1e6)
    peak_memory(reset=True)
    start = time.perf_counter()
    try:
        m = measure_photograph(path, camera["pitch"], wishes=Wishes(thickness_mm=camera["thickness"]))
    except HidewrightError as error:
        row.refused = str(error)
    else:
        row.seconds, row.memory_mib = time.perf_counter() - start, peak_memory()
        compare(m, truth, row)
    return row


HEADER = (
    f"seed  {'scene':40} area %    U %    p95  worst  flaws found  short mm  grown mm  none   MP     s   MiB"
)


def show(row: Row) -> str:
    """One line of the table."""
    if row.refused:
        return f"{row.seed:4}  {row.what:40} refused: {row.refused}"
    grown = float(np.median(row.growth_mm)) if row.growth_mm else 0.0
    return (
        f"{row.seed:4}  {row.what:40} {row.area_pct:+6.3f} {row.u_pct:6.3f} {row.p95:6.2f} {row.worst:6.2f} "
        f"{row.found:8}/{row.loops:<3} {max(row.short_mm, default=0.0):8.2f}  {grown:8.2f} {row.extra:5} "
        f"{row.megapixels:4.0f} {row.seconds:5.1f} {row.memory_mib:5.0f}"
    )


def figures(rows: list[Row]) -> dict[str, Any]:
    """What the bar is about, over all rows; of those not refused, but for the share refused."""
    good = [r for r in rows if not r.refused]
    if not good:
        return {"scenes": len(rows), "refused": len(rows)}
    area = np.abs([r.area_pct for r in good])
    u = np.array([r.u_pct for r in good])
    steep = np.array([r.tilt >= 20.0 for r in good])
    short = [v for r in good for v in r.short_mm]
    grown = [v for r in good for v in r.growth_mm]
    twelve = [r for r in good if 10.0 < r.megapixels < 14.0]
    return {
        "scenes": len(rows),
        "refused": len(rows) - len(good),
        "refused_share": 1.0 - len(good) / len(rows),
        "area_median_pct": float(np.median(area)),
        "area_worst_pct": float(area.max()),
        "u_covers_share": float(np.mean(area <= u)),
        "u_covers_share_steep": float(np.mean((area <= u)[steep])) if steep.any() else None,
        "u_median_pct": float(np.median(u)),
        "u_worst_pct": float(u.max()),
        "outline_p95_median_mm": float(np.median([r.p95 for r in good])),
        "outline_p95_mm": max(r.p95 for r in good),
        "outline_p95_over": sum(r.p95 > BARS["outline_p95_mm"] for r in good),
        "outline_worst_mm": max(r.worst for r in good),
        "loops": sum(r.loops for r in good),
        "found": sum(r.found for r in good),
        "zones_short": sum(v > SHORT_MM for v in short),
        "short_worst_mm": max(short, default=0.0),
        "grown_median_mm": float(np.median(grown or [0.0])),
        "grown_p95_mm": float(np.percentile(grown or [0.0], 95)),
        "false_flaws": sum(r.extra for r in good),
        "dashed": sum(r.dashed for r in good),
        "told_dashed": sum(r.told_dashed for r in good),
        "solid_told_dashed": sum(r.solid_told_dashed for r in good),
        "seconds_median": float(np.median([r.seconds for r in good])),
        "seconds_worst": max(r.seconds for r in good),
        "seconds_12mp": max((r.seconds for r in twelve), default=None),
        "memory_12mp_mib": max((r.memory_mib for r in twelve), default=None),
        "memory_worst_mib": max(r.memory_mib for r in good),
    }


def totals(rows: list[Row]) -> str:
    """The figures in words, each beside its bar."""
    f = figures(rows)
    if f["scenes"] == f["refused"]:
        return "all refused"
    lines = [
        f"{f['scenes']} scenes, {f['refused']} refused ({f['refused_share']:.0%}; bar 10 %)",
        f"area error      median {f['area_median_pct']:.3f} % (bar 0.3), "
        f"worst {f['area_worst_pct']:.3f} % (bar 1.0)",
        f"U (k = 2)       covers {f['u_covers_share']:.0%} (bar 90 %); median {f['u_median_pct']:.3f} %, "
        f"widest {f['u_worst_pct']:.3f} %",
        f"outline         95th percentile: median {f['outline_p95_median_mm']:.2f} mm, worst "
        f"{f['outline_p95_mm']:.2f} mm (bar 1.5; over it: {f['outline_p95_over']}); "
        f"worst point {f['outline_worst_mm']:.2f} mm",
        f"flaws and holes {f['found']} of {f['loops']} found (bar: all); "
        f"{f['false_flaws']} found that are none",
        f"zones           {f['zones_short']} smaller than the truth by over {SHORT_MM} mm, worst "
        f"{f['short_worst_mm']:.2f} mm (bar: none); grown by {f['grown_median_mm']:.2f} mm, "
        f"95 % by less than {f['grown_p95_mm']:.2f} mm",
        f"seconds         median {f['seconds_median']:.1f}, worst {f['seconds_worst']:.1f}",
        f"memory          worst {f['memory_worst_mib']:.0f} MiB",
    ]
    if f["u_covers_share_steep"] is not None:
        lines[2] += f"; at tilts of 20 degrees and more covers {f['u_covers_share_steep']:.0%}"
    if f["seconds_12mp"] is not None:
        lines[-2] += f"; 12 megapixels at most {f['seconds_12mp']:.1f} (bar 15)"
        lines[-1] += f"; 12 megapixels at most {f['memory_12mp_mib']:.0f} MiB (bar 1536)"
    if f["dashed"] or f["solid_told_dashed"]:
        lines.append(
            f"dashed loops    {f['told_dashed']} of {f['dashed']} told from plain ones; "
            f"{f['solid_told_dashed']} plain ones taken for dashed"
        )
    return "\n".join(lines)


def write_json(path: Path, rows: list[Row]) -> None:
    """Figures, bars and every row."""
    kept = [asdict(r) for r in rows]
    path.write_text(json.dumps({"figures": figures(rows), "bars": BARS, "rows": kept}, indent=1) + "\n")


def main() -> None:
    """Print the table, then the totals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--max-tilt", type=float, default=35.0)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[8.0, 12.0, 12.0, 24.0])
    parser.add_argument("--dashed", type=float, default=0.0, help="share of the loops drawn as dashes, 0..1")
    parser.add_argument("--minutes", type=float, default=float("inf"), help="start no scene after that time")
    parser.add_argument("--json", type=Path, help="file for figures and rows; kept up to date")
    parser.add_argument("--keep", type=Path, help="folder to keep the photographs in, and to reuse them from")
    args = parser.parse_args()
    print(HEADER)
    rows: list[Row] = []
    start = time.monotonic()
    with TemporaryDirectory() as temporary:
        for seed in range(args.seed, args.seed + args.count):
            if time.monotonic() - start > 60.0 * args.minutes:
                break
            # Without --keep only one photograph lies on the disk at a time.
            folder = args.keep or Path(temporary)
            folder.mkdir(parents=True, exist_ok=True)
            path = rendered(seed, args.max_tilt, args.megapixels, folder, args.dashed)
            rows.append(run_scene(path, seed))
            if args.keep is None:
                path.unlink()
            print(show(rows[-1]), flush=True)
            if args.json is not None:
                write_json(args.json, rows)
    print(totals(rows))


if __name__ == "__main__":
    main()
