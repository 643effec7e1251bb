"""Topology of a LAN: what hangs together, loops, what parts it by failing, and ways through it.

Vertices are devices, edges are cables. Two cables between the same devices are two edges, and a cable from a
device to itself is one: a simple graph would drop them, and call two cables side by side a single point of
failure. A switch is a "bridge" in the trade; what graph texts call a bridge is a cut edge here.

Nothing recurses, and every answer follows the order in which things were given.
"""

from collections.abc import Container, Hashable, Iterable, Iterator
from functools import cached_property
from typing import Generic, TypeVar

from msgspec import Struct

from coldcheck.lan import walks

V = TypeVar("V", bound=Hashable)


class Loss(Struct, Generic[V], frozen=True):
    """What the failure of one vertex or one edge costs.

    at [-]: the vertex, or the edge id; count [-]: wanted vertices that lose every source by it. `who` lists
    them.
    """

    at: V | int
    count: int
    _ranked: list[tuple[int, V]]  # the wanted vertices in the order of the search; shared by all losses
    _spans: list[tuple[int, int]]  # which of them are lost: first, and one behind the last

    def who(self) -> list[V]:
        """The wanted vertices [-] that lose every source, in the order of the graph. O(count log count)."""
        return [name for _, name in sorted(pair for i, j in self._spans for pair in self._ranked[i:j])]


class Graph(Generic[V]):
    """An undirected graph with edges side by side and edges from a vertex to itself.

    vertices [-]: in order of first mention; number [-]: the place of each in that list; ends [-]: both
    vertices of each edge, by edge id, as given; edges [-]: ids that are in the graph, rising; near [-]: by
    vertex number, pairs (number of the other vertex, edge id), without edges to itself.
    """

    def __init__(
        self, ends: Iterable[tuple[V, V]], vertices: Iterable[V] = (), kept: Iterable[int] | None = None
    ) -> None:
        """Build it in O(V + E).

        ends [-]: both vertices of each edge, whose id is its place here; vertices [-]: those that may have no
        edge, or come first; kept [-]: the edge ids to keep, all where None. Errors: IndexError for an id to
        keep that is not there.
        """
        self.ends = list(ends)
        self.edges = list(range(len(self.ends))) if kept is None else sorted(set(kept))
        if self.edges and not 0 <= self.edges[0] <= self.edges[-1] < len(self.ends):
            raise IndexError("an edge to keep is not in the graph")
        self.number: dict[V, int] = {}
        for vertex in vertices:
            self.number.setdefault(vertex, len(self.number))
        for pair in self.ends:
            for vertex in pair:
                self.number.setdefault(vertex, len(self.number))
        self.vertices = list(self.number)
        self.near: list[list[tuple[int, int]]] = [[] for _ in self.vertices]
        for edge in self.edges:
            u, v = self.numbers(edge)
            if u != v:
                self.near[u].append((v, edge))
                self.near[v].append((u, edge))

    def numbers(self, edge: int) -> tuple[int, int]:
        """Vertex numbers [-] of both ends. edge [-]: its id."""
        u, v = self.ends[edge]
        return self.number[u], self.number[v]

    def only(self, edges: Iterable[int]) -> "Graph[V]":
        """Give the graph of the same vertices and some of the edges, under the same ids. O(V + E).

        edges [-]: ids to keep. Errors: IndexError for an id that is not there.
        """
        return Graph(self.ends, self.vertices, edges)

    @cached_property
    def tree(self) -> walks.Tree:
        """The spanning forest, breadth first from the first vertex of each component. O(V + E), once."""
        return walks.grow(self.near)

    @cached_property
    def _search(self) -> walks.Search:
        return walks.search(self.near)

    def components(self) -> list[list[V]]:
        """What hangs together [-]: lists of vertices, by their first one. O(V + E)."""
        parts: dict[int, list[V]] = {}
        for vertex, root in zip(self.vertices, self.tree.root, strict=True):
            parts.setdefault(root, []).append(vertex)
        return list(parts.values())

    def joined(self, one: V, other: V) -> bool:
        """Whether two vertices hang together. O(1) once the tree is there. Errors: KeyError for a stranger."""
        root = self.tree.root
        return root[self.number[one]] == root[self.number[other]]

    def independent_loops(self) -> int:
        """How many edges [-] can go without parting anything, every edge counted: E - V + C. O(V + E).

        Source: cyclomatic number, any text on graph theory.
        """
        return len(self.edges) - len(self.vertices) + self.tree.edge.count(-1)

    def is_forest(self) -> bool:
        """Whether there is no loop: no edges side by side either, and none to itself. O(V + E)."""
        return not self.independent_loops()

    def loops(self) -> Iterator[list[int]]:
        """One loop for each independent one: edge ids [-], as one walks around it, the one that closes it first.

        Two edges side by side are a loop of two, an edge to itself is a loop of one. No loop is longer than
        twice the depth of the spanning tree, and one. They come by the edge that closes them; the first costs
        O(V + E), each its length: take as many as can be shown.
        Source: fundamental cycles of a breadth-first tree, any text on graph theory.
        """
        edge = self.tree.edge
        for closing in self.edges:
            u, v = self.numbers(closing)
            if closing not in (edge[u], edge[v]):
                yield [closing, *self.tree.climb(v, u)]

    def tangles(self) -> list[list[int]]:
        """Parts in which loops hang together: edge ids [-], rising, by their first one. O(V + E).

        They are the biconnected components that have a loop: any two edges of one lie on a common loop, and no
        loop runs through two. An edge to itself is one of its own.
        Source: Hopcroft and Tarjan 1973, Algorithm 447 (from memory).
        """
        selves = [[edge] for edge in self.edges if self.ends[edge][0] == self.ends[edge][1]]
        return sorted([sorted(block) for block in self._search.blocks if len(block) > 1] + selves)

    def cut_vertices(self) -> list[V]:
        """Vertices [-] without which a part of the graph falls in two, in the order of the graph. O(V + E).

        Source: Hopcroft and Tarjan 1973 (from memory).
        """
        search = self._search
        return [
            vertex
            for vertex, parted, above in zip(self.vertices, search.parted, search.above, strict=True)
            if len(parted) > (above < 0)
        ]

    def cut_edges(self) -> list[int]:
        """Edge ids [-], rising, without which a part of the graph falls in two. O(V + E).

        One of two edges side by side is none. Source: Tarjan 1974, on finding the bridges (from memory).
        """
        return sorted(self._search.bridges())

    def losses(
        self, wanted: Iterable[V], sources: Iterable[V], at: Container[V] | None = None, edges: bool = True
    ) -> tuple[list[Loss[V]], list[Loss[V]]]:
        """Which vertices, and which edges, cost wanted vertices their last source by failing.

        wanted [-], sources [-]: vertices, in any order; one may be both, and is then its own source; at [-]: the
        vertices whose failure is asked for, all where None; edges [-]: whether that of edges is.
        Gives: losses above nothing, at vertices in the order of the graph and at edges by id. A vertex that
        fails is not counted itself, nor is what had no source before. The only source of a part is listed
        though nothing falls in two by it.
        Cost: O(V + E) for all of them together. Errors: KeyError for a stranger.

        Without a vertex, its part of the graph falls into some subtrees of a depth-first tree and the rest; a
        subtree is a span of the order of search, so running sums tell what is in it.
        """
        tally = _Tally(self, wanted, sources)
        failing = ((v, name) for v, name in enumerate(self.vertices) if at is None or name in at)
        vertices = [tally.loss(name, tally.without_vertex(v)) for v, name in failing]
        below = self._search.bridges() if edges else {}
        cuts = [tally.loss(edge, tally.without_edge(below[edge])) for edge in sorted(below)]
        return [row for row in vertices if row.count], [row for row in cuts if row.count]

    def hops(self, start: V) -> dict[V, int]:
        """Edges [-] from one vertex to each that can be reached, nearest first. O(V + E). Errors: KeyError."""
        return {self.vertices[v]: far for v, far in walks.distances(self.near, self.number[start]).items()}

    def path(self, start: V, goal: V) -> list[int] | None:
        """Edge ids [-] of a shortest way, in the order one walks it; None where there is none. O(V + E).

        start [-], goal [-]: vertices. Errors: KeyError for a stranger.
        """
        steps = walks.way(self.near, self.number[start], self.number[goal])
        return None if steps is None else [edge for _, edge in steps]

    def longest_row(self) -> tuple[list[V], list[int]]:
        """The longest of all shortest ways: vertices [-] in a row and the edge ids [-] between them.

        Every part of the graph counts; it is empty without vertices. Cost: O(V + E) where the graph is a
        forest but for edges side by side. Elsewhere few searches settle it as a rule, one for each vertex at
        worst: O(V · E).
        Source: Takes and Kosters 2011, bounds on how far all else is from a vertex (from memory).
        """
        if not self.vertices:
            return [], []
        roots = [v for v, edge in enumerate(self.tree.edge) if edge < 0]
        first, row = max((walks.longest_from(self.near, root) for root in roots), key=lambda one: len(one[1]))
        return [self.vertices[v] for v in (first, *(v for v, _ in row))], [edge for _, edge in row]


class _Tally(Generic[V]):
    """Wanted vertices and sources along the order of a search, as running sums."""

    def __init__(self, graph: Graph[V], wanted: Iterable[V], sources: Iterable[V]) -> None:
        self.search = search = graph._search
        self.roots = graph.tree.root
        wants = {graph.number[vertex] for vertex in wanted}
        feeds = {graph.number[vertex] for vertex in sources}
        self.ranked = [(v, graph.vertices[v]) for v in search.order if v in wants]
        self.wanted = [0]
        self.sources = [0]
        for v in search.order:
            self.wanted.append(self.wanted[-1] + (v in wants))
            self.sources.append(self.sources[-1] + (v in feeds))

    def span(self, v: int) -> tuple[int, int]:
        return self.search.place[v], self.search.last[v]

    def loss(self, at: V | int, spans: list[tuple[int, int]]) -> Loss[V]:
        kept = [(self.wanted[i], self.wanted[j]) for i, j in spans if self.wanted[i] < self.wanted[j]]
        return Loss(at, sum(j - i for i, j in kept), self.ranked, kept)

    def without_vertex(self, v: int) -> list[tuple[int, int]]:
        """Spans of the order that lose every source when a vertex fails."""
        return self._dry(self.roots[v], [self.span(child) for child in self.search.parted[v]], v)

    def without_edge(self, v: int) -> list[tuple[int, int]]:
        """The same when the edge above a vertex fails, being a cut edge."""
        return self._dry(self.roots[v], [self.span(v)], None)

    def _dry(self, root: int, off: list[tuple[int, int]], failed: int | None) -> list[tuple[int, int]]:
        sources = self.sources
        first, last = self.span(root)
        if sources[first] == sources[last]:
            return []
        taken = off if failed is None else [(self.search.place[failed], self.search.place[failed] + 1), *off]
        left = sources[last] - sources[first] - sum(sources[j] - sources[i] for i, j in taken)
        spans = [(i, j) for i, j in off if sources[i] == sources[j]]
        if not left:
            edges = [first, *(place for pair in taken for place in pair), last]
            spans += zip(edges[::2], edges[1::2], strict=True)
        return spans
