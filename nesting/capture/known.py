"""Distances that a person measured on the table: they confirm a scale, or decide it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.capture.camera import Camera
from nesting.capture.decode import Photo
from nesting.errors import CaptureRefused, InputError
from nesting.units import format_length, parse_length

Points = NDArray[np.float64]
End = str | tuple[float, float]

READING_MM = 0.5
"""Standard deviation of reading a tape marked in millimetres at both its ends; no source."""
POINT_PX = 1.0
"""Standard deviation, in x and in y, of a point that a person reads off the picture; no source."""


@dataclass(frozen=True)
class Known:
    """A length between two ends: letters of target sheets, or (x, y) px of the picture as it is shown."""

    ends: tuple[End, End]
    length_mm: float
    text: str

    @property
    def pixels(self) -> Points | None:
        """The two ends (2, 2) in px, None where they are letters."""
        if isinstance(self.ends[0], str) or isinstance(self.ends[1], str):
            return None
        return np.array(self.ends, float)


def parse_known(text: str) -> Known:
    """``A B 600 mm`` or ``820,1410 2310,1395 600 mm``. Raises InputError."""
    form = (
        f'"{text}" is not understood; write two sheets or two points of the picture and their distance, like '
    )
    form += '"A B 600 mm" or "820,1410 2310,1395 600 mm"'
    found = re.fullmatch(r"\s*(\S+)\s+(\S+)\s+(.+?)\s*", text)
    if found is None:
        raise InputError(form)
    ends = [_end(found[k]) for k in (1, 2)]
    if None in ends or isinstance(ends[0], str) != isinstance(ends[1], str):
        raise InputError(form)
    if ends[0] == ends[1]:
        raise InputError(f'"{text}": the two ends are the same')
    return Known((ends[0], ends[1]), parse_length(found[3], positive=True), text.strip())  # type: ignore[arg-type]


def _end(text: str) -> End | None:
    if re.fullmatch(r"[A-Za-z]", text):
        return text.upper()
    return parse_point(text)


def parse_point(text: str) -> tuple[float, float] | None:
    """``820,1410`` to a point, None where it is none."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?),(\d+(?:\.\d+)?)", text)
    return None if found is None else (float(found[1]), float(found[2]))


def on_picture(points: Points, halved: bool, size: tuple[int, int], option: str) -> Points:
    """Points (n, 2) of the picture as shown to those of the image as read; ``size`` (width, height) of it.

    Raises InputError for a point beyond the picture.
    """
    at = (points + 0.5) / 2.0 - 0.5 if halved else points
    beyond = (at < -0.5).any(axis=1) | (at > np.array(size) - 0.5).any(axis=1)
    if beyond.any():
        x, y = points[int(np.argmax(beyond))]
        full = [v * (2 if halved else 1) for v in size]
        raise InputError(
            f"{option}: {x:g},{y:g} lies beyond the picture of {full[0]} x {full[1]} pixels; "
            "count pixels from its upper left corner, x to the right, y down"
        )
    return at


def known_ends(one: Known, photo: Photo, letters: Sequence[str] = ()) -> Points | None:
    """The ends (2, 2) of a known length in px of the image as read, None where they are sheets.

    ``letters`` are the target sheets that are seen. Raises InputError for a point beyond the picture,
    CaptureRefused for a sheet that is not seen.
    """
    if one.pixels is not None:
        return on_picture(one.pixels, photo.halved, photo.size, "--known")
    if not letters:
        raise CaptureRefused(
            f'"{one.text}" names sheets, but there are no target sheets here; give two points of the picture'
        )
    missing = [str(end) for end in one.ends if end not in letters]
    if missing:
        raise CaptureRefused(
            f'"{one.text}": sheet {missing[0]} is not seen in the photograph (these are: '
            f"{', '.join(letters)}); name two that are"
        )
    return None


def points_known(known: Sequence[Known], photo: Photo) -> list[tuple[Points, Known]]:
    """The known lengths with their ends in px, where no sheets are laid. Raises as ``known_ends``."""
    found = [(known_ends(one, photo), one) for one in known]
    return [(pixels, one) for pixels, one in found if pixels is not None]


def tape_deviation(length_mm: float) -> float:
    """Standard deviation (mm) of a length by tape: reading it, and the tape's own error.

    A tape of class II may be off by 0.3 mm + 0.2 mm for each metre, begun ones counted whole (Directive
    2014/32/EU, Annex X (MI-008), from memory); taken as evenly spread between these limits.
    """
    limit = 0.3 + 0.2 * np.ceil(length_mm / 1000.0)
    return float(np.hypot(READING_MM, limit / np.sqrt(3.0)))


def seen_distance(camera: Camera, pixels: Points, mm_per_label: Points) -> tuple[float, float]:
    """Distance between two points (2, 2) px, and what ``POINT_PX`` does to it; both in mm.

    ``mm_per_label`` (2,) are the sizes of the camera's labels along i and j.
    """
    steps = np.array([[0, 0], [1, 0], [0, 1.0]])
    ends = [camera.unproject(p + steps) * mm_per_label for p in pixels]
    along = ends[1][0] - ends[0][0]
    length = float(np.hypot(*along))
    slopes = [(e[1:] - e[0]) @ along / max(length, 1e-9) for e in ends]
    return length, POINT_PX * float(np.hypot(np.linalg.norm(slopes[0]), np.linalg.norm(slopes[1])))


def pitch_from(camera: Camera, known: Sequence[tuple[Points, Known]]) -> tuple[float, float]:
    """The pitch (mm) that the known lengths ask for, the same both ways, and its relative deviation.

    ``known`` holds the ends (2, 2) in px of the image beside each length. Lengths that contradict each other
    are refused.
    """
    for pixels, one in known:
        if seen_distance(camera, pixels, np.ones(2))[0] < 1.0:
            raise CaptureRefused(
                f'the two points of "{one.text}" are less than one line apart; choose two far apart'
            )
    values, shares, pitch = _told(camera, np.ones(2), known)
    for value, share, (_, one) in zip(values, shares, known, strict=True):
        if abs(value / pitch - 1.0) > 2.0 * (share + 1e-3):
            raise CaptureRefused(
                f'the known distances contradict each other: by "{one.text}" the lines are {value:.2f} mm '
                f"apart, by all together {pitch:.2f} mm; measure them again, on the mat itself"
            )
    return pitch, float(1.0 / np.sqrt((1.0 / shares**2).sum()))


def _told(
    camera: Camera, mm_per_label: Points, known: Sequence[tuple[Points, Known]]
) -> tuple[Points, Points, float]:
    """By how much each known length is longer than it is seen (n,), relative deviations, weighted mean."""
    values, shares = [], []
    for pixels, one in known:
        length, off = seen_distance(camera, pixels, mm_per_label)
        values.append(one.length_mm / length)
        shares.append(float(np.hypot(tape_deviation(one.length_mm) / one.length_mm, off / length)))
    found, spread = np.array(values), np.array(shares)
    return found, spread, float(np.average(found, weights=1.0 / spread**2))


def scale_doubt(
    camera: Camera, mm_per_label: Points, known: Sequence[tuple[Points, Known]], stated_share: float
) -> float:
    """Relative deviation of the lengths by a stated scale that known lengths have confirmed.

    Statement and lengths together know the scale better than either; but the stated one is kept as it is,
    so what their weighted mean would correct it by is added (JCGM 100:2008, F.2.4.5).
    """
    _, shares, told = _told(camera, mm_per_label, known)
    stated, measured = 1.0 / stated_share**2, float((1.0 / shares**2).sum())
    off = (told - 1.0) * measured / (stated + measured)
    return float(np.hypot(1.0 / np.sqrt(stated + measured), off))


def confirm(
    camera: Camera,
    mm_per_label: Points,
    known: Sequence[tuple[Points, Known]],
    frame_share: float,
    scale: str,
) -> list[str]:
    """Sentences for the lengths that agree; raises CaptureRefused for one that is off by more than the doubt.

    ``frame_share`` is the relative deviation of lengths that the fit itself leaves; ``scale`` names what was
    stated ("the pitch of 25.4 mm").
    """
    said = []
    for pixels, one in known:
        length, off = seen_distance(camera, pixels, mm_per_label)
        doubt = 2.0 * float(
            np.sqrt(tape_deviation(one.length_mm) ** 2 + off**2 + (frame_share * length) ** 2)
        )
        words = f'"{one.text}" measures {length:.1f} mm on the photograph (± {doubt:.1f} mm, k = 2)'
        if abs(length - one.length_mm) > doubt:
            factor = one.length_mm / max(length, 1e-9)
            raise CaptureRefused(
                f"{words}: this contradicts {scale}, which would have to be {100 * (factor - 1):+.1f} %; "
                "measure both again over a long stretch, and see that the two points lie on the mat itself, "
                f"{format_length(one.length_mm)} apart"
            )
        said.append(f"{words} and confirms {scale}")
    return said
