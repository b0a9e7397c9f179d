"""A typed text to exact numbers with their unit words; what the words mean is for ``units``."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from nesting.errors import InputError

_NUMBER = re.compile(
    r"(?:(?P<whole>[0-9]+)[ -])?(?P<over>[0-9]+)/(?P<under>[0-9]+)|(?P<plain>[0-9]+\.[0-9]+|[0-9]+|\.[0-9]+)"
)
_UNIT = re.compile(r" ?((?:[^0-9.+\-/^ ][^0-9+\-/^]*)(?:(?<=[a-z])\^?2(?![0-9./]))?)? ?")
_VULGAR = re.compile("[\u00bc-\u00be\u2150-\u215e]")
_SIGNS = str.maketrans({"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "−": "-", "²": "2"})


def plain(text: str) -> str:
    """One spelling for what keyboards and editors make of the same signs: ``8½″`` is ``8 1/2"``."""
    opened = _VULGAR.sub(lambda m: " " + unicodedata.normalize("NFKC", m[0]).replace("\u2044", "/"), text)
    signs = opened.translate(_SIGNS).replace("''", '"').lower().replace("sq.", "sq ")
    return re.sub(r" ?/ ?", "/", " ".join(signs.split()))


def shown(text: str) -> str:
    """The text as messages quote it: on one line, and not the whole of a long one."""
    line = "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))
    return line if len(line) <= 40 else line[:39] + "…"


def terms(spelt: str, text: str, what: str, form: str) -> list[tuple[Fraction, str]]:
    """Numbers with their units, in order, from ``plain`` text; a unit may be empty.

    The whole text must be used up, else InputError quotes ``text`` and shows the ``form`` of a ``what``.
    """
    if not spelt:
        raise InputError(f"an empty text is not {_a(what)}; write it like {form}")
    if "," in spelt:
        raise InputError(f'"{text}": a comma may part thousands or decimals; write a decimal point')
    found, at = [], 0
    while at < len(spelt):
        match = _NUMBER.match(spelt, at)
        value = number(match[0]) if match else None
        if match is None or value is None:
            raise InputError(_no_number(spelt, text, what, form))
        unit = _UNIT.match(spelt, match.end())
        assert unit is not None  # it may be empty
        found.append((value, (unit[1] or "").strip().rstrip(".")))
        at = unit.end()
    return found


def number(spelt: str) -> Fraction | None:
    """``8``, ``8.5``, ``1/2``, ``8 1/2`` or ``8-1/2``; None for anything else."""
    found = _NUMBER.fullmatch(spelt)
    if found is None or len(spelt) > 40:
        return None
    if found["plain"]:
        return Fraction(found["plain"])
    over, under = int(found["over"]), int(found["under"])
    if under == 0 or (found["whole"] and over >= under):
        return None
    return Fraction(found["whole"] or 0) + Fraction(over, under)


def _no_number(spelt: str, text: str, what: str, form: str) -> str:
    if spelt.startswith("-"):
        return f'"{text}": {_a(what)} cannot be negative; write it like {form}'
    return f'"{text}" is not {_a(what)}; write it like {form}'


def _a(what: str) -> str:
    return f"an {what}" if what[0] in "aeiou" else f"a {what}"
