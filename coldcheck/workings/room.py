"""Room in subnets, and free prefixes that could be had instead of those that clash or are too small."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from typing import Any

from coldcheck.lan.address import WIDTH, Prefix
from coldcheck.lan.dhcp import leasable
from coldcheck.lan.prefixes import PrefixIndex, usable_range

from .addresses import AddressBook, Block, Host, PoolRange

__all__ = ["FreePrefixes", "Layout", "meant_network", "usual_length"]

#: Pools whose addresses are no host's: the rest of a subnet is for hosts, those that DHCP serves among them.
ASIDE = ("services", "containers", "overlay")

#: After so many offers each further one says little, and costs a search.
_MOST_OFFERS = 20

# Where a free prefix is looked for: private space (RFC 1918), or the site of a unique local prefix (RFC 4193).
_AREAS = (Prefix(4, 0x0A000000, 8), Prefix(4, 0xAC100000, 12), Prefix(4, 0xC0A80000, 16))
_SITE = 48


#: One octet of hosts in IPv4 (common practice); RFC 4291 section 2.5.1 for IPv6 [bit].
_USUAL = {4: 24, 6: 64}


def usual_length(book: AddressBook, block: Block) -> int:
    """Return the length [bit] that a subnet would have by custom: in IPv6 that of most other subnets of the plan."""
    if block.prefix.family == 4:
        return _USUAL[4]
    lengths = Counter(
        other.prefix.length
        for other in book.subnets
        if other is not block and other.prefix.family == 6 and not other.prefix.host_bits_set
    )
    return lengths.most_common(1)[0][0] if lengths else _USUAL[6]


def meant_network(book: AddressBook, block: Block) -> Prefix:
    """Return the network that begins where a prefix with host bits does: of the usual length, or the next that fits."""
    prefix = block.prefix
    low_zeros = (prefix.base & -prefix.base).bit_length() - 1
    return Prefix(
        prefix.family, prefix.base, max(usual_length(book, block), WIDTH[prefix.family] - low_zeros)
    )


class Layout:
    """What lies in each subnet, and what lies around it, found once for all of them."""

    def __init__(self, book: AddressBook) -> None:
        self.book = book
        self.hosts: dict[int, list[Host]] = {}
        self.pools: dict[int, list[PoolRange]] = {}
        for host in book.every():
            if host.subnet is not None:
                self.hosts.setdefault(host.subnet, []).append(host)
        for pool in book.pools:
            for place in pool.subnets:
                self.pools.setdefault(place, []).append(pool)
        blocks = [*book.subnets, *book.networks]
        self._starts = {f: sorted(b.prefix.network for b in blocks if b.prefix.family == f) for f in (4, 6)}
        self._index = PrefixIndex([block.prefix for block in blocks])

    def room(self, place: int) -> int:
        """Return how many addresses [-] of a subnet a host or its gateway can have: usable, less pools set aside."""
        low, high = usable_range(self.book.subnets[place].prefix)
        return leasable(low, high, [(p.first, p.last) for p in self.pools.get(place, ()) if p.use in ASIDE])

    def of_usual_length(self, place: int) -> tuple[Prefix | None, bool]:
        """Return the network of the usual, longer length that holds all that lies in a subnet and meets no other one.

        None where there is none; with it, whether addresses there carry the length that is to go.
        """
        block = self.book.subnets[place]
        family, length = block.prefix.family, usual_length(self.book, block)
        if length <= block.prefix.length:
            return None, False
        hosts = self.hosts.get(place, [])
        values = [host.value for host in hosts if block.prefix.contains(host.family, host.value)]
        for pool in self.pools.get(place, ()):  # one that lies in a narrower subnet is meant for that
            if all(i == place or not pool.within(self.book.subnets[i].prefix) for i in pool.subnets):
                values += [pool.first, pool.last]
        shift = WIDTH[family] - length
        right = Prefix(family, min(values, default=block.prefix.network) >> shift << shift, length)
        whole = all(right.contains(family, value) for value in values) and self.alone(block, right)
        return (right, any(host.length is not None for host in hosts)) if whole else (None, False)

    def alone(self, block: Block, wide: Prefix) -> bool:
        """Say whether a prefix that holds all of a subnet, or lies in it, meets no other subnet or outside network."""
        starts = self._starts[wide.family]
        within = bisect_right(starts, wide.last) - bisect_left(starts, wide.network)
        own = int(wide.contains(wide.family, block.prefix.network))
        around = len(self._index.containing(wide.family, wide.network))
        here = int(block.prefix.contains(wide.family, wide.network))
        return within <= own and around <= here


class FreePrefixes:
    """Prefixes of private space that no subnet, pool or outside network of a plan touches; given out once."""

    def __init__(self, book: AddressBook) -> None:
        self.book = book
        self.free: dict[Prefix, Any] = {}
        self.given = 0
        self._had: dict[int, list[int]] = {}

    def take(self, near: Prefix, length: int) -> Prefix | None:
        """Return a free prefix of a length [bit]: the next one behind ``near``, else the first of its area, or None."""
        area = _area(near)
        if area is None or length < area.length or self.given >= _MOST_OFFERS:
            return None
        if area not in self.free:
            self.free[area] = self._left(area)
        wide = [c for c in self.free[area].iter_cidrs() if c.prefixlen <= length]
        found = next((c for c in wide if c.first > near.last), next(iter(wide), None))
        if found is None:
            return None
        self.given += 1
        chosen = Prefix(near.family, int(found.first), length)
        self.free[area].remove(str(chosen))
        return chosen

    def unused(self, prefix: Prefix) -> bool:
        """Say whether no address and no pool lies in a prefix, so that it may as well be another."""
        family = prefix.family
        if family not in self._had:
            self._had[family] = sorted(host.value for host in self.book.every() if host.family == family)
        had = self._had[family]
        if bisect_left(had, prefix.network) < bisect_right(had, prefix.last):
            return False
        pools = (pool for pool in self.book.pools if pool.family == family)
        return not any(pool.first <= prefix.last and prefix.network <= pool.last for pool in pools)

    def _left(self, area: Prefix) -> Any:
        import netaddr  # type: ignore[import-untyped]  # late: only a plan with a clash needs it

        book = self.book
        blocks = (block.prefix for block in (*book.subnets, *book.networks))
        taken = netaddr.IPSet(
            [str(Prefix(b.family, b.network, b.length)) for b in blocks if b.family == area.family]
        )
        for pool in book.pools:
            if pool.family == area.family:
                taken.add(netaddr.IPRange(pool.first, pool.last))
        return netaddr.IPSet([str(area)]) - taken


def _area(near: Prefix) -> Prefix | None:
    if near.family == 6:
        if near.length < _SITE:
            return None
        shift = near.host_bits + near.length - _SITE
        return Prefix(6, near.network >> shift << shift, _SITE)
    return next((area for area in _AREAS if area.contains(4, near.network)), None)
