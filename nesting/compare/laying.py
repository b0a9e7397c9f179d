"""Lays a trial: the best valid layout on each of its hides, judged again and accounted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from nesting.account import account
from nesting.account.words import added
from nesting.compare.outcome import Entry, Outcome, Placed
from nesting.compare.trials import Trial
from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.layout import LaidHide, Layout
from nesting.files.order import Order, OrderLine
from nesting.files.report import CostLine, Report
from nesting.judge import assert_layout_valid
from nesting.packing.stop import MaxSeconds, Stop, never
from nesting.planning.plan import improving_layouts


@dataclass(frozen=True)
class Bounds:
    """How long each hide is searched: ``seconds``, or ``rounds`` of work (then the same on every run)."""

    seconds: float = 5.0
    rounds: int | None = None


def lay(trial: Trial, order: Order, seed: int, bounds: Bounds, laid: Callable[[], None]) -> Entry:
    """Lay a trial on each of its hides; ``laid`` is called after each.

    Raises InvalidLayout if a layout did not pass the judge, InputError where the time was too short for
    any layout.
    """
    outcomes = []
    for hide in trial.candidate.hides:
        outcomes.append(_outcome(trial.order_on(hide, order), hide, seed, bounds))
        laid()
    return Entry(trial, tuple(outcomes))


def _outcome(order: Order, hide: Hide, seed: int, bounds: Bounds) -> Outcome:
    layout = _best(order, seed, bounds)
    if not layout.hides:
        # Its areas count all the same.
        layout = replace(layout, hides=(LaidHide(hide, ()),))
    assert_layout_valid(layout)
    report = account(layout, order)
    return Outcome(hide, layout, report, tuple(_placed(line, layout, report) for line in order.lines))


def _best(order: Order, seed: int, bounds: Bounds) -> Layout:
    """One track of the search; its improvements come each better than the last."""
    stop: Stop = never if bounds.rounds is not None else MaxSeconds(bounds.seconds)
    best: Layout | None = None
    for number, improvement in enumerate(improving_layouts(order, seed, stop), start=1):
        best = best if improvement is None else improvement.layout
        if bounds.rounds is not None and number >= bounds.rounds:
            break
    if best is None:
        raise InputError(f"no layout was found on {order.hides[0].name}; give it more --seconds or --rounds")
    return best


def _placed(line: OrderLine, layout: Layout, report: Report) -> Placed:
    names = {panel.name for panel in line.panels}
    pieces = sum(one.panel in names for laid in layout.hides for one in laid.placements)
    asked = 2 * line.pairs if line.pairs is not None else line.pieces
    lines = () if report.cost is None else report.cost.panels
    costs = [cost for cost in lines if cost.name in names]
    cost = CostLine(line.name, pieces, added(*(one.cost for one in costs))) if costs else None
    return Placed(line.name, line.paired, pieces, asked, cost)
