"""What is laid on what: each hide with the lines of the order that its weight allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from nesting.compare.typical import Described, typical_hides
from nesting.errors import InputError
from nesting.files.hide import Hide
from nesting.files.order import Order, OrderLine
from nesting.units import format_weight


@dataclass(frozen=True)
class Candidate:
    """A hide to compare: one as it is, or three typical ones that stand in for one not yet bought."""

    name: str
    hides: tuple[Hide, ...]
    typical: bool = False


@dataclass(frozen=True)
class Trial:
    """``lines`` laid on a candidate.

    ``outside`` says that the hide is outside the weights of all of them (``outside the 4-5 oz (1.6-2.0 mm)
    asked for``): it is laid all the same, as if its weight were right. ``left_out`` names the panels of
    the order that are not laid, for the hide is of another weight than they ask for.
    """

    candidate: Candidate
    lines: tuple[OrderLine, ...]
    outside: str | None = None
    left_out: tuple[str, ...] = ()

    @property
    def panels(self) -> tuple[str, ...]:
        """Names of the panels that are laid."""
        return tuple(line.name for line in self.lines)

    def order_on(self, hide: Hide, order: Order) -> Order:
        """The order of this trial on one of the candidate's hides."""
        lines = self.lines
        if self.outside is not None:
            lines = tuple(replace(line, weight_oz=None) for line in lines)
        return replace(order, hides=(hide,), lines=lines)


def as_it_is(hide: Hide) -> Candidate:
    """A hide at hand."""
    return Candidate(hide.name, (hide,))


def not_yet_bought(described: Described, order: Order) -> Candidate:
    """Typical hides for a description; without a weight, of the weight that the order asks for.

    Raises InputError for an unknown cut, and where the order asks for weights that no one hide has.
    """
    if described.weight_oz is None:
        described = replace(described, weight_oz=_asked_weight(order.lines))
    return Candidate(described.name, typical_hides(described), typical=True)


def _asked_weight(lines: Sequence[OrderLine]) -> tuple[float, float] | None:
    asked = [line.weight_oz for line in lines if line.weight_oz is not None]
    if not asked:
        return None
    low, high = max(weight[0] for weight in asked), min(weight[1] for weight in asked)
    if low > high:
        raise InputError('the order asks for several weights; say which is to be bought: --weight "4-5 oz"')
    return low, high


def trials(order: Order, candidates: Sequence[Candidate], fill: bool) -> list[Trial]:
    """One trial a candidate, with all lines that its weight allows; with ``fill`` one for each of them.

    ``fill`` lays each panel by itself, as often as it fits, in place of the ordered numbers. A candidate
    whose weight no line allows is tried with all of them.
    """
    if not fill:
        return [_trial(one, order.lines) for one in candidates]
    lines = tuple(replace(line, pairs=None, pieces=None, fill=True) for line in order.lines)
    whole = [_trial(one, lines) for one in candidates]
    return [replace(one, lines=(line,)) for line in lines for one in whole if line in one.lines]


def _trial(candidate: Candidate, lines: tuple[OrderLine, ...]) -> Trial:
    hide = candidate.hides[0]
    taken = tuple(line for line in lines if line.takes(hide))
    if taken:
        left_out = tuple(line.name for line in lines if line not in taken)
        return Trial(candidate, taken, left_out=left_out)
    return Trial(candidate, lines, outside=_outside(hide, lines))


def _outside(hide: Hide, lines: Sequence[OrderLine]) -> str:
    asked = dict.fromkeys(format_weight(line.weight_oz) for line in lines if line.weight_oz is not None)
    its = "not known to be within" if hide.weight_oz is None else "outside"
    return f"{its} the {' or '.join(asked)} asked for"
