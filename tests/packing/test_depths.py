"""Tables of penetration depth: how fine they are, and what they hold, against shapely."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shape_zoo import ZOO

from nesting.packing import depths
from nesting.packing.depths import FINE_NODES, NODES, build_depths

AS_DRAWN = ((0.0, 0.0),)
COMB, L = (ZOO[name] - shapely.get_coordinates(shapely.Polygon(ZOO[name]).centroid) for name in ("comb", "L"))


def test_listed_turns_have_fine_tables_and_free_ones_do_not() -> None:
    assert build_depths([COMB, L], [AS_DRAWN, AS_DRAWN]).depth.shape == (3, 1, FINE_NODES, FINE_NODES)
    free = build_depths([L], [((0.0, 0.5),)]).depth
    assert free.shape[2:] == (NODES, NODES)


@pytest.mark.parametrize(("most", "nodes"), [(3 * 100 * 100, 100), (1000, NODES)])
def test_fine_tables_keep_to_their_numbers(most: int, nodes: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three tables of two shapes; beyond the bound they are as coarse as any."""
    monkeypatch.setattr(depths, "MOST_VALUES", most)
    assert build_depths([COMB, L], [AS_DRAWN, AS_DRAWN]).depth.shape == (3, 1, nodes, nodes)


@pytest.mark.parametrize("most", [1000, depths.MOST_VALUES])
def test_a_table_holds_the_depth(most: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """At nodes, whatever their number: positive just where shapes overlap, else how far apart they are."""
    monkeypatch.setattr(depths, "MOST_VALUES", most)
    tables = build_depths([COMB, L], [AS_DRAWN, AS_DRAWN])
    pair = tables.pair[0, 1]
    x0, y0, step, _ = tables.frame[pair]
    comb, nodes = shapely.Polygon(COMB), tables.depth.shape[2]
    checked = 0
    for row, column in np.random.default_rng(4).integers(nodes, size=(300, 2)):
        depth = float(tables.depth[pair, 0, row, column])
        moved = shapely.Polygon(np.add(L, (x0 + column * step, y0 + row * step)))
        if abs(depth) > 1e-6:
            checked += 1
            assert (comb.intersection(moved).area > 1e-12) == (depth > 0)
        if depth < 0:
            assert comb.distance(moved) == pytest.approx(-depth, abs=1e-6)
    assert checked > 250
