"""Data ports: the cables of a plan and their speed, what each switch has left, what has no cable yet and could have."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import negotiation
from coldcheck.lan.negotiation import FULL_ONLY_FROM, End, fixed, settle
from coldcheck.lan.poe import type_needed
from coldcheck.plan.kinds import Cable
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.problems import Path
from coldcheck.plan.tables import Networked, Port, Switch

from .addresses import AddressBook

__all__ = [
    "ANY", "DIRECT", "MULTI_MODE", "SINGLE_MODE", "SLOW", "TWISTED", "Entry", "LinkSpeed", "PortOffers", "Ref",
    "SwitchPorts", "Written", "cable_kind", "cable_path", "class_of", "end_of", "first_end", "for_copper",
    "link_speeds", "links", "lost_ports", "poe_type_of", "poe_type_wanted", "port_offers", "suits",
    "switch_ports", "takes", "top_of", "uncabled",
]  # fmt: skip

_NETWORKED = ("node", "storage", "appliance")
_READS = ("node", "storage", "appliance", "switch", "link", "uplink")


class SwitchPorts(msgspec.Struct):
    """The ports of one switch, counted by what their cables lead to; management ports are none of them.

    ``total`` is None where the plan does not say how many there are; ``used`` counts cabled ports by the kind of
    thing at the other end (``node``, ``storage``, ``appliance``, ``switch``, ``uplink``); ``free`` has the name and
    the figures of every port without a cable, in the order of the switch.
    """

    switch: Switch
    total: int | None
    used: dict[str, int]
    free: list[tuple[str, Port]]

    @property
    def taken(self) -> int:
        """How many ports have a cable."""
        return sum(self.used.values())


class Entry(msgspec.Struct):
    """One entry of the plan and its things that have no data cable: a span is one entry with several things."""

    path: Path
    things: list[Any]

    @property
    def whole(self) -> Path:
        """Where the key ``port`` of the entry stands, or would."""
        return (*self.path, "port")


class PortOffers(msgspec.Struct):
    """Free ports that could be given to what lacks one; no port is offered twice.

    ``entries`` has, by the path of an entry, one text for the key ``port`` of that entry; ``moves`` has, by ``id()``
    of a link, the key to change and the port to write there.
    """

    entries: dict[Path, str]
    moves: dict[int, tuple[Path, str]]


@working(reads=_READS)
def links(plan: Plan) -> list[LinkLine]:
    """Return every data cable of the plan, in the order it is written."""
    return plan.links


def first_end(line: LinkLine) -> str:
    """Return what a finding calls the first end of a cable: its thing, or its port where there are several."""
    several = len(line.a.thing.port_) > 1 or line.a.thing.table == "switch"
    return line.a.name if several else line.a.thing.id


def cable_path(line: LinkLine) -> Path:
    """Return where the figures of a cable are written: at the key ``cable`` of its entry, its port or its thing."""
    if line.cable is None:
        return line.path
    if line.path[0] in ("link", "uplink"):
        return (*line.path[:-1], "cable")
    spec, thing = line.a.spec, line.a.thing
    holder = thing.path if spec.cable is None else spec.path
    return (*holder, "cable")


class Ref(msgspec.Struct):
    """A data port that is named and does not exist: its thing, its name there, who names it and where."""

    thing: Networked
    id: str
    who: str
    path: Path

    @property
    def name(self) -> str:
        """The port as it is written."""
        return f"{self.thing.id}.{self.id}"


@working(reads=_READS)
def lost_ports(plan: Plan) -> dict[str, list[Ref]]:
    """Return, by the id of a thing, every port of it that some cable names and that it does not have."""
    slips = {fault.path for fault in plan.faults if fault.rule == "ports.unknown"}
    found: dict[str, list[Ref]] = {}
    for ref, who, path in _named(plan) if slips else ():
        name, _, point = ref.partition(".")
        thing = plan.things.get(name)
        if not point or path not in slips or not isinstance(thing, Networked):
            continue
        if all(port.id != point for port in plan.ports.get(name, ())):
            found.setdefault(name, []).append(Ref(thing, point, who, path))
    return found


def _named(plan: Plan) -> Iterator[tuple[str, str, Path]]:
    """Yield every data port that is named, by whom, and where."""
    for table in (*_NETWORKED, "switch"):
        for thing in plan.table(table):
            for ref in thing.port:
                yield ref, thing.id, (*thing.path, "port")
            for port in thing.port_:
                if port.to is not None:
                    yield port.to, f"{thing.id}.{port.id}", (*port.path, "to")
    for table, keys in (("link", ("from", "to")), ("uplink", ("from",))):
        for entry in plan.table(table):
            for key in keys:
                ref = entry.to if key == "to" else entry.from_
                yield ref, "a link" if table == "link" else f"the uplink to {entry.to}", (*entry.path, key)


@working(reads=_READS)
def switch_ports(plan: Plan) -> list[SwitchPorts]:
    """Return the ports of every switch: how many, used by what, which are free."""
    return [_count(plan, switch) for switch in plan.table("switch")]


def _count(plan: Plan, switch: Switch) -> SwitchPorts:
    points = plan.ports.get(switch.id)
    if points is None:  # nothing is plugged in, so linking never made them
        described = {spec.id for spec in switch.port_}
        numbers = map(str, range(1, (switch.ports or 0) + 1))
        specs = [*switch.port_, *(Port(id=n) for n in numbers if n not in described)]
        specs = [spec for spec in specs if spec.for_ != "management"]
        free = [(f"{switch.id}.{spec.id}", spec) for spec in specs if spec.to is None]
        return SwitchPorts(switch, len(specs) or switch.ports, {}, free)
    points = [point for point in points if not point.apart]
    used: dict[str, int] = {}
    free = []
    for point in points:
        if point.links:
            kind = _other_kind(point)
            used[kind] = used.get(kind, 0) + 1
        elif point.spec.to is None:
            free.append((point.name, point.spec))
    return SwitchPorts(switch, len(points) or switch.ports, used, free)


def _other_kind(point: PortPoint) -> str:
    line = point.links[0]
    other = line.b if line.a is point else line.a
    return "uplink" if other is None else other.thing.table


@working(reads=_READS)
def uncabled(plan: Plan) -> list[Entry]:
    """Return the entries whose things should have a data cable and name none.

    A node should have one, unless it is a part that has no data port; it, storage and appliances where an address, a
    port or a PoE class speaks of a network. The cable of a management port is none, and a port that stays free on
    purpose wants none. A thing whose cable is written but leads nowhere is not listed: that slip is a fault of its own.
    None are listed while an entry of ``link`` or ``uplink`` leads nowhere, since it may be theirs.
    """
    if any(fault.path[:1] in (("link",), ("uplink",)) for fault in plan.faults):
        return []
    found: dict[Path, Entry] = {}
    leaving = {line.a.thing.id for line in plan.links if line.b is None}  # a radio link takes no port
    for table in _NETWORKED:
        for thing in plan.table(table):
            if not thing.port and _wants(thing) and thing.id not in leaving and not _tried(plan, thing):
                found.setdefault(thing.path, Entry(thing.path, [])).things.append(thing)
    return list(found.values())


def _wants(thing: Networked) -> bool:
    if thing.port_ and all(port.for_ == "management" for port in thing.port_):
        return False
    if (
        thing.port_
        and all(port.for_ == "management" or port.unused for port in thing.port_)
        and not thing.address
    ):
        return False
    board = thing.table == "node" and thing.part is None
    return board or bool(thing.address or thing.mac or thing.poe or thing.port_)


def _tried(plan: Plan, thing: Networked) -> bool:
    if any(port.links and not port.apart for port in plan.ports.get(thing.id, ())):
        return True
    return any(port.to and port.for_ != "management" for port in thing.port_)


# --- what runs through the cables --------------------------------------------------------------------------------

#: Kinds of data cable, by what is at their ends.
TWISTED, MULTI_MODE, SINGLE_MODE, DIRECT = (
    "twisted pair",
    "multi-mode fibre",
    "single-mode fibre",
    "a direct cable",
)
ANY = (TWISTED, MULTI_MODE, SINGLE_MODE, DIRECT)
# An SFP socket takes no cable but a direct one without a module; that the cable then says which module is common.
_SOCKETS = {
    "copper": (TWISTED,),
    "fibre": (MULTI_MODE, SINGLE_MODE),
    "sfp": (MULTI_MODE, SINGLE_MODE, DIRECT),
}
_MODULES = {"copper": (TWISTED,), "multi-mode": (MULTI_MODE,), "single-mode": (SINGLE_MODE,)}
_UPLINKS = {"wired": (TWISTED, DIRECT), "fibre": (MULTI_MODE, SINGLE_MODE)}


#: Up to this speed a port is a slip in front of storage [bit/s]: one disk reads ten times as much.
SLOW = 100e6


class LinkSpeed(msgspec.Struct, frozen=True):
    """What runs through one data cable.

    ``speed`` [bit/s] is what both ends settle on, of an uplink what it states or less, None where that is unknown or
    no link comes up; ``settled`` says whether it is known. Where it is not, it is ``least`` to ``most`` [bit/s]: None
    for ``least`` where perhaps no link comes up, None for ``most`` where nothing is known or none comes up. ``full``
    says whether both ends are full duplex, None where that is unknown or they differ. ``trouble`` is that of
    `coldcheck.lan.negotiation.Settled`, or "duplex not said" where that alone decides. ``kinds`` has the kinds of cable
    that fit both ends and what is said of the cable: several where that is not decided, none where nothing fits.
    """

    speed: float | None
    settled: bool
    least: float | None = None
    most: float | None = None
    full: bool | None = None
    trouble: str = ""
    kinds: tuple[str, ...] = ANY


def takes(spec: Port) -> tuple[str, ...]:
    """Return the kinds of cable that go into a port; all where it does not say what plugs in."""
    if spec.module is not None and spec.media in (None, "sfp"):
        return _MODULES[spec.module]
    return _SOCKETS.get(spec.media or "", ANY)


def for_copper(spec: Port) -> bool:
    """Say whether a twisted pair goes into a port as it is; one that does not say what plugs in counts as such."""
    return TWISTED in takes(spec)


def cable_kind(cable: Cable | None) -> str | None:
    """Return the kind of a cable, None where the plan does not say it."""
    if cable is None or (cable.category is None and cable.medium is None):
        return None
    if cable.medium is None:
        return TWISTED
    return (
        DIRECT if cable.medium == "direct" else MULTI_MODE if cable.medium.startswith("OM") else SINGLE_MODE
    )


def top_of(spec: Port) -> float | None:
    """Return the highest speed of a port [bit/s], None where the plan does not say it."""
    return spec.speed or max(spec.speeds, default=None)


def end_of(spec: Port) -> End | None:
    """Return what a port can do, None where the plan does not say its speed."""
    top = top_of(spec)
    if top is None:
        return None
    full = spec.duplex != "half"
    if spec.negotiates is False:
        return fixed(top, full=full)
    usual = negotiation.port(top, cage=spec.media in ("sfp", "fibre") or spec.module is not None)
    if spec.speeds:
        return End(tuple(sorted({*spec.speeds, top})), full=full)
    return usual if full else End(usual.sure, usual.perhaps, full=False)


@working(reads=_READS)
def link_speeds(links: list[LinkLine]) -> dict[int, LinkSpeed]:
    """Return the speed of every data cable, by ``id()`` of its line."""
    alike: dict[Any, LinkSpeed] = {}  # a plan repeats a few kinds of cable many times
    found = {}
    for line in links:
        far = _UPLINKS.get(getattr(line.entry, "medium", None) or "", ANY) if line.b is None else ()
        ends = _facts(line.a.spec), None if line.b is None else _facts(line.b.spec)
        key = ends, cable_kind(line.cable), line.speed, far
        if key not in alike:
            alike[key] = _speed_of(line, far)
        found[id(line)] = alike[key]
    return found


def _facts(spec: Port) -> tuple[Any, ...]:
    return spec.speed, spec.speeds, spec.negotiates, spec.duplex, spec.media, spec.module


def _speed_of(line: LinkLine, far: tuple[str, ...]) -> LinkSpeed:
    kind = cable_kind(line.cable)
    b = line.b
    kinds = tuple(
        k for k in takes(line.a.spec) if k in (far if b is None else takes(b.spec)) and kind in (None, k)
    )
    top = top_of(line.a.spec)
    if b is None:
        most = min((bits for bits in (top, line.speed) if bits), default=None)
        known = most if line.speed else None
        return LinkSpeed(known, known is not None, known, most, None, "", kinds)
    ends = end_of(line.a.spec), end_of(b.spec)
    # Nothing goes in, or what plugs in at one end is not said.
    blind = not kinds or (TWISTED not in kinds and ANY in (takes(line.a.spec), takes(b.spec)))
    if ends[0] is None or ends[1] is None or blind:
        most = min((bits for bits in (top, top_of(b.spec)) if bits), default=None)
        return LinkSpeed(None, False, None, most, None, "", kinds)
    return _settled(ends[0], ends[1], _by_hand_unsaid(line.a.spec, b.spec), kinds)


def _by_hand_unsaid(a: Port, b: Port) -> tuple[bool, bool]:
    """Say of each end whether it is set by hand to a duplex that the plan does not say."""
    return (a.negotiates is False and a.duplex is None, b.negotiates is False and b.duplex is None)


def _settled(one: End, other: End, unsaid: tuple[bool, bool], kinds: tuple[str, ...]) -> LinkSpeed:
    twisted = TWISTED in kinds
    settled = settle(one, other, twisted=twisted)
    full, trouble = settled.full, str(settled.trouble)
    if any(unsaid) and twisted and settled.highest is not None and settled.highest < FULL_ONLY_FROM:
        ways = [
            settle(
                fixed(one.sure[0], full=f) if unsaid[0] else one,
                fixed(other.sure[0], full=g) if unsaid[1] else other,
            )
            for f in (True, False)
            for g in (True, False)
        ]
        if any(way.full != full or way.trouble != trouble for way in ways):
            full, trouble = None, "duplex not said"
    bits = settled.bits
    return LinkSpeed(bits, bits is not None, settled.lowest, settled.highest, full, trouble, kinds)


# --- what could be plugged where ---------------------------------------------------------------------------------


def poe_type_of(spec: Port) -> int | None:
    """Return the PoE type [-] that a port feeds, 1 to 4, or None where the plan does not say that it feeds any."""
    return int(spec.poe[5:]) if spec.poe and spec.poe != "passive" else None


def poe_type_wanted(thing: Any) -> int | None:
    """Return the PoE type [-] that a thing must have, or None where it has no class or is powered otherwise too."""
    if class_of(thing) is None or thing.own_power or any(inlet.source is not None for inlet in thing.inlets):
        return None
    return type_needed(int(thing.poe[6:]))


def class_of(thing: Any) -> int | None:
    """Return the PoE class [-] of a thing, or None where it has none, or takes its power without one (passive)."""
    return int(thing.poe[6:]) if thing.poe and thing.poe != "passive" else None


@working(reads=(*_READS, "subnet"))
def port_offers(
    plan: Plan,
    links: list[LinkLine],
    switch_ports: list[SwitchPorts],
    uncabled: list[Entry],
    address_book: AddressBook,
) -> PortOffers:
    """Return a free port, each offered once, for every cable that cannot stay and every thing that has none.

    A cable cannot stay where its port has one already, or where it should power its thing and does not. Only ports
    that suit are offered: by PoE type, by what plugs in, and by VLAN: that of the addresses of its thing, else those of
    the port it leaves, or what its thing states where it has none yet. A port of its own switch counts before one of
    another switch in the same network.
    """
    spare = _Spare(plan, links, switch_ports, address_book)
    moving = [(line, point) for line in links if (point := _unsuited_end(line, spare)) is not None]
    _offer_moves(moving, spare)
    _offer_one(links, spare)
    spare.anywhere = True
    _offer_moves([(line, p) for line, p in moving if id(line) not in spare.moves and len(p.links) > 1], spare)
    _offer_one(links, spare)
    for entry in uncabled:
        need = max((poe_type_wanted(thing) or 0 for thing in entry.things), default=0)
        first = entry.things[0]
        media = next((port.media for port in first.port_ if port.for_ != "management"), None)
        for name, ports in spare.free.items():
            fit = _of_vlans(spare.switches[name], ports, (first.vlan, first.tagged))
            run = _run(fit, len(entry.things), need, media)
            if run:
                spare.take(run)
                spare.entries[entry.path] = run[0][0] if len(run) == 1 else f"{run[0][0]} .. {run[-1][0]}"
                break
    return PortOffers(spare.entries, spare.moves)


class _Spare:
    """The free ports of every switch, what is offered of them, and what the cables that move want.

    ``anywhere`` says that ports of other switches are offered too.
    """

    def __init__(
        self, plan: Plan, links: list[LinkLine], counted: list[SwitchPorts], book: AddressBook
    ) -> None:
        self.plan, self.written, self.anywhere = plan, Written(plan), False
        self.free = {ports.switch.id: list(ports.free) for ports in counted}
        self.switches = {ports.switch.id: ports.switch for ports in counted}
        self.entries: dict[Path, str] = {}
        self.moves: dict[int, tuple[Path, str]] = {}
        self._links, self._book = links, book
        self._homes: dict[str, set[int | None]] | None = None
        self._beside: dict[str, list[str]] | None = None
        self._vlans: set[int | None] | None = None

    def take(self, run: list[tuple[str, Port]]) -> None:
        """Count ports of one switch as used."""
        taken = {name for name, _ in run}
        ports = self.free[run[0][0].partition(".")[0]]
        ports[:] = [port for port in ports if port[0] not in taken]

    def near(self, line: LinkLine, point: PortPoint) -> Iterator[tuple[Networked, list[tuple[str, Port]]]]:
        """Yield the switch of a port with its free ports, then those of its network that would do as well."""
        yield point.thing, self.free.get(point.thing.id, [])
        other = line.other(point)
        if self.anywhere and not line.bond and other is not None and not isinstance(other.thing, Switch):
            for name in self._joined(point.thing.id):
                yield self.switches[name], self.free.get(name, [])

    def _joined(self, name: str) -> list[str]:
        """Return the other switches of one network, nearest first."""
        beside = self._beside = self._beside or {}
        for line in self._links if not beside else ():
            if line.b is not None and isinstance(line.a.thing, Switch) and isinstance(line.b.thing, Switch):
                beside.setdefault(line.a.thing.id, []).append(line.b.thing.id)
                beside.setdefault(line.b.thing.id, []).append(line.a.thing.id)
        found = {name: None}
        for switch in (queue := [name]):
            fresh = [next_ for next_ in beside.get(switch, ()) if next_ not in found]
            found |= dict.fromkeys(fresh)
            queue += fresh
        return list(found)[1:]

    def home(self, line: LinkLine, point: PortPoint) -> int | None:
        """Return the VLAN in which all addresses of the thing at the other end are, None where that is not one."""
        other = line.other(point)
        if other is None or other.thing.tagged or other.vlan is not None or isinstance(other.thing, Switch):
            return None
        if self._homes is None:
            self._homes = {}
            for host in self._book.hosts:
                vlan = (
                    None
                    if host.subnet is None
                    else getattr(self._book.subnets[host.subnet].source, "vlan", None)
                )
                self._homes.setdefault(host.thing.id, set()).add(vlan)
        vlans = self._homes.get(other.thing.id, set())
        return min(vlans) if len(vlans) == 1 and None not in vlans else None  # type: ignore[type-var]

    def wanted(self, line: LinkLine, point: PortPoint) -> tuple[int | None, tuple[int, ...]]:
        """Return the VLANs that a port must have for one end of a cable: (without a tag, with one)."""
        home = self.home(line, point)
        if home in (None, point.vlan) or (point.vlan is None and not self._keeps(home)):
            return point.vlan, point.tagged
        return home, ()

    def _keeps(self, vlan: int | None) -> bool:
        """Say whether some free port is one of a VLAN; a plan may leave that to what is set up later."""
        if self._vlans is None:
            self._vlans = {spec.vlan for ports in self.free.values() for _, spec in ports}
        return vlan in self._vlans


def _offer_moves(moving: list[tuple[LinkLine, PortPoint]], spare: _Spare) -> None:
    """Offer a port for each cable that must move: one by one, or for a whole span."""
    spans: dict[Path, list[tuple[LinkLine, PortPoint]]] = {}
    for line, point in moving:
        if spare.written.alone(line.path[:2]):
            _offer_move(line, point, spare)
        else:
            spans.setdefault(line.path, []).append((line, point))
    for path, ends in spans.items():
        _offer_span(path, ends, spare)


def _offer_one(links: list[LinkLine], spare: _Spare) -> None:
    """Offer one of two cables in a port another, where none is offered yet: a span moves as a whole.

    That which would stay moves where the other can go nowhere.
    """
    whole: dict[Path, list[LinkLine]] = {}
    for line in links:
        whole.setdefault(line.path, []).append(line)
    seen: set[int] = set()
    for line in links:
        for point in (line.b, line.a):
            if point is None or len(point.links) < 2 or id(point) in seen:
                continue
            seen.add(id(point))
            stuck = [other for other in point.links if id(other) not in spare.moves]
            if len(stuck) != 2 or len(point.links) != 2 or not isinstance(point.thing, Switch):
                continue
            stays = _staying(point, spare)
            for other in sorted(stuck, key=lambda other: other is stays):
                _offer_whole(whole[other.path], other, point, spare)
                if id(other) in spare.moves:
                    break


def _offer_whole(span: list[LinkLine], line: LinkLine, point: PortPoint, spare: _Spare) -> None:
    if spare.written.alone(line.path[:2]):
        _offer_move(line, point, spare)
        return
    ends = [(other, other.b) for other in span if other.b is not None and other.b.thing is point.thing]
    if len(ends) == len(span) and line.path[-1] == "port":
        _offer_span(line.path, ends, spare)


def _staying(point: PortPoint, spare: _Spare) -> LinkLine:
    """Return the cable that keeps a crowded port: the first, unless another alone belongs there by its addresses."""
    first = point.links[0]
    if spare.home(first, point) in (None, point.vlan):
        return first
    return next((line for line in point.links if spare.home(line, point) == point.vlan is not None), first)


def _unsuited_end(line: LinkLine, spare: _Spare) -> PortPoint | None:
    """Return the end of a cable that should go elsewhere, or None."""
    a, b = line.a, line.b
    for point in (b, a):
        if point is None or len(point.links) < 2 or not isinstance(point.thing, Switch):
            continue
        if _staying(point, spare) is not line:
            return point
    if b is not None and a.thing.poe is not None:
        need = poe_type_wanted(a.thing)
        if need and (poe_type_of(b.spec) or 0) < need and isinstance(b.thing, Switch):
            return b
    return None


def _offer_move(line: LinkLine, point: PortPoint, spare: _Spare) -> None:
    key = spare.written.key(line, point)
    if key is None:
        return
    other = line.a if point is line.b else line.b
    need = (poe_type_wanted(other.thing) or 0) if other is not None else 0
    wanted = spare.wanted(line, point)
    for switch, ports in spare.near(line, point):
        for name, spec in _of_vlans(switch, ports, wanted):
            if suits(spec, need, _plug(point.spec)):
                spare.moves[id(line)] = key, name
                spare.take([(name, spec)])
                return


def _offer_span(path: Path, ends: list[tuple[LinkLine, PortPoint]], spare: _Spare) -> None:
    """Offer new ports to all things of a span, where none of its cables can stay or all are plugged into one port."""
    if path[-1] != "port":
        return
    points = [point for _, point in ends]
    shared = [line for line in points[0].links if line.path == path]
    if len(shared) == len(points[0].links) == len(ends) + 1 and len(set(points)) == 1:
        ends = [(line, points[0]) for line in shared]
        extra = [(points[0].name, points[0].spec)]
    else:
        extra = []
    things = [line.a.thing for line, _ in ends]
    if spare.written.count(path[:2]) != len(ends) or any(len(thing.port) != 1 for thing in things):
        return
    need = max(poe_type_wanted(thing) or 0 for thing in things)
    wanted = {(spare.wanted(line, point), _plug(point.spec)) for line, point in ends}
    if len(wanted) > 1:
        return
    vlans, media = wanted.pop()
    for switch, ports in spare.near(*ends[0]):
        own = extra if switch is points[0].thing else []
        run = _run([*own, *_of_vlans(switch, ports, vlans)], len(ends), need, media)
        if run:
            spare.take(run)
            for line, _ in ends:
                spare.moves[id(line)] = path, f"{run[0][0]} .. {run[-1][0]}"
            return


def suits(spec: Port, poe_type: int = 0, media: str | None = None) -> bool:
    """Say whether a data port feeds at least a PoE type (0: none needed) and takes the same kind of plug."""
    if spec.for_ == "management" or spec.unused or _plug(spec) != (media or "copper"):
        return False
    if spec.poe == "passive":
        return False  # its volts are on the pairs, whatever is plugged in
    return (poe_type_of(spec) or 0) >= poe_type


def _plug(spec: Port) -> str:
    """Return what plugs into a port: an SFP socket with a copper module is one for copper."""
    return "copper" if for_copper(spec) else spec.media or "sfp"


def _of_vlans(
    switch: Networked, ports: list[tuple[str, Port]], wanted: tuple[int | None, tuple[int, ...]]
) -> list[tuple[str, Port]]:
    """Return the ports of a switch that take frames of the VLANs wanted: (without a tag, with one)."""
    found = []
    for name, spec in ports:
        vlan = switch.vlan if spec.vlan is None else spec.vlan
        if (vlan, spec.tagged or switch.tagged) == wanted:
            found.append((name, spec))
    return found


def _run(
    ports: list[tuple[str, Port]], count: int, poe_type: int, media: str | None = None
) -> list[tuple[str, Port]]:
    """Return the first ports with consecutive numbers that suit ``count`` things; empty where there are none."""
    fit = [port for port in ports if suits(port[1], poe_type, media)]
    if count == 1:
        return fit[:1]
    fit = sorted((port for port in fit if port[1].id.isdecimal()), key=lambda port: int(port[1].id))
    for i in range(len(fit) - count + 1):
        run = fit[i : i + count]
        first = int(run[0][1].id)
        if all(spec.id == str(first + k) for k, (_, spec) in enumerate(run)):
            return run
    return []


class Written:
    """Finds the key that says one fact of one thing alone; entries are counted once, for the first question."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._counts: dict[str, dict[Path, int]] = {}

    def alone(self, entry: Path) -> bool:
        """Say whether the entry at a path stands for one thing: a span is one entry for several."""
        return self.count(entry) == 1

    def count(self, entry: Path) -> int:
        """Return how many things the entry at a path stands for."""
        table = str(entry[0])
        counts = self._counts.get(table)
        if counts is None:
            counts = self._counts[table] = {}
            for row in self._plan.table(table):
                counts[row.path] = counts.get(row.path, 0) + 1
        return counts.get(entry, 0)

    def key(self, line: LinkLine, point: PortPoint) -> Path | None:
        """Return the key that says where one end of a cable is plugged, or None where it says more than that."""
        path = line.path
        if path[0] in ("link", "uplink"):
            entry = path[:-1]
            return (*entry, "from" if point is line.a else "to") if self.alone(entry) else None
        thing = line.a.thing
        if point is not line.b or not self.alone(thing.path):
            return None
        if path[-1] == "to":
            return path if sum(1 for port in thing.port_ if port.path == path[:-1]) == 1 else None
        if len(thing.port) == 1:
            return path
        return (*path, thing.port.index(point.name)) if point.name in thing.port else None
