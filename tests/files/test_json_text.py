"""JSON text: what the reader refuses, how the writer lays it out, and that nothing is lost."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nesting.errors import FileFormatError, InputError
from nesting.files.json_text import dump_json, join, parse_json, read_text


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('{"a": 1,}', "x: line 1, column 9: is not JSON"),
        ('{"a": 1}\n{"b": 2}', "x: line 2, column 1: is not JSON"),
        ("", "x: line 1, column 1: is not JSON"),
        ("[1, 2]", "x: must hold one object"),
        ('"hide"', "x: must hold one object"),
        ('{"a": NaN}', "x: a: is not a finite number"),
        ('{"a": [0, {"b": -Infinity}]}', "x: a[1].b: is not a finite number"),
        ('{"a": 1e999}', "x: a: is not a finite number"),
        ('{"a": 1, "b": 2, "a": 1}', "x: a: is given twice"),
        ('{"a": [{"c": 0}, {"b": 2, "b": 3}]}', "x: a[1].b: is given twice"),
        ('{"a": {}, "b": {"c": {}, "c": {}}}', "x: b.c: is given twice"),
        ('{"a": ' + "[" * 100_000, "x: is nested too deeply"),
        ('{"a": ' + "[" * 100_000 + "]" * 100_000 + "}", "x: is nested too deeply"),
        ('{"a": ' + "9" * 5000 + "}", "x: holds a number too long"),
    ],
)
def test_refused(text: str, message: str) -> None:
    with pytest.raises(FileFormatError) as caught:
        parse_json(text, "x")
    assert str(caught.value).startswith(message)


def test_text_is_utf8_with_or_without_a_mark(tmp_path: Path) -> None:
    path = tmp_path / "a.json"
    path.write_bytes('\ufeff{"a": "é"}'.encode())
    assert parse_json(read_text(path), "x") == {"a": "é"}
    path.write_bytes(b'{"a": "\xff"}')
    with pytest.raises(FileFormatError, match=r"a\.json: byte 7: is not UTF-8 text"):
        read_text(path)


def test_what_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a folder"):
        read_text(tmp_path)
    with pytest.raises(InputError, match="there is no such file"):
        read_text(tmp_path / "none.json")
    with pytest.raises(InputError, match="cannot be read"):
        read_text(tmp_path / ("n" * 400 + ".json"))


def test_a_huge_file_is_not_even_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.json"
    with path.open("wb") as stream:
        stream.truncate(65 * 1024 * 1024)
    with pytest.raises(InputError, match="larger than 64 MB"):
        read_text(path)


def test_layout_of_the_text() -> None:
    ring = [[0.0, 0.5], [1100.25, -0.0], [5, 6, 0.41421356237309503]]
    assert dump_json({"kind": "hide", "outline": ring, "price": Decimal("62.50")}) == (
        "{\n"
        '  "kind": "hide",\n'
        '  "outline": [[0, 0.5], [1100.25, 0], [5, 6, 0.41421356237309503]],\n'
        '  "price": 62.50\n'
        "}\n"
    )
    long = dump_json(
        {"outline": [[k * 10.5, 1.0] for k in range(20)], "flaws": [{"a": "x" * 90, "b": "y" * 90}]}
    )
    lines = long.splitlines()
    assert lines[1:4] == ['  "outline": [', "    [0, 1],", "    [10.5, 1],"]
    assert lines[-6:] == [
        "    {",
        f'      "a": "{"x" * 90}",',
        f'      "b": "{"y" * 90}"',
        "    }",
        "  ]",
        "}",
    ]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN")])
def test_what_is_no_number_is_not_written(value: Any) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        dump_json({"a": [value]})


def test_what_json_has_no_word_for_is_not_written() -> None:
    with pytest.raises(TypeError):
        dump_json({"a": object()})


numbers = st.integers(-(2**60), 2**60) | st.floats(allow_nan=False, allow_infinity=False)
values = st.recursive(
    st.none() | st.booleans() | numbers | st.text(),
    lambda inner: st.lists(inner, max_size=6) | st.dictionaries(st.text(max_size=30), inner, max_size=6),
    max_leaves=30,
)


@given(st.dictionaries(st.text(max_size=8), values, max_size=6))
def test_nothing_is_lost(data: dict[str, Any]) -> None:
    text = dump_json(data)
    assert json.loads(text) == data
    assert parse_json(text, "x") == data
    assert list(json.loads(text)) == list(data)


def test_places() -> None:
    assert join("", "flaws", 0, "outline", 3, 1) == "flaws[0].outline[3][1]"
    assert join("hides[2].hide", "name") == "hides[2].hide.name"
    assert join("", "a\nb") == "a b"
