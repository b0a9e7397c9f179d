"""Rendered photographs of hides between printed target sheets, and how well they are measured.

``python -m benchmarks.targets [--count 12] [--seed 1] [--max-tilt 25] [--megapixels 12] [--keep DIR]``

The ground is a plain board, a wooden table, a floor or cloth; four to six sheets lie around the hide,
printed a little off their size. The sheets' pictures come from OpenCV's own drawing of the boards. Each
photograph is measured in four ways: with the printed size as a ruler reads it, with one distance by tape, by
the four corners of a rectangle around the hide, and by these with one distance across the middle. All is read
with errors: the ruler 0.2 mm, the tape 0.5 mm and then to the millimetre, points 0.7 px, then the pixel.
"""

from __future__ import annotations

import argparse
import itertools
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import cv2
import numpy as np

from benchmarks.capture import Row, compare
from benchmarks.render import (
    Camera,
    Image,
    _contact,
    _sensor,
    fill,
    leather_layer,
    light_field,
    linear,
    smooth_noise,
    stroke_cover,
    truth,
)
from benchmarks.scenes import Scene, random_scene
from benchmarks.shapes import Points, dense
from nesting.capture.corners import measure_with_corners, parse_corners
from nesting.capture.known import parse_known
from nesting.capture.measurement import Measurement, Wishes
from nesting.capture.on_plain import measure_with_targets, parse_printed
from nesting.errors import HidewrightError
from nesting.files.hide import Hide
from nesting.rings import Pose, flatten

SQUARES, SQUARE, MARKER = (5, 6), 36.0, 26.0
CROSS = np.array([90.0, -11.0])
PAPER = np.array([[-15.0, -47.0], [195.0, -47.0], [195.0, 234.0], [-15.0, 234.0]])
PER_MM = 10
GROUNDS = {"board": (176, 168, 150), "wood": (150, 116, 82), "floor": (92, 96, 100), "cloth": (46, 74, 110)}


@dataclass(frozen=True)
class Laid:
    """A sheet on the ground: number, lower left corner of its field (mm), turn (degrees), print (x, y)."""

    number: int
    at: tuple[float, float]
    turn: float
    sizes: tuple[float, float] = (1.0, 1.0)

    def place(self, points: Points) -> Points:
        """Points (n, 2) mm as designed to where they lie on the ground."""
        c, s = np.cos(np.radians(self.turn)), np.sin(np.radians(self.turn))
        return (points * self.sizes) @ np.array([[c, s], [-s, c]]) + self.at

    def back(self, x: Image, y: Image) -> tuple[Image, Image]:
        """Ground coordinates to the sheet's own, mm as designed."""
        c, s = np.cos(np.radians(self.turn)), np.sin(np.radians(self.turn))
        dx, dy = x - np.float32(self.at[0]), y - np.float32(self.at[1])
        return (c * dx + s * dy) / self.sizes[0], (c * dy - s * dx) / self.sizes[1]


def board_picture(number: int) -> Image:
    """The field of sheet ``number`` at 10 px a mm, 0..1, row 0 on top."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    board = cv2.aruco.CharucoBoard(SQUARES, SQUARE, MARKER, dictionary, np.arange(15) + 15 * number)
    size = (round(SQUARES[0] * SQUARE * PER_MM), round(SQUARES[1] * SQUARE * PER_MM))
    return (board.generateImage(size, marginSize=0) / np.float32(255)).astype(np.float32)


def ground_layer(scene: Scene, camera: Camera, ground: str, rng: np.random.Generator) -> Image:
    """Reflectance (linear, RGB) of the ground."""
    x, y = camera.mat_maps()
    shape = (scene.height, scene.width)
    tone = 1 + 0.03 * smooth_noise(shape, scene.width / 9, rng) + 0.02 * smooth_noise(shape, 2.5, rng)
    if ground == "wood":
        tone *= 1 + 0.07 * np.sin(y / 7 + 2.5 * smooth_noise(shape, scene.width / 12, rng))
        tone *= 1 + 0.03 * np.sin(y / 1.9 + x / 200)
    return (linear(GROUNDS[ground]) * tone[..., None]).astype(np.float32)


def lay_sheets(layer: Image, camera: Camera, laid: list[Laid]) -> None:
    """Draw the sheets into a layer of the ground, in place, each pixel from 16 points within it."""
    x, y = camera.mat_maps()
    paper, ink = linear((236, 236, 232)), linear((26, 26, 28))
    for sheet in laid:
        seen = camera.project(sheet.place(PAPER))
        low = np.maximum(np.floor(seen.min(axis=0)).astype(int) - 2, 0)
        high = np.minimum(np.ceil(seen.max(axis=0)).astype(int) + 3, [layer.shape[1], layer.shape[0]])
        if (high <= low).any():
            continue
        window = np.s_[low[1] : high[1], low[0] : high[0]]
        picture = board_picture(sheet.number)
        fine = [
            cv2.resize(v, None, fx=4, fy=4, interpolation=cv2.INTER_LINEAR)
            for v in sheet.back(x[window], y[window])
        ]
        on = (fine[0] > -15) & (fine[0] < 195) & (fine[1] > -47) & (fine[1] < 234)
        column, row = np.floor(fine[0] * PER_MM).astype(int), np.floor((216 - fine[1]) * PER_MM).astype(int)
        field = (column >= 0) & (column < picture.shape[1]) & (row >= 0) & (row < picture.shape[0])
        white = np.ones(on.shape, np.float32)
        white[field] = picture[row[field], column[field]]
        size = (int(high[0] - low[0]), int(high[1] - low[1]))
        cover, light = (
            cv2.resize(v, size, interpolation=cv2.INTER_AREA)[..., None]
            for v in (on.astype(np.float32), white * on)
        )
        layer[window] = layer[window] * (1 - cover) + paper * light + ink * (cover - light)


def compose(scene: Scene, laid: list[Laid], ground: str) -> np.ndarray:
    """The photograph, uint8 of shape (height, width, 3) in BGR; the sheets lie under the hide."""
    rng = np.random.default_rng([51817, scene.seed])
    camera = Camera(scene)
    scale = camera.f / scene.distance
    image = ground_layer(scene, camera, ground, rng)
    lay_sheets(image, camera, laid)
    foot = fill(scene, [camera.project(dense(scene.outline), 0.0)])
    image *= (1 - scene.contact_shadow * _contact(scene, camera, scale, rng))[..., None]
    image += foot[..., None] * (linear(scene.leather_rgb) * np.float32(0.55) - image)
    top = fill(scene, [camera.project(dense(scene.outline), scene.thickness)])
    hide = leather_layer(scene, scale, rng)
    for colour, cover in stroke_cover(scene, camera, scale, rng):
        hide += cover[..., None] * (linear(colour) - hide)
    image += top[..., None] * (hide - image)
    image *= (scene.exposure * light_field(scene, rng))[..., None]
    image *= np.array([1 + scene.warmth, 1.0, 1 - scene.warmth], np.float32)
    return _sensor(image, scene, rng)


def sheets_around(outline: Points, count: int, rng: np.random.Generator, gap: float = 45.0) -> list[Laid]:
    """Sheets left and right of a hide at its top and bottom, then above and below its middle."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    middle = 0.5 * (low + high)
    sizes = tuple(1 + rng.normal(0, 0.003, 2))
    # One above the other they need room, however small the hide is.
    spread = max(0.0, 165.0 - 0.5 * float(high[1] - low[1]))
    low, high = low - np.array([0.0, spread]), high + np.array([0.0, spread])
    aside = 125.0 + gap
    centres = [
        (low[0] - aside, low[1]), (high[0] + aside, low[1]),
        (low[0] - aside, high[1]), (high[0] + aside, high[1]),
        (middle[0], low[1] - 150.0 - gap), (middle[0], high[1] + 130.0 + gap),
    ]  # fmt: skip
    laid = []
    for number, centre in enumerate(centres[:count]):
        sheet = Laid(number, (0.0, 0.0), float(rng.normal(0, 4) + (90 if number > 3 else 0)), sizes)
        at = np.array(centre) - sheet.place(np.array([[90.0, 92.0]]))[0]
        laid.append(replace(sheet, at=(float(at[0]), float(at[1]))))
    return laid


def back_off(scene: Scene, points: Points) -> Scene:
    """Step back until all the points are in the picture."""
    low, high = points.min(axis=0), points.max(axis=0)
    scene = replace(scene, aim=tuple(float(v) for v in 0.5 * (low + high)))
    distance = float((high - low).max()) * scene.focal * 0.8
    for _ in range(200):
        scene = replace(scene, distance=distance)
        seen = Camera(scene).project(points)
        if (seen > 15).all() and (seen < [scene.width - 15, scene.height - 15]).all():
            break
        distance *= 1.02
    return scene


def target_scene(seed: int, megapixels: float, max_tilt: float) -> tuple[Scene, list[Laid], str]:
    """A random hide on a random ground that it stands off, with its sheets, from a seed."""
    rng = np.random.default_rng([3391, seed])
    scene = replace(random_scene(seed, (megapixels,), max_tilt), holes=(), mat_half=None)
    if scene.leather == "near mat":
        scene = replace(scene, leather="russet")
    apart = {g: np.abs(np.subtract(rgb, scene.leather_rgb)).max() for g, rgb in GROUNDS.items()}
    ground = str(rng.choice([g for g, d in apart.items() if d > 45]))
    laid = sheets_around(scene.outline, int(rng.choice([4, 5, 6])), rng)
    return back_off(scene, np.vstack([s.place(PAPER) for s in laid])), laid, ground


def write(scene: Scene, laid: list[Laid], ground: str, stem: Path) -> None:
    """``stem.jpg`` and ``stem.truth.json``."""
    ok, data = cv2.imencode(".jpg", compose(scene, laid, ground), [cv2.IMWRITE_JPEG_QUALITY, scene.quality])
    assert ok
    stem.with_name(stem.name + ".jpg").write_bytes(data.tobytes())
    sheets = [vars(sheet) for sheet in laid]
    told = {**truth(scene), "sheets": sheets, "ground": ground}
    stem.with_name(stem.name + ".truth.json").write_text(json.dumps(told) + "\n")


def turned(m: Measurement, scene: Scene) -> Hide:
    """The measured hide, turned as it lay: its frame runs along the picture, not along the ground's x."""
    ring = flatten(m.hide.outline)
    ends = ring[[int(np.argmin(ring[:, 0])), int(np.argmax(ring[:, 0]))]]
    pixels = np.round(m.pixels(ends)).astype(int)
    lain = np.column_stack([v[pixels[:, 1], pixels[:, 0]] for v in Camera(scene).mat_maps()])
    angles = [np.arctan2(*(e[1] - e[0])[::-1]) for e in (ends, lain)]
    pose = Pose(mirrored=False, rotation_deg=float(np.degrees(angles[1] - angles[0])), at=(0.0, 0.0))
    flaws = tuple(replace(flaw, outline=pose.apply_ring(flaw.outline)) for flaw in m.hide.flaws)
    return replace(m.hide, outline=pose.apply_ring(m.hide.outline), flaws=flaws)


def furthest(laid: list[Laid]) -> tuple[str, str, float]:
    """The two sheets whose crosses are furthest apart, and how far, mm."""
    at = {"ABCDEFGHIJK"[s.number]: s.place(CROSS[None])[0] for s in laid}
    pairs = [(float(np.hypot(*(at[a] - at[b]))), a, b) for a, b in itertools.combinations(sorted(at), 2)]
    distance, a, b = max(pairs)
    return a, b, distance


def ways_to_measure(path: Path, scene: Scene, laid: list[Laid]) -> dict[str, Callable[[], Measurement]]:
    """The four ways, each with what a person reads off ruler, tape and picture, errors included."""
    rng = np.random.default_rng([7, scene.seed])
    across, along = (d * s + rng.normal(0, 0.2) for d, s in zip((180.0, 216.0), laid[0].sizes, strict=True))
    a, b, distance = furthest(laid)
    printed = parse_printed(f"{across:.1f} mm x {along:.1f} mm")
    tape = parse_known(f"{a} {b} {distance + rng.normal(0, 0.5):.0f} mm")
    low, high = scene.outline.min(axis=0) - 30.0, scene.outline.max(axis=0) + 30.0
    rectangle = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    middles = np.array([[low[0], 0.5 * (low[1] + high[1])], [high[0], 0.5 * (low[1] + high[1])]])

    def read(points: Points) -> str:
        seen = Camera(scene).project(points) + rng.normal(0, 0.7, (len(points), 2))
        return " ".join(f"{x:.0f},{y:.0f}" for x, y in np.maximum(seen, 0))

    sides = [float(v) + rng.normal(0, 0.5) for v in high - low]
    corners = parse_corners(read(rectangle)), (round(sides[0]), round(sides[1]))
    across_middle = parse_known(f"{read(middles)} {high[0] - low[0] + rng.normal(0, 0.5):.0f} mm")
    thick = scene.thickness
    return {
        "ruler": lambda: measure_with_targets(path, printed=printed, wishes=Wishes(thickness_mm=thick)),
        "tape": lambda: measure_with_targets(path, known=[tape], wishes=Wishes(thickness_mm=thick)),
        "corners": lambda: measure_with_corners(path, *corners, wishes=Wishes(thickness_mm=thick)),
        "corners, known": lambda: measure_with_corners(
            path, *corners, known=[across_middle], wishes=Wishes(thickness_mm=thick)
        ),
    }


def judged(row: Row, measure: Callable[[], Measurement], scene: Scene, told: dict[str, Any]) -> str:
    """Measure one way, fill the row, and its line."""
    try:
        m = measure()
    except HidewrightError as error:
        row.refused = str(error)
        return f"{row.seed:4}  {row.what:54} refused: {row.refused}"
    compare(replace(m, hide=turned(m, scene)), told, row)
    assert m.hide.measured is not None
    held = m.hide.measured.holdout_area_pct
    return (
        f"{row.seed:4}  {row.what:54} {row.area_pct:+6.3f} {row.u_pct:6.3f} {row.p95:6.2f} "
        f"{'  none' if held is None else f'{held:+6.3f}'} {row.found:3}/{row.loops}"
    )


def totals(way: str, rows: list[Row]) -> str:
    """Medians and worst of one way."""
    good = [r for r in rows if not r.refused]
    if not good:
        return f"{way}: all {len(rows)} refused"
    area, u = np.abs([r.area_pct for r in good]), np.array([r.u_pct for r in good])
    return (
        f"{way}: {len(good)} of {len(rows)} measured; area error median {np.median(area):.3f} %, "
        f"worst {area.max():.3f} %; U median {np.median(u):.3f} %, covers {int((area <= u).sum())}; "
        f"outline 95th percentile median {np.median([r.p95 for r in good]):.2f} mm"
    )


def main() -> None:
    """Print a line for each scene and way, then the totals."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--max-tilt", type=float, default=25.0)
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--keep", type=Path, help="folder to keep the photographs in, and to reuse them from")
    args = parser.parse_args()
    print(f"seed  {'way and scene':54} area %    U %    p95   held  loops")
    with TemporaryDirectory() as temporary:
        folder = args.keep or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        rows: dict[str, list[Row]] = {}
        for seed in range(args.seed, args.seed + args.count):
            scene, laid, ground = target_scene(seed, args.megapixels, args.max_tilt)
            stem = folder / f"targets-{seed:03d}"
            path = stem.with_name(stem.name + ".jpg")
            if not path.exists():
                write(scene, laid, ground, stem)
            told = json.loads(stem.with_name(stem.name + ".truth.json").read_text())
            scenery = f"{len(laid)} sheets, {ground}, {scene.leather}, {scene.tilt:.0f} deg"
            for way, measure in ways_to_measure(path, scene, laid).items():
                row = Row(seed, f"{way}: {scenery}")
                print(judged(row, measure, scene, told), flush=True)
                rows.setdefault(way, []).append(row)
    for way, found in rows.items():
        print(totals(way, found))


if __name__ == "__main__":
    main()
