"""Pools of addresses: each inside one subnet, free of fixed addresses, with room for all that wait for one."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Put, cases, rule
from coldcheck.lan.address import Prefix, text_of
from coldcheck.lan.dhcp import leasable
from coldcheck.lan.prefixes import usable_range
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Outside
from coldcheck.workings.addresses import (
    AddressBook,
    AddressOffers,
    Host,
    PoolRange,
    Stray,
    lost_hosts,
    span_text,
)
from coldcheck.workings.hosts import by_key, change_to, names_of, places_of, spans_of, unaddressed

_NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\n'
_LAN = _NET.format("10.20.0.0/24")
_GATE = _LAN + 'gateway = "{}"\n'
_POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'
_DHCP = _POOL.format("dhcp", "10.20.0.100", "10.20.0.199")
_SWITCH = '[[switch]]\nid = "sw"\nports = 8\n'
_MEANT = _NET.format("{}") + 'gateway = "fd00:2::1"\n' + _POOL.format("dhcp", "fd00:2::100", "fd00:2::1ff")
_MEANT += "".join(_NODE.format(f"n{n}", f"fd00:2::1{n}") for n in range(1, 6))


@rule(level="error", over="plan")
def fixed_inside(plan: Plan, address_book: AddressBook, address_offers: AddressOffers) -> Iterator[Finding]:
    """No thing and no gateway has a fixed address inside a pool that is handed out.

    The server that hands the pool out knows nothing of the plan: some day it gives the address to a guest.

    Source: DHCP server manuals: a fixed address inside a pool must be excluded, or moved out of it.
    """
    whole: dict[int, list[Host]] = {}
    for host in address_offers.pooled:
        whole.setdefault(host.pool or 0, []).append(host)
    for place, hosts in whole.items():
        pool = address_book.pools[place]
        if text := _narrowed(pool, hosts):
            yield _swallows(pool, hosts, text, *_moved_end(pool, text))
        elif len(by_key(hosts)) > 1:
            words, edits = change_to(address_offers, hosts, "move the pool, or narrow it")
            yield _swallows(pool, hosts, f"outside {spans_of(hosts)}", words, edits)
        else:
            yield _inside(pool, hosts, address_offers)


def _inside(pool: PoolRange, hosts: list[Host], offers: AddressOffers) -> Finding:
    words, edits = change_to(offers, hosts, "choose addresses outside the pool, or narrow the pool")
    return Finding(
        "error",
        hosts[0].thing,
        f"fixed address of {listed(names_of(hosts))} inside the {pool.use} pool {pool.text}: {span_text(hosts)}",
        found=span_text(hosts),
        allowed=f"outside {pool.text}",
        remedy=words,
        edits=edits,
        path=hosts[0].path,
        subjects=names_of(hosts),
        related=[(pool.path, "the pool")],
    )


def _narrowed(pool: PoolRange, hosts: list[Host]) -> str:
    """Return the range of a pool with one end moved behind several fixed addresses in it.

    "" where no such range is left that has half of the addresses: then the pool is hardly what has the slip.
    """
    if len(hosts) < 2 or pool.reversed:
        return ""
    low, high = min(host.value for host in hosts), max(host.value for host in hosts)
    first, last = max(((high + 1, pool.last), (pool.first, low - 1)), key=lambda ends: ends[1] - ends[0])
    if 2 * (last - first + 1) < pool.last - pool.first + 1:
        return ""
    return f"{text_of(pool.family, first)} .. {text_of(pool.family, last)}"


def _moved_end(pool: PoolRange, text: str) -> tuple[str, tuple[Edit, ...]]:
    first, _, last = text.partition(" .. ")
    low = last == text_of(pool.family, pool.last)
    end = f"start the pool at {first}" if low else f"end the pool at {last}"
    return f'{end}: range = "{text}"', (Put(pool.path, text),)


def _swallows(
    pool: PoolRange, hosts: list[Host], allowed: str, words: str, edits: tuple[Edit, ...]
) -> Finding:
    """Return one finding for a pool with several fixed addresses in it."""
    hosts = sorted(hosts, key=lambda host: host.role == "gateway")
    return Finding(
        "error",
        pool,
        f"the {pool.use} pool {pool.text} takes in the fixed addresses of {listed(names_of(hosts))}: {spans_of(hosts)}",
        found=pool.text,
        allowed=allowed,
        remedy=words,
        edits=edits,
        path=pool.path,
        subjects=names_of(hosts),
        related=places_of(hosts, all_of_them=True),
    )


# A household guide: 192.168.1.0/24, .1 to .10 fixed, pool .11 to .254, fixed addresses .46 and .110 inside it.
_HOME = _NET.format("192.168.1.0/24") + _POOL.format("dhcp", "192.168.1.11", "192.168.1.254")

_LOW = _GATE.format("10.20.0.1") + '[[pool]]\nfor = "dhcp"\nrange = "{} .. 10.20.0.199"\n'
_LOW += _NODE.format("n1 .. n5", "10.20.0.11 .. 10.20.0.15") + _NODE.format("store", "10.20.0.20")
_FAR = _LOW.replace("10.20.0.20", "10.20.0.60")
_HIGH = _LAN + '[[pool]]\nfor = "dhcp"\nrange = "10.20.0.20 .. {}"\n'
_HIGH += _NODE.format("a", "10.20.0.250") + _NODE.format("b", "10.20.0.252")

cases(
    fixed_inside,
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
             mended=_LAN + _POOL.format("dhcp", "10.20.0.104", "10.20.0.199")
             + _NODE.format("n1 .. n3", "10.20.0.101 .. 10.20.0.103")),
        Case(_HOME + _NODE.format("n1", "192.168.1.46") + _NODE.format("n2", "192.168.1.110"), at="n1 and n2",
             found="192.168.1.11 .. 192.168.1.254", edits=True),
        # half of the pool is left, and one less than half
        Case(_LAN + _DHCP + _NODE.format("n1", "10.20.0.120") + _NODE.format("n2", "10.20.0.149"), edits=True,
             mended=_LAN + _POOL.format("dhcp", "10.20.0.150", "10.20.0.199") + _NODE.format("n1", "10.20.0.120")
             + _NODE.format("n2", "10.20.0.149")),
        Case(_LAN + _DHCP + _NODE.format("n1", "10.20.0.120") + _NODE.format("n2", "10.20.0.150"), edits=True,
             mended=_LAN + _DHCP + _NODE.format("n1", "10.20.0.200") + _NODE.format("n2", "10.20.0.201")),
        # fixed addresses at both ends: no end of the pool cures both
        Case(_LAN + _DHCP + _NODE.format("n1", "10.20.0.110") + _NODE.format("n2", "10.20.0.190"), at="n1 and n2",
             found="10.20.0.100 .. 10.20.0.199", edits=True,
             mended=_LAN + _DHCP + _NODE.format("n1", "10.20.0.200") + _NODE.format("n2", "10.20.0.201")),
        Case(_LAN + _POOL.format("overlay", "10.20.0.100", "10.20.0.199") + _NODE.format("n1", "10.20.0.150"), at="n1"),
        Case(_GATE.format("10.20.0.150") + _DHCP, at="the gateway of 10.20.0.0/24", found="10.20.0.150"),
        # Several that one end of a pool could keep out are one slip, and it is the pool's.
        Case(_LOW.format("10.20.0.1"), at="n1 .. n5, store and the gateway", found="10.20.0.1 .. 10.20.0.199",
             edits=True, mended=_LOW.format("10.20.0.21")),
        Case(_HIGH.format("10.20.0.254"), at="a and b", found="10.20.0.20 .. 10.20.0.254", edits=True,
             mended=_HIGH.format("10.20.0.249")),
        Case(_FAR.format("10.20.0.10"), at="n1 .. n5 and store", found="10.20.0.10 .. 10.20.0.199", edits=True,
             mended=_FAR.format("10.20.0.61")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def outside(plan: Plan, address_book: AddressBook, strays: list[Stray]) -> Iterator[Finding]:
    """A pool runs upward and lies inside one subnet, on addresses that machines can have.

    A pool that leaves its subnet hands out addresses that reach nobody. A range for containers, services or an overlay
    may lie outside every subnet, since routes lead there, but it may not cross the edge of one.
    """
    if address_book.bad_subnets:
        return
    meant = {
        id(pool) for stray in strays for pool in stray.pools
    }  # `addresses.no_subnet` says that the prefix is the slip
    for pool in address_book.pools:
        found = _misplaced(address_book, pool) if id(pool) not in meant else None
        if found is not None:
            yield found


def _misplaced(book: AddressBook, pool: PoolRange) -> Finding | None:
    if pool.reversed:
        says = f"the {pool.use} pool ends before it begins"
        return Finding("error", pool, says, remedy=f'write "{pool.text}"',
                       edits=(Put(pool.path, pool.text),))  # fmt: skip
    inside = [book.subnets[i] for i in pool.subnets if pool.within(book.subnets[i].prefix)]
    if not inside:
        covers = all(pool.first <= p.network and p.last <= pool.last for p in _prefixes(book, pool))
        if (
            pool.use in ("containers", "services", "overlay") and covers
        ):  # apart, or around a whole subnet: `subnets.overlap` has that
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


def _prefixes(book: AddressBook, pool: PoolRange) -> list[Prefix]:
    return [book.subnets[i].prefix for i in pool.subnets]


cases(
    outside,
    clean=[
        _LAN + _DHCP,
        _LAN + _POOL.format("dhcp", "10.20.0.1", "10.20.0.254"),
        _LAN + _POOL.format("containers", "10.42.0.0", "10.42.255.255"),
        _LAN + _POOL.format("overlay", "10.42.0.0", "10.42.255.255"),
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
        Case(_LAN + _POOL.format("overlay", "10.20.0.128", "10.20.1.127"), at="crosses the edge of 10.20.0.0/24"),
        # A server note: of .25, .200 and 192.168.2.4 only the last lies outside 192.168.1.0/24.
        Case(_NET.format("192.168.1.0/24") + _POOL.format("reserved", "192.168.2.4", "192.168.2.4"), at="192.168.2.4"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def single(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A pool that is handed out has more than one address.

    One address written for a range is a pool all the same: the second machine that asks gets none. One address set
    aside, or one for a service, is in order.

    Source: common practice.
    """
    for pool in address_book.pools:
        if pool.first == pool.last and pool.use in _MANY:
            block = address_book.subnets[pool.subnets[0]].prefix if pool.subnets else None
            high = usable_range(block)[1] if block is not None else pool.last
            end = "first .. last" if high <= pool.last else f"{pool.text} .. {text_of(pool.family, high)}"
            says = f"the {pool.use} pool {pool.text} has one address"
            yield Finding("warning", pool, says, found="1 address", allowed="2 or more", path=pool.path,
                          remedy=f'write both ends: for example range = "{end}"')  # fmt: skip


#: Pools that many draw from.
_MANY = ("dhcp", "containers", "overlay")

_SINGLE = _LAN + '[[pool]]\nfor = "{}"\nrange = "{}"\n'

cases(
    single,
    clean=[
        _LAN + _POOL.format("dhcp", "10.20.0.100", "10.20.0.101"),
        _SINGLE.format("reserved", "10.20.0.5"),
        _SINGLE.format("services", "10.20.0.5"),
        _SINGLE.format("dhcp", "10.20.0.128/26"),  # `addresses.unreadable` has that one
    ],
    flagged=[
        Case(_SINGLE.format("dhcp", "10.20.0.100"), at="10.20.0.100", found="1 address", level="warning",
             mended=_LAN + _DHCP),
        Case(_SINGLE.format("containers", "10.42.0.0"), at="containers", level="warning"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def too_small(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """The DHCP pools have an address for everything that has a cable and none of its own.

    Formula: last - first + 1 of every pool, less the fixed addresses inside, >= things without an address.

    Source: DHCP server manuals: both ends of a pool count, excluded addresses do not.
    """
    pools = [pool for pool in address_book.pools if pool.use == "dhcp" and pool.family == 4]
    if not pools or address_book.bad_pools or all(pool.first == pool.last for pool in pools):
        return  # of single addresses `pools.single` speaks
    fixed = sorted(host.value for host in address_book.every() if host.pool is not None and host.family == 4)
    room = sum(_left(pool, fixed) for pool in pools)
    waiting = sum(1 for _ in unaddressed(plan, ("node", "storage", "appliance")))
    if waiting > room:
        says = f"{waiting} things with a cable have no address, and the DHCP pool has {room}"
        because = f"{sum(p.last - p.first + 1 for p in pools)} in the pool, fixed addresses inside taken off"
        yield Finding("warning", pools[0], says, found=str(waiting), allowed=str(room), because=because,
                      remedy="widen the pool")  # fmt: skip


def _left(pool: PoolRange, fixed: list[int]) -> int:
    """Return how many addresses of a pool no thing has for its own; ``fixed`` are all of these, sorted."""
    inside = fixed[bisect_left(fixed, pool.first) : bisect_right(fixed, pool.last)]
    return leasable(pool.first, pool.last, [(value, value) for value in inside])


_CABLED = '[[node]]\nid = "{}"\nport = "{}"\n'
_SMALL = _SWITCH + _LAN + _POOL.format("dhcp", "10.20.0.101", "10.20.0.104")

cases(
    too_small,
    clean=[_SMALL + _CABLED.format("n1 .. n4", "sw.1 .. sw.4")],
    flagged=[
        Case(_SMALL + _CABLED.format("n1 .. n5", "sw.1 .. sw.5"), found="5"),
        Case(_SMALL + _CABLED.format("n1 .. n4", "sw.1 .. sw.4") + _NODE.format("f", "10.20.0.101"), found="4",
             mended=_SMALL + _CABLED.format("n1 .. n4", "sw.1 .. sw.4") + _NODE.format("f", "10.20.0.99")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def by_a_stranger(plan: Plan, address_book: AddressBook, lost_gateways: list[Host]) -> Iterator[Finding]:
    """What hands out a DHCP pool has an address in the subnet of the pool.

    A machine without an address calls for one by broadcast, which ends at the edge of its network; and the server is
    asked again later at the address that it had. Where a router relays such calls the server may stand elsewhere; say
    so by a waiver. Of something outside without a stated address nothing is judged.

    Source: RFC 2131 sections 4.1 and 4.4, RFC 1542 for relays (both from memory).
    """
    book = address_book
    pools = [p for p in book.pools if p.use == "dhcp" and p.family == 4 and p.pool.by and len(p.subnets) == 1]
    if not pools or book.bad:
        return
    homes: dict[str, set[int | None]] = {}
    lost = {host.thing.id for host in lost_hosts(book)}  # `addresses.no_subnet` has the address
    routerless = {gate.subnet for gate in lost_gateways}  # `gateways.nobody` asks for that address
    for host in (*book.hosts, *book.outside):
        if host.family == 4:
            homes.setdefault(host.thing.id, set()).add(host.subnet)
    for pool in pools:
        server = plan.things.get(pool.pool.by or "")
        own = homes.get(pool.pool.by or "", set())
        if (
            server is None
            or pool.subnets[0] in own
            or (not own and _may_have_one(server))
            or server.id in lost
        ):
            continue
        if pool.subnets[0] in routerless and own:
            continue
        block = book.subnets[pool.subnets[0]]
        has = "has no IPv4 address" if not own else "has no address there"
        yield Finding(
            "error",
            pool,
            f"{server.id} hands out the dhcp pool {pool.text} of {block.text}, but {has}",
            found=", ".join(book.subnets[i].text for i in sorted(own - {None}, key=str) if i is not None)
            or None,
            allowed=block.text,
            remedy=f"give {server.id} an address in {block.text}, or name what is in it",
            path=(*pool.pool.path, "by"),
            related=[(server.path, server.id)],
        )


def _may_have_one(server: Any) -> bool:
    """Say whether something may have an address that the plan does not state: it is not ours."""
    return isinstance(server, Outside)


_BY = _LAN + _NET.format("10.30.0.0/24") + _DHCP + 'by = "{}"\n'

cases(
    by_a_stranger,
    clean=[
        _BY.format("n1") + _NODE.format("n1", "10.20.0.2"),
        _BY.format("n1") + '[[node]]\nid = "n1"\naddress = ["10.30.0.2", "10.20.0.2"]\n',
        _BY.format("modem") + '[[outside]]\nid = "modem"\n',
        _BY.format("modem") + '[[outside]]\nid = "modem"\naddress = "10.20.0.1"\n',
        _BY.format("nobody"),  # `references.unknown` has that one
        _BY.format("n1") + _NODE.format("n1", "10.21.0.2"),  # `addresses.no_subnet` has that one
        _LAN + _POOL.format("containers", "10.42.0.0", "10.42.255.255") + 'by = "n1"\n'
        + _NODE.format("n1", "10.20.0.2"),
    ],
    flagged=[
        Case(_BY.format("n1") + _NODE.format("n1", "10.30.0.2"), at="n1 hands out", found="10.30.0.0/24", level="error",
             mended=_BY.format("n1") + _NODE.format("n1", "10.20.0.2")),
        Case(_BY.format("n1") + '[[node]]\nid = "n1"\n', at="has no IPv4 address"),
        Case(_BY.format("modem") + '[[outside]]\nid = "modem"\naddress = "10.30.0.1"\n', at="modem"),
    ],
)  # fmt: skip
