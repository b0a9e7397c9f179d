"""From an order to judged layouts that get better: the room's front door."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.files.layout import LaidHide, Layout, Placement, Unplaced
from nesting.files.layout_file import rounded_pose
from nesting.files.order import Order, OrderLine
from nesting.judge import faults
from nesting.packing.stop import Stop
from nesting.planning.demand import fill_lines, names_of, unit_of, wanted_units
from nesting.planning.laying import most_filling
from nesting.planning.room import none_laid
from nesting.planning.score import Plan
from nesting.planning.search import Search
from nesting.units import format_weight


@dataclass(frozen=True)
class Improvement:
    """A valid layout, better than all before it."""

    layout: Layout
    plan: Plan


def improving_layouts(
    order: Order, seed: int, stop: Stop, named_seed: int | None = None
) -> Iterator[Improvement | None]:
    """Yield valid layouts, each better than the last; None after a round that found none.

    ``stop`` is asked once a round and inside long rounds. Nothing is yielded that the judge has not
    passed. ``named_seed`` is the seed that the layouts state when this is one of several tracks.
    """
    named = seed if named_seed is None else named_seed
    search = Search(order, seed, stop)
    for plan in search.run():
        if plan is not None:
            layout = layout_of(order, plan, named)
            if not faults(layout):
                search.accept(plan)
                yield Improvement(layout, plan)
                if stop():
                    return
                continue
        yield None
        if stop():
            return


def layout_of(order: Order, plan: Plan, seed: int) -> Layout:
    """The layout file's content for a plan: pieces named in the order of their panels."""
    counts = [0] * len(order.lines)
    placed = [0] * len(order.lines)
    laid = []
    for hide, units in zip(order.hides, plan.on, strict=True):
        placements: list[Placement] = []
        for line, _, poses in units:
            counts[line] += 1
            placed[line] += len(poses)
            pair, pieces = names_of(order.lines, line, counts[line])
            members = unit_of(order.lines, line, True).members
            for piece, (_, other), pose in zip(pieces, members, poses, strict=True):
                panel = order.lines[line].panel_of(other)
                placements.append(Placement(piece, panel.name, rounded_pose(pose), pair))
        if placements:
            laid.append(LaidHide(hide, tuple(placements)))
    return Layout(
        title=order.title,
        seed=seed,
        cutting=order.cutting,
        panels=order.panels,
        hides=tuple(laid),
        unplaced=tuple(unplaced(order, placed)),
        pair_within_mm=tuple(
            (line.panel.name, line.pair_within_mm) for line in order.lines if line.pair_within_mm is not None
        ),
        mates=order.mates,
    )


def unplaced(order: Order, placed: Sequence[int]) -> list[Unplaced]:
    """What of an order is missing, and why, when so many pieces of each line are laid."""
    asked = [0] * len(order.lines)
    for unit in wanted_units(order):
        asked[unit.line] += unit.pieces
    return [
        Unplaced(panel.name, (asked[i] - placed[i]) // len(line.panels), _why(order, line, placed[i]))
        for i, line in enumerate(order.lines)
        for panel in line.panels
        if asked[i] > placed[i]
    ]


def _why(order: Order, line: OrderLine, placed: int) -> str:
    if not placed:
        return none_laid(line, order)
    kind = f" of {format_weight(line.weight_oz)}" if line.weight_oz else ""
    return f"no room left on any hide{kind}"


def at_most_filled(order: Order, layout: Layout) -> list[str]:
    """Sentences on hides that hold as many pieces of a fill line as are ever offered: more may have room."""
    said = []
    for laid in layout.hides:
        for line in (order.lines[i] for i in fill_lines(order)):
            count = sum(p.panel in [panel.name for panel in line.panels] for p in laid.placements)
            if count > most_filling(order) - 2:
                said.append(
                    f'"{laid.hide.name}" is filled with {count} pieces of "{line.panel.name}", the most that '
                    "are laid on one hide: more may have room"
                )
    return said
