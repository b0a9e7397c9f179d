"""From an earlier layout and what was found since to the layout that moves fewest: by several tracks."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.packing.stop import Stop
from nesting.planning.relay import Cost, Relaid, Relay
from nesting.planning.workers import Bounds, best_of_tracks


@dataclass(frozen=True)
class Found:
    """A valid layout that costs less than all before it on its track; ``words`` say what has moved."""

    cost: Cost
    relaid: Relaid
    words: str
    least: bool  # no way can be better


def fewest_moved(
    order: Order,
    layout: Layout,
    seed: int,
    bounds: Bounds,
    workers: int,
    progress: Callable[[Found | None, int], None],
) -> Found | None:
    """The layout of most pieces, then of fewest moved, found within ``bounds``; None when stopped before one.

    ``progress(what is better or None, attempts done)`` as ``workers.best_layout`` has it. Within seconds it
    ends as soon as nothing can be better. Raises InputError for the layout of another order.
    """
    track = partial(_better_and_better, order, layout, seed)
    return best_of_tracks(
        track, lambda found: found.cost, seed, bounds, workers, progress, lambda found: found.least
    )


def _better_and_better(
    order: Order, layout: Layout, named_seed: int, seed: int, stop: Stop
) -> Iterator[Found | None]:
    """What is better after an attempt, None after each other one; one attempt a step."""
    relay = Relay(order, layout, seed, stop, named_seed)
    best: Cost | None = None
    for _ in relay.run():
        if best is None or relay.cost() < best:
            best = relay.cost()
            yield _found(relay)
        else:
            yield None
    if best is None or relay.cost() < best:
        yield _found(relay)


def _found(relay: Relay) -> Found:
    return Found(relay.cost(), relay.result(), relay.in_words(), relay.least())
