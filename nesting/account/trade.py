"""The trade's figures for waste and for the real price of a cuttable foot.

Sources stand by each function; TRADE figures that are arithmetic on them are marked so.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from nesting.errors import InputError
from nesting.rings import Point

ISO_17551_LIMITS = (10.0, 20.0, 40.0, 70.0)
"""Upper limits in % of damaged area for grades I to IV; beyond is V (ISO 17551:2018, pickled sheep)."""


def cutting_value_pct(leather_area: float, defect_area: float) -> float:
    """100 - 100 × defects / leather, both areas in one unit (*Cutting Technology II*).

    Raises InputError unless 0 ≤ defects ≤ leather and leather > 0.
    """
    if not (leather_area > 0.0 and 0.0 <= defect_area <= leather_area):
        raise InputError("the defects' area must lie between zero and the leather's; check both")
    return 100.0 - 100.0 * defect_area / leather_area


def damage_grade(damage_pct: float) -> str:
    """Grade I to V by the share of area damaged, in % (ISO 17551:2018, pickled sheep skins).

    The standard's classes are whole per cents (≤ 10, 11-20, 21-40, 41-70, > 70); what lies between two
    counts to the worse. Raises InputError outside 0 to 100.
    """
    if not 0.0 <= damage_pct <= 100.0:
        raise InputError("a share of area lies between 0 and 100 %")
    grade = sum(damage_pct > limit for limit in ISO_17551_LIMITS)
    return ("I", "II", "III", "IV", "V")[grade]


def waste_of_gross(waste_of_net: float) -> float:
    """Waste as a share of what is bought, from waste as a share of what is used: 1/3 is 1/4 of gross."""
    _positive("waste", 1.0 + waste_of_net)
    return waste_of_net / (1.0 + waste_of_net)


def net_factor(measured_area: float, invoiced_area: float, cuttability: float) -> float:
    """G = E × F: E measured over invoiced area, F the share of it that can be cut (teaching text)."""
    for what, value in (("invoiced area", invoiced_area), ("measured area", measured_area)):
        _positive(what, value)
    _positive("cuttability", cuttability)
    return measured_area / invoiced_area * cuttability


def net_price(price: Decimal, factor: float) -> Decimal:
    """The price of a cuttable foot, to the cent: the invoiced price over G (teaching text)."""
    _positive("net factor", factor)
    exact = Fraction(price) / Fraction(str(factor))
    return Decimal(round(exact * 100)).scaleb(-2)


def interlock_yield(pattern_area: float, u: Point, v: Point) -> float:
    """Share of a repeat cell that its two patterns fill: 2 × area / |u × v|, u and v the repeat vectors.

    Parallelogram method (Russ & Small, 1922): the cell holds one pair and the *first waste*; the edges
    of the hide add the *second waste*.
    """
    cell = abs(u[0] * v[1] - u[1] * v[0])
    _positive("repeat cell", cell)
    return 2.0 * pattern_area / cell


def gross_area(net_area: float, interlock: float, edges: float, factor: float = 1.0) -> float:
    """Leather to buy for ``net_area`` of patterns: after first waste, second waste and the net factor."""
    for what, value in (("interlock", interlock), ("edge yield", edges), ("net factor", factor)):
        _positive(what, value)
    return net_area / (interlock * edges * factor)


def _positive(what: str, value: float) -> None:
    if not value > 0.0:
        raise InputError(f"the {what} must be more than zero, not {value:g}")
