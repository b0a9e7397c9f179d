"""One drawing, recorded once, replayed to DXF, SVG, PDF and PNG.

Each format has its own module and loads its own library, so that asking for one does not load all.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Set

    from nesting.files.layout import Layout
    from nesting.files.order import Order
    from nesting.files.report import Report


def all_files(
    layout: Layout,
    report: Report | None = None,
    order: Order | None = None,
    anew: Set[str] | None = None,
) -> dict[str, bytes | str]:
    """The drawings that go with ``layout.json``, by file name: ``layout.png``, ``layout.svg``, ``cut.dxf``.

    The layout must be valid; that is the judge's to say before this is called. ``order``, where given,
    decides which leather the picture shows as left to keep. ``anew``, after a late find, names the pieces
    that do not lie where they lay before: the pictures mark them and say how many stayed.
    """
    from nesting.output.dxf import layout_to_dxf
    from nesting.output.png import layout_to_png
    from nesting.output.svg import layout_to_svg

    return {
        "layout.png": layout_to_png(layout, report, order, anew),
        "layout.svg": layout_to_svg(layout, report, anew=anew),
        "cut.dxf": layout_to_dxf(layout),
    }
