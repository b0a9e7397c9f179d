"""Strip packing on open data: ``python -m benchmarks.strip --data DIR --seconds N --seeds K --out F.json``.

Reads instance files (name, strip_width, pieces with demand, rotations_deg, ring), packs each to the
least length at the width as given, judges every result with shapely alone, and prints densities
against published ones. Density = piece area / (width × length used).
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely import affinity

from nesting.packing.arrays import Arrays, State, build_arrays
from nesting.packing.problem import Item, Placed, Problem, Shape
from nesting.packing.stop import MaxSeconds
from nesting.packing.strip import pack_strip
from nesting.packing.warm import warm_up

# Mean of Elkeran 2013 (EJOR 231:757, doi 10.1016/j.ejor.2013.06.020) and best published to 2019
# (the same; Sato et al. 2019, doi 10.1016/j.ejor.2019.06.008; Wang, Xiao & Wang 2017, IJPR 55:3025;
# Leung, Lin & Zhang 2012). Jigsaws have a known optimum of 100.
PUBLISHED: dict[str, tuple[float | None, float]] = {
    "blaz": (82.40, 84.84), "dagli": (87.06, 89.51), "dighe1": (None, 100.0), "dighe2": (None, 100.0),
    "fu": (90.68, 92.41), "jakobs1": (88.90, 89.09), "jakobs2": (81.14, 87.73), "marques": (89.40, 91.02),
    "shapes0": (67.26, 68.79), "shapes1": (73.79, 76.73), "shirts": (87.59, 88.96),
}  # fmt: skip

GOAL = {
    "blaz": 84.8, "dagli": 89.3, "dighe1": 100.0, "dighe2": 100.0, "fu": 92.4, "jakobs1": 89.1,
    "jakobs2": 85.0, "marques": 91.0, "shapes0": 68.7, "shapes1": 76.0, "shirts": 89.7,
}  # fmt: skip
"""What a run's mean is meant to come to, a choice of this project."""

OVERLAP = 1e-6
"""A pair's overlap area, or an item's area outside the strip, may reach this share of an item's area."""


@dataclass(frozen=True)
class Instance:
    """One open instance: ring and turns of each piece, how often each is wanted."""

    name: str
    width: float
    area: float
    ids: tuple[str, ...]
    problem: Problem

    @staticmethod
    def read(path: Path) -> Instance:
        """Read an instance file; rings are used as they are."""
        data = json.loads(path.read_text(encoding="utf-8"))
        shapes, items, ids = [], [], []
        total = 0.0
        for piece in data["pieces"]:
            ring = np.array(piece["ring"], dtype=np.float64)
            turns = tuple((math.radians(t), math.radians(t)) for t in piece["rotations_deg"])
            shapes.append(Shape(ring, (), turns))
            items += [Item(len(shapes) - 1)] * piece["demand"]
            ids += [piece["id"]] * piece["demand"]
            total += shapely.Polygon(ring).area * piece["demand"]
        width = float(data["strip_width"])
        problem = Problem(tuple(shapes), tuple(items), (), (0.0, 0.0, 1.0, width))
        return Instance(data["name"], width, total, tuple(ids), problem)


@dataclass
class Found:
    """Layouts of a run as they got shorter: (seconds, length); the last one's poses, and those at 60 s."""

    seed: int
    times: list[tuple[float, float]]
    placed: list[Placed]
    early: list[Placed]

    @property
    def length(self) -> float:
        """The shortest length."""
        return self.times[-1][1]


EARLY = 60.0
"""After so many seconds a run is looked at, too: it stands then where a run of just that time ends."""

CLOCKS = {"wall": time.monotonic, "processor": time.process_time}
"""What the seconds of a run are read from: the second does not count what others take of the machine."""


def run_once(instance: Instance, seed: int, seconds: float, clock_name: str = "wall") -> Found:
    """Pack an instance once."""
    clock = CLOCKS[clock_name]
    start = clock()
    arrays: Arrays = build_arrays(instance.problem)
    found = Found(seed, [], [], [])

    def better(length: float, state: State) -> None:
        found.times.append((clock() - start, length))
        found.placed = arrays.placed(state)
        if found.times[-1][0] <= EARLY or not found.early:
            found.early = found.placed

    pack_strip(arrays, seed, MaxSeconds(seconds, clock), better)
    return found


def judged_length(instance: Instance, placed: list[Placed]) -> float:
    """The length that the placed pieces need, by shapely alone; ValueError when they are not valid."""
    problem = instance.problem
    if sorted(p.item for p in placed) != list(range(len(problem.items))):
        raise ValueError("not every piece is placed exactly once")
    polygons = []
    for p in placed:
        ring = shapely.Polygon(problem.shapes[problem.items[p.item].shape].outline)
        turned = affinity.rotate(ring, p.angle, origin=(0, 0), use_radians=True)
        polygons.append(affinity.translate(turned, p.x, p.y))
    least = min(p.area for p in polygons)
    tree = shapely.STRtree(polygons)
    for i, j in tree.query(polygons, predicate="intersects").T:
        if i < j and polygons[i].intersection(polygons[j]).area > OVERLAP * least:
            raise ValueError(f"pieces {i} and {j} overlap")
    x0, y0, x1, y1 = shapely.union_all(polygons).bounds
    slack = 1e-6 * instance.width
    if y0 < -slack or y1 > instance.width + slack or x0 < -slack:
        raise ValueError("a piece leaves the strip")
    return float(x1)


def main() -> None:
    """Run the benchmark; see the module's words."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.strip", description=__doc__)
    parser.add_argument("--data", type=Path, required=True, help="folder of instance files")
    parser.add_argument("--seconds", type=float, default=60.0, help="for each run of an instance")
    parser.add_argument("--seeds", type=int, default=4, help="runs of each instance")
    parser.add_argument("--workers", type=int, default=1, help="runs at a time")
    parser.add_argument("--only", default="", help="comma-separated names; default all")
    parser.add_argument(
        "--clock", choices=sorted(CLOCKS), default="wall", help="processor: of each run's own"
    )
    parser.add_argument("--out", type=Path, help="placements of the best run of each instance")
    options = parser.parse_args()
    paths = sorted(options.data.glob("*.json"))
    if options.only:
        paths = [p for p in paths if p.stem in options.only.split(",")]
    if not paths:
        parser.error(f"no instance files in {options.data}")
    warm_up()
    rows = []
    for path in paths:
        rows.append(bench(Instance.read(path), options))
        if options.out:
            options.out.write_text(json.dumps({"instances": rows}, indent=1), encoding="utf-8")
    gaps = [row["density"] - PUBLISHED[row["name"]][0] for row in rows if _mean(row["name"]) is not None]
    if gaps:
        print(f"mean of (best here - published mean) over {len(gaps)} sets: {sum(gaps) / len(gaps):+.2f}")


def _mean(name: str) -> float | None:
    return PUBLISHED.get(name, (None, 0.0))[0]


def bench(instance: Instance, options: argparse.Namespace) -> dict[str, Any]:
    """All runs of one instance: print a line, return the best run's placements."""
    jobs = [(instance, seed, options.seconds, options.clock) for seed in range(1, options.seeds + 1)]
    with multiprocessing.get_context("spawn").Pool(options.workers) as pool:
        runs = pool.starmap(run_once, jobs)
    lengths = [judged_length(instance, run.placed) for run in runs]
    densities = [100.0 * instance.area / (instance.width * length) for length in lengths]
    early = [100.0 * instance.area / (instance.width * judged_length(instance, run.early)) for run in runs]
    best = int(np.argmax(densities))
    mean, record = PUBLISHED.get(instance.name, (None, math.nan))
    gap = "" if mean is None else f" gap {densities[best] - mean:+6.2f}"
    print(
        f"{instance.name:10s} best {densities[best]:6.2f} mean {np.mean(densities):6.2f} "
        f"published mean {'-' if mean is None else f'{mean:.2f}':>6s} best {record:6.2f}{gap} "
        f"goal {GOAL.get(instance.name, math.nan):6.2f} "
        f"after {EARLY:g} s best {max(early):6.2f} mean {np.mean(early):6.2f} "
        f"first {runs[best].times[0][0]:6.1f} s, best {runs[best].times[-1][0]:6.1f} s",
        flush=True,
    )
    placements = [
        {"id": instance.ids[p.item], "rotation_deg": math.degrees(p.angle), "at": [p.x, p.y]}
        for p in runs[best].placed
    ]
    return {
        "name": instance.name, "strip_width": instance.width, "length": lengths[best],
        "density": densities[best], "seed": runs[best].seed, "seconds": runs[best].times[-1][0],
        "placements": placements,
    }  # fmt: skip


if __name__ == "__main__":
    main()
