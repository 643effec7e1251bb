"""What prefixes hold, which of them overlap, which contain an address, and which can be merged."""

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from typing import TypeVar

from coldcheck.lan.address import WIDTH, Prefix

Tag = TypeVar("Tag")


def usable_range(prefix: Prefix) -> tuple[int, int]:
    """The first and last address [-] that a host may have, both included.

    prefix [-]: any. IPv4: all but the first and last, except that a /31 has two hosts and a /32 one. IPv6:
    all but the subnet-router anycast address, except that a /127 has two hosts and a /128 one; the ids of
    RFC 2526 are not taken off (see `is_reserved_anycast`).
    Source: RFC 1122 section 3.2.1.3, RFC 3021; RFC 4291 section 2.6.1, RFC 6164.
    """
    spare = int(prefix.host_bits > 1)
    return prefix.network + spare, prefix.last - (spare if prefix.family == 4 else 0)


def usable(prefix: Prefix) -> int:
    """How many hosts [-] a prefix has room for. prefix [-]: any. Rule and source as `usable_range`."""
    first, last = usable_range(prefix)
    return last - first + 1


def length_for(family: int, hosts: int) -> int | None:
    """The length [bit] of the smallest prefix with room for so many hosts, or None where no prefix has it.

    family [-]: 4 or 6; hosts [-]: 1 or more. Source: as `usable_range`; RFC 1878 tables the same for IPv4
    (from memory).
    """
    for length in range(WIDTH[family], -1, -1):
        if usable(Prefix(family, 0, length)) >= hosts:
            return length
    return None


def is_network_address(prefix: Prefix, value: int) -> bool:
    """Whether an IPv4 address is the all-zeros address of its subnet, so no host's.

    prefix [-]: the subnet; value [-]: the address, in the family of the prefix. Never on a /31, a /32 or
    IPv6.
    Source: RFC 1122 section 3.2.1.3 as replaced by RFC 3021 section 3.1.
    """
    return prefix.family == 4 and prefix.host_bits > 1 and value == prefix.network


def is_broadcast(prefix: Prefix, value: int) -> bool:
    """Whether an IPv4 address is the directed broadcast of its subnet, so no host's.

    prefix [-]: the subnet; value [-]: the address, in the family of the prefix. Never on a /31, a /32 or
    IPv6. An address that ends in .255 inside a shorter prefix is a host like any other.
    Source: RFC 1122 section 3.2.1.3 as replaced by RFC 3021 section 3.1.
    """
    return prefix.family == 4 and prefix.host_bits > 1 and value == prefix.last


def subnet_router_anycast(prefix: Prefix) -> int | None:
    """The anycast address [-] of the routers of an IPv6 subnet (interface id 0), or None where it has none.

    prefix [-]: any; IPv4, a /127 and a /128 have none.
    Source: RFC 4291 section 2.6.1 (from memory); RFC 6164 for the /127.
    """
    return prefix.network if prefix.family == 6 and prefix.host_bits > 1 else None


def is_reserved_anycast(prefix: Prefix, value: int) -> bool:
    """Whether an address has one of the 128 highest interface ids, set aside for anycast, in an IPv6 /64.

    prefix [-]: the subnet; value [-]: the address. Judged for /64 only, where the U/L bit of the id is clear.
    Source: RFC 2526 section 2 (from memory).
    """
    interface_id = value & 0xFFFFFFFFFFFFFFFF
    return prefix.family == 6 and prefix.length == 64 and interface_id >> 7 == 0xFDFFFFFFFFFFFFFF >> 7


def overlaps(ranges: Iterable[tuple[int, int, int, Tag]], most: int | None = None) -> list[tuple[Tag, Tag]]:
    """Every pair of ranges that share an address; the one that begins first, else the wider, leads a pair.

    ranges [-]: (family, first, last, tag), both ends included, any order; most [-]: stop after so many pairs.
    Errors: ValueError where last comes before first.

    One sweep over the sorted beginnings keeps the ranges that are still open. A range leaves that list
    once, and each time it stays it makes a pair, so n ranges with k pairs cost O(n log n + k) time and O(n
    + k) room: no pair is tried that does not overlap. k itself can reach n(n - 1)/2; `most` bounds it.
    Source: sweep line, as for the intersection of intervals in any text on computational geometry.
    """
    ordered = sorted(ranges, key=_by_beginning)
    pairs: list[tuple[Tag, Tag]] = []
    still_open: list[tuple[int, int, int, Tag]] = []
    for this in ordered:
        family, first, last, tag = this
        if last < first:
            raise ValueError(f"range of {tag!r} ends before it begins")
        still_open = [other for other in still_open if other[0] == family and other[2] >= first]
        for other in still_open:
            if most is not None and len(pairs) >= most:
                return pairs
            pairs.append((other[3], tag))
        still_open.append(this)
    return pairs


def _by_beginning(row: tuple[int, int, int, object]) -> tuple[int, int, int]:
    return row[0], row[1], -row[2]


class PrefixIndex:
    """Finds all prefixes of a fixed collection that contain an address.

    prefixes [-]: any order, both families, nested or equal ones too; answers are places in this sequence.

    Two prefixes are nested or apart, never crossed. So the address line is cut, once, where a prefix begins
    or has just ended, and each piece remembers its innermost prefix, each prefix the one around it.
    Building costs O(n log n), a question O(log n) and one step per prefix found.
    """

    def __init__(self, prefixes: Sequence[Prefix]) -> None:
        self._around: list[int | None] = [None] * len(prefixes)
        self._cuts: dict[int, tuple[list[int], list[int | None]]] = {}
        for family in WIDTH:
            places = [place for place, prefix in enumerate(prefixes) if prefix.family == family]
            places.sort(key=lambda place: (prefixes[place].network, prefixes[place].length, -place))
            self._cuts[family] = self._cut(prefixes, places)

    def _cut(self, prefixes: Sequence[Prefix], places: list[int]) -> tuple[list[int], list[int | None]]:
        starts: list[int] = [0]
        owners: list[int | None] = [None]
        open_places: list[int] = []

        def begin(value: int, owner: int | None) -> None:
            if starts[-1] == value:
                owners[-1] = owner
            else:
                starts.append(value)
                owners.append(owner)

        def close_before(value: int) -> None:
            while open_places and prefixes[open_places[-1]].last < value:
                ended = open_places.pop()
                begin(prefixes[ended].last + 1, self._around[ended])

        for place in places:
            first = prefixes[place].network
            close_before(first)
            self._around[place] = open_places[-1] if open_places else None
            open_places.append(place)
            begin(first, place)
        close_before(1 << 129)
        return starts, owners

    def containing(self, family: int, value: int) -> list[int]:
        """Places of all prefixes that contain an address, longest first, equal ones in their given order.

        family [-]: 4 or 6; value [-]: the address as an integer; beyond its family nothing is found.
        """
        found = []
        place = self.longest(family, value)
        while place is not None:
            found.append(place)
            place = self._around[place]
        return found

    def longest(self, family: int, value: int) -> int | None:
        """Place of the longest prefix that contains an address (the first given of equal ones), or None.

        family [-]: 4 or 6; value [-]: the address as an integer. Source: RFC 1519 section 5.2, longest match.
        """
        if value < 0 or value >> WIDTH[family]:
            return None
        starts, owners = self._cuts[family]
        return owners[bisect_right(starts, value) - 1]


def aggregate(prefixes: Iterable[Prefix]) -> list[Prefix]:
    """The fewest prefixes that cover exactly the same addresses, sorted, IPv4 first, host bits cleared.

    prefixes [-]: any order, both families, nested or equal ones too. O(n log n).
    Source: RFC 4632 section 5, classless aggregation.
    """
    merged: list[Prefix] = []
    for prefix in sorted(prefixes, key=lambda one: (one.family, one.network, one.length)):
        if merged and merged[-1].contains(prefix.family, prefix.network):
            continue
        whole = Prefix(prefix.family, prefix.network, prefix.length)
        while merged and _are_halves(merged[-1], whole):
            whole = Prefix(whole.family, merged.pop().base, whole.length - 1)
        merged.append(whole)
    return merged


def _are_halves(low: Prefix, high: Prefix) -> bool:
    """Whether two blocks, sorted, are the two halves of one."""
    return (
        low.family == high.family
        and low.length == high.length
        and low.base ^ high.base == 1 << high.host_bits
    )
