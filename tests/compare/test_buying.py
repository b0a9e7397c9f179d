"""The cheapest sets of hides, against trying every set there is."""

from __future__ import annotations

import itertools
import random
from decimal import Decimal

import pytest
from compare_bench import entry, hide, outcome

from nesting.compare.buying import HideSet, Offer, cheapest_sets, offers


def tried(offered: list[Offer], pairs: int, most_of_each: int = 6) -> tuple[float, int] | None:
    """Least price (or area) and fewest hides that hold so many pairs, by trying every set."""
    priced = all(offer.cents is not None for offer in offered)
    counts = [range(most_of_each + 1 if offer.often else 2) for offer in offered]
    found = []
    for chosen in itertools.product(*counts):
        if sum(n * offer.pairs for n, offer in zip(chosen, offered, strict=True)) >= pairs:
            burden = sum(
                n * ((offer.cents or 0) if priced else offer.area_mm2)
                for n, offer in zip(chosen, offered, strict=True)
            )
            found.append((burden, sum(chosen)))
    return min(found, default=None)


def figures(found: HideSet | None, priced: bool) -> tuple[float, int] | None:
    if found is None:
        return None
    return (int(found.price.scaleb(2)) if priced and found.price is not None else found.area_mm2), found.count


@pytest.mark.parametrize("seed", range(40))
def test_as_cheap_as_the_best_of_all_sets(seed: int) -> None:
    chance = random.Random(seed)
    priced = seed % 3 != 0
    offered = [
        Offer(
            f"h{i}", chance.randint(2, 7), chance.randint(1000, 1400) if priced else None,
            float(chance.randint(50, 70)), often=i == 0 and seed % 2 == 0,
        )
        for i in range(4)
    ]  # fmt: skip
    for pairs, found in enumerate(cheapest_sets(offered, 12), start=1):
        assert figures(found, priced) == tried(offered, pairs)
        if found is not None:
            by_name = {offer.name: offer for offer in offered}
            assert found.holds == sum(n * by_name[name].pairs for name, n in found.hides) >= pairs
            assert all(n == 1 or by_name[name].often for name, n in found.hides)


def test_a_cheaper_pair_of_hides_beats_one_large_one() -> None:
    offered = [Offer("large", 10, 9000, 10.0), Offer("a", 5, 4000, 5.0), Offer("b", 5, 4400, 5.0)]
    five, six = (found for i, found in enumerate(cheapest_sets(offered, 6), 1) if i in (5, 6))
    assert five is not None
    assert six is not None
    assert (five.hides, five.price) == ((("a", 1),), Decimal("40.00"))
    assert (dict(six.hides), six.price, six.count) == ({"a": 1, "b": 1}, Decimal("84.00"), 2)


def test_hides_run_out_but_those_to_buy_do_not() -> None:
    once, often = Offer("a", 3, 100, 1.0), Offer("b", 3, 200, 1.0, often=True)
    assert [found is None for found in cheapest_sets([once], 4)] == [False, False, False, True]
    last = cheapest_sets([once, often], 10)[-1]
    assert last is not None
    assert dict(last.hides) == {"a": 1, "b": 3}


def test_without_a_price_area_decides() -> None:
    dear, large = Offer("small", 4, None, 5.0), Offer("large", 4, 100, 9.0)
    (found,) = cheapest_sets([dear, large], 1)
    assert found is not None
    assert (found.hides, found.price, found.area_mm2) == ((("small", 1),), None, 5.0)


def test_offers_of_typical_hides_are_the_fewest_or_the_most_pairs() -> None:
    typical = hide("typical")
    three = entry(*(outcome(typical, pieces, price="50") for pieces in (8, 6, 2)))
    outside = entry(outcome(hide("thick"), 8, price="50"), outside="outside the 4-5 oz asked for")
    empty = entry(outcome(hide("tiny"), 0, price="5"))
    for most, pairs in ((False, 1), (True, 4)):
        assert offers([three, outside, empty], most) == [Offer("typical", pairs, 5000, 120_000.0, often=True)]
