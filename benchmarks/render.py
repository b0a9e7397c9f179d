"""Rendered photographs of hides on a ruled mat, with the truth beside them.

``python -m benchmarks.render --out DIR --count N --seed S [--dashed SHARE]``

A pinhole camera with one radial term looks at the mat (z = 0, x right, y up, mm). Pixel centres
lie at whole numbers, x right, y down. Light is composed in linear values and stored as sRGB. The
same seed gives the same bytes with the same numpy and opencv.
"""

from __future__ import annotations

import argparse
import itertools
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmarks.scenes import MATS, PENS, RGB, Scene, Stroke, random_scene, with_dashes
from benchmarks.shapes import Points, dense, polygon_area

Image = NDArray[np.float32]
SUPER = 4


def linear(rgb: RGB) -> Image:
    """sRGB 0..255 to linear 0..1 (IEC 61966-2-1)."""
    v = np.asarray(rgb, dtype=np.float32) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


class Camera:
    """Projection of a scene: mat to pixels and back."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.f = scene.focal * scene.width
        self.c = np.array([(scene.width - 1) / 2, (scene.height - 1) / 2])
        tilt, azimuth, roll = np.radians([scene.tilt, scene.azimuth, scene.roll])
        forward = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), -np.cos(tilt)])
        up = np.array([0.0, 1.0, 0.0]) - forward * forward[1]
        up /= np.linalg.norm(up)
        right = np.cross(forward, up)
        self.right = np.cos(roll) * right + np.sin(roll) * up
        self.down = np.cross(forward, self.right)
        self.forward = forward
        self.centre = np.array([*scene.aim, 0.0]) - scene.distance * forward
        radius = np.linspace(0.0, 1.6, 4001)
        self.table = (radius, self._stretch(radius))

    def _stretch(self, r: Points) -> Points:
        """Distorted radius for an undistorted one, both over the focal length."""
        k = self.scene.k1
        if self.scene.model == "brown":
            return r * (1 + k * r**2)
        # Fitzgibbon, CVPR 2001: r_u = r_d / (1 + λ r_d²), solved for r_d.
        root = np.sqrt(np.maximum(1 - 4 * k * r**2, 0))
        return 2 * r / (1 + root)

    def project(self, points: Points, z: float = 0.0) -> Points:
        """Mat points (n, 2) in mm at height ``z`` to pixels (n, 2)."""
        d = np.column_stack((points, np.full(len(points), z))) - self.centre
        depth = d @ self.forward
        n = np.column_stack((d @ self.right, d @ self.down)) / depth[:, None]
        r = np.hypot(*n.T)
        scale = np.where(r > 1e-9, np.interp(r, *self.table) / np.maximum(r, 1e-9), 1.0)
        return n * scale[:, None] * self.f + self.c

    def mat_maps(self) -> tuple[Image, Image]:
        """For each pixel the mat point (x, y) in mm under it."""
        s = self.scene
        u = (np.arange(s.width, dtype=np.float32) - self.c[0]) / self.f
        v = (np.arange(s.height, dtype=np.float32) - self.c[1]) / self.f
        rd = np.sqrt(u[None, :] ** 2 + v[:, None] ** 2)
        factor = (np.interp(rd, self.table[1], self.table[0]) / np.maximum(rd, 1e-9)).astype(np.float32)
        x, y = u[None, :] * factor, v[:, None] * factor
        rays = [self.right[i] * x + self.down[i] * y + self.forward[i] for i in range(3)]
        t = -self.centre[2] / rays[2]
        return (self.centre[0] + t * rays[0]).astype(np.float32), (self.centre[1] + t * rays[1]).astype(
            np.float32
        )


def fill(scene: Scene, polygons: list[Points]) -> Image:
    """Coverage 0..1 of filled pixel-space polygons, anti-aliased by supersampling in bands."""
    out = np.zeros((scene.height, scene.width), np.float32)
    band = 256
    for top in range(0, scene.height, band):
        rows = min(band, scene.height - top)
        canvas = np.zeros((rows * SUPER, scene.width * SUPER), np.uint8)
        for p in polygons:
            q = ((p - [0, top] + 0.5) * SUPER - 0.5) * 16
            cv2.fillPoly(canvas, [np.round(q).astype(np.int32)], 255, lineType=cv2.LINE_8, shift=4)
        out[top : top + rows] = cv2.resize(
            canvas, (scene.width, rows), interpolation=cv2.INTER_AREA
        ) / np.float32(255)
    return out


def smooth_noise(shape: tuple[int, int], cell: float, rng: np.random.Generator) -> Image:
    """Noise of unit deviation that varies over about ``cell`` pixels."""
    small = (max(3, int(shape[0] / cell) + 2), max(3, int(shape[1] / cell) + 2))
    field = rng.standard_normal(small).astype(np.float32)
    big = cv2.resize(field, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    return big / np.float32(big.std() + 1e-9)


def ruled(coordinate: Image, scene: Scene) -> Image:
    """Coverage of the ruled lines across one mat coordinate, softened to the pixel footprint."""
    gy, gx = np.gradient(coordinate)
    foot = np.maximum(np.hypot(gx, gy), 1e-6)
    cell = coordinate / scene.pitch
    index = np.round(cell)
    away = np.abs(cell - index) * scene.pitch
    bold = (np.mod(index, scene.bold_every) == 0) if scene.bold_every else np.zeros(index.shape, bool)
    half = np.where(bold, scene.bold_width, scene.line_width) / 2
    return (np.clip((half - away) / foot + 0.5, 0, 1) - np.clip((-half - away) / foot + 0.5, 0, 1)).astype(
        np.float32
    )


SEGMENTS = {
    0: "abcdef",
    1: "bc",
    2: "abged",
    3: "abgcd",
    4: "fgbc",
    5: "afgcd",
    6: "afgedc",
    7: "abc",
    8: "abcdefg",
    9: "abcdfg",
}
STROKES = {
    "a": (0, 2, 1, 2),
    "b": (1, 1, 1, 2),
    "c": (1, 0, 1, 1),
    "d": (0, 0, 1, 0),
    "e": (0, 0, 0, 1),
    "f": (0, 1, 0, 2),
    "g": (0, 1, 1, 1),
}


def numerals(scene: Scene, camera: Camera, reach: float) -> list[Points]:
    """Strokes of printed numbers beside every fifth line, as thin pixel-space quadrilaterals."""
    quads = []
    step = 5 * scene.pitch
    size = min(4.0, 0.2 * scene.pitch)
    for axis in (0, 1):
        for n in range(-int(reach / step), int(reach / step) + 1):
            for d, digit in enumerate(str(abs(n))):
                for name in SEGMENTS[int(digit)]:
                    x0, y0, x1, y1 = (size * v for v in STROKES[name])
                    origin = np.array([n * step, -10 * step + 0.3 * scene.pitch])[
                        :: 1 if axis == 0 else -1
                    ].copy()
                    origin += [1.2 + d * 1.6 * size, 1.2]
                    a, b = origin + np.array([x0, y0]), origin + np.array([x1, y1])
                    side = np.array([a[1] - b[1], b[0] - a[0]]) / (np.hypot(*(b - a)) + 1e-9) * 0.3
                    quads.append(
                        camera.project(np.array([a + side, b + side, b - side, a - side]) + scene.mat_offset)
                    )
    return quads


def mat_layer(scene: Scene, camera: Camera, rng: np.random.Generator) -> Image:
    """Reflectance (linear, RGB) of the mat, and of the table beyond it."""
    x, y = camera.mat_maps()
    ground, ink = (linear(c) for c in MATS[scene.mat])
    ox, oy = scene.mat_offset
    lines = 1 - (1 - ruled(x - np.float32(ox), scene)) * (1 - ruled(y - np.float32(oy), scene))
    if scene.numerals:
        lines = np.maximum(lines, fill(scene, numerals(scene, camera, 1500.0)))
    tone = (
        1
        + 0.03 * smooth_noise(lines.shape, scene.width / 9, rng)
        + 0.02 * smooth_noise(lines.shape, 2.5, rng)
    )
    worn = np.clip(0.93 + 0.05 * smooth_noise(lines.shape, scene.width / 25, rng), 0.6, 1) * lines
    layer = (ground * tone[..., None]) * (1 - worn[..., None]) + ink * worn[..., None]
    if scene.mat_half is not None:
        off = (np.abs(x) > scene.mat_half[0]) | (np.abs(y) > scene.mat_half[1])
        grain = (
            1
            + 0.12 * np.sin(x / 9 + 2 * smooth_noise(lines.shape, 90, rng))
            + 0.05 * smooth_noise(lines.shape, 3, rng)
        )
        table = linear((168, 138, 104)) * grain[..., None]
        layer[off] = table[off]
    return layer.astype(np.float32)


def leather_layer(scene: Scene, scale: float, rng: np.random.Generator) -> Image:
    """Reflectance of the leather: base colour, slow tone changes, mottle and fine grain."""
    shape = (scene.height, scene.width)
    tone = (
        1
        + 0.07 * smooth_noise(shape, 260 * scale, rng)
        + 0.03 * smooth_noise(shape, 40 * scale, rng)
        + 0.03 * smooth_noise(shape, 2.2 * scale, rng)
        + 0.025 * smooth_noise(shape, max(1.5, 0.9 * scale), rng)
    )
    hue = 0.02 * smooth_noise(shape, 200 * scale, rng)
    layer = linear(scene.leather_rgb) * np.clip(tone, 0.4, 1.6)[..., None]
    layer[..., 0] *= 1 + hue
    layer[..., 2] *= 1 - hue
    return layer.astype(np.float32)


def stroke_cover(
    scene: Scene, camera: Camera, scale: float, rng: np.random.Generator
) -> list[tuple[RGB, Image]]:
    """Coverage of the flaw strokes by pen colour; chalk is broken up by the grain."""
    out = []
    grain = smooth_noise((scene.height, scene.width), max(1.3, 0.6 * scale), rng)
    for chalk in (False, True):
        for colour in sorted({s.colour for s in scene.strokes if s.chalk == chalk}):
            bands = []
            for s in scene.strokes:
                if s.chalk == chalk and s.colour == colour:
                    for line in _drawn(s, scene.seed):
                        bands.extend(_band(line, s.width))
            cover = fill(scene, [camera.project(b, scene.thickness) for b in bands])
            if chalk:
                cover = cover * np.clip(0.78 + 0.22 * grain, 0.25, 1)
            out.append((PENS[colour], (0.92 * cover).astype(np.float32)))
    return out


def _drawn(s: Stroke, seed: int) -> list[Points]:
    """The lines that a pen follows: all of a loop but its gap, or the dashes in that, uneven as by hand."""
    whole = s.points[: int(len(s.points) * (1 - s.gap))] if s.gap else np.vstack((s.points, s.points[:1]))
    if s.dash is None:
        return [whole]
    at = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(whole, axis=0).T))))
    count = max(1, round(float(at[-1]) / sum(s.dash)))
    step, share = float(at[-1]) / count, s.dash[0] / sum(s.dash)
    rng = np.random.default_rng([9021, seed, len(whole), count])
    starts = step * (np.arange(count) + (1 - share) * rng.uniform(-0.2, 0.2, count))
    ends = starts + step * share * rng.uniform(0.85, 1.15, count)
    steps = [np.linspace(a, b, 12).clip(0.0, at[-1]) for a, b in zip(starts, ends, strict=True)]
    return [np.column_stack([np.interp(v, at, whole[:, i]) for i in (0, 1)]) for v in steps]


def _band(line: Points, width: float) -> list[Points]:
    """A polyline of some width as overlapping quadrilaterals and round joints."""
    quads = []
    ring = np.array([[np.cos(a), np.sin(a)] for a in np.linspace(0, 2 * np.pi, 13)[:-1]]) * width / 2
    for a, b in itertools.pairwise(line):
        side = np.array([a[1] - b[1], b[0] - a[0]]) / (np.hypot(*(b - a)) + 1e-9) * width / 2
        quads.append(np.array([a + side, b + side, b - side, a - side]))
        quads.append(ring + b)
    return quads


def light_field(scene: Scene, rng: np.random.Generator) -> Image:
    """Light on the scene: gradient, vignette and a large shadow, soft or (as of a rod in the sun) hard."""
    v, u = np.mgrid[-1:1:1024j, -1:1:1376j] if scene.hard_shadow else np.mgrid[-1:1:64j, -1:1:86j]
    u, v = u.astype(np.float32), v.astype(np.float32)
    light = 1 + scene.gradient[0] * u + scene.gradient[1] * v
    light *= 1 - scene.vignette * 0.5 * (u**2 + v**2)
    if scene.big_shadow:
        angle, where, soft = rng.uniform(0, 2 * np.pi), rng.uniform(-0.3, 0.5), rng.uniform(0.05, 0.4)
        soft = 0.006 if scene.hard_shadow else soft
        side = (np.cos(angle) * u + np.sin(angle) * v - where) / soft
        light *= 1 - scene.big_shadow / (1 + np.exp(np.clip(-3 * side, -80, 80)))
    return cv2.resize(light, (scene.width, scene.height), interpolation=cv2.INTER_CUBIC)


def compose(scene: Scene) -> NDArray[np.uint8]:
    """The photograph, uint8 of shape (height, width, 3) in BGR."""
    rng = np.random.default_rng([40423, scene.seed])
    camera = Camera(scene)
    scale = camera.f / scene.distance
    image = mat_layer(scene, camera, rng)
    foot = fill(scene, [camera.project(dense(scene.outline), 0.0)])
    shadow = _contact(scene, camera, scale, rng)
    image *= (1 - scene.contact_shadow * shadow)[..., None]
    side = linear(scene.leather_rgb) * np.float32(0.55)
    image += foot[..., None] * (side - image)
    top = fill(scene, [camera.project(dense(scene.outline), scene.thickness)])
    hide = leather_layer(scene, scale, rng)
    for colour, cover in stroke_cover(scene, camera, scale, rng):
        hide += cover[..., None] * (linear(colour) - hide)
    if scene.holes:
        under = mat_layer(scene, camera, np.random.default_rng([40423, scene.seed]))
        under *= np.float32(1 - 0.6 * scene.contact_shadow)
        holes = fill(scene, [camera.project(h, scene.thickness) for h in scene.holes])
        hide += holes[..., None] * (under - hide)
        image += holes[..., None] * (under - image)
    image += top[..., None] * (hide - image)
    image *= (scene.exposure * light_field(scene, rng))[..., None]
    if scene.glare:
        v, u = np.mgrid[0:1:48j, 0:1:64j].astype(np.float32)
        spot = np.exp(-(((u - rng.uniform(0.1, 0.9)) / 0.16) ** 2) - ((v - rng.uniform(0.1, 0.9)) / 0.2) ** 2)
        image += scene.glare * cv2.resize(spot, (scene.width, scene.height))[..., None]
    image *= np.array([1 + scene.warmth, 1.0, 1 - scene.warmth], np.float32)
    return _sensor(image, scene, rng)


def _contact(scene: Scene, camera: Camera, scale: float, rng: np.random.Generator) -> Image:
    """The soft shadow that the hide throws on the mat beside it."""
    angle = rng.uniform(0, 2 * np.pi)
    shift = np.array([np.cos(angle), np.sin(angle)]) * (1.2 * scene.contact_sigma)
    mask = fill(scene, [camera.project(dense(scene.outline) + shift)])
    sigma = scene.contact_sigma * scale / 4
    small = cv2.resize(mask, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), max(sigma, 0.5))
    return cv2.resize(small, (scene.width, scene.height), interpolation=cv2.INTER_LINEAR)


def _sensor(image: Image, scene: Scene, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Blur, shot and read noise, sRGB curve, 8 bits."""
    image = cv2.GaussianBlur(image, (0, 0), scene.blur)
    for channel in range(3):
        plane = image[..., channel]
        deviation = scene.noise * np.sqrt(np.maximum(plane, 0) + 0.02)
        plane += deviation * rng.standard_normal(plane.shape, dtype=np.float32)
    np.clip(image, 0, 1, out=image)
    image = np.where(image <= 0.0031308, 12.92 * image, 1.055 * np.power(image, 1 / 2.4) - 0.055)
    return np.ascontiguousarray((image[..., ::-1] * 255 + 0.5).astype(np.uint8))


def truth(scene: Scene) -> dict[str, Any]:
    """What is true of the scene, in the mat's frame (mm, y up)."""
    plain = {k: v for k, v in vars(scene).items() if k not in ("outline", "holes", "strokes", "extra")}
    edge = scene.outline
    return {
        "kind": "rendered-photograph-truth",
        "outline": np.round(edge, 3).tolist(),
        "area_mm2": polygon_area(edge),
        "holes": [np.round(h, 2).tolist() for h in scene.holes],
        "flaws": [
            {"colour": s.colour, "width": s.width, "gap": s.gap, "points": np.round(s.points, 2).tolist()}
            | ({} if s.dash is None else {"dash": s.dash})
            for s in scene.strokes
        ],
        "camera": plain,
    }


def render_to(scene: Scene, stem: Path) -> None:
    """Write ``stem.jpg`` and ``stem.truth.json``."""
    ok, data = cv2.imencode(".jpg", compose(scene), [cv2.IMWRITE_JPEG_QUALITY, scene.quality])
    assert ok
    stem.with_name(stem.name + ".jpg").write_bytes(data.tobytes())
    stem.with_name(stem.name + ".truth.json").write_text(json.dumps(truth(scene)) + "\n")


def main() -> None:
    """Render scenes ``seed .. seed + count - 1``."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=1)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--max-tilt", type=float, default=20.0)
    parser.add_argument("--megapixels", type=float, nargs="+", default=[12.0, 12.0, 24.0])
    parser.add_argument("--dashed", type=float, default=0.0, help="share of the loops drawn as dashes, 0..1")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for seed in range(args.seed, args.seed + args.count):
        scene = random_scene(seed, tuple(args.megapixels), args.max_tilt)
        scene = with_dashes(scene, args.dashed) if args.dashed else scene
        render_to(scene, args.out / f"scene-{seed:03d}")


if __name__ == "__main__":
    main()
