"""What of an earlier layout still stands: after a late find, each piece is judged where it lies.

Hides are matched by name, panels by name; what the order says of both now is what counts.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import shapely

from nesting.errors import InputError
from nesting.files.layout import LaidHide, Layout, Placement
from nesting.files.order import Order
from nesting.judge.pairing import pair_faults
from nesting.judge.placing import place_faults
from nesting.judge.scene import Pattern, Scene, scene_of
from nesting.judge.turning import turn_faults
from nesting.planning.demand import is_other, names_of, unit_of, wanted_units


@dataclass(frozen=True)
class Loose:
    """Pieces that have to be laid: a single one, a whole pair, or one of a pair whose mate stays.

    ``members`` are (piece, other), as in ``demand.Unit``. ``home`` is the index of the hide they lay on,
    None when that hide is not in the order; ``was`` their placements there. Both are empty for what the
    earlier layout had not laid.
    """

    line: int
    members: tuple[tuple[str, bool], ...]
    pair: str | None
    home: int | None = None
    was: tuple[Placement, ...] = ()

    @property
    def name(self) -> str:
        """The pair's, or the single piece's."""
        return self.pair or self.members[0][0]


@dataclass
class Standing:
    """Per hide of the order what stays, and what is loose; ``notes`` say what differs from the layout."""

    on: list[list[Placement]]
    loose: list[Loose] = field(default_factory=list)
    dropped: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


class Rules:
    """The judge's rules for pieces of an order, hide by hide."""

    def __init__(self, order: Order) -> None:
        self.order = order
        self.patterns = {panel.name: Pattern(panel) for panel in order.panels}
        self.within = tuple(
            (line.panel.name, line.pair_within_mm) for line in order.lines if line.pair_within_mm is not None
        )

    def scene(self, h: int, placements: Iterable[Placement]) -> Scene:
        """Pieces on hide ``h`` as the judge sees them."""
        return scene_of(LaidHide(self.order.hides[h], tuple(placements)), self.patterns)[0]

    def broken(self, h: int, placements: Sequence[Placement]) -> list[str]:
        """Every rule that the pieces break on hide ``h``; of pairs only those that are whole count."""
        scene = self.scene(h, placements)
        count = Counter(p.pair for p in placements)
        whole = tuple(piece for piece in scene.pieces if count[piece.placement.pair] == 2)
        return [
            *place_faults(scene, self.order.cutting),
            *turn_faults(scene),
            *pair_faults([Scene(scene.hide, whole)], self.within, self.order.mates),
        ]

    def unsound(self, h: int, placements: Sequence[Placement]) -> list[Placement]:
        """The pieces that break a rule each by itself: halves are judged until single ones are left."""
        if not placements or not self.broken(h, placements):
            return []
        if len(placements) == 1:
            return list(placements)
        half = len(placements) // 2
        return self.unsound(h, placements[:half]) + self.unsound(h, placements[half:])

    def crowded(self, h: int, placements: Sequence[Placement]) -> list[Placement]:
        """Of pieces that are sound each by itself, those to lift until the rest break no rule together.

        The one at odds with most others goes first. Of a pair too far apart it is the second.
        """
        if not self.broken(h, placements):
            return []
        shapes = [piece.filled for piece in self.scene(h, placements).pieces]
        apart = self.order.cutting.kerf_mm + self.order.cutting.gap_mm
        near = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=apart)
        candidates = {(int(i), int(j)) for i, j in near.T if i < j} | _mates(placements)
        odds: dict[int, set[int]] = defaultdict(set)
        for i, j in sorted(candidates):
            if self.broken(h, [placements[i], placements[j]]):
                odds[i].add(j)
                odds[j].add(i)
        lifted = []
        while any(odds.values()):
            worst = max(odds, key=lambda i: (len(odds[i]), i))
            for other in odds.pop(worst):
                odds[other].discard(worst)
            lifted.append(placements[worst])
        return lifted


def _mates(placements: Sequence[Placement]) -> set[tuple[int, int]]:
    first: dict[str, int] = {}
    found = set()
    for i, placement in enumerate(placements):
        if placement.pair is not None and first.setdefault(placement.pair, i) != i:
            found.add((first[placement.pair], i))
    return found


def what_stands(order: Order, layout: Layout, rules: Rules) -> Standing:
    """Match a layout to an order and judge each piece where it lies.

    Raises InputError for the layout of another order: no hide in common, a panel laid that is not
    ordered, or one that pairs in another way now.
    """
    _refuse_another(order, layout)
    here = {hide.name: h for h, hide in enumerate(order.hides)}
    lines = {panel.name: i for i, line in enumerate(order.lines) for panel in line.panels}
    standing = Standing([[] for _ in order.hides], notes=_notes(order, layout))
    for laid in layout.hides:
        h = here.get(laid.hide.name)
        stays: list[Placement] = [] if h is None else _sound(rules, h, lines, laid.placements)
        loose = [p for p in laid.placements if p not in stays]
        if h is not None:
            standing.on[h] = stays
        standing.loose += _units(loose, order, lines, h)
    _match_counts(order, layout, standing, lines)
    return standing


def _sound(rules: Rules, h: int, lines: dict[str, int], placements: Sequence[Placement]) -> list[Placement]:
    hide = rules.order.hides[h]
    fit = [p for p in placements if rules.order.lines[lines[p.panel]].takes(hide)]
    unsound = rules.unsound(h, fit)
    sound = [p for p in fit if p not in unsound]
    crowded = rules.crowded(h, sound)
    return [p for p in sound if p not in crowded]


def _units(loose: Sequence[Placement], order: Order, lines: dict[str, int], home: int | None) -> list[Loose]:
    units: dict[str, list[Placement]] = {}
    for placement in loose:
        units.setdefault(placement.pair or placement.piece, []).append(placement)
    return [
        Loose(
            lines[group[0].panel],
            tuple((p.piece, is_other(order.lines[lines[p.panel]], p)) for p in group),
            group[0].pair,
            home,
            tuple(group),
        )
        for group in units.values()
    ]


def _match_counts(order: Order, layout: Layout, standing: Standing, lines: dict[str, int]) -> None:
    """Drop what is ordered no more, the loose first; add what the earlier layout had not laid."""
    asked = Counter(unit.line for unit in wanted_units(order))
    laid: dict[int, list[str]] = {i: [] for i in range(len(order.lines))}
    for p in (p for on in layout.hides for p in on.placements):
        name = p.pair or p.piece
        if name not in laid[lines[p.panel]]:
            laid[lines[p.panel]].append(name)
    loose = Counter(unit.name for unit in standing.loose for _ in unit.members)
    for i, line in enumerate(order.lines):
        if line.fill:
            continue
        surplus = sorted(laid[i], key=lambda name: (-loose[name], -laid[i].index(name)))
        _drop(standing, set(surplus[: max(0, len(laid[i]) - asked[i])]))
        standing.loose += _added(order, i, asked[i] - len(laid[i]), set(laid[i]))


def _drop(standing: Standing, names: set[str]) -> None:
    units = [unit for unit in standing.loose if unit.name in names]
    standing.loose = [unit for unit in standing.loose if unit not in units]
    standing.dropped += [piece for unit in units for piece, _ in unit.members]
    for placements in standing.on:
        gone = [p for p in placements if (p.pair or p.piece) in names]
        standing.dropped += [p.piece for p in gone]
        placements[:] = [p for p in placements if p not in gone]


def _added(order: Order, line: int, count: int, taken: set[str]) -> list[Loose]:
    """Units with names of their own for what is still to be laid."""
    unit = unit_of(order.lines, line, True)
    units: list[Loose] = []
    number = 0
    while len(units) < count:
        number += 1
        pair, pieces = names_of(order.lines, line, number)
        if (pair or pieces[0]) not in taken:
            members = tuple((piece, other) for piece, (_, other) in zip(pieces, unit.members, strict=True))
            units.append(Loose(line, members, pair))
    return units


def _refuse_another(order: Order, layout: Layout) -> None:
    """InputError unless the layout can be one of this order."""
    ordered = {panel.name: panel for panel in order.panels}
    placed = {p.panel for on in layout.hides for p in on.placements}
    other = "it is the layout of another order; lay this one afresh, without --keep"
    if unknown := sorted(placed - ordered.keys()):
        raise InputError(f'the layout has pieces of panel "{unknown[0]}", which is not ordered: {other}')
    names = [on.hide.name for on in layout.hides]
    if not {hide.name for hide in order.hides} & set(names):
        said = ", ".join(f'"{name}"' for name in names[:3]) or "no hide at all"
        raise InputError(f"the layout lies on {said}, and none of the order's hides is there: {other}")
    for panel in layout.panels:
        now = ordered.get(panel.name)
        if panel.name in placed and now is not None and panel.pairing != now.pairing:
            raise InputError(
                f'panel "{panel.name}" was laid with pairing "{panel.pairing}" and has "{now.pairing}" now: '
                "lay the order afresh, without --keep"
            )
    were, are = (dict((*mates, *(pair[::-1] for pair in mates))) for mates in (layout.mates, order.mates))
    if changed := [name for name in sorted(placed) if were.get(name) != are.get(name)]:
        raise InputError(
            f'panel "{changed[0]}" was laid with {_mate_words(were.get(changed[0]))} and has '
            f"{_mate_words(are.get(changed[0]))} now: lay the order afresh, without --keep"
        )
    patterns = {panel.name: Pattern(panel) for panel in layout.panels}
    if found := pair_faults([scene_of(on, patterns)[0] for on in layout.hides], (), layout.mates):
        raise InputError(f"the layout to keep is not whole: {found[0]}")


def _mate_words(mate: str | None) -> str:
    return "no mate" if mate is None else f'the mate "{mate}"'


def _notes(order: Order, layout: Layout) -> list[str]:
    here = {hide.name for hide in order.hides}
    notes = [
        f'hide "{on.hide.name}" is not in the order any more: its {len(on.placements)} '
        f"piece{'s' if len(on.placements) != 1 else ''} are laid elsewhere"
        for on in layout.hides
        if on.hide.name not in here
    ]
    ordered = {panel.name: panel for panel in order.panels}
    return notes + [
        f'panel "{panel.name}" is not as it was laid: its pieces are judged as it is now'
        for panel in layout.panels
        if panel.name in ordered and ordered[panel.name] != panel
    ]
