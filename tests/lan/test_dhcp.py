"""Pools and leases by brute force."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck.lan.dhcp import leasable, lease_timers, pool_size


@given(
    st.integers(0, 30),
    st.integers(0, 30),
    st.lists(
        st.tuples(st.integers(-5, 70), st.integers(0, 20)).map(lambda row: (row[0], row[0] + row[1])),
        max_size=8,
    ),
)
def test_leasable_by_brute_force(first: int, length: int, excluded: list[tuple[int, int]]) -> None:
    """What is left of a pool is what a set of its addresses keeps."""
    last = first + length
    left = set(range(first, last + 1))
    assert pool_size(first, last) == len(left)
    for start, end in excluded:
        left -= set(range(start, end + 1))
    assert leasable(first, last, excluded) == len(left)


def test_out_of_range_is_refused() -> None:
    """Pools and exclusions turned round, and leases of no length, are refused."""
    with pytest.raises(ValueError, match="before it begins"):
        pool_size(2, 1)
    with pytest.raises(ValueError, match="before it begins"):
        leasable(1, 9, [(5, 4)])
    for lease in (0.0, -1.0, float("nan")):
        with pytest.raises(ValueError, match="longer than 0"):
            lease_timers(lease)
