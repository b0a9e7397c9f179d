"""Measures, from a file ``NAME.toml`` with a ``shape``, from options, or from a file with options over it.

Options have the names of the file's fields, with a hyphen for an underscore.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from nesting.errors import FileFormatError, InputError
from nesting.files.boundary import validated
from nesting.files.json_text import read_text
from nesting.files.measures import LegPanel, Measures
from nesting.files.measures_fields import NEEDS, REQUIRED, TAKEN, MeasuresModel
from nesting.files.measures_parts import (
    buckle_holes_of,
    holes_of,
    lacing_of,
    marks_of,
    right_leg,
    shape_of,
    stretch_of,
)
from nesting.files.measures_typed import Fields
from nesting.files.panel import Pairing

_INSTEAD = {"hole": "barrel", "barrel": "hole"}
"""Either says how large a hole is, so that an option replaces the other in a file."""


def read_measures(path: Path, options: Mapping[str, Any] | None = None, name: str = "") -> Measures:
    """The measures in a file; ``options`` (fields as they are typed) go before what the file says.

    ``name`` is used where neither gives one, else the name of the file. Raises InputError or
    FileFormatError.
    """
    data = _toml(path)
    if "shape" not in data:
        shapes = ", ".join(REQUIRED)
        raise FileFormatError(
            str(path), "shape", f"is missing, so these are no measures; write shape = one of {shapes}"
        )
    typed = _given(validated(MeasuresModel, data, str(path)))
    over = _given(_of_options(typed["shape"], options or {}))
    if "right" in over:
        over["right"] = {**typed.get("right", {}), **over["right"]}
    kept = {key: value for key, value in typed.items() if _INSTEAD.get(key) not in over}
    return _measures(Fields(kept | over, str(path), frozenset(options or ())), name or path.stem)


def measures_from_options(shape: str, options: Mapping[str, Any], name: str = "") -> Measures:
    """The measures in ``options`` (fields as they are typed). Raises InputError."""
    return _measures(Fields(_given(_of_options(shape, options)), None, frozenset(options)), name or shape)


def says_shape(path: Path) -> bool:
    """Whether a TOML file says which shape to draft. Raises InputError or FileFormatError on no TOML."""
    return "shape" in _toml(path)


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(read_text(path))
    except tomllib.TOMLDecodeError as error:
        raise FileFormatError(str(path), "", f"is not TOML: {error}; mend the text there") from None
    except (RecursionError, ValueError) as error:
        raise FileFormatError(str(path), "", f"is not usable TOML ({error}); mend it") from None


def _of_options(shape: str, options: Mapping[str, Any]) -> MeasuresModel:
    try:
        return validated(MeasuresModel, {"shape": shape, **options}, "options")
    except FileFormatError as error:
        option = error.place.replace("_", "-").replace(".", "-")
        raise InputError(f"--{option}: {error.problem}") from None


def _given(model: MeasuresModel) -> dict[str, Any]:
    return model.model_dump(exclude_none=True)


def _measures(fields: Fields, name: str) -> Measures:
    _refuse_useless(fields)
    shape, right, holes = shape_of(fields), right_leg(fields), holes_of(fields)
    usual = "mirrored" if isinstance(shape, LegPanel) and right is None else "none"
    pairing = cast(Pairing, fields.get("pairing") or usual)
    if right is not None and pairing != "none":
        raise fields.fault("pairing", "the legs differ, so neither panel mirrors the other; leave it out")
    turns = fields.get("turns_deg")
    return Measures(
        name=fields.get("name") or name,
        shape=shape,
        right=right,
        radius_mm=fields.length("radius") or 0.0,
        holes=holes,
        buckle_holes=buckle_holes_of(fields),
        marks_top=marks_of(fields, "top", holes),
        marks_bottom=marks_of(fields, "bottom", holes),
        groove_mm=fields.size("groove"),
        lacing=lacing_of(fields),
        pairing=pairing,
        stretch=stretch_of(fields),
        turns_deg=None if turns is None else tuple(turns),
        accepts=tuple(dict.fromkeys(fields.get("accepts") or ())),
        taken=tuple(fields.taken),
    )


def _refuse_useless(fields: Fields) -> None:
    """Fields that the shape does not take, or that say nothing without another."""
    shape = fields.get("shape")
    for key in MeasuresModel.model_fields:
        if key in fields and key not in TAKEN[shape] and key not in REQUIRED[shape]:
            own = ", ".join(map(fields.call, REQUIRED[shape]))
            raise fields.fault(key, f"a {shape} has no use for it (its own measures are {own}); leave it out")
        partners = [other for other in NEEDS.get(key, ()) if other in TAKEN[shape]]
        if key in fields and partners and not any(other in fields for other in partners):
            words = " or ".join(map(fields.call, partners))
            raise fields.fault(key, f"says nothing without {words}; give that as well, or leave this out")
