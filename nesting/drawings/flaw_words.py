"""Words of the trade for flaws, and how far each is taken to spoil the leather.

The words are those the trade uses for defects in life, after death and in tanning; the severities
are this project's own starting point (common practice, no source): a person corrects them by writing
hole, weak or blemish into the layer's name, or in the hide file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from nesting.drawings.meaning import first_word, words_of
from nesting.files.hide import SEVERITIES, Severity

FLAWS: dict[str, Severity] = {
    "tear": "hole",
    "missing": "hole",
    "cut through": "hole",
    "flay cut": "weak",
    "butcher cut": "weak",
    "gouge": "weak",
    "brand": "weak",
    "warble": "weak",
    "grub": "weak",
    "mange": "weak",
    "pox": "weak",
    "loose": "weak",
    "thin": "weak",
    "belly": "weak",
    "flank": "weak",
    "fold": "weak",
    "salt": "weak",
    "scar": "blemish",
    "scratch": "blemish",
    "tick": "blemish",
    "insect": "blemish",
    "bite": "blemish",
    "vein": "blemish",
    "wrinkle": "blemish",
    "crease": "blemish",
    "neck line": "blemish",
    "growth line": "blemish",
    "stretch mark": "blemish",
    "stain": "blemish",
    "spot": "blemish",
    "mark": "blemish",
    "rub": "blemish",
}

UNKNOWN: Severity = "weak"
GENERAL = ("flaw", "defect", "fault")
WORDS = (*SEVERITIES, *FLAWS, *GENERAL)

_PLAIN_KIND: dict[Severity, str] = {"hole": "hole", "weak": "weak spot", "blemish": "blemish"}


@dataclass(frozen=True)
class Judged:
    """A flaw's kind in the trade's words, its severity, and where the severity comes from."""

    kind: str
    severity: Severity
    by: Literal["name", "table", "nothing"]


def judge(names: Sequence[str]) -> Judged:
    """What the names around a flaw, the nearest first, say about it.

    A severity written out in any of them wins over the table of words.
    """
    written = _first(names, SEVERITIES)
    known = _first(names, FLAWS)
    severity = next((s for s in SEVERITIES if written and s == written[0]), None)
    kind = _rest(known[1] if known else names[0] if names else "")
    if severity:
        return Judged(kind or _PLAIN_KIND[severity], severity, "name")
    if known:
        return Judged(kind, FLAWS[known[0]], "table")
    return Judged(kind or "flaw", UNKNOWN, "nothing")


def _first(names: Sequence[str], words: Iterable[str]) -> tuple[str, str] | None:
    """The first of ``words`` in the nearest name that holds one, and that name."""
    return next(((word, name) for name in names if (word := first_word(name, words))), None)


def _rest(name: str) -> str:
    """The name's words without those that say only a severity or that it is a flaw."""
    plain = (*SEVERITIES, *GENERAL)
    return " ".join(word for word in words_of(name) if first_word(word, plain) is None)
