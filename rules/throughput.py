"""Throughput: what must get through in the worst hour does, by the narrowest place on its way."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.lan import frames
from coldcheck.plan.model import Plan
from coldcheck.plan.quantities import show
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Flow, Switch, Uplink
from coldcheck.workings.addresses import Host
from coldcheck.workings.bonds import Bond
from coldcheck.workings.islands import Island
from coldcheck.workings.placing import Placement
from coldcheck.workings.ports import Entry, LinkSpeed
from coldcheck.workings.spanning import SpanningTree, unsaid_speeds
from coldcheck.workings.topology import Bundle, Loop
from coldcheck.workings.traffic import Crossing, Demand, Load, Share, Traffic
from coldcheck.workings.vlans import VlanEnds

#: Sums of speeds are not exact in binary; what fits exactly must fit.
_NEAR = 1 + 1e-9

_SW = '[[switch]]\nid = "{}"\nspanning_tree = {}\n[[switch.port]]\nid = "1 .. 30"\nspeed = "{}"\n'
_LINK = '[[link]]\nfrom = "{}"\nto = "{}"\n'
_NODE = '[[node]]\nid = "{}"\n[[node.port]]\nid = "eth"\nspeed = "{}"\nto = "{}"\n'
_STORE = '[[storage]]\nid = "store"\n[[storage.port]]\nid = "eth"\nspeed = "{}"\nto = "{}"\n'
_FLOW = '[[flow]]\nfrom = "{}"\nto = "{}"\nspeed = "{}"\n'
_STICK = (
    '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\nvlan = 10\nspeed = "1 Gbit/s"\n'
    '[[switch.port]]\nid = "2"\nspeed = "1 Gbit/s"\n{}'
    '[[switch.port]]\nid = "3"\ntagged = [10, 20]\nspeed = "100 Mbit/s"\n'
    '[[uplink]]\nfrom = "sw.3"\nto = "r"\ntagged = [10, 20]\nspeed = "100 Mbit/s"\n'
    '[[outside]]\nid = "r"\naddress = ["10.0.10.1", "10.0.20.1"]\n'
    '[[subnet]]\nprefix = "10.0.10.0/24"\nvlan = 10\ngateway = "10.0.10.1"\n'
    '[[subnet]]\nprefix = "10.0.20.0/24"\nvlan = 20\ngateway = "10.0.20.1"\n'
    '[[node]]\nid = "n"\naddress = "10.0.10.5"\n[[node.port]]\nid = "eth"\nspeed = "1 Gbit/s"\nto = "sw.1"\n'
    '[[storage]]\nid = "s"\naddress = ["10.0.10.6", "10.0.20.6"]\nvlan = 10\ntagged = 20\n'
    '[[storage.port]]\nid = "eth"\nspeed = "1 Gbit/s"\nto = "sw.2"\n'
    '[[flow]]\nfrom = "s"\nto = "n"\nspeed = "{} Mbit/s"\n'
)
_PLAIN = _SW.format("a", "false", "1 Gbit/s") + _STORE.format("1 Gbit/s", "a.30")
_FOUR = _PLAIN + _NODE.format("n1 .. n4", "1 Gbit/s", "a.1 .. a.4")


def _bits(bits: float) -> str:
    return show(bits, "bit/s")


def _unsaid(bundles: list[Bundle]) -> list[str]:
    """Return the keys that would say how fast some links are; none where another rule says that they do not come up."""
    return list(
        dict.fromkeys(key for bundle in bundles for line in bundle.lines for key in unsaid_speeds(line))
    )


@rule(level="error", over="plan")
def flow(plan: Plan, link_loads: list[Load], traffic: Traffic, vlan_ends: VlanEnds) -> Iterator[Finding]:
    """Every link carries all flows that go over it in the worst hour.

    Links are full duplex, so each direction counts by itself. A flow is what its user gets; on the line, headers come
    on top. Flows between subnets go by way of the router and back. Of several links that the same flows overload, the
    narrowest is told.

    Formula: sum over flows of speed / (1460 / 1538) <= speed of the link; with other MTUs accordingly. Of a bond, the
    sum of its cables.

    Source: frame layout of IEEE 802.3, RFC 791, RFC 9293: 1460 of 1538 octets.
    """
    full: dict[tuple[int, ...], list[tuple[float, Load]]] = {}
    deaf = _deaf(vlan_ends)
    for load in link_loads:
        if load.capacity is None:
            yield from _speed_unsaid(load)
        elif load.bits > load.capacity * _NEAR and not _astray(traffic, load, load.capacity, deaf):
            full.setdefault(tuple(map(id, load.demands)), []).append((load.capacity / load.bits, load))
    for loads in full.values():
        load = min(loads, key=lambda pair: pair[0])[1]
        line, capacity = load.bundle.lines[0], load.capacity or 0.0
        name, says = _named(load.bundle)
        says += f" must carry {_bits(load.bits)} one way; it has {_bits(capacity)}"
        more = [(path, "one of the flows") for path in dict.fromkeys(d.flow.path for d in load.demands)][:4]
        more += [(x.bundle.lines[0].path, "too slow as well") for _, x in loads if x is not load][:4]
        yield Finding("error", line, says, found=Measure(load.bits, "bit/s"), allowed=Measure(capacity, "bit/s"),
                      because=f"flows: {_flows(load)}", path=line.path, subjects=(name,), related=more,
                      remedy="a faster link or a bond here, or less at once")  # fmt: skip


def _deaf(vlan_ends: VlanEnds) -> set[str]:
    """Return the machines, and what lies outside, that say other VLANs than their cable carries."""
    found = set()
    for slip in vlan_ends.slips.values():
        if slip.machine:
            line = slip.line
            ends = [end.thing for end in (line.a, line.b) if end is not None]
            found |= {thing.id for thing in ends if not isinstance(thing, Switch)} or {line.outside}
    return found


def _astray(traffic: Traffic, load: Load, capacity: float, deaf: set[str]) -> bool:
    """Say whether a link is too full only of flows by a router, of which `vlans.machine` tells a slip of somebody."""
    if not deaf:
        return False
    rooms, line = traffic.segments.rooms, load.bundle.lines[0]
    ends = {line.a.thing.id, line.outside if line.b is None else line.b.thing.id}

    def sure(demand: Demand) -> bool:
        if len(demand.legs or ()) < 2 or not ends.isdisjoint((demand.flow.from_, demand.flow.to)):
            return True  # no router, so no detour; or it goes over this link by any way
        met = [rooms[room].thing for leg in demand.legs or () for room in leg]
        names = {demand.flow.from_, demand.flow.to, *(thing.id for thing in met if thing is not None)}
        return deaf.isdisjoint(names)

    return sum(demand.bits for demand in load.demands if sure(demand)) <= capacity * _NEAR


def _speed_unsaid(load: Load) -> Iterator[Finding]:
    line, ends = load.bundle.lines[0], _unsaid([load.bundle])
    if ends:
        name, says = _named(load.bundle)
        says += f" must carry {_bits(load.bits)}, and its speed is not known"
        yield Open("error", line, says, ends, path=line.path, subjects=(name,), because=f"flows: {_flows(load)}",
                   remedy="say the speed of the ports at both ends")  # fmt: skip


def _named(bundle: Bundle) -> tuple[str, str]:
    """Return what a link is called, and that in a sentence: by the machine at its end where there is one."""
    line = bundle.lines[0]
    machine = next((end for end in (line.a, line.b) if end is not None and end.thing.table != "switch"), None)
    if machine is None:
        return str(line), f"the link from {bundle.words}"
    several = len(machine.thing.port_) > 1 and not bundle.lines[1:]
    name = machine.name if several else str(machine.thing.id)
    return name, f"the bond of {name}" if bundle.lines[1:] else f"the link of {name}"


def _flows(load: Load) -> str:
    return listed(dict.fromkeys(f"{d.flow.from_} to {d.flow.to}" for d in load.demands))


# 949.3 Mbit/s of goodput is what 1 Gbit/s carries at an MTU of 1500: 1460 of 1538 octets.
cases(
    flow,
    clean=[
        _FOUR + _FLOW.format("store", "n1", "949.28 Mbit/s"),
        _FOUR + _FLOW.format("store", "n1 .. n4", "237.3 Mbit/s").replace('from = "store"', 'from = "store"'),
        _FOUR + _FLOW.format("store", "n1", "500 Mbit/s") + _FLOW.format("n1", "store", "900 Mbit/s"),  # both ways
        _STICK.format("vlan = 10\ntagged = 20\n", 200),
        _STICK.format("", 200),  # only a slip sends it by the router: `vlans.machine` has that
    ],
    flagged=[
        Case(_FOUR + _FLOW.format("store", "n1", "949.29 Mbit/s"), at="must carry", level="error",
             mended=_FOUR + _FLOW.format("store", "n1", "949.28 Mbit/s")),
        Case(_FOUR + _FLOW.format("store", "n1 .. n4", "240 Mbit/s"), at="the link of store", level="error"),
        # over its own link it goes by any way; and what is no slip of VLANs goes by the router indeed
        Case(_STICK.format("", 960), at="the link of", found="1.011 Gbit/s"),
        Case(_STICK.format("vlan = 20\n", 200).replace('["10.0.10.6", ', "[").replace("\nvlan = 10\ntagged = 20", ""),
             at="from sw.3 to r", found="210.685 Mbit/s"),
        Case(_FOUR.replace('speed = "1 Gbit/s"\nto = "a.30"', 'to = "a.30"') + _FLOW.format("store", "n1", "1 Mbit/s"),
             at="store", kind="open"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def no_way(
    plan: Plan,
    demands: list[Demand],
    traffic: Traffic,
    uncabled: list[Entry],
    spanning_tree: SpanningTree,
    islands: list[Island],
    vlan_ends: VlanEnds,
    placement: Placement,
    blocked_vlans: dict[int, list[int]],
    lost_gateways: list[Host],
    stray_uplinks: list[tuple[Uplink, str]],
) -> Iterator[Finding]:
    """Every flow has a way from where it comes to where it goes.

    Where [plan] asks for a share, so has every node to some storage.
    Two things meet in one VLAN, or routers stand between. A thing sends nothing to itself by the network.
    """
    if not plan.table("flow") and plan.head.share is None:
        return
    for one in plan.table("flow"):
        if one.from_ == one.to:
            says = f"the flow from {one.from_} to {one.to} has one end only: it takes no cable"
            yield Finding("error", one, says, place="to", remedy="say where it goes, or take it out")
    told = _told(plan, vlan_ends, uncabled, islands)
    # what has another cause is told there: a port in the wrong VLAN, a link that the spanning tree blocks
    named = bool(plan.faults or blocked_vlans or placement.misplaced or placement.sides or vlan_ends.muddled)
    lacking = any(demand.legs is None for demand in demands)
    named = named or bool(lost_gateways) or (lacking and _routers_told(plan, traffic, told))
    astray = {name for _, name in stray_uplinks}  # `references.outside_astray` has these
    unsure: list[Flow] = []
    groups: dict[Any, list[Demand]] = {}
    for demand in demands:
        one = demand.flow
        if demand.legs is None:
            ends = [told.get(name) for name in (one.from_, one.to)]
            if (
                not named
                and "rule" not in ends
                and ends[0] == ends[1]
                and astray.isdisjoint((one.from_, one.to))
            ):
                groups.setdefault((one.path, _why(plan, traffic, one)), []).append(demand)
        elif not spanning_tree.undecided.isdisjoint(demand.unsure):
            unsure.append(one)
    if unsure:
        ways = listed(f"{one.from_} to {one.to}" for one in unsure[:6]) + (" ..." if unsure[6:] else "")
        says = f"which way is taken from {ways} is not known: a spanning tree decides it"
        yield Open("error", unsure[0], says, spanning_tree.missing[:6],
                   remedy="say what is missing; or make one bond of cables that run side by side")  # fmt: skip
    for (_, (why, remedy)), some in groups.items():
        one = some[0].flow
        ends = [listed(dict.fromkeys(str(end(d.flow)) for d in some)) for end in (_from, _to)]
        yield Finding(
            "error", one, f"no way leads from {ends[0]} to {ends[1]}: {why}", place="to", remedy=remedy
        )
    left = () if plan.head.share is None or named or told else tuple(_left_out(plan, traffic))
    if left:
        says = f"no way leads from any storage to {listed(node.id for node in left)}: {_WHY}"
        yield Finding(
            "error", left[0], says, place="port", remedy=_REMEDY, subjects=tuple(n.id for n in left)
        )


def _routers_told(plan: Plan, traffic: Traffic, told: dict[str | None, Any]) -> bool:
    """Say whether a router is told of, or a cable in a port that has one already: the way may have gone by it."""
    if any(told.get(name) == "rule" for there in traffic.routers.values() for name, _ in there):
        return True
    ends = (end for line in plan.links for end in (line.a, line.b) if end is not None)
    return any(len(end.links) > 1 for end in ends)


def _from(one: Flow) -> str | None:
    return one.from_


def _to(one: Flow) -> str | None:
    return one.to


def _told(
    plan: Plan, vlan_ends: VlanEnds, uncabled: list[Entry], islands: list[Island]
) -> dict[str | None, Any]:
    """Return, by the name of a thing, "rule" where another rule says why nothing reaches it, else its island."""
    found: dict[str | None, Any] = {}
    for i, island in enumerate(islands):
        if island.cut_off:  # `topology.cut_off` speaks of the cable
            found |= {thing.id: i for thing in island.things}
    found |= {
        line.outside: found[line.a.thing.id] for line in plan.links if not line.b and line.a.thing.id in found
    }
    found |= {thing.id: "rule" for entry in uncabled for thing in entry.things}  # `ports.no_link`
    for slip in vlan_ends.slips.values():
        if slip.machine:  # `vlans.machine`
            found |= {end.thing.id: "rule" for end in (slip.line.a, slip.line.b) if end is not None}
    return found


_WHY = "they share no network, and no router joins theirs"
_REMEDY = "put them into one VLAN, or say which router has each gateway"


def _left_out(plan: Plan, traffic: Traffic) -> Iterator[Any]:
    """Yield the nodes that no way leads to from any storage, where one has a cable."""
    sources = [storage.id for storage in plan.table("storage") if storage.id in traffic.rooms]
    for node in plan.table("node") if sources else ():
        if all(traffic.way(source, node.id) is None for source in sources):
            yield node


def _why(plan: Plan, traffic: Traffic, one: Flow) -> tuple[str, str]:
    """Return why a flow has no way, and what to do: no cable, no uplink, or no common network."""
    for name in (one.from_, one.to):
        if name is not None and name not in traffic.rooms:
            if hasattr(plan.things[name], "port_"):
                return f"{name} is without a data cable", f'say its cable: port = "..." of {name}'
            return f"no uplink goes to {name}", f'add an [[uplink]] to = "{name}"'
    return _WHY, _REMEDY


_VLANS = '[[switch]]\nid = "a"\n[[switch.port]]\nid = "1"\nvlan = 10\n[[switch.port]]\nid = "2"\nvlan = {}\n'
_VLANS += '[[node]]\nid = "n1"\nport = "a.1"\n[[node]]\nid = "n2"\nport = "a.2"\n'

cases(
    no_way,
    clean=[
        _VLANS.format(10) + _FLOW.format("n1", "n2", "1 Mbit/s"),
        _FOUR + _FLOW.format("n1", "n4", "1 Mbit/s"),
        # `references.outside_astray` has the uplink
        _FOUR + '[[outside]]\nid = "router"\n[[uplink]]\nfrom = "a.20"\nto = "ruoter"\n'
        + _FLOW.format("n1", "router", "1 Mbit/s"),
    ],
    flagged=[
        Case(_VLANS.format(20) + _FLOW.format("n1", "n2", "1 Mbit/s"), at="n1 to n2", level="error",
             mended=_VLANS.format(10) + _FLOW.format("n1", "n2", "1 Mbit/s")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def one_cable(
    plan: Plan, demands: list[Demand], traffic: Traffic, link_speeds: dict[int, LinkSpeed]
) -> Iterator[Finding]:
    """A single connection fits on one cable of each bond on its way.

    A bond deals out connections, not frames: one connection stays on one cable, however many there are. Only dealing
    out frame by frame would use them all, and brings frames out of order.

    Source: Linux kernel documentation of bonding, section 12.1.1.
    """
    for demand in demands:
        speeds = [traffic.bits[edge] for edge in demand.edges]
        if demand.flow.one is False or any(
            bits is not None and bits * _NEAR < demand.bits for bits in speeds
        ):
            continue  # what is too much for all cables `throughput.flow` speaks of
        narrow = []
        for edge, bits in zip(demand.edges, speeds, strict=True):
            bundle = traffic.network.bundles[edge]
            most = max(link_speeds[id(line)].speed or 0.0 for line in bundle.lines)
            if len(bundle.lines) > 1 and bits is not None and most * _NEAR < demand.bits:
                narrow.append((most, bundle))
        if narrow:
            most, bundle = min(narrow, key=lambda pair: pair[0])
            says = f"{demand.flow.from_} to {demand.flow.to} takes {_bits(demand.bits)} of the bond from "
            says += f"{bundle.words}; one connection gets {_bits(most)}"
            yield Finding("error", demand.flow, says, found=Measure(demand.bits, "bit/s"),
                          allowed=Measure(most, "bit/s"), place="speed",
                          related=[(bundle.lines[0].path, "the bond")],
                          remedy="a faster cable; or, for many connections, one = false")  # fmt: skip


_BOND = _SW.format("a", "false", "1 Gbit/s") + '[[storage]]\nid = "store"\n[[storage.port]]\nid = "1 .. 2"\n'
_BOND += 'speed = "1 Gbit/s"\nbond = "b"\nto = "a.1 .. a.2"\n' + _NODE.format("n1", "10 Gbit/s", "a.30")
_BOND = _BOND.replace('id = "1 .. 30"\nspeed = "1 Gbit/s"', 'id = "1 .. 29"\nspeed = "1 Gbit/s"\n'
                      '[[switch.port]]\nid = "30"\nspeed = "10 Gbit/s"')  # fmt: skip

cases(
    one_cable,
    clean=[
        _BOND + _FLOW.format("store", "n1", "949 Mbit/s"),
        _BOND + _FLOW.format("store", "n1", "1.5 Gbit/s") + "one = false\n",
    ],
    flagged=[
        Case(_BOND + _FLOW.format("store", "n1", "1.5 Gbit/s"), at="store to n1", level="error",
             mended=_BOND + _FLOW.format("store", "n1", "1.5 Gbit/s") + "one = false\n"),
    ],
)  # fmt: skip


@rule(level="error", over="asked_shares")
def share(
    found: Share,
    plan: Plan,
    spanning_tree: SpanningTree,
    loops: list[Loop],
    bonds: list[Bond],
    demands: list[Demand],
) -> Iterator[Finding]:
    """Every node gets the share of storage that [plan] asks for, when all of them read at once.

    Judged where [plan] says `share`. The narrowest place is as a rule the cable of the storage itself.

    Formula: the least, over all links, of speed / nodes that read by it, times 1460 / 1538, with other MTUs
    accordingly; with several ways to the storage, max flow equals min cut.

    Source: Ford and Fulkerson, max flow and min cut; frame layout of IEEE 802.3.
    """
    apart = any(not bond.together and found.storage.id in bond.common for bond in bonds)
    if plan.head.share is None or apart:  # `bonds.apart` speaks of cables that part ways
        return
    payload = frames.goodput_share(_mtu([found.storage, *found.nodes]))
    count, name, asked = len(found.nodes), found.storage.id, plan.head.share
    if found.unknown:
        if missing := _unsaid(found.unknown):
            says = (
                f"what {count} nodes get of {name} at once is not known: the speed of some links is not said"
            )
            yield Open("error", found.storage, says, missing[:6])
    elif found.least * payload * _NEAR >= asked:
        return
    elif found.bits is not None and found.bits * payload * _NEAR < asked:
        bits = found.bits * payload
        tight = "; ".join(bundle.words for bundle in found.tight[:4])
        says = f"{count} nodes that read {name} at once get {_bits(bits)} each; {_bits(asked)} is asked"
        yield Finding("error", found.storage, says,
                      found=Measure(bits, "bit/s"), allowed=Measure(asked, "bit/s"),
                      because=f"the narrowest place is {tight}" if tight else "",
                      related=[(bundle.lines[0].path, "the narrowest place") for bundle in found.tight[:4]],
                      remedy="a faster link or a bond there, or fewer nodes at once")  # fmt: skip
    elif (spanning_tree.missing or not loops) and all(
        spanning_tree.undecided.isdisjoint(demand.unsure) for demand in demands
    ):  # else `throughput.no_way` asks for the same
        says = f"what {count} nodes get of {name} at once is not known: there are several ways to it"
        yield Open(
            "error",
            found.storage,
            says,
            spanning_tree.missing[:6] or [f"which port of {name} each node uses"],
        )


def _mtu(things: list[Any]) -> int:
    """Return the least MTU of some things and their ports; what says none counts as 1500."""
    least: int = min(
        min((port.mtu for port in thing.port_ if port.mtu), default=thing.mtu or frames.MTU)
        for thing in things
    )
    return max(least, frames.LEAST_LINK_MTU[4])


_ASKED = '[plan]\nshare = "{}"\n'

cases(
    share,
    clean=[_ASKED.format("237.3 Mbit/s") + _FOUR, _FOUR],
    flagged=[
        Case(_ASKED.format("237.4 Mbit/s") + _FOUR, at="4 nodes", level="error",
             mended=_ASKED.format("237.3 Mbit/s") + _FOUR),
        Case(_ASKED.format("100 Mbit/s") + _FOUR.replace('speed = "1 Gbit/s"\nto = "a.30"', 'to = "a.30"'), at="store",
             kind="open"),
    ],
)  # fmt: skip


@rule(level="note", over="plan")
def disks(plan: Plan, traffic: Traffic) -> Iterator[Finding]:
    """Whoever counts on the speed of disks knows what the cable in front of them carries.

    One disk can fill 1 Gbit/s. Judged where drives say how fast they read.

    Formula: 1460 / 1538 of the speed of all links of the storage, against the fastest of its drives.

    Source: frame layout of IEEE 802.3: 118.66 MB/s on 1 Gbit/s.
    """
    in_bays: dict[str, list[Any]] = {}
    for drive in plan.table("drive"):
        if drive.bay is not None and drive.reads:
            in_bays.setdefault(drive.bay.partition(".")[0], []).append(drive)
    for storage in plan.table("storage") if in_bays else ():
        if storage.id in in_bays:
            yield from _fronted(storage, in_bays[storage.id], traffic)


def _fronted(storage: Any, drives: list[Any], traffic: Traffic) -> Iterator[Finding]:
    graph = traffic.network.graph
    doors = traffic.network.doors.get(storage.id, ())
    bits = [traffic.bits[edge] for door in doors for _, edge in graph.near[graph.number[door]]]
    if not bits or None in bits:
        return
    carried = frames.octets_per_second(frames.goodput(sum(b for b in bits if b)))
    fastest = max(drives, key=lambda drive: drive.reads)
    if fastest.reads > carried * _NEAR:
        both = f"{listed(drive.id for drive in drives)}, up to {show(fastest.reads, 'B/s')} each"
        says = f"the network in front of {storage.id} carries {show(carried, 'B/s')}; one of its disks reads faster"
        yield Finding("note", storage, says, found=Measure(carried, "B/s"), allowed=Measure(fastest.reads, "B/s"),
                      because=both, remedy="a faster port at both ends, if its speed matters")  # fmt: skip


_DISK = '[[drive]]\nid = "d1 .. d2"\nbay = "store.1 .. store.2"\nreads = "{}"\n'

cases(
    disks,
    clean=[_PLAIN + _DISK.format("118 MB/s"), _PLAIN],
    flagged=[
        Case(
            _PLAIN + _DISK.format("119 MB/s"),
            at="store",
            level="note",
            mended=_PLAIN + _DISK.format("118 MB/s"),
        )
    ],
)


#: How many times the machines behind a link may outdo it. Source: design notes of networks (read): 20 to 1 at the edge.
_USUAL = 20.0


@rule(level="note", over="crossings")
def oversubscribed(crossing: Crossing) -> Iterator[Finding]:
    """No link between switches has more than 20 times its own speed behind it.

    What machines seldom ask for at once may be shared; beyond the usual ratio the link is full whenever a few of them
    are busy. What could cross is bounded by the side that has less.

    Formula: sum of the speeds of the machines on the lesser side / speed of the link.

    Source: network design notes: 20 to 1 from the edge to the next switch, 4 to 1 above.
    """
    ratio = crossing.side / crossing.bits
    if ratio > _USUAL * _NEAR:
        line = crossing.bundle.lines[0]
        says = f"{crossing.machines} machines of together {_bits(crossing.side)} share the link from "
        says += f"{crossing.bundle.words}, which has {_bits(crossing.bits)}"
        yield Finding("note", line, says, found=f"{ratio:.1f} to 1", allowed="20 to 1", path=line.path,
                      remedy="a faster link or a bond there, or plug what works together into one switch")  # fmt: skip


_EDGE = "".join(_SW.format(name, "false", "1 Gbit/s") for name in "ab") + _LINK.format("a.30", "b.30")
_EDGE += _NODE.format("n1 .. n{0}", "1 Gbit/s", "a.1 .. a.{0}") + _NODE.format(
    "m1 .. m{0}", "1 Gbit/s", "b.1 .. b.{0}"
)

cases(
    oversubscribed,
    clean=[_EDGE.format(20)],
    flagged=[
        Case(_EDGE.format(21), at="21 machines", found="21.0 to 1", level="note", mended=_EDGE.format(20))
    ],
)


@rule(level="note", over="switch")
def fabric(switch: Switch, plan: Plan, link_speeds: dict[int, LinkSpeed]) -> Iterator[Finding]:
    """A switch passes on what all its cabled ports can bring at once.

    Judged where the switch says its `fabric`.

    Formula: sum of the speeds of its links, both directions, <= fabric.

    Source: common practice: a switch that holds this is called non-blocking.
    """
    if switch.fabric is None:
        return
    lines = {
        id(line): line for port in plan.ports.get(switch.id, ()) if not port.apart for line in port.links
    }
    total = 2 * sum(link_speeds[key].speed or 0.0 for key in lines)
    most, unsaid = total, list[str]()
    for key, line in lines.items():
        if link_speeds[key].speed is None and (keys := unsaid_speeds(line)):
            most += 2 * (link_speeds[key].most or math.inf)
            unsaid += keys
    if total <= switch.fabric * _NEAR < most:
        says = f"what the links of {switch.id} bring is not known; it passes on {_bits(switch.fabric)}"
        yield Open("note", switch, says, list(dict.fromkeys(unsaid))[:6])
    if total > switch.fabric * _NEAR:
        says = (
            f"the links of {switch.id} bring {_bits(total)}, both ways; it passes on {_bits(switch.fabric)}"
        )
        yield Finding("note", switch, says, found=Measure(total, "bit/s"), allowed=Measure(switch.fabric, "bit/s"),
                      place=("fabric", "part"), remedy="spread them over two switches")  # fmt: skip


_INSIDE = _FOUR.replace('id = "a"\n', 'id = "a"\nfabric = "{}"\n')

cases(
    fabric,
    clean=[_INSIDE.format("10 Gbit/s"), _FOUR],
    flagged=[
        Case(_INSIDE.format("9.9 Gbit/s"), at="a", found="10 Gbit/s", mended=_INSIDE.format("10 Gbit/s"))
    ],
)
