"""The public names: a list that does not change by accident, and every listed name is there."""

from __future__ import annotations

import importlib
import pkgutil
import subprocess
import sys

import pytest

import nesting

PUBLIC = ["assert_layout_valid", "faults"]
MODULES = sorted(module.name for module in pkgutil.walk_packages(nesting.__path__, "nesting."))


def test_the_list() -> None:
    assert sorted(nesting.__all__) == PUBLIC
    assert set(PUBLIC) <= set(dir(nesting))


@pytest.mark.parametrize("name", PUBLIC)
def test_public_things_say_what_they_are(name: str) -> None:
    thing = getattr(nesting, name)
    assert callable(thing)
    assert thing.__doc__


def test_other_names_are_not_there() -> None:
    with pytest.raises(AttributeError, match="no attribute 'layout_everything'"):
        _ = nesting.layout_everything


@pytest.mark.parametrize("module", MODULES)
def test_every_listed_name_of_every_room_is_there(module: str) -> None:
    loaded = importlib.import_module(module)
    assert loaded.__doc__ or not loaded.__dict__.get("__all__")
    listed = getattr(loaded, "__all__", [])
    assert [name for name in listed if not hasattr(loaded, name)] == []
    assert len(set(listed)) == len(listed)


def test_importing_the_library_is_cheap() -> None:
    heavy = "{'pydantic', 'shapely', 'scipy', 'cv2', 'numba', 'matplotlib', 'ezdxf', 'reportlab', 'numpy'}"
    code = f"import sys, nesting; print({heavy} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"
