"""Kinds of files that cameras and scanners write, against Pillow's own reading; and files that would hurt."""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from nesting.capture.decode import MOST_BYTES, read_photo
from nesting.errors import CaptureRefused, InputError


def picture() -> Image.Image:
    """640 x 480, another colour in each corner."""
    image = np.zeros((480, 640, 3), np.uint8)
    image[:, :320, 0] = 200
    image[..., 2] = np.linspace(0, 255, 480).astype(np.uint8)[:, None]
    return Image.fromarray(image)


def bgr(path: Path) -> np.ndarray:
    """What Pillow shows of the file, turned upright."""
    with Image.open(path) as image:
        return np.asarray(ImageOps.exif_transpose(image).convert("RGB"))[..., ::-1]


@pytest.mark.parametrize("turn", range(1, 9))
@pytest.mark.parametrize("ending", ["jpg", "png", "tif", "webp"])
def test_each_exif_turn_of_each_format(tmp_path: Path, turn: int, ending: str) -> None:
    exif = Image.Exif()
    exif[0x0112] = turn  # Exif 2.32, Orientation
    path = tmp_path / f"a.{ending}"
    picture().save(path, exif=exif, quality=95)
    seen, wanted = read_photo(path).image, bgr(path)
    assert seen.shape == wanted.shape == ((480, 640, 3) if turn < 5 else (640, 480, 3))
    assert np.abs(seen.astype(int) - wanted).mean() < 0.5


@pytest.mark.parametrize(
    ("name", "mode"),
    [("a.png", "P"), ("a.gif", "P"), ("a.png", "1"), ("a.png", "LA"), ("a.tif", "CMYK"), ("a.jpg", "CMYK"),
     ("a.jpg", "L"), ("a.tif", "L"), ("a.webp", "RGBA"), ("a.bmp", "RGB")],
)  # fmt: skip
def test_modes_of_colour(tmp_path: Path, name: str, mode: str) -> None:
    picture().convert(mode).save(tmp_path / name)
    seen = read_photo(tmp_path / name).image
    assert seen.shape == (480, 640, 3)
    assert np.abs(seen.astype(int) - bgr(tmp_path / name)).mean() < 1.5


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
@pytest.mark.parametrize("channels", [1, 3])
def test_sixteen_bits_become_eight(tmp_path: Path, name: str, channels: int) -> None:
    plain = np.asarray(picture())[..., ::-1] if channels == 3 else np.asarray(picture().convert("L"))
    cv2.imwrite(str(tmp_path / name), plain.astype(np.uint16) * 257)
    seen = read_photo(tmp_path / name).image
    wanted = plain if channels == 3 else np.repeat(plain[..., None], 3, axis=2)
    assert np.abs(seen.astype(int) - wanted).max() <= 1


def test_of_several_pages_the_first_counts(tmp_path: Path) -> None:
    picture().save(tmp_path / "a.tif", save_all=True, append_images=[Image.new("RGB", (500, 500))])
    assert read_photo(tmp_path / "a.tif").image.shape == (480, 640, 3)


@pytest.mark.parametrize("ending", ["jpg", "png", "tif", "webp"])
@pytest.mark.parametrize("kept", [0.0, 0.02, 0.5, 0.98])
def test_files_that_break_off(tmp_path: Path, ending: str, kept: float) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (480, 640, 3), np.uint8)
    Image.fromarray(noise).save(tmp_path / f"a.{ending}", quality=95)
    data = (tmp_path / f"a.{ending}").read_bytes()
    (tmp_path / f"b.{ending}").write_bytes(data[: int(kept * len(data))])
    with pytest.raises(InputError, match=r"breaks off|not an image" if kept else "the file is empty"):
        read_photo(tmp_path / f"b.{ending}")


@pytest.mark.parametrize("brand", [b"heic", b"heix", b"mif1", b"hevc"])
def test_heic_says_what_to_do(tmp_path: Path, brand: bytes) -> None:
    (tmp_path / "a.jpg").write_bytes(b"\x00\x00\x00\x18ftyp" + brand + bytes(64))
    with pytest.raises(InputError, match="HEIC photographs cannot be read; save it as JPEG"):
        read_photo(tmp_path / "a.jpg")


def test_avif_likewise(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"\x00\x00\x00\x18ftypavif" + bytes(64))
    with pytest.raises(InputError, match="AVIF photographs cannot be read; save it as JPEG"):
        read_photo(tmp_path / "a.jpg")


def test_no_photograph_at_all_says_where_to_look(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"is a folder; name the photographs in it, like .*\*\.jpg"):
        read_photo(tmp_path)
    with pytest.raises(InputError, match="no such photograph; check the folder and the ending"):
        read_photo(tmp_path / "*.jpg")
    (tmp_path / "a.jpg").touch()
    with pytest.raises(InputError, match="the file is empty; copy the photograph"):
        read_photo(tmp_path / "a.jpg")


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "a.jpg"
    path.touch()
    os.truncate(path, MOST_BYTES + 1)  # sparse: it takes no room
    with pytest.raises(CaptureRefused, match="larger than 250 MB"):
        read_photo(path)


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def test_a_text_that_unpacks_to_much_is_refused(tmp_path: Path) -> None:
    # PNG (ISO/IEC 15948) zTXt: a keyword, method 0, and 200 MB of one letter packed into 200 kB.
    bomb = chunk(b"zTXt", b"k\x00\x00" + zlib.compress(b"a" * 200_000_000, 9))
    stream = io.BytesIO()
    picture().save(stream, "PNG")
    data = stream.getvalue()
    (tmp_path / "a.png").write_bytes(data[:33] + bomb + data[33:])
    with pytest.raises(InputError, match=r"a\.png: not an image that can be read"):
        read_photo(tmp_path / "a.png")


def test_a_tiff_that_promises_too_much_is_refused_from_its_header(tmp_path: Path) -> None:
    # TIFF 6.0: little endian, one directory with the size alone and one strip that is not there.
    tags = [(256, 4, 1, 90_000), (257, 4, 1, 90_000), (258, 3, 1, 8), (259, 3, 1, 1), (262, 3, 1, 1),
            (273, 4, 1, 8), (277, 3, 1, 1), (278, 4, 1, 90_000), (279, 4, 1, 100)]  # fmt: skip
    entries = b"".join(struct.pack("<HHII", *tag) for tag in tags)
    data = b"II*\x00" + struct.pack("<I", 8) + struct.pack("<H", len(tags)) + entries + bytes(4)
    (tmp_path / "a.tif").write_bytes(data)
    with pytest.raises(CaptureRefused, match="8100 megapixels"):
        read_photo(tmp_path / "a.tif")


def test_a_jpeg_that_promises_too_much_is_refused_from_its_header(tmp_path: Path) -> None:
    stream = io.BytesIO()
    picture().save(stream, "JPEG")
    data = bytearray(stream.getvalue())
    at = data.index(b"\xff\xc0")  # SOF0 (ITU-T T.81): length, precision, height, width
    data[at + 5 : at + 9] = struct.pack(">HH", 60_000, 60_000)
    (tmp_path / "a.jpg").write_bytes(bytes(data))
    with pytest.raises(CaptureRefused, match="3600 megapixels"):
        read_photo(tmp_path / "a.jpg")


def test_a_large_photograph_is_read_at_half_its_size(tmp_path: Path) -> None:
    Image.new("L", (6600, 4800), 130).save(tmp_path / "a.png")
    photo = read_photo(tmp_path / "a.png")
    assert photo.halved
    assert photo.image.shape == (2400, 3300, 3)
