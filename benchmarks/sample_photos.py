"""The rendered sample photographs: ``python -m benchmarks.sample_photos --out sample_hides``."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks.render import render_to
from benchmarks.scenes import Scene, Stroke, fit_camera
from benchmarks.shapes import hide_outline, loop

FT2 = 92903.04


def shoulder_01() -> Scene:
    """A natural shoulder on a green mat ruled 1 in: one edge cut true, three loops, one hole."""
    rng = np.random.default_rng(101)
    outline = hide_outline("single shoulder", 7.1 * FT2, 1.2, True, rng)
    low, high = outline.min(axis=0), outline.max(axis=0)

    def at(u: float, v: float) -> np.ndarray:
        return low + (high - low) * [u, v]

    scene = Scene(
        seed=101,
        width=4000,
        height=3000,
        pitch=25.4,
        bold_every=5,
        outline=outline,
        tilt=11.0,
        azimuth=-75.0,
        roll=2.0,
        focal=0.76,
        k1=-0.045,
        thickness=1.8,
        line_width=0.8,
        bold_width=1.7,
        big_shadow=0.15,
        contact_shadow=0.3,
        contact_sigma=4.0,
        noise=0.006,
        blur=0.7,
        quality=84,
        holes=(loop(at(0.3, 0.33), 13.0, rng),),
        strokes=(
            Stroke(loop(at(0.18, 0.6), 34.0, rng), "blue", 2.0),
            Stroke(loop(at(0.62, 0.62), 27.0, rng), "red", 2.2, gap=0.02),
            Stroke(loop(at(0.84, 0.3), 38.0, rng), "red", 2.2),
        ),
    )
    return fit_camera(scene, 0.08, rng)


def shoulder_02() -> Scene:
    """A russet shoulder, ragged all round, on a grey mat ruled 1/2 in with dark lines."""
    rng = np.random.default_rng(202)
    outline = hide_outline("single shoulder", 6.3 * FT2, 2.2, False, rng)
    low, high = outline.min(axis=0), outline.max(axis=0)

    def at(u: float, v: float) -> np.ndarray:
        return low + (high - low) * [u, v]

    scene = replace(
        shoulder_01(),
        seed=202,
        outline=outline,
        mat="grey-dark",
        leather="russet",
        pitch=12.7,
        bold_every=10,
        tilt=15.0,
        azimuth=100.0,
        roll=-4.0,
        k1=0.03,
        thickness=2.4,
        line_width=0.6,
        bold_width=1.4,
        quality=84,
        holes=(),
        strokes=(
            Stroke(loop(at(0.3, 0.4), 40.0, rng), "white", 3.4, chalk=True),
            Stroke(loop(at(0.7, 0.6), 24.0, rng), "yellow", 3.0, chalk=True),
        ),
    )
    return fit_camera(scene, 0.08, rng)


def main() -> None:
    """Render both."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path("sample_hides"))
    out = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    render_to(shoulder_01(), out / "shoulder-photo-01")
    render_to(shoulder_02(), out / "shoulder-photo-02")


if __name__ == "__main__":
    main()
