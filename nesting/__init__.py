"""hidewright's library: lay matching leather panels on a real hide, judge the layout, count the cost.

Public here, each loaded when first asked for, so that ``import nesting`` stays cheap:

- ``assert_layout_valid(layout)``: raises InvalidLayout unless the layout keeps every rule;
- ``faults(layout)``: the rules it breaks, one plain sentence each.

Everything else is imported from its own room (``nesting.files``, ``nesting.judge``, ...).
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nesting.judge import assert_layout_valid, faults

__all__ = ["assert_layout_valid", "faults"]

_HOMES = {"assert_layout_valid": "nesting.judge", "faults": "nesting.judge"}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(importlib.import_module(_HOMES[name]), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
