"""A plain ground, on hand-made masks and pictures."""

from __future__ import annotations

import numpy as np
import pytest

from nesting.capture.camera import Camera, image_frame
from nesting.capture.ground import Ground, refuse_out_of_ground, segment_on_ground, tongues_cut
from nesting.capture.trust import ring_area
from nesting.capture.undecided import FAINT
from nesting.errors import CaptureRefused

WIDTH, HEIGHT = 700, 520


def camera() -> Camera:
    """From straight above, 1 px a mm; the picture's middle is the origin, y up."""
    centre, unit = image_frame((WIDTH, HEIGHT))
    return Camera(np.diag([1 / unit, -1 / unit, 1.0]), 0.0, "brown", centre, unit)


GREY, BROWN = (150.0, 150.0, 150.0), (40.0, 70.0, 120.0)
WOOD, NATURAL = (100.0, 130.0, 160.0), (94.0, 130.0, 163.0)
"""Blue, green, red. The latter two are equally light."""


def picture(
    seams: bool = False, ground: tuple[float, ...] = GREY, leather: tuple[float, ...] = BROWN
) -> np.ndarray:
    """A ground, brighter to the right, with a sheet of 300 x 200 mm in its middle."""
    rng = np.random.default_rng(3)
    shade = np.linspace(0.8, 1.1, WIDTH)[None, :, None]
    image = np.tile(ground, (HEIGHT, WIDTH, 1)) * shade
    if seams:
        image[30::60] *= 0.3
        image[31::60] *= 0.3
    x, y = np.meshgrid(np.arange(WIDTH) - (WIDTH - 1) / 2, np.arange(HEIGHT) - (HEIGHT - 1) / 2)
    inside = (np.abs(x) < 150) & (np.abs(y) < 100)
    image[inside] = (np.array(leather) * shade)[0, np.nonzero(inside)[1]]
    return np.clip(image + rng.normal(0, 2, image.shape), 0, 255).astype(np.uint8)


def region(half_x: float = 320.0, half_y: float = 230.0) -> Ground:
    return Ground(np.array([[-half_x, -half_y], [half_x, -half_y], [half_x, half_y], [-half_x, half_y]]))


@pytest.mark.parametrize("seams", [False, True])
def test_a_sheet_on_a_ground_of_uneven_light_and_with_joints(seams: bool) -> None:
    found = segment_on_ground(picture(seams), camera(), region())
    assert ring_area(found.outline) == pytest.approx(300 * 200, rel=0.004)
    # Where a joint as dark as the leather meets it, a spike as thin as the joint may stay, up to 6 px long.
    assert np.abs(found.outline).max(axis=0) == pytest.approx([150, 100], abs=6.0 if seams else 1.0)


def test_hue_alone_tells_natural_leather_from_wood() -> None:
    """Nowhere along the edge is it faint, as it would be beside ruled lines, where hue is distrusted."""
    found = segment_on_ground(picture(ground=WOOD, leather=NATURAL), camera(), region())
    assert ring_area(found.outline) == pytest.approx(300 * 200, rel=0.004)
    assert found.separation.min() > 2 * FAINT


def test_a_bare_ground_is_refused() -> None:
    image = picture()
    with pytest.raises(CaptureRefused, match="no hide was found"):
        segment_on_ground(np.repeat(image[:40], 13, axis=0), camera(), region())


@pytest.mark.parametrize("half", [147.0, 130.0])
def test_a_hide_that_runs_out_of_the_region_is_refused(half: float) -> None:
    ground = region(half_x=half)
    with pytest.raises(CaptureRefused, match=r"out of the ground|stands off the ground all"):
        refuse_out_of_ground(segment_on_ground(picture(), camera(), ground), ground, "the four corners")


def test_paper_beside_the_leather_is_refused() -> None:
    paper = np.array([[140.0, -40.0], [250.0, -40.0], [250.0, 40.0], [140.0, 40.0]])
    ground = Ground(region().region, (paper,))
    with pytest.raises(CaptureRefused, match="touches a sheet of paper"):
        refuse_out_of_ground(segment_on_ground(picture(), camera(), ground), ground, "the target sheets")


def test_tongues_are_cut_and_corners_stay() -> None:
    mask = np.zeros((100, 140), np.uint8)
    mask[20:80, 20:80] = 1
    square = mask.copy()
    mask[48:52, 80:130] = 1
    cut = tongues_cut(mask, 4.0)
    assert cut[:, 90:].sum() == 0
    assert (cut & square).sum() == square.sum()
