"""``hidewright layout ORDER.toml --keep LAYOUT.json``: a late find, and what it moved."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nesting.files.order import Order
    from nesting.files.report import Report
    from nesting.planning.late_find import Found
    from nesting.planning.relay import Relaid
    from nesting.planning.workers import Bounds


def relaid(order: Order, keep: Path, seed: int, bounds: Bounds, workers: int) -> Relaid:
    """Re-lay with a bar; Ctrl-C keeps the best so far. Raises InputError."""
    from cli.bar import SearchBar
    from cli.engine import ready_engine
    from nesting.errors import InputError
    from nesting.files.layout_file import read_layout
    from nesting.planning.late_find import fewest_moved
    from nesting.planning.room import nothing_laid
    from nesting.planning.workers import TRACKS_OF_ROUNDS

    layout = read_layout(keep)
    ready_engine()
    start = time.monotonic()
    total = bounds.seconds if bounds.rounds is None else float(bounds.rounds * TRACKS_OF_ROUNDS)
    with SearchBar(total, sys.stderr.isatty()) as bar:

        def progress(better: Found | None, done: int) -> None:
            at = done if bounds.rounds is not None else time.monotonic() - start
            bar.update(at, None if better is None else better.words)

        try:
            found = fewest_moved(order, layout, seed, bounds, workers, progress)
        except InputError as error:
            raise InputError(f"{keep}: {error}") from error
    if found is None:
        raise InputError(f"{order.path}: stopped before a first layout was found; give it more time")
    if not found.relaid.layout.hides:
        raise InputError(nothing_laid(order))
    return found.relaid


def tell_relaid(after: Relaid, report: Report, as_json: bool) -> None:
    """Which pieces stayed and which did not: as lines on stderr, or with the report as JSON on stdout."""
    from nesting.files.report import report_to_json

    fates = {
        "stayed": after.stayed,
        "moved": after.moved,
        "added": after.added,
        "lost": after.lost,
        "dropped": after.dropped,
    }
    if as_json:
        kept = {name: list(pieces) for name, pieces in fates.items()} | {"notes": list(after.notes)}
        print(json.dumps(report_to_json(report) | {"kept": kept}, ensure_ascii=False, default=str))
    for note in after.notes:
        print(f"note: {note}", file=sys.stderr)
    words = {
        "stayed": "where they lay",
        "moved": "moved",
        "added": "laid for the first time",
        "lost": "no room any more",
        "dropped": "not ordered any more",
    }
    for name, pieces in fates.items():
        if pieces or name in ("stayed", "moved"):
            print(f"{words[name]}: {_listed(pieces)}", file=sys.stderr)


def _listed(pieces: Sequence[str]) -> str:
    """``2 (half-chap-01-L, half-chap-01-R)``."""
    return f"{len(pieces)} ({', '.join(pieces)})" if pieces else "none"
