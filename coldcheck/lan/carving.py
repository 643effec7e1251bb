"""Carve subnets out of a block: in the order asked for, or the largest first so that no room is lost."""

from collections.abc import Sequence
from heapq import heappop, heappush

from coldcheck.lan.address import Prefix


def first_fit(block: Prefix, lengths: Sequence[int]) -> list[Prefix | None]:
    """Subnets of the lengths asked for, each the lowest that is still free; None for what has no room.

    block [-]: its host bits are cleared; lengths [bit]: prefix lengths in the order they are served. Where a large
    subnet follows a small one, a hole is left before it, which later small ones fill. Costs O(bits) for each.
    Source: RFC 1519 section 5.1, where an example is worked.
    """
    free: dict[int, list[int]] = {block.length: [block.network]}
    found: list[Prefix | None] = []
    width = block.length + block.host_bits
    for length in lengths:
        starts = [(heap[0], size) for size, heap in free.items() if heap and size <= length]
        if not starts or length > width:
            found.append(None)
            continue
        start, size = min(starts)
        heappop(free[size])
        # Of each half cut, the lower is cut on; the upper is free.
        for half in range(size + 1, length + 1):
            heappush(free.setdefault(half, []), start + (1 << width - half))
        found.append(Prefix(block.family, start, length))
    return found


def largest_first(block: Prefix, lengths: Sequence[int]) -> list[Prefix | None]:
    """Subnets of the lengths asked for, in that order, laid out the largest first; None for what has no room.

    block [-]: its host bits are cleared; lengths [bit]: prefix lengths; equal ones are served in their order. No holes
    are left: all find room if their sizes add up to that of the block or less. Costs O(n (log n + bits)).
    Source: subnets of variable length as taught, common practice; RFC 1519 section 5.1 for the alignment.
    """
    order = sorted(range(len(lengths)), key=lambda place: lengths[place])
    placed = first_fit(block, [lengths[place] for place in order])
    found: list[Prefix | None] = [None] * len(lengths)
    for place, subnet in zip(order, placed, strict=True):
        found[place] = subnet
    return found
