"""The search over an order: lay greedily, then keep improving, one small step a round.

Each round is one of: force one more unit in; lay a cheaper set of hides, which takes over once it
holds all; squeeze a hide so that what is left grows. The first that can still matter is tried.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nesting.files.order import Order
from nesting.packing.compact import NUDGE, squeeze
from nesting.packing.fill import FillParams, greedy, insert_more
from nesting.packing.separate import Effort
from nesting.packing.stop import Stop, never
from nesting.planning.demand import Unit, fill_lines, unit_of
from nesting.planning.laid import Laid, Pool
from nesting.planning.laying import Layer
from nesting.planning.rivals import MOST_ROUNDS, Rivals
from nesting.planning.score import FRONT_STEP, Plan, Score
from nesting.planning.ties import with_ties
from nesting.rings import Pose

SQUEEZE = Effort(wide=16, near=12, patience=60, strikes=1, rough=True)

HEADINGS = 3
"""So many headings are tried before the best is improved."""

RESTARTS = 12
PIECES_AGAIN = 400
"""All is laid again so often, or until so many pieces were laid."""

MOST_WAITS = 60
"""A piece whose mate finds no room is left on the table for so many tries before that table is squeezed."""

_Start = tuple[Score, dict[int, Laid], list[Unit]]


class Search:
    """One track of the search; ``run`` yields a better and better ``Plan``. All chance is the seed's."""

    def __init__(self, order: Order, seed: int, stop: Stop, params: FillParams = FillParams()) -> None:  # noqa: B008
        self.order, self.stop, self.params = order, stop, params
        self.layer = Layer(order, seed, params)
        self.rivals = Rivals(self.layer)
        self.rng, self.chance = self.layer.rng, self.layer.chance
        self.variant = seed
        self.laid: dict[int, Laid] = {}
        self.left: list[Unit] = []
        self.best: Score | None = None

    # ---------------------------------------------------------------------------------- rounds

    def run(self) -> Iterator[Plan | None]:
        """Yield a plan whenever it is better than all accepted before, None after each other round.

        Who takes a plan says so with ``accept``; one that is refused hides no other.
        """
        looked_at: Plan | None = None
        for _ in self._rounds():
            plan, score = None, self.score()
            if self.best is None or score < self.best:
                as_laid = self.plan(score)
                if as_laid != looked_at:  # many a round leaves all where it lay
                    looked_at, plan = as_laid, with_ties(self.order, as_laid)
            yield plan if plan is not None and (self.best is None or plan.score < self.best) else None

    def accept(self, plan: Plan) -> None:
        """Only better plans than this one are wanted from now on."""
        self.best = plan.score

    def _rounds(self) -> Iterator[None]:
        best: _Start | None = None
        starts = [(turn, False) for turn in range(HEADINGS)]
        for turn, tile in [*starts, (0, True)] if self.layer.in_number() else starts:
            if best is not None and self.stop():
                break
            self.lay_all(self.variant + turn, tile)
            best = self._better_of(best)
            yield
        assert best is not None
        _, self.laid, self.left = best
        for _ in range(self._restarts()):
            if self.stop():
                break
            self.laid, self.left = self.layer.lay_again(self.laid, self.stop)
            best = self._better_of(best)
            yield
            _, self.laid, self.left = best
        while self.laid:
            self._step()
            yield

    def lay_all(self, turn: int, tile: bool) -> None:
        """Lay the whole order greedily, hide after hide, each from its heading number ``turn``.

        The first hides are laid to the end even when time is up: a piece is only said to have found
        no room where its place was looked for.
        """
        stop = self.stop if self.laid else never
        self.laid, self.left = self.layer.lay(range(len(self.order.hides)), turn, tile, stop)

    def _better_of(self, best: _Start | None) -> _Start:
        """The best start so far, or the present state if that is better."""
        score = with_ties(self.order, self.plan()).score
        return (score, self.laid, self.left) if best is None or score < best[0] else best

    def _restarts(self) -> int:
        """How often it is worth laying all again, which is quick for few pieces, before any is forced in."""
        if not (self.left or fill_lines(self.order)):
            return 0
        pieces = sum(int(laid.state.active.sum()) for laid in self.laid.values())
        return min(RESTARTS, PIECES_AGAIN // max(1, pieces))

    def _step(self) -> None:
        filling, roll = fill_lines(self.order), self.chance.random()
        if self.left and roll < 0.8:
            self._force_one()
        elif roll < 0.6 and not self.left and not filling and self.rivals.any_cheaper_than(self.laid.keys()):
            self._further_rival()
        elif filling and roll < 0.85:
            self._fill_one()
        else:
            self._squeeze_one()

    # ------------------------------------------------------------------------------- improving

    def _force_one(self) -> None:
        if not self._force(self.laid, self.left):
            self._squeeze_one()

    def _force(self, laid: dict[int, Laid], left: list[Unit]) -> bool:
        """Try to insert one of ``left`` on one of the tables; False when none of them takes it."""
        unit = left[int(self.chance.integers(len(left)))]
        hosts = [h for h in laid if unit.line in self.layer.fits[h]]
        if not hosts:
            return False
        self._insert(laid[hosts[int(self.chance.integers(len(hosts)))]], unit, left)
        return True

    def _insert(self, laid: Laid, unit: Unit, left: list[Unit]) -> None:
        """Try to insert one more piece of such a unit; once whole, it is no longer ``left``.

        A pair goes in piece by piece, so that room found for one is not lost for want of room for two.
        """
        torn = (u for u in laid.torn() if laid.table.units[u] == unit)
        slot = next(torn, None)
        if slot is None:
            slot = Pool(laid).take(unit)
        if slot is None:
            return
        group = laid.table.groups[slot]
        off = [item for item in group if not laid.state.active[item]]
        one = (off[int(self.chance.integers(len(off)))],)
        arrays, limit = laid.table.arrays, np.array(laid.table.arrays.problem.box)
        done = not greedy(
            laid.state, arrays, limit, [one], self.layer.pull, self.rng, self.params, self.stop
        ) or insert_more(laid.state, arrays, limit, one, self.rng, self.params, self.stop)
        if len(off) == 1:
            laid.waited = 0 if done else laid.waited + 1
        if done:
            laid.limit[:] = limit
            laid.limit[2] = max(laid.limit[0], laid.reach())
            laid.bite = 0.02
            if len(off) == 1 and unit.wanted:
                left.remove(unit)

    def _fill_one(self) -> None:
        h = list(self.laid)[int(self.chance.integers(len(self.laid)))]
        lines = [line for line in fill_lines(self.order) if line in self.layer.fits[h]]
        if lines:
            line = lines[int(self.chance.integers(len(lines)))]
            self._insert(self.laid[h], unit_of(self.order.lines, line, False), self.left)

    def _further_rival(self) -> None:
        """Lay the rival set of hides, or insert one more unit there; it takes over once it holds all."""
        rival = self.rivals.present
        assert rival is not None
        if rival.laid is None:
            turn = self.variant + rival.attempt
            rival.laid, rival.left = self.layer.lay(rival.hides, turn, self.layer.in_number(), self.stop)
        else:
            rival.rounds += 1
            self._force(rival.laid, rival.left)
        if not rival.left:
            self.laid, self.left, self.rivals.present = rival.laid, [], None
        elif rival.rounds >= MOST_ROUNDS:
            self.rivals.give_up(rival)

    def _squeeze_one(self) -> None:
        """Squeeze one of the hides; where a piece waits for its mate, that one is tried before."""
        laid = self.laid[list(self.laid)[int(self.chance.integers(len(self.laid)))]]
        mate = self._awaited(laid)
        if mate is None:
            self._squeeze(laid)
        else:
            self._insert(laid, mate, self.left)

    def _awaited(self, laid: Laid) -> Unit | None:
        """A pair of which a piece waits on the table for the other one, and has not waited too long."""
        if laid.waited >= MOST_WAITS:
            return None
        pairs = (laid.table.units[u] for u in laid.torn())
        return next((pair for pair in pairs if pair in self.left or not pair.wanted), None)

    def _squeeze(self, laid: Laid) -> None:
        laid.clear_torn()
        length = laid.reach() - laid.limit[0]
        # Bites of all sizes about the one that last went well.
        bite = laid.bite * float(np.exp(self.chance.normal(0.0, 0.7))) * length
        done = squeeze(
            laid.state, laid.table.arrays, laid.limit, bite, SQUEEZE, NUDGE, self.rng, self.chance, self.stop
        )
        laid.bite = min(0.03, 1.5 * laid.bite) if done else max(0.0005, 0.9 * laid.bite)

    # --------------------------------------------------------------------------------- result

    def score(self) -> Score:
        """How good the present state is; what only counts among equals is left open."""
        taken = sum(laid.taken() for laid in self.laid.values())
        units = [laid.table.units[u] for laid in self.laid.values() for u in laid.on()]
        return Score(
            missing=sum(u.pieces for u in self.left),
            unfilled=-sum(u.pieces for u in units if not u.wanted),
            burden=self.rivals.burden(self.laid),
            front=int(taken / (FRONT_STEP * sum(self.layer.leather))) if taken else 0,
            taken=taken,
        )

    def plan(self, score: Score | None = None) -> Plan:
        """The present state as a plan; ``score`` where it is known already."""
        on: list[tuple[tuple[int, bool, tuple[Pose, ...]], ...]] = []
        for h in range(len(self.order.hides)):
            laid = self.laid.get(h)
            poses = {} if laid is None else laid.table.poses(laid.state)
            units = () if laid is None else laid.table.units
            on.append(tuple((units[u].line, units[u].wanted, p) for u, p in poses.items()))
        return Plan(self.score() if score is None else score, tuple(on))
