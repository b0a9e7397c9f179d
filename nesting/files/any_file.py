"""Any file of a workshop, told apart by its ``kind`` (JSON) or, as TOML, by a ``shape`` (measures)."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from nesting.errors import FileFormatError, InputError
from nesting.files.compare_file import check_compare
from nesting.files.hide import Hide
from nesting.files.hide_file import hide_from_json
from nesting.files.json_text import parse_json, read_text
from nesting.files.layout import Layout
from nesting.files.layout_file import layout_from_json
from nesting.files.measures import Measures
from nesting.files.measures_file import read_measures, says_shape
from nesting.files.order import Order
from nesting.files.order_file import read_order
from nesting.files.panel import Panel
from nesting.files.panel_file import panel_from_json
from nesting.files.report_file import check_report

Report = dict[str, Any]
"""A report or comparison stays the object that its file holds; nothing is computed from it."""

KINDS = ("hide", "panel", "layout", "report", "compare")


def read_any(path: Path) -> Hide | Panel | Order | Measures | Layout | Report:
    """What ``path`` holds, read as strictly as its own reader does; a layout is not judged here.

    Raises InputError or FileFormatError, one message each.
    """
    if path.suffix.lower() == ".toml":
        return read_measures(path) if says_shape(path) else read_order(path)
    text, source = read_text(path), str(path)
    if path.suffix.lower() != ".json":
        raise InputError(
            f"{source}: is no file of a workshop; give one that ends in .json, "
            "or .toml for an order or measures"
        )
    data = parse_json(text, source)
    match data.get("kind"):
        case "hide":
            return hide_from_json(data, source)
        case "panel":
            return panel_from_json(data, source)
        case "layout":
            return layout_from_json(data, source)
        case "report":
            check_report(data, source)
            return data
        case "compare":
            check_compare(data, source)
            return data
        case None:
            raise FileFormatError(source, "kind", f"is missing; write one of {', '.join(KINDS)}")
        case other:
            raise FileFormatError(
                source, "kind", f"{other!r} is not known; it must be one of {', '.join(KINDS)}"
            )
