"""Orders on hides: ``python -m benchmarks.hides --seconds N --workers W``.

Lays the orders of ``benchmarks.orders``: flawed shoulders filled with one panel, mixed orders, belts among
panels, several hides, tight stretch, blemished zones, large hides. Counts the pieces and compares with an
area bound, with a careful hand method (``benchmarks.hand``) and with the packer's own greedy start. Every
layout is judged. ``--seeds`` searches a case, ``--workers`` searches at a time; a search's time begins with
the order in hand and the kernels compiled, so it includes all preparation. A row shows the best of the case's
searches at each time, which is what as many workers of the layout command would have shown on as many cores;
below are the means of single searches, too. The table is Markdown.
"""

from __future__ import annotations

import argparse
import fnmatch
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from multiprocessing import get_context

import shapely

from benchmarks.hand import asked, by_hand
from benchmarks.orders import Case, cases
from benchmarks.strip import CLOCKS
from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.judge import faults
from nesting.packing.stop import MaxSeconds, never
from nesting.packing.warm import warm_up
from nesting.planning.leather import allowed, opened
from nesting.planning.patterns import pattern_of
from nesting.planning.plan import improving_layouts
from nesting.planning.search import Search
from nesting.rings import area

HEAD = ("order", "bound", "hand", "greedy", "first", "1 s", "20 s", "end", "end/hand", "yield", "hides")


@dataclass(frozen=True)
class Row:
    """Pieces by each method; ``first`` is when the first valid layout stood, s.

    ``share`` is that of the pieces in the usable leather of all the order's hides; ``usual`` says that each
    panel is 1 to 10 % of a hide.
    """

    case: str
    what: str
    bound: int
    hand: int
    greedy: int
    first: float
    one: int
    twenty: int
    end: int
    share: float
    hides: int
    usual: bool

    def cells(self) -> list[str]:
        """The row as the table shows it."""
        return [
            self.case, str(self.bound), str(self.hand), str(self.greedy), f"{self.first:.1f} s",
            str(self.one), str(self.twenty), str(self.end), f"{self.gain:.2f}",
            f"{100 * self.share:.1f} %", str(self.hides),
        ]  # fmt: skip

    @property
    def gain(self) -> float:
        """Pieces at the end over those by hand."""
        return self.end / max(1, self.hand)


def usable(order: Order) -> float:
    """Leather, mm², where at least one of the order's panels may lie."""
    total = 0.0
    for hide in order.hides:
        patterns = [pattern_of(line.panel, False, _apart(order)) for line in order.lines]
        rooms = [opened(allowed(hide, order.cutting, p.parts[0][1]), 0.98 * p.narrowest) for p in patterns]
        total += shapely.union_all(rooms).area
    return total


def bound(order: Order) -> int:
    """No layout can hold more pieces: the smallest first until the usable area is used up."""
    room, count = usable(order), 0
    for line in sorted(order.lines, key=lambda line: area(line.panel.outline)):
        unit = 1 if line.panel.pairing == "none" else 2
        fit = min(asked(line), int(room / area(line.panel.outline)) // unit * unit)
        room -= fit * area(line.panel.outline)
        count += fit
    return count


def _apart(order: Order) -> float:
    return order.cutting.kerf_mm + order.cutting.gap_mm


def greedy_count(order: Order) -> int:
    """Pieces of the packer's first greedy layout, no repeat tiled before."""
    search = Search(order, 1, never)
    search.lay_all(search.variant, tile=False)
    return sum(len(poses) for units in search.plan().on for _, _, poses in units)


def searched(
    order: Order, seed: int, marks: list[float], clock: Callable[[], float]
) -> tuple[float, list[int], Layout | None]:
    """When the first layout stood, the pieces laid after each of ``marks`` seconds, and the last layout."""
    start, best, found, first = clock(), 0, [], marks[-1]
    waiting = list(marks)
    layout = None
    for improvement in improving_layouts(order, seed, MaxSeconds(marks[-1], clock)):
        while waiting and clock() - start > waiting[0]:
            found.append(best)
            waiting.pop(0)
        if improvement is not None:
            first = clock() - start if layout is None else first
            layout = improvement.layout
            best = max(best, laid(layout))
    if layout is not None and faults(layout):
        raise ValueError("the judge refuses the layout")
    # The last round may end after the last mark; what it gave counts, as it does for anyone who waits.
    return first, found[: len(marks) - 1] + [best] * (len(marks) - len(found[: len(marks) - 1])), layout


def laid(layout: Layout) -> int:
    """Pieces on the table."""
    return sum(len(on.placements) for on in layout.hides)


def measured(case: Case, seed: int, seconds: float, clock_name: str) -> Row:
    """The row of one search."""
    order = case.order
    marks = [1.0, min(20.0, seconds), seconds]
    first, (one, twenty, end), layout = searched(order, seed, marks, CLOCKS[clock_name])
    panels = {line.panel.name: area(line.panel.outline) for line in order.lines}
    pieces = sum(panels[p.panel] for on in (layout.hides if layout else ()) for p in on.placements)
    return Row(
        case.name, case.what, bound(order), by_hand(order), greedy_count(order), first, one, twenty, end,
        pieces / usable(order), len(layout.hides) if layout else 0, usual(order),
    )  # fmt: skip


def best_of(rows: Sequence[Row]) -> Row:
    """What several searches of one case have found between them at each time; the last layout is the best."""
    best = max(rows, key=lambda row: (row.end, row.share))
    return replace(
        best,
        first=min(row.first for row in rows),
        one=max(row.one for row in rows),
        twenty=max(row.twenty for row in rows),
    )


def usual(order: Order) -> bool:
    """Whether each panel is 1 to 10 % of each hide."""
    shares = [area(line.panel.outline) / area(hide.outline) for line in order.lines for hide in order.hides]
    return min(shares) >= 0.01 and max(shares) <= 0.1


def markdown(cells: Sequence[str]) -> str:
    """One line of a Markdown table."""
    return f"| {' | '.join(cells)} |"


def _summary(what: str, rows: list[Row]) -> None:
    early, late = [row.one / max(1, row.hand) for row in rows], [row.gain for row in rows]
    short = [row.twenty / max(1, row.end) for row in rows]
    if rows:
        print(
            f"{len(rows)} {what}, pieces over the hand's: after 1 s mean {_mean(early):.3f}, least "
            f"{min(early):.2f}; at the end mean {_mean(late):.3f}, least {min(late):.2f}; pieces after 20 s "
            f"over those at the end: mean {_mean(short):.3f}, least {min(short):.2f}."
        )


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)


def main() -> None:
    """Run the benchmark; see the module's words."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.hides", description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument(
        "--clock", choices=sorted(CLOCKS), default="wall", help="processor: of each search's own"
    )
    parser.add_argument("--cases", default="*", help='names, with wildcards: "shoulder-04*"')
    options = parser.parse_args()
    start = time.monotonic()
    warm_up()
    chosen = [case for case in cases() if fnmatch.fnmatch(case.name, options.cases)]
    print(markdown(HEAD))
    print(markdown(["---"] * len(HEAD)))
    runs = [(case, seed) for case in chosen for seed in range(1, options.seeds + 1)]
    single: list[Row] = []
    rows: list[Row] = []
    # A process for each search: none finds tables that another has made.
    with ProcessPoolExecutor(
        options.workers, mp_context=get_context("spawn"), initializer=warm_up, max_tasks_per_child=1
    ) as pool:
        run = partial(measured, seconds=options.seconds, clock_name=options.clock)
        for row in pool.map(run, [case for case, _ in runs], [seed for _, seed in runs]):
            single.append(row)
            if len(single) % options.seeds == 0:
                rows.append(best_of(single[-options.seeds :]))
                print(markdown(rows[-1].cells()), flush=True)
    print()
    for whose, these in (("", rows), *([("single searches of ", single)] if options.seeds > 1 else ())):
        fills = [row for row in these if row.what == "fill"]
        _summary(f"{whose}fills", fills)
        _summary(f"{whose}fills with panels of 1-10 % of the hide", [row for row in fills if row.usual])
    print(f"{options.seconds:g} s a search, {time.monotonic() - start:.0f} s in all.")


if __name__ == "__main__":
    main()
