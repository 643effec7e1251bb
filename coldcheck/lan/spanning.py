"""Spanning tree: which links of a bridged network forward, and which block.

The tree of IEEE 802.1D is computed as a whole, not by exchange of messages: it is the one that the exchange ends in.
What hangs on an address or a speed that is not known comes out as undecided, never as a guess.
"""

from collections.abc import Hashable, Iterable, Sequence
from heapq import heappop, heappush

from msgspec import Struct

from coldcheck.lan.bridging import DEFAULT_PRIORITY, path_cost

_UNKNOWN_MAC = (-1, 1 << 48)


class Bridge(Struct, frozen=True):
    """One switch.

    id [-]: any name; priority [-]: see `bridging.problem_with_priority`; mac [-]: its bridge address, None where it is
    unknown; takes_part [-]: False for a switch without spanning tree, which passes the messages on like any other
    frame (common practice; one that swallows them hides a loop from everybody).
    """

    id: Hashable
    priority: int = DEFAULT_PRIORITY
    mac: int | None = None
    takes_part: bool = True


class Link(Struct, frozen=True):
    """One cable, or one bundle of cables, between two switches.

    a, b [-]: ids of bridges, the same for a cable plugged back; bits [bit/s]: None where unknown; cost [-]: set by
    hand at both ends, 1 or more, else it follows from the speed; a_port, b_port [-]: numbers that break ties, before
    the place in the list.
    """

    a: Hashable
    b: Hashable
    bits: float | None = None
    cost: int | None = None
    a_port: int = 0
    b_port: int = 0


class Tree(Struct, frozen=True):
    """What spanning tree makes of switches that hang together.

    bridges [-]: all of them, in the order given; candidates [-]: those that may become the root: one where that is
    known, none where nobody takes part. Of each bridge that takes part: root_cost [-], None where a speed on the way
    or the root is unknown; root_port [-]: place of the link that leads to the root, None at the root and where it is
    undecided. Places of links: active, all that surely forward; blocked: by the bridges whose port blocks;
    undecided: all others. Where the root, or a speed in a loop, is unknown, all links in loops and between two loops
    are undecided.
    """

    bridges: tuple[Hashable, ...]
    candidates: tuple[Hashable, ...]
    root_cost: dict[Hashable, int | None]
    root_port: dict[Hashable, int | None]
    active: tuple[int, ...]
    blocked: dict[int, tuple[Hashable, ...]]
    undecided: tuple[int, ...]

    @property
    def root(self) -> Hashable | None:
        """The root bridge, or None where nobody takes part, or priorities tie and an address is unknown or shared."""
        return self.candidates[0] if len(self.candidates) == 1 else None


class _Port(Struct, eq=False):
    """A port of a bridge that takes part: its segment, its cost (None where unknown), and what orders it."""

    bridge: Bridge
    segment: int
    link: int
    cost: int | None
    order: tuple[int, int, int]
    in_loop: bool = True


def trees(bridges: Sequence[Bridge], links: Sequence[Link], *, short: bool = False) -> list[Tree]:
    """What spanning tree makes of a network: one tree for each part that hangs together, in the order of the bridges.

    bridges, links [-]: in any order, but ties between ports that have no numbers are broken by the order of links;
    short [-]: the costs of 1998, see `path_cost`.
    Errors: ValueError where a link names no bridge, an id is given twice, or a cost is below 1.

    A bundle is one link. Switches that take no part are one shared segment with the links between them: a loop among
    them alone stays active, as it does in fact. Costs O((bridges + links) log links).
    Source: IEEE 802.1D-2004 clause 17, read (secondary): the root is the lowest priority, then address; a root port
    the least cost, then the lowest bridge that offers it, its port, the own port; a segment's designated bridge the
    least cost, then the lowest bridge.
    """
    by_id = {bridge.id: bridge for bridge in bridges}
    if len(by_id) < len(bridges):
        raise ValueError("a bridge is given twice")
    segment_of, ports = _segments(by_id, links, short)
    parts = _Parts(by_id)
    for link in links:
        parts.join(link.a, link.b)
    members: dict[Hashable, list[Bridge]] = {}
    for bridge in bridges:
        members.setdefault(parts.head(bridge.id), []).append(bridge)
    ports_of: dict[Hashable, list[_Port]] = {head: [] for head in members}
    for port in ports:
        ports_of[parts.head(port.bridge.id)].append(port)
    links_of: dict[Hashable, list[int]] = {head: [] for head in members}
    for place in range(len(segment_of)):
        links_of[parts.head(links[place].a)].append(place)
    return [_tree(members[head], ports_of[head], links_of[head]) for head in members]


class _Parts:
    """Sets that grow together, each known by one of its members."""

    def __init__(self, members: Iterable[Hashable]) -> None:
        self._up = {member: member for member in members}

    def head(self, member: Hashable) -> Hashable:
        while self._up[member] != member:
            self._up[member] = member = self._up[self._up[member]]
        return member

    def join(self, a: Hashable, b: Hashable) -> None:
        self._up[self.head(b)] = self.head(a)


def _segments(
    by_id: dict[Hashable, Bridge], links: Sequence[Link], short: bool
) -> tuple[list[int], list[_Port]]:
    """Return the segment of each link, and the ports of all bridges that take part."""
    for link in links:
        if link.a not in by_id or link.b not in by_id:
            raise ValueError(f"a link from {link.a} to {link.b} names a bridge that is not given")
        if link.cost is not None and link.cost < 1:
            raise ValueError(f"a path cost of {link.cost} is below 1")
    plain = [[one for one in (link.a, link.b) if not by_id[one].takes_part] for link in links]
    shared = _Parts(one for one, bridge in by_id.items() if not bridge.takes_part)
    for ends in plain:
        if len(ends) == 2:
            shared.join(ends[0], ends[1])
    numbers: dict[Hashable, int] = {}
    segments = [
        numbers.setdefault(shared.head(ends[0]), len(links) + len(numbers)) if ends else place
        for place, ends in enumerate(plain)
    ]
    ports = []
    for place, link in enumerate(links):
        cost = link.cost if link.bits is None or link.cost is not None else path_cost(link.bits, short=short)
        for end, (one, number) in enumerate(((link.a, link.a_port), (link.b, link.b_port))):
            if by_id[one].takes_part:
                ports.append(_Port(by_id[one], segments[place], place, cost, (number, place, end)))
    return segments, ports


def _tree(members: list[Bridge], ports: list[_Port], places: list[int]) -> Tree:
    """Return the tree of one part: its bridges, their ports, and the places of all its links."""
    _mark_loops(ports)
    active = [bridge for bridge in members if bridge.takes_part]
    candidates = _lowest(active)
    known = len(candidates) == 1 and all(port.cost is not None for port in ports if port.in_loop)
    root_cost: dict[Hashable, int | None] = {bridge.id: None for bridge in active}
    roles = {id(port): None if port.in_loop else True for port in ports}
    root_port: dict[Hashable, int | None] = dict.fromkeys(root_cost)
    if len(candidates) == 1:
        distance, sure = _distances(candidates[0], ports)
        for one, cost in distance.items():
            root_cost[one] = cost if sure[one] else None
        offers = _designated(ports, distance)
        root_ports = _root_ports(ports, distance, offers)
        for one, best in root_ports.items():
            settled = len(best) == 1 and (known or not best[0].in_loop)
            root_port[one] = best[0].link if settled else None
        if known:
            roles = {id(port): _role(port, root_ports, offers) for port in ports}
    return _sorted_out(members, candidates, root_cost, root_port, ports, roles, places)


def _sorted_out(
    members: list[Bridge],
    candidates: list[Bridge],
    root_cost: dict[Hashable, int | None],
    root_port: dict[Hashable, int | None],
    ports: list[_Port],
    roles: dict[int, bool | None],
    places: list[int],
) -> Tree:
    """Return the tree, with each link under what it does: a port forwards (True), blocks (False), or who knows."""
    blocking: dict[int, list[Hashable]] = {}
    open_links: set[int] = set()
    for port in ports:
        if roles[id(port)] is False:
            blocking.setdefault(port.link, []).append(port.bridge.id)
        elif roles[id(port)] is None:
            open_links.add(port.link)
    return Tree(
        tuple(bridge.id for bridge in members),
        tuple(bridge.id for bridge in candidates),
        root_cost,
        root_port,
        tuple(place for place in places if place not in blocking and place not in open_links),
        {place: tuple(blocking[place]) for place in places if place in blocking},
        tuple(place for place in places if place in open_links and place not in blocking),
    )


def _mark_loops(ports: list[_Port]) -> None:
    """Strip ports that surely lie on no loop: those at the ends of branches, again and again."""
    at: dict[tuple[bool, Hashable], set[int]] = {}
    for place, port in enumerate(ports):
        at.setdefault((True, port.bridge.id), set()).add(place)
        at.setdefault((False, port.segment), set()).add(place)
    ends = [spot for spot, around in at.items() if len(around) == 1]
    while ends:
        around = at[ends.pop()]
        if not around:
            continue
        place = around.pop()
        ports[place].in_loop = False
        for spot in ((True, ports[place].bridge.id), (False, ports[place].segment)):
            at[spot].discard(place)
            if len(at[spot]) == 1:
                ends.append(spot)


def _range(bridge: Bridge) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the lowest and highest that the id of a bridge can be."""
    low, high = _UNKNOWN_MAC if bridge.mac is None else (bridge.mac, bridge.mac)
    return (bridge.priority, low), (bridge.priority, high)


def _lowest(bridges: Iterable[Bridge]) -> list[Bridge]:
    """Return those whose id may be the lowest."""
    ranges = [(bridge, *_range(bridge)) for bridge in bridges]
    bound = min((high for _, _, high in ranges), default=(0, 0))
    return [bridge for bridge, low, _ in ranges if low <= bound]


def _distances(root: Bridge, ports: list[_Port]) -> tuple[dict[Hashable, int], dict[Hashable, bool]]:
    """Return the least cost of each bridge to the root, and whether every cost on the way is known.

    An unknown cost counts as 1: where that could decide anything, the caller does not use the answer.
    """
    on_bridge: dict[Hashable, list[_Port]] = {}
    on_segment: dict[int, list[_Port]] = {}
    for port in ports:
        on_bridge.setdefault(port.bridge.id, []).append(port)
        on_segment.setdefault(port.segment, []).append(port)
    distance: dict[Hashable, int] = {}
    sure: dict[Hashable, bool] = {}
    told: set[int] = set()
    queue: list[tuple[int, int, Hashable, bool]] = [(0, 0, root.id, True)]
    count = 0
    while queue:
        far, _, one, known = heappop(queue)
        if one in distance:
            continue
        distance[one], sure[one] = far, known
        # The first bridge to reach a segment is the nearest, so each segment is told once.
        for segment in {port.segment for port in on_bridge.get(one, ())} - told:
            told.add(segment)
            for port in on_segment[segment]:
                if port.bridge.id not in distance:
                    count += 1
                    step = 1 if port.cost is None else port.cost
                    heappush(queue, (far + step, count, port.bridge.id, known and port.cost is not None))
    return distance, sure


def _designated(ports: list[_Port], distance: dict[Hashable, int]) -> dict[int, list[_Port]]:
    """Return for each segment the ports that may be its designated one: one a bridge, that of the lowest order."""
    nearest: dict[int, dict[Hashable, _Port]] = {}
    for port in sorted(ports, key=lambda port: (distance[port.bridge.id], port.order)):
        nearest.setdefault(port.segment, {}).setdefault(port.bridge.id, port)
    found = {}
    for segment, by_bridge in nearest.items():
        least = min(distance[one] for one in by_bridge)
        near = [port for one, port in by_bridge.items() if distance[one] == least]
        allowed = {bridge.id for bridge in _lowest(port.bridge for port in near)}
        found[segment] = [port for port in near if port.bridge.id in allowed]
    return found


def _root_ports(
    ports: list[_Port], distance: dict[Hashable, int], offers: dict[int, list[_Port]]
) -> dict[Hashable, list[_Port]]:
    """Return for each bridge but the root the ports that may be its root port."""
    choices: dict[Hashable, list[_Port]] = {}
    for port in ports:
        offer = distance[offers[port.segment][0].bridge.id]
        if distance[port.bridge.id] == offer + (1 if port.cost is None else port.cost):
            choices.setdefault(port.bridge.id, []).append(port)
    return {one: _best_offered(rivals, offers) for one, rivals in choices.items()}


def _best_offered(rivals: list[_Port], offers: dict[int, list[_Port]]) -> list[_Port]:
    """Return of ports with equal cost those that may have the best offer."""
    best: dict[Hashable, _Port] = {}
    unsure = []
    # The lowest of several ids lies between the lowest low and the lowest high of them.
    lows, bound = {}, None
    for port in rivals:
        ranges = [_range(offer.bridge) for offer in offers[port.segment]]
        lows[id(port)] = min(low for low, _ in ranges)
        high = min(high for _, high in ranges)
        bound = high if bound is None or high < bound else bound
    kept = [port for port in rivals if bound is not None and lows[id(port)] <= bound]
    for port in sorted(kept, key=lambda port: (offers[port.segment][0].order, port.order)):
        offered = offers[port.segment]
        if len(offered) > 1:
            unsure.append(port)
        else:
            best.setdefault(offered[0].bridge.id, port)
    return [*best.values(), *unsure]


def _role(
    port: _Port, root_ports: dict[Hashable, list[_Port]], offers: dict[int, list[_Port]]
) -> bool | None:
    """Return whether a port forwards; None where an unknown address decides."""
    for holders in (root_ports.get(port.bridge.id, []), offers[port.segment]):
        if any(holder is port for holder in holders):
            return True if len(holders) == 1 else None
    return False
