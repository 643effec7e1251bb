"""Pools of addresses that a DHCP server leases, and the timers of a lease."""

from collections.abc import Iterable


def pool_size(first: int, last: int) -> int:
    """Addresses [-] in a pool: both ends count.

    first [-], last [-]: addresses as integers of one family.
    Errors: ValueError where last comes before first.
    Source: DHCP server manuals.
    """
    if last < first:
        raise ValueError("a pool ends before it begins")
    return last - first + 1


def leasable(first: int, last: int, excluded: Iterable[tuple[int, int]]) -> int:
    """Addresses [-] of a pool that are left once the excluded ranges are taken off, each address once.

    first [-], last [-]: the pool, both ends included; excluded [-]: ranges (first, last) of the same family,
    any order, overlapping or reaching beyond the pool as they may. Errors: ValueError where a range ends
    before it begins.
    Source: DHCP server manuals: a static address inside a pool must be excluded.
    """
    left = pool_size(first, last)
    counted_to = first - 1
    for start, end in sorted(excluded):
        pool_size(start, end)
        low = max(start, counted_to + 1)
        high = min(end, last)
        if high >= low:
            left -= high - low + 1
            counted_to = high
    return left


def lease_timers(lease: float) -> tuple[float, float]:
    """When a client asks its own server again (T1) and then any server (T2), both [s] after the lease began.

    lease [s]: above 0. Errors: ValueError otherwise. Source: RFC 2131 section 4.4.5: 0.5 and 0.875 of the
    lease.
    """
    if not lease > 0:
        raise ValueError("a lease lasts longer than 0 s")
    return 0.5 * lease, 0.875 * lease
