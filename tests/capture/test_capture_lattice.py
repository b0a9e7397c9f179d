"""Finding the ruled lines, on hand-made arrays; the traps of bold, thick and faint lines."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from nesting.capture.grid_cells import cells
from nesting.capture.lattice import grow
from nesting.capture.measure import find_lattice
from nesting.capture.seeds import find_seeds, oriented
from nesting.errors import CaptureRefused

PITCH = 34.0


def ruled(
    thin: float = 60.0, bold: float = 110.0, every: int = 5, bold_width: float = 3.0, noise: float = 3.0
) -> np.ndarray:
    """A flat grey mat seen straight from above, 900 × 700, lines every 34 px from (17, 20), as bytes BGR."""
    y, x = np.mgrid[0:700, 0:900].astype(float)
    image = np.full((700, 900), 70.0)
    for value, start in ((x, 17.0), (y, 20.0)):
        index = np.round((value - start) / PITCH)
        away = np.abs(value - start - index * PITCH)
        is_bold = np.mod(index, every) == 0
        half = np.where(is_bold, bold_width, 1.2) / 2
        cover = np.clip(half - away + 0.5, 0, 1)
        image = np.maximum(image, 70 + np.where(is_bold, bold, thin) * cover)
    image += np.random.default_rng(3).normal(0, noise, image.shape)
    return np.repeat(np.clip(image, 0, 255).astype(np.uint8)[..., None], 3, axis=2)


def lattice_of(image: np.ndarray):  # type: ignore[no-untyped-def]
    return find_lattice(SimpleNamespace(image=image))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "kind", ["bold every fifth", "thick with two edges", "dark lines", "faint thin lines"]
)
def test_every_line_counts_once(kind: str) -> None:
    image = {
        "bold every fifth": lambda: ruled(),
        "thick with two edges": lambda: ruled(bold_width=9.0),
        "dark lines": lambda: 200 - ruled(noise=1.0) // 2,
        "faint thin lines": lambda: ruled(thin=14.0, bold=150.0, noise=2.0),
    }[kind]()
    lattice = lattice_of(image)
    u, v = lattice.camera.steps(np.array([[3.0, 3.0]]))
    assert np.hypot(*u[0]) == pytest.approx(PITCH, abs=0.05)
    assert np.hypot(*v[0]) == pytest.approx(PITCH, abs=0.05)
    # Every accepted point lies on a true intersection, to a twentieth of a pixel on average.
    off = (lattice.points - [17.0, 20.0]) / PITCH
    assert np.abs(off - np.round(off)).mean() * PITCH < 0.12
    assert len(lattice.labels) > 350


def test_labels_run_right_and_up() -> None:
    lattice = lattice_of(ruled())
    u, v = lattice.camera.steps(np.zeros((1, 2)))
    assert u[0][0] > 30
    assert v[0][1] < -30
    assert oriented(np.array([0.0, 5.0]), np.array([-7.0, 0.0]))[0].tolist() == [7.0, 0.0]


def test_covered_cells_are_known() -> None:
    image = ruled()
    image[250:450, 300:600] = 120
    lattice = lattice_of(image)
    mat, covered = cells(lattice)
    centres = (np.argwhere(covered) + np.array(lattice.low) + 0.5).astype(float)
    pixels = lattice.camera.project(centres)
    assert 25 <= covered.sum() <= 45
    assert (pixels > [300, 250]).all()
    assert (pixels < [600, 450]).all()
    assert not (mat & covered).any()


@pytest.mark.parametrize("kind", ["noise", "flat", "stripes"])
def test_no_grid_is_refused(kind: str) -> None:
    rng = np.random.default_rng(2)
    image = {
        "noise": lambda: rng.integers(0, 255, (600, 800)),
        "flat": lambda: np.full((600, 800), 128),
        "stripes": lambda: np.broadcast_to(60 + 120 * (np.arange(800) % 30 < 3), (600, 800)),
    }[kind]()
    with pytest.raises(CaptureRefused, match="no ruled grid"):
        lattice_of(np.repeat(image.astype(np.uint8)[..., None], 3, axis=2))


def test_a_seed_on_nothing_leads_nowhere() -> None:
    image = ruled()[..., 0].astype(np.float32)
    seed = next(find_seeds(image))
    assert grow(np.full_like(image, 90.0), seed) is None
