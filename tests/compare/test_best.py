"""The best line and its reason."""

from __future__ import annotations

from compare_bench import entry, hide, outcome

from nesting.compare.best import ranked, verdicts


def test_what_holds_all_goes_before_what_is_cheaper() -> None:
    # 12 / 4 pieces × 2 = 6.00 a pair; 28 / 8 × 2 = 7.00 a pair.
    small = entry(outcome(hide("small"), 4, asked=8, price="12"))
    large = entry(outcome(hide("large"), 8, asked=8, price="28"))
    (verdict,) = verdicts([small, large])
    assert verdict.hide == "large"
    assert verdict.reason == "it alone holds all that is asked for; its leather comes to 7.00 USD for a pair"


def test_the_least_cost_of_leather_and_the_next() -> None:
    two = [entry(outcome(hide(name), 8, 8, price)) for name, price in (("a", "28"), ("b", "26.02"))]
    (verdict,) = verdicts(two)
    assert (verdict.panels, verdict.hide) == (("cuff",), "b")
    # 26.02 / 4 = 6.505, halves up.
    assert verdict.reason == (
        "it holds all that is asked for; its leather comes to 6.51 USD for a pair, the least; "
        "next is a with 7.00 USD for a pair"
    )


def test_none_that_holds_all() -> None:
    two = [entry(outcome(hide(name), 4, 8, price)) for name, price in (("a", "12"), ("b", "14"))]
    (verdict,) = verdicts(two)
    assert verdict.hide == "a"
    assert verdict.reason.startswith(
        "no hide holds all that is asked for, it holds 4 of 8 pieces; its leather"
    )


def test_where_a_price_is_missing_the_yield_decides() -> None:
    plenty = entry(outcome(hide("plenty"), 8, area=150_000))
    priced = entry(outcome(hide("priced"), 8, price="1", area=240_000))
    (verdict,) = verdicts([priced, plenty])
    assert verdict.hide == "plenty"
    # 8 × 15 000 of 150 000 and of 240 000 mm².
    assert verdict.reason == (
        "it holds 4 pairs; not every hide has a price, so the yield decides: its yield is 80.0 % of the "
        "hide, the most; next is priced with 50.0 % of the hide"
    )


def test_a_hide_outside_the_weights_is_never_best() -> None:
    thick = entry(outcome(hide("thick"), 8, price="1"), outside="outside the 4-5 oz asked for")
    right = entry(outcome(hide("right"), 8, price="50"))
    (verdict,) = verdicts([thick, right])
    assert verdict.hide == "right"
    (none,) = verdicts([thick])
    assert (none.hide, none.reason) == (None, "no hide is of the weight that the order asks for")


def test_a_hide_without_a_piece_is_never_best() -> None:
    empty = entry(outcome(hide("empty"), 0, price="1"))
    full = entry(outcome(hide("full"), 2, price="50"))
    assert [one.name for one in ranked([empty, full])] == ["full", "empty"]
    assert verdicts([empty, full])[0].reason.endswith("; no other hide has room for any of it")
    assert verdicts([full])[0].reason.endswith("; no other hide is there for it")
    (verdict,) = verdicts([empty])
    assert (verdict.hide, verdict.reason) == (None, "none of the hides has room for it")


def test_typical_hides_lead_by_their_middle_and_say_what_is_open() -> None:
    typical = entry(*(outcome(hide("typical"), pieces, price="24") for pieces in (10, 8, 6)))
    near = entry(outcome(hide("near"), 8, price="26"))
    far = entry(outcome(hide("far"), 8, price="80"))
    (verdict,) = verdicts([typical, near])
    assert verdict.hide == "typical"
    assert "comes to about 6.00 USD for a pair, the least; next is near with 6.50 USD" in verdict.reason
    assert verdict.reason.endswith("their ranges overlap, so only the hide itself will tell")
    (verdict,) = verdicts([typical, far])
    assert verdict.reason.endswith("also over the range of typical outlines and flaws")
    (verdict,) = verdicts([typical])
    assert verdict.reason.endswith("typical outlines, no hide was measured")
