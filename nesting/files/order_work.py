"""The ``[work]`` of an order file: how long the steps of a job take at this bench."""

from __future__ import annotations

from nesting.files.boundary import Amount, Strict
from nesting.files.order import STEPS, Step, StepTime


class _StepTime(Strict):
    """``{minutes = 3, wait_hours = 12}``."""

    minutes: Amount | None = None
    wait_hours: Amount | None = None


class WorkModel(Strict):
    """The fields of ``[work]``, one a step; each is optional."""

    mark: _StepTime | None = None
    punch: _StepTime | None = None
    cut: _StepTime | None = None
    line: _StepTime | None = None
    edge: _StepTime | None = None
    dye: _StepTime | None = None
    antique: _StepTime | None = None
    finish: _StepTime | None = None
    lace: _StepTime | None = None
    hardware: _StepTime | None = None
    check: _StepTime | None = None


def work_of(model: WorkModel) -> tuple[tuple[Step, StepTime], ...]:
    """The steps that the order says something about."""
    found = [(step, getattr(model, step)) for step in STEPS]
    return tuple((step, StepTime(time.minutes, time.wait_hours)) for step, time in found if time is not None)
