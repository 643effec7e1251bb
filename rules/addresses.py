"""Addresses: each one readable, had once, in a subnet, one that a machine can have; hardware addresses as well."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Open, Put, cases, rule
from coldcheck.lan.address import WIDTH
from coldcheck.lan.special import UNWISE, is_link_local
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import (
    AddressBook,
    AddressOffers,
    Block,
    Host,
    Station,
    Stray,
    lost_hosts,
    registered,
    shared_on_purpose,
    span_text,
)
from coldcheck.workings.hosts import (
    by_key,
    cannot_choose,
    change_to,
    handed_out,
    names_of,
    places_of,
    same_subnet,
    shared_paths,
    spans_of,
    unaddressed,
)
from coldcheck.workings.placing import Placement

_NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\n'
_LAN = _NET.format("10.20.0.0/24")
_GATE = _LAN + 'gateway = "{}"\n'
_POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'
_BLOCK = '[[pool]]\nfor = "dhcp"\nrange = "{}"\n'
_DHCP = _POOL.format("dhcp", "10.20.0.100", "10.20.0.199")
_SWITCH = '[[switch]]\nid = "sw"\nports = 8\n'


@rule(level="error", over="plan")
def unreadable(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """Every address, prefix and range can be read in one way only.

    An octet with a leading zero is octal to some programs and decimal to others; a netmask that is no netmask
    puts half of the machines out of sight.

    Source: RFC 4291 section 2.2; RFC 6943 section 3.1.1 for leading zeros; RFC 4632 section 3.1 for the length.
    """
    for bad in address_book.bad:
        shown = bad.text if len(bad.text) <= 60 else bad.text[:57] + "..."
        says = f'"{shown}" of {bad.name} cannot be read: {bad.reason}'
        edits = (Put(bad.path, bad.right),) if bad.right else ()
        yield Finding(
            "error",
            bad.at,
            says,
            found=shown,
            remedy=bad.hint,
            edits=edits,
            path=bad.path,
            subjects=(bad.name,),
        )


cases(
    unreadable,
    clean=[
        _LAN + _NODE.format("n1", "10.20.0.11") + _DHCP,
        _NET.format("fd12:3456:789a::/64") + _NODE.format("n1", "fd12:3456:789a::11/64"),
        _LAN + _NODE.format("n1", "10.20.0.11/255.255.255.0"),
    ],
    flagged=[
        Case(_LAN + _NODE.format("n1", "10.20.0.011"), at="n1", found="10.20.0.011", level="error",
             mended=_LAN + _NODE.format("n1", "10.20.0.11")),
        Case(_LAN + _NODE.format("n1", "10.20.0.256"), at="n1"),
        Case(_LAN + _NODE.format("n1", "10.20.0.11/33"), at="n1"),
        Case(_NET.format("10.20.0.0"), at="a subnet"),
        Case(_LAN + _POOL.format("dhcp", "10.20.0.100", "fd00::1"), at="a pool"),
        Case(_GATE.format("10.20.1"), at="a subnet"),
        # what is meant by several addresses in one text
        Case(_LAN + _NODE.format("n1", "10.20.0.11, 10.20.0.12"), at="2 addresses in one text"),
        Case(_LAN + _NODE.format("n1", "10.20.0.11 - 10.20.0.12"), at="with a stroke"),
        Case(_NET.format("10.20.0.0 0.0.0.255"), at="an address and a mask", edits=True, mended=_LAN),
        Case(_LAN + _POOL.format("dhcp", "10.20.0.100", "10.20.0.199").replace(" .. ", "-"), edits=True,
             mended=_LAN + _DHCP),
        # the ends of a prefix that a pool is given, less what no machine can have
        Case(_LAN + _BLOCK.format("10.20.0.128/25"), at="a prefix, and a pool", edits=True,
             mended=_LAN + _POOL.format("dhcp", "10.20.0.128", "10.20.0.254")),
        Case(_LAN + _BLOCK.format("10.20.0.128/26"), found="10.20.0.128/26", edits=True,
             mended=_LAN + _POOL.format("dhcp", "10.20.0.128", "10.20.0.191")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def duplicate(plan: Plan, address_book: AddressBook, address_offers: AddressOffers) -> Iterator[Finding]:
    """No two things have one address.

    Both answer; which of them is reached changes by the minute, and each seems to work when tried alone.

    Source: RFC 5227 (address conflict detection, IPv4); RFC 4862 section 5.4 (IPv6).
    """
    groups: dict[tuple[Path, ...], list[list[Host]]] = {}
    for hosts in address_offers.clashes:
        if any(host.role == "thing" for host in hosts):
            groups.setdefault(tuple(dict.fromkeys(host.key for host in hosts)), []).append(hosts)
    for keys, clashes in groups.items():
        order = {key: i for i, key in enumerate(keys)}
        ordered = sorted((host for hosts in clashes for host in hosts), key=lambda host: order[host.key])
        movers = ordered if len(keys) == 1 else [host for hosts in clashes for host in hosts[1:]]
        names = names_of(ordered)
        plural = "es" if len(clashes) > 1 else ""
        shown = span_text([hosts[0] for hosts in clashes])
        words, edits = change_to(address_offers, movers, "give each an address of its own")
        yield Finding(
            "error",
            movers[0].thing,
            f"{listed(names)} share the address{plural} {shown}",
            found=shown,
            remedy=words,
            edits=edits,
            path=movers[0].path,
            subjects=names_of(movers),
            related=[(ordered[0].path, f"{ordered[0].name} has it too")] if len(keys) > 1 else [],
        )


cases(
    duplicate,
    clean=[
        _LAN + _NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13"),
        _GATE.format("10.20.0.1") + '[[outside]]\nid = "router"\naddress = "10.20.0.1"\n',
        _LAN + _NET.format("fd00:1::/64") + _NODE.format("n1", "10.20.0.11") + _NODE.format("n2", "fd00:1::a14:b"),
    ],
    flagged=[
        Case(_LAN + _NODE.format("n1", "10.20.0.11") + _NODE.format("n2", "10.20.0.11"), at="n2", found="10.20.0.11",
             mended=_LAN + _NODE.format("n1", "10.20.0.11") + _NODE.format("n2", "10.20.0.12")),
        Case(_LAN + _NODE.format("n1 .. n3", "10.20.0.11") + _NODE.format("m", "10.20.0.9"), at="n1 .. n3",
             mended=_LAN + _NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13") + _NODE.format("m", "10.20.0.9")),
        Case(  # the next address behind it is in a pool, so the first behind the pool is offered
            _LAN + _POOL.format("dhcp", "10.20.0.12", "10.20.0.50") + _NODE.format("a", "10.20.0.11")
            + _NODE.format("b", "10.20.0.11"), at="b",
            mended=_LAN + _POOL.format("dhcp", "10.20.0.12", "10.20.0.50") + _NODE.format("a", "10.20.0.11")
            + _NODE.format("b", "10.20.0.51")),
        Case(_LAN + _NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13")
             + _NODE.format("m1 .. m3", "10.20.0.12 .. 10.20.0.14"), found="10.20.0.12, 10.20.0.13"),
        Case(_LAN + _NODE.format("n1", "10.20.0.9") + '[[outside]]\nid = "router"\naddress = "10.20.0.9"\n', at="n1"),
        Case(_NET.format("fd00:1::/64") + _NODE.format("a", "fd00:1::1") + _NODE.format("b", "fd00:1:0::1"), at="b"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def no_subnet(plan: Plan, address_book: AddressBook, strays: list[Stray]) -> Iterator[Finding]:
    """An address without a prefix length lies in a subnet of the plan.

    Without one nobody knows its neighbours, and the address files cannot be written. Where it lies in two, the
    subnets overlap, which `subnets.overlap` says once. Where a subnet holds no address at all, and all that were
    meant for it lie together elsewhere, its prefix is the slip.
    """
    for stray in strays:
        yield _slip(stray)
    book = address_book
    bare = [host for host in book.hosts if host.subnet is None and host.length is None]
    if not bare or book.bad_subnets:
        return
    if not book.subnets:
        says = f"{bare[0].name} has the address {bare[0].text}, but no subnet is stated, so its prefix is not known"
        remedy = 'add [[subnet]] prefix = "10.20.0.0/24", with the prefix you use'
        yield Open("warning", bare[0].thing, says, ["subnet"], remedy=remedy, path=bare[0].path)
        return
    told = {id(host) for stray in strays for host in stray.hosts}
    prefixes = [(block.prefix.family, block.prefix.network, block.prefix.length) for block in book.subnets]
    if len(set(prefixes)) < len(prefixes):
        return  # one of two alike is meant for them: `subnets.overlap` has that
    subnets = ", ".join(block.text for block in book.subnets[:4]) + (" ..." if len(book.subnets) > 4 else "")
    for hosts in _near(book, [host for host in lost_hosts(book) if id(host) not in told]):
        shown = spans_of(hosts)
        many = len(hosts) > 1
        yield Finding(
            "error",
            hosts[0].thing,
            f"no subnet holds the address{'es' if many else ''} of {listed(names_of(hosts))}, {shown}",
            found=shown,
            allowed=subnets,
            remedy=f"correct {'them' if many else 'it'}, or add {'their' if many else 'its'} subnet",
            path=hosts[0].path,
            subjects=names_of(hosts),
            related=places_of(hosts),
        )


def _near(book: AddressBook, hosts: list[Host]) -> list[list[Host]]:
    """Return addresses grouped by the prefix they have in common, of the length of a subnet of the plan."""
    lengths = {4: 24, 6: 64} | {block.prefix.family: block.prefix.length for block in book.subnets}
    groups: dict[tuple[int, int], list[Host]] = {}
    for host in hosts:
        key = host.family, host.value >> (WIDTH[host.family] - lengths[host.family])
        groups.setdefault(key, []).append(host)
    return list(groups.values())


def _slip(stray: Stray) -> Finding:
    block, hosts, right = stray.block, stray.hosts, str(stray.prefix)
    more = [f"the {pool.use} pool" for pool in stray.pools]
    all_of_them = listed([*names_of(hosts), *more])
    return Finding(
        "error",
        block,
        f"subnet {block.text} "
        + (
            f"leaves out {all_of_them}, beside it in {right}"
            if stray.beside
            else f"is empty; {all_of_them} lie in {right}"
        ),
        found=block.text,
        allowed=right,
        remedy=f'write prefix = "{right}", or add that subnet',
        edits=(Put(block.path, right),),
        path=block.path,
        subjects=(block.text,),
        related=[(group[0].path, f"{listed(names_of(group))}: {span_text(group)}") for group in by_key(hosts)]
        + [(pool.path, "the pool") for pool in stray.pools],
    )


_MEANT = _NET.format("{}") + 'gateway = "fd00:2::1"\n' + _POOL.format("dhcp", "fd00:2::100", "fd00:2::1ff")
_MEANT += "".join(_NODE.format(f"n{n}", f"fd00:2::1{n}") for n in range(1, 6))

cases(
    no_subnet,
    clean=[
        _LAN + _NODE.format("n1", "10.20.0.11"),
        _LAN + _NODE.format("n1", "10.30.0.11/24"),
        _LAN + _NODE.format("n1", "fe80::1"),
        _NET.format("10.20.0") + _NODE.format("n1", "10.20.0.11"),  # the slip is in the subnet
        _LAN + _NODE.format("n1", "10.21.0.300"),  # cannot be read at all
        _LAN + _LAN + _NODE.format("n1", "10.20.1.11"),  # `subnets.overlap` has that
        _LAN + _DHCP + _NODE.format("n1 .. n2", "10.21.0.1/24 .. 10.21.0.2/24"),  # guests here, and things elsewhere
        _NET.format("fd00:20::/64") + _NODE.format("n1 .. n2", "fe80::1/64 .. fe80::2/64"),  # meant for no subnet
        _LAN + _NODE.format("n1 .. n2", "192.0.2.7/24 .. 192.0.2.8/24"),  # `addresses.special_range` has those
        _NET.format("10.20.0.0/25") + _NET.format("10.20.0.128/25") + _LAN  # what overlaps is not empty
        + _NODE.format("n1 .. n2", "10.21.0.1/24 .. 10.21.0.2/24"),
    ],
    flagged=[
        Case(_LAN + _NODE.format("n1", "10.21.0.11"), at="n1", found="10.21.0.11", level="error",
             mended=_LAN + _NODE.format("n1", "10.20.0.11")),
        Case(_LAN + _NODE.format("n1 .. n3", "10.20.1.0 .. 10.20.1.2"), at="n1 .. n3"),
        Case(_LAN + _NODE.format("n1", "fd00::11"), at="n1"),
        Case(_NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13"), at="n1", kind="open"),
        # Several that lie together in no subnet are one slip: theirs, or a subnet that is not stated.
        Case(_LAN + _NODE.format("a", "10.20.0.9") + _NODE.format("b", "10.21.0.7") + _NODE.format("c", "10.21.0.8"),
             at="the addresses of b and c"),
        # A digit in the prefix of a subnet is one slip, whatever was meant to lie in it.
        Case(_MEANT.format("fd00:20::/64"), at="subnet fd00:20::/64", found="fd00:20::/64", edits=True,
             mended=_MEANT.format("fd00:2::/64")),
        Case(_MEANT.format("fd00:2::/126"), at="leaves out n1 .. n5 and the dhcp pool, beside it in fd00:2::/64",
             edits=True, mended=_MEANT.format("fd00:2::/64")),
        Case(_NET.format("fd00:20::/64") + _NODE.format("n1 .. n3", "fd00:2::1/64 .. fd00:2::3/64"),
             found="fd00:20::/64",
             mended=_NET.format("fd00:2::/64") + _NODE.format("n1 .. n3", "fd00:2::1/64 .. fd00:2::3/64")),
        Case(_NET.format("10.2.0.0/24") + _NODE.format("a", "10.20.0.9")
             + _NODE.format("n1 .. n2", "10.20.0.7 .. 10.20.0.8"),
             at="a, n1 and n2 lie in 10.20.0.0/24", level="error"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def not_a_host(plan: Plan, address_book: AddressBook, address_offers: AddressOffers) -> Iterator[Finding]:
    """Every address is one that a machine can have.

    The first and the last address of an IPv4 subnet mean the subnet and everybody in it; loopback, multicast and
    reserved ranges never name a machine on a wire. An address that ends in .0 or .255 inside a larger subnet is a
    host like any other.

    Source: RFC 1122 section 3.2.1.3; RFC 3021 for /31; RFC 4291 sections 2.5 to 2.7; RFC 2526.
    """
    whys = {id(host): why for host, why in address_offers.barred}
    for hosts in by_key(host for host, _ in address_offers.barred):
        why = whys[id(hosts[0])]
        words, edits = change_to(address_offers, hosts, "choose another address")
        yield Finding(
            "warning" if "set aside" in why else "error",
            hosts[0].thing,
            f"{listed(names_of(hosts))} cannot have {span_text(hosts)}: it {why}",
            found=span_text(hosts),
            remedy=words,
            edits=edits,
            path=hosts[0].path,
            subjects=names_of(hosts),
        )


_TINY = _NET.format("192.168.100.4/30")
_PAIR = _NET.format("192.168.100.4/31")

cases(
    not_a_host,
    clean=[
        # A router guide: 192.168.100.4/30 has the hosts .5 and .6, as a /31 it has .4 and .5.
        _TINY + _NODE.format("n1 .. n2", "192.168.100.5 .. 192.168.100.6"),
        _PAIR + _NODE.format("n1 .. n2", "192.168.100.4 .. 192.168.100.5"),
        _NET.format("10.20.0.0/23") + _NODE.format("n1 .. n2", "10.20.0.255 .. 10.20.1.0"),
        _NET.format("fd00:1::/64") + _NODE.format("n1", "fd00:1::ffff:ffff:ffff:ffff"),
    ],
    flagged=[
        Case(_TINY + _NODE.format("n1", "192.168.100.4"), at="n1", found="192.168.100.4", level="error",
             mended=_TINY + _NODE.format("n1", "192.168.100.5")),
        Case(_TINY + _NODE.format("n1", "192.168.100.7"), at="the broadcast address",
             mended=_TINY + _NODE.format("n1", "192.168.100.6")),
        Case(_NODE.format("n1", "10.20.0.255/24"), at="the broadcast address"),
        Case(_LAN + _NODE.format("n1", "127.0.0.2"), at="never leaves the machine"),
        Case(_LAN + _NODE.format("n1", "224.0.0.5"), at="group"),
        Case(_NET.format("0.0.0.0/0") + _NODE.format("n1", "240.0.0.5"), at="reserved"),
        Case(_NODE.format("n1", "::ffff:10.20.0.11"), at="inside a program", level="error"),
        Case(_NET.format("fd00:1::/64") + _NODE.format("n1", "fd00:1::"), at="anycast", level="error",
             mended=_NET.format("fd00:1::/64") + _NODE.format("n1", "fd00:1::1")),
        Case(_NET.format("fd00:1::/64") + _NODE.format("n1", "fd00:1::fdff:ffff:ffff:ff80"), level="warning"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def wrong_prefix(plan: Plan, address_book: AddressBook, address_offers: AddressOffers) -> Iterator[Finding]:
    """An address that carries a prefix length carries that of its subnet.

    With a longer one the machine sends its neighbours' traffic to the gateway; with a shorter one it calls for
    machines that live behind the gateway. Both half work.
    """
    book = address_book
    odd = [
        host
        for host in (*book.hosts, *book.gateways)
        if host.length is not None
        and host.subnet is not None
        and host.length != book.subnets[host.subnet].prefix.length
        and book.subnets[host.subnet].prefix.contains(host.family, host.value)
    ]
    if not odd:
        return
    shared = shared_paths(book)
    groups: dict[tuple[int, int], list[Host]] = {}  # one length typed at many addresses is one slip
    for host in odd:
        groups.setdefault((host.subnet or 0, host.length or 0), []).append(host)
    for (place, length), hosts in groups.items():
        block = book.subnets[place]
        first = hosts[0]
        rights = [_with_length(group, block.prefix.length) for group in by_key(hosts)]
        one = len(rights) == 1 and rights[0]
        yield Finding(
            "error",
            first.thing,
            f"{listed(names_of(hosts))}: {spans_of(hosts)} with /{length}, but the subnet is {block.text}",
            found=f"/{length}",
            allowed=f"/{block.prefix.length}",
            remedy=f'write "{one}", or leave the length out'
            if one
            else f"write /{block.prefix.length}, or leave it out",
            edits=_lengthened(shared, hosts, block, address_offers),
            path=first.path,
            subjects=names_of(hosts),
            related=[(block.path, "the subnet"), *places_of(hosts)],
        )


def _lengthened(
    shared: dict[Path, int], odd: list[Host], block: Block, offers: AddressOffers
) -> tuple[Edit, ...]:
    """Return edits that give every address the length of its subnet; none where one of them cannot be exact."""
    edits = []
    for hosts in by_key(odd):
        path = hosts[0].path
        right = _with_length(hosts, block.prefix.length)
        moves = path in offers.offers  # then it gets another address, with the right length
        if not right or moves or {host.path for host in hosts} != {path} or shared.get(path, 1) != len(hosts):
            return ()
        edits.append(Put(path, right))
    return tuple(edits)


def _with_length(hosts: list[Host], length: int) -> str:
    """Return how a key would read with another prefix length; "" where one text cannot say it."""
    first, last = hosts[0], hosts[-1]
    if [host.value for host in hosts] != list(range(first.value, first.value + len(hosts))):
        return ""
    return f"{first.text}/{length}" + (f" .. {last.text}/{length}" if len(hosts) > 1 else "")


cases(
    wrong_prefix,
    clean=[_LAN + _NODE.format("n1", "10.20.0.11/24"), _LAN + _NODE.format("n1", "10.20.0.11")],
    flagged=[
        Case(_LAN + _NODE.format("n1", "10.20.0.11/25"), at="n1", found="/25",
             mended=_LAN + _NODE.format("n1", "10.20.0.11/24")),
        Case(_LAN + _NODE.format("n1 .. n3", "10.20.0.11/16 .. 10.20.0.13/16"), at="n1 .. n3", found="/16",
             mended=_LAN + _NODE.format("n1 .. n3", "10.20.0.11/24 .. 10.20.0.13/24")),
        Case(_GATE.format("10.20.0.1/16"), at="gateway", found="/16", mended=_GATE.format("10.20.0.1/24")),
        # a length typed at every address is one slip
        Case(_LAN + _NODE.format("a", "10.20.0.11/25") + _NODE.format("b", "10.20.0.12/25"), at="a and b", edits=True,
             mended=_LAN + _NODE.format("a", "10.20.0.11/24") + _NODE.format("b", "10.20.0.12/24")),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def missing_address(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A node with a cable has an address, fixed or from a pool.

    Judged where the plan has subnets, no DHCP pool and nothing that serves DHCP, and no IPv6 /64 in which machines
    choose for themselves.

    Source: RFC 4862 for addresses that machines choose (a /64).
    """
    book = address_book
    if not book.subnets or book.bad_pools or handed_out(plan, book):
        return
    if any(block.prefix.family == 6 and block.prefix.length == 64 for block in book.subnets):
        return
    if cannot_choose(plan, book):
        return  # `sizes.length` says why
    for thing in unaddressed(plan, ("node", "storage")):
        says = f"no address is written for {thing.id}, whose cable leads to a network without a DHCP pool"
        yield Open("warning", thing, says, ["address"], remedy="add an address, or a [[pool]] for dhcp")


_CABLED = '[[node]]\nid = "{}"\nport = "{}"\n'

cases(
    missing_address,
    clean=[
        _SWITCH + _LAN + _CABLED.format("n1", "sw.1") + 'address = "10.20.0.11"\n',
        _SWITCH + _LAN + _DHCP + _CABLED.format("n1", "sw.1"),
        _SWITCH + _NET.format("fd00:1::/64") + _CABLED.format("n1", "sw.1"),
        _SWITCH + _CABLED.format("n1", "sw.1"),
        _SWITCH + _NET.format("fd00:1::/80") + _CABLED.format("n1", "sw.1"),  # `sizes.length` has that one
        _SWITCH + _LAN + _CABLED.format("n1", "sw.1") + '[[outside]]\nid = "modem"\nserves = ["dhcp"]\n',
    ],
    flagged=[
        Case(_SWITCH + _LAN + _CABLED.format("n1 .. n3", "sw.1 .. sw.3"), at="n1 .. n3", kind="open"),
        Case(
            _SWITCH + _LAN + _NET.format("fd00:1::/80") + _CABLED.format("n1", "sw.1"), at="n1", kind="open"
        ),
    ],
)


@rule(level="warning", over="plan")
def two_ports(plan: Plan, address_book: AddressBook, placement: Placement) -> Iterator[Finding]:
    """A thing has no two ports in one subnet.

    It answers for both addresses at either port, and sends everything by one of them: the other cable carries nothing,
    and takes its address along when it fails. Ports of one bond count as one, several addresses of one port are in
    order, and a management port is a computer of its own.

    Source: common practice; RFC 1122 section 3.3.4 on machines with several ports (from memory).
    """
    book = address_book
    groups: dict[tuple[Path, int], list[list[Host]]] = {}
    wrong = {
        id(host) for group in placement.misplaced for host in group.hosts
    }  # told by `segments.wrong_vlan`
    for hosts in same_subnet(plan, book):
        if not wrong.isdisjoint(map(id, hosts)):
            continue
        groups.setdefault((hosts[0].thing.path, hosts[0].subnet or 0), []).append(hosts)
    for (_, place), found in groups.items():
        block = book.subnets[place]
        hosts = [host for group in found for host in group]
        things = tuple(dict.fromkeys(str(host.thing.id) for host in hosts))
        ports = listed(dict.fromkeys(host.port.id for host in hosts))
        yield Finding(
            "warning",
            hosts[0].thing,
            f"{listed(things)}: ports {ports} in one subnet, {block.text}",
            found=span_text(hosts),
            remedy="make one bond of the two cables, or put the second port into a subnet of its own",
            path=hosts[1].path,
            subjects=things,
            related=[(hosts[0].path, "the other port"), (block.path, "the subnet")],
        )


_PORT = '[[node.port]]\nid = "{}"\naddress = "{}"\n'
_DUAL = _LAN + '[[node]]\nid = "n1"\n' + _PORT.format("a", "10.20.0.11")
_BONDED = _SWITCH + _DUAL.replace('id = "a"\n', 'id = "a"\nbond = "x"\nto = "sw.1"\n')

cases(
    two_ports,
    clean=[
        _DUAL + _PORT.format("b", "10.30.0.11/24"),
        _LAN + '[[node]]\nid = "n1"\naddress = ["10.20.0.11", "10.20.0.12"]\n',
        _LAN + '[[node]]\nid = "n1"\n[[node.port]]\nid = "a"\naddress = ["10.20.0.11", "10.20.0.12"]\n',
        _BONDED + _PORT.format("b", "10.20.0.12") + 'bond = "x"\nto = "sw.2"\n',
        _DUAL + _PORT.format("b", "10.20.0.12") + 'for = "management"\n',
        _DUAL.replace('id = "n1"\n', 'id = "n1"\nbridges = true\n') + _PORT.format("b", "10.20.0.12"),
    ],
    flagged=[
        Case(_DUAL + _PORT.format("b", "10.20.0.12"), at="n1", found="10.20.0.11, 10.20.0.12", level="warning",
             mended=_DUAL + _PORT.format("b", "10.30.0.12/24")),
        Case(_LAN + '[[node]]\nid = "n1 .. n3"\n' + _PORT.format("a", "10.20.0.11 .. 10.20.0.13")
             + _PORT.format("b", "10.20.0.21 .. 10.20.0.23"), at="n1"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def special_range(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """An address of a thing lies in no range that is registered for something else.

    Judged where its subnet does not lie in that range as a whole, which `subnets.special_range` says once. An IPv6
    address that holds on one link alone is in order, since each machine has one.

    Source: RFC 6890 and the special-purpose registries.
    """
    book = address_book
    groups: dict[tuple[Path, str], list[Host]] = {}
    for host in book.hosts:
        if host.subnet is None and host.length is None and book.subnets:
            continue  # `addresses.no_subnet` has it
        row = registered(book, host)
        if row is None or row.kind not in UNWISE or (host.family == 6 and is_link_local(6, host.value)):
            continue
        groups.setdefault((host.key, str(row.prefix)), []).append(host)
    for hosts in groups.values():
        row = registered(book, hosts[0])
        assert row is not None
        yield Finding(
            "warning",
            hosts[0].thing,
            f"address of {listed(names_of(hosts))}, {span_text(hosts)}, in {row.prefix}, {row.name}: "
            f"{UNWISE[row.kind]}",
            found=span_text(hosts),
            remedy="choose private space, such as 10.20.0.0/24",
            basis=row.rfc,
            path=hosts[0].path,
            subjects=names_of(hosts),
        )


cases(
    special_range,
    clean=[
        _NODE.format("n1", "10.20.0.11/24"),
        _NODE.format("n1", "fe80::11"),
        _NET.format("192.0.2.0/24") + _NODE.format("n1", "192.0.2.11"),  # the subnet has the slip
        _LAN + _NODE.format("n1", "192.0.2.11"),  # it lies in no subnet
        _NODE.format("n1", "224.0.0.5/24"),  # no machine can have it
    ],
    flagged=[
        Case(_NODE.format("n1", "192.0.2.11/24"), at="n1", found="192.0.2.11", level="warning",
             mended=_NODE.format("n1", "10.20.0.11/24")),
        Case(_NODE.format("n1", "169.254.7.11/16"), at="machines choose"),
        Case(_NODE.format("n1", "2002:c000:204::11/64"), at="6to4"),
        Case(_NODE.format("n1", "2001::11/64"), at="Teredo"),
        Case(_NODE.format("n1", "fec0::11/64"), at="its use has ended"),
        Case(_NODE.format("n1 .. n2", "2001:db8::11/64 .. 2001:db8::12/64"), at="n1",
             found="2001:db8::11, 2001:db8::12"),
        Case(_NET.format("192.0.0.0/16") + _NODE.format("n1", "192.0.2.11"), at="examples in documents"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def hardware(plan: Plan, stations: list[Station]) -> Iterator[Finding]:
    """Every hardware address can be read, names one station, and stands once in the plan.

    Two stations with one hardware address on one network take each other's frames in turn; a fixed lease that is
    tied to an address with a slip in it is given to nobody. The addresses of virtual routers may be shared.

    Source: IEEE 802-2014 section 8 (six octets; the lowest bit of the first means a group); RFC 5798 for the
    addresses of virtual routers (from memory).
    """
    first: dict[int, list[Station]] = {}
    for station in stations:
        if station.reason:
            says = f'the hardware address "{station.text[:40]}" of {station.name} {station.reason}'
            yield Finding("error", station.thing, says, found=station.text[:40], remedy=station.hint,
                          path=station.path, subjects=(station.name,))  # fmt: skip
        elif station.value is not None and not shared_on_purpose(station.value):
            first.setdefault(station.value, []).append(station)
    for same in first.values():
        if len(same) > 1:
            names = tuple(station.name for station in same)
            elsewhere = next((s.path for s in same if s.path != same[-1].path), None)
            yield Finding(
                "error",
                same[-1].thing,
                f"{listed(names)} share the hardware address {same[0].text}",
                found=same[0].text,
                remedy="read each from its label",
                path=same[-1].path,
                subjects=names,
                related=[(elsewhere, f"{same[0].name} has it too")] if elsewhere else [],
            )


_MAC = '[[node]]\nid = "{}"\nmac = "{}"\n'

cases(
    hardware,
    clean=[
        # Addresses set aside for documents (RFC 9542).
        _MAC.format("n1 .. n3", "00:00:5e:00:53:01 .. 00:00:5e:00:53:03") + _MAC.format("m", "00-00-5E-00-53-04"),
        _MAC.format("r1", "00:00:5e:00:01:07") + _MAC.format("r2", "00:00:5e:00:01:07"),
    ],
    flagged=[
        Case(_MAC.format("a", "00:00:5e:00:53:01") + _MAC.format("b", "00-00-5E-00-53-01"), at="a and b", level="error",
             mended=_MAC.format("a", "00:00:5e:00:53:01") + _MAC.format("b", "00-00-5E-00-53-02")),
        Case(_MAC.format("n1 .. n3", "00:00:5e:00:53:01"), at="n1 .. n3", found="00:00:5e:00:53:01"),
        Case(_MAC.format("a", "00:00:5e:00:53:1"), at="a", found="00:00:5e:00:53:1", level="error"),
        Case(_MAC.format("a", "00:00:5e:00:53"), at="6 groups"),
        Case(_MAC.format("a", "0000.5e00.5301"), at="dots"),
        Case(_MAC.format("a", "01:00:5e:90:10:01"), at="names a group"),
        Case(_MAC.format("a", "ff:ff:ff:ff:ff:ff"), at="names a group"),
        Case(_MAC.format("a", "00:00:00:00:00:00"), at="not a station"),
        Case('[[node]]\nid = "a"\n[[node.port]]\nid = "1 .. 2"\nmac = "00:00:5e:00:53:01"\n', at="a.1 and a.2"),
    ],
)  # fmt: skip
