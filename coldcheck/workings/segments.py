"""Segments: how far a frame gets without a router, VLAN by VLAN.

A *room* is a place in which all frames meet: one VLAN of a switch that keeps VLANs apart, the whole of a switch that
does not, one port of a machine (or one of its VLANs there). A *passage* joins two rooms: one cable, for frames without
a tag or with one. Rooms that are joined are one segment: a broadcast in one of them is heard in all.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.tables import Networked, Switch

from .addresses import AddressBook, Host

__all__ = ["DEFAULT_VLAN", "Joined", "Passage", "Room", "Segments", "keeps_vlans", "segments", "stands"]

_READS = ("node", "storage", "appliance", "switch", "link", "uplink", "subnet")
_NETWORKED = ("node", "storage", "appliance", "switch")

#: The VLAN of frames without a tag, where a switch is told nothing else: IEEE 802.1Q, the default PVID.
DEFAULT_VLAN = 1


class Room(msgspec.Struct, gc=False):
    """A place in which frames meet.

    ``thing`` is what has it, None outside the box; ``port`` names the port or the bond where each port of the thing is
    a room of its own; ``vlan`` is the VLAN, or the tag where the thing passes tags on as they are; 0 for frames
    without.
    """

    thing: Any
    port: str
    vlan: int


class Passage(msgspec.Struct, gc=False):
    """One way of frames through one cable: with ``tag``, or without one (0); ``a`` and ``b`` are places of rooms."""

    line: LinkLine
    tag: int
    a: int
    b: int


class Segments(msgspec.Struct):
    """Every room of a plan and what joins them.

    ``segment`` has, for each room, the number of its segment (the lowest place of its rooms); ``vlans`` has, for each
    segment, the VLANs by which switches keep it apart: none where no switch does, several where they leak. ``clear``
    names what passes every frame on as it is, ``keeping`` what keeps VLANs apart; all else takes frames and gives none
    on.
    """

    rooms: list[Room]
    passages: list[Passage]
    segment: list[int]
    vlans: dict[int, list[int]]
    clear: set[str]
    keeping: set[str]
    places: dict[tuple[str, str, int], int]

    def at(self, point: PortPoint, tag: int = 0) -> int | None:
        """Return the segment of frames at a port, of those without a tag or with one; None where it takes none such."""
        return self._found(_door(point, tag, self.clear, self.keeping))

    def of_switch(self, switch: Switch, vlan: int = 0) -> int | None:
        """Return the segment of one VLAN of a switch (0: of one that keeps none apart); None where it has none."""
        return self._found((switch.id, "", vlan))

    def joins(self) -> list[Passage]:
        """Return the passages between things that pass frames on: what loops are made of."""
        on = self.clear | self.keeping
        return [p for p in self.passages if p.line.b and p.line.a.thing.id in on and p.line.b.thing.id in on]

    def _found(self, key: tuple[str, str, int]) -> int | None:
        place = self.places.get(key)
        return None if place is None else self.segment[place]


def keeps_vlans(thing: Any) -> bool:
    """Say whether a thing keeps VLANs apart: a switch that says so, or whose ports have any and that says nothing."""
    if not isinstance(thing, Switch) or thing.vlans is not None:
        return bool(getattr(thing, "vlans", False))
    return bool(thing.vlan is not None or thing.tagged) or any(
        port.vlan is not None or port.tagged for port in thing.port_
    )


def _door(point: PortPoint, tag: int, clear: set[str], keeping: set[str]) -> tuple[str, str, int]:
    """Return the key of the room that a frame enters by a port: thing, port or bond, VLAN or tag."""
    name = point.thing.id
    if not point.apart:
        if name in clear:
            return name, "", tag
        if name in keeping:
            return name, "", tag or (DEFAULT_VLAN if point.vlan is None else point.vlan)
    return name, point.bond or point.id, tag


@working(reads=_READS)
def segments(plan: Plan) -> Segments:
    """Return the rooms and passages of the plan, and which rooms are one segment.

    Formula: rooms joined by cables, by union and find; tags are followed through what passes them on as they are. A
    switch passes frames on between all ports but those for management. Other things do where they say that they bridge,
    or have an uplink of their own, like a radio, and are not the gateway of a subnet, for then they route.
    """
    return _Builder(plan).run()


class Joined:
    """Rooms, and which of them are one segment: by union and find, as rooms and passages come up."""

    def __init__(
        self, rooms: Sequence[Room] = (), places: Mapping[tuple[str, str, int], int] | None = None
    ) -> None:
        self.rooms = list(rooms)
        self.places = dict(places or {})
        self._parent = list(range(len(self.rooms)))

    def room(self, thing: Any, key: tuple[str, str, int]) -> int:
        """Return the place of the room of that key, made where there is none yet."""
        place = self.places.get(key)
        if place is None:
            place = self.places[key] = len(self.rooms)
            self.rooms.append(Room(thing, key[1], key[2]))
            self._parent.append(place)
        return place

    def join(self, a: int, b: int) -> None:
        """Make two rooms one segment."""
        one, other = self._root(a), self._root(b)
        self._parent[max(one, other)] = min(one, other)

    def segments(self, passages: list[Passage], clear: set[str], keeping: set[str]) -> Segments:
        """Return the segments as they are joined now."""
        segment = [self._root(place) for place in range(len(self.rooms))]
        vlans: dict[int, list[int]] = {}
        for room, number in zip(self.rooms, segment, strict=True):
            known = vlans.setdefault(number, [])
            kept = room.thing is not None and room.thing.id in keeping and not room.port
            if kept and room.vlan not in known:
                known.append(room.vlan)
        return Segments(self.rooms, passages, segment, vlans, clear, keeping, self.places)

    def _root(self, place: int) -> int:
        parent = self._parent
        while parent[place] != place:
            parent[place] = place = parent[parent[place]]
        return place


class _Builder:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.joined = Joined()
        self.passages: list[Passage] = []
        self.passed: set[tuple[int, int]] = set()
        self.waiting: deque[tuple[str, int]] = deque()
        self.sets: dict[int, frozenset[int]] = {}
        self.keeping = {switch.id for switch in plan.table("switch") if keeps_vlans(switch)}
        self.clear = set(self._clear())

    def _clear(self) -> Iterator[str]:
        """Yield what passes every frame on as it is."""
        leaving = {line.a.thing.id for line in self.plan.links if line.b is None}
        gateways = {s.gateway.partition("/")[0] for s in self.plan.table("subnet") if s.gateway}
        for table in _NETWORKED:
            for thing in self.plan.table(table):
                if isinstance(thing, Switch):
                    if thing.id not in self.keeping:
                        yield thing.id
                elif thing.bridges or (
                    thing.bridges is None and thing.id in leaving and not _has(thing, gateways)
                ):
                    yield thing.id

    def run(self) -> Segments:
        self._own_rooms()
        cables: dict[str, list[LinkLine]] = {}
        for line in self.plan.links:
            for end in (line.a, line.b):
                if end is not None and end.thing.id in self.clear:
                    cables.setdefault(end.thing.id, []).append(line)
            far = line.b.tagged if line.b is not None else line.entry.tagged
            for tag in dict.fromkeys((0, *line.a.tagged, *far)):
                self._pass(line, tag)
        while self.waiting:  # a tag that reached something that passes it on goes out by all its other cables
            name, tag = self.waiting.popleft()
            for line in cables.get(name, ()):
                self._pass(line, tag)
        return self.joined.segments(self.passages, self.clear, self.keeping)

    def _own_rooms(self) -> None:
        """Make the rooms that are there without any cable: those of switches."""
        for switch in self.plan.table("switch"):
            if switch.id in self.clear:
                self._room(switch, (switch.id, "", 0))
                continue
            ports = self.plan.ports.get(switch.id) or [
                PortPoint(switch, spec.id, spec) for spec in switch.port_
            ]
            for port in ports:
                for tag in () if port.apart else (0, *port.tagged):
                    self._room(switch, _door(port, tag, self.clear, self.keeping))

    def _room(self, thing: Any, key: tuple[str, str, int]) -> int:
        if key[2] and key[0] in self.clear and key not in self.joined.places:
            self.waiting.append((key[0], key[2]))
        return self.joined.room(thing, key)

    def _takes(self, line: LinkLine, end: PortPoint | None, tag: int) -> bool:
        """Say whether frames with a tag are taken at one end of a cable; without one they are taken everywhere."""
        if not tag:
            return True
        if end is None:  # where nothing is said of the far end, it is taken to fit
            tags = line.entry.tagged
            return tag in self._ids(tags) or (not tags and line.entry.vlan is None)
        return tag in self._ids(end.tagged) or (end.thing.id in self.clear and not end.apart)

    def _ids(self, tags: tuple[int, ...]) -> frozenset[int]:
        """Return tags as a set, made once for each list that is written: a trunk may carry four thousand."""
        found = self.sets.get(id(tags))
        if found is None:
            found = self.sets[id(tags)] = frozenset(tags)
        return found

    def _pass(self, line: LinkLine, tag: int) -> None:
        if (id(line), tag) in self.passed or line.a is line.b:
            return
        self.passed.add((id(line), tag))
        if not (self._takes(line, line.a, tag) and self._takes(line, line.b, tag)):
            return
        a, b = (self._enter(line, end, tag) for end in (line.a, line.b))
        self.passages.append(Passage(line, tag, a, b))
        self.joined.join(a, b)

    def _enter(self, line: LinkLine, end: PortPoint | None, tag: int) -> int:
        if end is not None:
            return self._room(end.thing, _door(end, tag, self.clear, self.keeping))
        return self._room(None, (f"to {line.outside}", str(line.path), tag or line.entry.vlan or 0))


def _has(thing: Networked, addresses: set[str]) -> bool:
    texts = (*thing.address, *(text for port in thing.port_ for text in port.address))
    return any(text.partition("/")[0] in addresses for text in texts)


@working(reads=_READS)
def stands(plan: Plan, segments: Segments, address_book: AddressBook) -> dict[int, list[int]]:
    """Return, by ``id()`` of an address, the segments it can be reached in; none for one whose port has no cable.

    An address of a port is in the segment of that port, one of a thing in those of all its cabled ports: in that of the
    VLAN of its subnet where the port takes that tag, else in that of frames without one. A switch is in the VLAN of its
    subnet, or in every one where the subnet says none; and in what its management ports lead to.
    """
    found: dict[str, dict[int, None]] = {}
    for room, number in zip(segments.rooms, segments.segment, strict=True):
        if isinstance(room.thing, Switch) and not room.port:
            found.setdefault(room.thing.id, {})[number] = None
    of_switch = {name: list(numbers) for name, numbers in found.items()}
    return {
        id(host): _segments_of(plan, segments, address_book, host, of_switch) for host in address_book.hosts
    }


def _segments_of(
    plan: Plan, segments: Segments, book: AddressBook, host: Host, of_switch: dict[str, list[int]]
) -> list[int]:
    vlan = book.subnets[host.subnet].source.vlan if host.subnet is not None else None  # type: ignore[union-attr]
    thing = host.thing
    if isinstance(thing, Switch) and host.port is None:
        clear = thing.id in segments.clear
        if vlan is None and _unplugged(plan, thing):
            return []  # `management.unplugged` has the cable
        if vlan is None and not clear:
            return of_switch.get(thing.id, []) + _by_management(plan, segments, thing)
        number = segments.of_switch(thing, 0 if clear else vlan or 0)
        return ([] if number is None else [number]) + _by_management(plan, segments, thing)
    found: list[int] = []
    for point in plan.ports.get(thing.id, ()):
        if not point.links or (host.port is not None and point.id != host.port.id):
            continue
        tag = vlan if vlan is not None and vlan in point.tagged else 0
        number = segments.at(point, tag)
        if number is not None and number not in found:
            found.append(number)
    return found


def _by_management(plan: Plan, segments: Segments, switch: Switch) -> list[int]:
    """Return the segments that the cabled management ports of a switch lead to: its own address may be at one."""
    points = (point for point in plan.ports.get(switch.id, ()) if point.apart and point.links)
    return list(dict.fromkeys(n for point in points if (n := segments.at(point)) is not None))


def _unplugged(plan: Plan, switch: Switch) -> bool:
    """Say whether a switch has a management port without a cable."""
    cabled = {point.id for point in plan.ports.get(switch.id, ()) if point.apart and point.links}
    return any(port.for_ == "management" and port.id not in cabled for port in switch.port_)
