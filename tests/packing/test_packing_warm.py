"""Once warm, a search compiles nothing more: its clock is not spent on the compiler."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLES = Path(__file__).parent.parent.parent / "sample_hides"
CODE = """
import sys
from pathlib import Path
from nesting.files.order_file import read_order
from nesting.packing import kernels
from nesting.packing.stop import never
from nesting.packing.warm import warm_up
from nesting.planning.plan import improving_layouts

def compiled():
    found = vars(kernels).items()
    return {name: len(kernel.signatures) for name, kernel in found if hasattr(kernel, "signatures")}

warm_up()
before = compiled()
for name, rounds in (("fobs", 6), ("half-chaps", 30)):
    layouts = improving_layouts(read_order(Path(sys.argv[1]) / f"{name}.toml"), 1, never)
    for _ in zip(range(rounds), layouts):
        pass
print(any(before.values()), {name: count for name, count in compiled().items() if count != before[name]})
"""


@pytest.mark.skipif(os.environ.get("NUMBA_DISABLE_JIT") == "1", reason="nothing is compiled")
def test_a_search_after_it_compiles_nothing() -> None:
    # In a process of its own: what other tests have compiled would hide what the warm-up leaves out.
    done = subprocess.run([sys.executable, "-c", CODE, SAMPLES], capture_output=True, text=True, check=True)
    assert done.stdout.split(maxsplit=1) == ["True", "{}\n"]
