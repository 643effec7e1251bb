"""Subnets: apart from each other and from networks outside, with a gateway that can be one, in space to be had."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from coldcheck import Case, Finding, Level, Put, Review, cases, rule
from coldcheck.lan.address import Prefix
from coldcheck.lan.prefixes import overlaps
from coldcheck.lan.special import IMPOSSIBLE, UNWISE, defaults_met, is_link_local, special
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import LinkLine, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, Block, Host, PoolRange, Stray, not_a_host
from coldcheck.workings.gateways import ANYCAST, Routers, sound_gateway
from coldcheck.workings.hosts import names_of
from coldcheck.workings.room import FreePrefixes, Layout, meant_network, usual_length

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
def gateway(
    plan: Plan,
    address_book: AddressBook,
    strays: list[Stray],
    routers: Routers,
    unused_uplinks: list[LinkLine],
) -> Iterator[Finding]:
    """A gateway has an address of its subnet, one a machine can have, and no thing but a router has it.

    A machine reaches its gateway as a neighbour, so the gateway must be one. A thing of the box that has this address
    is a router where it leads on: by an uplink of its own, by a cable to the modem that has it, or into a second
    subnet. Anything else that has it is a slip, and cuts all others off.

    Source: RFC 1122 section 3.3.1.1 (a gateway is on a connected network); RFC 4291 section 2.6.1 for the anycast
    address of IPv6 routers, which is no address of any one of them; RFC 4861 section 4.2 for addresses that hold on the
    link alone, which are those that routers announce (from memory).
    """
    book = address_book
    wanted: dict[tuple[int, int], list[Host]] = {}
    told = {id(host) for stray in strays for host in stray.hosts}
    prefixes = Counter(
        (block.prefix.family, block.prefix.network, block.prefix.length) for block in book.subnets
    )
    for host in book.gateways:
        if host.subnet is None or id(host) in told:
            continue  # of the latter `addresses.no_subnet` says that the prefix is the slip
        block = book.subnets[host.subnet]
        if prefixes[block.prefix.family, block.prefix.network, block.prefix.length] > 1:
            continue  # written twice: `subnets.overlap` has that
        if host.family == block.prefix.family == 6 and is_link_local(6, host.value):
            continue  # a neighbour of everybody on its link
        if not block.prefix.contains(host.family, host.value):
            says = f"the gateway {host.text} lies outside its subnet {block.text}"
            yield Finding("error", block, says, found=host.text, allowed=block.text, path=host.path,
                          remedy="correct one of the two")  # fmt: skip
        elif why := not_a_host(book, host):
            here = routers.here.get(host.subnet, [])
            if all(other.value != host.value for other in here):  # else a router is known by it
                yield _no_gateway(here, block, host, why)
        else:
            wanted.setdefault((host.family, host.value), []).append(host)
    for host in book.defaults:
        wanted.setdefault((host.family, host.value), []).append(host)
    if wanted:
        yield from _not_routers(plan, book, wanted, routers, bool(unused_uplinks))


def _no_gateway(here: list[Host], block: Block, gate: Host, why: str) -> Finding:
    words, edits = _instead(here, [gate])
    level: Level = "warning" if ANYCAST in why and not here else "error"
    says = f"the gateway of {block.text} cannot have {gate.text}: it {why}"
    return Finding(level, block, says, found=gate.text, path=gate.path, edits=edits,
                   remedy=words or "correct the address")  # fmt: skip


def _instead(right: list[Host], gates: list[Host]) -> tuple[str, tuple[Edit, ...]]:
    """Return what gateways should read instead, in words and as edits; none where several may be meant."""
    texts = list(dict.fromkeys(host.text for host in right))
    if len(texts) != 1:
        return (f"write one of {listed(texts)}" if texts else ""), ()
    edits = tuple(Put(path, texts[0]) for path in dict.fromkeys(gate.path for gate in gates))
    return f'write gateway = "{texts[0]}", the address of {listed(names_of(right))}', edits


def _not_routers(
    plan: Plan, book: AddressBook, wanted: dict[tuple[int, int], list[Host]], routers: Routers, unused: bool
) -> Iterator[Finding]:
    outside = {(host.family, host.value) for host in book.outside}
    counts = Counter(key for host in book.hosts if (key := (host.family, host.value)) in wanted)
    stated = {host.subnet: host for host in book.gateways if sound_gateway(book, host)}
    stuck: dict[str, list[tuple[Host, Host]]] = {}
    for host in book.hosts:
        gates = wanted.get((host.family, host.value))
        if gates is None or (host.family, host.value) in outside or counts[host.family, host.value] > 1:
            continue  # `addresses.duplicate` has the others
        gates = [gate for gate in gates if gate.thing is not host.thing]  # `gateways.stated` has that
        if not gates or host.thing.id in routers.leading or host.subnet is None:
            continue
        right = [other for other in routers.here.get(host.subnet, []) if other.thing is not host.thing]
        if not right and gates[0].role == "default" and host.subnet in stated:
            right = [stated[host.subnet]]  # what the others send to
        if right:
            yield _taken(host, gates, right)
        elif not (unused and any(not port.links for port in plan.ports.get(host.thing.id, ()))):
            stuck.setdefault(host.thing.id, []).append((host, gates[0]))
    for found in stuck.values():  # where a cable to its modem is missing, `topology.to_nobody` has that
        yield _leads_nowhere(found)


def _taken(host: Host, gates: list[Host], right: list[Host]) -> Finding:
    """Return a finding at the gateways, where a thing that is no router has what they are, and the router is known."""
    words, edits = _instead(right, gates)
    whose = listed(dict.fromkeys(g.thing.prefix if g.role == "gateway" else g.thing.id for g in gates))
    known = listed(dict.fromkeys(other.text for other in right))
    return Finding(
        "error",
        gates[0].thing,
        f"the gateway of {whose} is {host.text}, the address of {host.name}, not of a router; "
        f"the router there: {listed(names_of(right))}, {known}"
        if right[0].role != "gateway"
        else f"the gateway of {whose} is {host.text}, the address of {host.name}, not of a router; "
        f"its subnet has the gateway {known}",
        found=host.text,
        allowed=known,
        remedy=words,
        edits=edits,
        path=gates[0].path,
        subjects=names_of(gates),
        related=[
            (host.path, f"{host.name} has it"),
            *((gate.path, "the same gateway") for gate in gates[1:8]),
        ],
    )


def _leads_nowhere(found: list[tuple[Host, Host]]) -> Finding:
    """Return one finding for all gateways that one thing has and does not lead on from."""
    first = found[0][0]
    shown = listed(host.text for host, _ in found)
    gates = [gate for _, gate in found]
    whose = listed(
        dict.fromkeys(g.name if g.role == "gateway" else f"the gateway of {g.thing.id}" for g in gates)
    )
    return Finding(
        "error",
        first.thing,
        f"{first.name} has {shown}, {whose}, but leads nowhere",
        found=shown,
        remedy="give it another address; a router has an [[uplink]], or an address in a second subnet",
        path=first.path,
        related=[(gate.path, "the gateway") for gate in gates],
    )


_ROUTER = _GATE.format("10.20.0.1") + _SWITCH
_ROUTER += '[[appliance]]\nid = "router"\naddress = "10.20.0.1"\nport = "sw.1"\n'

_EDGE = _UPLINK.format("router") + '[[outside]]\nid = "router"\naddress = "{}"\n'
_HOME = _GATE + _SWITCH
_V6 = _NET.format("fd00:1::/64") + 'gateway = "fd00:1::{}"\n' + _SWITCH

cases(
    gateway,
    clean=[
        _GATE.format("10.20.0.1"),
        _ROUTER + '[[uplink]]\nfrom = "router"\nto = "the hall"\n',
        # a router behind a modem: the modem has the uplink
        _ROUTER.replace('port = "sw.1"\n', '[[appliance.port]]\nid = "1"\nto = "sw.1"\n[[appliance.port]]\nid = "2"\n')
        + '[[appliance]]\nid = "modem"\n[[appliance.port]]\nid = "1"\nto = "router.2"\n[[appliance.port]]\nid = "2"\n'
        + '[[uplink]]\nfrom = "modem.2"\nto = "the hall"\n',
        # the cable between both is missing: `topology.to_nobody` has that
        _ROUTER.replace('port = "sw.1"\n', '[[appliance.port]]\nid = "1"\nto = "sw.1"\n[[appliance.port]]\nid = "2"\n')
        + '[[appliance]]\nid = "modem"\n[[uplink]]\nfrom = "modem"\nto = "the hall"\n',
        # a router between two subnets of the box
        _GATE.format("10.20.0.1") + _NET.format("10.20.1.0/24")
        + '[[node]]\nid = "r"\naddress = ["10.20.0.1", "10.20.1.1"]\n',
        _GATE.format("10.20.0.1")
        + _NODE.format("n1", "10.20.0.1")
        + '[[uplink]]\nfrom = "n1"\nto = "the hall"\n',
        _SWITCH + _NET.format("fd00:1::/64") + 'gateway = "fd00:1::"\n' + _EDGE.format("fd00:1::"),  # known by that
        # a switch with addresses in two subnets leads on, and one with the uplink may be a router with many ports
        _HOME.format("10.20.0.2") + 'address = ["10.20.0.2", "10.20.1.1"]\n' + _NET.format("10.20.1.0/24")
        + _EDGE.format("10.20.0.1"),
        _HOME.format("10.20.0.2") + 'address = "10.20.0.2"\n' + _UPLINK.format("the hall"),
        _NET.format("fd00:1::/64") + 'gateway = "fe80::1"\n',
        _LAN + _GATE.format("10.20.1.1"),  # `subnets.overlap` has that
        _MEANT.format("fd00:20::/64"),  # the slip is in the subnet
        _LAN + _NODE.format("n1", "10.20.0.5") + 'gateway = "10.20.0.5"\n',  # `gateways.stated` has that one
        # `addresses.duplicate` has that
        _GATE.format("10.20.0.1") + _NET.format("10.20.1.0/24") + _NODE.format("n1", "10.20.0.1")
        + '[[node]]\nid = "r"\naddress = ["10.20.0.1", "10.20.1.1"]\n',
    ],
    flagged=[
        Case(_GATE.format("10.20.1.1"), at="10.20.1.1", level="error", mended=_GATE.format("10.20.0.1")),
        Case(_LAN + 'gateway = "fe80::1"\n', at="outside its subnet", level="error"),
        Case(_NET.format("fd00:1::/64") + 'gateway = "fd00:2::1"\n', at="outside its subnet", level="error"),
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
        # no way out is one slip, in whatever families it has the gateway
        Case(_GATE.format("10.20.0.1") + _NET.format("fd00:1::/64") + 'gateway = "fd00:1::1"\n'
             + '[[node]]\nid = "r"\naddress = ["10.20.0.1", "fd00:1::1"]\n', at="10.20.0.1 and fd00:1::1",
             level="error"),
        # the anycast address of the routers is told as it is for a machine
        Case(_NET.format("fd00:1::/64") + 'gateway = "fd00:1::"\n', at="anycast", level="warning",
             mended=_NET.format("fd00:1::/64") + 'gateway = "fd00:1::1"\n'),
        Case(_V6.format("") + _EDGE.format("fd00:1::1"), at="anycast", level="error", edits=True,
             mended=_V6.format("1") + _EDGE.format("fd00:1::1")),
        # where a router outside has another address, the gateway is the slip
        Case(_HOME.format("10.20.0.2") + 'address = "10.20.0.2"\n' + _EDGE.format("10.20.0.1"), edits=True,
             at="the address of sw", level="error", mended=_HOME.format("10.20.0.1") + 'address = "10.20.0.2"\n'
             + _EDGE.format("10.20.0.1")),
        Case(_HOME.format("10.20.0.5") + _NODE.format("cam", "10.20.0.5") + _EDGE.format("10.20.0.1"), edits=True,
             at="router there: router, 10.20.0.1", mended=_HOME.format("10.20.0.1") + _NODE.format("cam", "10.20.0.5")
             + _EDGE.format("10.20.0.1")),
        Case(_HOME.format("10.20.0.1") + 'address = "10.20.0.2"\n' + _NODE.format("n1 .. n2", "10.20.0.5 .. 10.20.0.6")
             + 'gateway = "10.20.0.2"\n' + _EDGE.format("10.20.0.1"), at="n1", edits=True,
             mended=_HOME.format("10.20.0.1") + 'address = "10.20.0.2"\n'
             + _NODE.format("n1 .. n2", "10.20.0.5 .. 10.20.0.6") + 'gateway = "10.20.0.1"\n'
             + _EDGE.format("10.20.0.1")),
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
    pairs = overlaps([row for row in rows if row[2] >= row[1]], most=_MOST)
    wide = _too_wide(book, pairs)
    for block, right, others, typed in wide.values():
        yield _narrowed(block, right, others, typed)
    for first, second in pairs:
        if id(first) in wide or id(second) in wide or _misread(book, first, second):
            continue  # of host bits `subnets.host_bits` speaks
        found = _clash(book, first, second, joined)
        if found is not None:
            yield _moved(free, offers, found)


#: A subnet that would meet none of others, were its length the usual one; the prefix it would have then; the others;
#: whether addresses carry its length.
_Wide = tuple[Block, Prefix, list[Block], bool]


def _too_wide(
    book: AddressBook, pairs: list[tuple[Block | PoolRange, Block | PoolRange]]
) -> dict[int, _Wide]:
    """Return the subnets whose length is the slip, by identity."""
    places = {id(block): i for i, block in enumerate(book.subnets)} if pairs else {}
    layout: Layout | None = None
    found: dict[int, _Wide] = {}
    for a, b in pairs:
        if not (isinstance(a, Block) and isinstance(b, Block) and id(a) in places and id(b) in places):
            continue
        wide, other = (a, b) if a.prefix.length < b.prefix.length else (b, a)
        if wide.prefix.length == other.prefix.length or wide.prefix.host_bits_set:
            continue
        if id(wide) not in found:
            layout = layout or Layout(book)
            right, typed = layout.of_usual_length(places[id(wide)])
            if right is None:
                continue
            found[id(wide)] = (wide, right, [], typed)
        found[id(wide)][2].append(other)
    return found


def _narrowed(block: Block, right: Prefix, others: list[Block], typed: bool) -> Finding:
    says = f"subnet {block.text} shares addresses with subnet {listed(other.text for other in others)}"
    return Finding("error", block, says, found=block.text, allowed=f"/{right.length}", path=block.path,
                   remedy=f'write prefix = "{right}", or choose prefixes apart',
                   edits=() if typed else (Put(block.path, str(right)),),
                   related=[(other.path, "the other subnet") for other in others[:8]])  # fmt: skip


def _misread(book: AddressBook, a: Block | PoolRange, b: Block | PoolRange) -> bool:
    """Say whether two subnets meet by host bits alone: as networks of the usual length they would not."""
    if not (isinstance(a, Block) and isinstance(b, Block)):
        return False
    if not (a.prefix.host_bits_set or b.prefix.host_bits_set):
        return False
    x, y = (meant_network(book, c) if c.prefix.host_bits_set else c.prefix for c in (a, b))
    return x.last < y.network or y.last < x.network


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


_SLIP = _NET.format("10.20.1.0/24") + _NET + _NET.format("10.20.2.0/24") + _NODE.format("n1", "10.20.0.9")
_SLIP += _POOL.format("dhcp", "10.20.1.100", "10.20.1.199")
_SIX = _NET.format("fd00:0:0:10::/64") + _NET + 'gateway = "fd00:0:0:20::1"\n'
_OUT = '[[outside]]\nid = "office"\nprefix = "{}"\n'

cases(
    overlap,
    clean=[
        _LAN + _NET.format("10.20.1.0/24") + _DHCP + _POOL.format("services", "10.20.0.200", "10.20.0.209"),
        _LAN + _OUT.format("10.21.0.0/16"),
        _LAN + _POOL.format("containers", "10.42.0.0", "10.42.255.255"),
        _LAN + _POOL.format("services", "10.20.0.200", "10.20.1.9"),  # `pools.outside` has that one
        _NET.format("fd00:0:0:10::/64") + _NET.format("fd00:0:0:20::/46"),  # `subnets.host_bits` has that one
    ],
    flagged=[
        Case(_NET.format("fd00:0:0:20::/64") + _NET.format("fd00:0:0:20::/46"), at="fd00:0:0:20::/46"),
        # where the usual length cures it, that is the slip, however many others are inside
        Case(_SLIP.format("10.20.0.0/16"), at="10.20.1.0/24 and 10.20.2.0/24", found="10.20.0.0/16", edits=True,
             mended=_SLIP.format("10.20.0.0/24")),
        Case(_SLIP.format("10.20.0.0/16").replace("10.20.0.9", "10.20.0.9/16"), found="10.20.0.0/16",
             mended=_SLIP.format("10.20.0.0/24").replace("10.20.0.9", "10.20.0.9/24")),
        Case(_SIX.format("fd00:0:0::/48"), found="fd00:0:0::/48", edits=True, mended=_SIX.format("fd00:0:0:20::/64")),
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
            narrow = meant_network(address_book, block)
            usual = narrow.length == usual_length(address_book, block)  # else it may as well be an address
            first, second = (narrow, wide) if usual else (wide, narrow)
            says = f"{block.text} has bits set behind its length: it is an address in {wide}, or the network {narrow}"
            yield Finding("error", block, says, found=block.text, allowed=f"{wide} or {narrow}",
                          path=block.path, remedy=f'write "{first}" or "{second}"')  # fmt: skip


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
        # the length of its neighbours, however many zeros its base ends in
        Case(
            _NET.format("fd00:0:0:10::/64") + _NET.format("fd00:0:0:20::/46"),
            found="fd00:0:0:20::/46",
            at="or the network fd00:0:0:20::/64",
        ),
    ],
)
