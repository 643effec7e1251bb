"""Loops, cuts, losses and ways of random multigraphs against networkx and brute force, and what it costs."""

import os
import subprocess
import sys
from collections.abc import Iterator
from itertools import combinations
from random import Random
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.lan import walks
from coldcheck.lan.graph import Graph, Loss

LEAN = """
import sys
from coldcheck.lan import flow
from coldcheck.lan.graph import Graph
ends = [(i // 3, i) for i in range(1, 50)]
graph = Graph([*ends, (0, 1)])
graph.components(), list(graph.loops()), graph.tangles(), graph.cut_vertices(), graph.cut_edges()
graph.losses([40, 41], [0]), graph.path(0, 40), graph.longest_row()
assert flow.equal_share(graph, [10] * 50, [0], [40, 41]).bits == 5
assert flow.equal_share(graph, [10] * 50, [0, 45], [40, 41, 15, 5]).bits == 5
assert flow.equal_share(Graph([(0, 1), (1, 2), (2, 3), (3, 1)]), [9, 8, 7, 0], [0], [3]).bits == 7
flow.loads(Graph(ends), [(0, 40, 7)])
sys.stdout.write("\\n".join(sys.modules))
"""


def _graphs(count: int, most: int = 9) -> Iterator[tuple[Graph[str], Any, Random]]:
    """Small random multigraphs, with edges side by side and to themselves, and the same in networkx."""
    for seed in range(count):
        random = Random(seed)
        names = [f"d{i}" for i in range(random.randint(1, most))]
        random.shuffle(names)
        edges = random.randint(0, len(names) * random.choice((1, 1, 2, 3)))
        ends = [(random.choice(names), random.choice(names)) for _ in range(edges)]
        kept = [edge for edge in range(edges) if random.random() < 0.9]
        net = nx.MultiGraph()
        net.add_nodes_from(names)
        net.add_edges_from((*ends[edge], edge) for edge in kept)
        yield Graph(ends, names).only(kept), net, random


@pytest.fixture
def many(proof: bool) -> int:
    """How many random graphs."""
    return 30000 if proof else 2000


def test_components(many: int) -> None:
    """What hangs together, and the number of independent loops, are those of networkx."""
    for graph, net, _ in _graphs(many):
        parts = graph.components()
        assert {frozenset(part) for part in parts} == {frozenset(p) for p in nx.connected_components(net)}
        assert [part[0] for part in parts] == [v for v in graph.vertices if v in {p[0] for p in parts}]
        loops = net.number_of_edges() - net.number_of_nodes() + nx.number_connected_components(net)
        assert graph.independent_loops() == loops
        assert graph.is_forest() == nx.is_forest(net)
        for one, other in combinations(graph.vertices, 2):
            assert graph.joined(one, other) == nx.has_path(net, one, other)


def test_loops(many: int) -> None:
    """Loops are closed walks that pass no vertex twice, none is a sum of others, and there are E - V + C."""
    for graph, _, _ in _graphs(many):
        loops = list(graph.loops())
        assert len(loops) == graph.independent_loops()
        assert [loop[0] for loop in loops] == sorted(loop[0] for loop in loops)
        depth = max(graph.tree.depth)
        basis: list[int] = []
        for loop in loops:
            at = start = graph.ends[loop[0]][0]
            passed = []
            for edge in loop:
                one, other = graph.ends[edge]
                assert at in (one, other)
                at = other if at == one else one
                passed.append(at)
            assert at == start
            assert len(set(passed)) == len(loop) <= 2 * depth + 1
            mask = sum(1 << edge for edge in loop)
            for row in basis:
                mask = min(mask, mask ^ row)
            assert mask, "a loop is the sum of others"
            basis.append(mask)


def test_small_loops() -> None:
    """Two cables side by side are a loop of two, one from a device to itself a loop of one."""
    graph = Graph([("a", "b"), ("b", "b"), ("b", "a"), ("b", "c"), ("a", "c")])
    assert list(graph.loops()) == [[1], [2, 0], [3, 4, 0]]
    assert graph.tangles() == [[0, 2, 3, 4], [1]]


def test_tangles(many: int) -> None:
    """Tangles are the blocks of networkx with all their parallel edges, where those make a loop."""
    for graph, net, _ in _graphs(many):
        expected = [[edge] for one, other, edge in net.edges(keys=True) if one == other]
        for block in nx.biconnected_components(nx.Graph(net)):
            edges = [e for one, other, e in net.edges(keys=True) if one != other and {one, other} <= block]
            if len(edges) > 1:
                expected.append(sorted(edges))
        assert graph.tangles() == sorted(expected)


def test_cuts(many: int) -> None:
    """Cut vertices and cut edges are those of networkx, and those whose removal makes a part more."""
    for graph, net, _ in _graphs(many):
        cut_vertices = graph.cut_vertices()
        assert cut_vertices == [v for v in graph.vertices if v in set(nx.articulation_points(nx.Graph(net)))]
        bridges = {frozenset(pair) for pair in nx.bridges(net)}
        assert graph.cut_edges() == [e for e in graph.edges if frozenset(graph.ends[e]) in bridges]
        parts = nx.number_connected_components(net)
        for edge in graph.edges:
            without = net.copy()
            without.remove_edge(*graph.ends[edge], edge)
            assert (nx.number_connected_components(without) > parts) == (edge in graph.cut_edges())


def _unfed(net: Any, sources: set[str]) -> set[str]:
    return {v for part in nx.connected_components(net) if not part & sources for v in part}


def test_losses(many: int) -> None:
    """Each failure costs exactly those wanted vertices that brute force finds without a source after it."""
    for graph, net, random in _graphs(many):
        wanted = {v for v in graph.vertices if random.random() < 0.6}
        sources = {v for v in graph.vertices if random.random() < 0.25}
        before = _unfed(net, sources)
        vertices: list[tuple[Any, list[str]]] = []
        for vertex in graph.vertices:
            without = net.copy()
            without.remove_node(vertex)
            lost = (_unfed(without, sources) - before) & wanted
            vertices.append((vertex, [v for v in graph.vertices if v in lost]))
        edges: list[tuple[Any, list[str]]] = []
        for edge in graph.edges:
            without = net.copy()
            without.remove_edge(*graph.ends[edge], edge)
            lost = (_unfed(without, sources) - before) & wanted
            edges.append((edge, [v for v in graph.vertices if v in lost]))
        found = graph.losses(wanted, sources)
        for losses, expected in zip(found, (vertices, edges), strict=True):
            assert [(loss.at, loss.who()) for loss in losses] == [row for row in expected if row[1]]
            assert all(loss.count == len(loss.who()) for loss in losses)


def test_losses_of_a_chain_of_switches() -> None:
    """The first switch of a chain costs all behind it, the last cable only its node; nothing is pairwise."""
    size = 20000
    graph = Graph([(i, i + 1) for i in range(size)])
    vertices, edges = graph.losses(range(1, size + 1), [0])
    assert [loss.count for loss in vertices] == list(range(size, 0, -1))
    assert [loss.count for loss in edges] == list(range(size, 0, -1))
    assert edges[-1].who() == [size]
    assert sum(_spans(loss) for loss in vertices) <= 2 * size


def _spans(loss: Loss[Any]) -> int:
    return len(loss._spans)


def test_losses_at_a_hub_take_no_more_room_than_its_cables() -> None:
    """A hub whose thousands of nodes fall apart, each alone, is told in as many spans as it has cables."""
    graph = Graph([("hub", i) for i in range(5000)])
    vertices, _ = graph.losses(range(5000), [0])
    assert [(loss.at, loss.count, _spans(loss)) for loss in vertices] == [("hub", 4999, 4999), (0, 4999, 1)]


def test_ways(many: int) -> None:
    """Ways are walks from start to goal as short as those of networkx, and there is none where it has none."""
    for graph, net, random in _graphs(many):
        start, goal = random.choice(graph.vertices), random.choice(graph.vertices)
        far = nx.single_source_shortest_path_length(net, start)
        assert graph.hops(start) == far
        assert list(graph.hops(start).values()) == sorted(far.values())
        path = graph.path(start, goal)
        assert (path is None) == (goal not in far)
        if path is not None:
            assert len(path) == far[goal]
            _walk(graph, start, path, goal)


def _walk(graph: Graph[str], start: str, path: list[int], goal: str) -> list[str]:
    row = [start]
    for edge in path:
        one, other = graph.ends[edge]
        assert edge in graph.edges
        assert row[-1] in (one, other)
        row.append(other if row[-1] == one else one)
    assert row[-1] == goal
    return row


@pytest.mark.parametrize("most", [9, 30])
def test_longest_row(many: int, most: int) -> None:
    """The longest row is a shortest way between its ends, and no two vertices are farther apart (networkx)."""
    for graph, net, _ in _graphs(many // 4, most):
        vertices, edges = graph.longest_row()
        assert _walk(graph, vertices[0], edges, vertices[-1]) == vertices
        far = dict(nx.all_pairs_shortest_path_length(net))
        assert len(edges) == far[vertices[0]][vertices[-1]]
        assert len(edges) == max(n for row in far.values() for n in row.values())


@pytest.fixture
def met(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many vertices each search for distances met."""
    sizes: list[int] = []
    search = walks.distances

    def counted(near: walks.Near, start: int) -> dict[int, int]:
        found = search(near, start)
        sizes.append(len(found))
        return found

    monkeypatch.setattr(walks, "distances", counted)
    return sizes


def test_longest_row_of_a_tree_takes_few_searches(met: list[int]) -> None:
    """Two switches with trunks side by side and a thousand nodes each are settled by a handful of searches."""
    ends = [("a", "b"), ("a", "b")] + [(hub, f"{hub}{i}") for hub in "ab" for i in range(1000)]
    assert len(Graph(ends).longest_row()[1]) == 3
    assert len(met) <= 5


def test_longest_row_of_a_mesh_does_not_search_from_node_to_node(met: list[int]) -> None:
    """In a mesh of forty switches with two thousand nodes, but for a few sweeps only one node each is met."""
    random = Random(1)
    ends = [(f"s{random.randrange(i)}", f"s{i}") for i in range(1, 40)]
    ends += [(f"s{random.randrange(40)}", f"s{random.randrange(40)}") for _ in range(30)]
    ends += [(f"s{i % 40}", f"n{i}") for i in range(2000)]
    far = dict(nx.all_pairs_shortest_path_length(nx.Graph(ends[:-2000])))
    assert len(Graph(ends).longest_row()[1]) == 2 + max(n for row in far.values() for n in row.values())
    assert sum(size > 80 for size in met) <= 5
    assert len(met) <= 5 + 80


def test_longest_row_of_a_grid_takes_few_searches(met: list[int]) -> None:
    """Bounds from the middle spare most of the four hundred searches that a grid of switches would take."""
    grid = nx.convert_node_labels_to_integers(nx.grid_2d_graph(20, 20))
    assert len(Graph(list(grid.edges)).longest_row()[1]) == 2 * 19
    assert len(met) <= 20


def test_nothing() -> None:
    """An empty graph has no parts, loops, cuts, losses or rows."""
    graph: Graph[str] = Graph([])
    assert not any((graph.components(), graph.tangles(), graph.cut_vertices(), graph.cut_edges()))
    assert graph.is_forest()
    assert graph.losses([], []) == ([], [])
    assert graph.longest_row() == ([], [])


def test_an_edge_to_keep_must_be_there() -> None:
    """Keeping an edge id that does not exist is refused at either end."""
    for edge in (-1, 1):
        with pytest.raises(IndexError):
            Graph([("a", "b")]).only([edge])


def test_trees_need_no_library() -> None:
    """The modules, and every question about trees, parallel and blocked cables, import no networkx and no NumPy."""
    # what a test run has in its environment (coverage, pytest) must not count
    env = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    command = [sys.executable, "-c", LEAN]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60, env=env)
    modules = set(done.stdout.splitlines())
    assert "coldcheck.lan.flow" in modules
    assert not modules & {"networkx", "numpy", "scipy"}
