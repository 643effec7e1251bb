"""Addresses in words: grouped by the key that states them, named, and with what could be written instead."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from coldcheck import Put
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed

from .addresses import AddressOffers, Host, span_text

__all__ = ["by_key", "change_to", "names_of", "places_of", "spans_of", "unaddressed"]


def by_key(hosts: Iterable[Host]) -> list[list[Host]]:
    """Return addresses grouped by the key that states them: a span that is wrong is one slip."""
    groups: dict[Path, list[Host]] = {}
    for host in hosts:
        groups.setdefault(host.key, []).append(host)
    return list(groups.values())


def names_of(hosts: Iterable[Host]) -> tuple[str, ...]:
    """Return what has these addresses, each name once, in their order."""
    return tuple(dict.fromkeys(host.name for host in hosts))


def spans_of(hosts: list[Host]) -> str:
    """Return addresses as they are written, key by key."""
    shown = [span_text(group) for group in by_key(hosts)]
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
