"""The kernels once more: as plain Python, and compiled with every index checked."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
SEARCH = (
    "import warnings; warnings.simplefilter('ignore');"  # the generator's products of 64 bits wrap on purpose
    "from nesting.packing import leaving; leaving.LAYER_NODES = 300;"
    "from nesting.packing.warm import warm_up; warm_up()"
)


def run(arguments: list[str], cache: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """A fresh interpreter with a compiled cache of its own: a cached kernel keeps the mode it was made in."""
    return subprocess.run(
        [sys.executable, *arguments],
        env={**os.environ, "NUMBA_CACHE_DIR": str(cache), "KERNEL_EXAMPLES": "6", **environment},
        cwd=HERE.parent.parent, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip


def pytest_of(name: str, chosen: str) -> list[str]:
    return ["-m", "pytest", "-p", "no:cacheprovider", str(HERE / name), "-k", chosen]


def test_twins_as_plain_python(tmp_path: Path) -> None:
    done = run(pytest_of("test_kernels.py", "not circles"), tmp_path, NUMBA_DISABLE_JIT="1")
    assert done.returncode == 0, done.stdout
    assert not list(tmp_path.rglob("*.nbi")), "something was compiled after all"


def test_compaction_as_plain_python(tmp_path: Path) -> None:
    done = run(pytest_of("test_compact.py", "not squeeze and not rough"), tmp_path, NUMBA_DISABLE_JIT="1")
    assert done.returncode == 0, done.stdout


def test_leaving_as_plain_python(tmp_path: Path) -> None:
    done = run(pytest_of("test_leaving.py", "part or bounding"), tmp_path, NUMBA_DISABLE_JIT="1")
    assert done.returncode == 0, done.stdout


def test_gradients_as_plain_python(tmp_path: Path) -> None:
    done = run(pytest_of("test_gradients.py", "a_depth or crease"), tmp_path, NUMBA_DISABLE_JIT="1")
    assert done.returncode == 0, done.stdout


def test_a_whole_search_as_plain_python(tmp_path: Path) -> None:
    """Every kernel of the search runs; an index beyond its array raises IndexError there too."""
    done = run(["-c", SEARCH], tmp_path, NUMBA_DISABLE_JIT="1")
    assert done.returncode == 0, done.stderr


def test_losses_with_bounds_checked(tmp_path: Path) -> None:
    """All geometry of a placed and of a trial piece, compiled; a stray index raises IndexError."""
    checked = {
        "NUMBA_BOUNDSCHECK": "1",
        "NUMBA_OPT": "1",
    }  # little optimised: the compiler takes half the time
    done = run(pytest_of("test_pairs.py", "jaws"), tmp_path, **checked)
    assert done.returncode == 0, done.stdout
    assert list(tmp_path.rglob("*.nbi")), "nothing was compiled"
