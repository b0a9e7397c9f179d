"""Entering a layout that was cut: its hides leave the shelf, their remnants join it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from nesting.account import Keep, account, remnants
from nesting.account.areas import priced_area, total, yields
from nesting.account.money import cents, money, one_currency
from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.hide_file import hide_to_json
from nesting.files.json_text import dump_json
from nesting.files.layout import LaidHide, Layout
from nesting.files.layout_file import layout_to_json
from nesting.files.report import Areas, HideAccount, Yield
from nesting.judge import assert_layout_valid
from nesting.judge.scene import Pattern, scene_of
from nesting.prices import whole_price
from nesting.rings import area
from nesting.shelf.change import Change, Leaving, decide, digest, finish
from nesting.shelf.folder import Shelf, Shelved, check_folder, look
from nesting.shelf.journal import Cut, CutHide, NewRemnant
from nesting.shelf.leftover import Leftover, leftovers
from nesting.shelf.lock import locked
from nesting.shelf.naming import Names
from nesting.shelf.remnant import remnants_of
from nesting.shelf.reported import Reported, check_same


@dataclass(frozen=True)
class Kept:
    """What came of entering a cut: its record, the remnants with their files, and another cut that had
    been broken off and was entered first, if any."""

    cut: Cut
    remnants: tuple[Shelved, ...]
    finished: Cut | None


@dataclass(frozen=True)
class _Sums:
    """What does not hang on the shelf: areas, yields and leftovers of the hides that are cut."""

    areas: Areas
    yields: Yield
    left: tuple[tuple[Leftover, ...], ...]


def keep_layout(
    layout: Layout,
    folder: Path,
    day: date,
    reported: Reported | None = None,
    keep: Keep = Keep(),  # noqa: B008
) -> Kept:
    """Enter that ``layout`` was cut on ``day`` from the hides on the shelf in ``folder``.

    Each hide that pieces lie on must be there, the very one the layout was made for. Its file moves into
    the folder of what was cut, its remnants join the shelf, the journal gets a line: all of it or, on any
    error or if the process is killed, nothing of it. Hides of the layout without pieces are not touched.

    Raises InvalidLayout before anything else when the layout breaks a rule; InputError when nothing
    is cut, the layout was cut before, a hide is not there or not the same, or the report is of another.
    """
    assert_layout_valid(layout)
    check_folder(folder)
    laid = [one for one in layout.hides if one.placements]
    if not laid:
        raise InputError("nothing is cut: no piece lies on any hide of the layout")
    one_currency([one.hide for one in laid], reported.currency if reported else None)
    sums = _sums(layout, reported, keep)
    sha256 = layout_digest(layout)
    with locked(folder):
        shelf = look(folder)
        _check_new(shelf, sha256, layout.title)
        gone = [_on_shelf(shelf, one.hide) for one in laid]
        change = _change(layout, shelf, gone, sums, reported, day, sha256)
        decide(folder, change)
        finish(folder)
    joined = tuple(Shelved(file, hide) for file, hide in change.joining)
    return Kept(change.cut, joined, shelf.finished)


def layout_digest(layout: Layout) -> str:
    """SHA-256 of what the layout says, however its file is laid out."""
    return hashlib.sha256(dump_json(layout_to_json(layout)).encode()).hexdigest()


def _sums(layout: Layout, reported: Reported | None, keep: Keep) -> _Sums:
    accounts = account(layout, keep=keep).hides
    if reported is not None:
        check_same(reported, layout, [one.areas for one in accounts])
        accounts = tuple(_as_reported(one, reported) for one in accounts)
    areas = total(one.areas for one in accounts if one.pieces)
    indices = [i for i, laid in enumerate(layout.hides) if laid.placements]
    return _Sums(areas, yields(areas), tuple(tuple(_left(layout, i, keep)) for i in indices))


def _as_reported(mine: HideAccount, reported: Reported) -> HideAccount:
    """The report knew the order, and so which panels a hide's leather was good for."""
    return replace(mine, areas=reported.areas[mine.hide], yields=reported.yields[mine.hide])


def _left(layout: Layout, index: int, keep: Keep) -> list[Leftover]:
    patterns = {panel.name: Pattern(panel) for panel in layout.panels}
    scene, _ = scene_of(layout.hides[index], patterns)
    return leftovers(scene, layout.cutting, remnants(layout, index, keep=keep), keep)


def _check_new(shelf: Shelf, sha256: str, title: str) -> None:
    for cut in shelf.journal:
        if cut.layout_sha256 == sha256:
            again = " (that was broken off then, and is finished now)" if cut == shelf.finished else ""
            raise InputError(
                f'{shelf.folder}: the layout "{title}" was cut on {cut.date}{again}; a layout is cut once'
            )


def _on_shelf(shelf: Shelf, hide: Hide) -> Shelved:
    """The file of a hide of the layout. Raises InputError unless it is there once, and the same."""
    found = [one for one in shelf.hides if one.hide.name == hide.name]
    name = f'{shelf.folder}: hide "{hide.name}"'
    if len(found) > 1:
        raise InputError(f"{name} is here in {' and '.join(one.file for one in found)}; keep one of them")
    if not found:
        raise InputError(f"{name} is not on this shelf{_why_gone(shelf, hide.name)}")
    on_shelf, in_layout = hide_to_json(found[0].hide), hide_to_json(hide)
    differ = [
        key for key in on_shelf | in_layout if on_shelf.get(key, None) != in_layout.get(key, None)
    ]  # fmt: skip
    if differ:
        raise InputError(
            f"{name} ({found[0].file}) is not the one of the layout: {', '.join(differ)} differ"
            f"{'s' if len(differ) == 1 else ''}; lay the order out afresh on the hide as it is"
        )
    return found[0]


def _why_gone(shelf: Shelf, name: str) -> str:
    for cut in shelf.journal:
        if any(hide.hide == name for hide in cut.hides):
            return f': it was cut on {cut.date} for "{cut.title}"'
    if shelf.broken:
        return f"; a file of the shelf cannot be read: {shelf.broken[0]}"
    return "; put its file here, or name the shelf it lies on"


def _change(
    layout: Layout,
    shelf: Shelf,
    gone: Sequence[Shelved],
    sums: _Sums,
    reported: Reported | None,
    day: date,
    sha256: str,
) -> Change:
    names = Names(shelf)
    credits = reported.credits if reported else {}
    joining: list[tuple[str, Hide]] = []
    records: list[NewRemnant] = []
    for one, left in zip(gone, sums.left, strict=True):
        for hide in remnants_of(one.hide, left, credits.get(one.hide.name), names.remnant):
            file = names.file(hide.name)
            joining.append((file, hide))
            records.append(NewRemnant(hide.name, file, one.hide.name, priced_area(hide), _price(hide)))
    leaving = [Leaving(one.file, names.cut_file(one.file), digest(shelf.folder / one.file)) for one in gone]
    laid = [one for one in layout.hides if one.placements]
    cut = Cut(
        date=day,
        title=layout.title,
        layout_sha256=sha256,
        pieces=sum(len(one.placements) for one in laid),
        pieces_net_mm2=sum(_net(layout, one) for one in laid),
        areas=sums.areas,
        yields=sums.yields,
        currency=one_currency(
            [one.hide for one in laid], reported.currency if reported else None
        ),
        cost=reported.cost if reported else {},
        hides=tuple(_cut_hide(one, leaf) for one, leaf in zip(laid, leaving, strict=True)),
        remnants=tuple(records),
    )  # fmt: skip
    return Change(tuple(leaving), tuple(joining), cut)


def _net(layout: Layout, laid: LaidHide) -> float:
    """The leather in the pieces on a hide, mm², without that of their cut-outs."""
    panels = [layout.panel_by_name[placement.panel] for placement in laid.placements]
    return sum(area(panel.outline) - sum(map(area, panel.cutouts)) for panel in panels)


def _cut_hide(laid: LaidHide, leaving: Leaving) -> CutHide:
    hide = laid.hide
    return CutHide(hide.name, leaving.to, len(laid.placements), priced_area(hide), _price(hide))


def _price(hide: Hide) -> Decimal | None:
    """What the whole hide costs, to the cent."""
    return None if hide.price is None else money(cents(whole_price(hide.price, priced_area(hide))))
