"""What one rendered photograph shows: every parameter of a scene, drawn from a seed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from benchmarks.shapes import CUTS, Points, hide_outline, loop

RGB = tuple[int, int, int]
MATS: dict[str, tuple[RGB, RGB]] = {  # mat and line colour, sRGB
    "green-light": ((38, 92, 66), (196, 206, 150)),
    "green-yellow": ((30, 84, 58), (214, 196, 96)),
    "black-light": ((34, 34, 36), (190, 190, 188)),
    "blue-light": ((40, 66, 122), (196, 206, 224)),
    "grey-dark": ((150, 152, 152), (60, 62, 66)),
    "grey-light": ((98, 100, 102), (212, 212, 210)),
    "green-dark": ((96, 150, 110), (28, 46, 36)),
    "blue-dark": ((120, 156, 196), (34, 44, 70)),
}
LEATHERS: dict[str, RGB] = {
    "natural": (214, 176, 138),
    "russet": (150, 86, 50),
    "dark brown": (78, 48, 34),
    "black": (30, 27, 26),
    "white": (232, 228, 220),
    "red": (150, 36, 34),
    "near mat": (0, 0, 0),
}
PENS: dict[str, RGB] = {
    "red": (196, 40, 44),
    "blue": (38, 70, 176),
    "white": (238, 238, 236),
    "yellow": (232, 206, 70),
    "black": (24, 24, 26),
    "green": (30, 130, 70),
}
PITCHES = {"10 mm": 10.0, "1/2 in": 12.7, "1 in": 25.4}


@dataclass(frozen=True)
class Stroke:
    """A flaw loop drawn on the hide; ``gap`` is the share of the loop left open at its end.

    ``dash`` is the length (mm) of dashes and of the gaps between them, None for a plain stroke.
    """

    points: Points
    colour: str
    width: float
    gap: float = 0.0
    chalk: bool = False
    dash: tuple[float, float] | None = None


@dataclass(frozen=True)
class Scene:
    """All of one photograph. Lengths in mm on the mat (x right, y up), angles in degrees."""

    seed: int
    width: int
    height: int
    pitch: float
    bold_every: int
    outline: Points
    cut: str = "single shoulder"
    mat: str = "green-light"
    leather: str = "natural"
    tilt: float = 8.0
    azimuth: float = 30.0
    roll: float = 3.0
    focal: float = 0.75
    distance: float = 1500.0
    aim: tuple[float, float] = (0.0, 0.0)
    k1: float = -0.04
    model: str = "brown"
    thickness: float = 1.8
    line_width: float = 0.8
    bold_width: float = 1.7
    mat_offset: tuple[float, float] = (3.0, 7.0)
    mat_half: tuple[float, float] | None = None
    numerals: bool = True
    holes: tuple[Points, ...] = ()
    strokes: tuple[Stroke, ...] = ()
    contact_shadow: float = 0.3
    contact_sigma: float = 4.0
    big_shadow: float = 0.0
    hard_shadow: bool = False
    vignette: float = 0.25
    gradient: tuple[float, float] = (0.1, -0.1)
    glare: float = 0.0
    exposure: float = 1.0
    noise: float = 0.006
    blur: float = 0.7
    quality: int = 88
    warmth: float = 0.0
    extra: dict[str, float] = field(default_factory=dict)

    @property
    def leather_rgb(self) -> RGB:
        """The leather's base colour; ``near mat`` is a step away from the mat's own."""
        if self.leather != "near mat":
            return LEATHERS[self.leather]
        r, g, b = MATS[self.mat][0]
        return min(r + 34, 255), min(g + 14, 255), min(b + 4, 255)


def inside_distance(outline: Points, point: Points) -> float:
    """Distance (mm) of a point from the outline, positive inside."""
    return float(
        cv2.pointPolygonTest(outline.astype(np.float32)[:, None], (float(point[0]), float(point[1])), True)
    )


def place(
    outline: Points, clear: float, taken: list[tuple[Points, float]], rng: np.random.Generator
) -> Points | None:
    """A point inside the outline by ``clear`` mm and away from what is taken."""
    low, high = outline.min(axis=0), outline.max(axis=0)
    for _ in range(200):
        point = rng.uniform(low, high)
        free = all(np.hypot(*(point - other)) > clear + radius + 12 for other, radius in taken)
        if free and inside_distance(outline, point) > clear:
            return point
    return None


def readable_pens(leather: RGB) -> list[str]:
    """Pens that a person would choose on this leather: far enough from its colour to be seen."""
    return [name for name, rgb in PENS.items() if np.abs(np.subtract(rgb, leather)).max() > 75]


def random_scene(
    seed: int, megapixels: tuple[float, ...] = (12.0, 12.0, 24.0), max_tilt: float = 20.0
) -> Scene:
    """A scene drawn from the whole space of photographs that the measurement promises to read."""
    rng = np.random.default_rng([7193, seed])
    pixels = float(rng.choice(megapixels)) * 1e6
    width = int(round(np.sqrt(pixels * 4 / 3) / 8) * 8)
    height = int(round(width * 0.75 / 8) * 8)
    cut = str(rng.choice(list(CUTS)))
    area = float({"belly": rng.uniform(2.2e5, 4e5)}.get(cut, rng.uniform(4.5e5, 9.5e5)))
    outline = hide_outline(cut, area, float(rng.choice([0.4, 1.2, 2.5])), bool(rng.random() < 0.7), rng)
    leather = str(rng.choice(list(LEATHERS)))
    mat = str(rng.choice(list(MATS)))
    if leather == "black" and mat == "black-light":
        leather = "near mat"
    pitch = PITCHES[str(rng.choice(list(PITCHES)))]
    scene = Scene(
        seed=seed,
        width=width,
        height=height,
        pitch=pitch,
        bold_every=int(rng.choice([5, 5, 10, 0])),
        outline=outline,
        cut=cut,
        mat=mat,
        leather=leather,
        tilt=float(rng.uniform(0, max_tilt)),
        azimuth=float(rng.uniform(0, 360)),
        roll=float(rng.normal(0, 5)),
        focal=float(rng.uniform(0.66, 0.95)),
        k1=float(rng.uniform(-0.12, 0.08)),
        model="division" if rng.random() < 0.25 else "brown",
        thickness=float(rng.uniform(0.8, 3.4)),
        line_width=float(rng.uniform(0.5, 1.0)),
        bold_width=float(rng.uniform(1.3, 2.2)),
        mat_offset=(float(rng.uniform(0, 30)), float(rng.uniform(0, 30))),
        numerals=bool(rng.random() < 0.6),
        contact_shadow=float(rng.uniform(0.1, 0.5)),
        contact_sigma=float(rng.uniform(2, 9)),
        big_shadow=float(rng.choice([0.0, rng.uniform(0.1, 0.4)])),
        hard_shadow=bool(rng.random() < 0.4),
        vignette=float(rng.uniform(0.05, 0.4)),
        gradient=(float(rng.normal(0, 0.12)), float(rng.normal(0, 0.12))),
        glare=float(rng.choice([0.0, rng.uniform(0.02, 0.12)])),
        exposure=float(rng.uniform(0.75, 1.1)),
        noise=float(rng.uniform(0.003, 0.014)),
        blur=float(rng.uniform(0.4, 1.1)),
        quality=int(rng.integers(70, 96)),
        warmth=float(rng.normal(0, 0.08)),
    )
    half = (
        None
        if rng.random() < 0.7
        else tuple(float(v) for v in np.abs(outline).max(axis=0) + rng.uniform(80, 160, 2))
    )
    scene = replace(scene, mat_half=half, **_marks(scene, rng))
    return fit_camera(scene, float(rng.uniform(0.05, 0.12)), rng)


def _marks(scene: Scene, rng: np.random.Generator) -> dict[str, tuple[Stroke, ...] | tuple[Points, ...]]:
    """Holes and flaw loops; some loops touch the edge, some are not quite closed."""
    taken: list[tuple[Points, float]] = []
    holes, strokes = [], []
    pens = readable_pens(scene.leather_rgb)
    chosen = [str(p) for p in rng.choice(pens, size=min(2, len(pens)), replace=False)]
    for _ in range(int(rng.integers(0, 3))):
        radius = float(rng.uniform(7, 22))
        centre = place(scene.outline, radius + 15, taken, rng)
        if centre is not None:
            holes.append(loop(centre, radius, rng))
            taken.append((centre, 1.4 * radius))
    for _ in range(int(rng.integers(0, 16))):
        radius = float(rng.uniform(14, 55))
        edge = rng.random() < 0.15
        centre = place(scene.outline, 4.0 if edge else 1.5 * radius + 8, taken, rng)
        if centre is None:
            continue
        if edge:
            # A loop that runs over the edge: the part outside is not drawn.
            nearest = scene.outline[int(np.argmin(np.hypot(*(scene.outline - centre).T)))]
            centre = nearest + (centre - nearest) * min(
                1.0, 0.5 * radius / (np.hypot(*(centre - nearest)) + 1e-9)
            )
        chalk = bool(rng.random() < 0.5)
        strokes.append(
            Stroke(
                loop(centre, radius, rng),
                str(rng.choice(chosen)),
                float(rng.uniform(2.2, 4.5) if chalk else rng.uniform(1.4, 2.5)),
                float(rng.uniform(0.01, 0.05)) if rng.random() < 0.25 and not edge else 0.0,
                chalk,
            )
        )
        taken.append((centre, 1.4 * radius))
    return {"holes": tuple(holes), "strokes": tuple(strokes)}


def with_dashes(scene: Scene, share: float) -> Scene:
    """The scene with a share of its loops drawn as dashes; all else as it was."""
    rng = np.random.default_rng([2817, scene.seed])
    strokes = []
    for stroke in scene.strokes:
        dash = float(rng.uniform(6.0, 14.0))
        gap = dash * float(rng.uniform(0.5, 1.2))
        chosen = rng.random() < share
        strokes.append(replace(stroke, gap=0.0, dash=(dash, gap)) if chosen else stroke)
    return replace(scene, strokes=tuple(strokes))


def fit_camera(scene: Scene, margin: float, rng: np.random.Generator) -> Scene:
    """Step back until the hide lies in the frame by ``margin`` of its size on every side."""
    from benchmarks.render import Camera

    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    distance = float(np.max((high - low) * [1, 4 / 3])) * scene.focal
    scene = replace(scene, aim=(float(rng.normal(0, 15)), float(rng.normal(0, 15))))
    for _ in range(200):
        scene = replace(scene, distance=distance)
        pixels = Camera(scene).project(scene.outline, scene.thickness)
        inside = min(
            pixels[:, 0].min(),
            scene.width - pixels[:, 0].max(),
            pixels[:, 1].min(),
            scene.height - pixels[:, 1].max(),
        )
        if inside > margin * scene.height:
            break
        distance *= 1.03
    return scene
