"""Packets: the longest that each machine sends, against what its neighbours take and its switches pass on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import frames
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.tables import Switch

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
    they have a tag.
    """

    senders: list[Sender]
    switches: list[Switch]
    tagging: set[str]

    @property
    def usual(self) -> int:
        """The longest packet [octet] of most senders, the longer one where as many send another."""
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
    network: Network,
    address_book: AddressBook,
    placement: Placement,
    out_of_reach: list[OutOfReach],
    cut_offs: list[Island],
) -> list[Talk]:
    """Return every segment on which somebody states an MTU, with all that is on it.

    A machine that states none sends 1500 octets, as Ethernet does (common practice). A switch is on a segment by its
    rooms; a machine by its ports, with a tag or without. What passes frames on, and what lies outside, counts where it
    states one. What is told to be in a wrong network is left out: it is to go elsewhere.
    """
    tables = ("node", "storage", "appliance")
    if not any(_states(t) for table in tables for t in plan.table(table)) and not _uplinks(plan):
        return []
    found: dict[int, Talk] = {}
    astray = _astray(address_book, placement, cut_offs)
    beyond = {lost.router for lost in out_of_reach}
    for room, number in zip(segments.rooms, segments.segment, strict=True):
        talk = found.setdefault(number, Talk([], [], set()))
        if isinstance(room.thing, Switch):
            if not room.port and all(room.thing is not known for known in talk.switches):
                talk.switches.append(room.thing)
        elif room.thing is not None:
            talk.senders += _senders(plan, room, room.thing.id in network.passing, astray)
    for passage in segments.passages:
        talk, line = found[segments.segment[passage.a]], passage.line
        if passage.tag:
            talk.tagging |= {end.thing.id for end in (line.a, line.b) if end is not None}
        if line.b is None and line.entry.mtu and line.outside not in beyond:
            path = (*line.entry.path, "mtu")
            talk.senders.append(Sender(line.outside, line.entry, line.entry.mtu, path))
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


def _senders(plan: Plan, room: Room, passing: bool, astray: set[tuple[str, str]]) -> Iterator[Sender]:
    """Yield what a thing sends into one of its rooms."""
    thing = room.thing
    ports = plan.ports.get(thing.id, ())
    alike = len({port.mtu for port in ports if port.links}) < 2  # else it is a port that is meant
    for port in ports:
        here = passing or room.port == (port.bond or port.id)
        here = here and (thing.id, port.id) not in astray and (thing.id, "") not in astray
        if here and port.links and (port.mtu or not passing):
            holder = port.spec if port.spec.mtu else thing
            path = (*holder.path, "mtu") if port.mtu else ()
            yield Sender(thing.id if alike else port.name, thing, port.mtu or frames.MTU, path)


def _uplinks(plan: Plan) -> bool:
    return any(uplink.mtu for uplink in plan.table("uplink"))


def _states(thing: Any) -> bool:
    return thing.mtu is not None or any(port.mtu is not None for port in thing.port_)
