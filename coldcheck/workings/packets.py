"""Packets: the longest that each machine sends, against what its neighbours take and its switches pass on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import frames
from coldcheck.plan.model import Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.tables import Subnet, Switch

from .addresses import AddressBook
from .islands import Island
from .placing import Placement
from .reaching import OutOfReach
from .segments import Room, Segments
from .topology import Network

__all__ = ["Sender", "Talk", "talks"]


class Sender(msgspec.Struct):
    """Who sends on a segment: a thing by one of its ports, or by an uplink what lies outside.

    ``name`` is what it is called: the port, where those of one thing differ; ``at`` is the thing, or the entry of the
    uplink; ``mtu`` [octet] is the longest IP packet it sends there, ``path`` where the plan says so, else empty.
    """

    name: str
    at: Any
    mtu: int
    path: Path


class Talk(msgspec.Struct):
    """Everything that talks to each other without a router: one segment, or several where leaks join them.

    ``senders`` are those that send on it; ``switches`` pass their frames on, and to ``tagging``, some of these by id,
    they have a tag. ``subnets`` are those on it that state an MTU.
    """

    senders: list[Sender]
    switches: list[Switch]
    tagging: set[str]
    subnets: list[Subnet]

    @property
    def stated(self) -> int | None:
        """The longest packet [octet] by the word of its subnets; None where they state none, or several."""
        words = {subnet.mtu for subnet in self.subnets}
        return words.pop() if len(words) == 1 else None

    @property
    def usual(self) -> int:
        """The longest packet [octet] as subnets state it, else of most senders, the longer one of as many."""
        if self.stated is not None:
            return self.stated
        counts: dict[int, int] = {}
        for sender in self.senders:
            counts[sender.mtu] = counts.get(sender.mtu, 0) + 1
        return max(counts, key=lambda mtu: (counts[mtu], mtu), default=frames.MTU)

    def frame(self, switch: Switch) -> int:
        """The longest frame [octet] of most senders, as it comes to a switch."""
        return frames.frame_of(self.usual, int(switch.id in self.tagging))


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink", "subnet"))
def talks(
    plan: Plan,
    segments: Segments,
    stands: dict[int, list[int]],
    network: Network,
    address_book: AddressBook,
    placement: Placement,
    out_of_reach: list[OutOfReach],
    cut_offs: list[Island],
) -> list[Talk]:
    """Return every segment on which somebody states an MTU, with all that is on it.

    A machine sends what the subnet there states, no more than a port is said to take that has this subnet with others;
    else what its port states, else what it states itself, else 1500 octets, as Ethernet does (common practice). A
    switch is on a segment by its rooms; a machine by its ports, with a tag or without. What passes frames on, and what
    lies outside, counts where it states one. What is told to be in a wrong network is left out: it is to go elsewhere.
    """
    tables = ("node", "storage", "appliance")
    if not any(_states(t) for table in tables for t in plan.table(table)) and not _others_state(plan):
        return []
    found: dict[int, Talk] = {}
    astray = _astray(address_book, placement, cut_offs)
    beyond = {lost.router for lost in out_of_reach}
    stated = _stated(address_book, segments, stands, astray)
    for room, number in zip(segments.rooms, segments.segment, strict=True):
        subnets = stated.get(number, [])
        talk = found.setdefault(number, Talk([], [], set(), subnets))
        if isinstance(room.thing, Switch):
            if not room.port and all(room.thing is not known for known in talk.switches):
                talk.switches.append(room.thing)
        elif room.thing is not None:
            talk.senders += _senders(plan, room, room.thing.id in network.passing, astray, subnets)
    for passage in segments.passages:
        talk, line = found[segments.segment[passage.a]], passage.line
        if passage.tag:
            talk.tagging |= {end.thing.id for end in (line.a, line.b) if end is not None}
        if line.b is None and line.entry.mtu and line.outside not in beyond:
            # it may carry more than this subnet asks
            mtu = min(line.entry.mtu, talk.stated or line.entry.mtu)
            talk.senders.append(Sender(line.outside, line.entry, mtu, (*line.entry.path, "mtu")))
    return [talk for talk in found.values() if any(sender.path for sender in talk.senders)]


def _astray(book: AddressBook, placement: Placement, cut_offs: list[Island]) -> set[tuple[str, str]]:
    """Return the ports, by thing and id, whose addresses do not belong where they are; "" is any port of the thing."""
    wrong = [host for group in placement.misplaced for host in group.hosts]
    shared = {id(block) for island in cut_offs for block in island.shares}
    # a port with an address of its own may be plugged in wrongly there
    apart = {i for i, block in enumerate(book.subnets) if id(block) in shared}
    wrong += [
        h for h in book.hosts if h.subnet in placement.torn or (h.subnet in apart and h.port is not None)
    ]
    return {(host.thing.id, host.port.id if host.port is not None else "") for host in wrong}


def _stated(
    book: AddressBook, segments: Segments, stands: dict[int, list[int]], astray: set[tuple[str, str]]
) -> dict[int, list[Subnet]]:
    """Return, by segment, the subnets on it that state an MTU: by their VLAN, and by where most addresses stand."""
    places = {i: s for i, b in enumerate(book.subnets) if isinstance(s := b.source, Subnet) and s.mtu}
    crowds: dict[int, Counter[int]] = {}
    for host in book.hosts if places else ():
        port = host.port.id if host.port is not None else ""
        if host.subnet in places and not astray & {(host.thing.id, port), (host.thing.id, "")}:
            crowds.setdefault(host.subnet or 0, Counter()).update(stands[id(host)])
    by_vlan: dict[int, list[int]] = {}
    for number, vlans in segments.vlans.items() if places else ():
        for vlan in vlans:
            by_vlan.setdefault(vlan, []).append(number)
    found: dict[int, list[Subnet]] = {}
    for place, subnet in places.items():
        crowd = crowds.get(place, Counter())
        most = max(crowd.values(), default=0)
        homes = [number for number, count in crowd.items() if count == most]
        for number in dict.fromkeys(homes + by_vlan.get(subnet.vlan or 0, [])):
            found.setdefault(number, []).append(subnet)
    return found


def _senders(
    plan: Plan, room: Room, passing: bool, astray: set[tuple[str, str]], subnets: list[Subnet]
) -> Iterator[Sender]:
    """Yield what a thing sends into one of its rooms."""
    thing = room.thing
    ports = plan.ports.get(thing.id, ())
    cabled = [port for port in ports if port.links]
    alike = len({port.mtu for port in cabled}) < 2  # else it is a port that is meant
    subnet = max(subnets, key=lambda s: s.mtu or 0, default=None)
    for port in ports:
        here = passing or room.port == (port.bond or port.id)
        here = here and (thing.id, port.id) not in astray and (thing.id, "") not in astray
        if here and port.links and (port.mtu or not passing):
            name = thing.id if alike else port.name
            if subnet is not None and subnet.mtu and not _own_word(port, subnet.mtu, len(cabled) == 1):
                yield Sender(name, thing, subnet.mtu, (*subnet.path, "mtu"))
                continue
            holder = port.spec if port.spec.mtu else thing
            path = (*holder.path, "mtu") if port.mtu else ()
            yield Sender(name, thing, port.mtu or frames.MTU, path)


def _own_word(port: PortPoint, mtu: int, only: bool) -> bool:
    """Say whether what is said of a port stands against what its subnet states.

    Less always does: no network on a port has longer packets than the port. More does where it can be meant for
    nothing but this subnet: the port has no other, and it is the only one, or the word is its own.
    """
    if port.mtu is None:
        return False
    return port.mtu < mtu or (not port.tagged and (only or port.spec.mtu is not None))


def _others_state(plan: Plan) -> bool:
    return any(entry.mtu for table in ("uplink", "subnet") for entry in plan.table(table))


def _states(thing: Any) -> bool:
    return thing.mtu is not None or any(port.mtu is not None for port in thing.port_)
