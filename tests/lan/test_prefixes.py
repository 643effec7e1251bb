"""Overlaps, containment and aggregation against brute force, and how much work they do."""

from itertools import pairwise
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan.address import WIDTH, Prefix, read_prefix
from coldcheck.lan.prefixes import PrefixIndex, aggregate, is_broadcast, overlaps

RANGES = st.lists(
    st.tuples(st.sampled_from((4, 6)), st.integers(0, 40), st.integers(0, 12)).map(
        lambda row: (row[0], row[1], row[1] + row[2])
    ),
    max_size=30,
)


def _narrow(family: int, base: int, bits: int) -> Prefix:
    return Prefix(family, base, WIDTH[family] - bits)


PREFIXES = st.lists(
    st.builds(_narrow, st.sampled_from((4, 6)), st.integers(0, 255), st.integers(0, 8)), max_size=30
)


class Counted(int):
    """An integer that counts how often it is compared."""

    compared = 0

    def __ge__(self, other: int) -> bool:
        Counted.compared += 1
        return int(self) >= other

    def __lt__(self, other: int) -> bool:
        Counted.compared += 1
        return int(self) < other


@given(RANGES)
def test_overlaps_by_brute_force(ranges: list[tuple[int, int, int]]) -> None:
    """The sweep finds every pair that shares an address, once, and no other."""
    tagged = [(*row, tag) for tag, row in enumerate(ranges)]
    found = overlaps(tagged)
    expected = {
        (a[3], b[3])
        for a in tagged
        for b in tagged
        if a[3] < b[3] and a[0] == b[0] and a[1] <= b[2] and b[1] <= a[2]
    }
    assert len(found) == len(expected)
    assert {(min(pair), max(pair)) for pair in found} == expected
    for lead, other in found:
        assert (ranges[lead][1], -ranges[lead][2]) <= (ranges[other][1], -ranges[other][2])


@given(RANGES, st.integers(0, 20))
def test_overlaps_stop_where_told(ranges: list[tuple[int, int, int]], most: int) -> None:
    """With a bound, the first pairs come out and no more."""
    tagged = [(*row, tag) for tag, row in enumerate(ranges)]
    assert overlaps(tagged, most) == overlaps(tagged)[:most]


def test_overlaps_do_not_try_pairs() -> None:
    """The sweep compares each range once when it leaves and once for every pair found, not pair by pair."""
    random = Random(1)
    size = 5000
    ranges = [(4, start * 10, Counted(start * 10 + 12), start) for start in range(size)]
    random.shuffle(ranges)
    Counted.compared = 0
    found = overlaps(ranges)
    assert len(found) == size - 1
    # One more comparison each for the check that a range does not end before it begins.
    assert Counted.compared <= size + len(found) + size


def test_a_range_turned_round_is_refused() -> None:
    """A range that ends before it begins is refused by its tag."""
    with pytest.raises(ValueError, match="'pool' ends before"):
        overlaps([(4, 10, 9, "pool")])


@given(PREFIXES, st.sampled_from((4, 6)), st.integers(-1, 260))
def test_index_by_brute_force(prefixes: list[Prefix], family: int, value: int) -> None:
    """The index finds all prefixes that contain an address, the longest first, equal ones in their order."""
    index = PrefixIndex(prefixes)
    expected = [
        place for place, prefix in enumerate(prefixes) if value >= 0 and prefix.contains(family, value)
    ]
    expected.sort(key=lambda place: -prefixes[place].length)
    assert index.containing(family, value) == expected
    assert index.longest(family, value) == (expected[0] if expected else None)


def test_index_at_the_ends_of_a_family() -> None:
    """Default routes and the last address are found; a value beyond the family is in nothing."""
    index = PrefixIndex(
        [read_prefix(text) for text in ("0.0.0.0/0", "255.255.255.255/32", "::/0", "ffff::/16")]
    )
    assert index.containing(4, 2**32 - 1) == [1, 0]
    assert index.containing(4, 0) == [0]
    assert index.containing(6, 2**128 - 1) == [3, 2]
    assert index.containing(4, 2**32) == []
    assert index.containing(6, 2**128) == []
    assert PrefixIndex([]).containing(4, 1) == []


def test_index_asks_little() -> None:
    """A question to an index of 4096 prefixes costs a dozen comparisons, not thousands."""
    index = PrefixIndex([Prefix(4, place << 20, 12) for place in range(4096)])
    Counted.compared = 0
    assert index.containing(4, Counted(1234 << 20)) == [1234]
    assert 0 < Counted.compared <= 16


@given(PREFIXES)
def test_aggregate_covers_the_same(prefixes: list[Prefix]) -> None:
    """Merged prefixes cover the same addresses, are apart and sorted, and no two could be merged further."""
    merged = aggregate(prefixes)
    assert _covered(merged) == _covered(prefixes)
    assert sum(block.last - block.network + 1 for block in merged) == len(_covered(prefixes))
    assert merged == sorted(merged, key=lambda block: (block.family, block.network))
    assert aggregate(merged) == merged
    for low, high in pairwise(merged):
        assert (low.family, low.length, low.base ^ high.base) != (
            high.family,
            high.length,
            1 << high.host_bits,
        )
    assert not any(block.host_bits_set for block in merged)


def _covered(prefixes: list[Prefix]) -> set[Any]:
    return {(block.family, value) for block in prefixes for value in range(block.network, block.last + 1)}


def test_255_inside_a_short_prefix_is_a_host() -> None:
    """x.x.x.255 inside a /23 is a host, its last address is not (RFC 4632: classless)."""
    subnet = read_prefix("10.20.0.0/23")
    assert not is_broadcast(subnet, 0x0A1400FF)
    assert is_broadcast(subnet, 0x0A1401FF)
