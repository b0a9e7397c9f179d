"""Progress on stderr: one bar on a terminal, a line for each change of the words elsewhere."""

from __future__ import annotations

import sys


class SearchBar:
    """A bar over seconds or rounds with the yield so far."""

    def __init__(self, total: float, shown: bool) -> None:
        self._bar = None
        self._said: str | None = None
        if shown:
            from rich.console import Console
            from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

            self._bar = Progress(
                TextColumn("laying"), BarColumn(), TimeElapsedColumn(), TextColumn("{task.description}"),
                console=Console(stderr=True), transient=True,
            )  # fmt: skip
            self._task = self._bar.add_task("looking for a first layout", total=total)

    def __enter__(self) -> SearchBar:
        if self._bar:
            self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._bar:
            self._bar.stop()

    def update(self, done: float, words: str | None = None) -> None:
        """Move to ``done`` and, when given, change the words."""
        if self._bar is None:
            if words not in (None, self._said):
                self._said = words
                print(f"so far: {words}", file=sys.stderr, flush=True)
        else:
            extra = {} if words is None else {"description": words}
            self._bar.update(self._task, completed=done, **extra)  # type: ignore[arg-type]
