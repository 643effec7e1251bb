"""Addresses: each one readable, had once, in one subnet, outside the pools; and subnets that can work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Open, Put, Review, cases, rule
from coldcheck.lan.address import WIDTH, Prefix, text_of
from coldcheck.lan.dhcp import leasable
from coldcheck.lan.prefixes import overlaps, usable_range
from coldcheck.lan.special import defaults_met, special
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import (
    AddressBook,
    AddressOffers,
    Block,
    Host,
    PoolRange,
    Station,
    Stray,
    lost_hosts,
    shared_on_purpose,
    span_text,
)
from coldcheck.workings.addresses import (
    not_a_host as why_no_host,
)

_NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\n'
_LAN = _NET.format("10.20.0.0/24")
_GATE = _LAN + 'gateway = "{}"\n'
_POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'
_DHCP = _POOL.format("dhcp", "10.20.0.100", "10.20.0.199")
_SWITCH = '[[switch]]\nid = "sw"\nports = 8\n'
_UPLINK = '[[uplink]]\nfrom = "sw.8"\nto = "{}"\n'


def _together(hosts: Iterable[Host]) -> list[list[Host]]:
    """Return addresses grouped by the key that states them: a span that is wrong is one slip."""
    groups: dict[Path, list[Host]] = {}
    for host in hosts:
        groups.setdefault(host.key, []).append(host)
    return list(groups.values())


def _names(hosts: Iterable[Host]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(host.name for host in hosts))


def _spans(hosts: list[Host]) -> str:
    """Return addresses as they are written, key by key."""
    shown = [span_text(group) for group in _together(hosts)]
    return ", ".join(shown[:6]) + (f" and {len(shown) - 6} more" if len(shown) > 6 else "")


def _change(offers: AddressOffers, hosts: Iterable[Host], otherwise: str) -> tuple[str, tuple[Edit, ...]]:
    """Return what could be written instead, in words, and as edits where each key may be changed as a whole."""
    paths = list(dict.fromkeys(host.path for host in hosts))
    found = [offers.offers[path] for path in paths if path in offers.offers]
    if not found:
        return otherwise, ()
    words = ", ".join(f'{listed(_names(offer.hosts))} could have "{offer.text}"' for offer in found[:4])
    exact = len(found) == len(paths) and all(offer.exact for offer in found)
    return f"free: {words}", tuple(Put(offer.path, offer.text) for offer in found) if exact else ()


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
        yield Finding(
            "error", bad.at, says, found=shown, remedy=bad.hint, path=bad.path, subjects=(bad.name,)
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
        names = _names(ordered)
        plural = "es" if len(clashes) > 1 else ""
        shown = span_text([hosts[0] for hosts in clashes])
        words, edits = _change(address_offers, movers, "give each an address of its own")
        yield Finding(
            "error",
            movers[0].thing,
            f"{listed(names)} share the address{plural} {shown}",
            found=shown,
            remedy=words,
            edits=edits,
            path=movers[0].path,
            subjects=_names(movers),
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
    subnets overlap, which `addresses.overlap` says once. Where a subnet holds no address at all, and all that were
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
    subnets = ", ".join(block.text for block in book.subnets[:4]) + (" ..." if len(book.subnets) > 4 else "")
    for hosts in _near(book, [host for host in lost_hosts(book) if id(host) not in told]):
        shown = _spans(hosts)
        many = len(hosts) > 1
        yield Finding(
            "error",
            hosts[0].thing,
            f"no subnet holds the address{'es' if many else ''} of {listed(_names(hosts))}, {shown}",
            found=shown,
            allowed=subnets,
            remedy=f"correct {'them' if many else 'it'}, or add {'their' if many else 'its'} subnet",
            path=hosts[0].path,
            subjects=_names(hosts),
            related=_others(hosts),
        )


def _near(book: AddressBook, hosts: list[Host]) -> list[list[Host]]:
    """Return addresses grouped by the prefix they have in common, of the length of a subnet of the plan."""
    lengths = {4: 24, 6: 64} | {block.prefix.family: block.prefix.length for block in book.subnets}
    groups: dict[tuple[int, int], list[Host]] = {}
    for host in hosts:
        key = host.family, host.value >> (WIDTH[host.family] - lengths[host.family])
        groups.setdefault(key, []).append(host)
    return list(groups.values())


def _others(hosts: list[Host], all_of_them: bool = False) -> list[tuple[Path, str]]:
    """Return the places of all addresses, or of all but those of the first key, as they are related to a finding."""
    groups = _together(hosts)[0 if all_of_them else 1 :][:8]
    return [(group[0].path, f"{listed(_names(group))}: {span_text(group)}") for group in groups]


def _slip(stray: Stray) -> Finding:
    block, hosts, right = stray.block, stray.hosts, str(stray.prefix)
    more = [f"the {pool.use} pool" for pool in stray.pools]
    all_of_them = listed([*_names(hosts), *more])
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
        related=[
            (group[0].path, f"{listed(_names(group))}: {span_text(group)}") for group in _together(hosts)
        ]
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
        _LAN + _DHCP + _NODE.format("n1 .. n2", "10.21.0.1/24 .. 10.21.0.2/24"),  # guests here, and things elsewhere
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
    for hosts in _together(host for host, _ in address_offers.barred):
        why = whys[id(hosts[0])]
        words, edits = _change(address_offers, hosts, "choose another address")
        yield Finding(
            "warning" if "set aside" in why else "error",
            hosts[0].thing,
            f"{listed(_names(hosts))} cannot have {span_text(hosts)}: it {why}",
            found=span_text(hosts),
            remedy=words,
            edits=edits,
            path=hosts[0].path,
            subjects=_names(hosts),
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
    groups: dict[tuple[int, int], list[Host]] = {}  # one length typed at many addresses is one slip
    for host in odd:
        groups.setdefault((host.subnet or 0, host.length or 0), []).append(host)
    for (place, length), hosts in groups.items():
        block = book.subnets[place]
        first = hosts[0]
        rights = [_with_length(group, block.prefix.length) for group in _together(hosts)]
        one = len(rights) == 1 and rights[0]
        yield Finding(
            "error",
            first.thing,
            f"{listed(_names(hosts))}: {_spans(hosts)} with /{length}, but the subnet is {block.text}",
            found=f"/{length}",
            allowed=f"/{block.prefix.length}",
            remedy=f'write "{one}", or leave the length out'
            if one
            else f"write /{block.prefix.length}, or leave it out",
            edits=_lengthened(book, hosts, block, address_offers),
            path=first.path,
            subjects=_names(hosts),
            related=[(block.path, "the subnet"), *_others(hosts)],
        )


def _lengthened(book: AddressBook, odd: list[Host], block: Block, offers: AddressOffers) -> tuple[Edit, ...]:
    """Return edits that give every address the length of its subnet; none where one of them cannot be exact."""
    shared: dict[Path, int] = {}
    for host in book.hosts:
        shared[host.path] = shared.get(host.path, 0) + 1
    edits = []
    for hosts in _together(odd):
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
    for host in book.gateways:
        if host.subnet is None:
            continue
        block = book.subnets[host.subnet]
        if any(host is other for stray in strays for other in stray.hosts):
            continue  # `no_subnet` says that the prefix is the slip
        if not block.prefix.contains(host.family, host.value):
            says = f"the gateway {host.text} lies outside its subnet {block.text}"
            yield Finding("error", block, says, found=host.text, allowed=block.text, path=host.path,
                          remedy="correct one of the two")  # fmt: skip
        elif (why := why_no_host(book, host)) and "of the routers" not in why:
            says = f"no gateway can have {host.text}: it {why}"
            yield Finding("error", block, says, found=host.text, path=host.path,
                          remedy="correct the address")  # fmt: skip
        else:
            wanted[host.family, host.value] = host
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
        if gate is None or (host.family, host.value) in outside:  # `duplicate` has the latter
            continue
        families = {book.subnets[i].prefix.family for i in homes[host.thing.id] if i is not None}
        leads_on = len(homes[host.thing.id]) > len(families) or not leaving.isdisjoint(
            _ways(plan, host.thing)
        )
        if not leads_on:
            subnet = book.subnets[gate.subnet or 0].text
            yield Finding(
                "error",
                host.thing,
                f"{host.name} has {host.text}, the gateway of {subnet}, but leads nowhere",
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
    ],
    flagged=[
        Case(_GATE.format("10.20.1.1"), at="10.20.1.1", level="error", mended=_GATE.format("10.20.0.1")),
        Case(_GATE.format("10.20.0.0"), at="is the network", level="error"),
        Case(_GATE.format("10.20.0.255"), at="broadcast", level="error", mended=_GATE.format("10.20.0.254")),
        Case(_GATE.format("10.20.0.1") + _NODE.format("n1", "10.20.0.1"), at="n1", level="error"),
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
def in_pool(plan: Plan, address_book: AddressBook, address_offers: AddressOffers) -> Iterator[Finding]:
    """No thing and no gateway has a fixed address inside a pool that is handed out.

    The server that hands the pool out knows nothing of the plan: some day it gives the address to a guest.

    Source: DHCP server manuals: a fixed address inside a pool must be excluded, or moved out of it.
    """
    groups: dict[tuple[Path, int], list[Host]] = {}
    whole: dict[int, list[Host]] = {}
    for host in address_offers.pooled:
        whole.setdefault(host.pool or 0, []).append(host)
    narrow = {
        place: text for place, hosts in whole.items() if (text := _narrowed(address_book.pools[place], hosts))
    }
    for host in address_offers.pooled:
        groups.setdefault((() if host.pool in narrow else host.key, host.pool or 0), []).append(host)
    for (_, place), hosts in groups.items():
        if place in narrow:
            yield _starts_too_low(address_book.pools[place], hosts, narrow[place])
            continue
        pool = address_book.pools[place]
        words, edits = _change(address_offers, hosts, "choose addresses outside the pool, or narrow the pool")
        yield Finding(
            "error",
            hosts[0].thing,
            f"fixed address of {listed(_names(hosts))} inside the {pool.use} pool {pool.text}: {span_text(hosts)}",
            found=span_text(hosts),
            allowed=f"outside {pool.text}",
            remedy=words,
            edits=edits,
            path=hosts[0].path,
            subjects=_names(hosts),
            related=[(pool.path, "the pool")],
        )


#: Fixed addresses in the first quarter of a pool, or in its last, say that the pool is the slip.
_EDGE = 4


def _narrowed(pool: PoolRange, hosts: list[Host]) -> str:
    """Return the range of a pool without the addresses that sit together at one of its ends; "" where none do."""
    if len({host.key for host in hosts}) < 2 or pool.reversed:
        return ""
    low, high = min(host.value for host in hosts), max(host.value for host in hosts)
    edge = (pool.last - pool.first + 1) // _EDGE
    if high - pool.first + 1 <= edge:
        return f"{text_of(pool.family, high + 1)} .. {text_of(pool.family, pool.last)}"
    if pool.last - low + 1 <= edge:
        return f"{text_of(pool.family, pool.first)} .. {text_of(pool.family, low - 1)}"
    return ""


def _starts_too_low(pool: PoolRange, hosts: list[Host], text: str) -> Finding:
    """Return one finding for the pool, where several entries have fixed addresses at one end of it."""
    first, _, last = text.partition(" .. ")
    low = last == text_of(pool.family, pool.last)
    end = f"start the pool at {first}" if low else f"end the pool at {last}"
    hosts = sorted(hosts, key=lambda host: host.role == "gateway")
    return Finding(
        "error",
        pool,
        f"the {pool.use} pool {pool.text} takes in the fixed addresses of {listed(_names(hosts))}: {_spans(hosts)}",
        found=pool.text,
        allowed=text,
        remedy=f'{end}: range = "{text}"',
        edits=(Put(pool.path, text),),
        path=pool.path,
        subjects=_names(hosts),
        related=_others(hosts, all_of_them=True),
    )


# A household guide: 192.168.1.0/24, .1 to .10 fixed, pool .11 to .254, fixed addresses .46 and .110 inside it.
_HOME = _NET.format("192.168.1.0/24") + _POOL.format("dhcp", "192.168.1.11", "192.168.1.254")

_LOW = _GATE.format("10.20.0.1") + '[[pool]]\nfor = "dhcp"\nrange = "{} .. 10.20.0.199"\n'
_LOW += _NODE.format("n1 .. n5", "10.20.0.11 .. 10.20.0.15") + _NODE.format("store", "10.20.0.20")
_HIGH = _LAN + '[[pool]]\nfor = "dhcp"\nrange = "10.20.0.20 .. {}"\n'
_HIGH += _NODE.format("a", "10.20.0.250") + _NODE.format("b", "10.20.0.252")

cases(
    in_pool,
    clean=[
        _LAN + _DHCP + _NODE.format("n1", "10.20.0.99") + _NODE.format("n2", "10.20.0.200"),
        _LAN + _POOL.format("reserved", "10.20.0.10", "10.20.0.19") + _NODE.format("n1", "10.20.0.11"),
        _HOME + _NODE.format("n1 .. n10", "192.168.1.1 .. 192.168.1.10"),
    ],
    flagged=[
        Case(_LAN + _DHCP + _NODE.format("n1", "10.20.0.100"), at="n1", found="10.20.0.100", level="error",
             mended=_LAN + _DHCP + _NODE.format("n1", "10.20.0.200")),
        Case(_LAN + _DHCP + _NODE.format("n1", "10.20.0.199/24"), at="n1", found="10.20.0.199",
             mended=_LAN + _DHCP + _NODE.format("n1", "10.20.0.200/24")),
        Case(_LAN + _DHCP + _NODE.format("n1 .. n3", "10.20.0.101 .. 10.20.0.103"), at="n1 .. n3",
             mended=_LAN + _DHCP + _NODE.format("n1 .. n3", "10.20.0.200 .. 10.20.0.202")),
        Case(_HOME + _NODE.format("n1", "192.168.1.46") + _NODE.format("n2", "192.168.1.110"), found="192.168.1.110"),
        Case(_GATE.format("10.20.0.150") + _DHCP, at="the gateway of 10.20.0.0/24", found="10.20.0.150"),
        # Several at the low end of a pool, or at its high end, are one slip, and it is the pool's.
        Case(_LOW.format("10.20.0.1"), at="n1 .. n5, store and the gateway", found="10.20.0.1 .. 10.20.0.199",
             edits=True, mended=_LOW.format("10.20.0.21")),
        Case(_HIGH.format("10.20.0.254"), at="a and b", found="10.20.0.20 .. 10.20.0.254", edits=True,
             mended=_HIGH.format("10.20.0.249")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def pool_outside(plan: Plan, address_book: AddressBook, strays: list[Stray]) -> Iterator[Finding]:
    """A pool runs upward and lies inside one subnet, on addresses that machines can have.

    A pool that leaves its subnet hands out addresses that reach nobody. A range for containers or services may lie
    outside every subnet, since routes lead there, but it may not cross the edge of one.
    """
    if address_book.bad_subnets:
        return
    meant = {
        id(pool) for stray in strays for pool in stray.pools
    }  # `no_subnet` says that the prefix is the slip
    for pool in address_book.pools:
        found = _misplaced(address_book, pool) if id(pool) not in meant else None
        if found is not None:
            yield found


def _misplaced(book: AddressBook, pool: PoolRange) -> Finding | None:
    if pool.reversed:
        says = f"the {pool.use} pool ends before it begins"
        return Finding("error", pool, says, remedy=f'write "{pool.text}"',
                       edits=(Put(pool.path, pool.text),))  # fmt: skip
    inside = [book.subnets[i] for i in pool.subnets if _holds(book.subnets[i].prefix, pool)]
    if not inside:
        covers = all(pool.first <= p.network and p.last <= pool.last for p in _prefixes(book, pool))
        if (
            pool.use in ("containers", "services") and covers
        ):  # apart, or around a whole subnet: `overlap` has that
            return None
        shared = ", ".join(book.subnets[i].text for i in pool.subnets) or "no subnet"
        says = f"the {pool.use} pool {pool.text} lies inside no subnet"
        says += f"; it crosses the edge of {shared}" if pool.subnets else ""
        return Finding("error", pool, says, found=pool.text, allowed=shared,
                       remedy="correct its ends, or the prefix of the subnet")  # fmt: skip
    low, high = usable_range(inside[0].prefix)
    if pool.first >= low and pool.last <= high:
        return None
    right = f"{text_of(pool.family, max(low, pool.first))} .. {text_of(pool.family, min(high, pool.last))}"
    says = f"the {pool.use} pool {pool.text} takes in an address of {inside[0].text} that no machine can have"
    possible = max(low, pool.first) <= min(high, pool.last)
    return Finding("warning", pool, says, found=pool.text, allowed=right,
                   remedy=f'write "{right}"' if possible else "choose other addresses",
                   edits=(Put(pool.path, right),) if possible else ())  # fmt: skip


def _holds(prefix: Prefix, pool: PoolRange) -> bool:
    return prefix.contains(pool.family, pool.first) and prefix.contains(pool.family, pool.last)


def _prefixes(book: AddressBook, pool: PoolRange) -> list[Prefix]:
    return [book.subnets[i].prefix for i in pool.subnets]


cases(
    pool_outside,
    clean=[
        _LAN + _DHCP,
        _LAN + _POOL.format("dhcp", "10.20.0.1", "10.20.0.254"),
        _LAN + _POOL.format("containers", "10.42.0.0", "10.42.255.255"),
        _MEANT.format("fd00:20::/64"),  # the slip is in the subnet
        _MEANT.format("fd00:2::/126"),
        # A vendor note: the pool 161.240.8.1 to 161.240.15.254 fills its /21.
        _NET.format("161.240.8.0/21") + _POOL.format("dhcp", "161.240.8.1", "161.240.15.254"),
    ],
    flagged=[
        Case(_LAN + _POOL.format("dhcp", "10.20.0.100", "10.20.1.10"), at="dhcp", level="error",
             found="10.20.0.100 .. 10.20.1.10"),
        Case(_LAN + _POOL.format("dhcp", "10.20.0.199", "10.20.0.100"), at="dhcp", level="error",
             mended=_LAN + _DHCP),
        Case(_LAN + _POOL.format("dhcp", "10.20.0.200", "10.20.0.255"), level="warning",
             mended=_LAN + _POOL.format("dhcp", "10.20.0.200", "10.20.0.254")),
        Case(_LAN + _POOL.format("dhcp", "10.30.0.1", "10.30.0.9"), at="inside no subnet"),
        Case(_LAN + _POOL.format("containers", "10.20.0.128", "10.20.1.127"), level="error"),
        # A server note: of .25, .200 and 192.168.2.4 only the last lies outside 192.168.1.0/24.
        Case(_NET.format("192.168.1.0/24") + _POOL.format("reserved", "192.168.2.4", "192.168.2.4"), at="192.168.2.4"),
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
    for first, second in overlaps([row for row in rows if row[2] >= row[1]], most=_MOST):
        found = _clash(book, first, second, joined)
        if found is not None:
            yield found


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
        return None  # inside it, or across its edge: `pool_outside` has that
    if ours and _holds(block.prefix, pool):
        return None
    if not ours and any(_holds(subnet.prefix, pool) for subnet in _own(book, pool)):
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
        _LAN + _POOL.format("services", "10.20.0.200", "10.20.1.9"),  # `pool_outside` has that one
    ],
    flagged=[
        Case(_LAN + _NET.format("10.20.0.128/25"), at="10.20.0.128/25", level="error",
             mended=_LAN + _NET.format("10.20.1.128/25")),
        Case(_LAN + _OUT.format("10.0.0.0/8"), at="office", level="error"),
        Case(_SWITCH + _LAN + _UPLINK.format("office") + _OUT.format("10.20.0.0/24"), kind="review"),
        Case(_SWITCH + _LAN + _UPLINK.format("the hall") + _OUT.format("10.20.0.0/24"), level="error"),
        Case(_LAN + _DHCP + _POOL.format("services", "10.20.0.199", "10.20.0.210"), at="services", level="error",
             mended=_LAN + _DHCP + _POOL.format("services", "10.20.0.200", "10.20.0.210")),
        Case(_LAN + _POOL.format("containers", "10.20.0.0", "10.20.255.255"), at="containers", level="error"),
        Case(_OUT.format("10.42.0.0/16") + _POOL.format("containers", "10.42.0.0", "10.42.255.255"), at="outside"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def missing_address(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A node with a cable has an address, fixed or from a pool.

    Judged where the plan has subnets, no DHCP pool, and no IPv6 /64 in which machines choose for themselves.

    Source: RFC 4862 for addresses that machines choose (a /64).
    """
    book = address_book
    if not book.subnets or book.bad_pools or any(pool.use == "dhcp" for pool in book.pools):
        return
    if any(block.prefix.family == 6 and block.prefix.length == 64 for block in book.subnets):
        return
    for thing in _unaddressed(plan, ("node", "storage")):
        says = f"no address is written for {thing.id}, whose cable leads to a network without a DHCP pool"
        yield Open("warning", thing, says, ["address"], remedy="add an address, or a [[pool]] for dhcp")


def _unaddressed(plan: Plan, tables: tuple[str, ...]) -> Iterator[Any]:
    for table in tables:
        for thing in plan.table(table):
            if thing.address or any(port.address for port in thing.port_):
                continue
            if any(port.links for port in plan.ports.get(thing.id, ())):
                yield thing


_CABLED = '[[node]]\nid = "{}"\nport = "{}"\n'

cases(
    missing_address,
    clean=[
        _SWITCH + _LAN + _CABLED.format("n1", "sw.1") + 'address = "10.20.0.11"\n',
        _SWITCH + _LAN + _DHCP + _CABLED.format("n1", "sw.1"),
        _SWITCH + _NET.format("fd00:1::/64") + _CABLED.format("n1", "sw.1"),
        _SWITCH + _CABLED.format("n1", "sw.1"),
    ],
    flagged=[
        Case(_SWITCH + _LAN + _CABLED.format("n1 .. n3", "sw.1 .. sw.3"), at="n1 .. n3", kind="open"),
        Case(_SWITCH + _NET.format("fd00:1::/80") + _CABLED.format("n1", "sw.1"), at="n1", kind="open"),
    ],
)


@rule(level="warning", over="plan")
def pool_too_small(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """The DHCP pools have an address for everything that has a cable and none of its own.

    Formula: last - first + 1 of every pool, less the fixed addresses inside, >= things without an address.

    Source: DHCP server manuals: both ends of a pool count, excluded addresses do not.
    """
    pools = [pool for pool in address_book.pools if pool.use == "dhcp" and pool.family == 4]
    if not pools or address_book.bad_pools:
        return
    fixed = [
        (host.value, host.value)
        for host in address_book.every()
        if host.pool is not None and host.family == 4
    ]
    room = sum(leasable(pool.first, pool.last, fixed) for pool in pools)
    waiting = sum(1 for _ in _unaddressed(plan, ("node", "storage", "appliance")))
    if waiting > room:
        says = f"{waiting} things with a cable have no address, and the DHCP pool has {room}"
        because = f"{sum(p.last - p.first + 1 for p in pools)} in the pool, fixed addresses inside taken off"
        yield Finding("warning", pools[0], says, found=str(waiting), allowed=str(room), because=because,
                      remedy="widen the pool")  # fmt: skip


_SMALL = _SWITCH + _LAN + _POOL.format("dhcp", "10.20.0.101", "10.20.0.104")

cases(
    pool_too_small,
    clean=[_SMALL + _CABLED.format("n1 .. n4", "sw.1 .. sw.4")],
    flagged=[
        Case(_SMALL + _CABLED.format("n1 .. n5", "sw.1 .. sw.5"), found="5"),
        Case(_SMALL + _CABLED.format("n1 .. n4", "sw.1 .. sw.4") + _NODE.format("f", "10.20.0.101"), found="4",
             mended=_SMALL + _CABLED.format("n1 .. n4", "sw.1 .. sw.4") + _NODE.format("f", "10.20.0.99")),
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
_WRONG_USE: dict[str, tuple[Level, str]] = {
    "shared": ("warning", "providers use it between themselves and their customers"),
    "documentation": ("warning", "it is set aside for examples in documents"),
    "benchmarking": ("warning", "it is set aside for measuring equipment"),
    "deprecated": ("warning", "its use has ended"),
    "protocol": ("warning", "protocols use it for themselves"),
    "translation": ("warning", "it stands for translated addresses"),
    "link-local": ("warning", "machines choose addresses in it for themselves, and no router passes them on"),
    "loopback": ("error", "it never leaves a machine"),
    "multicast": ("error", "it names groups, not machines"),
    "reserved": ("error", "most systems refuse it"),
    "unspecified": ("error", "it stands for no address"),
    "broadcast": ("error", "it stands for every machine"),
    "mapped": ("error", "it exists inside programs only"),
    "discard": ("error", "routers throw it away"),
}


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
        elif row.kind in _WRONG_USE:
            level, why = _WRONG_USE[row.kind]
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
