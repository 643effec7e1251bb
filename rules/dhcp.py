"""DHCP: one server in each network, in reach of those who ask, with a pool and a fixed address of its own."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Open, Review, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Outside
from coldcheck.workings.addresses import AddressBook
from coldcheck.workings.dhcp_servers import DhcpServer, PoolHome
from coldcheck.workings.hosts import unaddressed
from coldcheck.workings.placing import Placement
from coldcheck.workings.segments import Segments
from coldcheck.workings.vlan_words import vlans_text
from coldcheck.workings.vlans import VlanEnds

_SW = '[[switch]]\nid = "sw"\nports = 8\n'
_NET = '[[subnet]]\nprefix = "{}"\n'
_LAN = _SW + _NET.format("10.0.0.0/24")
_POOL = '[[pool]]\nfor = "dhcp"\nrange = "{} .. {}"\n'
_LOW, _HIGH = _POOL.format("10.0.0.100", "10.0.0.149"), _POOL.format("10.0.0.150", "10.0.0.199")
_NODE = '[[node]]\nid = "{}"\naddress = "{}"\nport = "{}"\n'
_SERVES = 'serves = "dhcp"\n'


@rule(level="error", over="plan")
def two_servers(
    plan: Plan,
    address_book: AddressBook,
    vlan_ends: VlanEnds,
    placement: Placement,
    dhcp_servers: list[DhcpServer],
) -> Iterator[Finding]:
    """One server hands out addresses in one network.

    Who asks takes the first answer: of two servers that know nothing of each other, now one gives an address and now
    the other, with a gateway and a name server of its own mind. Two that share a subnet between them, each with a pool
    of its own, are a known practice, and a person must say that it is meant.

    Source: RFC 2131 section 3.1 (a client collects offers and chooses one); split scopes: common practice.
    """
    met: dict[tuple[str, ...], tuple[list[DhcpServer], set[int], int]] = {}
    for family in (4, 6):
        answering: dict[int, list[DhcpServer]] = {}
        for server in dhcp_servers:
            for number in server.serves(family):
                answering.setdefault(number, []).append(server)
        for number, servers in answering.items():
            servers.sort(key=lambda server: not server.pools)  # one without a pool is rather the slip
            # Where VLANs run together, `segments.leak` has the cause.
            if (
                len(servers) > 1
                and len(vlan_ends.mended.vlans[number]) < 2
                and number not in vlan_ends.muddled
            ):
                names = tuple(server.id for server in servers)
                met.setdefault(names, (servers, set(), family))[1].add(number)
    for servers, numbers, family in met.values():
        if any(home.subnet in placement.torn for server in servers for home in server.pools):
            continue  # `segments.parted` has the cause
        found = _rivals(address_book, vlan_ends.mended, servers, numbers, family)
        if found is not None:
            yield found


def _rivals(
    book: AddressBook, lan: Segments, servers: list[DhcpServer], numbers: set[int], family: int
) -> Finding | None:
    names = listed(server.id for server in servers)
    vlans = sorted({vlan for number in numbers for vlan in lan.vlans[number]})
    where = f"VLAN {vlans_text(vlans)}" if vlans else "one network"
    homes = [
        home for s in servers for home in s.pools if home.pool.family == family and home.segments & numbers
    ]
    said = {getattr(book.subnets[home.subnet].source, "vlan", None) for home in homes}
    if len(said - {None}) > len(numbers):
        return None  # subnets of several VLANs in one network: `segments.shared` has the cause
    last = servers[-1]
    split = (
        all(any(home in homes for home in s.pools) for s in servers) and len({h.subnet for h in homes}) == 1
    )
    related = [(_served(server), f"{server.id} hands out here") for server in servers[:-1]]
    if split:
        says = f"{names} both hand out addresses of {book.subnets[homes[0].subnet].text}, each from a pool of its own"
        return Review(last.at, says, path=_served(last), subjects=(last.id,), related=related,
                      remedy="if it is meant, accept it by a waiver; else let one of them do it")  # fmt: skip
    return Finding(
        "error",
        last.at,
        f"{len(servers)} servers hand out addresses in {where}: {names}",
        found=str(len(servers)),
        allowed="1",
        remedy="let one of them do it; or give each a pool of its own, in one subnet, and say `by`",
        path=_served(last),
        subjects=(last.id,),
        related=related,
    )


def _served(server: DhcpServer) -> Path:
    """Return where it is said that a server hands out addresses."""
    if server.says:
        return (*server.at.path, "serves")
    return (*server.pools[0].pool.pool.path, "by")


_TWO = _LAN + _NODE.format("a", "10.0.0.2", "sw.1") + "{}" + _NODE.format("b", "10.0.0.3", "sw.2") + "{}"
_APART = (
    '[[switch]]\nid = "sw"\nvlans = true\n[[switch.port]]\nid = "1"\nvlan = 10\n[[switch.port]]\nid = "2"\n'
)
_APART += (
    "vlan = {}\n" + _NODE.format("a", "10.0.0.2", "sw.1") + _SERVES + _NODE.format("b", "10.1.0.3", "sw.2")
)
_APART += _SERVES + _NET.format("10.0.0.0/24") + _NET.format("10.1.0.0/24")

_JOINT = '[[switch]]\nid = "u"\nvlans = false\nports = 4\n[[switch]]\nid = "x"\nvlans = true\n'
_JOINT += '[[switch.port]]\nid = "1"\n'
_JOINT += (
    'vlan = 10\nto = "u.1"\n[[switch.port]]\nid = "2"\nvlan = 20\nto = "u.2"\n[[switch.port]]\nid = "8"\n'
)
_JOINT += 'tagged = [10, 20]\nto = "sw.8"\n'
_APART = _APART.replace('id = "2"\n', 'id = "8"\ntagged = [10, 20]\n[[switch.port]]\nid = "2"\n')
_TAGS = 'port = "sw.2"\ntagged = 10'  # it listens in both, and has its address in one

cases(
    two_servers,
    clean=[
        _TWO.format(_SERVES, ""),
        _APART.format(20),
        _TWO.format(_SERVES, "") + _LOW + 'by = "a"\n',
        _TWO.format("", "") + _LOW + 'by = "a"\n' + _HIGH + 'by = "a"\n',
        _APART.format(20) + _JOINT,  # `segments.leak` has that
        _APART.format("20\ntagged = 10").replace('"10.1.0.3"', '["10.1.0.3"]').replace('port = "sw.2"', _TAGS),
    ],
    flagged=[
        Case(_TWO.format(_SERVES, _SERVES), at="a and b", found="2", level="error", mended=_TWO.format(_SERVES, "")),
        Case(_APART.format(10), at="VLAN 10", found="2", level="error", mended=_APART.format(20)),
        Case(_TWO.format("", _SERVES) + _LOW + 'by = "a"\n', at="b", level="error"),
        Case(_TWO.format("", "") + _LOW + 'by = "a"\n' + _HIGH + 'by = "b"\n', at="b", kind="review"),
        Case(_LAN + _NODE.format("a", "10.0.0.2", "sw.1") + _SERVES + '[[outside]]\nid = "router"\n' + _SERVES
             + '[[uplink]]\nfrom = "sw.8"\nto = "router"\n', at="router", found="2", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def out_of_reach(
    plan: Plan,
    address_book: AddressBook,
    vlan_ends: VlanEnds,
    placement: Placement,
    dhcp_servers: list[DhcpServer],
) -> Iterator[Finding]:
    """What hands out a pool is in the network of the pool.

    Who has no address yet calls by broadcast, which no router passes on unless it relays such calls, and a plan has no
    word for that. A server with an address in that subnet is judged with all others of the subnet.

    Source: RFC 2131 section 4.1; RFC 1542 for relays (from memory).
    """
    has = {(host.thing.id, host.subnet) for host in (*address_book.hosts, *address_book.outside)}
    four = {host.thing.id for host in (*address_book.hosts, *address_book.outside) if host.family == 4}
    for server in dhcp_servers:
        away: list[PoolHome] = []
        for home in server.pools:
            told = (server.id, home.subnet) in has or home.subnet in placement.unsure
            if home.pool.family == 4:  # `pools.by_a_stranger` holds it against its addresses
                told = told or server.id in four or not isinstance(server.at, Outside)
            if not told and home.segments and server.doors is not None and not home.segments & server.doors:
                away.append(home)
        if away and not _excused(plan, server, vlan_ends):
            yield _far_off(address_book, vlan_ends.mended, server, away)


def _excused(plan: Plan, server: DhcpServer, ends: VlanEnds) -> bool:
    """Say whether a cable of a server is told of already, or its network is in doubt."""
    if server.doors and not ends.muddled.isdisjoint(server.doors):
        return True
    if isinstance(server.at, Outside):
        lines = (line for line in plan.links if line.b is None and line.outside == server.id)
        return any(id(line.a) in ends.excused for line in lines)
    return any(id(point) in ends.excused for point in plan.ports.get(server.id, ()))


def _far_off(book: AddressBook, lan: Segments, server: DhcpServer, away: list[PoolHome]) -> Finding:
    wanted = sorted({vlan for home in away for number in home.segments for vlan in lan.vlans[number]})
    own = sorted({vlan for number in server.doors or () for vlan in lan.vlans[number]})
    subnets = listed(dict.fromkeys(book.subnets[home.subnet].text for home in away))
    pool = away[0].pool
    return Finding(
        "error",
        pool,
        f"{server.id} hands out addresses of {subnets} and is not in that network",
        found=f"VLAN {vlans_text(own)}" if own else "another network",
        allowed=f"VLAN {vlans_text(wanted)}" if wanted else subnets,
        remedy=f"carry that VLAN to {server.id}; or, if a router relays such calls, accept it by a waiver",
        path=(*pool.pool.path, "by"),
        subjects=(pool.name,),
        related=[(server.at.path, server.id)],
    )


_FAR = '[[switch]]\nid = "sw"\nvlans = true\n[[switch.port]]\nid = "1 .. 2"\nvlan = 10\n[[switch.port]]\nid = "8"\n{}\n'
_FAR += (
    _NODE.format("n", "10.0.0.2", "sw.1")
    + '[[outside]]\nid = "router"\n[[uplink]]\nfrom = "sw.8"\nto = "router"\n'
)
_FAR += _NET.format("10.0.0.0/24") + "vlan = 10\n" + _LOW + 'by = "router"\n'
_ONE = '[[switch]]\nid = "sw"\nvlans = true\n[[switch.port]]\nid = "1"\nvlan = 10\n'
_ONE += '[[switch.port]]\nid = "{}"\nvlan = {}\n'
_SIX = _ONE.format(2, "{}")
_SIX += (
    _NODE.format("n", "fd00:1::2", "sw.1")
    + '[[node]]\nid = "s"\nport = "sw.2"\n'
    + _NET.format("fd00:1::/64")
)
_SIX += _POOL.format("fd00:1::100", "fd00:1::1ff") + 'by = "s"\n'

cases(
    out_of_reach,
    clean=[
        _FAR.format("vlan = 10"),
        _FAR.format("tagged = [10, 20]"),
        _FAR.format("tagged = [20, 4095]"),  # `vlans.bad_id` has that
        _SIX.format(10),
        _FAR.format("vlan = 20").replace('to = "router"', 'to = "the hall"'),
        _FAR.format("vlan = 20").replace(
            'to = "router"', 'to = "router"\nvlan = 10'
        ),  # `vlans.ends` has that
        _SIX.format(20).replace('id = "s"', 'id = "s"\naddress = "fd00:1::9"'),  # and `segments.parted` this
    ],
    flagged=[
        Case(_FAR.format("vlan = 20").replace('address = "10.0.0.2"\n', ""), at="router", found="VLAN 20"),
        Case(
            _FAR.format("vlan = 20"),
            at="router",
            found="VLAN 20",
            level="error",
            mended=_FAR.format("vlan = 10"),
        ),
        Case(_SIX.format(20), at="s", found="VLAN 20", level="error", mended=_SIX.format(10)),
    ],
)


@rule(level="warning", over="plan")
def no_server(
    plan: Plan, address_book: AddressBook, dhcp_servers: list[DhcpServer], dhcp_pools: list[PoolHome]
) -> Iterator[Finding]:
    """A DHCP pool is handed out by somebody, where the plan says of others who does it.

    Judged where some pool says `by`, or something `serves`: then a pool of which nothing is said may be one that was
    forgotten.
    """
    if not dhcp_servers:
        return
    left = []
    for home in dhcp_pools:
        if (
            home.pool.pool.by is None
            and home.segments
            and not any(_may(server, home) for server in dhcp_servers)
        ):
            left.append(home)
    for home in left:
        subnet = _subnet_of(address_book, home)
        says = f"nobody is said to hand out the dhcp pool {home.pool.text} of {subnet}"
        yield Open("warning", home.pool, says, ["by"], path=home.pool.path,
                   remedy="say `by` of the pool, with the name of what hands it out")  # fmt: skip


def _subnet_of(book: AddressBook, home: PoolHome) -> str:
    """Return the subnet of a pool as it is written."""
    return book.subnets[home.subnet].text


def _may(server: DhcpServer, home: PoolHome) -> bool:
    """Say whether a server may be the one of a pool: it stands there, or the plan does not say where it stands."""
    if not server.says:
        return False
    return server.doors is None or bool(server.doors & home.segments)


_OTHER = _ONE.format(2, 20)
_OTHER += _NODE.format("a", "10.0.0.2", "sw.1") + _SERVES + _NODE.format("b", "10.1.0.3", "sw.2")
_OTHER += _NET.format("10.0.0.0/24") + "vlan = 10\n" + _NET.format("10.1.0.0/24") + "vlan = 20\n" + _LOW
_OTHER += _POOL.format("10.1.0.100", "10.1.0.199") + "{}"

cases(
    no_server,
    clean=[
        _LAN + _LOW,
        _TWO.format(_SERVES, "") + _LOW,
        _OTHER.format('by = "b"\n'),
    ],
    flagged=[Case(_OTHER.format(""), at="10.1.0.0/24", kind="open", mended=_OTHER.format('by = "b"\n'))],
)


@rule(level="warning", over="plan")
def no_pool(plan: Plan, address_book: AddressBook, dhcp_servers: list[DhcpServer]) -> Iterator[Finding]:
    """What hands out addresses has a pool to hand out from.

    Without one in the plan nobody sees whether a fixed address lies inside. Of something outside, which is not ours,
    that is open.
    """
    if address_book.bad_pools or any(pool.use == "dhcp" for pool in address_book.pools):
        return
    for server in dhcp_servers:
        says = f"dhcp served by {server.id} without a pool in the plan"
        remedy = 'add [[pool]] with for = "dhcp", its range, and `by`'
        if isinstance(server.at, Outside):
            yield Open("warning", server.at, says, ["pool"], remedy=remedy, place="serves")
        else:
            yield Finding("warning", server.at, says, found="0", allowed="1", remedy=remedy, place="serves")


cases(
    no_pool,
    clean=[_TWO.format(_SERVES, "") + _LOW, _TWO.format("", "")],
    flagged=[
        Case(_TWO.format(_SERVES, ""), at="a", level="warning", mended=_TWO.format(_SERVES, "") + _LOW),
        Case(_LAN + '[[outside]]\nid = "router"\n' + _SERVES, at="router", kind="open"),
    ],
)


@rule(level="error", over="plan")
def no_fixed_address(plan: Plan, dhcp_servers: list[DhcpServer]) -> Iterator[Finding]:
    """What hands out addresses has a fixed one itself.

    It cannot ask itself for one, and those who have a lease ask again at the address that gave it.

    Source: RFC 2131 section 4.4.5 (a lease is renewed at the server that gave it).
    """
    for server in dhcp_servers:
        thing = server.at
        if isinstance(thing, Outside) or not server.says:
            continue
        if thing.address or any(port.address for port in thing.port_):
            continue
        if any(home.pool.family == 4 for home in server.pools):
            continue  # `pools.by_a_stranger` has that
        yield Finding(
            "error",
            thing,
            f"dhcp served by {thing.id} without a fixed address",
            found="no address",
            remedy="give it an address of the subnet, outside the pool",
            place="serves",
        )


_BARE = _LAN + '[[node]]\nid = "s"\nport = "sw.1"\nserves = "dhcp"\n{}' + _LOW

cases(
    no_fixed_address,
    clean=[_BARE.format('address = "10.0.0.2"\n'), _LAN + _LOW, _BARE.format("") + 'by = "s"\n'],
    flagged=[Case(_BARE.format(""), at="s", level="error", mended=_BARE.format('address = "10.0.0.2"\n'))],
)


@rule(level="warning", over="plan")
def unserved(
    plan: Plan,
    segments: Segments,
    address_book: AddressBook,
    vlan_ends: VlanEnds,
    placement: Placement,
    dhcp_pools: list[PoolHome],
    dhcp_servers: list[DhcpServer],
) -> Iterator[Finding]:
    """What waits for an address is in a VLAN in which addresses are handed out.

    Judged where the plan has DHCP pools and all of them belong to other VLANs; an IPv6 /64 there is enough, since
    machines choose for themselves.

    Source: RFC 2131 section 4.1 (calls are broadcast); RFC 4862 for addresses that machines choose.
    """
    lan = vlan_ends.mended
    served = {number for home in dhcp_pools for number in home.segments}
    if not served or placement.torn or any(not home.segments for home in dhcp_pools) or not lan.keeping:
        return
    served |= {number for server in dhcp_servers for number in server.serves(4)}
    served |= placement.doubtful  # `segments.wrong_vlan` has the port
    for place, home in placement.homes.items():
        prefix = address_book.subnets[place].prefix
        if prefix.family == 6 and prefix.length == 64:
            served.add(home)
    # A served VLAN may be in two pieces: then something else is told of.
    known = {vlan for number in served for vlan in lan.vlans[number]}
    groups: dict[tuple[Path, int], list[Any]] = {}
    for thing in unaddressed(plan, ("node", "storage")):
        number = _alone_in(plan, thing, lan, vlan_ends)
        if number is not None and lan.vlans[number][0] not in known and number not in vlan_ends.muddled:
            groups.setdefault((thing.path, number), []).append(thing)
    for (_, number), things in groups.items():
        names = tuple(thing.id for thing in things)
        vlans = sorted({vlan for home in dhcp_pools for n in home.segments for vlan in lan.vlans[n]})
        yield Finding(
            "warning",
            things[0],
            f"{listed(names)} without an address in VLAN {vlans_text(lan.vlans[number])}, where none are handed out",
            found=vlans_text(lan.vlans[number]),
            allowed=vlans_text(vlans),
            remedy="plug into a port of a VLAN with a pool, give a fixed address, or add a pool",
            place=("port",),
            subjects=names,
        )


def _alone_in(plan: Plan, thing: Any, lan: Segments, ends: VlanEnds) -> int | None:
    """Return the one segment with VLANs in which a thing listens; None where it tags, or where that is told already."""
    points = [point for point in plan.ports.get(thing.id, ()) if point.links]
    if len(points) != 1 or points[0].tagged or id(points[0]) in ends.excused or thing.id in lan.clear:
        return None
    port = points[0].links[0].other(points[0])
    if port is None or (port.vlan is None and port.tagged):  # `vlans.untold` has the latter
        return None
    number = lan.at(points[0])
    return number if number is not None and len(lan.vlans[number]) == 1 else None


_WAIT = _ONE.format("2 .. 4", "{}")
_WAIT += _NODE.format("a", "10.0.0.2", "sw.1") + '[[node]]\nid = "w1 .. w3"\nport = "sw.2 .. sw.4"\n'
_WAIT += _NET.format("10.0.0.0/24") + "vlan = 10\n" + _LOW

_OWN_CHOICE = '[[node]]\nid = "b"\naddress = "fd00:1::2"\nport = "s2.1"\n' + _NET.format("fd00:1::/64")
_OWN_CHOICE += '[[switch]]\nid = "s2"\nvlans = true\n[[switch.port]]\nid = "1 .. 2"\nvlan = 20\n'
_OWN_CHOICE += '[[node]]\nid = "w4"\nport = "s2.2"\n'

cases(
    unserved,
    clean=[
        _WAIT.format(10),
        _WAIT.format(4095),
        # machines choose an address for themselves there
        _WAIT.format(20) + _OWN_CHOICE,
    ],
    flagged=[Case(_WAIT.format(20), at="w1 .. w3", found="20", level="warning", mended=_WAIT.format(10))],
)
