"""Routers and servers outside: whether their uplink is in the network of those who have them for neighbours."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan.vlan import problem_with_id
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.problems import nearest
from coldcheck.plan.tables import Switch, Uplink

from .addresses import AddressBook
from .islands import Island
from .placing import Placement
from .ports import Entry
from .segments import DEFAULT_VLAN, Segments
from .vlans import VlanEnds

__all__ = ["OutOfReach", "out_of_reach", "stray_uplinks", "unused_uplinks", "uplink_segments"]


class OutOfReach(msgspec.Struct):
    """An address of a router outside in a subnet to which no uplink to that router leads.

    ``line`` is its first uplink, ``subnet`` the place of the subnet, ``vlan`` the VLAN it is in, None where it is in
    none; ``carried`` are the VLANs of the switch port of that uplink, empty where it keeps none apart. ``door`` is that
    switch port: the one into which a thing that passes all on is plugged, where such a thing has the uplink; None where
    there is none, or several.
    """

    router: str
    line: LinkLine
    subnet: int
    vlan: int | None
    carried: list[int]
    door: PortPoint | None = None


@working(reads=("uplink", "outside"))
def stray_uplinks(plan: Plan) -> list[tuple[Uplink, str]]:
    """Return the uplinks that go to one word which is all but the id of something outside, each with that id.

    Ids to which another uplink goes are left out.
    """
    known = [outside.id for outside in plan.table("outside")]
    if not known:
        return []
    reached = {uplink.to for uplink in plan.table("uplink")}
    left = [name for name in known if name not in reached]
    found = []
    for uplink in plan.table("uplink"):
        word = uplink.to or ""
        near = "" if not left or word in plan.things or len(word.split()) != 1 else nearest(word, left)
        if near:
            found.append((uplink, near))
    return found


def uplink_segments(plan: Plan, ends: VlanEnds) -> dict[int, list[int]]:
    """Return, by ``id()`` of an uplink, the mended segments that its frames come from, with and without a tag."""
    found: dict[int, list[int]] = {}
    for passage in ends.mended.passages:
        if passage.line.b is None:
            found.setdefault(id(passage.line), []).append(ends.mended.segment[passage.a])
    return found


def carried_by(port: PortPoint | None) -> list[int]:
    """Return the VLANs that the port of a switch carries; none where no such port is known."""
    if port is None:
        return []
    return sorted({DEFAULT_VLAN if port.vlan is None else port.vlan, *port.tagged})


def door_of(line: LinkLine, mended: Segments, numbers: list[int]) -> PortPoint | None:
    """Return the one port of a switch with VLANs by which the frames of an uplink come in; None for none or several.

    ``numbers`` are the mended segments of the uplink. Where what has it passes all frames on, that is the port on
    the far side of such things.
    """
    if line.a.thing.id in mended.keeping:
        return None if line.a.apart else line.a
    if line.a.thing.id not in mended.clear:
        return None
    doors: dict[int, PortPoint] = {}
    for passage in mended.passages:
        if mended.segment[passage.a] in numbers:
            for end, other in ((passage.line.a, passage.line.b), (passage.line.b, passage.line.a)):
                if end is not None and other is not None and _faces(end, other, mended):
                    doors[id(end)] = end
    return next(iter(doors.values())) if len(doors) == 1 else None


def _faces(end: PortPoint, other: PortPoint, mended: Segments) -> bool:
    """Say whether a port of a switch with VLANs faces a thing that passes all frames on."""
    return end.thing.id in mended.keeping and not end.apart and other.thing.id in mended.clear


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink", "subnet", "outside"))
def out_of_reach(
    plan: Plan, address_book: AddressBook, vlan_ends: VlanEnds, placement: Placement
) -> list[OutOfReach]:
    """Return the addresses of routers outside that nobody in their subnet can reach.

    What hangs on a port that is told of is left out; an uplink that is told of counts as mended.
    """
    lines: dict[str, list[LinkLine]] = {}
    for line in plan.links:
        if line.b is None:
            lines.setdefault(line.outside, []).append(line)
    leads = uplink_segments(plan, vlan_ends)
    found = []
    for host in address_book.outside:
        ways = lines.get(host.thing.id, [])
        if host.subnet is None or not ways or host.subnet in placement.unsure:
            continue
        if any(id(line.a) in vlan_ends.excused for line in ways):
            continue
        if any(_leads(line, host.subnet, leads, address_book, vlan_ends, placement) for line in ways):
            continue
        home = placement.homes.get(host.subnet)
        vlans = vlan_ends.mended.vlans.get(home, []) if home is not None else []
        vlan = vlans[0] if vlans else getattr(address_book.subnets[host.subnet].source, "vlan", None)
        door = door_of(ways[0], vlan_ends.mended, leads.get(id(ways[0]), []))
        found.append(OutOfReach(host.thing.id, ways[0], host.subnet, vlan, carried_by(door), door))
    return found


def _leads(
    line: LinkLine,
    subnet: int,
    leads: dict[int, list[int]],
    book: AddressBook,
    ends: VlanEnds,
    placement: Placement,
) -> bool:
    """Say whether an uplink leads to a subnet, or whether that cannot be held against it."""
    mine = leads.get(id(line), [])
    if not mine or any(number in ends.muddled for number in mine):
        return True
    members = placement.members.get(subnet)
    if members:
        if any(host.thing is line.a.thing for host in members):  # what has the uplink is the neighbour
            return True
        if placement.piece.get(line.a.thing.id) != placement.piece.get(members[0].thing.id):
            return True  # no cable leads there: whoever judges cables says that
        return placement.homes[subnet] in mine
    vlan = getattr(book.subnets[subnet].source, "vlan", None)
    if vlan is None or problem_with_id(vlan) is not None:
        return True
    known = [n for number in mine for n in ends.mended.vlans[number]]
    return not known or vlan in known


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink", "subnet"))
def unused_uplinks(
    plan: Plan,
    address_book: AddressBook,
    vlan_ends: VlanEnds,
    placement: Placement,
    out_of_reach: list[OutOfReach],
    cut_offs: list[Island],
    uncabled: list[Entry],
) -> list[LinkLine]:
    """Return the uplinks in whose network no machine is, nor a switch with an address of its own there.

    A machine with a way out of its own uses it. Left out is what another rule tells of: a thing without a cable, a part
    that is cut off, a port that holds two cables or disagrees with the other end.
    """
    ways = [line for line in plan.links if line.b is None]
    if (
        not ways
        or uncabled
        or any(f.rule.startswith("ports.") or f.path[:1] == ("link",) for f in plan.faults)
    ):
        return []
    lan = vlan_ends.mended
    leads = uplink_segments(plan, vlan_ends)
    empty = {number for line in ways for number in leads.get(id(line), ())}
    leaving = {line.a.thing.id for line in ways}
    for room, number in zip(lan.rooms, lan.segment, strict=True):
        if number in empty and _uses(room.thing, lan, leaving):
            empty.discard(number)
            if not empty:
                return []  # most plans end here, after a few rooms
    for host in address_book.hosts:  # a switch with an address there may route
        if isinstance(host.thing, Switch):
            empty.difference_update(placement.where.get(id(host), ()))
    if not any(_uses(room.thing, lan, leaving) for room in lan.rooms):
        return []
    told = {id(lost.line) for lost in out_of_reach}
    gone = {thing.id for island in cut_offs for thing in island.things}
    found = []
    for line in ways:
        own, at = line.a.thing, leads.get(id(line), [])
        excused = (
            id(line) in told or own.id in gone or len(line.a.links) > 1 or id(line.a) in vlan_ends.excused
        )
        if at and empty.issuperset(at) and not excused and vlan_ends.muddled.isdisjoint(at):
            found.append(line)
    return found


def _uses(thing: Any, lan: Segments, leaving: set[str]) -> bool:
    """Say whether what has a room is a machine that may use a way out: no switch, and no radio with one of its own."""
    if thing is None or isinstance(thing, Switch):
        return False
    return thing.id not in lan.clear or thing.id not in leaving
