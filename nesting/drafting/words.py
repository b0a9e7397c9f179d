"""What a drafted panel's picture says in words."""

from __future__ import annotations

from nesting.drafting.draft import Draft
from nesting.drafting.fit import added_mm, hole_mm
from nesting.files.measures import Disc, Fit, LegPanel, Rectangle, Shape, Strap, Wrap
from nesting.judge.cautions import PROTECTIVE
from nesting.output.wording import sentence
from nesting.rings import area
from nesting.units import format_area, format_both, format_length

PAIRINGS = {"mirrored": "mirrored pair", "alike": "alike pair", "none": "single piece"}
UNLIKE = "one of a pair whose legs differ"
CAUTION = "Try the pattern on in paper or cloth before leather is cut: common practice, no source."


def what_it_is(one: Draft) -> str:
    """``leg panel for the left leg, mirrored pair``."""
    pairing = UNLIKE if one.measures.right is not None else PAIRINGS[one.panel.pairing]
    return f"{_shape_words(one.shape)}, {pairing}"


def _shape_words(shape: Shape) -> str:
    match shape:
        case Wrap():
            return "tapered wrap"
        case LegPanel():
            return f"leg panel for the {shape.leg} leg, seen from the grain side"
        case Strap():
            return f"strap with a {shape.tip} tip"
        case Rectangle():
            return "rectangle"
        case Disc():
            return "disc"


def figures(one: Draft) -> list[str]:
    """How each width came about, the holes, the lace and the area: one line each."""
    lines = []
    if one.fit is not None:
        lines += [_width(where, girth, one.fit) for where, girth in _girths(one.shape)]
    lines += _barrel(one)
    if one.lace_mm is not None and one.measures.lacing is not None:
        tails = format_both(one.measures.lacing.tail_mm)
        per_side = len(one.rows[0])
        lace = one.measures.lacing.lace_mm
        what = f"Lace of {format_both(lace)}" if lace else "Lace"
        leather = one.measures.lacing.leather_mm
        through = f" of {format_both(leather)} of leather" if leather else ""
        lines.append(
            f"{what}: {format_both(one.lace_mm)} long, criss-cross through {per_side} holes a side{through}, "
            f"two tails of {tails}"
        )
    return [*lines, f"Area: {format_area(area(one.panel.outline))}"]


def _barrel(one: Draft) -> list[str]:
    """The holes, where they were sized for an eyelet."""
    row = one.measures.holes or one.measures.buckle_holes
    if row is None or row.size.barrel_mm is None:
        return []
    hole, barrel = format_both(hole_mm(row.size)), format_both(row.size.barrel_mm)
    return [
        f"Holes: {len(one.panel.punches)} of {hole}, the first punch in half millimetres that takes "
        f"a barrel of {barrel}"
    ]


def _girths(shape: Shape) -> list[tuple[str, float]]:
    if isinstance(shape, Wrap):
        return [("Lower edge", shape.lower_mm), ("Upper edge", shape.upper_mm)]
    if isinstance(shape, LegPanel):
        found = [("Ankle", shape.ankle_mm), ("Calf", shape.calf_mm)]
        return found if shape.calf_height_mm == shape.height_mm else [*found, ("Upper edge", shape.top_mm)]
    return []


def _width(where: str, girth: float, fit: Fit) -> str:
    parts = [f"{where}: {format_both(girth)} around"]
    if fit.ease_mm:
        parts.append(f"+ {format_both(fit.ease_mm)} of ease")
    if fit.worn_mm:
        layer = format_both(added_mm(fit) - fit.ease_mm)
        parts.append(f"+ {layer} for {format_length(fit.worn_mm)} worn underneath")
    if fit.gap_mm:
        parts.append(f"− {format_both(fit.gap_mm)} left open")
    return " ".join(parts) + f" = {format_both(girth + added_mm(fit) - fit.gap_mm)}"


def cautions(one: Draft) -> list[str]:
    """What to know before leather that is worn is cut, as sentences."""
    return [CAUTION, sentence(PROTECTIVE)] if isinstance(one.shape, Wrap | LegPanel) else []


def small_print(one: Draft) -> list[str]:
    """Notes and cautions, as sentences."""
    notes = (*(taken.what for taken in one.measures.taken), *one.notes)
    return [*map(sentence, notes), *cautions(one)]


def hole_words(one: Draft) -> tuple[str, ...]:
    """How many holes, how large and where: lines of a label."""
    holes = one.measures.holes
    if holes is None:
        return ()
    count = f"{holes.count} {'hole' if holes.count == 1 else 'holes'}"
    size = f"of {format_both(hole_mm(holes.size))}"
    inset = f"{format_both(holes.inset_mm)} from the"
    if isinstance(one.shape, Disc):
        return f"{count} {size}", f"{inset} edge"
    lines = [f"{count} a side, {size}", f"{inset} side"]
    if holes.count > 1:
        lines.append(f"{format_both(holes.ends_mm)} from the ends")
    return tuple(lines)
