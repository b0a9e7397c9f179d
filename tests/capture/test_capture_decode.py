"""Files that are not plain JPEGs, and files that would hurt."""

from __future__ import annotations

import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from nesting.capture.decode import read_photo
from nesting.errors import CaptureRefused, InputError


def picture(width: int = 640, height: int = 480) -> np.ndarray:
    """RGB with a red left half and a ramp downwards in blue."""
    image = np.zeros((height, width, 3), np.uint8)
    image[:, : width // 2, 0] = 200
    image[..., 2] = np.linspace(0, 255, height).astype(np.uint8)[:, None]
    return image


def test_colour_comes_as_blue_green_red(tmp_path: Path) -> None:
    Image.fromarray(picture()).save(tmp_path / "a.png")
    photo = read_photo(tmp_path / "a.png")
    assert photo.image.shape == (480, 640, 3)
    assert photo.image[5, 5, 2] == 200
    assert len(photo.sha256) == 64


def test_exif_turn_is_applied(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.32: the row 0 is the visual right-hand side
    Image.fromarray(picture()).save(tmp_path / "a.jpg", exif=exif)
    assert read_photo(tmp_path / "a.jpg").image.shape == (640, 480, 3)


def test_focal_length_is_read(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    Image.fromarray(picture()).save(tmp_path / "a.jpg", exif=exif)
    assert read_photo(tmp_path / "a.jpg").focal_35mm == 26.0


@pytest.mark.parametrize("mode", ["L", "CMYK", "RGBA", "16-bit", "tiff", "webp"])
def test_other_kinds_become_three_bytes(tmp_path: Path, mode: str) -> None:
    image = Image.fromarray(picture())
    if mode == "16-bit":
        path = tmp_path / "a.png"
        Image.fromarray((np.arange(640 * 480).reshape(480, 640) % 65536).astype(np.uint16)).save(path)
    elif mode in ("tiff", "webp"):
        path = tmp_path / f"a.{mode}"
        image.save(path)
    else:
        path = tmp_path / ("a.jpg" if mode == "CMYK" else "a.png")
        image.convert(mode).save(path)
    photo = read_photo(path)
    assert photo.image.shape == (480, 640, 3)
    assert photo.image.dtype == np.uint8
    if mode == "CMYK":
        assert abs(int(photo.image[5, 5, 2]) - 200) < 25


def test_a_file_that_breaks_off_is_named(tmp_path: Path) -> None:
    Image.fromarray(picture()).save(tmp_path / "a.jpg", quality=95)
    data = (tmp_path / "a.jpg").read_bytes()
    (tmp_path / "b.jpg").write_bytes(data[: len(data) // 2])
    with pytest.raises(InputError, match="breaks off"):
        read_photo(tmp_path / "b.jpg")


def test_text_is_no_image(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_text("not an image")
    with pytest.raises(InputError, match="not an image"):
        read_photo(tmp_path / "a.jpg")


def test_heic_gets_a_clear_word(tmp_path: Path) -> None:
    (tmp_path / "a.heic").write_bytes(b"\x00\x00\x00\x18ftypheic" + bytes(64))
    with pytest.raises(InputError, match="HEIC"):
        read_photo(tmp_path / "a.heic")


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="No such file"):
        read_photo(tmp_path / "none.jpg")
    with pytest.raises(InputError, match="folder"):
        read_photo(tmp_path)


def test_a_hundred_megapixels_are_refused_before_they_are_unpacked(tmp_path: Path) -> None:
    # A PNG whose header promises 10 000 × 10 000 and whose data is empty: only the header may be believed.
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", 10000, 10000, 8, 2, 0, 0, 0)
    png = (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )
    (tmp_path / "big.png").write_bytes(png)
    with pytest.raises(CaptureRefused, match="100 megapixels"):
        read_photo(tmp_path / "big.png")


def test_a_thumbnail_is_too_small(tmp_path: Path) -> None:
    Image.fromarray(picture(320, 240)).save(tmp_path / "a.png")
    with pytest.raises(CaptureRefused, match="too few"):
        read_photo(tmp_path / "a.png")
