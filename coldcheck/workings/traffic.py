"""Traffic: what each link must carry in the worst hour, and how much of storage each node gets when all read at once.

One way only counts, since links are full duplex: each direction has the whole speed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache, cached_property
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import flow, frames
from coldcheck.lan.graph import Graph
from coldcheck.plan.model import Plan
from coldcheck.plan.tables import Flow

from .addresses import AddressBook
from .ports import LinkSpeed
from .segments import Room, Segments
from .spanning import SpanningTree, speed_of
from .topology import Bundle, Network
from .vlans import VlanEnds

__all__ = [
    "Crossing", "Demand", "Hop", "Load", "Share", "Traffic", "asked_shares", "blocked_vlans", "crossings", "demands",
    "link_loads", "storage_shares", "traffic",
]  # fmt: skip

_READS = (
    "plan",
    "node",
    "storage",
    "appliance",
    "switch",
    "link",
    "uplink",
    "subnet",
    "outside",
    "flow",
    "drive",
)


class Hop(msgspec.Struct):
    """One link as frames of one VLAN take it, from room ``a`` to room ``b`` and back.

    ``place`` is that of the link in `Network.bundles`; ``straight``: its end ``a`` is that of the link.
    """

    place: int
    a: int
    b: int
    straight: bool


class Traffic:
    """The links that forward, how fast they are, and the ways through them.

    ``bits`` [bit/s] has the speed of each link by its place in `Network.bundles`, one way, all its cables together;
    None where it is not known; ``forwarding`` has the places of those that forward or may. ``segments`` are those whose
    rooms are meant. What follows from these is made when it is asked for: most plans ask for none of it.
    """

    def __init__(
        self, network: Network, segments: Segments, bits: list[float | None], forwarding: set[int], book: AddressBook
    ) -> None:  # fmt: skip
        self.network = network
        self.segments = segments
        self.bits = bits
        self.forwarding = forwarding
        self._book = book
        self._entries: dict[str, dict[int, int]] = {}

    @cached_property
    def hops(self) -> list[Hop]:
        """The edges of `ways`: each link once for every pair of rooms that it joins."""
        return list(_hops(self.network, self.segments))

    @cached_property
    def ways(self) -> Graph[int]:
        """The graph of the rooms of `segments` and of the links that forward or may."""
        active = [edge for edge, hop in enumerate(self.hops) if hop.place in self.forwarding]
        return Graph([(hop.a, hop.b) for hop in self.hops], range(len(self.segments.rooms)), active)

    @cached_property
    def looped(self) -> set[int]:
        """The hops in a loop of `ways`, of which it is not known whether they forward."""
        return set() if self.ways.is_forest() else {edge for tangle in self.ways.tangles() for edge in tangle}

    @cached_property
    def rooms(self) -> dict[str, list[int]]:
        """The rooms of each thing and of what lies outside."""
        return _rooms(self.network, self.segments)

    @cached_property
    def routers(self) -> dict[int, list[tuple[str, int]]]:
        """By part of `ways`, what routes there and the room it has there."""
        found: dict[int, list[tuple[str, int]]] = {}
        for name in _routers(self._book, self.rooms, self.network):
            for room in self.rooms[name]:
                found.setdefault(self.part(room), []).append((name, room))
        return found

    def entries(self, thing: str) -> dict[int, int]:
        """Return the parts of the ways that a thing is in, by its rooms in their order, each with the first of them."""
        found = self._entries.get(thing)
        if found is None:
            found = self._entries[thing] = {}
            for room in self.rooms.get(thing, ()):
                found.setdefault(self.part(room), room)
        return found

    def part(self, room: int) -> int:
        """Return the part of the ways that a room is in, by the first of its rooms."""
        return self.ways.tree.root[room]

    def way(self, one: str, other: str) -> list[tuple[int, int]] | None:
        """Return the legs from one thing to another, as pairs of rooms; None where no way is known.

        One leg where frames get from one to the other; else as few as can be, from router to router. Where several
        ports of a thing would do, the first of them counts, those with addresses of their own before others.
        """
        starts, goals = self.entries(one), self.entries(other)
        if len(goals) == 1:  # the usual case, though the other end may be in every VLAN there is
            part, room = next(iter(goals.items()))
            if part in starts:
                return [(starts[part], room)]
        legs: list[tuple[int, list[tuple[int, int]]]] = [(room, []) for room in self.rooms.get(one, ())]
        seen: set[int] = set()
        for room, before in legs:  # it grows: routers further off come later
            part = self.part(room)
            if part in goals:
                return [*before, (room, goals[part])]
            if part in seen:
                continue
            seen.add(part)
            for router, entered in self.routers.get(part, ()):
                legs += [(left, [*before, (room, entered)]) for left in self.rooms[router]]
        return None

    def walk(self, legs: list[tuple[int, int]]) -> Iterator[tuple[int, bool]]:
        """Yield the hops of some legs, and whether each is walked from the first end of its link to the second."""
        for start, goal in legs:
            at = start
            for edge in self.ways.tree.climb(start, goal):
                hop = self.hops[edge]
                yield edge, (at == hop.a) is hop.straight
                at = hop.b if at == hop.a else hop.a


@working(reads=_READS)
def traffic(
    network: Network,
    vlan_ends: VlanEnds,
    spanning_tree: SpanningTree,
    link_speeds: dict[int, LinkSpeed],
    address_book: AddressBook,
) -> Traffic:
    """Return the links that forward and their speeds, and the ways that frames of each VLAN have.

    A cable whose ends disagree in their VLANs carries what was meant: `vlans.ends` speaks of it.
    """
    bits = [speed_of(bundle, link_speeds) for bundle in network.bundles]
    forwarding = spanning_tree.active | spanning_tree.undecided
    return Traffic(network, vlan_ends.mended, bits, forwarding, address_book)


def _hops(network: Network, segments: Segments) -> Iterator[Hop]:
    """Yield each link once for every pair of rooms that it joins."""
    place = {id(line): i for i, bundle in enumerate(network.bundles) for line in bundle.lines}
    known: set[tuple[int, int, int]] = set()
    for passage in segments.passages:
        at = place.get(id(passage.line))
        if at is None:
            continue
        key = (at, min(passage.a, passage.b), max(passage.a, passage.b))
        if key not in known:
            known.add(key)
            first = passage.line.a
            yield Hop(at, passage.a, passage.b, network.at[first.name] == network.bundles[at].a)


def _rooms(network: Network, segments: Segments) -> dict[str, list[int]]:
    """Return the rooms of each thing, those of management ports left out, and of what lies outside."""
    found: dict[str, list[int]] = {}
    later: list[int] = []
    for place, room in enumerate(segments.rooms):
        if room.thing is None or not _for_data(network, room):
            continue
        if room.port and not any(port.address for port in _specs(room)):
            later.append(place)
        else:
            found.setdefault(room.thing.id, []).append(place)
    for place in later:
        found.setdefault(segments.rooms[place].thing.id, []).append(place)
    for passage in segments.passages:
        if passage.line.b is None:
            found.setdefault(passage.line.outside, []).append(passage.b)
    return found


def _specs(room: Room) -> list[Any]:
    return [port for port in room.thing.port_ if room.port in (port.id, port.bond, room.thing.bond)]


def _for_data(network: Network, room: Room) -> bool:
    return _door(network, room) in network.doors.get(room.thing.id, ())


def _door(network: Network, room: Room) -> str:
    if not room.port:
        return str(room.thing.id)
    name = f"{room.thing.id}.{room.port}"
    return network.at.get(name, name)


def _routers(book: AddressBook, rooms: dict[str, list[int]], network: Network) -> list[str]:
    """Return what routes: what has the address of a gateway, and what lies outside where no thing here has that."""
    gateways = {(host.family, host.value) for host in (*book.gateways, *book.defaults)}
    owners = {(h.family, h.value): h.thing.id for h in (*book.outside, *book.hosts)}
    found = dict.fromkeys(owners[gate] for gate in gateways if gate in owners)
    if any(gate not in owners for gate in gateways):
        found |= dict.fromkeys(network.ways_out)
    return sorted(name for name in found if name in rooms)


@working(reads=_READS)
def blocked_vlans(traffic: Traffic, spanning_tree: SpanningTree) -> dict[int, list[int]]:
    """Return, by the place of a link that the spanning tree blocks, the VLANs that no other way carries across it.

    0 stands for frames without any VLAN.
    """
    found: dict[int, list[int]] = {}
    for hop in traffic.hops if spanning_tree.blocked else ():
        if hop.place in spanning_tree.blocked and traffic.part(hop.a) != traffic.part(hop.b):
            rooms = (traffic.segments.rooms[hop.a], traffic.segments.rooms[hop.b])
            found.setdefault(hop.place, []).append(max(room.vlan for room in rooms))
    return {place: sorted(set(vlans)) for place, vlans in found.items()}


# --- flows that the plan states --------------------------------------------------------------------------------------


class Demand(msgspec.Struct):
    """One flow: ``bits`` [bit/s] on the line, headers included; ``edges`` are the links that it surely takes.

    ``legs`` are pairs of rooms, several where routers stand between; None where no way is known. ``hops`` has each
    link on the way, and whether it is taken from its first end to its second; ``unsure`` has the
    links in a loop on one way, where it is not known which way is taken.
    """

    flow: Flow
    bits: float
    legs: list[tuple[int, int]] | None
    hops: list[tuple[int, bool]]
    unsure: list[int]

    @property
    def edges(self) -> list[int]:
        """The links that it surely takes, by their place, each once."""
        return list(dict.fromkeys(place for place, _ in self.hops))


class Load(msgspec.Struct):
    """What one link must carry one way: ``bits`` [bit/s] of ``capacity`` [bit/s], None where that is not known.

    ``demands`` are the flows that go that way, the largest first.
    """

    bundle: Bundle
    place: int
    bits: float
    capacity: float | None
    demands: list[Demand]


@working(reads=_READS)
def demands(plan: Plan, traffic: Traffic) -> list[Demand]:
    """Return every flow of the plan between two things, with its way."""
    found = []
    for one in plan.table("flow"):
        if one.from_ == one.to or one.from_ not in plan.things or one.to not in plan.things:
            continue
        legs = traffic.way(one.from_, one.to)
        walked = list(traffic.walk(legs or []))
        mtu = (
            min(_mtu(plan, traffic.segments, room) for room in (legs[0][0], legs[-1][1]))
            if legs
            else frames.MTU
        )
        bits = one.speed / frames.goodput_share(max(mtu, frames.LEAST_LINK_MTU[4]))
        sure = [(traffic.hops[edge].place, there) for edge, there in walked if edge not in traffic.looped]
        unsure = [traffic.hops[edge].place for edge, _ in walked if edge in traffic.looped]
        found.append(Demand(one, bits, legs, sure, unsure))
    return found


def _mtu(plan: Plan, segments: Segments, place: int) -> int:
    """Return the longest packet that is sent into a room by what has it; 1500 where it does not say."""
    room = segments.rooms[place]
    if room.thing is None:
        return frames.MTU
    stated = [
        point.mtu for point in plan.ports.get(room.thing.id, ()) if room.port in ("", point.bond or point.id)
    ]
    return min((mtu for mtu in stated if mtu), default=frames.MTU)


@working(reads=_READS)
def link_loads(traffic: Traffic, demands: list[Demand]) -> list[Load]:
    """Return what each link must carry, in the direction that carries more."""
    both: dict[int, list[float]] = {}
    on: dict[tuple[int, bool], dict[int, Demand]] = {}
    for demand in demands:
        for place, there in demand.hops:
            both.setdefault(place, [0.0, 0.0])[there] += demand.bits
            on.setdefault((place, there), {})[id(demand)] = demand
    bundles, loads = traffic.network.bundles, []
    for place, bits in sorted(both.items()):
        fuller = on[place, bits[1] > bits[0]].values()
        largest = sorted(fuller, key=lambda demand: -demand.bits)
        loads.append(Load(bundles[place], place, max(bits), traffic.bits[place], largest))
    return loads


# --- storage, when all read at once ----------------------------------------------------------------------------------


#: The most that each gets [bit/s], and the links that decide it; None where that is not known.
_Most = tuple[float | None, list[Bundle]]


class Share(msgspec.Struct):
    """What every node gets of one storage when all read at once.

    ``nodes`` are those that a way leads to. ``least`` [bit/s], on the line, is what they get in any case; 0 where that
    is not known: then ``unknown`` are links whose speeds are not.
    """

    storage: Any
    nodes: list[Any]
    least: float
    unknown: list[Bundle]
    _most: Callable[[], _Most]

    @property
    def bits(self) -> float | None:
        """The most [bit/s] that any choice of ways allows, None where that is not known; found when asked for."""
        return self._most()[0]

    @property
    def tight(self) -> list[Bundle]:
        """The links that decide the most."""
        return self._most()[1]


def _nothing() -> _Most:
    return None, []


@working(reads=_READS)
def storage_shares(plan: Plan, traffic: Traffic) -> list[Share]:
    """Return the share of each storage that every node gets, all nodes reading at once.

    Formula: the least over all links of speed / nodes that read by it; where there are several ways, max flow equals
    min cut.
    """
    shares = (_share(plan, traffic, storage) for storage in plan.table("storage"))
    return [share for share in shares if share is not None]


@working(reads=_READS)
def asked_shares(plan: Plan, traffic: Traffic) -> list[Share]:
    """Return the shares of storage where [plan] asks for one; else none, since each costs a way for each node."""
    return storage_shares(plan, traffic) if plan.head.share is not None else []


def _share(plan: Plan, traffic: Traffic, storage: Any) -> Share | None:
    segments = traffic.segments
    ways = [
        (node, way) for node in plan.table("node") if (way := traffic.way(storage.id, node.id)) is not None
    ]
    if not ways:
        return None
    offers = _doors_by_part(traffic, segments, storage.id)
    wants = [_doors_by_part(traffic, segments, node.id) for node, _ in ways]
    pairs = [{(a, b) for part in want for a in offers.get(part, ()) for b in want[part]} for want in wants]
    walked = [list(traffic.walk(way)) for _, way in ways]
    looped = any(edge in traffic.looped for steps in walked for edge, _ in steps)
    nodes = [node for node, _ in ways]
    if all(len(pair) < 2 for pair in pairs) and not looped:
        return _by_one_way(traffic, storage, nodes, walked)
    if not all(pairs):
        return Share(storage, nodes, 0.0, [], _nothing)  # some by routers, and a choice of ways there
    every = {a for doors in offers.values() for a in doors}
    exact = not looped and all({a for a, _ in pair} == every for pair in pairs)
    ends = [_door(traffic.network, segments.rooms[way[-1][1]]) for _, way in ways]
    return _by_several_ways(traffic, storage, nodes, pairs, ends, set(offers), exact)


def _doors_by_part(traffic: Traffic, segments: Segments, name: str) -> dict[int, list[str]]:
    """Return the doors of a thing by the parts of the ways that they lead into."""
    found: dict[int, list[str]] = {}
    for place in traffic.rooms.get(name, ()):
        doors = found.setdefault(traffic.part(place), [])
        door = _door(traffic.network, segments.rooms[place])
        if door not in doors:
            doors.append(door)
    return found


def _by_one_way(
    traffic: Traffic, storage: Any, nodes: list[Any], walked: list[list[tuple[int, bool]]]
) -> Share:
    bundles, bits = traffic.network.bundles, traffic.bits
    counts: dict[int, list[int]] = {}
    for steps in walked:
        for edge, there in steps:
            counts.setdefault(traffic.hops[edge].place, [0, 0])[there] += 1
    unknown = [bundles[place] for place in sorted(counts) if bits[place] is None]
    if unknown:
        return Share(storage, nodes, 0.0, unknown, _nothing)
    shares = {place: (bits[place] or 0.0) / max(count) for place, count in counts.items()}
    least = min(shares.values())
    tight = [bundles[place] for place in sorted(shares) if shares[place] == least]
    return Share(storage, nodes, least, [], lambda: (least, tight))


def _by_several_ways(
    traffic: Traffic, storage: Any, nodes: list[Any], pairs: list[set[tuple[str, str]]], ends: list[str],
    parts: set[int], exact: bool,
) -> Share:  # fmt: skip
    """Return the share where data may go by several doors.

    The most is that of a graph in which all doors of a node lead to one sink: it lets data pass through a node, which
    a node does not do. The least is that by one door of each node, its end of the way that a flow would take; nothing,
    where it is not known which links forward or who may use which door of the storage.
    """
    bundles = traffic.network.bundles
    kept = {
        hop.place for hop in traffic.hops if hop.place in traffic.forwarding and traffic.part(hop.a) in parts
    }
    edges = [(bundle.a, bundle.b) for bundle in bundles]
    sinks, sources = [f"all of {node.id}" for node in nodes], sorted({a for pair in pairs for a, _ in pair})
    for sink, pair in zip(sinks, pairs, strict=True):
        for door in sorted({b for _, b in pair}):
            kept.add(len(edges))
            edges.append((door, sink))
    graph = Graph(edges, kept=_between(edges, kept, {*sources, *sinks}))
    unknown = [bundles[e] for e in graph.edges if e < len(bundles) and traffic.bits[e] is None]
    if unknown:
        return Share(storage, nodes, 0.0, unknown, _nothing)
    speeds = [bits or 0.0 for bits in traffic.bits] + [math.inf] * (len(edges) - len(bundles))

    @cache
    def most() -> _Most:
        found = flow.equal_share(graph, speeds, sources, sinks)
        return (float(found.bits), [bundles[edge] for edge in found.edges]) if found else (None, [])

    # one door of each is in a forest as a rule, and found at once; all doors of all close loops, which costs more
    own = graph.only(edge for edge in graph.edges if edge < len(bundles))
    sure = flow.equal_share(own, speeds, sources, ends) if exact else None
    return Share(storage, nodes, float(sure.bits) if sure else 0.0, [], most)


def _between(ends: list[tuple[str, str]], kept: set[int], wanted: set[str]) -> list[int]:
    """Return the edges without those that hang on and lead to nothing wanted, leaves first."""
    at: dict[str, set[int]] = {}
    for edge in kept:
        for vertex in ends[edge]:
            at.setdefault(vertex, set()).add(edge)
    ready = [vertex for vertex, edges in at.items() if len(edges) == 1 and vertex not in wanted]
    left = set(kept)
    for vertex in ready:
        for edge in at[vertex] & left:
            left.remove(edge)
            other = ends[edge][ends[edge][0] == vertex]
            at[other].discard(edge)
            if len(at[other]) == 1 and other not in wanted:
                ready.append(other)
    return sorted(left)


# --- what could cross a link -----------------------------------------------------------------------------------------


class Crossing(msgspec.Struct):
    """A link between two switches, and what could ask for it at once.

    ``side`` [bit/s] is the sum of the speeds of the machines on that side of it which has less, ``machines`` how many
    links they have there; ``bits`` [bit/s] is its own speed.
    """

    bundle: Bundle
    side: float
    bits: float
    machines: int


@working(reads=_READS)
def crossings(traffic: Traffic) -> list[Crossing]:
    """Return every link between switches whose speed is known, with the speeds of all machines on its lesser side.

    A machine of unknown speed counts as nothing. Only where there is one way; what lies outside counts for no machine.
    """
    network = traffic.network
    if not any(bundle.a in network.passing and bundle.b in network.passing for bundle in network.bundles):
        return []
    graph = network.graph.only(traffic.forwarding)
    looped = set() if graph.is_forest() else {edge for tangle in graph.tangles() for edge in tangle}
    machines = {
        door for name, doors in network.doors.items() if name not in network.passing for door in doors
    }
    weight = [0.0] * len(graph.vertices)
    count = [0] * len(graph.vertices)
    for edge in graph.edges:
        a, b = network.bundles[edge].a, network.bundles[edge].b
        for near, far in ((a, b), (b, a)):
            if near in network.passing and far in machines:
                weight[graph.number[near]] += traffic.bits[edge] or 0.0
                count[graph.number[near]] += 1
    tree = graph.tree
    for v in reversed(tree.order):
        if tree.parent[v] >= 0:
            weight[tree.parent[v]] += weight[v]
            count[tree.parent[v]] += count[v]
    found = []
    for v in tree.order:
        edge, root = tree.edge[v], tree.root[v]
        bits = traffic.bits[edge] if edge >= 0 and edge not in looped else None
        if bits is not None and {network.bundles[edge].a, network.bundles[edge].b} <= network.passing:
            side, machines_there = min(
                (weight[v], count[v]), (weight[root] - weight[v], count[root] - count[v])
            )
            found.append(Crossing(network.bundles[edge], side, bits, machines_there))
    return found
