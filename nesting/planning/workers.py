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
from functools import partial
from typing import Any, TypeVar

import numpy as np

from nesting.errors import HidewrightError
from nesting.files.layout import Layout
from nesting.files.order import Order
from nesting.packing.stop import MaxSeconds, Stop
from nesting.planning.plan import Improvement, improving_layouts
from nesting.planning.score import Score

TRACKS_OF_ROUNDS = 2
"""Tracks that a search bounded by rounds runs, whatever the number of workers."""

T = TypeVar("T")
Track = Callable[[int, Stop], Iterator[T | None]]
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
    track = partial(_layouts, order, seed)
    best = best_of_tracks(track, lambda found: found.plan.score, seed, bounds, workers, progress)
    return None if best is None else (best.layout, best.plan.score)


def _layouts(order: Order, named_seed: int, seed: int, stop: Stop) -> Iterator[Improvement | None]:
    return improving_layouts(order, seed, stop, named_seed)


def best_of_tracks(
    track: Track[T],
    cost: Callable[[T], Any],
    seed: int,
    bounds: Bounds,
    workers: int,
    progress: Callable[[T | None, int], None],
    enough: Callable[[T], bool] = lambda _: False,
) -> T | None:
    """What costs least of all that the tracks find, the first track's where several cost the same.

    ``track(seed, stop)`` yields what is better than all before, or None, once a round; it ends by itself
    when ``stop`` says so. It has to be picklable, as what it yields. What is ``enough`` ends a search
    within seconds at once; one of so many rounds goes on, so that any number of workers finds the same.
    """
    tracks = TRACKS_OF_ROUNDS if bounds.rounds is not None else max(1, workers)
    best: tuple[Any, int, T] | None = None
    runner = _in_processes if workers > 1 else _in_turn
    events: Iterator[tuple[int, T | None]] = runner(track, track_seeds(seed, tracks), bounds, workers)
    try:
        for done, (number, found) in enumerate(events, start=1):
            if found is None or (best is not None and (cost(found), number) >= best[:2]):
                progress(None, done)
                continue
            best = (cost(found), number, found)
            progress(found, done)
            if bounds.rounds is None and enough(found):
                break
    except KeyboardInterrupt:
        pass
    return None if best is None else best[2]


def _rounds(track: Track[T], seed: int, bounds: Bounds) -> Iterator[T | None]:
    """One track within bounds."""
    done = 0
    stop: Stop = MaxSeconds(bounds.seconds) if bounds.rounds is None else lambda: done >= (bounds.rounds or 0)
    for found in track(seed, stop):
        done += 1
        yield found


def _in_turn(
    track: Track[T], seeds: list[int], bounds: Bounds, workers: int
) -> Iterator[tuple[int, T | None]]:
    for number, seed in enumerate(seeds):
        for found in _rounds(track, seed, bounds):
            yield number, found


def _work(
    number: int, track: Track[Any], seed: int, bounds: Bounds, events: Any
) -> None:  # pragma: no cover - runs in another process
    try:
        parent = multiprocessing.parent_process()
        for found in _rounds(track, seed, bounds):
            if parent is not None and not parent.is_alive():
                # Killed outright: nobody reads any more, and nobody will end this process.
                events.cancel_join_thread()
                return
            events.put((number, found))
    except KeyboardInterrupt:
        pass
    except HidewrightError as error:
        events.put((number, error))
    finally:
        events.put((number, "end"))


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
    track: Track[T], seeds: list[int], bounds: Bounds, workers: int
) -> Iterator[tuple[int, T | None]]:
    context = multiprocessing.get_context("spawn")
    events: Any = context.Queue()
    waiting = list(enumerate(seeds))
    running: dict[int, Any] = {}
    try:
        while waiting or running:
            while waiting and len(running) < workers:
                number, seed = waiting.pop(0)
                process = context.Process(
                    target=_work, args=(number, track, seed, bounds, events), daemon=True
                )
                with _interrupts_held():
                    process.start()
                running[number] = process
            try:
                number, event = events.get(timeout=0.5)
            except queue.Empty:
                for dead in [n for n, p in running.items() if not p.is_alive()]:
                    del running[dead]
                continue
            if isinstance(event, HidewrightError):
                raise event
            if isinstance(event, str):
                running.pop(number, None)
            else:
                yield number, event
    finally:
        for process in running.values():
            process.terminate()
