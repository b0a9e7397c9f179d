"""Compile the kernels, or load them from their cache, before the clock of a search starts."""

from __future__ import annotations

import numpy as np

from nesting.packing.arrays import build_arrays
from nesting.packing.compact import NUDGE, compact
from nesting.packing.fill import FillParams, greedy, insert_more
from nesting.packing.problem import Item, Part, Problem, Region, Shape
from nesting.packing.stop import never
from nesting.packing.strip import seed_state


def warm_up() -> None:
    """Run every kernel once on a toy problem. Takes a while on the first run of an installation."""
    square = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
    region = Region(((4.0 * square, ()),))
    problem = Problem(
        (Shape(square, (Part(square, 0),), ((0.0, 0.05),)),),
        (Item(0), Item(0)),
        (region,),
        (-1.0, -1.0, 5.0, 5.0),
    )
    arrays = build_arrays(problem)
    state, limit, rng = arrays.fresh_state(), np.array(problem.box), seed_state(1)
    params = FillParams(tries=20, keep=2, insert_tries=10)
    greedy(state, arrays, limit, [(0,)], np.array([1.0, 0.0]), rng, params, never)
    # No room for the second square: the search for overlap-free places runs, and gives up.
    limit[:] = (0.0, 0.0, 1.5, 1.5)
    insert_more(state, arrays, limit, (1,), rng, params, never)
    compact(state, arrays, limit, NUDGE)
