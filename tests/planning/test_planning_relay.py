"""A late find: what is still valid keeps its place to the last bit, and few others move. All judged here."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import numpy as np
import pytest
from random_orders import blob, moved, random_order
from small_orders import disc, laid, order_of, placements, rectangle

from nesting.errors import InputError
from nesting.files.hide import Flaw, Hide
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Order, OrderLine
from nesting.files.panel import Panel, Stretch
from nesting.judge import faults
from nesting.judge.shapes import laid as where_laid
from nesting.judge.shapes import polygon
from nesting.packing.stop import never
from nesting.planning.relay import Relaid, Relay
from nesting.rings import Pose

SHEET = Hide("sheet", rectangle(420, 300))
TILE = Panel("tile", rectangle(80, 60))
WING = Panel("wing", ((0, 0, 0), (70, 0, 0), (55, 40, 0.3), (5, 25, 0)), pairing="mirrored")


def relaid(order: Order, layout: Layout, attempts: int = 40, seed: int = 1) -> Relaid:
    """What a late find comes to; what every one of them has to keep is checked here."""
    relay = Relay(order, layout, seed, never)
    for _ in islice(relay.run(), attempts):
        pass
    after = relay.result()
    assert faults(after.layout) == []
    before = {p.piece: (on.hide.name, p) for on in layout.hides for p in on.placements}
    now = {p.piece: (on.hide.name, p) for on in after.layout.hides for p in on.placements}
    assert set(after.stayed) == {name for name in before if now.get(name) == before[name]}
    assert set(after.moved) == {name for name in before if name in now and now[name] != before[name]}
    assert set(after.added) == now.keys() - before.keys()
    assert set(after.lost) | set(after.dropped) == before.keys() - now.keys()
    return after


def marked(order: Order, *flaws: Flaw, hide: int = 0) -> Order:
    """The order with further flaws on one of its hides."""
    hides = list(order.hides)
    hides[hide] = replace(hides[hide], flaws=(*hides[hide].flaws, *flaws))
    return replace(order, hides=tuple(hides))


def under(layout: Layout, piece: str, radius: float = 4.0) -> Flaw:
    """A hole in the middle of a piece."""
    p = next(p for p in placements(layout) if p.piece == piece)
    shape = where_laid(polygon(layout.panel_by_name[p.panel].outline), p.pose)
    middle = shape.representative_point()
    return Flaw("nail", "hole", disc(radius, middle.x, middle.y))


TILES = order_of(SHEET, OrderLine(TILE, pieces=12))
TWELVE = laid(TILES, 4)
WINGS = order_of(SHEET, OrderLine(WING, pairs=6, pair_within_mm=150))
SIX = laid(WINGS, 4)


def test_nothing_found_moves_nothing() -> None:
    after = relaid(TILES, TWELVE)
    assert len(after.stayed) == 12
    assert after.layout.hides == TWELVE.hides


def test_a_flaw_in_waste_moves_none() -> None:
    free = polygon(SHEET.outline)
    for p in placements(TWELVE):
        free = free.difference(where_laid(polygon(TILE.outline), p.pose).buffer(3.5))
    middle = free.representative_point()
    after = relaid(marked(TILES, Flaw("vein", "weak", disc(0.3, middle.x, middle.y))), TWELVE)
    assert len(after.stayed) == 12


def test_flaws_that_do_not_matter_to_a_panel_move_none() -> None:
    order = order_of(SHEET, OrderLine(replace(TILE, accepts=("blemish",)), pieces=12))
    scar = Flaw("scar", "blemish", rectangle(400, 200, 10, 10))
    after = relaid(marked(order, scar), laid(order, 4))
    assert len(after.stayed) == 12


@pytest.mark.parametrize("piece", ["tile-01", "tile-06", "tile-12"])
def test_a_flaw_under_one_piece_moves_that_one(piece: str) -> None:
    """There is room for 16 tiles, so one of 12 goes elsewhere and the others lie as they lay."""
    order = marked(TILES, under(TWELVE, piece))
    after = relaid(order, TWELVE)
    assert after.moved == (piece,)
    assert len(after.stayed) == 11


def test_neighbours_move_where_there_is_no_other_way() -> None:
    """On a strip of tiles shoulder to shoulder the one over the flaw pushes all others along.

    Where that cannot help, because the flaw lies amid them, the others stay.
    """
    strip = Hide("strip", rectangle(12 + 5 * 80 + 4 * 0.5 + 20, 12 + 66))
    order = order_of(strip, OrderLine(replace(TILE, turns_deg=(0.0,)), pieces=5))
    layout = laid(order, 20)
    assert len(placements(layout)) == 5
    row = sorted((p.pose.at[0], p.piece) for p in placements(layout))
    free_left, free_right = row[0][0] - 6, strip.outline[1][0] - 6 - row[-1][0] - 80
    assert min(free_left, free_right) < 1 < 10 < max(free_left, free_right)
    # Weak leather at the end where they are packed: with its margin it takes 5 mm, so all shift.
    weak = rectangle(row[0][0] + 2, 78) if free_right > 1 else rectangle(40, 78, row[-1][0] + 80 - 2)
    after = relaid(marked(order, Flaw("thin end", "weak", weak)), layout)
    assert after.lost == ()
    assert len(after.moved) == 5
    one = relaid(marked(order, under(layout, row[2][1], 0.5)), layout)
    assert one.lost != ()
    assert len(one.stayed) == 4


def test_tight_strips_move_no_more_than_must() -> None:
    """Two rows of tiles, one of them with room for a further one: all that a flaw in the full row asks of
    the others is at most to shift along, and none of the other row moves.

    Six lie in the lower row with 1 mm to spare, five in the upper one with the place of a sixth empty. One
    of the lower row has to leave it, so only that one moves.
    """
    hide = Hide("two rows", rectangle(12 + 6 * 80 + 5 * 0.5 + 1, 12 + 2 * 60 + 0.5 + 1))
    order = order_of(hide, OrderLine(replace(TILE, turns_deg=(0.0,)), pieces=11))
    rows = [(6.1 + 80.6 * k, 6.1) for k in range(6)] + [(6.1 + 80.6 * k, 66.9) for k in range(5)]
    lain = tuple(
        Placement(f"tile-{k:02d}", "tile", Pose(False, 0.0, at)) for k, at in enumerate(rows, start=1)
    )
    layout = replace(laid(order, 1), hides=(LaidHide(hide, lain),), unplaced=())
    assert faults(layout) == []
    for number in (1, 3, 6):
        after = relaid(marked(order, under(layout, f"tile-{number:02d}", 0.5)), layout, attempts=5)
        assert after.moved == (f"tile-{number:02d}",)
    # A flaw where the empty place was as well: the five of the upper row need not move for nothing.
    full = marked(order, under(layout, "tile-03", 0.5), Flaw("hole", "hole", disc(1.0, 450.0, 100.0)))
    after = relaid(full, layout, attempts=12)
    assert (len(after.stayed), after.lost) == (10, ("tile-03",))


def test_neighbours_that_had_to_move_go_back() -> None:
    """In a pit of 4 by 4 with one place empty in the corner opposite, a chain of few moves is found.

    The tile over the flaw goes to the empty place at once: nothing else moves, though all could.
    """
    side = 12 + 4 * 60.6 + 0.4
    square = Panel("square", rectangle(60, 60), turns_deg=(0.0,))
    hide = Hide("pit", rectangle(side, side))
    order = order_of(hide, OrderLine(square, pieces=15))
    at = [(6.1 + 60.6 * (k % 4), 6.1 + 60.6 * (k // 4)) for k in range(15)]
    lain = tuple(
        Placement(f"square-{k:02d}", "square", Pose(False, 0.0, xy)) for k, xy in enumerate(at, start=1)
    )
    layout = replace(laid(order, 1), hides=(LaidHide(hide, lain),), unplaced=())
    relay = Relay(marked(order, under(layout, "square-01", 0.5)), layout, 1, never)
    steps = relay.run()
    next(steps)
    assert relay.least()
    assert relay.result().moved == ("square-01",)
    # Pieces that have moved for nothing are sent back where they stood.
    (on,) = relay.start.on
    relay.on[0] = [replace(p, pose=Pose(False, 0.0, (p.pose.at[0] + 0.01, p.pose.at[1]))) for p in on]
    relay.stood.clear()
    relay.best = replace(relay.best, stood=frozenset())
    for _ in relay._send_back(0):
        pass
    assert relay.on[0] == list(on)
    assert relay.stood == relay.start.stood


def test_one_of_a_pair_stays_where_the_other_fits_near_it() -> None:
    order = marked(WINGS, under(SIX, "wing-02-R"))
    after = relaid(order, SIX)
    assert "wing-02-R" in after.moved
    assert len(after.moved) <= 2
    assert after.lost == ()


def test_a_pair_without_room_goes_as_a_whole() -> None:
    """A hide with room for one pair, and most of it found useless: neither of the pair is left alone."""
    order = order_of(Hide("offcut", rectangle(160, 70)), OrderLine(WING, pairs=1))
    layout = laid(order, 20)
    assert len(placements(layout)) == 2
    after = relaid(marked(order, under(layout, "wing-01-R", 20.0)), layout)
    assert after.lost == ("wing-01-L", "wing-01-R")
    assert [(u.panel, u.pieces) for u in after.layout.unplaced] == [("wing", 2)]


def test_stretch_is_kept() -> None:
    spine = ((0.0, 0.0), (1.0, 0.0))
    order = order_of(
        replace(SHEET, spine=spine), OrderLine(replace(TILE, stretch=Stretch(0.0, 5.0)), pieces=9)
    )
    layout = laid(order, 3)
    after = relaid(marked(order, under(layout, "tile-05")), layout)
    assert after.moved == ("tile-05",)


def test_a_hide_that_is_gone() -> None:
    hides = (SHEET, replace(SHEET, name="second"))
    order = order_of(hides, OrderLine(TILE, pieces=24))
    layout = laid(order, 3)
    assert len(layout.hides) == 2
    after = relaid(replace(order, hides=(hides[0], replace(SHEET, name="third"))), layout)
    assert set(after.stayed) == {p.piece for on in layout.hides for p in on.placements if on.hide == SHEET}
    assert after.lost == ()
    assert {on.hide.name for on in after.layout.hides} == {"sheet", "third"}
    assert any('hide "second" is not in the order any more' in note for note in after.notes)


def test_a_hide_that_turned_out_smaller() -> None:
    order = replace(TILES, hides=(replace(SHEET, outline=rectangle(420, 280)),))
    after = relaid(order, TWELVE)
    assert len(after.stayed) >= 8
    assert after.lost == ()


def test_a_panel_that_grew_is_judged_as_it_is_now() -> None:
    order = order_of(SHEET, OrderLine(Panel("tile", rectangle(84, 60)), pieces=12))
    after = relaid(order, TWELVE)
    assert after.lost == ()
    assert after.notes == ('panel "tile" is not as it was laid: its pieces are judged as it is now',)
    assert after.layout.panels == (order.lines[0].panel,)


def test_more_and_fewer_ordered() -> None:
    more = relaid(order_of(SHEET, OrderLine(TILE, pieces=14)), TWELVE)
    assert (len(more.stayed), more.added) == (12, ("tile-13", "tile-14"))
    fewer = order_of(SHEET, OrderLine(TILE, pieces=10))
    after = relaid(marked(fewer, under(TWELVE, "tile-03")), TWELVE)
    assert len(after.stayed) == 10
    assert set(after.dropped) == {"tile-03", "tile-12"}


def test_the_same_seed_moves_the_same() -> None:
    order = marked(WINGS, under(SIX, "wing-02-R"), under(SIX, "wing-04-L"))
    assert relaid(order, SIX, seed=3) == relaid(order, SIX, seed=3)


@pytest.mark.parametrize("change", ["hides", "panel", "pairing"])
def test_the_layout_of_another_order_is_refused(change: str) -> None:
    other = {
        "hides": replace(TILES, hides=(replace(SHEET, name="bend"),)),
        "panel": order_of(SHEET, OrderLine(WING, pairs=1)),
        "pairing": order_of(SHEET, OrderLine(replace(TILE, pairing="alike"), pairs=6)),
    }[change]
    said = {
        "hides": 'lies on "sheet", and none of the order\'s hides is there',
        "panel": 'has pieces of panel "tile", which is not ordered',
        "pairing": 'was laid with pairing "none" and has "alike" now',
    }[change]
    with pytest.raises(InputError, match=said):
        Relay(other, TWELVE, 1, never)


@pytest.mark.parametrize("seed", range(6))
def test_random_orders_with_random_finds(seed: int) -> None:
    """Whatever is ordered and found: valid, whole pairs, and nothing sound by itself loses its place unasked.

    A piece may move only where pieces had to be laid.
    """
    order = random_order(seed, most_lines=1)
    layout = laid(order, 3)
    chance = np.random.default_rng(seed + 1000)
    flaws = [
        Flaw("late", "weak", moved(blob(chance, 14.0), *map(float, chance.uniform(-90, 90, 2))))
        for _ in range(2)
    ]
    now = marked(order, *flaws)
    relay = Relay(now, layout, seed, never)
    loose = {piece for unit in relay.left if unit.was for piece, _ in unit.members}
    after = relaid(now, layout, attempts=8, seed=seed)
    kept = {p.piece for p in placements(layout)} - loose
    if not loose:
        assert set(after.stayed) == kept
    assert set(after.lost) <= loose | _mates_of(layout, loose)


def _mates_of(layout: Layout, pieces: set[str]) -> set[str]:
    pairs = {p.pair for p in placements(layout) if p.piece in pieces and p.pair is not None}
    return {p.piece for p in placements(layout) if p.pair in pairs}


def test_when_time_is_up_free_room_is_still_used() -> None:
    """Another hide of the order is empty: nothing is lost, however little time there is."""
    hides = (SHEET, replace(SHEET, name="spare"))
    order = order_of(hides, OrderLine(TILE, pieces=12))
    (on,) = TWELVE.hides
    burnt = marked(order, Flaw("burn", "hole", rectangle(422, 302, -1, -1)))
    relay = Relay(burnt, TWELVE, 1, lambda: True)
    for _ in relay.run():
        pass
    after = relay.result()
    assert after.lost == ()
    assert {h.hide.name: len(h.placements) for h in after.layout.hides} == {"spare": len(on.placements)}
