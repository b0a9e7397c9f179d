"""The exception tree.

::

    HidewrightError            anything this library raises on purpose
    ├── InputError             a file, number or picture from outside is wrong
    │   └── FileFormatError    a file of ours breaks its format: names file, place and mend
    ├── CaptureRefused         a photograph cannot be measured to the promised accuracy
    └── InvalidLayout          a layout breaks a rule of the judge; carries the list of faults

Every message says what was wrong, where, and how to mend it. The command line turns any
``HidewrightError`` into one message on stderr and exit status 1.
"""

from __future__ import annotations

from collections.abc import Sequence


class HidewrightError(Exception):
    """Base of everything raised on purpose."""


class InputError(HidewrightError):
    """Something given from outside cannot be used."""


class FileFormatError(InputError):
    """A file breaks its format; the message names the file, the place in it and the mend."""

    def __init__(self, file: str, place: str, problem: str) -> None:
        self.file, self.place, self.problem = file, place, problem
        where = f"{file}: {place}: " if place else f"{file}: "
        super().__init__(where + problem)


class CaptureRefused(HidewrightError):
    """The photograph was understood well enough to say that it must not be trusted."""


class InvalidLayout(HidewrightError):
    """A layout is not valid; ``faults`` holds one sentence per broken rule."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        head = "; ".join(self.faults[:4])
        more = f"; and {len(self.faults) - 4} more" if len(self.faults) > 4 else ""
        super().__init__(f"the layout is not valid: {head}{more}")
