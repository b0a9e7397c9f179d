"""The trade's worked figures, each against its source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from nesting.account.trade import (
    cutting_value_pct,
    damage_grade,
    gross_area,
    interlock_yield,
    net_factor,
    net_price,
    waste_of_gross,
)
from nesting.errors import InputError
from nesting.rings import area


def test_cutting_value() -> None:
    """*Cutting Technology II* prints 95.5 for 5 dm² of defects in 110 dm²; exactly it is 95.4545."""
    assert cutting_value_pct(110, 5) == pytest.approx(95.4545, abs=5e-5)
    assert round(cutting_value_pct(110, 5), 1) == 95.5
    for wrong in ((0, 0), (-1, 0), (10, 11), (10, -1), (float("nan"), 1), (10, float("nan"))):
        with pytest.raises(InputError, match="defects"):
            cutting_value_pct(*wrong)


@pytest.mark.parametrize(
    ("share", "grade"),
    [
        *((0, "I"), (10, "I"), (10.1, "II"), (11, "II"), (20, "II"), (21, "III")),
        *((40, "III"), (41, "IV"), (70, "IV"), (70.1, "V"), (100, "V")),
    ],
)
def test_damage_grades(share: float, grade: str) -> None:
    """ISO 17551:2018: I ≤ 10, II 11-20, III 21-40, IV 41-70, V > 70 % of the area."""
    assert damage_grade(share) == grade


def test_damage_is_a_share() -> None:
    for wrong in (-1.0, 100.5, float("nan")):
        with pytest.raises(InputError):
            damage_grade(wrong)


def test_waste_on_net_and_on_gross() -> None:
    """Plus a third on net is a quarter of gross (leather dictionary, "cutting waste")."""
    assert waste_of_gross(1 / 3) == pytest.approx(0.25)
    with pytest.raises(InputError):
        waste_of_gross(-1.0)


@pytest.mark.parametrize(
    ("surface", "cutting", "pct"),
    [(90, 92, 97.8), (107, 115, 93.0), (107, 128, 83.6), (71, 81, 87.7), (71, 84, 84.5)],
)
def test_surface_against_cutting_area(surface: float, cutting: float, pct: float) -> None:
    """Golding, *Manufacture of Boots and Shoes*, 1902: in², surface against cutting area.

    Surface area is two half-pairs in their repeat cell: the same share as an interlock yield.
    """
    assert round(100 * interlock_yield(surface / 2, (cutting, 0.0), (0.0, 1.0)), 1) == pct


def test_net_cost() -> None:
    """Teaching text: 19.6 ft² measured of 20.0 invoiced, cuttability 0.93; 8.00 a foot becomes 8.78."""
    factor = net_factor(19.6, 20.0, 0.93)
    assert factor == pytest.approx(0.9114, abs=1e-9)
    assert net_price(Decimal("8.00"), factor) == Decimal("8.78")
    for wrong in ((0, 20, 0.9), (19, 0, 0.9), (19, 20, 0), (float("nan"), 20, 0.9)):
        with pytest.raises(InputError, match="more than zero"):
            net_factor(*wrong)
    with pytest.raises(InputError):
        net_price(Decimal(8), 0.0)


def test_gross_of_a_net_area() -> None:
    """Arithmetic on the figure before: interlock 0.93, edges 0.88; 1.20 ft² net take 1.609, 12.87 at 8.00."""
    gross = gross_area(1.20, 0.93, 0.88, net_factor(19.6, 20.0, 0.93))
    assert gross == pytest.approx(1.609, abs=5e-4)
    assert round(gross * 8.00, 2) == 12.87
    with pytest.raises(InputError):
        gross_area(1.2, 0.0, 0.88)


def test_a_trapezoid_and_its_half_turn_waste_nothing() -> None:
    """Geometry: 8.5 and 7.5 in by 4.5 in is 36 in²; with its half turn it makes a parallelogram."""
    trapezoid = ((0, 0, 0), (8.5, 0, 0), (8.0, 4.5, 0), (0.5, 4.5, 0))
    assert area(trapezoid) == 36.0
    # Side by side along the edge the pair repeats every 16 in, and 4.5 in up.
    assert interlock_yield(area(trapezoid), (16.0, 0.0), (0.0, 4.5)) == 1.0
    assert interlock_yield(area(trapezoid), (16.0, 0.0), (5.0, -4.5)) == 1.0
    with pytest.raises(InputError, match="repeat cell"):
        interlock_yield(36.0, (1.0, 1.0), (2.0, 2.0))
