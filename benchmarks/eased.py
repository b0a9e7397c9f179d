"""How fast pieces are set apart on hides: ``python -m benchmarks.eased --seeds 2``.

Whether a hide takes one pair more is luck of many seconds, so that counts tell two versions apart only over
hundreds of runs. Here a pair more than the search has laid after ``ROUNDS`` rounds is put on the hide while
all may overlap each other by some share of a panel's size (the square root of its area), and leave the
leather by half of that. The share is lessened step by step; where the pieces cannot be set apart, two that
differ change places in one of the best failures. Told is the processor time until each of ``SHARES`` is
reached, as geometric means with the doubt of one standard deviation; who gets no farther within ``--cap``
seconds counts as that. Run it for two versions on a quiet machine and compare ratios.
"""

from __future__ import annotations

import argparse
import fnmatch
import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from benchmarks.orders import cases
from nesting.files.order import Order
from nesting.packing import kernels
from nesting.packing.arrays import Arrays, State
from nesting.packing.fill import INSERT
from nesting.packing.separate import restore, separate
from nesting.packing.stop import MaxSeconds, never
from nesting.packing.strip import seed_state
from nesting.packing.warm import warm_up
from nesting.planning.demand import fill_lines, unit_of
from nesting.planning.laid import Laid, Pool
from nesting.planning.search import Search

CASES = ("shoulder-02 gaiter", "shoulder-04 gaiter", "shoulder-02 cuff", "shoulder-06 gaiter")

SHARES = (0.03, 0.02, 0.015)

START, STEP = 0.05, 0.0025
"""The share that all may overlap by at first, and what is taken off it each time."""

ROUNDS = 30
KEPT = 8
"""So many failures are remembered to go on from."""


def eased(arrays: Arrays, by: float) -> Arrays:
    """The same problem for rough efforts, all pieces ``by`` mm apart when they overlap by just that."""
    tables = arrays.with_leaving
    loose = replace(arrays)
    loose.__dict__["with_leaving"] = tables._replace(
        leaving=tables.leaving + np.float32(0.5 * by), depth=tables.depth - np.float32(by)
    )
    return loose


def laid_so_far(order: Order, seed: int) -> Laid:
    """The only table of an order after ``ROUNDS`` rounds of the search, pieces without mate taken off."""
    search = Search(order, seed, never)
    for _, plan in zip(range(ROUNDS), search.run(), strict=False):
        if plan is not None:
            search.accept(plan)
    (laid,) = search.laid.values()
    laid.clear_torn()
    return laid


def shares_reached(order: Order, laid: Laid, seed: int, cap: float) -> Iterator[float]:
    """Put one unit more on the table; yield each share at which all pieces could be set apart."""
    state, arrays = laid.state, laid.table.arrays
    rng, chance = seed_state(seed), np.random.default_rng(seed)
    limit, size = np.array(arrays.problem.box), float(arrays.static.sizes[0, 1])
    stop = MaxSeconds(cap, time.process_time)
    slot = Pool(laid).take(unit_of(order.lines, fill_lines(order)[0], False))
    if slot is None:
        return
    share, failures = START, []
    loose = eased(arrays, share * size)
    restore(state, state.poses, arrays, limit)
    state.weights[:] = 1.0
    for item in laid.table.groups[slot]:
        kernels.insert_cheapest(item, 300, True, state, loose.with_leaving, arrays.fields, limit, rng)
    while share > SHARES[-1] - 0.5 * STEP and not stop():
        separate(state, loose, limit, rng, INSERT, stop)
        poses = state.poses.copy()
        # What separate returns is exact; a sweep without trials looks the eased losses up and moves little.
        loss = kernels.sweep(0, 0, True, state, loose.with_leaving, arrays.fields, limit, rng)
        if loss == 0.0:
            yield share
            share, failures = share - STEP, []
            loose = eased(arrays, share * size)
            continue
        failures = sorted([*failures, (loss, poses)], key=lambda failure: failure[0])[:KEPT]
        restore(state, failures[int(len(failures) * chance.random() ** 2)][1], arrays, limit)
        exchange(state, chance)


def exchange(state: State, chance: np.random.Generator) -> None:
    """Let two pieces of different shapes change places; of a single shape, turn one end for end."""
    on = np.flatnonzero(state.active)
    a = chance.choice(on)
    others = on[state.shapes[on] != state.shapes[a]]
    if len(others):
        b = chance.choice(others)
        state.poses[[a, b]] = state.poses[[b, a]]
    else:
        state.poses[a, 2] += np.pi


def times(order: Order, start: int, seed: int, cap: float) -> list[float]:
    """Seconds of processor time until each of ``SHARES``, from the layout of seed ``start``."""
    laid = laid_so_far(order, start)
    _ = laid.table.arrays.with_leaving
    begun, found = time.process_time(), [cap] * len(SHARES)
    for share in shares_reached(order, laid, seed, cap):
        for k, wanted in enumerate(SHARES):
            if share <= wanted + 1e-9:
                found[k] = min(found[k], time.process_time() - begun)
    return found


def main() -> None:
    """Run the benchmark; see the module's words."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.eased", description=__doc__)
    parser.add_argument("--starts", type=int, default=3, help="layouts of each order to begin from")
    parser.add_argument("--seeds", type=int, default=2, help="runs from each of them")
    parser.add_argument("--cap", type=float, default=12.0, help="seconds of processor time a run")
    options = parser.parse_args()
    warm_up()
    found = []
    for case in cases():
        if not any(fnmatch.fnmatch(case.name, name) for name in CASES):
            continue
        runs = [
            times(case.order, start, 1000 * start + seed, options.cap)
            for start in range(1, options.starts + 1)
            for seed in range(options.seeds)
        ]
        print(case.name, *(f"{t:.2f}" for t in np.exp(np.log(runs).mean(axis=0))), flush=True)
        found += runs
    logs = np.log(found)
    doubt = logs.std(axis=0) / np.sqrt(len(found))
    for share, mean, d, reached in zip(
        SHARES, np.exp(logs.mean(axis=0)), doubt, (np.array(found) < options.cap).sum(axis=0), strict=True
    ):
        print(
            f"{100 * share:.1f} %: {mean:.2f} s, give or take {100 * d:.0f} %; {reached} of {len(found)} runs"
        )


if __name__ == "__main__":
    main()
