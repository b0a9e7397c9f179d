"""Tracks of the search in processes of their own; the parent keeps the best valid layout.

A worker that dies costs nothing but its time: the others go on. With rounds instead of seconds the
same tracks run whatever the number of workers, and the result is the best of them all.
"""

from __future__ import annotations

import multiprocessing
import queue
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np

from nesting.errors import HidewrightError
from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.packing.stop import MaxSeconds, Stop, never
from nesting.planning.plan import Improvement, improving_layouts
from nesting.planning.score import Score

TRACKS_OF_ROUNDS = 2
"""Tracks that a search bounded by rounds runs, whatever the number of workers."""

Progress = Callable[[Improvement | None, int], None]


@dataclass(frozen=True)
class Bounds:
    """How long to search: ``seconds`` of time, or ``rounds`` of work (then the same on every run)."""

    seconds: float = 20.0
    rounds: int | None = None


def track_seeds(seed: int, tracks: int) -> list[int]:
    """One independent seed a track."""
    return [int(s.generate_state(1)[0]) for s in np.random.SeedSequence(seed).spawn(tracks)]


def best_layout(
    order: Order, seed: int, bounds: Bounds, workers: int, progress: Progress
) -> tuple[Layout, Score] | None:
    """The best valid layout found within ``bounds``; None when not even one was found.

    ``progress(improvement or None, rounds done)`` is called after each round that reaches the
    parent. KeyboardInterrupt ends the search and keeps the best. Raises what a track raises for an
    order that cannot be searched (InputError).
    """
    tracks = TRACKS_OF_ROUNDS if bounds.rounds is not None else max(1, workers)
    seeds = track_seeds(seed, tracks)
    best: tuple[Score, int, Layout] | None = None
    done = 0
    runner = _in_processes if workers > 1 else _in_turn
    try:
        for track, improvement in runner(order, seed, seeds, bounds, workers):
            done += 1
            if improvement is not None:
                key = (improvement.plan.score, track, improvement.layout)
                if best is None or key[:2] < best[:2]:
                    best = key
                    progress(improvement, done)
                    continue
            progress(None, done)
    except KeyboardInterrupt:
        pass
    return None if best is None else (best[2], best[0])


Event = tuple[int, Improvement | None]


def _track(order: Order, seed: int, named_seed: int, bounds: Bounds) -> Iterator[Improvement | None]:
    """One track; ``named_seed`` is the seed that the layout file states."""
    stop: Stop = never if bounds.rounds is not None else MaxSeconds(bounds.seconds)
    for number, improvement in enumerate(improving_layouts(order, seed, stop, named_seed), start=1):
        yield improvement
        if bounds.rounds is not None and number >= bounds.rounds:
            return


def _in_turn(order: Order, named: int, seeds: list[int], bounds: Bounds, workers: int) -> Iterator[Event]:
    for track, seed in enumerate(seeds):
        for improvement in _track(order, seed, named, bounds):
            yield track, improvement


def _work(
    track: int, order: Order, seed: int, named: int, bounds: Bounds, events: Any
) -> None:  # pragma: no cover - runs in another process
    try:
        parent = multiprocessing.parent_process()
        for improvement in _track(order, seed, named, bounds):
            if parent is not None and not parent.is_alive():
                # Killed outright: nobody reads any more, and nobody will end this process.
                events.cancel_join_thread()
                return
            events.put((track, improvement))
    except KeyboardInterrupt:
        pass
    except HidewrightError as error:
        events.put((track, error))
    finally:
        events.put((track, "end"))


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Processes started meanwhile never see Ctrl-C, which a terminal sends to all of them.

    The parent decides alone: a worker interrupted in the middle of a message would spoil the queue.
    A blocked signal stays blocked across the start of a process; systems without that go without.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _in_processes(
    order: Order, named: int, seeds: list[int], bounds: Bounds, workers: int
) -> Iterator[Event]:
    context = multiprocessing.get_context("spawn")
    events: Any = context.Queue()
    waiting = list(enumerate(seeds))
    running: dict[int, Any] = {}
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                track, seed = waiting.pop(0)
                process = context.Process(
                    target=_work, args=(track, order, seed, named, bounds, events), daemon=True
                )
                with _interrupts_held():
                    process.start()
                running[track] = process
            try:
                track, event = events.get(timeout=0.5)
            except queue.Empty:
                for dead in [t for t, p in running.items() if not p.is_alive()]:
                    del running[dead]
                continue
            if isinstance(event, HidewrightError):
                raise event
            if isinstance(event, str):
                running.pop(track, None)
            else:
                yield track, event
    finally:
        for process in running.values():
            process.terminate()
