"""Kills at every step of entering a cut, and several processes at one shelf: all of it or nothing.

A kill is tried at each call by which the program changes the folder, before it and after it. That is
done twice: by an exception that no code of the program catches, and by a signal to a real process.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from shelf_bench import DAY, hide, make_shelf, one_cut, state

from nesting.errors import InputError
from nesting.files.hide_file import write_hide
from nesting.files.layout_file import write_layout
from nesting.shelf import keep_layout, open_shelf
from nesting.shelf.change import UNFINISHED
from nesting.shelf.lock import locked

ONE, TWO = hide("shoulder-04"), hide("shoulder-05")
CHANGING = ("replace", "unlink", "mkdir", "open", "fsync", "rename", "remove")


class Killed(BaseException):
    """Like a kill: nothing in the program catches it."""


def watch(monkeypatch: pytest.MonkeyPatch, strike: Callable[[str], None]) -> None:
    """Call ``strike`` before and after each call of the system that may change the folder."""

    def watched(name: str) -> Any:
        real = getattr(os, name)

        def call(*arguments: Any, **rest: Any) -> Any:
            strike(f"before {name}")
            result = real(*arguments, **rest)
            strike(f"after {name}")
            return result

        return call

    for name in CHANGING:
        monkeypatch.setattr(os, name, watched(name))


def steps(tmp_path: Path) -> int:
    """How many moments there are at which a cut can be killed."""
    folder, seen = make_shelf(tmp_path / "count", [ONE, TWO]), [0]
    with pytest.MonkeyPatch.context() as patch:

        def count(_: str) -> None:
            seen[0] += 1

        watch(patch, count)
        keep_layout(one_cut(ONE), folder, DAY)
    return seen[0]


def killed_at(folder: Path, moment: int, strike: Callable[[], None]) -> None:
    with pytest.MonkeyPatch.context() as patch:
        left = [moment]

        def count(_: str) -> None:
            left[0] -= 1
            if left[0] == 0:
                strike()

        watch(patch, count)
        keep_layout(one_cut(ONE), folder, DAY)


def before_and_after(tmp_path: Path) -> tuple[dict[str, bytes], dict[str, bytes]]:
    folder = make_shelf(tmp_path / "reference", [ONE, TWO])
    before = state(folder)
    keep_layout(one_cut(ONE), folder, DAY)
    return before, state(folder)


def test_a_kill_at_any_moment_leaves_before_or_after(tmp_path: Path) -> None:
    before, after = before_and_after(tmp_path)
    moments = steps(tmp_path)
    assert moments >= 20
    outcomes = []

    def kill() -> None:
        raise Killed

    for moment in range(1, moments + 1):
        folder = make_shelf(tmp_path / f"at-{moment}", [ONE, TWO])
        with pytest.raises(Killed):
            killed_at(folder, moment, kill)
        # Decided or not is one file's being there: without it, nothing was touched.
        if not (folder / UNFINISHED).exists():
            files = {name: text for name, text in state(folder).items() if not name.endswith(".part")}
            assert files in (before, after)
        found = open_shelf(folder)
        outcomes.append(state(folder) == after)
        assert state(folder) in (before, after), moment
        assert len(found.journal) == outcomes[-1]
        # Whatever it is, the cut can be entered exactly once.
        if outcomes[-1]:
            with pytest.raises(InputError, match="was cut on"):
                keep_layout(one_cut(ONE), folder, DAY)
        else:
            keep_layout(one_cut(ONE), folder, DAY)
        assert state(folder) == after
    # Once decided, for good: first all before, then all after.
    assert outcomes == sorted(outcomes)
    assert {False, True} == set(outcomes)


def test_a_kill_while_a_broken_off_cut_is_entered(tmp_path: Path) -> None:
    """Killed in the middle, and again at each moment of the finishing: the third opening ends it."""
    _, after = before_and_after(tmp_path)

    def kill() -> None:
        raise Killed

    for moment in range(1, 60):
        folder = make_shelf(tmp_path / f"at-{moment}", [ONE, TWO])
        with pytest.raises(Killed):
            killed_at(folder, 11, kill)
        assert (folder / UNFINISHED).exists()
        with pytest.MonkeyPatch.context() as patch:
            left = [moment]

            def count(_: str, left: list[int] = left) -> None:
                left[0] -= 1
                if left[0] == 0:
                    raise Killed

            watch(patch, count)
            try:
                open_shelf(folder)
            except Killed:
                finished = False
            else:
                finished = True
        open_shelf(folder)
        assert state(folder) == after
        if finished:
            return
    pytest.fail("the finishing never came to its end")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_real_kills(tmp_path: Path) -> None:
    before, after = before_and_after(tmp_path)
    moments = steps(tmp_path)
    for moment in range(1, moments + 1, 3):
        folder = make_shelf(tmp_path / f"at-{moment}", [ONE, TWO])
        with warnings.catch_warnings():
            # Newer Pythons warn of threads (here those of a linear algebra library, at rest).
            warnings.simplefilter("ignore", DeprecationWarning)
            child = os.fork()
        if child == 0:
            killed_at(folder, moment, lambda: os.kill(os.getpid(), signal.SIGKILL))
            os._exit(0)
        _, status = os.waitpid(child, 0)
        assert os.WIFSIGNALED(status)
        open_shelf(folder)
        assert state(folder) in (before, after)


def test_an_error_while_entering_leaves_it_decided(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk after the decision: the next command enters the rest, and says so."""
    folder = make_shelf(tmp_path / "shelf", [ONE, TWO])
    real = os.replace

    def full(source: Any, target: Any) -> None:
        if str(target).endswith("-r1.hide.json"):
            raise OSError(28, "No space left on device")
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", full)
        with pytest.raises(InputError, match="No space left"):
            keep_layout(one_cut(ONE), folder, DAY)
    found = open_shelf(folder)
    assert found.finished is not None
    assert found.finished.title == "Aprons"
    assert [one.hide.name for one in found.hides] == ["shoulder-04-r1", "shoulder-05"]
    assert open_shelf(folder).finished is None


def decided_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shelf on which a cut was decided, and nothing more was done."""
    folder = make_shelf(tmp_path / "shelf", [ONE, TWO])

    def kill(*_: Any) -> None:
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr("nesting.shelf.change._leave", kill)
        with pytest.raises(Killed):
            keep_layout(one_cut(ONE), folder, DAY)
    return folder


def test_the_next_cut_enters_the_broken_off_one_first(tmp_path: Path, monkeypatch: Any) -> None:
    folder = decided_only(tmp_path, monkeypatch)
    kept = keep_layout(one_cut(TWO, "More"), folder, DAY)
    assert kept.finished is not None
    assert kept.finished.title == "Aprons"
    assert [one.hide.name for one in open_shelf(folder).hides] == ["shoulder-04-r1", "shoulder-05-r1"]


def test_the_same_cut_again_after_a_kill(tmp_path: Path, monkeypatch: Any) -> None:
    folder = decided_only(tmp_path, monkeypatch)
    with pytest.raises(InputError, match="broken off then, and is finished now"):
        keep_layout(one_cut(ONE), folder, DAY)


def test_a_file_in_the_remnants_place_is_not_written_over(tmp_path: Path, monkeypatch: Any) -> None:
    folder = decided_only(tmp_path, monkeypatch)
    mine = folder / "shoulder-04-r1.hide.json"
    write_hide(mine, hide("mine"))
    with pytest.raises(InputError, match="move it away"):
        open_shelf(folder)
    mine.rename(folder / "mine.hide.json")
    assert len(open_shelf(folder).hides) == 3


def test_an_unfinished_file_may_not_reach_out_of_the_shelf(tmp_path: Path, monkeypatch: Any) -> None:
    folder = decided_only(tmp_path, monkeypatch)
    path, good = folder / UNFINISHED, (folder / UNFINISHED).read_text()
    path.write_text(good.replace('"shoulder-04.hide.json"', '"../shelf/shoulder-04.hide.json"', 1))
    assert path.read_text() != good
    with pytest.raises(InputError, match="without a folder"):
        open_shelf(folder)
    path.write_text(good)
    open_shelf(folder)


# --- several at once ---------------------------------------------------------------------------


def test_one_waits_for_the_other(tmp_path: Path) -> None:
    folder = make_shelf(tmp_path / "shelf", [ONE])
    with (
        locked(folder),
        pytest.raises(InputError, match="another command is at this shelf"),
        locked(folder, 0.1),
    ):
        pass
    with locked(folder, 0.1):
        pass


def test_a_lock_file_that_is_none(tmp_path: Path) -> None:
    folder = make_shelf(tmp_path / "shelf", [ONE])
    (folder / ".shelf-lock").write_text("no database\n" * 100)
    with pytest.raises(InputError, match="remove the file"):
        open_shelf(folder)


@pytest.fixture
def processes() -> Iterator[Callable[..., subprocess.Popen[str]]]:
    started: list[subprocess.Popen[str]] = []

    def start(*words: object) -> subprocess.Popen[str]:
        command = [sys.executable, "-c", "from cli.main import main; main()", *map(str, words)]
        started.append(subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True))
        return started[-1]

    yield start
    for process in started:
        process.kill()
        process.communicate()


def test_the_lock_of_a_killed_process_is_free(tmp_path: Path) -> None:
    folder = make_shelf(tmp_path / "shelf", [ONE])
    code = (
        "import sys, time; from pathlib import Path; from nesting.shelf.lock import locked\n"
        "with locked(Path(sys.argv[1])): print('held', flush=True); time.sleep(60)"
    )
    holder = subprocess.Popen([sys.executable, "-c", code, str(folder)], stdout=subprocess.PIPE, text=True)
    assert holder.stdout
    assert holder.stdout.readline() == "held\n"
    with pytest.raises(InputError, match="another command"), locked(folder, 0.1):
        pass
    holder.kill()
    holder.communicate()
    with locked(folder, 5):
        pass


def test_who_made_the_lock_file_takes_it_away(tmp_path: Path) -> None:
    """Four processes that take the lock file away each time: never two of them inside."""
    code = (
        "import os, sys; from pathlib import Path; from nesting.shelf.lock import locked\n"
        "folder = Path(sys.argv[1])\n"
        "for _ in range(60):\n"
        "    with locked(folder, 60):\n"
        "        os.close(os.open(folder / 'inside', os.O_CREAT | os.O_EXCL))\n"
        "        (folder / 'inside').unlink()\n"
    )
    running = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stderr=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    said = [process.communicate(timeout=120)[1] for process in running]
    assert [process.returncode for process in running] == [0, 0, 0, 0], said
    assert list(tmp_path.iterdir()) == []
    (tmp_path / ".shelf-lock").touch()
    with locked(tmp_path):
        pass
    assert (tmp_path / ".shelf-lock").exists()


def test_processes_at_one_shelf_lose_no_hide(tmp_path: Path, processes: Any) -> None:
    """Three layouts on three hides, each kept by two processes, all let go at once."""
    hides = [hide(f"shoulder-0{i}") for i in range(3)]
    folder = make_shelf(tmp_path / "shelf", hides)
    for i, one in enumerate(hides):
        write_layout(tmp_path / f"{i}.json", one_cut(one, f"Aprons {i}"))
    with locked(folder):
        running = [
            processes("keep", tmp_path / f"{i}.json", "--shelf", folder, "--date", "2026-03-31")
            for i in (0, 1, 2, 0, 1, 2)
        ]
        time.sleep(2)  # they start meanwhile; the test holds without it, too
    said = [process.communicate(timeout=60) for process in running]
    codes = [process.returncode for process in running]
    assert sorted(codes[i] + codes[i + 3] for i in range(3)) == [1, 1, 1]
    assert all("was cut on" in err for (_, err), code in zip(said, codes, strict=True) if code)
    found = open_shelf(folder)
    assert [one.hide.name for one in found.hides] == [f"shoulder-0{i}-r1" for i in range(3)]
    assert sorted(cut.title for cut in found.journal) == [f"Aprons {i}" for i in range(3)]
    assert len(list((folder / "cut").iterdir())) == 3
