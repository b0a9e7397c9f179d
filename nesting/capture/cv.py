"""Every use of OpenCV in this room, with its outputs brought to one shape.

Images are arrays (rows, columns[, 3]) in BGR; points are (n, 2) as (x, y), x to the right, y
down, pixel centres at whole numbers. OpenCV 4 and 5 return point lists in different shapes;
everything here is reshaped to (n, 2).
"""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]
Points = NDArray[np.float64]


def decode(data: bytes, halve: bool) -> Bytes | None:
    """Bytes of an image file to BGR uint8, turned upright; None when OpenCV cannot read it."""
    flag = cv2.IMREAD_REDUCED_COLOR_2 if halve else cv2.IMREAD_COLOR
    image = cv2.imdecode(np.frombuffer(data, np.uint8), flag)
    return None if image is None else np.asarray(image, np.uint8)


def encode_png(image: Bytes) -> bytes:
    """BGR uint8 to the bytes of a PNG file."""
    ok, data = cv2.imencode(".png", image, [cv2.IMWRITE_PNG_COMPRESSION, 4])
    if not ok:
        raise ValueError("the picture could not be encoded as PNG")
    return data.tobytes()


def grey(image: Bytes) -> Floats:
    """BGR to luminance, float32 0..255."""
    return cv2.cvtColor(image, cv2.COLOR_BGR2GRAY).astype(np.float32)


def blur(image: Any, sigma: float) -> Any:
    """Gaussian blur, border mirrored; unchanged below a sigma of 0.2."""
    if sigma < 0.2:
        return image
    # OpenCV drops a last axis of length one.
    return cv2.GaussianBlur(image, (0, 0), sigma, borderType=cv2.BORDER_REFLECT_101).reshape(image.shape)


def wide_blur(image: Any, sigma: float) -> Any:
    """Gaussian blur; a wide one is done on a smaller copy, which is exact enough for slow fields."""
    factor = int(sigma / 6.0)
    rows, columns = image.shape[:2]
    if factor < 2 or min(rows, columns) < 4 * factor:
        return blur(image, sigma)
    small = resize(image, max(2, columns // factor), max(2, rows // factor), area=True)
    small = blur(small.reshape(*small.shape[:2], *image.shape[2:]), sigma / factor)
    return resize(small, columns, rows).reshape(image.shape)


def box(image: Floats, size: int) -> Floats:
    """Box mean over size × size, zeros beyond the border."""
    return np.asarray(cv2.blur(image, (size, size), borderType=cv2.BORDER_CONSTANT), np.float32)


def median(image: Bytes, size: int) -> Bytes:
    """Median over size × size."""
    return np.asarray(cv2.medianBlur(image, size), np.uint8)


def resize(image: Any, width: int, height: int, area: bool = False) -> Any:
    """Resize; ``area`` averages (for shrinking), otherwise bilinear."""
    return cv2.resize(image, (width, height), interpolation=cv2.INTER_AREA if area else cv2.INTER_LINEAR)


def sample(image: Any, x: Floats, y: Floats, outside: float = float("nan")) -> Any:
    """Bilinear samples at (x, y), arrays of equal 2-D shape; ``outside`` beyond the border.

    OpenCV limits one call to 32 767 rows or columns; callers keep below that.
    """
    return cv2.remap(
        image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=(outside,) * 4
    )


def warp(image: Any, x: Floats, y: Floats) -> Any:
    """Like ``sample``, bicubic, with the border repeated."""
    return cv2.remap(image, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


def disc(radius: float) -> Bytes:
    """A round structuring element."""
    n = max(1, int(np.ceil(radius)))
    y, x = np.mgrid[-n : n + 1, -n : n + 1]
    return np.asarray(x * x + y * y <= radius * radius + 0.25, np.uint8)


def dilate(mask: NDArray[Any], radius: float) -> Bytes:
    """Grow a mask (0/1) by a disc; nothing beyond the border."""
    if radius <= 6:
        return np.asarray(cv2.dilate(mask.astype(np.uint8), disc(radius)), np.uint8)
    return np.asarray(distance(1 - mask.astype(np.uint8)) <= radius, np.uint8)


def largest_near(image: Floats, radius: float) -> Floats:
    """The largest value of an image (rows, columns) within ``radius`` px of each pixel."""
    return np.asarray(cv2.dilate(image, disc(radius)), np.float32)


def erode(mask: NDArray[Any], radius: float) -> Bytes:
    """Shrink a mask (0/1) by a disc; what lies beyond the border counts as set."""
    return np.asarray(1 - dilate(1 - mask.astype(np.uint8), radius), np.uint8)


def distance(mask: NDArray[Any]) -> Floats:
    """Distance (px) of each set pixel from the nearest unset one."""
    if mask.all():
        return np.full(mask.shape, 1e6, np.float32)
    return np.asarray(
        cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE), np.float32
    )


def components(mask: NDArray[Any], eight: bool = True) -> tuple[NDArray[np.int32], NDArray[np.int32], Points]:
    """Connected parts: labels, stats (x, y, width, height, count) and centroids; row 0 is the background."""
    _, labels, stats, centres = cv2.connectedComponentsWithStats(
        mask.astype(np.uint8), connectivity=8 if eight else 4
    )
    return (
        np.asarray(labels, np.int32),
        np.asarray(stats, np.int32).reshape(-1, 5),
        np.asarray(centres, np.float64).reshape(-1, 2),
    )


def largest(mask: NDArray[Any]) -> Bytes:
    """Only the largest connected part of a mask (0/1)."""
    labels, stats, _ = components(mask, eight=False)
    if len(stats) < 2:
        return np.zeros(mask.shape, np.uint8)
    return np.asarray(labels == 1 + int(np.argmax(stats[1:, 4])), np.uint8)


def fill_polygons(shape: tuple[int, int], polygons: list[Points]) -> Bytes:
    """A mask (0/1) with the polygons filled; sub-pixel to 1/16."""
    mask = np.zeros(shape, np.uint8)
    for polygon in polygons:
        cv2.fillPoly(mask, [np.round(polygon * 16).astype(np.int32)], 1, shift=4)
    return mask


def draw_lines(mask: Bytes, lines: list[Points], width: int, value: Any = 1, closed: bool = False) -> None:
    """Draw polylines into an image, in place, anti-aliased when it has three channels."""
    kind = cv2.LINE_AA if mask.ndim == 3 else cv2.LINE_8
    drawn = [np.round(line * 16).astype(np.int32).reshape(-1, 1, 2) for line in lines]
    cv2.polylines(mask, drawn, closed, value, width, kind, 4)


def hull(points: Points) -> Points:
    """Convex hull, (n, 2)."""
    return np.asarray(cv2.convexHull(points.astype(np.float32)), np.float64).reshape(-1, 2)


def write(
    image: Bytes, text: str, at: tuple[float, float], size: float, colour: tuple[int, int, int],
    rim: tuple[int, int, int] | None = (0, 0, 0),
) -> None:  # fmt: skip
    """A line of text (ASCII) into an image, in place; ``size`` is the height of capitals in px."""
    scale = size / 21.0
    weight = max(1, round(scale * 1.6))
    where = int(at[0]), int(at[1])
    # A dark rim by shifted copies: OpenCV 5 sets bolder text wider.
    if rim is not None:
        for dx, dy in ((-1, -1), (1, -1), (-1, 1), (1, 1)):
            beside = where[0] + dx, where[1] + dy
            cv2.putText(image, text, beside, cv2.FONT_HERSHEY_SIMPLEX, scale, rim, weight, cv2.LINE_AA)
    cv2.putText(image, text, where, cv2.FONT_HERSHEY_SIMPLEX, scale, colour, weight, cv2.LINE_AA)


def text_width(text: str, size: float) -> float:
    """Width in px of ``write``'s text."""
    scale = size / 21.0
    (width, _), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, max(1, round(scale * 1.6)))
    return float(width)


def marker_cells(number: int) -> Bytes:
    """Marker ``number`` of the open 4 x 4 dictionary of 250: (6, 6) with its black rim, 1 = white."""
    return np.asarray(_dictionary().generateImageMarker(number, 6) > 0, np.uint8)


def _dictionary() -> Any:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)


def find_markers(image: Bytes) -> tuple[NDArray[np.int64], Points]:
    """Numbers (n,) of the markers seen in a BGR image and their corners (n, 4, 2), clockwise."""
    given = cv2.aruco.DetectorParameters()
    # Small markers too: a sheet may be a tenth of the picture.
    given.minMarkerPerimeterRate = 0.01
    given.adaptiveThreshWinSizeMin = 5
    given.adaptiveThreshWinSizeMax = 45
    plain = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    corners, numbers, _ = cv2.aruco.ArucoDetector(_dictionary(), given).detectMarkers(plain)
    if numbers is None or not len(numbers):
        return np.zeros(0, np.int64), np.zeros((0, 4, 2))
    return np.asarray(numbers, np.int64).ravel(), np.asarray(corners, np.float64).reshape(-1, 4, 2)


def robust_homography(source: Points, target: Points, within: float) -> Points | None:
    """Homography (3, 3) from source (n, 2) to target (n, 2) that most points follow ``within`` px."""
    found, _ = cv2.findHomography(source, target, cv2.RANSAC, within)
    return None if found is None else np.asarray(found, np.float64)


def refine_corners(image: Floats, points: Points, half: int) -> Points:
    """Corners (n, 2) of a chequered pattern to a part of a pixel, in windows of 2 ``half`` + 1 px."""
    rule = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
    at = np.ascontiguousarray(points, np.float32).reshape(-1, 1, 2)
    return np.asarray(cv2.cornerSubPix(image, at, (half, half), (-1, -1), rule), np.float64).reshape(-1, 2)
