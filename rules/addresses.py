"""Addresses: each one readable, had once, in one subnet, outside the pools; and subnets that can work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Open, Put, Review, cases, rule
from coldcheck.lan.address import WIDTH, Prefix, text_of
from coldcheck.lan.dhcp import leasable
from coldcheck.lan.prefixes import overlaps, usable_range
from coldcheck.lan.special import defaults_met, is_link_local, special
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
def no_subnet(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """An address without a prefix length lies in a subnet of the plan.

    Without one nobody knows its neighbours, and the address files cannot be written. Where it lies in two, the
    subnets overlap, which `addresses.overlap` says once.
    """
    book = address_book
    bare = [host for host in book.hosts if host.subnet is None and host.length is None]
    if not bare or book.bad_subnets:
        return
    if not book.subnets:
        says = f"{bare[0].name} has the address {bare[0].text}, but no subnet is stated, so its prefix is not known"
        remedy = 'add [[subnet]] prefix = "10.20.0.0/24", with the prefix you use'
        yield Open("warning", bare[0].thing, says, ["subnet"], remedy=remedy, path=bare[0].path)
        return
    lost = [
        host for host in bare if not is_link_local(host.family, host.value) and not why_no_host(book, host)
    ]
    subnets = ", ".join(block.text for block in book.subnets[:4]) + (" ..." if len(book.subnets) > 4 else "")
    for hosts in _together(lost):
        shown = span_text(hosts)
        yield Finding(
            "error",
            hosts[0].thing,
            f"no subnet holds the address of {listed(_names(hosts))}, {shown}",
            found=shown,
            allowed=subnets,
            remedy="correct it, or add its subnet",
            path=hosts[0].path,
            subjects=_names(hosts),
        )


cases(
    no_subnet,
    clean=[
        _LAN + _NODE.format("n1", "10.20.0.11"),
        _LAN + _NODE.format("n1", "10.30.0.11/24"),
        _LAN + _NODE.format("n1", "fe80::1"),
        _NET.format("10.20.0") + _NODE.format("n1", "10.20.0.11"),  # the slip is in the subnet
        _LAN + _NODE.format("n1", "10.21.0.300"),  # cannot be read at all
    ],
    flagged=[
        Case(_LAN + _NODE.format("n1", "10.21.0.11"), at="n1", found="10.21.0.11", level="error",
             mended=_LAN + _NODE.format("n1", "10.20.0.11")),
        Case(_LAN + _NODE.format("n1 .. n3", "10.20.1.0 .. 10.20.1.2"), at="n1 .. n3"),
        Case(_LAN + _NODE.format("n1", "fd00::11"), at="n1"),
        Case(_NODE.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13"), at="n1", kind="open"),
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
    shared: dict[Path, int] = {}
    for host in book.hosts:
        shared[host.path] = shared.get(host.path, 0) + 1
    for hosts in _together(odd):
        first = hosts[0]
        block = book.subnets[first.subnet or 0]
        right = _with_length(hosts, block.prefix.length)
        moves = first.path in address_offers.offers  # then it gets another address, with the right length
        whole = right and not moves and {host.path for host in hosts} == {first.path}
        whole = whole and shared.get(first.path, 1) == len(hosts)
        yield Finding(
            "error",
            first.thing,
            f"{listed(_names(hosts))}: {span_text(hosts)} with /{first.length}, but the subnet is {block.text}",
            found=f"/{first.length}",
            allowed=f"/{block.prefix.length}",
            remedy=f'write "{right}", or leave the length out' if right else f"write /{block.prefix.length}",
            edits=(Put(first.path, right),) if whole else (),
            path=first.path,
            subjects=_names(hosts),
            related=[(block.path, "the subnet")],
        )


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
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def gateway(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A gateway has an address of its subnet, one a machine can have, and no thing but a router has it.

    A machine reaches its gateway as a neighbour, so the gateway must be one.

    Source: RFC 1122 section 3.3.1.1 (a gateway is on a connected network); RFC 4291 section 2.6.1 for IPv6, where
    the anycast address of the routers will do.
    """
    book = address_book
    wanted: dict[tuple[int, int], Host] = {}
    for host in book.gateways:
        if host.subnet is None:
            continue
        block = book.subnets[host.subnet]
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
    for host in book.hosts:
        gate = wanted.get((host.family, host.value))
        if gate is None or (host.family, host.value) in outside:  # `duplicate` has the latter
            continue
        cables = sum(len(port.links) for port in plan.ports.get(host.thing.id, ()))
        if host.thing.table in ("node", "storage") and cables < 2 and host.thing.id not in leaving:
            subnet = book.subnets[gate.subnet or 0].text
            yield Finding(
                "warning",
                host.thing,
                f"{host.name} has {host.text}, the gateway of {subnet}, but is no router",
                found=host.text,
                remedy="give it another address; a router has a second cable, or an uplink",
                path=host.path,
                related=[(gate.path, "the gateway")],
            )


cases(
    gateway,
    clean=[
        _GATE.format("10.20.0.1"),
        _GATE.format("10.20.0.1") + '[[appliance]]\nid = "router"\naddress = "10.20.0.1"\n',
        _GATE.format("10.20.0.1")
        + _NODE.format("n1", "10.20.0.1")
        + '[[uplink]]\nfrom = "n1"\nto = "the hall"\n',
        _NET.format("fd00:1::/64") + 'gateway = "fd00:1::"\n',
    ],
    flagged=[
        Case(_GATE.format("10.20.1.1"), at="10.20.1.1", level="error", mended=_GATE.format("10.20.0.1")),
        Case(_GATE.format("10.20.0.0"), at="is the network", level="error"),
        Case(_GATE.format("10.20.0.255"), at="broadcast", level="error", mended=_GATE.format("10.20.0.254")),
        Case(_GATE.format("10.20.0.1") + _NODE.format("n1", "10.20.0.1"), at="n1", level="warning"),
    ],
)


@rule(level="error", over="plan")
def in_pool(plan: Plan, address_book: AddressBook, address_offers: AddressOffers) -> Iterator[Finding]:
    """No thing and no gateway has a fixed address inside a pool that is handed out.

    The server that hands the pool out knows nothing of the plan: some day it gives the address to a guest.

    Source: DHCP server manuals: a fixed address inside a pool must be excluded, or moved out of it.
    """
    groups: dict[tuple[Path, int], list[Host]] = {}
    for host in address_offers.pooled:
        groups.setdefault((host.key, host.pool or 0), []).append(host)
    for (_, place), hosts in groups.items():
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


# A household guide: 192.168.1.0/24, .1 to .10 fixed, pool .11 to .254, fixed addresses .46 and .110 inside it.
_HOME = _NET.format("192.168.1.0/24") + _POOL.format("dhcp", "192.168.1.11", "192.168.1.254")

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
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def pool_outside(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A pool runs upward and lies inside one subnet, on addresses that machines can have.

    A pool that leaves its subnet hands out addresses that reach nobody. A range for containers or services may lie
    outside every subnet, since routes lead there, but it may not cross the edge of one.
    """
    if address_book.bad_subnets:
        return
    for pool in address_book.pools:
        found = _misplaced(address_book, pool)
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
