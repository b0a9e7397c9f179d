"""Hide files ``NAME.hide.json``: read strictly, written for people."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field

from nesting.errors import FileFormatError
from nesting.files.boundary import (
    XY,
    Amount,
    Name,
    NotNegative,
    Ounces,
    Positive,
    RawRing,
    Strict,
    Text,
    check_header,
    validated,
)
from nesting.files.hide import Flaw, Hide, Measured, Price, PriceBasis, Segment, Severity, Tannage, View
from nesting.files.json_text import dump_json, join, parse_json, read_text
from nesting.files.ring_rules import checked_ring, lies_on, overlaps, raw_ring, rounded
from nesting.files.whole import write_whole

STRAIGHT_EDGE_MM = 1.0
"""How far a straight edge may stray from the outline that it is part of."""
_MAT = ("mat_pitch_mm", "mat_offset_mm")


class _Price(Strict):
    amount: Amount
    currency: Name
    basis: PriceBasis


class _Flaw(Strict):
    kind: Name
    severity: Severity
    outline: RawRing


_Row = Annotated[list[float], Field(min_length=3, max_length=3)]
_Pixels = Annotated[int, Field(gt=0)]


class _View(Strict):
    homography: Annotated[list[_Row], Field(min_length=3, max_length=3)]
    lens: Literal["brown", "division"]
    size: Annotated[list[_Pixels], Field(min_length=2, max_length=2)]


class _Measured(Strict):
    best_area_mm2: Positive
    inside_area_mm2: Positive
    area_u_mm2: NotNegative
    px_per_mm: Positive
    k1: float
    residual_px: NotNegative
    holdout_area_pct: float | None
    thickness_mm: NotNegative
    undecided_mm: NotNegative
    image_sha256: Text
    mat_pitch_mm: Annotated[list[Positive], Field(min_length=2, max_length=2)] | None = None
    mat_offset_mm: XY | None = None
    view: _View | None = None


class HideModel(Strict):
    """The fields of a hide file; geometry is judged afterwards."""

    kind: Literal["hide"]
    version: int
    name: Name
    outline: RawRing
    cut: Text = ""
    weight_oz: Ounces | None = None
    tannage: Tannage = "unknown"
    unit: Literal["mm"] = "mm"
    price: _Price | None = None
    straight_edges: list[Annotated[list[XY], Field(min_length=2, max_length=2)]] = Field(default_factory=list)
    flaws: list[_Flaw] = Field(default_factory=list)
    spine: Annotated[list[XY], Field(min_length=2, max_length=2)] | None = None
    measured: _Measured | None = None
    ancestry: list[Name] = Field(default_factory=list)


def read_hide(path: Path) -> Hide:
    """A hide from its file. Raises InputError or FileFormatError, one message each."""
    return hide_from_json(parse_json(read_text(path), str(path)), str(path))


def write_hide(path: Path, hide: Hide) -> None:
    """Write ``hide`` to ``path``, whole or not at all, after reading the text back strictly."""
    text = dump_json(hide_to_json(hide))
    hide_from_json(parse_json(text, str(path)), str(path))
    write_whole(path, text)


def hide_from_json(data: Mapping[str, Any], source: str, place: str = "") -> Hide:
    """A hide from parsed JSON; ``source`` and ``place`` say in messages where it stood.

    Raises FileFormatError on anything that the contract of the hide file does not allow.
    """
    check_header(data, "hide", source, place)
    model = validated(HideModel, data, source, place)
    outline, polygon = checked_ring(model.outline, source, join(place, "outline"))
    flaws = []
    for i, flaw in enumerate(model.flaws):
        ring, flaw_polygon = checked_ring(flaw.outline, source, join(place, "flaws", i, "outline"))
        if not overlaps(polygon, flaw_polygon):
            raise FileFormatError(
                source,
                join(place, "flaws", i, "outline"),
                f'the flaw "{flaw.kind}" lies outside the hide; move it onto the leather or remove it',
            )
        flaws.append(Flaw(flaw.kind, flaw.severity, ring))
    edges = []
    for i, ends in enumerate(model.straight_edges):
        edge = _segment(ends, source, join(place, "straight_edges", i))
        if not lies_on(polygon, *edge, within=STRAIGHT_EDGE_MM):
            raise FileFormatError(
                source,
                join(place, "straight_edges", i),
                f"does not lie along the outline (within {STRAIGHT_EDGE_MM:g} mm); "
                "give its two ends on the outline",
            )
        edges.append(edge)
    return Hide(
        name=model.name,
        outline=outline,
        cut=model.cut,
        weight_oz=_ounces(model.weight_oz, source, join(place, "weight_oz")),
        tannage=model.tannage,
        price=_price(model.price),
        straight_edges=tuple(edges),
        flaws=tuple(flaws),
        spine=None if model.spine is None else _segment(model.spine, source, join(place, "spine")),
        measured=_measured(model.measured, source, join(place, "measured")),
        ancestry=tuple(model.ancestry),
    )


def _segment(ends: list[list[float]], source: str, place: str) -> Segment:
    (x0, y0), (x1, y1) = ends
    if math.hypot(x1 - x0, y1 - y0) < 1e-6:
        raise FileFormatError(source, place, "has no length; give two different points")
    return (x0, y0), (x1, y1)


def _measured(model: _Measured | None, source: str, place: str) -> Measured | None:
    if model is None:
        return None
    pitch, offset = model.mat_pitch_mm, model.mat_offset_mm
    if (pitch is None) != (offset is None):
        missing = "mat_pitch_mm" if pitch is None else "mat_offset_mm"
        raise FileFormatError(
            source, join(place, missing), "is missing; the mat's pitch and offset go together"
        )
    return Measured(
        **model.model_dump(exclude={*_MAT, "view"}),
        mat_pitch_mm=None if pitch is None else (pitch[0], pitch[1]),
        mat_offset_mm=None if offset is None else (offset[0], offset[1]),
        view=_view(model.view, source, join(place, "view")),
    )


def _view(model: _View | None, source: str, place: str) -> View | None:
    if model is None:
        return None
    rows = [(a, b, c) for a, b, c in model.homography]
    (a, b, c), (d, e, f), (g, h, i) = rows
    if a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g) == 0.0:
        words = "makes a line of the plane; measure the hide again"
        raise FileFormatError(source, join(place, "homography"), words)
    return View((rows[0], rows[1], rows[2]), model.lens, (model.size[0], model.size[1]))


def _raw_measured(measured: Measured) -> dict[str, Any]:
    """The figures; the mat's where there was one, the view where it was kept."""
    data = dict(vars(measured))
    if (view := data.pop("view")) is not None:
        rows = [list(row) for row in view.homography]
        data["view"] = {"homography": rows, "lens": view.lens, "size": list(view.size)}
    for key in _MAT:
        if (pair := data.pop(key)) is not None:
            data[key] = list(pair)
    return data


def _ounces(pair: list[float] | None, source: str, place: str) -> tuple[float, float] | None:
    if pair is None:
        return None
    if pair[0] > pair[1]:
        raise FileFormatError(source, place, "the thinner comes first; swap the two numbers")
    return pair[0], pair[1]


def _price(model: _Price | None) -> Price | None:
    # Through the decimal text, so that 0.1 stays ten cents.
    return None if model is None else Price(Decimal(str(model.amount)), model.currency, model.basis)


def hide_to_json(hide: Hide) -> dict[str, Any]:
    """A hide as the object its file holds, keys in the contract's order; what is unknown is left out."""
    data: dict[str, Any] = {"kind": "hide", "version": 1, "name": hide.name, "cut": hide.cut}
    if hide.weight_oz is not None:
        data["weight_oz"] = list(hide.weight_oz)
    data |= {"tannage": hide.tannage, "unit": "mm"}
    if hide.price is not None:
        price = hide.price
        data["price"] = {"amount": float(price.amount), "currency": price.currency, "basis": price.basis}
    data["outline"] = raw_ring(hide.outline)
    data["straight_edges"] = [_raw_segment(edge) for edge in hide.straight_edges]
    data["flaws"] = [
        {"kind": flaw.kind, "severity": flaw.severity, "outline": raw_ring(flaw.outline)}
        for flaw in hide.flaws
    ]
    if hide.spine is not None:
        data["spine"] = _raw_segment(hide.spine)
    data["measured"] = None if hide.measured is None else _raw_measured(hide.measured)
    if hide.ancestry:
        data["ancestry"] = list(hide.ancestry)
    return data


def _raw_segment(segment: Segment) -> list[list[float]]:
    return [[rounded(x), rounded(y)] for x, y in segment]
