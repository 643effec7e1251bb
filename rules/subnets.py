"""Subnets: apart from each other and from networks outside, with a gateway that can be one, in space to be had."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Put, Review, cases, rule
from coldcheck.lan.address import WIDTH, Prefix
from coldcheck.lan.prefixes import overlaps
from coldcheck.lan.special import IMPOSSIBLE, UNWISE, defaults_met, special
from coldcheck.plan.model import Plan
from coldcheck.workings.addresses import AddressBook, Block, Host, PoolRange, Stray, not_a_host
from coldcheck.workings.room import FreePrefixes

_NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\n'
_LAN = _NET.format("10.20.0.0/24")
_GATE = _LAN + 'gateway = "{}"\n'
_POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'
_DHCP = _POOL.format("dhcp", "10.20.0.100", "10.20.0.199")
_SWITCH = '[[switch]]\nid = "sw"\nports = 8\n'
_UPLINK = '[[uplink]]\nfrom = "sw.8"\nto = "{}"\n'
_MEANT = _NET.format("{}") + 'gateway = "fd00:2::1"\n' + _POOL.format("dhcp", "fd00:2::100", "fd00:2::1ff")
_MEANT += "".join(_NODE.format(f"n{n}", f"fd00:2::1{n}") for n in range(1, 6))


@rule(level="error", over="plan")
def gateway(plan: Plan, address_book: AddressBook, strays: list[Stray]) -> Iterator[Finding]:
    """A gateway has an address of its subnet, one a machine can have, and no thing but a router has it.

    A machine reaches its gateway as a neighbour, so the gateway must be one. A thing of the box that has this address
    is a router where it leads on: by an uplink of its own, by a cable to the modem that has it, or into a second
    subnet. Anything else that has it is a slip, and cuts all others off.

    Source: RFC 1122 section 3.3.1.1 (a gateway is on a connected network); RFC 4291 section 2.6.1 for IPv6, where
    the anycast address of the routers will do.
    """
    book = address_book
    wanted: dict[tuple[int, int], Host] = {}
    told = {id(host) for stray in strays for host in stray.hosts}
    for host in book.gateways:
        if host.subnet is None:
            continue
        block = book.subnets[host.subnet]
        if id(host) in told:
            continue  # `addresses.no_subnet` says that the prefix is the slip
        if not block.prefix.contains(host.family, host.value):
            says = f"the gateway {host.text} lies outside its subnet {block.text}"
            yield Finding("error", block, says, found=host.text, allowed=block.text, path=host.path,
                          remedy="correct one of the two")  # fmt: skip
        elif (why := not_a_host(book, host)) and "of the routers" not in why:
            says = f"no gateway can have {host.text}: it {why}"
            yield Finding("error", block, says, found=host.text, path=host.path,
                          remedy="correct the address")  # fmt: skip
        else:
            wanted[host.family, host.value] = host
    for host in book.defaults:
        wanted.setdefault((host.family, host.value), host)
    if wanted:
        yield from _not_routers(plan, book, wanted)


def _not_routers(plan: Plan, book: AddressBook, wanted: dict[tuple[int, int], Host]) -> Iterator[Finding]:
    outside = {(host.family, host.value) for host in book.outside}
    leaving = {line.a.thing.id for line in plan.links if line.b is None}
    homes: dict[str, set[int | None]] = {}
    for host in book.hosts:
        homes.setdefault(host.thing.id, set()).add(host.subnet)
    for host in book.hosts:
        gate = wanted.get((host.family, host.value))
        if gate is None or (host.family, host.value) in outside:  # `addresses.duplicate` has the latter
            continue
        if gate.thing is host.thing:
            continue  # `gateways.stated` has that
        families = {book.subnets[i].prefix.family for i in homes[host.thing.id] if i is not None}
        leads_on = len(homes[host.thing.id]) > len(families) or not leaving.isdisjoint(
            _ways(plan, host.thing)
        )
        if not leads_on:
            whose = gate.name if gate.role == "gateway" else f"the gateway of {gate.thing.id}"
            yield Finding(
                "error",
                host.thing,
                f"{host.name} has {host.text}, {whose}, but leads nowhere",
                found=host.text,
                remedy="give it another address; a router has an [[uplink]], or an address in a second subnet",
                path=host.path,
                related=[(gate.path, "the gateway")],
            )


def _ways(plan: Plan, thing: Any) -> Iterator[str]:
    """Yield a thing itself and what its cables lead to; a switch is no way out, since it leads everywhere."""
    yield thing.id
    for port in plan.ports.get(thing.id, ()):
        for line in port.links:
            other = line.b if line.a is port else line.a
            if other is not None and other.thing.table != "switch":
                yield other.thing.id


_ROUTER = _GATE.format("10.20.0.1") + _SWITCH
_ROUTER += '[[appliance]]\nid = "router"\naddress = "10.20.0.1"\nport = "sw.1"\n'

cases(
    gateway,
    clean=[
        _GATE.format("10.20.0.1"),
        _ROUTER + '[[uplink]]\nfrom = "router"\nto = "the hall"\n',
        # a router behind a modem: the modem has the uplink
        _ROUTER.replace('port = "sw.1"\n', '[[appliance.port]]\nid = "1"\nto = "sw.1"\n[[appliance.port]]\nid = "2"\n')
        + '[[appliance]]\nid = "modem"\n[[appliance.port]]\nid = "1"\nto = "router.2"\n[[appliance.port]]\nid = "2"\n'
        + '[[uplink]]\nfrom = "modem.2"\nto = "the hall"\n',
        # a router between two subnets of the box
        _GATE.format("10.20.0.1") + _NET.format("10.20.1.0/24")
        + '[[node]]\nid = "r"\naddress = ["10.20.0.1", "10.20.1.1"]\n',
        _GATE.format("10.20.0.1")
        + _NODE.format("n1", "10.20.0.1")
        + '[[uplink]]\nfrom = "n1"\nto = "the hall"\n',
        _NET.format("fd00:1::/64") + 'gateway = "fd00:1::"\n',
        _MEANT.format("fd00:20::/64"),  # the slip is in the subnet
        _LAN + _NODE.format("n1", "10.20.0.5") + 'gateway = "10.20.0.5"\n',  # `gateways.stated` has that one
    ],
    flagged=[
        Case(_GATE.format("10.20.1.1"), at="10.20.1.1", level="error", mended=_GATE.format("10.20.0.1")),
        Case(_GATE.format("10.20.0.0"), at="is the network", level="error"),
        Case(_GATE.format("10.20.0.255"), at="broadcast", level="error", mended=_GATE.format("10.20.0.254")),
        Case(_GATE.format("10.20.0.1") + _NODE.format("n1", "10.20.0.1"), at="n1", level="error"),
        Case(_LAN + _NODE.format("n1", "10.20.0.1") + _NODE.format("n2", "10.20.0.2") + 'gateway = "10.20.0.1"\n',
             at="the gateway of n2", level="error"),
        Case(_ROUTER, at="router", level="error", mended=_ROUTER + '[[uplink]]\nfrom = "router"\nto = "the hall"\n'),
        Case(_ROUTER + _UPLINK.format("the hall"), at="router", level="error"),  # the switch leads on, not this
        Case(  # two cables to one switch make no router
            _GATE.format("10.20.0.1") + _SWITCH + '[[storage]]\nid = "s"\naddress = "10.20.0.1"\n'
            '[[storage.port]]\nid = "1 .. 2"\nto = "sw.1 .. sw.2"\n', at="s", level="error"),
        # an address of each family in one network is none in a second
        Case(_GATE.format("10.20.0.1") + _NET.format("fd00:1::/64")
             + '[[appliance]]\nid = "cam"\naddress = ["10.20.0.1", "fd00:1::5"]\n', at="cam", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def overlap(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """Subnets, pools and the networks outside are apart from each other; a pool lies in one subnet.

    What belongs to two networks is delivered to one of them. A network outside with the prefix of a subnet cannot be
    reached, unless the uplink joins both to one network, which a person must say.

    Formula: sweep over the sorted ends of all ranges.
    """
    book = address_book
    rows: list[tuple[int, int, int, Block | PoolRange]] = []
    for block in (*book.subnets, *book.networks):
        rows.append((block.prefix.family, block.prefix.network, block.prefix.last, block))
    rows += [(pool.family, pool.first, pool.last, pool) for pool in book.pools]
    joined = {uplink.to for uplink in plan.table("uplink")}
    free = FreePrefixes(book)
    offers: dict[int, Prefix | None] = {}
    for first, second in overlaps([row for row in rows if row[2] >= row[1]], most=_MOST):
        found = _clash(book, first, second, joined)
        if found is not None:
            yield _moved(free, offers, found)


def _moved(free: FreePrefixes, offers: dict[int, Prefix | None], found: Finding) -> Finding:
    """Add a free prefix of the same length to what is said of a subnet, as an edit where nothing lies in it yet."""
    block = found.at
    if not isinstance(block, Block):
        return found
    if id(block) not in offers:
        offers[id(block)] = free.take(block.prefix, block.prefix.length)
    offer = offers[id(block)]
    if offer is not None:
        found.remedy += f"; free: {offer}"
        if found.kind == "fail" and free.unused(block.prefix):
            found.edits = (Put(block.path, str(offer)),)
    return found


#: More pairs than this say nothing new.
_MOST = 1000


def _clash(
    book: AddressBook, a: Block | PoolRange, b: Block | PoolRange, joined: set[str | None]
) -> Finding | None:
    if isinstance(a, Block) and isinstance(b, Block):
        return _blocks_clash(book, a, b, joined)
    if isinstance(a, PoolRange) and isinstance(b, PoolRange):
        later, earlier = (b, a) if a.pool.path <= b.pool.path else (a, b)
        says = (
            f"the {later.use} pool {later.text} shares addresses with the {earlier.use} pool {earlier.text}"
        )
        level: Level = "warning" if "reserved" in (a.use, b.use) else "error"
        return Finding(level, later, says,
                       related=[(earlier.path, "the other pool")], remedy="move or narrow one of them")  # fmt: skip
    block, pool = (a, b) if isinstance(a, Block) else (b, a)
    assert isinstance(block, Block)
    assert isinstance(pool, PoolRange)
    ours = any(block is subnet for subnet in _own(book, pool))
    if ours and not (pool.first <= block.prefix.network and block.prefix.last <= pool.last):
        return None  # inside it, or across its edge: `pools.outside` has that
    if ours and pool.within(block.prefix):
        return None
    if not ours and any(pool.within(subnet.prefix) for subnet in _own(book, pool)):
        return None  # the subnet around it overlaps that network as well, and says so
    what = "the subnet" if ours else "the outside network"
    says = f"the {pool.use} pool {pool.text} shares addresses with {what} {block.text}"
    return Finding("error", pool, says, related=[(block.path, what)],
                   remedy="choose another range")  # fmt: skip


def _own(book: AddressBook, pool: PoolRange) -> list[Block]:
    return [book.subnets[i] for i in pool.subnets]


def _blocks_clash(book: AddressBook, a: Block, b: Block, joined: set[str | None]) -> Finding | None:
    outside = [block for block in (a, b) if getattr(block.source, "id", None) is not None]
    if len(outside) == 2:
        return None  # neither is ours
    if not outside:
        later, earlier = (b, a) if a.path <= b.path else (a, b)
        says = f"subnet {later.text} shares addresses with subnet {earlier.text}"
        related = [(earlier.path, "the other subnet")]
        return Finding("error", later, says, found=later.text, path=later.path, related=related,
                       remedy="choose a prefix apart from it")  # fmt: skip
    theirs = outside[0]
    own = b if theirs is a else a
    name = getattr(theirs.source, "id", "")
    if name in joined and (own.prefix.network, own.prefix.length) == (
        theirs.prefix.network,
        theirs.prefix.length,
    ):
        says = (
            f"subnet {own.text} and {name} have one prefix: one network through the uplink, or two that clash"
        )
        return Review(own, says, path=own.path, related=[(theirs.path, "outside")],
                      remedy="if a router stands between them, choose another prefix")  # fmt: skip
    says = f"subnet {own.text} shares addresses with {theirs.text}, in use at {name}"
    return Finding("error", own, says, found=own.text, path=own.path, related=[(theirs.path, "outside")],
                   remedy="choose a prefix apart from it")  # fmt: skip


_OUT = '[[outside]]\nid = "office"\nprefix = "{}"\n'

cases(
    overlap,
    clean=[
        _LAN + _NET.format("10.20.1.0/24") + _DHCP + _POOL.format("services", "10.20.0.200", "10.20.0.209"),
        _LAN + _OUT.format("10.21.0.0/16"),
        _LAN + _POOL.format("containers", "10.42.0.0", "10.42.255.255"),
        _LAN + _POOL.format("services", "10.20.0.200", "10.20.1.9"),  # `pools.outside` has that one
    ],
    flagged=[
        Case(_LAN + _NET.format("10.20.0.128/25"), at="10.20.0.128/25", level="error", edits=True,
             mended=_LAN + _NET.format("10.20.1.0/25")),
        Case(_LAN + _NET.format("10.20.1.0/24") + _NET.format("10.20.0.0/24") + _NODE.format("n1", "10.20.0.11"),
             found="10.20.0.0/24", mended=_LAN + _NET.format("10.20.1.0/24") + _NET.format("10.20.3.0/24")
             + _NODE.format("n1", "10.20.3.11")),
        Case(_NET.format("10.20.0.0/25") + _NET.format("10.20.0.128/25") + _LAN, edits=True,
             mended=_NET.format("10.20.0.0/25") + _NET.format("10.20.0.128/25") + _NET.format("10.20.1.0/24")),
        Case(_NET.format("fd5a:91c3:7e02::/64") + _NET.format("fd5a:91c3:7e02::/64"), edits=True,
             mended=_NET.format("fd5a:91c3:7e02::/64") + _NET.format("fd5a:91c3:7e02:1::/64")),
        Case(_LAN + _OUT.format("10.0.0.0/8"), at="office", level="error"),
        Case(_SWITCH + _LAN + _UPLINK.format("office") + _OUT.format("10.20.0.0/24"), kind="review"),
        Case(_SWITCH + _LAN + _UPLINK.format("the hall") + _OUT.format("10.20.0.0/24"), level="error"),
        Case(_LAN + _DHCP + _POOL.format("services", "10.20.0.199", "10.20.0.210"), at="services", level="error",
             mended=_LAN + _DHCP + _POOL.format("services", "10.20.0.200", "10.20.0.210")),
        Case(_LAN + _POOL.format("containers", "10.20.0.0", "10.20.255.255"), at="containers", level="error"),
        Case(_OUT.format("10.42.0.0/16") + _POOL.format("containers", "10.42.0.0", "10.42.255.255"), at="outside"),
    ],
)  # fmt: skip


@rule(level="note", over="plan")
def common_default(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A box with an uplink does not use a prefix that home routers or container software use out of the box.

    Plugged into such a network, or joined to it by a tunnel, the box has two networks of one name. Nothing is wrong
    until then.

    Source: a list of defaults in public code; common practice.
    """
    if not plan.table("uplink"):
        return
    for block in address_book.subnets:
        met = defaults_met(block.prefix)
        if met:
            users = " and ".join(dict.fromkeys(row.used_by for row in met))
            shown = ", ".join(str(row.prefix) for row in met[:3]) + (" ..." if len(met) > 3 else "")
            says = f"subnet {block.text} is what {users} use out of the box ({shown})"
            yield Finding("note", block, says, found=block.text, path=block.path,
                          remedy=f"choose a less common prefix, {_PRIVATE[block.prefix.family]}")  # fmt: skip


cases(
    common_default,
    clean=[_SWITCH + _LAN + _UPLINK.format("the hall"), _NET.format("192.168.1.0/24")],
    flagged=[
        Case(_SWITCH + _NET.format("192.168.1.0/24") + _UPLINK.format("the hall"), found="192.168.1.0/24",
             mended=_SWITCH + _LAN + _UPLINK.format("the hall")),
        Case(_SWITCH + _NET.format("10.42.7.0/24") + _UPLINK.format("the hall"), at="container"),
    ],
)  # fmt: skip

_PRIVATE = {4: "such as 10.20.0.0/24", 6: "a /64 of a random prefix in fd00::/8"}


@rule(level="error", over="plan")
def special_range(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A subnet lies in private space, or in public space that is really yours.

    Ranges with a meaning of their own work on the bench and fail at the first router or strict program. Public space
    of others makes their machines unreachable: 172.16.0.0/12 ends at 172.31.255.255.

    Source: RFC 1918, RFC 4193, RFC 6890 and the special-purpose registries.
    """
    for block in address_book.subnets:
        row = special(block.prefix.family, block.prefix.network)
        if row is None or row.prefix.length > block.prefix.length:
            if block.prefix.family == 4 and row is None:
                says = f"subnet {block.text} is public address space"
                yield Finding("note", block, says, found=block.text, path=block.path,
                              remedy="keep it if it is assigned to you; else choose private space")  # fmt: skip
        elif row.kind in UNWISE or row.kind in IMPOSSIBLE:
            level: Level = "warning" if row.kind in UNWISE else "error"
            why = UNWISE.get(row.kind) or IMPOSSIBLE[row.kind]
            says = f"subnet {block.text} lies in {row.prefix}, {row.name}: {why}"
            yield Finding(
                level,
                block,
                says,
                found=block.text,
                remedy=f"choose private space, {_PRIVATE[block.prefix.family]}",
                basis=row.rfc,
                path=block.path,
            )


cases(
    special_range,
    clean=[
        _LAN,
        _NET.format("172.31.0.0/16"),
        _NET.format("fd12:3456:789a::/64"),
        _NET.format("2a00:1450::/64"),
    ],
    flagged=[
        Case(_NET.format("192.0.2.0/24"), found="192.0.2.0/24", level="warning", mended=_LAN),
        Case(_NET.format("100.64.0.0/24"), at="providers", level="warning"),
        Case(_NET.format("198.19.0.0/24"), at="measuring", level="warning"),
        Case(_NET.format("3fff::/64"), at="documents", level="warning"),
        Case(_NET.format("240.0.0.0/24"), level="error"),
        Case(_NET.format("172.32.0.0/16"), at="public", level="note"),
    ],
)


@rule(level="error", over="plan")
def host_bits(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """The prefix of a subnet or of an outside network has no bits set behind its length.

    Either the length or the address is a slip, and the two readings are different networks.

    Source: RFC 4632 section 3.1.
    """
    for block in (*address_book.subnets, *address_book.networks):
        prefix = block.prefix
        if prefix.host_bits_set:
            wide = Prefix(prefix.family, prefix.network, prefix.length)
            low_zeros = (prefix.base & -prefix.base).bit_length() - 1
            narrow = Prefix(prefix.family, prefix.base, WIDTH[prefix.family] - low_zeros)
            says = f"{block.text} has bits set behind its length: it is an address in {wide}, or the network {narrow}"
            yield Finding("error", block, says, found=block.text, allowed=f"{wide} or {narrow}",
                          path=block.path, remedy=f'write "{wide}" or "{narrow}"')  # fmt: skip


cases(
    host_bits,
    clean=[_LAN, _NET.format("10.20.0.16/28"), _NET.format("0.0.0.0/0"), _OUT.format("10.20.1.0/24")],
    flagged=[
        Case(
            _NET.format("10.20.1.0/16"),
            at="10.20.0.0/16, or the network 10.20.1.0/24",
            mended=_NET.format("10.20.1.0/24"),
        ),
        Case(_NET.format("10.20.0.16/27"), at="10.20.0.0/27, or the network 10.20.0.16/28"),
        Case(_OUT.format("10.20.1.0/16"), found="10.20.1.0/16"),
        Case(_NET.format("fd00:0:0:1::/48"), at="fd00::/48, or the network fd00:0:0:1::/64"),
    ],
)
