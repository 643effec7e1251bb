"""What a network carries: equal shares, smallest cuts, loads of cables, over-subscription.

Cables are full duplex: each direction has the whole speed. Speeds are added up as integers or fractions, so
that a tie is a tie.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Generic, TypeVar

from msgspec import Struct

from coldcheck.lan.graph import Graph

if TYPE_CHECKING:
    from fractions import Fraction

V = TypeVar("V", bound=Hashable)


class Share(Struct, Generic[V], frozen=True):
    """What each sink gets at once, and why no more.

    bits [bit/s]: of each, exact; edges [-]: ids of the edges that decide, rising: all that leads to the
    sinks behind them, and full; without those of speed 0 unless the share is nothing; sinks [-]: those
    behind them, each once, in the order of the graph; count [-]: how many shares go there, a sink named
    twice taking two.
    """

    bits: Fraction
    edges: list[int]
    sinks: list[V]
    count: int


def equal_share(
    graph: Graph[V], bits: Sequence[float | Fraction], sources: Iterable[V], sinks: Iterable[V]
) -> Share[V] | None:
    """The most that every sink can get at once, all the same, whatever ways the data takes.

    bits [bit/s]: speed of each edge, by edge id; infinity where an edge sets no limit, 0 where it is blocked;
    sources [-]: vertices that all have the data; sinks [-]: vertices, named once for each share they take. A
    sink that is a source helps itself.
    Gives: None where nothing sets a limit. Nothing for a sink that no source reaches, hence for all: leave
    those out before. Where several cuts decide equally, the one given parts off the most: all of them at
    once.
    Errors: ValueError for a speed below 0 or not a number; KeyError for a stranger; IndexError for too few
    speeds.

    The share is the least of (speed of a cut) / (shares behind it) over all cuts (max flow equals min cut).
    What hangs on one edge, cables side by side counting as one, is a cut of its own and is taken off first:
    with one source in a forest nothing is left. What is left is searched by discrete Newton steps: the cut
    that falls short most at a share gives the next share, until none falls short. Each step has fewer shares
    behind its cut, so it ends, and exactly.
    Cost: O(V + E) and a sort in a forest with one source; O(V + E) each step in any other forest. Where loops
    remain, one max flow over them each step, with networkx; a few steps as a rule.
    Source: Dinkelbach 1967 for the steps, Ford and Fulkerson 1956 for the cut (both from memory).
    """
    problem = _Problem(graph, bits, sources, sinks)
    if not any(problem.behind):
        return None
    problem.peel()
    parts = list(problem.parts())
    share, inside = problem.first_share(parts), [set[int]()]
    shorter = True
    while shorter:
        shorter = False
        inside = [problem.worst(part, share) for part in parts]
        for chosen in inside:
            least = problem.ratio(chosen)
            if least[0] * share[1] < share[0] * least[1]:
                share, shorter = least, True
    return problem.answer(share, set[int]().union(*inside))


def min_cut(graph: Graph[V], bits: Sequence[float | Fraction], source: V, sink: V) -> Share[V] | None:
    """The most that flows from one vertex to another at once, and the edges that are full then.

    Everything as `equal_share` with one source and one sink, whose share is the max flow. Gives: None where
    nothing sets a limit. Errors: also ValueError where both are the same.
    """
    if source == sink:
        raise ValueError("nothing can be cut between a vertex and itself")
    return equal_share(graph, bits, [source], [sink])


def loads(graph: Graph[V], demands: Iterable[tuple[V, V, float]]) -> list[tuple[float, float]]:
    """What each edge carries of a list of demands, where there is one way only.

    graph [-]: a forest; `Graph.only` gives that of the active edges; demands: (from [-], to [-], speed
    [bit/s]).
    Gives: by edge id, [bit/s] from its first end to its second, and back; 0 for an edge that is not in the
    graph. Cost: O(V + E), and the length of the way of each demand.
    Errors: ValueError where there is a loop, or no way for a demand; KeyError for a stranger.
    """
    if not graph.is_forest():
        raise ValueError("there is more than one way: say which edges are active")
    there = [0.0] * len(graph.ends)
    back = [0.0] * len(graph.ends)
    for start, goal, bits in demands:
        if not graph.joined(start, goal):
            raise ValueError(f"there is no way from {start!r} to {goal!r}")
        at = start
        for edge in graph.tree.climb(graph.number[start], graph.number[goal]):
            one, other = graph.ends[edge]
            (there if at == one else back)[edge] += bits
            at = other if at == one else one
    return list(zip(there, back, strict=True))


def oversubscription(down: Iterable[float], up: Iterable[float]) -> float:
    """How many times [-] the downlinks of a switch could fill its uplinks: 1 is none.

    down [bit/s], up [bit/s]: speeds of the links. Errors: ValueError where the uplinks carry nothing.
    Source: network course notes.
    """
    total = sum(up)
    if not total > 0:
        raise ValueError("a ratio needs an uplink above 0 bit/s")
    return sum(down) / total


class _Problem(Generic[V]):
    """Demands and speeds by vertex number, as integers, with the sources taken out.

    behind: shares of each vertex, growing by what is peeled off it; supply: speed of its edges to sources;
    joins: speed to each neighbour that is no source, edges side by side added up; peeled: (vertex, the one it
    hung on, speed between), in the order in which they were taken off.
    """

    def __init__(
        self, graph: Graph[V], bits: Sequence[float | Fraction], sources: Iterable[V], sinks: Iterable[V]
    ) -> None:
        self.graph = graph
        count = len(graph.vertices)
        self.fed = {graph.number[vertex] for vertex in sources}
        self.behind = [0] * count
        for vertex in sinks:
            self.behind[graph.number[vertex]] += 1
        for v in self.fed:
            self.behind[v] = 0
        self.sinks = self.behind.copy()
        self.whole, self.scale, self.endless = _whole(graph, bits, sum(self.sinks))
        self.supply = [0] * count
        self.joins: list[dict[int, int]] = [{} for _ in range(count)]
        self.peeled: list[tuple[int, int, int]] = []
        for edge in graph.edges:
            self._lay(*graph.numbers(edge), self.whole[edge])

    def _lay(self, u: int, v: int, speed: int) -> None:
        if u == v or not speed:
            return
        for one, other in ((u, v), (v, u)):
            if one in self.fed:
                self.supply[other] += speed
            elif other not in self.fed:
                self.joins[one][other] = self.joins[one].get(other, 0) + speed

    def peel(self) -> None:
        """Take off what hangs on one neighbour and on no source, leaves first. O(V)."""
        ready = [v for v in range(len(self.joins)) if self._hangs(v)]
        for v in ready:
            if not self._hangs(v):
                continue  # the last two hung on each other
            u, speed = self.joins[v].popitem()
            del self.joins[u][v]
            self.behind[u] += self.behind[v]
            self.peeled.append((v, u, speed))
            if self._hangs(u):
                ready.append(u)

    def _hangs(self, v: int) -> bool:
        return len(self.joins[v]) == 1 and not self.supply[v] and v not in self.fed

    def parts(self) -> Iterator[list[tuple[int, int]]]:
        """What hangs together of the rest, where anything is wanted: (vertex, neighbour it was found from)."""
        off = self.fed | {v for v, _, _ in self.peeled}
        for root in range(len(self.joins)):
            if root in off:
                continue
            off.add(root)
            part = [(root, -1)]
            for v, _ in part:
                for u in self.joins[v]:
                    if u not in off:
                        off.add(u)
                        part.append((u, v))
            if any(self.behind[v] for v, _ in part):
                yield part

    def first_share(self, parts: list[list[tuple[int, int]]]) -> tuple[int, int]:
        """A share that some cut allows, as (speed, shares): the least of the simple cuts."""
        cuts = [(speed, self.behind[v]) for v, _, speed in self.peeled if self.behind[v]]
        cuts += [
            (sum(self.supply[v] for v, _ in part), sum(self.behind[v] for v, _ in part)) for part in parts
        ]
        best = cuts[0]
        for speed, shares in cuts:
            if speed * best[1] < best[0] * shares:
                best = (speed, shares)
        return best

    def ratio(self, inside: set[int]) -> tuple[int, int]:
        """Speed into a set of vertices, and shares in it; (1, 0), which is endless, where it has none."""
        shares = sum(self.behind[v] for v in inside)
        if not shares:
            return 1, 0
        speed = sum(self.supply[v] for v in inside)
        speed += sum(c for v in inside for u, c in self.joins[v].items() if u not in inside)
        return speed, shares

    def worst(self, part: list[tuple[int, int]], share: tuple[int, int]) -> set[int]:
        """The vertices of a part whose cut falls short most at a share; the largest such set of all."""
        speed, shares = share
        lack = {v: self.supply[v] * shares - self.behind[v] * speed for v, _ in part}
        if sum(len(self.joins[v]) for v, _ in part) == 2 * (len(part) - 1):
            return self._worst_of_tree(part, lack, shares)
        return self._worst_of_mesh(lack, share)

    def _worst_of_tree(self, part: list[tuple[int, int]], lack: dict[int, int], shares: int) -> set[int]:
        # the least of speed into the set less what it wants, with a vertex in it and with the vertex out
        within, out = lack, dict.fromkeys(lack, 0)
        for v, parent in reversed(part[1:]):
            speed = self.joins[v][parent] * shares
            within[parent] += min(within[v], out[v] + speed)
            out[parent] += min(out[v], within[v] + speed)
        chosen: set[int] = set()
        for v, parent in part:
            speed = self.joins[v][parent] * shares if parent >= 0 else 0
            if within[v] <= out[v] + (speed if parent in chosen else -speed):
                chosen.add(v)
        return chosen

    def _worst_of_mesh(self, lack: dict[int, int], share: tuple[int, int]) -> set[int]:
        import networkx as nx  # type: ignore[import-untyped]

        # Flow runs backwards, from what wants (-1) to what feeds (-2): networkx gives the smallest side at the
        # end of the flow, and the largest set is what remains. Both directions of a cable are alike.
        speed, shares = share
        net = nx.DiGraph()
        net.add_nodes_from((-1, -2))
        for v in lack:
            net.add_edge(-1, v, capacity=self.behind[v] * speed)
            net.add_edge(v, -2, capacity=self.supply[v] * shares)
            net.add_edges_from((v, u, {"capacity": c * shares}) for u, c in self.joins[v].items())
        _, (chosen, _) = nx.minimum_cut(net, -1, -2)
        return {v for v in chosen if v >= 0}

    def answer(self, share: tuple[int, int], inside: set[int]) -> Share[V] | None:
        """The share in bits, and what decides, with what was peeled off put back."""
        from fractions import Fraction

        speed, shares = share
        for v, hung_on, between in reversed(self.peeled):
            full = between * shares == self.behind[v] * speed
            if full or hung_on in inside:
                inside.add(v)
        across = [e for e in self.graph.edges if len({v in inside for v in self.graph.numbers(e)}) == 2]
        edges = [edge for edge in across if self.whole[edge] or not speed]
        if not self.endless.isdisjoint(edges):
            return None
        wanting = [v for v in sorted(inside) if self.sinks[v]]
        names = [self.graph.vertices[v] for v in wanting]
        return Share(Fraction(speed, shares * self.scale), edges, names, sum(self.sinks[v] for v in wanting))


def _whole(
    graph: Graph[V], bits: Sequence[float | Fraction], shares: int
) -> tuple[dict[int, int], int, set[int]]:
    """Speeds as integers by edge id, what they were multiplied by, and the edges without a limit."""
    endless = {edge for edge in graph.edges if bits[edge] == math.inf}
    if any(bits[edge] < 0 for edge in graph.edges):
        raise ValueError("a speed is not below 0 bit/s")
    ratios = {edge: bits[edge].as_integer_ratio() for edge in graph.edges if edge not in endless}
    scale = math.lcm(*(below for _, below in ratios.values()))
    whole = {edge: top * (scale // below) for edge, (top, below) in ratios.items()}
    # a cut through one of these allows more than any cut through none, however many share it
    beyond = (sum(whole.values()) + 1) * max(shares, 1)
    return {edge: whole.get(edge, beyond) for edge in graph.edges}, scale, endless
