"""Where the mat's ruled lines start: local lattice seeds from small tiles of the photograph.

In one tile the plane is nearly affine: two families of parallel, evenly spaced lines. Their
directions come from the histogram of gradient directions, their spacing from the profile of the
tile projected along each direction. A line is a narrow run of one sign, so bold lines and both
edges of a thick line count once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv

Points = NDArray[np.float64]
Floats = NDArray[np.float32]


MOST_TILES = 260  # of one size; those at the border come first


@dataclass(frozen=True)
class Seed:
    """An intersection (px), the steps to the next lines (px) and the lines' sign: +1 light, -1 dark."""

    origin: Points
    u: Points
    v: Points
    sign: int
    score: float


@dataclass(frozen=True)
class _Family:
    normal: Points
    first: float
    spacing: float
    score: float


def find_seeds(image: Floats, tiles: tuple[float, ...] = (0.1, 0.05, 0.17, 0.28)) -> Iterator[Seed]:
    """Seeds of a luminance image (rows, columns), best first within each size of tile."""
    height, width = image.shape
    for share in tiles:
        side = share * max(width, height)
        factor = min(1.0, 200.0 / side)
        small = cv.resize(image, round(width * factor), round(height * factor), area=True)
        size = round(side * factor)
        found: list[Seed] = []
        corners = _outside_first(_starts(small.shape[0], size), _starts(small.shape[1], size))
        for top, left in corners[:MOST_TILES]:
            seeds = _tile_seeds(small[top : top + size, left : left + size])
            found.extend(
                _enlarged(s, left, top, width / small.shape[1], height / small.shape[0]) for s in seeds
            )
            if len(found) >= 8:
                break
        yield from sorted(found, key=lambda s: -s.score)


def _outside_first(rows: list[int], columns: list[int]) -> list[tuple[int, int]]:
    """Tile corners (top, left), those at the border of the picture first: there the mat shows."""
    ring = {
        (top, left): min(i, j, len(rows) - 1 - i, len(columns) - 1 - j)
        for i, top in enumerate(rows)
        for j, left in enumerate(columns)
    }
    # Every third tile of a ring first, so that the first seeds do not all come from one side.
    return sorted(ring, key=lambda t: (ring[t], (7 * rows.index(t[0]) + 3 * columns.index(t[1])) % 5))


def _starts(length: int, size: int) -> list[int]:
    count = max(1, int(np.ceil(1.5 * (length - size) / size)) + 1)
    return [round(float(v)) for v in np.linspace(0, max(0, length - size), count)]


def _enlarged(seed: Seed, left: int, top: int, fx: float, fy: float) -> Seed:
    factor = np.array([fx, fy])
    return Seed(
        (seed.origin + np.array([left + 0.5, top + 0.5])) * factor - 0.5,
        seed.u * factor,
        seed.v * factor,
        seed.sign,
        seed.score,
    )


def _tile_seeds(tile: Floats) -> list[Seed]:
    flat = tile - cv.blur(tile, tile.shape[0] / 10)
    deviation = float(flat.std())
    if deviation < 0.5:
        return []
    flat = np.clip(flat / deviation, -4, 4)
    angles = _two_directions(flat)
    if angles is None:
        return []
    profiles = [_sharpest(flat, angle) for angle in angles]
    seeds = []
    for sign in (1, -1):
        first, second = (_family(sign * profile, low, angle) for profile, low, angle in profiles)
        if first is not None and second is not None and abs(_cross(first.normal, second.normal)) > 0.5:
            seeds.append(_seed(first, second, sign, tile.shape))
    return seeds


def _cross(a: Points, b: Points) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _two_directions(flat: Floats) -> tuple[float, float] | None:
    """Angles (radians, 0..π) of the normals of the two strongest line families."""
    gy, gx = np.gradient(flat)
    weight = np.minimum(np.hypot(gx, gy), 1.5) ** 2
    angle = np.mod(np.degrees(np.arctan2(gy, gx)), 180.0)
    counts = np.bincount(angle.astype(int).ravel() % 180, weight.ravel(), 180)
    kernel = np.exp(-0.5 * (np.arange(-8, 9) / 2.5) ** 2)
    smooth = np.convolve(np.tile(counts, 3), kernel, "same")[180:360]
    first = int(np.argmax(smooth))
    gap = np.abs((np.arange(180) - first + 90) % 180 - 90)
    rest = np.where(gap >= 40, smooth, 0.0)
    second = int(np.argmax(rest))
    if rest[second] < 1.25 * np.median(smooth):
        return None
    return np.radians(first + 0.5), np.radians(second + 0.5)


def _profile(flat: Floats, angle: float) -> tuple[Points, float]:
    """Mean along the lines, in bins of one pixel across them; and the offset of bin 0."""
    n = flat.shape[0]
    c = (n - 1) / 2
    y, x = np.mgrid[0 : flat.shape[0], 0 : flat.shape[1]]
    across = (x - c) * np.cos(angle) + (y - c) * np.sin(angle)
    along = -(x - c) * np.sin(angle) + (y - c) * np.cos(angle)
    keep = (np.abs(across) < 0.46 * n) & (np.abs(along) < 0.46 * n)
    low = -0.46 * n
    position = (across[keep] - low) * 1.0
    index = position.astype(int)
    share = position - index
    bins = int(0.92 * n) + 3
    value = flat[keep]
    total = np.bincount(index, value * (1 - share), bins) + np.bincount(index + 1, value * share, bins)
    weight = np.bincount(index, 1 - share, bins) + np.bincount(index + 1, share, bins)
    good = weight > 0.3 * np.median(weight)
    profile = np.where(good, total / np.maximum(weight, 1e-9), 0.0)
    return profile[good], low + float(np.argmax(good))


def _sharpest(flat: Floats, angle: float) -> tuple[Points, float, float]:
    """The profile of greatest variance near ``angle``, its first offset, and its angle."""
    turned = [angle + float(d) for d in np.radians(np.arange(-3.0, 3.01, 0.75))]
    profiles = [(*_profile(flat, a), a) for a in turned]
    return max(profiles, key=lambda p: float(np.var(p[0])))


def _family(profile: Points, low: float, angle: float) -> _Family | None:
    """The evenly spaced narrow positive runs of a profile, as lines."""
    peaks, strength, noise = _peaks(profile)
    if len(peaks) < 4:
        return None
    steps = np.diff(peaks)
    spacing = float(np.median(steps))
    if spacing < 3.5 or np.mean(np.abs(steps - spacing) < 0.12 * spacing + 0.4) < 0.75:
        return None
    middle = int(np.argmin(np.abs(peaks + low)))
    # Where the sign is wrong the "lines" are the broad fields between them.
    skew = float(((profile - profile.mean()) ** 3).mean() / (profile.std() ** 3 + 1e-9))
    if skew <= 0.15:
        return None
    score = min(len(peaks), 12) * strength / (noise + 0.05) * min(skew, 2.0)
    return _Family(np.array([np.cos(angle), np.sin(angle)]), float(peaks[middle] + low), spacing, score)


def _peaks(profile: Points) -> tuple[Points, float, float]:
    """Positions of narrow positive runs in a profile, their median height and the noise."""
    base = np.median(profile)
    high = profile - base
    noise = 1.4826 * float(np.median(np.abs(high)))
    top = float(np.percentile(high, 98))
    limit = max(0.3 * top, 2.0 * noise)
    above = high > limit
    edges = np.flatnonzero(np.diff(np.concatenate(([False], above, [False])).astype(np.int8)))
    runs = edges.reshape(-1, 2)
    position, height = [], []
    for a, b in runs:
        if a == 0 or b == len(profile):
            continue
        weight = high[a:b]
        position.append(float((weight * np.arange(a, b)).sum() / weight.sum()))
        height.append(float(weight.max()))
    return np.array(position), float(np.median(height)) if height else 0.0, noise


def _seed(a: _Family, b: _Family, sign: int, shape: tuple[int, int]) -> Seed:
    normals = np.array([a.normal, b.normal])
    inverse = np.linalg.inv(normals)
    centre = (np.array(shape[::-1]) - 1) / 2
    origin = inverse @ np.array([a.first, b.first]) + centre
    step_a, step_b = inverse @ np.array([a.spacing, 0.0]), inverse @ np.array([0.0, b.spacing])
    u, v = oriented(step_a, step_b)
    return Seed(origin, u, v, sign, float(min(a.score, b.score)))


def oriented(a: Points, b: Points) -> tuple[Points, Points]:
    """The two steps as (u, v): u to the right, v up in the picture, so that (u, v) is not mirrored."""
    ca, cb = abs(a[0]) / np.hypot(*a), abs(b[0]) / np.hypot(*b)
    u, v = (a, b) if ca >= cb else (b, a)
    u = u if u[0] > 0 else -u
    # y is down in the picture, so turning left from u means a negative cross product.
    v = v if u[0] * v[1] - u[1] * v[0] < 0 else -v
    return u, v
