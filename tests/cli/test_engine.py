"""The engine made ready: a word when it takes long, and Ctrl-C heard whatever a library makes of it."""

from __future__ import annotations

import contextlib
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from cli.engine import interrupt_told, said_if_slow
from cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_hides"


@pytest.fixture(autouse=True)
def heard() -> Iterator[None]:
    """Ctrl-C as in the foreground, wherever the tests run."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def dropped() -> None:
    with contextlib.suppress(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


def turned_into_another() -> None:
    try:
        signal.raise_signal(signal.SIGINT)
    except KeyboardInterrupt:
        raise RuntimeError("no compiled object yet") from None


def passed_on() -> None:
    signal.raise_signal(signal.SIGINT)


def test_a_quick_start_says_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    with said_if_slow("preparing", after=60.0):
        pass
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("block", [dropped, turned_into_another, passed_on])
def test_an_interrupt_comes_out(block: Callable[[], None]) -> None:
    with pytest.raises(KeyboardInterrupt), interrupt_told():
        block()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_another_error_stays_what_it_is() -> None:
    with pytest.raises(RuntimeError, match="of its own"), interrupt_told():
        raise RuntimeError("of its own")
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_an_ignored_interrupt_stays_ignored() -> None:
    """As in the background of a shell."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with interrupt_told():
        signal.raise_signal(signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN


@pytest.mark.parametrize("warm_up", [dropped, turned_into_another, passed_on])
def test_stopped_while_the_engine_is_made_ready(
    warm_up: Callable[[], None],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("nesting.packing.warm.warm_up", warm_up)
    words = ["layout", str(SAMPLES / "half-chaps.toml"), "--out", str(tmp_path / "out")]
    monkeypatch.setattr(sys, "argv", ["hidewright", *words])
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 130
    assert capsys.readouterr().err == "hidewright: stopped\n"
    assert not (tmp_path / "out").exists()
