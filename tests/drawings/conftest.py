"""Drawings made on the spot: DXF through ezdxf, SVG as text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.layouts import Modelspace

DxfFile = Callable[..., Path]
SvgFile = Callable[..., Path]


@pytest.fixture
def dxf_file(tmp_path: Path) -> DxfFile:
    """``dxf_file(draw, unit=4, version="R2010", name=...)``: a file with what ``draw(space)`` adds."""

    def make(
        draw: Callable[[Modelspace], object], unit: int = 4, version: str = "R2010", name: str = "drawn.dxf"
    ) -> Path:
        document = ezdxf.new(version)
        document.header["$INSUNITS"] = unit
        draw(document.modelspace())
        path = tmp_path / name
        document.saveas(path)
        return path

    return make


@pytest.fixture
def svg_file(tmp_path: Path) -> SvgFile:
    """``svg_file(body, size=...)``: a page in mm unless ``size`` says otherwise."""

    def make(body: str, size: str = 'width="200mm" height="300mm" viewBox="0 0 200 300"') -> Path:
        path = tmp_path / "drawn.svg"
        spaces = (
            'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
            'xmlns:inkscape="http://www.inkscape.org/namespaces/inkscape"'
        )
        path.write_text(f"<svg {spaces} {size}>{body}</svg>", encoding="utf-8")
        return path

    return make
