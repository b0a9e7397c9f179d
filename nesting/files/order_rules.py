"""What an order's hides and lines must be to one another."""

from __future__ import annotations

import glob
import os
from collections.abc import Sequence
from pathlib import Path

from nesting.errors import FileFormatError
from nesting.files.hide import Hide
from nesting.files.hide_file import read_hide
from nesting.files.json_text import join
from nesting.files.order import OrderLine
from nesting.files.panel import Panel


def hides_of(patterns: Sequence[str], path: Path, source: str) -> tuple[Hide, ...]:
    """The hides of all patterns, in the order of the patterns and sorted within each; no file twice."""
    if not patterns:
        raise FileFormatError(
            source, "hides", 'is empty; name hide files, as in hides = ["shoulder-*.hide.json"]'
        )
    base, files = path.parent, dict[str, Path]()
    for i, pattern in enumerate(patterns):
        found = [base / name for name in sorted(glob.glob(pattern, root_dir=base, recursive=True))]
        found = [file for file in found if file.is_file()]
        if not found:
            raise FileFormatError(
                source,
                join("hides", i),
                f'no hide file matches "{pattern}" beside the order; check the pattern',
            )
        for file in found:
            files.setdefault(os.path.realpath(file), file)
    return hides_in(list(files.values()), source)


def hides_in(files: Sequence[Path], source: str) -> tuple[Hide, ...]:
    """The hides of the files, in their order; FileFormatError where two hides share a name."""
    hides: dict[str, tuple[Hide, Path]] = {}
    for file in files:
        hide = read_hide(file)
        if hide.name in hides:
            both = f"{hides[hide.name][1].name} and {file.name}"
            raise FileFormatError(source, "hides", f'{both} both hold a hide named "{hide.name}"; rename one')
        hides[hide.name] = hide, file
    return tuple(hide for hide, _ in hides.values())


def refuse_twice(named: Sequence[tuple[str, str]], source: str) -> None:
    """Raise FileFormatError where the same panel is ordered twice; ``named`` are (place, panel's name)."""
    for i, (place, name) in enumerate(named):
        if name in (before for _, before in named[:i]):
            raise FileFormatError(
                source,
                place,
                f'panel "{name}" is ordered twice; put the counts together, or give one panel another name',
            )


def refuse_unlike_pairing(panel: Panel, mate: Panel | None, source: str, place: str) -> None:
    """Raise FileFormatError where a panel that has a mate, or the mate itself, pairs with itself already."""
    if mate is None:
        return
    for one, key in ((panel, "panel"), (mate, "mate")):
        if one.pairing != "none":
            raise FileFormatError(
                source,
                join(place, key),
                f'panel "{one.name}" has pairing "{one.pairing}", so its pairs are whole without a mate; '
                'remove mate, or give both panels the pairing "none"',
            )


def refuse_unmet_weight(line: OrderLine, hides: Sequence[Hide], source: str, place: str) -> None:
    """Raise FileFormatError where no hide lies within the weights that a line asks for."""
    if line.weight_oz is None or any(line.takes(hide) for hide in hides):
        return
    low, high = line.weight_oz
    there = sorted({"unknown" if h.weight_oz is None else "{:g}-{:g}".format(*h.weight_oz) for h in hides})
    raise FileFormatError(
        source,
        place,
        f"no hide of this order is within {low:g}-{high:g} oz (there are {', '.join(there)}); "
        "add such a hide or widen the range",
    )


def refuse_mixed_money(hides: Sequence[Hide], currency: str | None, source: str) -> None:
    """Raise FileFormatError where hides and costs are priced in more than one currency."""
    found = {hide.price.currency for hide in hides if hide.price is not None} | (
        {currency} if currency else set()
    )
    if len(found) > 1:
        raise FileFormatError(
            source,
            "costs.currency" if currency else "hides",
            f"prices in {' and '.join(sorted(found))} cannot be added up; price all hides in one currency",
        )
