"""Measures to panels: every panel is drawn from its centre line outward and read back strictly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from nesting.drafting.checks import check_panel, thin_leather
from nesting.drafting.edges import round_off, set_in
from nesting.drafting.fit import hole_mm
from nesting.drafting.lacing import lace_mm
from nesting.drafting.rows import buckle_row, edge_width, mark_row, round_row, side_rows
from nesting.drafting.shapes import Blank, blank
from nesting.errors import InputError
from nesting.files.measures import Disc, Fit, LegPanel, Measures, Shape, Strap, Wrap
from nesting.files.panel import Line, Panel, Punch
from nesting.files.panel_file import panel_from_json, panel_to_json
from nesting.rings import Point, Ring
from nesting.units import format_both

UNLIKE_LEGS = (
    "the two legs differ, so these are two panels: order them in one line, one as its panel and the other as "
    "its mate, with pairs = N; so both of a pair come from one hide, near each other, and are costed together"
)


@dataclass(frozen=True)
class Draft:
    """A drafted panel with what it was drawn from.

    ``rows`` are the holes on the left and on the right, ``lace_mm`` the lace for a criss-cross lacing or
    None, ``notes`` say what to look at again, one clause each.
    """

    panel: Panel
    measures: Measures
    shape: Shape
    plan: Blank
    rows: tuple[tuple[Punch, ...], tuple[Punch, ...]]
    lace_mm: float | None
    notes: tuple[str, ...]

    @property
    def fit(self) -> Fit | None:
        """Ease, what is worn underneath and the gap, where the shape has them."""
        return self.shape.fit if isinstance(self.shape, Wrap | LegPanel) else None

    def _noting(self, words: str) -> Draft:
        return replace(self, notes=(*self.notes, words))


def draft(measures: Measures) -> tuple[Draft, ...]:
    """The panel of ``measures``; two, of the left and the right leg, where these differ.

    Raises InputError where the measures make no panel: each message says which one and the mend.
    """
    if measures.right is None:
        return (_draft(measures, measures.shape),)
    left, right = (replace(measures, name=f"{measures.name}-{side}") for side in ("left", "right"))
    both = _draft(left, left.shape), _draft(right, measures.right)
    return both[0]._noting(UNLIKE_LEGS), both[1]._noting(UNLIKE_LEGS)


def _draft(measures: Measures, shape: Shape) -> Draft:
    plan = blank(shape, measures.radius_mm)
    outline = _outline(plan)
    rows = _rows(measures, shape, plan)
    lace = _lace(measures, shape, rows)
    panel = Panel(
        name=measures.name,
        outline=outline,
        punches=(*rows[0], *rows[1], *_buckle(measures, shape)),
        marks=_marks(measures, shape, plan),
        lines=_lines(measures, plan),
        pairing=measures.pairing,
        stretch=measures.stretch,
        turns_deg=measures.turns_deg,
        accepts=measures.accepts,
        lace_mm=lace or 0.0,
        centre_line=((0.0, 0.0), (0.0, plan.height)),
    )
    check_panel(panel)
    # The strict reader is code of its own: what it would refuse must not leave here.
    panel_from_json(panel_to_json(panel), panel.name)
    notes = (*_lace_notes(measures), *thin_leather(panel))
    return Draft(panel, measures, shape, plan, rows, lace, notes)


def _outline(plan: Blank) -> Ring:
    ring = round_off(plan.ring, plan.radii)
    if ring is None:
        radius = max(plan.radii)
        most = _largest(radius, lambda r: round_off(plan.ring, tuple(min(r, own) for own in plan.radii)))
        raise InputError(
            f"corners rounded to {format_both(radius)} find no room; at most {format_both(most)} would fit"
        )
    return ring


def _lines(measures: Measures, plan: Blank) -> tuple[Line, ...]:
    depth = measures.groove_mm
    if depth is None:
        return ()
    ring = _groove(plan, depth)
    if ring is None:
        most = _largest(depth, lambda d: _groove(plan, d))
        raise InputError(
            f"a groove {format_both(depth)} from the edge is wider than the panel has room for; "
            f"less than {format_both(most)} would fit"
        )
    return (Line("groove", (*ring, (*ring[0][:2], 0.0))),)


def _groove(plan: Blank, depth: float) -> Ring | None:
    """All around, parallel to the edge: rounded corners keep their centres, sharp ones stay sharp."""
    inner = set_in(plan.ring, (depth,) * len(plan.ring))
    return None if inner is None else round_off(inner, tuple(max(0.0, own - depth) for own in plan.radii))


def _largest(refused: float, made: Callable[[float], Ring | None]) -> float:
    """The largest figure below ``refused`` that can still be drawn, found by halving."""
    low, high = 0.0, refused
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if made(middle) is not None else (low, middle)
    return low


def _rows(measures: Measures, shape: Shape, plan: Blank) -> tuple[tuple[Punch, ...], tuple[Punch, ...]]:
    holes = measures.holes
    if holes is None:
        return (), ()
    if isinstance(shape, Disc):
        return round_row(shape.diameter_mm, holes), ()
    return side_rows(plan, holes)


def _buckle(measures: Measures, shape: Shape) -> tuple[Punch, ...]:
    holes = measures.buckle_holes
    return buckle_row(shape.length_mm, holes) if holes and isinstance(shape, Strap) else ()


def _marks(measures: Measures, shape: Shape, plan: Blank) -> tuple[Point, ...]:
    if measures.marks_top and edge_width(plan, top=True) == 0.0:
        raise InputError("a pointed tip has no upper edge to set marks along; leave the marks at the top out")
    top = mark_row(plan, measures.marks_top, top=True) if measures.marks_top else ()
    bottom = mark_row(plan, measures.marks_bottom, top=False) if measures.marks_bottom else ()
    return (*top, *bottom)


def _lace(
    measures: Measures, shape: Shape, rows: tuple[tuple[Punch, ...], tuple[Punch, ...]]
) -> float | None:
    holes, lacing = measures.holes, measures.lacing
    if holes is None or lacing is None or not isinstance(shape, Wrap | LegPanel):
        return None
    return lace_mm(*rows, holes.inset_mm, shape.fit.gap_mm, lacing)


def _lace_notes(measures: Measures) -> list[str]:
    lace = measures.lacing.lace_mm if measures.lacing else None
    if lace is None or measures.holes is None or lace <= hole_mm(measures.holes.size):
        return []
    holes = format_both(hole_mm(measures.holes.size))
    return [f"a lace of {format_both(lace)} is wider than the holes of {holes}: it passes only folded"]
