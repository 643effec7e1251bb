"""How a housing can sit: every shift and turn, counted by hand and made again with complex numbers."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from coldcheck.pins.grid import Grid, grid
from coldcheck.pins.seating import explain, fits, seats, told

HEADER = grid([str(n) for n in range(1, 41)], 2, "across")
ROW = grid([str(n) for n in range(1, 6)])
TWO = grid(["a", "b"])


def place(pin: str, socket: Grid = HEADER) -> complex:
    """Return where a pin stands as a complex number."""
    x, y = socket.at(pin)
    return complex(x, y)


def by_hand(
    ways: dict[str, str], socket: Grid, factors: tuple[complex, ...] = (1, -1)
) -> set[frozenset[tuple[str, str | None]]]:
    """Return every seat by trying all turns and all shifts of a wide field."""
    names = {place(pin, socket): pin for pin in socket.spots}
    found = set()
    for factor in factors:
        for dx in range(-60, 61):
            for dy in range(-6, 7):
                touched = {
                    way: names.get(place(pin, socket) * factor + complex(dx, dy)) for way, pin in ways.items()
                }
                if any(touched.values()):
                    found.add(frozenset(touched.items()))
    return found


@pytest.mark.parametrize(
    "ways",
    [
        {"a": "4", "b": "6"},
        {"a": "1"},
        {"a": "2", "b": "4", "c": "6"},
        {"a": "1", "b": "2", "c": "3", "d": "4"},
    ],
)
def test_seats_are_all_there_are(ways: dict[str, str]) -> None:
    """Every shift and turn in which a way touches a pin is there once, as trying them all has it."""
    found = [frozenset(seat.touches) for seat in seats(ways, HEADER)]
    assert len(found) == len(set(found))
    assert set(found) == by_hand(ways, HEADER)
    assert [dict(seat.touches) for seat in seats(ways, HEADER) if seat.right] == [ways]


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_number_of_seats_of_a_row_on_a_row(count: int) -> None:
    """N ways on a row of M pins: N + M - 1 shifts, twice for the turn; a single way has no other way round."""
    ways = {str(n): str(n + 1) for n in range(count)}
    assert len(seats(ways, ROW)) == (5 + count - 1) * (2 if count > 1 else 1)


def test_number_of_seats_of_two_ways_on_the_header() -> None:
    """Two ways along a row of twenty: 21 shifts in each of two rows, twice for the turn."""
    found = seats({"a": "4", "b": "6"}, HEADER)
    assert len(found) == 2 * 2 * 21
    assert sum(seat.beside > 0 for seat in found) == 2 * 2 * 2


def test_quarter_turns() -> None:
    """Turned by 90 degrees as well, two ways also stand across the two rows, or hang over either row."""
    ways = {"a": "4", "b": "6"}
    found = [frozenset(seat.touches) for seat in seats(ways, HEADER, quarter=True)]
    assert len(found) == len(set(found))
    assert set(found) == by_hand(ways, HEADER, (1, -1, 1j, -1j))
    assert frozenset({("a", "5"), ("b", "6")}) in found


def test_fits() -> None:
    """A housing sits where its ways stand to each other as the pins do, turned if need be, never mirrored."""
    assert fits(TWO, ["4", "6"], HEADER) == ""
    assert fits(TWO, ["6", "4"], HEADER) == ""
    assert fits(TWO, ["3", "4"], HEADER) == ""
    assert "do not stand to each other" in fits(TWO, ["4", "9"], HEADER)
    assert "no pin 41" in fits(TWO, ["4", "41"], HEADER)
    assert "2 ways, but 3 pins" in fits(TWO, ["2", "4", "6"], HEADER)
    assert "one pin" in fits(TWO, ["4", "4"], HEADER)
    square = grid(["a", "b", "c", "d"], 2, "across")
    assert fits(square, ["1", "2", "3", "4"], HEADER) == ""
    assert "mirrored" in fits(square, ["2", "1", "4", "3"], HEADER)


def test_words() -> None:
    """A move is told in words that follow 'the plug sits'."""
    right = {"+": {"2", "4"}, "-": {"6", "14"}}
    (first, *_) = explain({"+": "6", "-": "8"}, right, HEADER)
    assert first.words() == "one pin further along the row"
    assert first.back == {"6": "4", "8": "6"}
    (first, *_) = explain({"+": "3", "-": "5"}, right, HEADER)
    assert first.words() == "one row towards the first row"
    (first, *_) = explain({"+": "6", "-": "4"}, right, HEADER)
    assert first.words() == "the wrong way round"
    assert explain({"+": "4", "-": "6"}, right, HEADER) == []
    (first, *_) = explain({"+": "4", "-": "3"}, right, HEADER)
    assert first.words() == "turned by a quarter, and one row towards the first row"
    assert explain({"+": "40", "-": "1"}, right, HEADER) == []


def test_seats_are_told_as_moves_are() -> None:
    """What is said of a seat beforehand is what would be said of the plug that sits there."""
    ways = {"+": "4", "-": "6"}
    for seat in seats(ways, HEADER):
        now = dict(seat.touches)
        if seat.beside or seat.right:
            continue
        moves = explain({w: str(p) for w, p in now.items()}, {w: {p} for w, p in ways.items()}, HEADER)
        assert told(seat, ways, HEADER) in {move.words() for move in moves}, seat
    over = [seat for seat in seats(ways, HEADER) if dict(seat.touches) == {"+": None, "-": "2"}]
    assert [told(seat, ways, HEADER) for seat in over] == ["2 pins back along the row"]


@settings(suppress_health_check=[HealthCheck.filter_too_much])  # most moves leave the header
@given(
    st.lists(st.integers(1, 40), min_size=2, max_size=6, unique=True),
    st.integers(-3, 3),
    st.integers(-1, 1),
    st.sampled_from(["shifted", "turned", "mirrored", "quartered"]),
)
def test_a_moved_plug_is_explained(pins: list[int], dx: int, dy: int, kind: str) -> None:
    """Whatever move a plug is given, it is among those that put it back, and its pins come back one by one."""
    meant = {str(n): str(pin) for n, pin in enumerate(pins)}
    names = {place(pin): pin for pin in HEADER.spots}
    spots = {wire: place(pin) for wire, pin in meant.items()}
    moves: dict[str, Callable[[complex], complex]] = {
        "shifted": lambda z: z,
        "turned": lambda z: -z,
        "mirrored": lambda z: -z.conjugate(),
        "quartered": lambda z: 1j * z,
    }
    turned = {wire: moves[kind](z) for wire, z in spots.items()}
    home = complex(
        min(z.real for z in spots.values()) - min(z.real for z in turned.values()),
        min(z.imag for z in spots.values()) - min(z.imag for z in turned.values()),
    )
    now = {wire: names.get(z + home + complex(dx, dy)) for wire, z in turned.items()}
    assume(all(now.values()) and now != meant)
    found = explain({w: str(p) for w, p in now.items()}, {w: {p} for w, p in meant.items()}, HEADER)
    assert {frozenset(m.back.items()) for m in found} == {frozenset((str(now[w]), meant[w]) for w in meant)}
    assert found[0].cost <= ({"shifted": 2, "turned": 4, "mirrored": 5, "quartered": 6}[kind], 40)
