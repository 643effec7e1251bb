"""Where pins stand: the numbering of headers and supply plugs, and which pins are neighbours."""

from __future__ import annotations

import networkx as nx  # type: ignore[import-untyped]
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.pins.grid import blocks, grid

HEADER = grid([str(n) for n in range(1, 41)], 2, "across")


def test_header_is_numbered_across() -> None:
    """Pin 1 and 2 are the first column of a 40-pin header; 4 and 8 stand beside 6 (40-pin header tables)."""
    assert HEADER.size == (20, 2)
    assert HEADER.at("1") == (0, 0)
    assert HEADER.at("2") == (0, 1)
    x, y = HEADER.at("6")
    assert [HEADER.name_at((x + step, y)) for step in (-1, 1)] == ["4", "8"]
    assert HEADER.name_at((x, 1 - y)) == "5"
    assert HEADER.name_at((20, 0)) is None


def test_supply_plug_is_numbered_along() -> None:
    """Pin 13 of a 24-pin plug stands under pin 1, pin 24 under pin 12 (ATX12V, from memory)."""
    plug = grid([str(n) for n in range(1, 25)], 2)
    assert plug.size == (12, 2)
    assert plug.at("13") == (0, 1)
    assert plug.at("24") == (11, 1)


@pytest.mark.parametrize(
    ("names", "rows", "numbered", "says"),
    [
        ("123", 2, "along", "3 pins do not fill 2 rows"),
        ("112", 1, "along", "two pins have one name"),
        ("12", 1, "down", 'not "down"'),
        ("12", 0, "along", "2 pins do not fill 0 rows"),
    ],
)
def test_what_is_no_grid_is_refused(names: str, rows: int, numbered: str, says: str) -> None:
    """Uneven rows, names given twice and unknown ways of numbering are refused in words."""
    with pytest.raises(ValueError, match=says):
        grid(names, rows, numbered)


@given(st.integers(1, 5), st.integers(1, 8), st.sampled_from(["along", "across"]))
def test_each_pin_has_a_spot_of_its_own(rows: int, columns: int, numbered: str) -> None:
    """Names and spots are one to one, and fill columns times rows."""
    names = [str(n) for n in range(rows * columns)]
    found = grid(names, rows, numbered)
    assert {found.name_at((x, y)) for x in range(columns) for y in range(rows)} == set(names)
    assert all(found.name_at(found.at(name)) == name for name in names)


@given(st.sets(st.integers(1, 40), min_size=1, max_size=20))
def test_blocks_are_the_connected_components(pins: set[int]) -> None:
    """Groups of neighbours are the connected components of the grid graph of networkx, cut to these pins."""
    graph = nx.grid_2d_graph(20, 2).subgraph([((pin - 1) // 2, (pin - 1) % 2) for pin in pins])
    expected = {frozenset(str(2 * x + y + 1) for x, y in part) for part in nx.connected_components(graph)}
    assert {frozenset(group) for group in blocks(map(str, sorted(pins)), HEADER)} == expected
