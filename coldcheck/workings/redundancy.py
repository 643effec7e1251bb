"""Redundancy: what fails with what, where somebody asks; VLAN by VLAN where switches keep them apart."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

from coldcheck import working
from coldcheck.plan.model import Plan

from .addresses import AddressBook
from .segments import Room, Segments
from .topology import Failure, Network, failures, switch_failures
from .vlans import VlanEnds

__all__ = ["weak_points"]

#: So many steps are walked at most to follow every VLAN through every loss; beyond, the cables alone are judged.
_MOST_STEPS = 5_000_000


@working(reads=("plan", "node", "storage", "appliance", "switch", "link", "uplink", "subnet"))
def weak_points(
    plan: Plan, network: Network, vlan_ends: VlanEnds, address_book: AddressBook
) -> list[Failure]:
    """Return what each switch and each link costs by failing, where [plan] says redundant = true.

    Where switches keep VLANs apart, a second way counts only if it carries the VLAN in which the addresses are. Where
    the plan says nothing of redundancy and has several switches: what those alone cost, by their cables; else nothing.
    """
    if plan.head.redundant is None:
        return switch_failures(plan, network) if len(plan.table("switch")) > 1 else []
    if not plan.head.redundant:
        return []
    if not vlan_ends.mended.keeping:
        return failures(plan, network)
    walker = _Walker(plan, network, vlan_ends.mended, address_book)
    return walker.failures() if walker.steps <= _MOST_STEPS else failures(plan, network)


class _Walker:
    """Walks from what is needed to all who need it, with each switch and each link left out in turn."""

    def __init__(self, plan: Plan, network: Network, segments: Segments, book: AddressBook) -> None:
        self.plan, self.network, self.segments = plan, network, segments
        self.wanting = plan.table("node") or plan.table("appliance")
        self.vlans = _vlans_of(book)
        place = {id(line): i for i, bundle in enumerate(network.bundles) for line in bundle.lines}
        self.near: dict[int, list[tuple[int, int]]] = {}
        for passage in segments.passages:
            at = place.get(id(passage.line), -1)
            self.near.setdefault(passage.a, []).append((passage.b, at))
            self.near.setdefault(passage.b, []).append((passage.a, at))
        self.own: dict[str, set[int]] = {}
        for number, room in enumerate(segments.rooms):
            if room.thing is not None and self._is_home(number, room):
                self.own.setdefault(room.thing.id, set()).add(number)
        self.links = [
            i for i, b in enumerate(network.bundles) if not self._at_a_node(b.a) and not self._at_a_node(b.b)
        ]
        self.steps = (len(network.passing) + len(self.links)) * max(len(segments.passages), 1)

    def _at_a_node(self, door: str) -> bool:
        name = door.partition(".")[0]
        return name not in self.network.passing and any(thing.id == name for thing in self.wanting)

    def _is_home(self, number: int, room: Room) -> bool:
        """Say whether a thing is to be reached in a room: in the VLANs of its addresses, else in all but management."""
        name = f"{room.thing.id}.{room.port}" if room.port else room.thing.id
        if self.network.at.get(name, name) not in self.network.doors.get(room.thing.id, ()):
            return False
        wanted = self.vlans.get(room.thing.id)
        kept = self.segments.vlans.get(self.segments.segment[number], [])
        return wanted is None or not kept or not wanted.isdisjoint(kept)

    def failures(self) -> list[Failure]:
        found: dict[Any, Failure] = {}
        for name, sources in self._needs():
            whole = self._reached(sources, None, -1)
            for at, thing, link in self._losses():
                if thing is not None and self.own.get(thing, set()) & sources:
                    continue  # the source itself
                lost = [
                    one
                    for one in self.wanting
                    if one.id in whole - self._reached(sources, thing, link) - {thing}
                ]
                if lost:
                    subject = self.plan.things[thing] if thing is not None else self.network.bundles[link]
                    failure = found.setdefault(at, Failure(subject, {}, {}))
                    failure.counts[name] = len(lost)
                    failure._losers[name] = partial(list, lost)
        return list(found.values())

    def _needs(self) -> Iterator[tuple[str, set[int]]]:
        for storage in self.plan.table("storage"):
            if own := self.own.get(storage.id):
                yield storage.id, own
        outside = {p.b: p.line.outside for p in self.segments.passages if p.line.b is None}
        if outside:
            yield " and ".join(dict.fromkeys(outside.values())), set(outside)

    def _losses(self) -> Iterator[tuple[Any, str | None, int]]:
        for name in sorted(self.network.passing):
            yield name, name, -1
        for place in self.links:
            yield place, None, place

    def _reached(self, sources: set[int], thing: str | None, link: int) -> set[str]:
        """Return who is reached from some rooms, frames going on only where things pass them on."""
        rooms = self.segments.rooms
        seen = set(sources)
        found: set[str] = set()
        for start in (queue := list(sources)):
            room = rooms[start]
            if room.thing is not None and room.thing.id == thing:
                continue
            if room.thing is not None and start in self.own.get(room.thing.id, ()):
                found.add(room.thing.id)
            if start not in sources and (room.thing is None or room.thing.id not in self.network.passing):
                continue
            for other, at in self.near.get(start, ()):
                if other not in seen and (at < 0 or at != link):
                    seen.add(other)
                    queue.append(other)
        return found


def _vlans_of(book: AddressBook) -> dict[str, set[int]]:
    """Return the VLANs of the addresses of each thing, where all their subnets say one."""
    found: dict[str, set[int]] = {}
    unsaid: set[str] = set()
    for host in book.hosts:
        block = book.subnets[host.subnet] if host.subnet is not None else None
        vlan = getattr(block.source, "vlan", None) if block is not None else None
        if vlan is None:
            unsaid.add(host.thing.id)
        else:
            found.setdefault(host.thing.id, set()).add(vlan)
    return {name: vlans for name, vlans in found.items() if name not in unsaid}
