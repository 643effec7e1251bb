"""Byte offsets become lines and columns that an editor counts the same way."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from coldcheck.formats.positions import Positions


def test_columns_count_characters() -> None:
    """A column counts characters, not bytes; the first line and column are 1 (GNU coding standards, error form)."""
    text = 'a = "Ω"; b\nzweite\n'.encode()
    positions = Positions(text)
    assert positions.of(0) == (1, 1)
    assert positions.of(text.index(b"b")) == (1, 10)
    assert positions.of(text.index(b"z")) == (2, 1)
    assert positions.of(len(text)) == (3, 1)


@given(st.text(alphabet="ab\nΩ€\r", max_size=60), st.data())
def test_against_splitting(text: str, data: st.DataObject) -> None:
    """For every character, line and column are those found by splitting the text before it at its newlines."""
    at = data.draw(st.integers(0, len(text)))
    before = text[:at].split("\n")
    assert Positions(text.encode()).of(len(text[:at].encode())) == (len(before), len(before[-1]) + 1)


def test_an_offset_inside_a_character() -> None:
    """An offset in the middle of a character, as bytes that are no UTF-8 can give, still has a place."""
    assert Positions("Ωx".encode()).of(1)[0] == 1
