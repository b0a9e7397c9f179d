"""When to stop: small callables that say yes once the work is enough. Each search round asks once."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

Stop = Callable[[], bool]


@dataclass
class MaxRounds:
    """Stop after so many rounds: the work is bounded, so the result is the same on any machine."""

    rounds: int
    done: int = field(default=0, init=False)

    def __call__(self) -> bool:
        self.done += 1
        return self.done > self.rounds


@dataclass
class MaxSeconds:
    """Stop when so many seconds have passed on ``clock`` since the object was made."""

    seconds: float
    clock: Callable[[], float] = time.monotonic
    start: float = field(init=False)

    def __post_init__(self) -> None:
        self.start = self.clock()

    def __call__(self) -> bool:
        return self.clock() - self.start >= self.seconds


def never() -> bool:
    """Do not stop."""
    return False
