"""Small rendered photographs for the tests of this room; the renderer shares no code with the measurement."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from benchmarks.render import render_to  # noqa: E402
from benchmarks.scenes import Scene, Stroke, fit_camera  # noqa: E402
from benchmarks.shapes import hide_outline, loop, polygon_area  # noqa: E402


@dataclass(frozen=True)
class Rendered:
    """A photograph on disk with the scene it shows."""

    path: Path
    scene: Scene

    @property
    def area(self) -> float:
        return polygon_area(self.scene.outline)


def small_scene(**changes: object) -> Scene:
    """A piece of 6 dm² in 2.4 megapixels, with fields changed as asked."""
    rng = np.random.default_rng(5)
    outline = hide_outline("bend", 6.0e4, 0.5, True, rng)
    scene = Scene(
        seed=5,
        width=1800,
        height=1352,
        pitch=10.0,
        bold_every=5,
        outline=outline,
        line_width=0.5,
        bold_width=1.0,
        distance=500.0,
        thickness=1.5,
        blur=0.6,
        contact_sigma=2.0,
        tilt=9.0,
        azimuth=40.0,
        quality=90,
        holes=(loop(np.array([60.0, -20.0]), 8.0, rng),),
        strokes=(
            Stroke(loop(np.array([-70.0, 0.0]), 20.0, rng), "blue", 1.6),
            Stroke(loop(np.array([0.0, 20.0]), 16.0, rng), "red", 1.6, gap=0.04),
        ),
    )
    return fit_camera(replace(scene, **changes), 0.09, rng)  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Rendered:
    """Natural leather on a green mat with light lines."""
    scene = small_scene()
    stem = tmp_path_factory.mktemp("photo") / "plain"
    render_to(scene, stem)
    return Rendered(stem.with_name("plain.jpg"), scene)


@pytest.fixture
def render(tmp_path: Path):  # type: ignore[no-untyped-def]
    """Render a changed small scene."""

    def make(scene: Scene) -> Rendered:
        render_to(scene, tmp_path / "scene")
        return Rendered(tmp_path / "scene.jpg", scene)

    return make
