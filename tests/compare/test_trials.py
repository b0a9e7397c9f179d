"""Which lines are laid on which hide; hides outside the weights are laid and marked."""

from __future__ import annotations

import pytest
from compare_bench import CUFF, STRAP, hide, order

from nesting.compare.trials import as_it_is, not_yet_bought, trials
from nesting.compare.typical import Described
from nesting.errors import InputError
from nesting.files.order import OrderLine

CUFFS = OrderLine(CUFF, pairs=2, weight_oz=(4, 5))
STRAPS = OrderLine(STRAP, pieces=3, weight_oz=(8, 9))
CANDIDATES = [as_it_is(hide("thin", (4, 5))), as_it_is(hide("thick", (8, 9))), as_it_is(hide("odd", (6, 7)))]


def test_each_hide_gets_the_lines_of_its_weight() -> None:
    thin, thick, odd = trials(order(CUFFS, STRAPS), CANDIDATES, fill=False)
    assert (thin.panels, thin.left_out, thin.outside) == (("cuff",), ("strap",), None)
    assert (thick.panels, thick.left_out, thick.outside) == (("strap",), ("cuff",), None)
    assert odd.panels == ("cuff", "strap")
    # 1 oz = 1/64 in = 0.397 mm (ASTM D1814).
    assert odd.outside == "outside the 4-5 oz (1.6-2.0 mm) or 8-9 oz (3.2-3.6 mm) asked for"


def test_a_hide_outside_is_laid_as_if_its_weight_were_right() -> None:
    whole = order(CUFFS)
    (trial,) = trials(whole, CANDIDATES[2:], fill=False)
    laid_on = trial.candidate.hides[0]
    assert not CUFFS.takes(laid_on)
    (line,) = trial.order_on(laid_on, whole).lines
    assert line.takes(laid_on)
    assert (line.panel, line.pairs) == (CUFF, 2)


def test_an_unknown_weight_is_told() -> None:
    (trial,) = trials(order(CUFFS), [as_it_is(hide("old", None))], fill=False)
    assert trial.outside == "not known to be within the 4-5 oz (1.6-2.0 mm) asked for"


def test_as_many_as_fit_is_each_panel_by_itself() -> None:
    found = trials(order(CUFFS, STRAPS), CANDIDATES, fill=True)
    assert [(one.panels, one.candidate.name, one.outside is None) for one in found] == [
        (("cuff",), "thin", True), (("cuff",), "odd", False),
        (("strap",), "thick", True), (("strap",), "odd", False),
    ]  # fmt: skip
    assert all(
        line.fill and line.pairs is None and line.pieces is None for one in found for line in one.lines
    )


def test_what_is_not_yet_bought_is_of_the_weight_asked_for() -> None:
    wider = OrderLine(STRAP, pieces=1, weight_oz=(4.5, 6))
    candidate = not_yet_bought(Described("bend"), order(CUFFS, wider))
    assert candidate.typical
    assert [one.weight_oz for one in candidate.hides] == 3 * [(4.5, 5)]
    stated = not_yet_bought(Described("bend", weight_oz=(8, 9)), order(CUFFS, STRAPS))
    assert stated.hides[0].weight_oz == (8, 9)
    assert not_yet_bought(Described("bend"), order(OrderLine(CUFF, pairs=1))).hides[0].weight_oz is None
    with pytest.raises(InputError, match="asks for several weights; say which is to be bought"):
        not_yet_bought(Described("bend"), order(CUFFS, STRAPS))
