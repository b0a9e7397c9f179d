"""A comparison as the object that ``compare.json`` holds; money as numbers, to the cent."""

from __future__ import annotations

from dataclasses import asdict
from decimal import Decimal
from fractions import Fraction
from typing import Any

from nesting.compare.buying import HideSet
from nesting.compare.comparison import Comparison, PairSets
from nesting.compare.folders import LAYOUT, folders
from nesting.compare.outcome import Entry, Outcome, Placed, to_cents
from nesting.compare.typical import FLAW_LEVELS
from nesting.files.hide import Hide
from nesting.files.report import Cost


def compare_to_json(comparison: Comparison) -> dict[str, Any]:
    """The object of ``compare.json``, kind ``compare``, version 1.

    ``layout`` of an entry is its layout's file beside ``compare.json``; null where there is none to cut.
    """
    bounds = comparison.bounds
    return {
        "kind": "compare",
        "version": 1,
        "title": comparison.title,
        "amount": "as many as fit" if comparison.fill else "the order",
        "seed": comparison.seed,
        "bound": {"seconds": bounds.seconds} if bounds.rounds is None else {"rounds": bounds.rounds},
        "currency": comparison.currency,
        "entries": [
            {**_entry(entry), "layout": None if folder is None else f"{folder}/{LAYOUT}"}
            for entry, folder in zip(comparison.entries, folders(comparison.entries), strict=True)
        ],
        "best": [asdict(verdict) for verdict in comparison.best],
        "pairs": None if comparison.pairs is None else _pairs(comparison.pairs),
        "notes": list(comparison.notes),
    }


def _entry(entry: Entry) -> dict[str, Any]:
    hide, trial = entry.usual.hide, entry.trial
    levels = FLAW_LEVELS if trial.candidate.typical else ("as they are",)
    return {
        "hide": entry.name,
        "cut": hide.cut,
        "weight_oz": None if hide.weight_oz is None else list(hide.weight_oz),
        "price": _price(hide),
        "typical": trial.candidate.typical,
        "panels": list(trial.panels),
        "outside_weight": trial.outside,
        "left_out": list(trial.left_out),
        "whole": entry.whole,
        "unit": entry.unit,
        "outcomes": [_outcome(outcome, level) for outcome, level in zip(entry.outcomes, levels, strict=True)],
    }


def _price(hide: Hide) -> dict[str, Any] | None:
    if hide.price is None:
        return None
    return {
        "amount": float(hide.price.amount),
        "currency": hide.price.currency,
        "basis": hide.price.basis,
    }


def _outcome(outcome: Outcome, flaws: str) -> dict[str, Any]:
    return {
        "flaws": flaws,
        "pieces": outcome.pieces,
        "missing": outcome.missing,
        "areas_mm2": asdict(outcome.report.areas),
        "yield": asdict(outcome.report.yields),
        "price": _number(outcome.price),
        "leather": _number(outcome.leather),
        "leather_per_unit": _number(outcome.leather_per_unit),
        "panels": [_placed(placed) for placed in outcome.placed],
    }


def _placed(placed: Placed) -> dict[str, Any]:
    return {
        "panel": placed.panel,
        "pieces": placed.pieces,
        "pairs": placed.pieces // 2 if placed.paired else None,
        "missing": placed.missing,
        "cost_per_piece": _cost(placed.piece),
        "cost_per_pair": _cost(placed.pair),
    }


def _cost(cost: Cost | None) -> dict[str, float | None] | None:
    return None if cost is None else {name: _number(amount) for name, amount in vars(cost).items()}


def _pairs(pairs: PairSets) -> dict[str, Any]:
    numbers = range(pairs.first, pairs.last + 1)
    return {
        "panel": pairs.panel,
        "counts": "pairs" if pairs.paired else "pieces",
        "sets": [_set(n, found) for n, found in zip(numbers, pairs.sets, strict=True)],
        "at_best": [_set(n, found) for n, found in zip(numbers, pairs.at_best, strict=True)],
    }


def _set(number: int, found: HideSet | None) -> dict[str, Any]:
    if found is None:
        return {"for": number, "hides": None}
    return {
        "for": number,
        "hides": [{"hide": name, "count": count} for name, count in found.hides],
        "holds": found.holds,
        "price": _number(found.price),
        "area_mm2": found.area_mm2,
    }


def _number(amount: Decimal | Fraction | None) -> float | None:
    return None if amount is None else float(to_cents(amount))
