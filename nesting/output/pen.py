"""A sheet of pixels to draw on: matplotlib's own objects, no windows, no shared state."""

from __future__ import annotations

import io
from typing import Literal

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline
from matplotlib.patheffects import withStroke
from matplotlib.textpath import text_to_path
from numpy.typing import NDArray

from nesting.rings import Point, Points

Pixels = NDArray[np.uint8]

DPI = 100
Weight = Literal["normal", "bold"]


class Pen:
    """Draws in pixels, origin in the lower left corner, y up; later strokes cover earlier ones."""

    def __init__(self, width: int, height: int) -> None:
        self.figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor="#ffffff")
        FigureCanvasAgg(self.figure)
        self.axes = self.figure.add_axes((0, 0, 1, 1))
        self.axes.set(xlim=(0, width), ylim=(0, height))
        self.axes.axis("off")
        self._size = (width, height)
        self._order = 1

    def image(self, pixels: Pixels, bottom: float = 0.0) -> None:
        """A picture (rows, columns, 3), RGB, pixel for pixel from the left edge and from ``bottom`` up."""
        rows, columns = pixels.shape[:2]
        extent = (0.0, float(columns), bottom, bottom + rows)
        self.axes.imshow(pixels, extent=extent, interpolation="nearest", aspect="auto", zorder=self._next())
        # Showing an image moves the limits to it.
        self.axes.set(xlim=(0, self._size[0]), ylim=(0, self._size[1]))

    def shape(
        self, rings: list[Points], fill: str = "none", line: str = "none", width: float = 1.0,
        alpha: float = 1.0, dash: tuple[float, ...] | None = None,
    ) -> None:  # fmt: skip
        """A filled shape; rings after the first are holes. Each ring has shape (n, 2)."""
        path = Outline.make_compound_path(*[_closed(_turned(ring, i == 0)) for i, ring in enumerate(rings)])
        style = (0, dash) if dash else "solid"
        patch = PathPatch(
            path, facecolor=fill, edgecolor=line, linewidth=_points(width), alpha=alpha, linestyle=style,
            joinstyle="round", zorder=self._next(),
        )  # fmt: skip
        self.axes.add_patch(patch)

    def line(
        self,
        points: Points,
        colour: str,
        width: float = 1.0,
        dash: tuple[float, ...] | None = None,
        alpha: float = 1.0,
    ) -> None:
        """An open line through points of shape (n, 2)."""
        line = Line2D(
            points[:, 0], points[:, 1], color=colour, linewidth=_points(width), alpha=alpha,
            linestyle=(0, dash) if dash else "solid", solid_capstyle="butt", zorder=self._next(),
        )  # fmt: skip
        self.axes.add_line(line)

    def circle(self, at: Point, radius: float, fill: str, line: str, width: float = 1.0) -> None:
        """A filled circle."""
        angles = np.linspace(0, 2 * np.pi, 33)[:-1]
        ring = np.column_stack((at[0] + radius * np.cos(angles), at[1] + radius * np.sin(angles)))
        self.shape([ring], fill, line, width)

    def text(
        self, at: Point, words: str, size: float, colour: str, weight: Weight = "normal",
        align: Literal["left", "center"] = "left", turn_deg: float = 0.0, halo: str | None = None,
    ) -> None:  # fmt: skip
        """One line, ``size`` pixels; centred text is centred both ways, other text stands on its base line.

        ``halo`` is the colour of a soft border that keeps the words clear of what they cover.
        """
        border = [withStroke(linewidth=_points(4.0), foreground=halo)] if halo else None
        self.axes.text(
            *at, drawable(words, weight), fontsize=_points(size), color=colour, fontweight=weight,
            fontfamily="DejaVu Sans", ha=align, va="center_baseline" if align == "center" else "baseline",
            rotation=turn_deg, rotation_mode="anchor", zorder=self._next(), parse_math=False,
            path_effects=border,
        )  # fmt: skip

    def png(self) -> bytes:
        """The picture as a PNG file."""
        stream = io.BytesIO()
        self.figure.savefig(stream, format="png", dpi=DPI, metadata={"Software": None})
        return stream.getvalue()

    def _next(self) -> int:
        self._order += 1
        return self._order


def drawable(words: str, weight: Weight = "normal") -> str:
    """The words with a question mark for every letter that the font does not have."""
    font = get_font(findfont(FontProperties(family="DejaVu Sans", weight=weight)))
    return "".join(letter if font.get_char_index(ord(letter)) else "?" for letter in words)


def text_width(words: str, size: float, weight: Weight = "normal") -> float:
    """Width in pixels of one line of text of ``size`` pixels."""
    font = FontProperties(family="DejaVu Sans", weight=weight, size=size)
    width, _, _ = text_to_path.get_text_width_height_descent(drawable(words, weight), font, ismath=False)
    return float(width)


def _points(pixels: float) -> float:
    return pixels * 72 / DPI


def _closed(ring: Points) -> Outline:
    return Outline(np.vstack((ring, ring[:1])), closed=True)


def _turned(ring: Points, counter_clockwise: bool) -> Points:
    """Holes must turn against their outline to stay open."""
    x, y = ring[:, 0], ring[:, 1]
    twice = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    return ring if (twice >= 0) == counter_clockwise else ring[::-1]
