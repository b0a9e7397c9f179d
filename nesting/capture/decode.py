"""Reading a photograph without being hurt by it.

The header is read first (Pillow reads no pixels to open a file), so a decompression bomb is refused
before a byte of it is unpacked. Pixels come from OpenCV: BGR, 8 bits, turned upright by the EXIF
tag; greyscale, CMYK and 16-bit files are converted.
"""

from __future__ import annotations

import hashlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nesting.capture import cv
from nesting.errors import CaptureRefused, InputError

MOST_MEGAPIXELS = 60.0
HALVED_ABOVE_MEGAPIXELS = 30.0
LEAST_PIXELS = 400
MOST_BYTES = 250_000_000
_HEIC = (b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"heim", b"heis")
UNREAD = {**dict.fromkeys(_HEIC, "HEIC"), b"avif": "AVIF", b"avis": "AVIF"}
"""Brands (ISO/IEC 14496-12, clause 4.3) of photographs that cameras write and nothing here decodes."""


@dataclass(frozen=True)
class Photo:
    """``image`` (rows, columns, 3) BGR uint8 upright; ``focal_35mm`` from EXIF, None when not stated."""

    image: NDArray[np.uint8]
    sha256: str
    focal_35mm: float | None
    halved: bool

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the image, px."""
        return self.image.shape[1], self.image.shape[0]


@dataclass(frozen=True)
class _Header:
    width: int
    height: int
    format: str
    focal_35mm: float | None


def read_photo(path: Path) -> Photo:
    """The photograph at ``path``.

    Raises InputError when it is not a readable image, CaptureRefused when it is too large or small.
    """
    data = _bytes(path)
    header = _header(path, data)
    _whole(path, data)
    halve = header.width * header.height / 1e6 > HALVED_ABOVE_MEGAPIXELS
    image = cv.decode(data, halve)
    if image is None:
        raise InputError(f"{path}: the {header.format} file cannot be decoded; save it again as JPEG or PNG")
    return Photo(image, hashlib.sha256(data).hexdigest(), header.focal_35mm, halve)


def _refuse_size(path: Path, width: int, height: int) -> None:
    megapixels = width * height / 1e6
    if megapixels > MOST_MEGAPIXELS:
        raise CaptureRefused(
            f"{path}: {megapixels:.0f} megapixels ({width} x {height}) is more than the "
            f"{MOST_MEGAPIXELS:.0f} that are read; save it smaller, 12 to 24 megapixels are plenty"
        )
    if min(width, height) < LEAST_PIXELS:
        raise CaptureRefused(
            f"{path}: {width} x {height} pixels are too few to measure by; "
            "use the camera's own file, not a preview"
        )


def _bytes(path: Path) -> bytes:
    if path.is_dir():
        raise InputError(f"{path}: is a folder; name the photographs in it, like {path / '*.jpg'}")
    if "*" in path.name and not path.exists():
        raise InputError(f"{path}: there is no such photograph; check the folder and the ending of its files")
    try:
        if path.stat().st_size > MOST_BYTES:
            raise CaptureRefused(f"{path}: larger than {MOST_BYTES // 1_000_000} MB; save it as JPEG")
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"{path}: {error.strerror}; check the name of the photograph") from error
    if not data:
        raise InputError(f"{path}: the file is empty; copy the photograph from the camera again")
    return data


def _header(path: Path, data: bytes) -> _Header:
    from PIL import Image, UnidentifiedImageError

    kind = UNREAD.get(data[8:12]) if data[4:8] == b"ftyp" else None
    if kind is not None:
        raise InputError(
            f"{path}: {kind} photographs cannot be read; save it as JPEG, "
            "or set the camera to its most compatible format"
        )
    with warnings.catch_warnings():
        # A large picture is judged by the caller, in megapixels and in words.
        warnings.simplefilter("ignore")
        limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
        try:
            with Image.open(io.BytesIO(data)) as image:
                # Before the EXIF tags: for a PNG they are sought behind the pixels, by unpacking all of them.
                _refuse_size(path, *image.size)
                return _Header(*image.size, image.format or "image", _focal(image.getexif()))
        except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
            raise InputError(
                f"{path}: not an image that can be read; give a JPEG, PNG, TIFF or WebP file"
            ) from error
        finally:
            Image.MAX_IMAGE_PIXELS = limit


def _focal(exif: object) -> float | None:
    """FocalLengthIn35mmFilm (Exif 2.32, tag 0xA405), None when absent or 0."""
    try:
        value = float(exif.get_ifd(0x8769).get(0xA405) or exif.get(0xA405) or 0)  # type: ignore[attr-defined]
    except (TypeError, ValueError, AttributeError, KeyError):
        return None
    return value if 8.0 <= value <= 400.0 else None


def _whole(path: Path, data: bytes) -> None:
    """Refuse a file that breaks off: OpenCV would fill the missing part with grey without a word."""
    from PIL import Image

    try:
        with warnings.catch_warnings(), Image.open(io.BytesIO(data)) as image:
            warnings.simplefilter("ignore")
            image.load()
    except (OSError, SyntaxError, ValueError, EOFError) as error:
        raise InputError(
            f"{path}: the image breaks off or is damaged; copy it from the camera again"
        ) from error
