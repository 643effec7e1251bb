"""Spanning tree: which links forward once the switches have agreed, which are blocked, and what is left to chance."""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan import bridging
from coldcheck.lan.address import BadAddress
from coldcheck.lan.graph import Graph
from coldcheck.lan.mac import read_mac
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.tables import Networked, Switch

from .ports import LinkSpeed, top_of
from .topology import Bundle, Network

__all__ = ["SpanningTree", "row_of_switches", "spanning_tree", "speed_of", "unsaid_speeds"]


class SpanningTree(msgspec.Struct):
    """What spanning tree makes of the links, by their place in `Network.bundles`.

    ``active`` are those that forward, ``blocked`` those that do not, ``undecided`` those of which the plan does not say
    enough. ``ties`` has, for each part of the network in which something is blocked, the switches that may become the
    root, where that is more than one. ``missing`` has the keys that would settle what is undecided.
    """

    active: set[int]
    blocked: set[int]
    undecided: set[int]
    ties: list[list[Switch]]
    missing: list[str]


@working(reads=("node", "storage", "appliance", "switch", "link", "uplink", "subnet"))
def spanning_tree(plan: Plan, network: Network, link_speeds: dict[int, LinkSpeed]) -> SpanningTree:
    """Return which links forward; all of them where there is no loop, or no switch that would break one.

    Where a switch in a part with loops does not say whether it runs a spanning tree, it may become the root as well as
    not: then no link in a loop of that part is decided.

    Source: IEEE 802.1D-2004 clause 17, read (secondary).
    """
    everything = set(range(len(network.bundles)))
    if network.graph.is_forest():
        return SpanningTree(everything, set(), set(), [], [])
    between = [i for i, b in enumerate(network.bundles) if b.a in network.passing and b.b in network.passing]
    between = [i for i in between if not any(_sits_out(end) for end in _ends(network.bundles[i]))]
    things = [plan.things[name] for name in network.graph.vertices if name in network.passing]
    if not all(isinstance(thing, Networked) for thing in things):
        return SpanningTree(everything, set(), set(), [], [])  # two of one name: `references.duplicate` tells
    if all(len(part) == 1 for part in network.graph.only(between).tangles()) or not any(map(_runs, things)):
        return SpanningTree(everything, set(), set(), [], [])
    return _agreed(network, things, between, everything, link_speeds)


def _agreed(
    network: Network,
    things: list[Any],
    between: list[int],
    everything: set[int],
    speeds: dict[int, LinkSpeed],
) -> SpanningTree:
    from coldcheck.lan import spanning

    graph = network.graph.only(between)
    looped = {edge for part in graph.tangles() for edge in part}
    found = SpanningTree(everything, set(), set(), [], [])
    by_id = {thing.id: thing for thing in things}
    links = [_link(network.bundles[i], speeds) for i in between]
    edges: dict[int, list[int]] = {}
    for edge in looped:
        edges.setdefault(graph.tree.root[graph.numbers(edge)[0]], []).append(edge)
    for tree in spanning.trees([_bridge(thing) for thing in things], links):
        part = edges.get(graph.tree.root[graph.number[str(tree.bridges[0])]], [])
        unsaid = [name for name in tree.bridges if _unsaid(by_id[name])]
        undecided = set(part) if unsaid else {between[place] for place in tree.undecided}
        found.undecided |= undecided
        if not unsaid:
            found.blocked |= {between[place] for place in tree.blocked}
        if len(tree.candidates) > 1 and (tree.blocked or tree.undecided):
            found.ties.append([by_id[name] for name in tree.candidates])
        if undecided:
            found.missing += [f"{name} spanning_tree" for name in unsaid] or _missing(
                [by_id[name] for name in tree.candidates],
                [network.bundles[i] for i in sorted(undecided)],
                speeds,
            )
    found.active = everything - found.blocked - found.undecided
    return found


def _unsaid(thing: Any) -> bool:
    return isinstance(thing, Switch) and thing.spanning_tree is None


def _missing(candidates: list[Any], bundles: list[Bundle], speeds: dict[int, LinkSpeed]) -> list[str]:
    """Return the keys that would settle which of some links forward."""
    if len(candidates) > 1:
        return [f"{switch.id} priority" for switch in candidates]
    lines = [line for bundle in bundles for line in bundle.lines if speeds[id(line)].speed is None]
    if lines:
        return list(dict.fromkeys(name for line in lines for name in unsaid_speeds(line)))
    ends = [end.thing for bundle in bundles for end in _ends(bundle)]
    return list(dict.fromkeys(f"{thing.id} mac" for thing in ends if _runs(thing) and not thing.mac))


def _ends(bundle: Bundle) -> list[PortPoint]:
    return [end for end in (bundle.lines[0].a, bundle.lines[0].b) if end is not None]


def _runs(thing: Any) -> bool:
    return bool(getattr(thing, "spanning_tree", False))


def _sits_out(end: PortPoint) -> bool:
    return _runs(end.thing) and end.spec.spanning_tree is False


def _bridge(thing: Any) -> Any:
    from coldcheck.lan.spanning import Bridge

    priority = getattr(thing, "priority", None)
    try:
        mac = read_mac(thing.mac) if thing.mac else None
    except BadAddress:
        mac = None  # `addresses.hardware` speaks of it
    return Bridge(thing.id, bridging.DEFAULT_PRIORITY if priority is None else priority, mac, _runs(thing))


def speed_of(bundle: Bundle, speeds: dict[int, LinkSpeed]) -> float | None:
    """Return the speed of a link one way [bit/s], all its cables together; None where one of them is not known."""
    known = [speeds[id(line)].speed for line in bundle.lines]
    return sum(speed for speed in known if speed) if all(known) else None


def unsaid_speeds(line: LinkLine) -> list[str]:
    """Return the keys that would say how fast a cable is: none where ports state their speeds and do not agree."""
    if line.b is None:
        return [] if line.speed else [f"{line.a} to {line.outside}: speed of the uplink"]
    return [f"{end} speed" for end in (line.a, line.b) if top_of(end.spec) is None]


def _link(bundle: Bundle, speeds: dict[int, LinkSpeed]) -> Any:
    from coldcheck.lan.spanning import Link

    bits = speed_of(bundle, speeds)
    ports = [int(end.id) if end.id.isdecimal() else 0 for end in _ends(bundle)]
    return Link(bundle.a, bundle.b, bits, None, *ports)


def row_of_switches(network: Network, running: set[str]) -> list[str]:
    """Return the ids of the most things in a row that pass frames on, along the shortest way between its ends.

    Only parts of the network in which one of ``running`` is count.
    """
    root, number = network.graph.tree.root, network.graph.number
    where = {root[number[name]] for name in running}
    passing = [b for b in network.bundles if b.a in network.passing and b.b in network.passing]
    return Graph([(b.a, b.b) for b in passing if root[number[b.a]] in where]).longest_row()[0]
