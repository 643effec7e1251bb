"""Addresses in words: grouped by the key that states them, named, and with what could be written instead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck import Put
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed

from .addresses import AddressBook, AddressOffers, Block, Host, span_text

__all__ = [
    "by_key", "cannot_choose", "change_to", "handed_out", "mac_of", "names_of", "odd_lengths", "places_of",
    "same_subnet", "shared_paths", "spans_of", "unaddressed",
]  # fmt: skip


def by_key(hosts: Iterable[Host]) -> list[list[Host]]:
    """Return addresses grouped by the key that states them: a span that is wrong is one slip."""
    groups: dict[Path, list[Host]] = {}
    for host in hosts:
        groups.setdefault(host.key, []).append(host)
    return list(groups.values())


def shared_paths(book: AddressBook) -> dict[Path, int]:
    """Return how many addresses of things are written at each path: a span has one text for all its members."""
    counts: dict[Path, int] = {}
    for host in book.hosts:
        path = host.path
        counts[path] = counts.get(path, 0) + 1
    return counts


def names_of(hosts: Iterable[Host]) -> tuple[str, ...]:
    """Return what has these addresses, each name once, in their order."""
    return tuple(dict.fromkeys(host.name for host in hosts))


def spans_of(hosts: list[Host]) -> str:
    """Return addresses as they are written, key by key."""
    shown = list(dict.fromkeys(span_text(group) for group in by_key(hosts)))
    return ", ".join(shown[:6]) + (f" and {len(shown) - 6} more" if len(shown) > 6 else "")


def places_of(hosts: list[Host], all_of_them: bool = False) -> list[tuple[Path, str]]:
    """Return the places of all addresses, or of all but those of the first key, as they are related to a finding."""
    groups = by_key(hosts)[0 if all_of_them else 1 :][:8]
    return [(group[0].path, f"{listed(names_of(group))}: {span_text(group)}") for group in groups]


def change_to(offers: AddressOffers, hosts: Iterable[Host], otherwise: str) -> tuple[str, tuple[Edit, ...]]:
    """Return what could be written instead, in words, and as edits where each key may be changed as a whole.

    ``otherwise`` are the words where no free address is known.
    """
    paths = list(dict.fromkeys(host.path for host in hosts))
    found = [offers.offers[path] for path in paths if path in offers.offers]
    if not found:
        return otherwise, ()
    words = ", ".join(f'{listed(names_of(offer.hosts))} could have "{offer.text}"' for offer in found[:4])
    exact = len(found) == len(paths) and all(offer.exact for offer in found)
    return f"free: {words}", tuple(Put(offer.path, offer.text) for offer in found) if exact else ()


def unaddressed(plan: Plan, tables: tuple[str, ...]) -> Iterator[Any]:
    """Yield the things of these tables that have a data cable and no address, neither their own nor at a port."""
    for table in tables:
        for thing in plan.table(table):
            if thing.address or any(port.address for port in thing.port_):
                continue
            if any(port.links for port in plan.ports.get(thing.id, ())):
                yield thing


def mac_of(plan: Plan, thing: Any, port: Any | None) -> str:
    """Return the hardware address behind an address of a thing: that of its port, its own, or of its only cable.

    ``port`` is the port that states the address, None where the thing does. "" where it is not known which port it is.
    """
    own = (port.mac if port is not None else None) or thing.mac
    if own or port is not None:
        return own or ""
    ends = [end for end in plan.ports.get(thing.id, ()) if end.links and not end.apart]
    specs = [end.spec for end in ends] or list(thing.port_)
    return (specs[0].mac or "") if len(specs) == 1 else ""


def handed_out(plan: Plan, book: AddressBook) -> bool:
    """Say whether anything hands addresses out: a DHCP pool of the plan, or something that serves DHCP."""
    tables = ("node", "storage", "appliance", "switch", "outside")
    return any(pool.use == "dhcp" for pool in book.pools) or any(
        "dhcp" in thing.serves for table in tables for thing in plan.table(table)
    )


#: The one length in which machines choose addresses for themselves [bit]; RFC 4862, RFC 7421.
CHOOSING = 64
#: Lengths of links between two routers and of single addresses, RFC 6164 [bit].
NO_LAN = (127, 128)


def odd_lengths(book: AddressBook) -> list[Block]:
    """Return the IPv6 subnets in which machines choose no address for themselves, those between two routers aside."""
    return [
        block
        for block in book.subnets
        if block.prefix.family == 6 and block.prefix.length not in (CHOOSING, *NO_LAN)
    ]


def cannot_choose(plan: Plan, book: AddressBook) -> list[Any]:
    """Return the things without an address that would choose one, had a subnet of the plan the length for it.

    None where another way is open: IPv4, DHCP, or an IPv6 subnet of that length.
    """
    odd = odd_lengths(book)
    six = all(block.prefix.family == 6 for block in book.subnets)
    if not odd or not six or handed_out(plan, book) or any(b.prefix.length == CHOOSING for b in book.subnets):
        return []
    return list(unaddressed(plan, ("node", "storage")))


def same_subnet(plan: Plan, book: AddressBook) -> Iterator[list[Host]]:
    """Yield the addresses that a thing has in one subnet at different ports: the first one of each port.

    Ports of one bond are one, and so are the ports of what passes frames on between them; management ports are none.
    """
    found: dict[tuple[int, int], list[Host]] = {}
    for host in book.hosts:
        inner = host.port is not None and host.subnet is not None and host.thing.table != "switch"
        if inner and host.port.for_ != "management" and not host.thing.bridges:
            found.setdefault((id(host.thing), host.subnet or 0), []).append(host)
    for hosts in found.values():
        if len(hosts) > 1:
            bonds = _bonds(plan, hosts[0].thing)
            first = {bonds.get(host.port.id, host.port.id): host for host in reversed(hosts)}
            if len(first) > 1:
                kept = {id(host) for host in first.values()}
                yield [host for host in hosts if id(host) in kept]


def _bonds(plan: Plan, thing: Any) -> dict[str, tuple[str]]:
    """Return the bond of each port that belongs to one, by the id of the port."""
    bonds: dict[str, tuple[str]] = {}
    for port in plan.ports.get(thing.id, ()):
        name = next((line.bond for line in port.links if line.bond), port.bond and f"{thing.id}.{port.bond}")
        if name:
            bonds[port.id] = (name,)
    return bonds
