"""The packing engine, made ready before the clock of a search starts."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

PREPARING = "preparing the packing engine for its first run on this machine (about 15 s)..."


def ready_engine() -> None:
    """Compile the kernels, or load them from their cache; says so where that takes a while."""
    from nesting.packing.warm import warm_up

    with said_if_slow(PREPARING), interrupt_told():
        warm_up()


@contextmanager
def said_if_slow(message: str, after: float = 1.5) -> Iterator[None]:
    """Print ``message`` on stderr when the block takes longer than ``after`` seconds."""
    timer = threading.Timer(after, lambda: print(message, file=sys.stderr, flush=True))
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


@contextmanager
def interrupt_told() -> Iterator[None]:
    """Ctrl-C in the block comes out of it as KeyboardInterrupt, whatever a library has made of it.

    A compiler that is called back from foreign code may drop an exception, or raise another one for it.
    """
    before = signal.getsignal(signal.SIGINT)
    if before is not signal.default_int_handler:  # ignored, as in the background of a shell
        yield
        return
    seen: list[int] = []

    def note(number: int, frame: FrameType | None) -> None:
        seen.append(number)
        signal.default_int_handler(number, frame)

    signal.signal(signal.SIGINT, note)
    try:
        yield
    except Exception as error:
        if seen:
            raise KeyboardInterrupt from error
        raise
    finally:
        signal.signal(signal.SIGINT, before)
    if seen:
        raise KeyboardInterrupt
