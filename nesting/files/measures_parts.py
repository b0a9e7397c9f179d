"""The parts of measures, each from its fields; what is not said is taken as usual, and told."""

from __future__ import annotations

from typing import cast

from nesting.files.measures import (
    BuckleHoles,
    Disc,
    Fit,
    Holes,
    HoleSize,
    Lacing,
    LegPanel,
    Marks,
    Rectangle,
    Shape,
    Side,
    Strap,
    Tip,
    Wrap,
)
from nesting.files.measures_fields import REQUIRED
from nesting.files.measures_typed import Fields
from nesting.files.panel import Stretch
from nesting.units import oz_to_mm, parse_length, parse_weight

USUAL_INSET_MM = 9.525
"""3/8 in: common practice, no source."""
USUAL_TAIL_MM = 254.0
"""10 in at each end, enough to tie a bow: common practice, no source."""
USUAL_FRONT = 1 / 3
"""The calf lies at the back of the leg, so that the front half grows less: common practice, no source."""
USUAL_CALF_HEIGHT = 2 / 3
"""Where the calf is thickest, as a share of the height to the knee: common practice, no source."""


def shape_of(fields: Fields) -> Shape:
    """The shape with its own measures. Raises InputError on one that is missing or zero."""
    name = fields.get("shape")
    if name == "leg":
        return leg_of(fields)
    own = fields.sizes(REQUIRED[name])
    match name:
        case "wrap":
            return Wrap(own[0], own[1], own[2], _fit(fields))
        case "strap":
            return Strap(own[0], own[1], cast(Tip, fields.get("tip") or "square"))
        case "rectangle":
            return Rectangle(own[0], own[1])
        case _:
            return Disc(own[0])


def _fit(fields: Fields) -> Fit:
    worn = fields.get("worn") or []
    layers = [worn] if isinstance(worn, str) else worn
    thickness = sum(fields.typed("worn", layer, parse_length) for layer in layers)
    return Fit(fields.length("ease") or 0.0, thickness, fields.length("gap") or 0.0)


def leg_of(fields: Fields) -> LegPanel:
    """A leg panel. Raises InputError on a measure that is missing or zero."""
    ankle, calf, height = fields.sizes(REQUIRED["leg"])
    calf_height, top, front = fields.size("calf_height"), fields.size("top"), fields.get("front")
    if calf_height is None:
        calf_height = height if top is None else USUAL_CALF_HEIGHT * height
        what = "at the upper edge" if top is None else "two thirds up, as is usual"
        fields.take(f"the calf was taken to lie {what}", "calf_height")
    if front is None:
        front = USUAL_FRONT
        what = "a third of the growth from ankle to calf was laid on the front half, as is usual"
        fields.take(what, "front", " (0.5 is symmetrical)")
    leg = cast(Side, fields.get("leg") or "left")
    return LegPanel(ankle, calf, height, calf_height, top or calf, front, leg, _fit(fields))


def right_leg(fields: Fields) -> LegPanel | None:
    """The right leg where any measure of it was given apart; the rest of it is as on the left."""
    own = fields.get("right")
    if not own:
        return None
    if "leg" in fields:
        raise fields.fault("leg", "with measures of the right leg both are drafted; leave it out")
    values = {**fields.values, **own, "leg": "right"}
    return leg_of(Fields(values, fields.file, fields.options, frozenset(own), fields.taken))


def holes_of(fields: Fields) -> Holes | None:
    """The rows along the sides."""
    count = fields.get("holes")
    if count is None:
        return None
    size = _hole_size(fields, "holes")
    inset, ends = fields.size("hole_inset"), fields.size("hole_ends")
    if inset is None:
        inset = USUAL_INSET_MM
        fields.take("the holes were set in by 3/8 in (9.5 mm), as is usual", "hole_inset")
    return Holes(count, inset, inset if ends is None else ends, size)


def buckle_holes_of(fields: Fields) -> BuckleHoles | None:
    """The holes on a strap's centre line."""
    count = fields.get("buckle_holes")
    if count is None:
        return None
    size = _hole_size(fields, "buckle_holes")
    start, spacing = fields.size("buckle_start"), fields.size("buckle_spacing")
    if start is None or (spacing is None and count > 1):
        missing = fields.call("buckle_start" if start is None else "buckle_spacing")
        raise fields.fault("buckle_holes", f"where do they lie? Give {missing} as well")
    return BuckleHoles(count, spacing or 0.0, start, size)


def _hole_size(fields: Fields, key: str) -> HoleSize:
    size = HoleSize(fields.size("hole"), fields.size("barrel"))
    if (size.hole_mm is None) == (size.barrel_mm is None):
        hole, barrel = fields.call("hole"), fields.call("barrel")
        raise fields.fault(key, f"how large is a hole? Give {hole}, or {barrel} of the eyelet, and not both")
    return size


def marks_of(fields: Fields, edge: str, holes: Holes | None) -> Marks | None:
    """The row of marks along the ``top`` or ``bottom`` edge."""
    count = fields.get(f"marks_{edge}")
    if count is None:
        return None
    inset = fields.size("mark_inset")
    if inset is None:
        inset = holes.inset_mm if holes else USUAL_INSET_MM
        like = "as far as the holes" if holes else "by 3/8 in (9.5 mm), as is usual"
        fields.take(f"the marks were set in {like}", "mark_inset")
    return Marks(count, fields.size(f"spread_{edge}"), inset)


def lacing_of(fields: Fields) -> Lacing | None:
    """Criss-cross lacing of a shape that is worn, where its sides have holes for it."""
    if fields.get("shape") not in ("wrap", "leg") or (fields.get("holes") or 0) < 2:
        for key in ("lace", "tails", "leather"):
            if key in fields:
                raise fields.fault(key, "criss-cross lacing takes at least two holes a side")
        return None
    tail, leather = fields.length("tails"), fields.get("leather")
    if tail is None:
        tail = USUAL_TAIL_MM
        fields.take("the lace was given tails of 10 in (254 mm), enough for a bow", "tails")
    thickness = None if leather is None else oz_to_mm(sum(fields.typed("leather", leather, parse_weight)) / 2)
    return Lacing(tail, fields.size("lace"), thickness)


def stretch_of(fields: Fields) -> Stretch | None:
    """The direction to lie along the backbone; straps lie along it unless told otherwise."""
    given = fields.get("stretch")
    if given is not None:
        return Stretch(given["angle_deg"], given["tolerance_deg"])
    if fields.get("shape") != "strap":
        return None
    what = "the strap is to lie along the backbone, within 15 degrees, as straps do"
    fields.take(what, "stretch", " (a tolerance of 90 degrees allows any direction)")
    return Stretch(90.0, 15.0)
