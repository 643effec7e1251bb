"""Topology: what hangs together, which cables are one link, loops, and what fails with what.

A *door* is where frames enter a thing: the thing itself where it passes them on (a switch, a radio), else one port of
it, or one bond. So a board with two ports joins nothing that its cables lead to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any

import msgspec

from coldcheck import working
from coldcheck.lan.graph import Graph, Loss
from coldcheck.plan.model import LinkLine, Plan, PortPoint
from coldcheck.plan.tables import Switch

from .segments import Segments

__all__ = ["Bundle", "Failure", "Loop", "Network", "failures", "loops", "network", "switch_failures"]

_READS = ("plan", "node", "storage", "appliance", "switch", "link", "uplink", "subnet")
_NETWORKED = ("node", "storage", "appliance", "switch")


class Bundle(msgspec.Struct):
    """Cables that count as one link: those of a bond, or one alone; ``a`` and ``b`` are the doors at its ends."""

    lines: list[LinkLine]
    a: str
    b: str

    @property
    def words(self) -> str:
        """What it is called: its first cable, and how many more."""
        more = f" and {len(self.lines) - 1} more" if len(self.lines) > 1 else ""
        return f"{self.lines[0]}{more}"


class Network(msgspec.Struct):
    """Everything with a data cable, and every switch.

    ``graph`` has doors for vertices and ``bundles`` for edges, by their place; ``passing`` names the things that pass
    frames on; ``doors`` has the doors of each thing, those for management left out, and ``at`` the door of each port;
    ``ways_out`` are the vertices that stand for what lies outside, by its name.
    """

    graph: Graph[str]
    bundles: list[Bundle]
    passing: set[str]
    doors: dict[str, list[str]]
    at: dict[str, str]
    ways_out: dict[str, str]


def _door(line: LinkLine, end: PortPoint, passing: set[str]) -> str:
    if end.thing.id in passing and not end.apart:
        return str(end.thing.id)
    return f"{end.thing.id}.{end.bond or getattr(line.entry, 'bond', None) or end.id}"


@working(reads=_READS)
def network(plan: Plan, segments: Segments) -> Network:
    """Return what is cabled with what: each bond one link, a cable that is written twice only once.

    A cable that leads back to its own thing is left out: `ports.self_link` speaks of it.
    """
    found = Network(Graph([]), [], segments.clear | segments.keeping, {}, {}, {})
    known: dict[tuple[Any, ...], Bundle] = {}
    pairs: set[tuple[int, int]] = set()
    for line in plan.links:
        ends = tuple(sorted((id(line.a), id(line.b)))) if line.b is not None else (id(line), 0)
        if ends in pairs or (line.b is not None and line.a.thing is line.b.thing):
            continue
        pairs.add((ends[0], ends[1]))
        names = [_vertex(found, line, end) for end in (line.a, line.b)]
        key = (line.bond, *sorted(names)) if line.bond else (id(line),)
        if key in known:
            known[key].lines.append(line)
        else:
            known[key] = Bundle([line], *names)
    found.bundles = list(known.values())
    switches = [switch.id for switch in plan.table("switch")]
    found.graph = Graph([(bundle.a, bundle.b) for bundle in found.bundles], switches)
    return found


def _vertex(found: Network, line: LinkLine, end: PortPoint | None) -> str:
    """Return the vertex at one end of a cable, and take down whose door it is."""
    if end is None:
        return found.ways_out.setdefault(line.outside, f"to {line.outside}")
    name = found.at[end.name] = _door(line, end, found.passing)
    own = found.doors.setdefault(end.thing.id, [])
    if not end.apart and name not in own:
        own.append(name)
    return name


# --- loops -----------------------------------------------------------------------------------------------------------


class Loop(msgspec.Struct):
    """Cables by which a frame can come round to where it was, for ever.

    ``ring`` has the cables of one way round, ``more`` how many further cables are tangled up with it; ``hidden`` are
    the ports that keep it from a switch that would break it; ``unknown`` are the switches of which the plan does not
    say whether they run a spanning tree, where that decides: empty where nothing would break the loop.
    """

    ring: list[LinkLine]
    more: int
    hidden: list[PortPoint]
    unknown: list[Switch]


class _Join(msgspec.Struct):
    """One edge between rooms: the cables of a bond, or one alone; ``a`` and ``b`` are places of rooms."""

    lines: list[LinkLine]
    a: int
    b: int


class _Saying(msgspec.Struct):
    """What switches that do not say are taken to do: those whose silence is ``off`` run no spanning tree.

    ``hides``: whether a port of such a switch that takes no part hides loops.
    """

    off: set[str]
    hides: bool

    def runs(self, thing: Any) -> bool:
        stated = getattr(thing, "spanning_tree", False)
        return thing.id not in self.off if stated is None else bool(stated)

    def hidden(self, join: _Join) -> list[PortPoint]:
        """Return the ports at the ends of an edge at which a switch that runs a spanning tree does not do so."""
        return [end for end in _aside(join) if self.hides or getattr(end.thing, "spanning_tree", None)]


def _aside(join: _Join) -> list[PortPoint]:
    """Return the ports of switches at the ends of an edge of which the plan says that they take no part."""
    ends = [end for line in join.lines for end in (line.a, line.b) if end is not None]
    return [end for end in ends if end.spec.spanning_tree is False and _may_run(end.thing)]


def _may_run(thing: Any) -> bool:
    return isinstance(thing, Switch) and thing.spanning_tree is not False


@working(reads=_READS)
def loops(plan: Plan, segments: Segments, network: Network) -> list[Loop]:
    """Return every loop that no spanning tree breaks, or of which the plan does not say enough.

    Frames of Ethernet carry no hop count. A loop is broken where a switch in it runs a spanning tree, since its own
    words come back to it: unless one of its ports there takes no part, for then they do not. Cables of one bond are no
    loop. Loops are sought among rooms, VLAN by VLAN: cables that carry no common VLAN close none.

    Where switches do not say, a loop is sure if it stays whatever they do. It can only be broken if those with a port
    in it that takes no part run no spanning tree, since that port would hide it, and if all others run one.

    Source: IEEE 802.1D (from memory).
    """
    if network.graph.is_forest():
        return []
    joins = _joins(segments)
    tangles = Graph([(join.a, join.b) for join in joins]).tangles()
    parts = [[joins[edge] for edge in tangle] for tangle in tangles]
    sure, perhaps = _Told(segments), _Told(segments)
    for part in parts:
        sure.tell(part, _Saying({end.thing.id for join in part for end in _aside(join)}, hides=False))
    silent = _Saying({switch.id for switch in plan.table("switch")}, hides=True)
    for part in parts:
        perhaps.tell(part, silent)
    told = sure.lines[0] | sure.lines[1]
    open_ones = [loop for loop in perhaps.found if loop.unknown and told.isdisjoint(map(id, loop.ring))]
    return [Loop(loop.ring, loop.more, loop.hidden, []) for loop in sure.found] + open_ones


def _joins(segments: Segments) -> list[_Join]:
    """Return the edges between rooms: one for each bond; none for a cable whose port holds another one too.

    The cables of a bond that join more than two things are left out: `bonds.apart` speaks of them.
    """
    known: dict[tuple[Any, ...], _Join] = {}
    ends: dict[str, set[frozenset[str]]] = {}
    for passage in segments.joins():
        line = passage.line
        if line.b is None or line.a.thing is line.b.thing or len(line.a.links) > 1 or len(line.b.links) > 1:
            continue
        if line.bond:
            ends.setdefault(line.bond, set()).add(frozenset((line.a.thing.id, line.b.thing.id)))
        rooms = sorted((passage.a, passage.b))
        key = (line.bond or id(line), *rooms)
        if key not in known:
            known[key] = _Join([line], *rooms)
        elif all(line is not other for other in known[key].lines):
            known[key].lines.append(line)
    return [join for join in known.values() if len(ends.get(join.lines[0].bond, ())) < 2]


class _Told:
    """The loops found, and by kind the cables told of: the same cables in another VLAN are the same loop.

    The kinds are loops without any spanning tree, and loops that a port hides from one.
    """

    def __init__(self, segments: Segments) -> None:
        self.rooms = segments.rooms
        self.found: list[Loop] = []
        self.lines: list[set[int]] = [set(), set()]
        self.rings: set[frozenset[int]] = set()

    def tell(self, part: list[_Join], saying: _Saying) -> None:
        """Find the loops that stay in one part in which loops hang together."""
        plain = [join for join in part if not any(saying.runs(self.rooms[r].thing) for r in (join.a, join.b))]
        graph = Graph([(join.a, join.b) for join in plain])
        for tangle in graph.tangles():
            tangled = [plain[edge] for edge in tangle]
            ring = next(Graph([(join.a, join.b) for join in tangled]).loops())
            self._add(0, [tangled[edge] for edge in ring], tangled, [])
        hiding = next((join for join in part if saying.hidden(join)), None)
        if hiding is not None:
            rest = [join for join in part if join is not hiding]
            way = Graph([(join.a, join.b) for join in rest]).path(hiding.b, hiding.a)
            around = [hiding, *(rest[edge] for edge in way or ())]
            self._add(1, around, part, [end for join in around for end in saying.hidden(join)])

    def _add(self, kind: int, ring: list[_Join], tangle: list[_Join], hidden: list[PortPoint]) -> None:
        lines = [line for join in ring for line in join.lines]
        every = {id(line) for join in tangle for line in join.lines}
        twice = len(lines) > len(
            {id(line) for line in lines}
        )  # by one cable in two VLANs that leak: no way round
        as_told = frozenset(map(id, lines))
        if twice or as_told in self.rings or self.lines[kind].issuperset(as_told):
            return
        self.rings.add(as_told)
        self.lines[kind] |= every
        things = {end.thing.id: end.thing for line in lines for end in (line.a, line.b) if end is not None}
        unknown = [t for t in things.values() if isinstance(t, Switch) and t.spanning_tree is None]
        self.found.append(Loop(lines, len(every) - len(lines), hidden, unknown))


# --- what fails with what --------------------------------------------------------------------------------------------


class Failure(msgspec.Struct):
    """One thing, or one link, without which others lose what they need.

    ``at`` is the thing or the link; ``counts`` has, by the name of what is lost (storage, or what lies outside), how
    many lose it. Who that is is found when it is asked for, since in a long row each loss is as long as the row.
    """

    at: Any
    counts: dict[str, int]
    _losers: dict[str, Callable[[], list[Any]]]

    @property
    def lost(self) -> dict[str, list[Any]]:
        """The things that lose something, in the order of the plan, by the name of what they lose."""
        return {name: losers() for name, losers in self._losers.items()}

    @property
    def most(self) -> int:
        """How many lose that which most of them lose."""
        return max(self.counts.values())

    @property
    def who(self) -> list[Any]:
        """Everything that loses something by it, each once."""
        return list({thing.id: thing for things in self.lost.values() for thing in things}.values())


@working(reads=_READS)
def failures(plan: Plan, network: Network) -> list[Failure]:
    """Return what each switch and each link costs by failing: nodes (else appliances) that lose storage or the way out.

    A link by which one machine alone is joined is not listed: it is its own. A machine loses what it needs where it
    loses that by every door that leads there.

    Formula: cut vertices and cut edges of the multigraph, by one depth-first search.
    """
    return _failures(plan, network, True)


def _failures(plan: Plan, network: Network, cables: bool) -> list[Failure]:
    wanting = plan.table("node") or plan.table("appliance")
    found: dict[str | int, Failure] = {}
    for name, sources in _needs(plan, network):
        for at, count, losers in _lost(network, wanting, sources, cables):
            if at not in found:
                thing = plan.things[at] if isinstance(at, str) else network.bundles[at]
                found[at] = Failure(thing, {}, {})
            found[at].counts[name] = count
            found[at]._losers[name] = losers
    return list(found.values())


def switch_failures(plan: Plan, network: Network) -> list[Failure]:
    """Return what each thing that passes frames on costs by failing; links are left out."""
    return _failures(plan, network, False)


#: So many storages are told apart; more count as one, of which a node needs any: each costs a search of its own.
_MOST_NEEDS = 16


def _needs(plan: Plan, network: Network) -> Iterator[tuple[str, list[str]]]:
    doors = {storage.id: own for storage in plan.table("storage") if (own := network.doors.get(storage.id))}
    if len(doors) <= _MOST_NEEDS:
        yield from doors.items()
    else:
        yield "all storage", list(dict.fromkeys(door for own in doors.values() for door in own))
    if network.ways_out:
        yield " and ".join(network.ways_out), list(network.ways_out.values())


def _lost(
    network: Network, wanting: list[Any], sources: list[str], cables: bool
) -> Iterator[tuple[str | int, int, Callable[[], list[Any]]]]:
    """Yield what may fail (a vertex, or the place of a link), how many lose all sources by it, and what gives them."""
    graph = network.graph
    rank = {thing.id: i for i, thing in enumerate(wanting)}
    fed = {graph.tree.root[graph.number[door]] for door in sources}
    needed = {
        thing.id: {
            door for door in network.doors.get(thing.id, ()) if graph.tree.root[graph.number[door]] in fed
        }
        for thing in wanting
    }
    owner = {door: wanting[rank[name]] for name, doors in needed.items() for door in doors}
    single = [door for door, thing in owner.items() if len(needed[thing.id]) == 1]
    several = [door for door, thing in owner.items() if len(needed[thing.id]) > 1]
    of = network.passing
    alone = {loss.at: loss for losses in graph.losses(single, sources, of, cables) for loss in losses}
    some: dict[str | int, list[Any]] = {}
    losses = graph.losses(several, sources, of, cables) if several else ()
    for loss in (loss for kind in losses for loss in kind):
        gone = set(loss.who())
        things = {owner[door].id: owner[door] for door in gone}.values()
        some[loss.at] = [thing for thing in things if gone.issuperset(needed[thing.id])]
    for at in dict.fromkeys([*alone, *some]):
        if isinstance(at, str) and (at not in network.passing or at in sources):
            continue  # a source itself, or what lies outside
        count = (alone[at].count if at in alone else 0) + len(some.get(at, ()))
        own = isinstance(at, int) and {network.bundles[at].a, network.bundles[at].b} & owner.keys()
        if count > bool(own):
            yield at, count, partial(_losers, alone.get(at), some.get(at, []), owner, rank)


def _losers(
    loss: Loss[str] | None, more: list[Any], owner: dict[str, Any], rank: dict[str, int]
) -> list[Any]:
    things = more + [owner[door] for door in (loss.who() if loss else ())]
    return sorted(things, key=lambda thing: rank[thing.id])
