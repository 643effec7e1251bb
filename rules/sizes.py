"""Sizes of subnets: room for what is asked, the length that machines need, and prefixes drawn at random."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Open, Put, cases, rule
from coldcheck.lan.address import WIDTH, Prefix
from coldcheck.lan.prefixes import length_for, overlaps, usable
from coldcheck.lan.special import (
    IMPOSSIBLE,
    UNWISE,
    is_undefined_local,
    is_unique_local,
    picked_global_id,
    special,
)
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, Block, Stray
from coldcheck.workings.hosts import CHOOSING, cannot_choose, odd_lengths
from coldcheck.workings.room import FreePrefixes, Layout

_NODE = '[[node]]\nid = "{}"\naddress = "{}"\n'
_NET = '[[subnet]]\nprefix = "{}"\n'
_ASKED = _NET + "hosts = {}\n"
_POOL = '[[pool]]\nfor = "{}"\nrange = "{} .. {}"\n'
_SWITCH = '[[switch]]\nid = "sw"\nports = 8\n'
_CABLED = '[[node]]\nid = "{}"\nport = "{}"\n'


@rule(level="error", over="subnet")
def blank(subnet: Any, plan: Plan) -> Iterator[Finding]:
    """A subnet says its prefix.

    Until it does, no address can be said to lie in it. One that says how many `hosts` it must have room for is carved
    out of the plan's `block` by `coldcheck fill`.
    """
    if "prefix" in subnet.stated:
        return
    name = subnet.title or (f"VLAN {subnet.vlan}" if subnet.vlan is not None else "a subnet")
    hosts = "" if subnet.hosts is None else f" for {subnet.hosts} hosts"
    lacks = [] if subnet.hosts is not None else ["hosts"]
    lacks += [] if plan.head.block else ["[plan] block"]
    how = (
        f"fill carves it, once {listed(lacks)} is said"
        if lacks
        else f"fill carves it out of {plan.head.block}"
    )
    yield Open("error", subnet, f"{name}{hosts} has no prefix yet", missing=[f"prefix of {name}"],
               remedy=f'write prefix = "..."; {how}', path=(*subnet.path, "hosts") if subnet.hosts else subnet.path,
               subjects=(name,))  # fmt: skip


cases(
    blank,
    clean=[_NET.format("10.20.0.0/24"), _ASKED.format("10.20.0.0/24", 20)],
    flagged=[
        Case('[plan]\nblock = "10.20.0.0/16"\n[[subnet]]\nhosts = 30\ntitle = "cameras"\n', at="cameras", kind="open",
             mended=_ASKED.format("10.20.0.0/27", 30)),
        Case("[[subnet]]\nvlan = 20\n", at="VLAN 20", kind="open"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def room(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A subnet has room for the hosts that are asked of it, its gateway among them.

    Pools for services, containers and overlay networks are taken off, since no host has an address of theirs; a DHCP
    pool is not, since hosts have them.

    Formula: 2^(32 - length) - 2 for IPv4, 2 for a /31, less pools set aside, >= hosts.

    Source: RFC 1122 section 3.2.1.3; RFC 3021 for /31.
    """
    book = address_book
    asked = [i for i, block in enumerate(book.subnets) if getattr(block.source, "hosts", None) is not None]
    if not asked:
        return
    free, layout = FreePrefixes(book), Layout(book)
    for place in asked:
        block = book.subnets[place]
        hosts = getattr(block.source, "hosts", 0)
        left = layout.room(place)
        if left >= hosts:
            continue
        aside = usable(block.prefix) - left
        remedy, edits = _larger(layout, free, place, hosts + aside)
        yield Finding(
            "error",
            block,
            f"subnet {block.text} has room for {left} hosts, and {hosts} are asked",
            found=str(left),
            allowed=f"{hosts} or more",
            because=f"{usable(block.prefix)} usable, {aside} of them in pools set aside" if aside else "",
            remedy=remedy,
            edits=edits,
            path=block.path,
        )


def _larger(layout: Layout, free: FreePrefixes, place: int, hosts: int) -> tuple[str, tuple[Edit, ...]]:
    """Return the smallest prefix with room for so many: around this one where that is free, else elsewhere."""
    block = layout.book.subnets[place]
    family = block.prefix.family
    length = length_for(family, hosts)
    if length is None:
        return "ask for fewer hosts", ()
    length = length if family == 4 else min(length, CHOOSING)
    shift = WIDTH[family] - length
    wide = Prefix(family, block.prefix.network >> shift << shift, length)
    if layout.alone(block, wide):
        typed = any(host.length is not None for host in layout.hosts.get(place, ()))
        return f'write prefix = "{wide}"', () if typed else (Put(block.path, str(wide)),)
    offer = free.take(block.prefix, length)
    return (f"a /{length} is enough" + (f"; free: {offer}" if offer else f", but {wide} is not free")), ()


cases(
    room,
    clean=[
        # Router manuals: a /24 has 254 hosts, a /28 14, a /30 two; RFC 3021: a /31 two.
        _ASKED.format("10.20.0.0/24", 254),
        _ASKED.format("10.20.0.0/28", 14),
        _ASKED.format("10.20.0.0/30", 2),
        _ASKED.format("10.20.0.0/31", 2),
        _ASKED.format("10.20.0.0/24", 254) + _POOL.format("dhcp", "10.20.0.100", "10.20.0.199"),
        _ASKED.format("10.20.0.0/24", 154) + _POOL.format("services", "10.20.0.100", "10.20.0.199"),
        _ASKED.format("fd5a:91c3:7e02::/64", 1000000000),
    ],
    flagged=[
        Case(_ASKED.format("10.20.0.0/24", 255), found="254", level="error", edits=True,
             mended=_ASKED.format("10.20.0.0/23", 255)),
        # A quiz with its solution: the smallest subnet for 12 hosts is a /28.
        Case(_ASKED.format("192.168.10.16/29", 12), found="6", edits=True,
             mended=_ASKED.format("192.168.10.16/28", 12)),
        Case(_ASKED.format("10.20.0.0/31", 3), found="2", mended=_ASKED.format("10.20.0.0/29", 3)),
        Case(_ASKED.format("10.20.0.0/25", 200) + _NET.format("10.20.0.128/25"), found="126",
             mended=_ASKED.format("10.20.1.0/24", 200) + _NET.format("10.20.0.128/25")),
        Case(_ASKED.format("10.20.0.0/24", 155) + _POOL.format("overlay", "10.20.0.100", "10.20.0.199"), found="154",
             mended=_ASKED.format("10.20.0.0/23", 155) + _POOL.format("overlay", "10.20.0.100", "10.20.0.199")),
        Case(_ASKED.format("10.20.0.0/25", 200) + _NODE.format("n1", "10.20.0.11/25"), found="126",
             mended=_ASKED.format("10.20.0.0/24", 200) + _NODE.format("n1", "10.20.0.11/24")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def length(plan: Plan, address_book: AddressBook, strays: list[Stray]) -> Iterator[Finding]:
    """A subnet has more than one address, and an IPv6 subnet is a /64, or a /127 between two routers.

    In IPv6 the last 64 bits are the machine's own. In a subnet of another length no machine chooses an address for
    itself, and some equipment treats it badly. Where nothing else gives things an address, they get none.

    Source: RFC 4291 section 2.5.1; RFC 4862 section 5.5.3 (from memory); RFC 7421; RFC 6164 for the /127.
    """
    book = address_book
    told = {id(stray.block) for stray in strays}  # `addresses.no_subnet` says that the prefix is the slip
    told |= {id(block) for block in book.subnets if _elsewhere(block)}  # `subnets.special_range` has those
    for block in book.subnets:
        if block.prefix.length == WIDTH[block.prefix.family] and id(block) not in told:
            yield Finding("warning", block, f"subnet {block.text} holds a single address: nobody in it has a neighbour",
                          found=f"/{block.prefix.length}", path=block.path,
                          remedy="write the length of the network that it stands in")  # fmt: skip
    odd = [block for block in odd_lengths(book) if id(block) not in told and not block.prefix.host_bits_set]
    nested = _nested(book) if odd else set()
    waiting = tuple(str(thing.id) for thing in cannot_choose(plan, book))
    if not odd:
        return
    layout, places = Layout(book), {id(block): i for i, block in enumerate(book.subnets)}
    for block in odd:
        if id(block) in nested:
            continue  # `subnets.overlap` has it
        says = f"subnet {block.text} is no /{CHOOSING}"
        says += f", so no address can be chosen by {listed(waiting)}" if waiting else ""
        right, edits = _chosen(layout, places[id(block)])
        yield Finding("error" if waiting else "warning", block, says, found=f"/{block.prefix.length}",
                      allowed=f"/{CHOOSING}", remedy=f'write prefix = "{right}"', edits=edits, path=block.path,
                      subjects=waiting or (block.text,))  # fmt: skip


def _elsewhere(block: Block) -> bool:
    """Say whether a subnet lies in a range that is registered for something else."""
    row = special(block.prefix.family, block.prefix.network)
    odd = row is not None and row.prefix.length <= block.prefix.length
    return odd and row is not None and (row.kind in UNWISE or row.kind in IMPOSSIBLE)


def _nested(book: AddressBook) -> set[int]:
    """Return the IPv6 subnets that share addresses with another, by identity."""
    rows = [(6, b.prefix.network, b.prefix.last, b) for b in book.subnets if b.prefix.family == 6]
    return {id(block) for pair in overlaps(rows, most=1000) for block in pair}


def _chosen(layout: Layout, place: int) -> tuple[Prefix, tuple[Edit, ...]]:
    """Return the /64 that holds what lies in a subnet; an edit where it holds all of it, and nothing else."""
    block, hosts = layout.book.subnets[place], layout.hosts.get(place, [])
    values = [host.value for host in hosts]
    values += [value for pool in layout.pools.get(place, ()) for value in (pool.first, pool.last)]
    first = min(values, default=block.prefix.network)
    right = Prefix(6, first >> CHOOSING << CHOOSING, CHOOSING)
    whole = all(right.contains(6, value) for value in values) and not any(host.length for host in hosts)
    return right, (Put(block.path, str(right)),) if whole and layout.alone(block, right) else ()


cases(
    length,
    clean=[
        _NET.format("fd5a:91c3:7e02::/64"),
        _NET.format("fd5a:91c3:7e02::/127") + _NODE.format("r1 .. r2", "fd5a:91c3:7e02:: .. fd5a:91c3:7e02::1"),
        _NET.format("10.20.0.0/31"),
        _NET.format("::1/128") + _NET.format("fe80::/10"),  # `subnets.special_range` has those
        _NET.format("10.20.0.0/9"),
        _NET.format("fd5a:91c3:7e02:1::/48"),  # `subnets.host_bits` has that one
        _NET.format("fd5a:91c3:7e02::/48") + _NET.format("fd5a:91c3:7e02:1::/64"),  # `subnets.overlap` has that one
        _SWITCH + _NET.format("fd5a:91c3:7e02::/64") + _CABLED.format("n1", "sw.1"),
    ],
    flagged=[
        Case(_NET.format("10.20.0.11/32"), at="single address", level="warning"),
        Case(_NET.format("fd5a:91c3:7e02::1/128"), at="single address", level="warning"),
        Case(_NET.format("fd5a:91c3:7e02::/80"), found="/80", level="warning", edits=True,
             mended=_NET.format("fd5a:91c3:7e02::/64")),
        Case(_NET.format("fd5a:91c3:7e02::/48") + _NODE.format("n1", "fd5a:91c3:7e02:5::11"), found="/48", edits=True,
             mended=_NET.format("fd5a:91c3:7e02:5::/64") + _NODE.format("n1", "fd5a:91c3:7e02:5::11")),
        Case(_NET.format("fd5a:91c3:7e02::/126") + _NODE.format("n1", "fd5a:91c3:7e02::1"), found="/126",
             level="warning"),
        Case(_SWITCH + _NET.format("fd5a:91c3:7e02::/80") + _CABLED.format("n1 .. n3", "sw.1 .. sw.3"), at="n1",
             level="error", mended=_SWITCH + _NET.format("fd5a:91c3:7e02::/64")
             + _CABLED.format("n1 .. n3", "sw.1 .. sw.3")),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def unique_local(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """An IPv6 prefix of one's own lies in fd00::/8, with 40 bits behind it that were drawn at random.

    Two networks that are joined one day keep their addresses if each has drawn; `fd00::/48` is what everybody picks who
    does not. Only ids that nobody draws are told: zeros, one digit or one octet throughout, digits that count up.

    Formula: 1 - exp(-n^2 / 2^41), the odds that any two of n networks that draw meet: 5 in 10^11 for ten of them.

    Source: RFC 4193 sections 3.1 and 3.2.
    """
    sites: dict[tuple[int, str], list[Block]] = {}
    for block in address_book.subnets:
        if (
            block.prefix.family == 6
            and block.prefix.length >= _SITE
            and is_unique_local(block.prefix.network)
        ):
            half = is_undefined_local(block.prefix.network)
            why = (
                "lies in fc00::/8, whose use is not defined"
                if half
                else picked_global_id(block.prefix.network)
            )
            if why:
                sites.setdefault((block.prefix.network >> 128 - _SITE, why), []).append(block)
    for (site, why), blocks in sites.items():
        half = "fc00" in why
        level: Level = "warning" if half else "note"
        whole = Prefix(6, site << 128 - _SITE, _SITE)
        nets = listed(block.text for block in blocks)
        yield Finding(
            level,
            blocks[0],
            f"subnet {nets}: the prefix {whole} {why}"
            if half
            else f"subnet {nets}: the global id of {whole} {why}",
            found=str(whole),
            allowed="fd, then 40 random bits",
            remedy="write ten random hexadecimal digits behind fd",
            path=blocks[0].path,
            subjects=tuple(block.text for block in blocks),
            related=_others(blocks),
        )


#: The length of the prefix of a site, RFC 4193 section 3.1 [bit].
_SITE = 48


def _others(blocks: list[Block]) -> list[tuple[Any, str]]:
    return [(block.path, f"subnet {block.text} as well") for block in blocks[1:5]]


cases(
    unique_local,
    clean=[
        _NET.format("fd5a:91c3:7e02::/64"),
        _NET.format("fd00:0:1::/64"),  # not what everybody picks
        _NET.format("fd00::/8"),  # no site yet; `sizes.length` has that one
        _NET.format("fd12:3456:789b::/64"),
        _NET.format("2001:470:1::/64"),
        _NET.format("10.20.0.0/24"),
    ],
    flagged=[
        Case(_NET.format("fd00::/64"), found="fd00::/48", level="note", mended=_NET.format("fd5a:91c3:7e02::/64")),
        Case(_NET.format("fd00:0:0:1::/64") + _NET.format("fd00:0:0:2::/64"), at="fd00:0:0:1::/64 and fd00:0:0:2::/64"),
        Case(_NET.format("fd11:1111:1111::/64"), at="one digit throughout"),
        Case(_NET.format("fdab:abab:abab::/64"), at="one octet throughout"),
        Case(_NET.format("fd12:3456:789a::/64"), at="counts up", level="note"),
        Case(_NET.format("fc5a:91c3:7e02::/64"), found="fc5a:91c3:7e02::/48", level="warning",
             mended=_NET.format("fd5a:91c3:7e02::/64")),
    ],
)  # fmt: skip
