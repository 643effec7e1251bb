"""Addresses: every one of a plan read once, the subnets, pools and outside networks, and what belongs to what."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan.address import WIDTH, BadAddress, Prefix, read_address, read_prefix, text_of
from coldcheck.lan.mac import is_group, read_mac, special_mac
from coldcheck.lan.prefixes import (
    PrefixIndex,
    is_broadcast,
    is_network_address,
    is_reserved_anycast,
    overlaps,
    subnet_router_anycast,
    usable_range,
)
from coldcheck.lan.special import UNWISE, Special, is_link_local, registry, special
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.tables import Outside, Pool, Subnet

from .misread import meant_by

__all__ = [
    "AddressBook", "AddressOffers", "Bad", "Block", "FreeAddresses", "Host", "Offer", "PoolRange", "Station", "Stray",
    "address_book", "address_offers", "lost_hosts", "none_in", "not_a_host", "registered", "shared_on_purpose",
    "span_text", "stations", "strays",
]  # fmt: skip

_READS = ("node", "storage", "switch", "appliance", "subnet", "pool", "outside")
_DEVICES = ("node", "storage", "switch", "appliance")

#: Pools whose addresses are handed out by something else, so that no thing may have one for its own.
TAKEN = ("dhcp", "services", "containers", "overlay")

#: Roles of what stands under the key `gateway`.
_GATES = ("gateway", "default")


class Host(msgspec.Struct, gc=False):
    """One address of one thing, gateway or outside router.

    ``role`` is ``thing``, ``gateway``, ``outside``, or ``default`` for the router that a thing names for itself;
    ``port`` is the port that states it, None where the thing does;
    ``number`` is its place in the list of addresses, ``several`` says that there is a list. ``family`` is 4 or 6,
    ``value`` the address as an integer, ``length`` [bit] the prefix length typed after it, or None. ``subnet`` and
    ``pool`` are places in `AddressBook.subnets` and `AddressBook.pools`, or None.
    """

    role: str
    thing: Any
    port: Any
    number: int
    several: bool
    family: int
    value: int
    length: int | None
    subnet: int | None
    pool: int | None = None

    @property
    def name(self) -> str:
        """What has it: the thing, or its port."""
        if self.role == "gateway":
            return f"the gateway of {self.thing.prefix}"
        return f"{self.thing.id}.{self.port.id}" if self.port is not None else str(self.thing.id)

    @property
    def key(self) -> Path:
        """The key that states it, whether it stands alone there or in a list."""
        holder = self.port if self.port is not None else self.thing
        return (*holder.path, "gateway" if self.role in _GATES else "address")

    @property
    def path(self) -> Path:
        """The place of this very address."""
        return (*self.key, self.number) if self.several else self.key

    @property
    def text(self) -> str:
        """The address without its prefix length, in its one recommended form."""
        return text_of(self.family, self.value)


class Block(msgspec.Struct):
    """A subnet of the plan (``source`` is its entry) or a prefix in use outside, and where it is written."""

    prefix: Prefix
    source: Subnet | Outside
    path: Path
    text: str

    @property
    def name(self) -> str:
        """What it is called: an outside network by its id, a subnet by its prefix."""
        return getattr(self.source, "id", self.text)


class PoolRange(msgspec.Struct):
    """A range of addresses set aside.

    ``first`` and ``last`` are integers of ``family``; ``reversed`` says that they are written the wrong way round
    (they are kept in order). ``subnets`` are the places of the subnets that have an address in common with it.
    """

    pool: Pool
    family: int
    first: int
    last: int
    reversed: bool
    subnets: list[int]

    @property
    def name(self) -> str:
        """What it is called: its first address."""
        return text_of(self.family, self.first)

    @property
    def use(self) -> str:
        """What it is set aside for."""
        return self.pool.for_ or "reserved"

    @property
    def path(self) -> Path:
        """Where its range is written."""
        return (*self.pool.path, "range")

    @property
    def text(self) -> str:
        """Its range, as a plan writes it."""
        if self.first == self.last:
            return text_of(self.family, self.first)
        return f"{text_of(self.family, self.first)} .. {text_of(self.family, self.last)}"

    def within(self, prefix: Prefix) -> bool:
        """Say whether it lies wholly inside a prefix."""
        return prefix.contains(self.family, self.first) and prefix.contains(self.family, self.last)


class Bad(msgspec.Struct):
    """A text that should be an address or a prefix and is none: who states it, where, and why it is refused.

    ``right`` is what could stand there instead, "" where that is not known.
    """

    at: Any
    name: str
    path: Path
    text: str
    reason: str
    hint: str
    right: str = ""


class AddressBook(msgspec.Struct):
    """Every address of a plan.

    ``hosts`` are the addresses of things, ``gateways`` those of subnets, ``outside`` those of outside routers,
    ``defaults`` the routers that things name for themselves: not one address more, but where others are looked for;
    ``subnets``, ``pools`` and ``networks`` (prefixes in use outside) are what could be read, ``bad`` what could not.
    ``bad_subnets`` and ``bad_pools`` say that some of these are among the latter, so that what lies in none may be
    meant for one of them. ``mixed`` are the places of subnets so wide that a registered range lies inside them.
    """

    hosts: list[Host]
    gateways: list[Host]
    outside: list[Host]
    defaults: list[Host]
    subnets: list[Block]
    pools: list[PoolRange]
    networks: list[Block]
    bad: list[Bad]
    bad_subnets: bool
    bad_pools: bool
    mixed: frozenset[int]

    def every(self) -> Iterator[Host]:
        """Yield all addresses: of things, of gateways, of outside routers."""
        yield from self.hosts
        yield from self.gateways
        yield from self.outside


@working(reads=_READS)
def address_book(plan: Plan) -> AddressBook:
    """Return every address, subnet, pool and outside prefix of the plan, read once; what is wrong is kept as data."""
    return _Reader(plan).run()


class _Reader:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.bad: list[Bad] = []
        self.subnets: list[Block] = []
        self.index = PrefixIndex(())
        self.nested = False
        self.sorted: dict[int, list[tuple[int, int]]] = {}
        self.places: dict[int, int] = {}

    def run(self) -> AddressBook:
        plan = self.plan
        self.subnets = list(
            self._blocks(
                (s, s.prefix, (*s.path, "prefix")) for s in plan.table("subnet") if "prefix" in s.stated
            )
        )
        bad_subnets = bool(self.bad)
        self.index = PrefixIndex([block.prefix for block in self.subnets])
        rows = [(b.prefix.family, b.prefix.network, b.prefix.last, i) for i, b in enumerate(self.subnets)]
        self.nested = bool(overlaps(rows, most=1))
        self.sorted = {f: sorted((first, i) for family, first, _, i in rows if family == f) for f in (4, 6)}
        self.places = {id(block.source): i for i, block in enumerate(self.subnets)}
        before = len(self.bad)
        pools = [pool for entry in plan.table("pool") if (pool := self._pool(entry)) is not None]
        bad_pools = len(self.bad) > before
        networks = list(
            self._blocks(
                (o, text, _in_list(o, "prefix", i))
                for o in plan.table("outside")
                for i, text in enumerate(o.prefix)
            )
        )
        hosts: list[Host] = []
        defaults: list[Host] = []
        for table in _DEVICES:
            for thing in plan.table(table):
                if thing.gateway:
                    self._hosts("default", thing, None, thing.gateway, defaults)
                if thing.address:
                    self._hosts("thing", thing, None, thing.address, hosts)
                for port in thing.port_:
                    if port.address:
                        self._hosts("thing", thing, port, port.address, hosts)
        gateways: list[Host] = []
        outside: list[Host] = []
        for subnet in plan.table("subnet"):
            if subnet.gateway is not None:
                self._hosts("gateway", subnet, None, (subnet.gateway,), gateways)
        for router in plan.table("outside"):
            self._hosts("outside", router, None, router.address, outside)
        book = AddressBook(
            hosts, gateways, outside, defaults, self.subnets, pools, networks, self.bad, bad_subnets, bad_pools,
            self._mixed(),
        )  # fmt: skip
        _put_in_pools(book)
        return book

    def _mixed(self) -> frozenset[int]:
        if not self.subnets:
            return frozenset()
        return frozenset(
            place
            for row in registry()
            for place in self.index.containing(row.prefix.family, row.prefix.network)
            if self.subnets[place].prefix.length < row.prefix.length
        )

    def _blocks(self, rows: Iterable[tuple[Any, str, Path]]) -> Iterator[Block]:
        for source, text, path in rows:
            try:
                yield Block(read_prefix(text), source, path, text)
            except BadAddress as wrong:
                self._refuse(source, getattr(source, "id", "") or "a subnet", path, wrong)

    def _refuse(self, at: Any, name: str, path: Path, wrong: BadAddress) -> None:
        takes_list = not isinstance(at, Subnet | Pool)
        meant = meant_by(wrong.text, takes_list)
        if meant is None:
            self.bad.append(Bad(at, name, path, wrong.text, wrong.reason, wrong.hint))
            return
        reason, hint, right = meant  # the members of a span of things have one text each
        self.bad.append(Bad(at, name, path, wrong.text, reason, hint, "" if takes_list else right))

    def _pool(self, entry: Pool) -> PoolRange | None:
        ends = []
        for text in entry.range or ():
            try:
                ends.append(read_address(text))
            except BadAddress as wrong:
                self._refuse(entry, "a pool", (*entry.path, "range"), wrong)
                return None
        if len(ends) != 2:
            return None
        a, b = ends
        path = (*entry.path, "range")
        if a.family != b.family:
            reason, hint = "one end is IPv4, the other IPv6", "write both ends in one family"
            self.bad.append(Bad(entry, "a pool", path, f"{a} .. {b}", reason, hint))
            return None
        low, high = min(a.value, b.value), max(a.value, b.value)
        if a == b and a.prefix is not None:
            self._block_as_pool(entry, path, Prefix(a.family, a.value, a.prefix))
            return None
        return PoolRange(entry, a.family, low, high, a.value > b.value, self._sharing(a.family, low, high))

    def _block_as_pool(self, entry: Pool, path: Path, block: Prefix) -> None:
        """Refuse a prefix as the range of a pool, with its first and last address that a machine can have."""
        low, high = block.network, block.last
        for place in self._sharing(block.family, low, high):
            first, last = usable_range(self.subnets[place].prefix)
            if first <= high and low <= last:
                low, high = max(low, first), min(high, last)
        right = f"{text_of(block.family, low)} .. {text_of(block.family, high)}"
        reason = "a prefix, and a pool has a first address and a last one"
        self.bad.append(Bad(entry, "a pool", path, str(block), reason, f'write "{right}"', right))

    def _sharing(self, family: int, low: int, high: int) -> list[int]:
        """Return the subnets that have an address in common with a range, in the order of the plan."""
        rows = self.sorted[family]
        begun = rows[
            bisect_right(rows, (low, len(self.subnets))) : bisect_right(rows, (high, len(self.subnets)))
        ]
        return sorted([*self.index.containing(family, low), *(place for _, place in begun)])

    def _hosts(self, role: str, thing: Any, port: Any, texts: tuple[str, ...], into: list[Host]) -> None:
        several = len(texts) > 1
        for i, text in enumerate(texts):
            try:
                read = read_address(text)
            except BadAddress as wrong:
                holder = port if port is not None else thing
                path = _in_list(holder, "gateway" if role in _GATES else "address", i, several)
                self._refuse(thing, getattr(thing, "id", "") or "a subnet", path, wrong)
                continue
            family, value, length = read.family, read.value, read.prefix
            if role == "gateway":
                place = self.places.get(id(thing))
            elif self.nested:
                place = self._nearest(family, value, length)
            else:
                place = self.index.longest(family, value)
            into.append(Host(role, thing, port, i, several, family, value, length, place))

    def _nearest(self, family: int, value: int, length: int | None) -> int | None:
        """Return the subnet of the length typed where there is one, else the longest."""
        places = self.index.containing(family, value)
        same = next((p for p in places if self.subnets[p].prefix.length == length), None)
        return same if same is not None else next(iter(places), None)


def _in_list(holder: Any, key: str, number: int, several: bool | None = None) -> Path:
    several = len(getattr(holder, key)) > 1 if several is None else several
    return (*holder.path, key, number) if several else (*holder.path, key)


def _put_in_pools(book: AddressBook) -> None:
    """Note for each address the pool it lies in, one that is handed out before one that is reserved."""
    for family in (4, 6):
        for handed_out in (True, False):
            rows = sorted(
                (pool.first, pool.last, i)
                for i, pool in enumerate(book.pools)
                if pool.family == family and (pool.use in TAKEN) == handed_out
            )
            if rows:
                _search(book, family, rows)


def _search(book: AddressBook, family: int, rows: list[tuple[int, int, int]]) -> None:
    starts = [row[0] for row in rows]
    furthest: list[tuple[int, int]] = []  # the last address of all pools so far, and whose it is
    for _, last, i in rows:
        furthest.append(max(furthest[-1], (last, i)) if furthest else (last, i))
    for host in book.every():
        if host.family == family and host.pool is None:
            at = bisect_right(starts, host.value) - 1
            if at >= 0 and host.value <= furthest[at][0]:
                host.pool = furthest[at][1]


# --- one slip in a prefix ---------------------------------------------------------------------------------------------


class Stray(msgspec.Struct):
    """A subnet whose prefix has a slip in it, as the addresses tell that were meant for it.

    ``hosts`` (the gateway of the subnet perhaps among them) and ``pools`` lie in ``prefix`` and in no subnet. Where
    ``beside`` is false the subnet holds nothing and ``prefix`` has its length; where it is true, ``prefix`` is the
    subnet with a usual, shorter length.
    """

    block: Block
    prefix: Prefix
    hosts: list[Host]
    pools: list[PoolRange]
    beside: bool


#: The lengths of most subnets: one octet of hosts in IPv4; RFC 4291 section 2.5.1 for IPv6 [bit].
_USUAL = {4: 24, 6: 64}


@working(reads=_READS)
def strays(plan: Plan, address_book: AddressBook) -> list[Stray]:
    """Return the subnets whose prefix has a slip in it: one slip, however many addresses are left out by it."""
    book = address_book
    if book.bad_subnets:
        return []
    held = {host.subnet for host in (*book.hosts, *book.gateways) if _inside(book, host)}
    held |= {i for pool in book.pools for i in pool.subnets}
    lost = _Lost(book)
    found: list[Stray] = []
    told: dict[int, set[int]] = {}  # the prefixes of those found, by family and length in one number
    for place, block in enumerate(book.subnets):
        ways = [
            lost.narrow(block),
            None if place in held else lost.moved(block),
        ]  # what lies beside it comes first
        stray = max((way for way in ways if way is not None), key=lambda way: len(way.hosts), default=None)
        if stray is not None and not _is_told(stray.prefix, told):
            found.append(stray)
            mark = stray.prefix.host_bits * 10 + stray.prefix.family
            told.setdefault(mark, set()).add(stray.prefix.base >> stray.prefix.host_bits)
    return found


def _inside(book: AddressBook, host: Host) -> bool:
    return host.subnet is not None and book.subnets[host.subnet].prefix.contains(host.family, host.value)


def _is_told(prefix: Prefix, told: dict[int, set[int]]) -> bool:
    """Say whether a prefix found before holds this one."""
    return any(
        mark % 10 == prefix.family and prefix.network >> mark // 10 in bases for mark, bases in told.items()
    )


def _may_be_meant(book: AddressBook, host: Host) -> bool:
    """Say whether an address may be meant for a subnet: not one that is no machine's, nor one registered for others."""
    row = registered(book, host)
    return not (not_a_host(book, host) or (row is not None and row.kind in UNWISE))


class _Lost:
    """What lies in no subnet, found by the prefix that would hold it: each subnet asks for its own alone."""

    def __init__(self, book: AddressBook) -> None:
        self.book = book
        self.hosts = [host for host in book.hosts if host.subnet is None and _may_be_meant(book, host)]
        self.gates = {id(gate.thing): gate for gate in book.gateways}
        self.loose = [pool for pool in book.pools if not pool.subnets]
        self.pools = {family: self._by(p for p in book.pools if p.family == family) for family in WIDTH}
        self.starts = {
            f: sorted(b.prefix.network for b in book.subnets if b.prefix.family == f) for f in WIDTH
        }
        self.groups: dict[tuple[int, int], dict[int, list[Host]]] = {}
        self.bare: dict[int, dict[int, list[Host]]] = {}
        self.keys: dict[int, set[Path]] | None = None

    @staticmethod
    def _by(pools: Iterable[PoolRange]) -> dict[int, list[PoolRange]]:
        found: dict[int, list[PoolRange]] = {}
        for pool in pools:
            found.setdefault(pool.first >> WIDTH[pool.family] - _USUAL[pool.family], []).append(pool)
        return found

    def _begun(self, prefix: Prefix) -> int:
        """Return how many subnets begin in a prefix: where another one does, it is no empty space."""
        starts = self.starts[prefix.family]
        return bisect_right(starts, prefix.last) - bisect_left(starts, prefix.network)

    def _alike(self, family: int, length: int) -> dict[int, list[Host]]:
        """Return what is lost by the prefix of a length that holds it; what carries another length is not."""
        known = self.groups.get((family, length))
        if known is not None:
            return known
        groups: dict[int, list[Host]] = {}
        for host in self.hosts:
            if host.family == family and host.length in (None, length):
                groups.setdefault(host.value >> WIDTH[family] - length, []).append(host)
        best = max(groups, key=lambda base: len(groups[base]), default=None)
        if best is not None:
            groups = {best: groups[best], **groups}  # the largest leads
        self.groups[family, length] = groups
        return groups

    def moved(self, block: Block) -> Stray | None:
        """Return the prefix of the same length that holds what an empty subnet should."""
        family, length = block.prefix.family, block.prefix.length
        if not length or self._begun(block.prefix) > 1:
            return None
        shift = WIDTH[family] - length
        groups = self._alike(family, length)
        hosts: list[Host] = next(iter(groups.values()), [])
        gate = self.gates.get(id(block.source))
        if gate is not None and gate.family == family and gate.length in (None, length):
            beside = groups.get(gate.value >> shift, [])
            hosts = [*beside, gate] if len(beside) + 1 >= len(hosts) else hosts
        typed = len(hosts) > 1 and all(host.length is not None for host in hosts)
        if all(h.role == "gateway" for h in hosts) or not (typed or len({h.key for h in hosts}) > 1):
            return None
        prefix = Prefix(family, hosts[0].value >> shift << shift, length)
        pools = [p for p in self.loose if prefix.contains(p.family, p.first)]
        return Stray(block, prefix, hosts, pools, False)

    def narrow(self, block: Block) -> Stray | None:
        """Return the subnet with a shorter length, where that holds several addresses that lie beside it now."""
        family, shift = block.prefix.family, WIDTH[block.prefix.family] - _USUAL[block.prefix.family]
        if block.prefix.length <= _USUAL[family]:
            return None
        wide = Prefix(family, block.prefix.network >> shift << shift, _USUAL[family])
        if self._begun(wide) > 1:
            return None
        if family not in self.bare:
            self.bare[family] = {}
            for host in self.hosts:
                if host.length is None and host.family == family:
                    self.bare[family].setdefault(host.value >> shift, []).append(host)
        hosts = list(self.bare[family].get(wide.base >> shift, ()))
        gate = self.gates.get(id(block.source))
        if gate is not None and not _inside(self.book, gate) and wide.contains(gate.family, gate.value):
            hosts.append(gate)
        pools = [
            p
            for p in self.pools[family].get(wide.base >> shift, ())
            if wide.contains(family, p.last) and not block.prefix.contains(family, p.last)
        ]
        keys = {host.key for host in hosts} | {pool.path for pool in pools}
        if not hosts or (len(keys) == 1 and keys.isdisjoint(self._keys_in(block))):
            return None
        return Stray(block, wide, hosts, pools, True)

    def _keys_in(self, block: Block) -> set[Path]:
        """Return the keys that state addresses in a subnet: a span that its edge cuts in two says where the slip is."""
        if self.keys is None:
            self.keys = {}
            for host in self.book.hosts:
                if host.subnet is not None:
                    self.keys.setdefault(id(self.book.subnets[host.subnet]), set()).add(host.key)
        return self.keys.get(id(block), set())


def lost_hosts(book: AddressBook) -> list[Host]:
    """Return the addresses without a prefix length that lie in no subnet, and that a machine could have."""
    return [
        host
        for host in book.hosts
        if host.subnet is None
        and host.length is None
        and not is_link_local(host.family, host.value)
        and not not_a_host(book, host)
    ]


# --- hardware addresses -----------------------------------------------------------------------------------------------


class Station(msgspec.Struct):
    """The hardware address of a thing or port: ``value`` [-] of 48 bits, or None where it cannot be read.

    ``reason`` says why it cannot be read, or why no station can have it; ``hint`` what to write instead.
    """

    thing: Any
    name: str
    path: Path
    text: str
    value: int | None
    reason: str = ""
    hint: str = ""


@working(reads=("node", "storage", "switch", "appliance"))
def stations(plan: Plan) -> list[Station]:
    """Return every hardware address of the plan, with what is wrong with it by itself."""
    found = []
    for table in _DEVICES:
        for thing in plan.table(table):
            if thing.mac is not None:
                found.append(_station(thing, thing.id, (*thing.path, "mac"), thing.mac))
            for port in thing.port_:
                if port.mac is not None:
                    found.append(_station(thing, f"{thing.id}.{port.id}", (*port.path, "mac"), port.mac))
    return found


def _station(thing: Any, name: str, path: Path, text: str) -> Station:
    try:
        value = read_mac(text)
    except BadAddress as bad:
        return Station(thing, name, path, text, None, f"cannot be read: {bad.reason}", bad.hint)
    label = "correct it from its label"
    row = special_mac(value)
    if is_group(value):
        return Station(thing, name, path, text, value, "names a group of stations, never one of them", label)
    if value == 0:
        return Station(thing, name, path, text, value, f"is {row.use if row else 'null'}", label)
    return Station(thing, name, path, text, value)


def shared_on_purpose(value: int) -> bool:
    """Say whether several stations may show a hardware address: those of virtual routers (RFC 5798)."""
    row = special_mac(value)
    return row is not None and "virtual router" in row.use


# --- what an address is no good for --------------------------------------------------------------------------------

_NEVER = {
    "unspecified": "stands for no address",
    "loopback": "never leaves the machine",
    "multicast": "names a group, not one machine",
    "reserved": "is reserved and refused by most systems",
    "broadcast": "means every machine at once",
    "mapped": "is an IPv4 address inside a program, never on a wire",
    "discard": "is thrown away by routers",
}


def not_a_host(book: AddressBook, host: Host) -> str:
    """Return why no machine can have an address, in words that follow it; "" where one can.

    Source: RFC 1122 section 3.2.1.3, RFC 3021, RFC 4291 section 2, and the special-purpose registries.
    """
    prefix = book.subnets[host.subnet].prefix if host.subnet is not None else None
    row = registered(book, host)
    if row is not None and row.kind in _NEVER:
        return _NEVER[row.kind]
    if prefix is None:
        if host.length is None:
            return ""
        prefix = Prefix(host.family, host.value, host.length)
    return none_in(prefix, host.value)


def registered(book: AddressBook, host: Host) -> Special | None:
    """Return the registered range that an address lies in and its subnet does not; of subnets `subnets` has rules."""
    if host.subnet is not None and host.subnet not in book.mixed:
        return None
    row = special(host.family, host.value)
    if row is None or host.subnet is None:
        return row
    return row if book.subnets[host.subnet].prefix.length < row.prefix.length else None


def none_in(prefix: Prefix, value: int) -> str:
    """Return why an address of a subnet is no machine's."""
    if prefix.family == 6:
        if value == subnet_router_anycast(prefix):
            return "is the anycast address of the routers of its subnet"
        aside = is_reserved_anycast(prefix, value)
        return "is one of the 128 interface ids set aside for anycast" if aside else ""
    if is_network_address(prefix, value):
        return f"is the network {text_of(4, prefix.network)}/{prefix.length} itself"
    if is_broadcast(prefix, value):
        return f"is the broadcast address of {text_of(4, prefix.network)}/{prefix.length}"
    return ""


# --- addresses that could be had instead ---------------------------------------------------------------------------


class Offer(msgspec.Struct):
    """Addresses offered to one key of the plan: where to write them, as text, and the ones it has now.

    ``exact`` says that the text can stand for the whole key, so that it may become an edit.
    """

    path: Path
    text: str
    hosts: list[Host]
    exact: bool


class AddressOffers(msgspec.Struct):
    """Free addresses that could replace those that cannot stay; none is offered twice.

    ``clashes`` are the addresses that several things have, with all of these in the order of the plan. ``offers``
    has, by the path of a key, what could be written there.
    """

    clashes: list[list[Host]]
    pooled: list[Host]
    barred: list[tuple[Host, str]]
    offers: dict[Path, Offer]


@working(reads=_READS)
def address_offers(plan: Plan, address_book: AddressBook, strays: list[Stray]) -> AddressOffers:
    """Return the addresses that cannot stay (had twice, in a pool, no machine's), and free ones in their subnets."""
    book = address_book
    clashes = _clashes(book)
    pooled = [
        h for h in (*book.hosts, *book.gateways) if h.pool is not None and book.pools[h.pool].use in TAKEN
    ]
    slipped = {id(stray.block) for stray in strays}  # where the prefix is the slip, its edges are none
    barred = [
        (h, why)
        for h in book.hosts
        if (why := not_a_host(book, h)) and (h.subnet is None or id(book.subnets[h.subnet]) not in slipped)
    ]
    found = AddressOffers(clashes, pooled, barred, {})
    moving: dict[Path, list[Host]] = {}
    for host in _movers(clashes, pooled, barred):
        if host.role == "thing" and host.subnet is not None:
            moving.setdefault(host.path, []).append(host)
    if moving:
        shared = _counts(book, moving)
        free = FreeAddresses(book)
        for path, hosts in moving.items():
            offer = _offer(free, path, hosts, shared[path])
            if offer is not None:
                found.offers[path] = offer
    return found


def _clashes(book: AddressBook) -> list[list[Host]]:
    """Return the addresses that several things have; a gateway and an outside router may be one machine."""
    seen: dict[int, Host] = {}
    several: dict[int, list[Host]] = {}
    for host in (*book.outside, *book.hosts):
        value = host.value if host.family == 4 else host.value + (1 << 129)
        first = seen.setdefault(value, host)
        if first is not host and first.thing is not host.thing:
            several.setdefault(value, [first]).append(host)
    return list(several.values())


def _movers(clashes: list[list[Host]], pooled: list[Host], barred: list[tuple[Host, str]]) -> Iterator[Host]:
    """Yield every address that should be another one, each once."""
    done: set[int] = set()
    for hosts in clashes:
        one_key = len({host.path for host in hosts}) == 1
        for host in hosts if one_key else hosts[1:]:
            done.add(id(host))
            yield host
    for host in (*pooled, *(host for host, _ in barred)):
        if id(host) not in done:
            done.add(id(host))
            yield host


def _counts(book: AddressBook, moving: dict[Path, list[Host]]) -> dict[Path, int]:
    counts = dict.fromkeys(moving, 0)
    for host in book.hosts:
        path = host.path
        if path in counts:
            counts[path] += 1
    return counts


def _offer(free: FreeAddresses, path: Path, hosts: list[Host], shared: int) -> Offer | None:
    first = hosts[0]
    assert first.subnet is not None
    if any(host.subnet != first.subnet or host.length != first.length for host in hosts):
        return None
    # One address for a whole span: the first thing of it may keep what is written.
    alike = int(len(hosts) > 1 and first.pool is None and all(host.value == first.value for host in hosts))
    values = free.take(first.subnet, first.value, len(hosts) - alike)
    if values is None:
        return None
    if alike:
        if values[0] != first.value + 1:
            return None
        values = range(first.value, first.value + len(hosts))
    tail = "" if first.length is None else f"/{free.book.subnets[first.subnet].prefix.length}"
    texts = [text_of(first.family, value) + tail for value in (values[0], values[-1])]
    text = texts[0] if len(hosts) == 1 else " .. ".join(texts)
    return Offer(path, text, hosts, len(hosts) == shared)


_ASIDE = 0xFDFFFFFFFFFFFF80


class FreeAddresses:
    """The free addresses of each subnet: neither had nor in any pool; given out once."""

    def __init__(self, book: AddressBook) -> None:
        self.book = book
        self.gaps: dict[int, list[tuple[int, int]]] = {}
        self.had = {f: sorted(host.value for host in book.every() if host.family == f) for f in WIDTH}
        self.pools: dict[int, list[PoolRange]] = {}
        for pool in book.pools:
            for place in pool.subnets:
                self.pools.setdefault(place, []).append(pool)

    def take(self, subnet: int, near: int, count: int) -> range | None:
        """Return so many free addresses in a row, the first behind ``near`` or else the last before it."""
        gaps = self.of(subnet)
        at = bisect_right(gaps, (near, 1 << 129))  # somebody has `near`, so no gap holds it
        for i in (*range(at, len(gaps)), *range(at - 1, -1, -1)):
            first, last = gaps[i]
            if last - first + 1 >= count:
                start = first if i >= at else last - count + 1
                rest = [(first, start - 1), (start + count, last)]
                gaps[i : i + 1] = [(a, b) for a, b in rest if a <= b]
                return range(start, start + count)
        return None

    def of(self, subnet: int) -> list[tuple[int, int]]:
        """Return the free addresses of a subnet in stretches (first, last), in order."""
        if subnet not in self.gaps:
            self.gaps[subnet] = self._find(subnet)
        return self.gaps[subnet]

    def _find(self, subnet: int) -> list[tuple[int, int]]:
        prefix = self.book.subnets[subnet].prefix
        low, high = usable_range(prefix)
        taken = [(p.first, p.last) for p in self.pools.get(subnet, ())]
        if prefix.family == 6 and prefix.length == 64:  # interface ids set aside for anycast, RFC 2526
            taken.append((prefix.network | _ASIDE, prefix.network | _ASIDE | 127))
        had = self.had[prefix.family]
        inside = had[bisect_left(had, prefix.network) : bisect_right(had, prefix.last)]
        taken += [(value, value) for value in inside]
        gaps = []
        for first, last in sorted(taken):
            if first > low:
                gaps.append((low, min(first - 1, high)))
            low = max(low, last + 1)
            if low > high:
                return gaps
        return [*gaps, (low, high)]


def span_text(hosts: list[Host]) -> str:
    """Return addresses as a person would list them: ``10.0.0.1 .. 10.0.0.6`` where they count on."""
    values = [host.value for host in hosts]
    if len(values) > 2 and values == list(range(values[0], values[0] + len(values))):
        return f"{hosts[0].text} .. {hosts[-1].text}"
    shown = [host.text for host in hosts[:5]]
    return ", ".join(shown) + (f" and {len(values) - 5} more" if len(values) > 5 else "")
