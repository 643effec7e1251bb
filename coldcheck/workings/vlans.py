"""VLANs: where the two ends of a cable disagree, and which segments there would be if they agreed.

One slip shall give one finding: what a cable tells must not be told again of every machine behind it. Rules that look
at members judge the *mended* segments, in which each cable that is told of carries what either of its ends says.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan.vlan import problem_with_id
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.tables import Switch

from .addresses import AddressBook
from .segments import DEFAULT_VLAN, Joined, Passage, Room, Segments, stands

__all__ = [
    "End", "EndSlip", "Stated", "VlanEnds", "carried_ids", "end_of", "fixed_stands", "port_key", "says_vlans",
    "stated_vlans", "vlan_ends",
]  # fmt: skip

_NETWORKED = ("node", "storage", "appliance", "switch")
_READS = (*_NETWORKED, "link", "uplink", "subnet")


class Stated(msgspec.Struct):
    """Where VLANs are written: of a thing, a port, a subnet, an uplink. ``name`` is what it is called."""

    at: Any
    name: str
    path: Path
    vlan: int | None
    tagged: tuple[int, ...]
    table: str

    @property
    def twice(self) -> bool:
        """Whether one VLAN stands there without a tag and with one."""
        return self.vlan is not None and self.vlan in self.tagged


@working(reads=_READS)
def stated_vlans(plan: Plan) -> list[Stated]:
    """Return every place where the plan writes a VLAN, things of a span each."""
    found: list[Stated] = []
    for table in _NETWORKED:
        for thing in plan.table(table):
            if thing.vlan is not None or thing.tagged:
                found.append(Stated(thing, thing.id, thing.path, thing.vlan, thing.tagged, table))
            for port in thing.port_:
                if port.vlan is not None or port.tagged:
                    name = f"{thing.id}.{port.id}"
                    # A port that says one of both has the other from its thing.
                    vlan = thing.vlan if port.vlan is None else port.vlan
                    tagged = port.tagged or thing.tagged
                    found.append(Stated(thing, name, port.path, vlan, tagged, table))
    for uplink in plan.table("uplink"):
        if uplink.vlan is not None or uplink.tagged:
            found.append(
                Stated(
                    uplink, f"the uplink to {uplink.to}", uplink.path, uplink.vlan, uplink.tagged, "uplink"
                )
            )
    for subnet in plan.table("subnet"):
        if subnet.vlan is not None:
            found.append(Stated(subnet, f"subnet {subnet.prefix}", subnet.path, subnet.vlan, (), "subnet"))
    return found


class End(msgspec.Struct):
    """What one end of a cable makes of frames.

    ``role`` is ``switch`` (keeps VLANs apart), ``machine`` or ``outside``; ``untagged`` is the VLAN of frames without
    a tag, None where that end has no opinion; ``tagged`` are those it takes with one.
    """

    role: str
    untagged: int | None
    tagged: tuple[int, ...]


def end_of(line: LinkLine, point: PortPoint | None, segments: Segments) -> End | None:
    """Return what an end of a cable makes of VLANs; None where it says nothing, or passes everything on as it is."""
    if point is None:
        entry = line.entry
        told = entry.vlan is not None or entry.tagged
        return End("outside", entry.vlan, entry.tagged) if told else None
    if point.apart:  # what a switch says of its ports is not said of its own management
        return End("machine", point.spec.vlan, point.spec.tagged)
    name = point.thing.id
    if name in segments.clear:  # what bridges and says which VLANs it needs is held to that
        says = not isinstance(point.thing, Switch) and (point.vlan is not None or point.tagged)
        return End("machine", point.vlan, point.tagged) if says else None
    if name in segments.keeping:
        return End("switch", DEFAULT_VLAN if point.vlan is None else point.vlan, point.tagged)
    return End("machine", point.vlan, point.tagged)


def port_key(point: PortPoint) -> Path:
    """Return the entry that says what a port carries: one for all ports of a span."""
    return point.path


class EndSlip(msgspec.Struct):
    """A cable whose ends disagree.

    ``native`` has the two VLANs of frames without a tag where they differ, ``a_lacks`` and ``b_lacks`` the tags that
    only the other end carries. ``grave`` says that somebody is cut off or let in by it; ``told`` that another rule has
    the cause, so that nothing more is to be said of this cable.
    """

    line: LinkLine
    a: End
    b: End
    native: tuple[int, int] | None
    a_lacks: tuple[int, ...]
    b_lacks: tuple[int, ...]
    told: bool = False
    grave: bool = True

    @property
    def machine(self) -> bool:
        """Whether one end is a machine, for which only its own words count."""
        return "machine" in (self.a.role, self.b.role)


class VlanEnds(msgspec.Struct):
    """Every cable whose ends disagree, and the segments there would be without these slips.

    ``slips`` has, by ``id()`` of a cable, its slip. ``mended`` has the rooms of the plan first, at their places.
    ``excused`` has the ``id()`` of ports whose machine is told of; ``muddled`` numbers the mended segments of which
    nothing can be said, since a VLAN id in them is none, or a switch has VLANs and cannot keep them.
    """

    slips: dict[int, EndSlip]
    mended: Segments
    excused: set[int]
    muddled: set[int]


@working(reads=_READS)
def vlan_ends(
    plan: Plan, segments: Segments, stated_vlans: list[Stated], address_book: AddressBook
) -> VlanEnds:
    """Return the cables whose ends disagree in their VLANs, and the segments as they were meant."""
    if not stated_vlans:
        return VlanEnds({}, segments, set(), set())
    odd = _odd_ports(plan, segments, stated_vlans) | _misplugged(plan)
    slips = {id(line): slip for line in plan.links if (slip := _slip(line, segments, odd)) is not None}
    excused = {id(end) for slip in slips.values() if slip.machine for end in (slip.line.a, slip.line.b)}
    mended = _Mender(segments, slips).run() if slips or _selves(plan) else segments
    muddled = {
        number
        for room, number in zip(mended.rooms, mended.segment, strict=True)
        if room.thing is not None
        and (_muddles(room, segments) or (room.vlan and problem_with_id(room.vlan) is not None))
    }
    found = VlanEnds(slips, mended, excused | odd, muddled)
    _weigh(plan, segments, found, address_book)
    return found


def _selves(plan: Plan) -> bool:
    return any(line.b is not None and line.a.thing is line.b.thing for line in plan.links)


def _muddles(room: Room, segments: Segments) -> bool:
    """Say whether a room is that of a switch that is given VLANs and passes everything on."""
    thing = room.thing
    return isinstance(thing, Switch) and thing.id in segments.clear and says_vlans(thing)


def says_vlans(switch: Switch) -> bool:
    """Say whether the plan gives a switch, or any of its ports, a VLAN."""
    return bool(switch.vlan is not None or switch.tagged) or any(
        port.vlan is not None or port.tagged for port in switch.port_
    )


def _odd_ports(plan: Plan, segments: Segments, stated: list[Stated]) -> set[int]:
    """Return the ``id()`` of ports in which an id is none, or stands with a tag and without: they are told of."""
    if not any(
        s.twice or any(problem_with_id(v) for v in (*s.tagged, *(() if s.vlan is None else (s.vlan,))))
        for s in stated
    ):
        return set()
    ends = (end for line in plan.links for end in (line.a, line.b) if end is not None)
    return {id(end) for end in ends if _is_odd(end.vlan, end.tagged)}


def _misplugged(plan: Plan) -> set[int]:
    """Return the ``id()`` of ports whose cable belongs elsewhere, as `ports.double_booked` and `bonds.apart` tell."""
    found = {id(port) for ports in plan.ports.values() for port in ports if len(port.links) > 1}
    ends: dict[str, set[tuple[str, str]]] = {}
    for line in plan.links:
        if line.bond and line.b is not None:
            ends.setdefault(line.bond, set()).add((line.a.thing.id, line.b.thing.id))
    apart = {bond for bond, pairs in ends.items() if len(pairs) > 1}
    for line in plan.links:
        if line.bond in apart:
            found |= {id(line.a), id(line.b)}
    return found


def _is_odd(vlan: int | None, tagged: tuple[int, ...]) -> bool:
    ids = tagged if vlan is None else (*tagged, vlan)
    return vlan in tagged or any(problem_with_id(n) is not None for n in ids)


def _slip(line: LinkLine, segments: Segments, odd: set[int]) -> EndSlip | None:
    if line.b is not None and line.a.thing is line.b.thing:
        return None  # `ports.self_link` has that
    a, b = end_of(line, line.a, segments), end_of(line, line.b, segments)
    if a is None or b is None or a.role == b.role == "machine":
        return None
    native = None
    if a.untagged is not None and b.untagged is not None and a.untagged != b.untagged:
        native = a.untagged, b.untagged
    a_lacks, b_lacks = _lacking(a, b), _lacking(b, a)
    if native is None and not a_lacks and not b_lacks:
        return None
    told = id(line.a) in odd or id(line.b) in odd
    if line.b is None:
        told = told or _is_odd(line.entry.vlan, line.entry.tagged)
    return EndSlip(line, a, b, native, a_lacks, b_lacks, told)


def _lacking(end: End, other: End) -> tuple[int, ...]:
    """Return the tags of the other end that this one does not carry; a machine takes what it wants and no more."""
    if end.role == "machine" or not other.tagged or end.tagged == other.tagged:
        return ()
    own = set(end.tagged)
    return tuple(n for n in other.tagged if n not in own and problem_with_id(n) is None)


class _Mender:
    """Joins the rooms of a plan anew, with the cables that are told of as they were meant."""

    def __init__(self, segments: Segments, slips: dict[int, EndSlip]) -> None:
        self.old = segments
        self.slips = slips
        self.joined = Joined(segments.rooms, segments.places)

    def run(self) -> Segments:
        kept: list[Passage] = []
        for passage in self.old.passages:
            if not self._wrong(passage):
                kept.append(passage)
                self.joined.join(passage.a, passage.b)
        for slip in self.slips.values():
            kept += self._mend(slip)
        return self.joined.segments(kept, self.old.clear, self.old.keeping)

    def _wrong(self, passage: Passage) -> bool:
        line = passage.line
        if line.b is not None and line.a.thing is line.b.thing:
            return True
        slip = self.slips.get(id(line))
        return slip is not None and slip.native is not None and not slip.machine and not passage.tag

    def _mend(self, slip: EndSlip) -> Iterator[Passage]:
        if slip.machine:
            return
        vlans = [*slip.a_lacks, *slip.b_lacks, *(slip.native or ())]
        for vlan in dict.fromkeys(vlans):
            a, b = (self._room(slip.line, end, vlan) for end in (slip.line.a, slip.line.b))
            self.joined.join(a, b)
            yield Passage(slip.line, vlan, a, b)

    def _room(self, line: LinkLine, end: PortPoint | None, vlan: int) -> int:
        key = (end.thing.id, "", vlan) if end is not None else (f"to {line.outside}", str(line.path), vlan)
        return self.joined.room(end.thing if end is not None else None, key)


# --- how grave a slip is ----------------------------------------------------------------------------------------------


def _weigh(plan: Plan, segments: Segments, ends: VlanEnds, book: AddressBook) -> None:
    """Note which slips between switches cut somebody off or let somebody in; the others wait for their day."""
    slips = [slip for slip in ends.slips.values() if not slip.machine]
    if not slips:
        return
    mended = ends.mended
    were: dict[int, set[int]] = {}  # for each mended segment, the real ones of its members
    become: dict[int, set[int]] = {}  # for each real segment, the mended ones
    for place, real in _members(plan, segments, mended, book):
        were.setdefault(mended.segment[place], set()).add(real)
        become.setdefault(real, set()).add(mended.segment[place])
    parted = {number for number, real in were.items() if len(real) > 1}
    run_together = {number for number, meant in become.items() if len(meant) > 1}
    for slip in slips:
        # A bond deals flows out to its cables: one that lacks a VLAN loses them, whatever the others carry.
        slip.grave = (
            bool(slip.line.bond)
            or any(n in parted for n in _touched(slip, mended))
            or any(segments.segment[place] in run_together for place in _crossed(slip, segments))
        )


def _members(
    plan: Plan, segments: Segments, mended: Segments, book: AddressBook
) -> Iterator[tuple[int, int]]:
    """Yield for each room with a member its place and its real segment; what cannot be reached has one of its own."""
    passing = segments.clear | segments.keeping
    for place, room in enumerate(mended.rooms):
        if room.thing is None or room.port or room.thing.id not in passing:
            yield place, segments.segment[place] if place < len(segments.rooms) else -1 - place
    for host in book.hosts:
        if host.port is None and host.thing.id in segments.keeping and host.subnet is not None:
            vlan = book.subnets[host.subnet].source.vlan  # type: ignore[union-attr]
            if vlan is not None and (at := mended.places.get((host.thing.id, "", vlan))) is not None:
                yield at, segments.segment[at] if at < len(segments.rooms) else -1 - at


def _touched(slip: EndSlip, mended: Segments) -> Iterator[int]:
    for vlan in {*slip.a_lacks, *slip.b_lacks, *(slip.native or ())}:
        place = mended.places.get((slip.line.a.thing.id, "", vlan))
        if place is not None:
            yield mended.segment[place]


def _crossed(slip: EndSlip, segments: Segments) -> Iterator[int]:
    if slip.native is not None:
        place = segments.places.get((slip.line.a.thing.id, "", slip.native[0]))
        if place is not None:
            yield place


def fixed_stands(
    plan: Plan, segments: Segments, ends: VlanEnds, book: AddressBook, real: dict[int, list[int]]
) -> dict[int, list[int]]:
    """Return where each address stands in the mended segments, as the working ``stands`` does for the real ones."""
    return real if ends.mended is segments else stands(plan, ends.mended, book)


def carried_ids(plan: Plan, keeping: Iterable[str]) -> set[int]:
    """Return every VLAN that a port of a switch which keeps them apart, or an uplink, carries."""
    found: set[int] = set()
    switches = {switch.id: switch for switch in plan.table("switch")}  # another thing may have taken the name
    for name in keeping:
        switch = switches[name]
        points = plan.ports.get(name) or [PortPoint(switch, spec.id, spec) for spec in switch.port_]
        found.update(switch.tagged, () if switch.vlan is None else (switch.vlan,))
        for point in points:
            if not point.apart:
                found.add(DEFAULT_VLAN if point.vlan is None else point.vlan)
                found.update(point.tagged)
    for uplink in plan.table("uplink"):
        found.update(uplink.tagged, () if uplink.vlan is None else (uplink.vlan,))
    return found
