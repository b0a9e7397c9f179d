"""Bad input of every kind: one clear message on stderr, status 1, nothing written.

Each case is run as a person would run it, through ``main``, in a folder of its own.
"""

from __future__ import annotations

import json
import os
import struct
import sys
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from cli.main import main

SAMPLES = Path(__file__).parent.parent / "sample_hides"
SQUARE = [[0, 0], [300, 0], [300, 200], [0, 200]]
HIDE: dict[str, Any] = {
    "kind": "hide", "version": 1, "name": "offcut", "unit": "mm", "weight_oz": [4, 5], "outline": SQUARE,
}  # fmt: skip
PANEL: dict[str, Any] = {
    "kind": "panel", "version": 1, "name": "fob", "unit": "mm",
    "outline": [[0, 0], [60, 0], [60, 40], [0, 40]],
}  # fmt: skip
ORDER = 'hides = ["*.hide.json"]\n[[pieces]]\npanel = "fob.panel.json"\npieces = 2\n'

Refused = Callable[..., str]


@pytest.fixture
def refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Refused:
    """Run the program in a folder with a sound hide, panel and order; the one message of its refusal."""
    monkeypatch.chdir(tmp_path)
    put("offcut.hide.json", HIDE)
    put("fob.panel.json", PANEL)
    put("order.toml", ORDER)

    def run(*words: str) -> str:
        before = everything(tmp_path)
        monkeypatch.setattr(sys, "argv", ["hidewright", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capfd.readouterr()
        assert ended.value.code == 1, said.err
        # A slow machine says that it prepares the engine; that is no word of the refusal.
        words = [line for line in said.err.splitlines() if not line.startswith("preparing the packing")]
        assert len(words) == 1, said.err
        assert words[0].startswith("hidewright: "), said.err
        assert said.out == ""
        assert everything(tmp_path) == before
        return words[0]

    return run


def put(name: str, content: Any) -> None:
    Path(name).write_text(content if isinstance(content, str) else json.dumps(content))


def everything(folder: Path) -> dict[str, bytes | None]:
    found = sorted(folder.rglob("*"))
    return {str(path): path.read_bytes() if path.is_file() else None for path in found}


PHOTO = ("photo", "picture.jpg", "--pitch", "1 in", "--weight", "4-5 oz", "-o", "x.hide.json")
LAYOUT = ("layout", "order.toml", "--out", "out", "--rounds", "1", "--workers", "1")


# ------------------------------------------------------------------------------------------ files


@pytest.mark.parametrize(
    "words",
    [
        ("photo", "none.jpg", "--pitch", "1 in", "-o", "x.hide.json"),
        ("trace", "none.dxf", "-o", "x.hide.json"),
        ("panel", "none.svg", "-o", "x.panel.json"),
        ("layout", "none.toml", "--out", "out"),
        ("export", "none.json", "--dxf", "cut.dxf"),
        ("check", "none.json"),
    ],
)
def test_no_such_file(refused: Refused, words: tuple[str, ...]) -> None:
    said = refused(*words)
    assert words[1] in said
    assert "no such file" in said.lower()


def test_an_empty_hides_pattern(refused: Refused) -> None:
    put("order.toml", ORDER.replace("*.hide.json", "side-*.hide.json"))
    said = refused(*LAYOUT)
    assert 'order.toml: hides[0]: no hide file matches "side-*.hide.json"' in said


def test_weights_that_no_hide_has(refused: Refused) -> None:
    put("order.toml", ORDER + 'weight_oz = "8-9 oz"\n')
    said = refused(*LAYOUT)
    assert "no hide of this order is within 8-9 oz (there are 4-5)" in said


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="permissions do not bind this user")
def test_a_read_only_folder(refused: Refused, tmp_path: Path) -> None:
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o555)
    assert "locked" in refused("layout", "order.toml", "--out", "locked", "--rounds", "1")
    assert "locked" in refused("trace", "square.csv", "-o", "locked/x.hide.json")


@pytest.mark.parametrize("words", [LAYOUT, ("demo", "--out", "out")])
def test_a_file_in_the_place_of_the_folder(refused: Refused, words: tuple[str, ...]) -> None:
    put("out", "mine")
    assert "out: is a file, not a folder; choose another --out" in refused(*words)


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("trace", ("trace", "square.csv", "--unit", "mm", "-o", "none/x.hide.json")),
        ("panel", ("panel", "square.csv", "--unit", "mm", "-o", "none/x.panel.json")),
        ("photo", (*PHOTO[:-1], "none/x.hide.json")),
    ],
)
def test_a_folder_that_is_not_there(refused: Refused, kind: str, words: tuple[str, ...]) -> None:
    put("square.csv", "0,0\n300,0\n300,200\n0,200\n")
    assert "none/x" in refused(*words)


@pytest.mark.parametrize("words", [("trace", "x.csv", "--unit", "mm"), ("panel", "x.csv", "--unit", "mm")])
def test_the_drawing_is_not_written_over(refused: Refused, words: tuple[str, ...]) -> None:
    put("x.csv", "0,0\n300,0\n300,200\n0,200\n")
    assert "x.csv: is the drawing itself" in refused(*words, "-o", "./x.csv")


# ------------------------------------------------------------------------------------ photographs


def test_not_an_image(refused: Refused) -> None:
    put("picture.jpg", "once upon a time")
    assert "picture.jpg: not an image that can be read" in refused(*PHOTO)


def test_a_hundred_megapixels(refused: Refused) -> None:
    rows = zlib.compress(bytes(1))
    Path("picture.jpg").write_bytes(png(12_500, 8_000, rows))
    said = refused(*PHOTO)
    assert "picture.jpg: 100 megapixels (12500 x 8000) is more than the 60 that are read" in said


def png(width: int, height: int, data: bytes) -> bytes:
    """A greyscale PNG (ISO/IEC 15948) of a stated size; its data may be anything."""
    chunks = [
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)),
        (b"IDAT", data),
        (b"IEND", b""),
    ]
    framed = [
        struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        for name, body in chunks
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(framed)


@pytest.fixture(scope="module")
def sample() -> np.ndarray:
    """The sample photograph, rendered, at 2000 x 1500: BGR."""
    import cv2

    image = cv2.imread(str(SAMPLES / "shoulder-photo-01.jpg"))
    assert image is not None
    return cv2.resize(image, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)


def photograph(image: np.ndarray) -> None:
    import cv2

    assert cv2.imwrite("picture.jpg", image)


def test_an_image_without_a_grid(refused: Refused) -> None:
    import cv2

    noise = np.random.default_rng(1).normal(120, 20, (450, 600, 3)).astype(np.float32)
    photograph(np.clip(cv2.GaussianBlur(noise, (0, 0), 3), 0, 255).astype(np.uint8))
    assert "picture.jpg: no ruled grid was found in the photograph" in refused(*PHOTO)


def test_grid_on_one_side_only(refused: Refused, sample: np.ndarray) -> None:
    """The ruling is painted away on all sides of the hide but the lower one."""
    mat = sample[..., 1].astype(int) > sample[..., 2]
    mat[int(0.83 * len(sample)) :] = False
    image = sample.copy()
    image[mat] = (70, 90, 35)
    photograph(image)
    assert "on every side" in refused(*PHOTO)


def test_outline_out_of_the_frame(refused: Refused, sample: np.ndarray) -> None:
    photograph(sample[:, int(0.3 * sample.shape[1]) :])
    assert "the hide reaches the left edge of the picture; step back" in refused(*PHOTO)


# --------------------------------------------------------------------------------- rings and sizes


def test_a_self_crossing_ring(refused: Refused) -> None:
    put("offcut.hide.json", HIDE | {"outline": [[0, 0], [300, 200], [300, 0], [0, 200]]})
    place = "offcut.hide.json: outline: crosses or touches itself near (150, 100)"
    assert place in refused("check", "offcut.hide.json")
    assert place in refused(*LAYOUT)


def test_a_self_crossing_drawing(refused: Refused) -> None:
    put("knot.csv", "0,0\n300,200\n300,0\n0,200\n")
    assert "knot.csv" in refused("trace", "knot.csv", "--unit", "mm", "-o", "x.hide.json")


def test_a_flaw_outside_the_hide(refused: Refused) -> None:
    flaw = {"kind": "brand", "severity": "weak", "outline": [[400, 0], [450, 0], [450, 50]]}
    put("offcut.hide.json", HIDE | {"flaws": [flaw]})
    said = refused(*LAYOUT)
    assert "offcut.hide.json: flaws[0]" in said
    assert "outside" in said


def test_a_panel_larger_than_every_hide(refused: Refused) -> None:
    put("fob.panel.json", PANEL | {"outline": [[0, 0], [500, 0], [500, 400], [0, 400]]})
    said = refused(*LAYOUT)
    assert 'panel "fob" (500 x 400 mm) found no room: the largest, on offcut' in said
    # 300 x 200 mm less twice the usual edge margin of 6 mm.
    assert "is 288 x 188 mm across" in said


@pytest.mark.parametrize("workers", ["1", "2"])
def test_more_pieces_than_can_be_thought_of(refused: Refused, workers: str) -> None:
    put("fob.panel.json", PANEL | {"outline": [[0, 0], [3, 0], [3, 3], [0, 3]]})
    put("order.toml", ORDER.replace("= 2", "= 90000"))
    said = refused(*LAYOUT[:-1], workers)
    assert "order.toml: up to 60" in said  # 288 x 188 mm within the margins, 9 mm² a piece
    assert "pieces might lie on offcut, more than the 4000 that can be laid on one hide" in said


@pytest.mark.parametrize(
    ("file", "content", "place"),
    [
        ("fob.panel.json", PANEL | {"outline": [[0, 0], [60, 0], [60, 0]]}, "outline"),
        ("fob.panel.json", PANEL | {"outline": [[0, 0], [60, 0], [30, 0]]}, "outline"),
        ("fob.panel.json", PANEL | {"punches": [{"at": [9, 9], "diameter": 0}]}, "punches[0].diameter"),
        ("fob.panel.json", PANEL | {"punches": [{"at": [9, 9], "diameter": -4}]}, "punches[0].diameter"),
        ("offcut.hide.json", HIDE | {"weight_oz": [0, 5]}, "weight_oz"),
        ("offcut.hide.json", HIDE | {"weight_oz": [-4, 5]}, "weight_oz"),
        ("order.toml", ORDER.replace("= 2", "= 0"), "pieces[0].pieces"),
        ("order.toml", ORDER.replace("= 2", "= -2"), "pieces[0].pieces"),
        ("order.toml", '[cutting]\ngap = "-1 mm"\n', "cutting.gap"),
        ("order.toml", '[cutting]\nedge_margin = "-6 mm"\n', "cutting.edge_margin"),
        ("order.toml", "[costs]\nlabour_per_hour = -1\n", "costs.labour_per_hour"),
    ],
)
def test_zero_and_negative_sizes(refused: Refused, file: str, content: Any, place: str) -> None:
    put(file, ORDER + content if isinstance(content, str) and "panel" not in content else content)
    assert f"{file}: {place}" in refused(*LAYOUT)


@pytest.mark.parametrize(
    "pitch", ["0 mm", "-1 in", "nan in", "inf mm", "1e999 mm", "1 mm", "2 m", "one inch"]
)
def test_pitches_that_are_none(refused: Refused, pitch: str) -> None:
    photo = ("photo", str(SAMPLES / "shoulder-photo-01.jpg"), f"--pitch={pitch}", "-o", "x.hide.json")
    said = refused(*photo)
    assert said.startswith("hidewright: --pitch: ")
    assert pitch.split()[0].lstrip("-") in said


@pytest.mark.parametrize(
    ("file", "content"),
    [
        ("offcut.hide.json", json.dumps(HIDE).replace("300", "NaN", 1)),
        ("offcut.hide.json", json.dumps(HIDE).replace("300", "1e999", 1)),
        ("fob.panel.json", json.dumps(PANEL).replace("60", "Infinity", 1)),
        ("order.toml", ORDER + "labour_minutes = nan\n"),
    ],
)
def test_no_numbers(refused: Refused, file: str, content: str) -> None:
    put(file, content)
    said = refused("check", file)
    assert said.startswith(f"hidewright: {file}: ")
    assert any(word in said for word in ("NaN", "nan", "finite", "Infinity", "too large", "1e999", "number"))


# ------------------------------------------------------------------------------------------ units


def test_an_unknown_unit(refused: Refused) -> None:
    put("order.toml", ORDER + '[cutting]\ngap = "3 furlong"\n')
    said = refused(*LAYOUT)
    assert "order.toml: cutting.gap" in said
    assert "furlong" in said
    put("square.csv", "0,0\n300,0\n300,200\n0,200\n")
    assert "furlong" in refused("trace", "square.csv", "--unit", "furlong", "-o", "x.hide.json")


def test_an_ambiguous_stamp_of_feet(refused: Refused) -> None:
    """Tenths in places, quarters in others (Roberts & Etherington, *Bookbinding*): asked, never guessed."""
    put("order.toml", ORDER + '[costs]\ndye = {price = 1.2, per = "5.2 ft2"}\n')
    said = refused(*LAYOUT)
    assert "order.toml: costs.dye.per" in said
    assert '"5.2 ft2" may be 5.2 or 5 1/2 square feet' in said


# ---------------------------------------------------------------------------------------- layouts


def tampered() -> dict[str, Any]:
    """A layout whose second piece was moved onto the first by hand."""
    place = {"panel": "fob", "mirrored": False, "rotation_deg": 0}
    return {
        "kind": "layout", "version": 1, "title": "Fobs", "seed": 1,
        "cutting": {"tool": "knife", "kerf_mm": 0, "gap_mm": 0.5, "edge_margin_mm": 6,
                    "straight_edge_margin_mm": 1.5, "flaw_margin_mm": 3},
        "panels": [PANEL],
        "hides": [{"hide": HIDE, "placements": [
            {"piece": "fob-01", "at": [20, 20], **place}, {"piece": "fob-02", "at": [50, 30], **place},
        ]}],
        "unplaced": [],
    }  # fmt: skip


def sound() -> dict[str, Any]:
    """The same before it was tampered with."""
    layout = tampered()
    layout["hides"][0]["placements"][1]["at"] = [90, 20]
    return layout


@pytest.mark.parametrize(
    "words",
    [
        ("check", "layout.json"),
        ("export", "layout.json", "--dxf", "cut.dxf", "--svg", "cut.svg", "--pdf", "cut.pdf"),
    ],
)
def test_a_tampered_layout(refused: Refused, words: tuple[str, ...]) -> None:
    put("layout.json", tampered())
    said = refused(*words)
    assert "layout.json: the layout is not valid" in said
    assert "fob-01" in said
    assert "fob-02" in said
    assert "overlap" in said


def test_one_of_several_files_has_no_folder(refused: Refused) -> None:
    put("layout.json", sound())
    said = refused("export", "layout.json", "--dxf", "cut.dxf", "--svg", "none/cut.svg")
    assert "none/cut.svg: cannot be written" in said


@pytest.mark.usefixtures("refused")
def test_the_same_layout_untouched_is_fine(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    put("layout.json", sound())
    monkeypatch.setattr(sys, "argv", ["hidewright", "check", "layout.json"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code in (0, None), capfd.readouterr().err
