"""Orders and hides read for a command, steadily where they come from a shelf."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from nesting.files.order import Order

Found = TypeVar("Found")


def read_order_steadily(path: Path) -> Order:
    """``read_order``, with the shelves that its hides come from as they are before a cut or after it."""
    from nesting.files.order_file import read_order, read_order_bare
    from nesting.shelf.steady import refuse_cut

    _, patterns = read_order_bare(path)
    refuse_cut(patterns, path.parent)
    return from_shelves(lambda: read_order(path), patterns, path.parent)


def from_shelves(
    read: Callable[[], Found], patterns: Sequence[str], base: Path, files: Sequence[Path] = ()
) -> Found:
    """What ``read`` finds while nobody changes the shelves of patterns beside ``base``, and of files."""
    from nesting.shelf.steady import folders_of, read_steadily

    folders = [*folders_of(patterns, base), *(file.parent for file in files if file.parent.is_dir())]
    return read_steadily(folders, read)
