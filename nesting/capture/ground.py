"""The leather's outline on a plain ground: a table, a floor, a sheet of board.

No ruled lines say what is ground. Its colour is learned along the border of the region between the points
of known place, with its own texture and in shadows; the largest patch inside that is unlike it is the hide.
From there on the edge is placed as on a mat.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.capture.camera import Camera
from nesting.capture.colours import SORTING, leather_share, robust_mean, smoothed, to_linear
from nesting.capture.edge import place_edge
from nesting.capture.learning import learn
from nesting.capture.masks import hide_mask, notches_closed
from nesting.capture.outline import Segmented
from nesting.capture.plan import (
    Plan,
    image_positions,
    local_scale,
    plan_around,
    plan_image,
    resampled,
    transferred,
)
from nesting.capture.ruling import no_ruling
from nesting.capture.trust import cut_length
from nesting.errors import CaptureRefused

Points = NDArray[np.float64]
Floats = NDArray[np.float32]
Mask = NDArray[np.uint8]

COARSE_PIXELS = 1.2e6
UNLIKE = 22.0
"""Squared distance from the ground's colours that makes a pixel no ground: for three channels that vary
normally, one pixel in 15 000."""
BORDER_SHARE = 0.035
"""Of the region's size: the width of its border that is taken for ground at first."""
CLEAR_MM = 4.0
TONGUE_MM = 2.5
LEAST_MM2 = 2500.0
WIDE_PX = 2.0
PLAIN = replace(SORTING, cast=0.0)
"""Leather on wood differs by little else than hue, and there are no ruled lines to bend a file's colours."""


@dataclass(frozen=True)
class Ground:
    """Where ground may show: within ``region`` (n, 2) mm and outside of every one of ``papers``."""

    region: Points
    papers: tuple[Points, ...] = ()


def segment_on_ground(photo: NDArray[np.uint8], camera: Camera, ground: Ground) -> Segmented:
    """The hide on a plain ground; ``camera`` takes mm to px. Raises CaptureRefused where there is none."""
    coarse = _coarse(photo, camera, ground)
    rows, columns = np.nonzero(coarse.mask)
    ends = np.column_stack(([columns.min(), columns.max()], [rows.max(), rows.min()]))
    box = coarse.plan.to_mm(ends.astype(float))
    scale = float(local_scale(camera, 1.0, box.mean(axis=0)[None])[0])
    plan = plan_around(box[0] - 22.0, box[1] + 22.0, scale)
    return _fine(photo, camera, ground, plan, coarse)


def refuse_out_of_ground(segmented: Segmented, ground: Ground, what: str) -> None:
    """Raise CaptureRefused where the outline runs into paper, out of the picture or out of the region.

    ``what`` names the points of known place ("the target sheets").
    """
    if cut_length(segmented) < 3.0:
        return
    for paper in ground.papers:
        away = min(float(np.hypot(*(segmented.outline - p).T).min()) for p in _walk(paper))
        if away < 6.0:
            raise CaptureRefused(
                "the hide touches a sheet of paper or lies so close to it that its edge "
                "cannot be told; lay every sheet a hand's breadth away from the leather"
            )
    raise CaptureRefused(
        f"the hide reaches out of the ground between {what}, or out of the picture; "
        f"lay it wholly between {what} and photograph all of it, with bare ground around it"
    )


def _walk(ring: Points) -> Points:
    """Points about every 2 mm along a ring (n, 2)."""
    following = np.roll(ring, -1, axis=0)
    return np.vstack(
        [np.linspace(a, b, max(2, int(np.hypot(*(b - a)) / 2))) for a, b in zip(ring, following, strict=True)]
    )


def _sure(plan: Plan, camera: Camera, ground: Ground, size: tuple[int, int]) -> Mask:
    """Where the plan shows the ground or what lies on it: in the region and the picture, not on paper."""
    inside = cv.fill_polygons(plan.shape, [plan.to_pixels(ground.region)])
    if ground.papers:
        papers = cv.fill_polygons(plan.shape, [plan.to_pixels(p) for p in ground.papers])
        inside &= 1 - cv.dilate(papers, 3.0 * plan.scale)
    x, y = image_positions(plan, camera, 1.0)
    seen = (x > 2) & (y > 2) & (x < size[0] - 3) & (y < size[1] - 3)
    return np.asarray(inside & seen, np.uint8)


def _coarse(photo: NDArray[np.uint8], camera: Camera, ground: Ground) -> Segmented:
    plan = plan_around(ground.region.min(axis=0), ground.region.max(axis=0), 1.0, COARSE_PIXELS)
    image = plan_image(photo, plan, camera, 1.0)
    sure = _sure(plan, camera, ground, (photo.shape[1], photo.shape[0]))
    linear = cv.blur(to_linear(image), 1.0)
    hide = _unlike(linear, sure, plan.scale)
    # Once more with the colours of all the ground that was told, not only of the border.
    mat = (cv.dilate(hide, 8.0 * plan.scale) == 0) & (sure > 0)
    leather = cv.erode(hide, 6.0 * plan.scale) > 0
    leather = leather if leather.sum() > 0.3 * hide.sum() else hide > 0
    sigmas = tuple(s * plan.scale for s in (30.0, 100.0, 400.0))
    return _placed(image, plan, mat, leather, sure, sigmas, hide)


def _fine(
    photo: NDArray[np.uint8], camera: Camera, ground: Ground, plan: Plan, coarse: Segmented
) -> Segmented:
    image = plan_image(photo, plan, camera, 1.0)
    mask = transferred(coarse.mask, coarse.plan, plan)
    share = resampled(coarse.share, coarse.plan, plan)
    sure = _sure(plan, camera, ground, (photo.shape[1], photo.shape[0]))
    mat = (cv.distance(1 - mask) > CLEAR_MM * plan.scale) & (sure > 0) & (share < 0.35)
    leather = (cv.distance(mask) > CLEAR_MM * plan.scale) & (share > 0.65)
    sigmas = tuple(s * plan.scale for s in (7.0, 25.0, 100.0))
    return _placed(image, plan, mat, leather, sure, sigmas, mask)


def _placed(
    image: NDArray[np.uint8], plan: Plan, mat: NDArray[np.bool_], leather: NDArray[np.bool_], sure: Mask,
    sigmas: tuple[float, ...], like: Mask,
) -> Segmented:  # fmt: skip
    if mat.sum() < 100 or leather.sum() < 100:
        raise CaptureRefused(_NOTHING)
    linear = cv.blur(to_linear(image), 0.7)
    bare = np.zeros(plan.shape, bool)
    fields = learn(linear, plan, mat, leather, bare, sigmas)
    share, trust = leather_share(linear, fields, bare, PLAIN)
    smooth = smoothed(share, trust, 1.0, WIDE_PX)
    mask = hide_mask((smooth > 0.5) & (sure > 0), like, plan.scale)
    mask = notches_closed(tongues_cut(mask, TONGUE_MM * plan.scale), linear, fields, bare, plan.scale)
    separation = cv.resize(np.sqrt(fields.discriminants(PLAIN)[2]), plan.columns, plan.rows)
    outline = place_edge(linear, fields, no_ruling(plan), mask, (WIDE_PX,))
    return Segmented(plan, image, plan.to_mm(outline), mask, smooth, separation, bare, sure, fields)


def tongues_cut(mask: Mask, radius: float) -> Mask:
    """A mask (0/1) without what is narrower than two ``radius`` px and runs out of it.

    Joints between boards and edges of shadows may look like the leather that lies across them.
    """
    broad = cv.dilate(cv.erode(np.pad(mask, 1), radius)[1:-1, 1:-1], radius)
    return cv.largest(mask & cv.dilate(broad, radius))


_NOTHING = (
    "no hide was found that stands off the ground all around; lay one hide wholly in the middle, on a plain "
    "ground of quite another colour, in even light"
)


def _unlike(linear: Floats, sure: Mask, scale: float) -> Mask:
    """The largest patch that is unlike the ground along the region's border."""
    # Narrow enough that a hide which fills most of the region leaves it mostly ground.
    wide = float(np.clip(BORDER_SHARE * np.sqrt(sure.sum()), 6.0 * scale, 45.0 * scale))
    border = (sure > 0) & (cv.distance(np.pad(sure, 1))[1:-1, 1:-1] < wide)
    factor = max(1, round(4.0 * scale))
    size = (max(2, linear.shape[1] // factor), max(2, linear.shape[0] // factor))
    weight = cv.resize(border.astype(np.float32), *size, area=True)
    small = cv.resize(linear * border[..., None], *size, area=True) / np.maximum(weight, 1e-6)[..., None]
    sigmas = tuple(s * scale / factor for s in (60.0, 250.0, 1000.0))
    ground = cv.resize(robust_mean(small, weight, sigmas), linear.shape[1], linear.shape[0])
    away = np.log(np.maximum(linear, 1e-3) / np.maximum(ground, 1e-3))
    distance = _squared(away, away[border])
    found = cv.dilate(cv.erode((distance > UNLIKE) & (sure > 0), 2.0), 2.0)
    found = cv.erode(cv.dilate(found, 4.0), 4.0) & sure
    hide = cv.largest(found)
    if hide.sum() < LEAST_MM2 * scale**2:
        raise CaptureRefused(_NOTHING)
    return hide


def _squared(away: Floats, sample: Floats) -> Floats:
    """Squared distances of log colours from the ground, by its own spread; shadows count little."""
    picked = sample[:: max(1, len(sample) // 40000)].astype(np.float64)
    keep = np.ones(len(picked), bool)
    cov = np.eye(3)
    for _ in range(6):
        cov = np.cov(picked[keep].T) + 4e-4 * np.eye(3)
        d2 = (picked @ np.linalg.inv(cov) * picked).sum(axis=1)
        # The middle 85 % of a 3-D normal have d² < 5.3; their covariance is 0.72 of the whole.
        keep = d2 < np.quantile(d2, 0.85)
    shadow = 0.12**2 * np.ones((3, 3))
    inverse = np.linalg.inv(cov / 0.72 + shadow)
    return np.asarray((away @ inverse.astype(np.float32) * away).sum(axis=-1), np.float32)
