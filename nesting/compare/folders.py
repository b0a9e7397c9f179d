"""Where the layouts of a comparison are kept, so that what was compared can be cut."""

from __future__ import annotations

import re
from collections.abc import Sequence

from nesting.compare.outcome import Entry

LAYOUT, REPORT = "layout.json", "report.json"
FILES = ("compare.json", "compare.png", "pairs.png")
"""What lies beside the folders."""


def folders(entries: Sequence[Entry]) -> list[str | None]:
    """For each entry the folder of its layout, with ``/`` between names: ``HIDE``, or ``HIDE/PANEL``.

    None where there is nothing to cut: on a typical hide, on one outside the order's weights, and where
    no piece found room. The panel stands in it where a hide was laid with one panel after the other.
    Names keep letters, digits, points, dashes and blanks; no two folders are alike but for their case.
    """
    kept = [entry for entry in entries if _to_cut(entry)]
    names = [entry.name for entry in kept]
    taken = set(FILES)
    found: list[str | None] = []
    for entry in entries:
        if not _to_cut(entry):
            found.append(None)
            continue
        parts = [entry.name, *(entry.trial.panels if names.count(entry.name) > 1 else ())]
        found.append(_free("/".join(map(_plain, parts)), taken))
    return found


def _to_cut(entry: Entry) -> bool:
    trial = entry.trial
    return not trial.candidate.typical and trial.outside is None and entry.usual.pieces > 0


def _plain(name: str) -> str:
    """What every system takes as the name of a folder; those of files are limited in bytes."""
    plain = re.sub(r"[^\w.\- ]", "_", name).strip(". ") or "hide"
    return plain.encode()[:200].decode(errors="ignore")


def _free(name: str, taken: set[str]) -> str:
    """The name itself, or with the first number that makes it one of its own."""
    free, number = name, 1
    while free.casefold() in taken:
        number += 1
        free = f"{name}-{number}"
    taken.add(free.casefold())
    return free
