"""Shares, cuts and loads against linear programming, brute force and a formula for trees."""

import sys
from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, pairwise
from math import inf, nan
from random import Random
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import numpy as np
import pytest
from scipy.optimize import linprog

from coldcheck.lan.flow import Share, equal_share, loads, min_cut, oversubscription
from coldcheck.lan.graph import Graph

Problem = tuple[Graph[int], list[int], list[int], list[int]]


def _problems(count: int, loops: int, most: int = 7) -> Iterator[Problem]:
    """Random networks, speeds, sources and sinks (some named twice); all sinks hang on a source."""
    for seed in range(count):
        random = Random(seed)
        n = random.randint(2, most)
        ends = [(random.randrange(i), i) for i in range(1, n) if random.random() < 0.95]
        ends += [(random.randrange(n), random.randrange(n)) for _ in range(random.randint(0, loops))]
        random.shuffle(ends)
        graph = Graph(ends, range(n))
        bits = [random.choice((0, 1, 1, 2, 5, 10)) if loops else random.randint(1, 10) for _ in ends]
        sources = random.sample(range(n), random.choice((1, 1, 2, 3)) if n > 3 else 1)
        fed = [v for v in range(n) if any(graph.joined(v, source) for source in sources)]
        yield graph, bits, sources, [random.choice(fed) for _ in range(random.randint(1, n))]


def _by_cuts(problem: Problem) -> tuple[Fraction, set[int]] | None:
    """The least ratio over every set of vertices without a source, and all that is wanted behind such cuts."""
    graph, bits, sources, sinks = problem
    wants = Counter(v for v in sinks if v not in sources)
    others = [v for v in graph.vertices if v not in sources]
    best: Fraction | None = None
    behind: set[int] = set()
    for size in range(1, len(others) + 1):
        for inside in map(set, combinations(others, size)):
            shares = sum(wants[v] for v in inside)
            if not shares:
                continue
            cut = sum(bits[e] for e, (u, v) in enumerate(graph.ends) if (u in inside) != (v in inside))
            ratio = Fraction(cut, shares)
            if best is None or ratio < best:
                best, behind = ratio, set()
            if ratio == best:
                behind |= inside & set(wants)
    return None if best is None else (best, behind)


def _by_program(problem: Problem) -> float:
    """The same by a linear program: a flow each way on each edge, kept at every vertex without the data."""
    graph, bits, sources, sinks = problem
    edges = len(graph.ends)
    rows = {v: row for row, v in enumerate(v for v in graph.vertices if v not in sources)}
    matrix = np.zeros((len(rows), 2 * edges + 1))
    for edge, (one, other) in enumerate(graph.ends):
        for column, (start, goal) in ((edge, (one, other)), (edges + edge, (other, one))):
            if start in rows:
                matrix[rows[start], column] -= 1
            if goal in rows:
                matrix[rows[goal], column] += 1
    for v in sinks:
        if v in rows:
            matrix[rows[v], -1] -= 1
    costs = np.zeros(2 * edges + 1)
    costs[-1] = -1
    bounds = [(0, speed) for speed in bits] * 2 + [(0, None)]
    done = linprog(costs, A_eq=matrix, b_eq=np.zeros(len(rows)), bounds=bounds)
    assert done.status == 0
    return -float(done.fun)


def _check(problem: Problem, share: Share[int] | None) -> None:
    graph, bits, sources, sinks = problem
    expected = _by_cuts(problem)
    assert (share is None) == (expected is None)
    if share is None or expected is None:
        return
    assert (share.bits, set(share.sinks)) == expected
    assert share.count == sum(v in share.sinks for v in sinks)
    assert share.bits * share.count == sum(bits[edge] for edge in share.edges)
    assert not share.bits or all(bits[edge] for edge in share.edges)
    without = graph.only({edge for edge in graph.edges if bits[edge]} - set(share.edges))
    assert not any(without.joined(source, v) for source in sources for v in share.sinks)


@pytest.fixture
def many(proof: bool) -> int:
    """How many random networks."""
    return 5000 if proof else 400


@pytest.mark.parametrize("loops", [0, 6])
def test_share_against_every_cut(many: int, loops: int) -> None:
    """The share is exactly the least over all cuts; its edges are full and part all that such cuts part."""
    for problem in _problems(many, loops):
        _check(problem, equal_share(*problem))


def test_share_against_linear_programming(many: int) -> None:
    """Flows of that size exist and none greater, by SciPy's linear programming, on larger networks as well."""
    tight = 0
    for problem in _problems(many, 12, 14):
        share = equal_share(*problem)
        if share is None:
            assert set(problem[3]) <= set(problem[2])
            continue
        tight += share.bits > 0
        assert float(share.bits) == pytest.approx(_by_program(problem), rel=1e-9, abs=1e-9)
    assert tight > many // 3


def test_share_of_a_tree(many: int) -> None:
    """With one source in a tree the share is the least of speed over sinks behind each cable."""
    for seed in range(many):
        random = Random(seed)
        n = random.randint(2, 60)
        ends = [(random.randrange(i), i) for i in range(1, n)]
        bits = [random.choice((10**8, 10**9, 25 * 10**8, 10**10)) for _ in ends]
        sinks = random.sample(range(1, n), random.randint(1, n - 1))
        behind = [0] * n
        for v in sinks:
            while v:
                behind[v] += 1
                v = ends[v - 1][0]  # noqa: PLW2901
        least = min(Fraction(bits[v - 1], behind[v]) for v in range(1, n) if behind[v])
        share = equal_share(Graph(ends), bits, [0], sinks)
        assert share is not None
        assert share.bits == least
        assert {edge + 1 for edge in share.edges} <= {
            v for v in range(1, n) if behind[v] and bits[v - 1] == least * behind[v]
        }


def test_share_stays_exact() -> None:
    """Ten thousand sinks behind 400 Gbit/s, and speeds that are no whole number, give a share to the bit."""
    size = 10000
    ends = [("store", "core"), *(("core", f"edge{i % 7}") for i in range(7))]
    ends += [(f"edge{i % 7}", f"n{i}") for i in range(size)]
    bits = [4e11, *[1e12] * 7, *[1e9] * size]
    sinks = [f"n{i}" for i in range(size)]
    share = equal_share(Graph(ends), bits, ["store"], sinks)
    assert share is not None
    assert (share.bits, share.edges, share.count) == (Fraction(40_000_000), [0], size)
    thirds = equal_share(Graph([(0, 1)]), [Fraction(1, 3)], [0], [1, 1])
    assert thirds is not None
    assert thirds.bits == Fraction(1, 6)


def test_trunks_side_by_side_add_up() -> None:
    """Four trunks of 1 Gbit/s side by side are one cut of 4 Gbit/s, and are told as four cables."""
    share = equal_share(Graph([(0, 1)] * 4 + [(1, 2), (1, 3)]), [1e9] * 4 + [1e10] * 2, [0], [2, 3])
    assert share == Share(Fraction(2 * 10**9), [0, 1, 2, 3], [2, 3], 2)


def test_blocked_cables_decide_nothing() -> None:
    """A cable of speed 0 to an idle device is not among those that decide a share."""
    ring = Graph([(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)])
    assert equal_share(ring, [4, 4, 1, 0, 0], [0], [1, 2]) == Share(Fraction(4), [0, 1], [1, 2], 2)


def test_share_beside_a_source_in_the_way() -> None:
    """Data comes from the nearer of two sources: the link between them carries none of it."""
    share = equal_share(Graph([(0, 1), (1, 2)]), [1, 10], [0, 1], [2])
    assert share == Share(Fraction(10), [1], [2], 1)


def test_edges_without_a_limit() -> None:
    """An edge without a limit never decides; where only such edges lead to the sinks, nothing does."""
    square = Graph([(0, 1), (1, 2), (2, 3), (3, 0)])
    assert equal_share(square, [inf, inf, 3, 4], [0], [2]) is None
    share = equal_share(square, [inf, 5, 3, inf], [0], [2, 3])
    assert share == Share(Fraction(8), [1, 2], [2], 1)
    assert equal_share(Graph([(0, 1)]), [inf], [0], [1]) is None
    assert equal_share(square, [1, 1, 1, 1], [0, 2], [2, 0]) is None
    assert equal_share(square, [1, 1, 1, 1], [0], []) is None


def test_sinks_out_of_reach() -> None:
    """A sink that no source reaches, or only over a cable of no speed, makes every share nothing."""
    graph = Graph([(0, 1), (2, 3), (1, 3)])
    share = equal_share(graph.only([0, 1]), [1, 1, 1], [0], [1, 3])
    assert share == Share(Fraction(0), [], [3], 1)
    share = equal_share(graph, [1, 1, 0], [0], [1, 3])
    assert share == Share(Fraction(0), [2], [3], 1)


@pytest.mark.parametrize("bits", [-1, -inf, nan])
def test_speeds_that_are_none(bits: float) -> None:
    """A speed below 0 or not a number is refused."""
    with pytest.raises(ValueError):  # noqa: PT011
        equal_share(Graph([(0, 1)]), [bits], [0], [1])


def test_min_cut_against_networkx(many: int) -> None:
    """The cut between two vertices has the value of a max flow that networkx finds another way."""
    for graph, bits, (source, *_), _ in _problems(many, 8, 10):
        net = nx.DiGraph()
        net.add_nodes_from(graph.vertices)
        for (u, v), speed in zip(graph.ends, bits, strict=True):
            for one, other in ((u, v), (v, u)):
                before = net.get_edge_data(one, other, {"capacity": 0})["capacity"]
                net.add_edge(one, other, capacity=before + speed)
        for sink in graph.vertices:
            if sink == source:
                continue
            share = min_cut(graph, bits, source, sink)
            value = nx.maximum_flow_value(net, source, sink, flow_func=nx.algorithms.flow.edmonds_karp)
            assert share is not None
            assert share.bits == value == sum(bits[edge] for edge in share.edges)


def test_min_cut_needs_two() -> None:
    """Between a vertex and itself there is nothing to cut."""
    with pytest.raises(ValueError, match="itself"):
        min_cut(Graph([(0, 1)]), [1], 0, 0)


def test_answers_do_not_hang_on_the_past() -> None:
    """The same network gives the same edges and sinks each time, and in any order of sources and sinks."""
    for graph, bits, sources, sinks in _problems(50, 8):
        first = equal_share(graph, bits, sources, sinks)
        assert equal_share(graph, bits, sources[::-1], sinks[::-1]) == first


def test_loads_against_a_walk(many: int) -> None:
    """Each demand loads the edges of the only way (networkx), each in the direction in which it is walked."""
    for seed in range(many):
        random = Random(seed)
        n = random.randint(2, 20)
        tree = [(random.randrange(i), i) for i in range(1, n)]
        ends = [(v, u) if random.random() < 0.5 else (u, v) for u, v in tree] + [(0, n - 1)]
        demands = [(random.randrange(n), random.randrange(n), float(random.randint(1, 9))) for _ in range(n)]
        expected = [[0.0, 0.0] for _ in ends]
        for start, goal, bits in demands:
            row = nx.shortest_path(nx.Graph(tree), start, goal)
            for step in pairwise(row):
                edge = max(step) - 1
                expected[edge][step != ends[edge]] += bits
        found = loads(Graph(ends).only(range(n - 1)), demands)
        assert [list(pair) for pair in found] == expected


def test_loads_need_one_way() -> None:
    """Loads are refused where there are two ways, or none."""
    with pytest.raises(ValueError, match="active"):
        loads(Graph([(0, 1), (0, 1)]), [])
    with pytest.raises(ValueError, match="no way from 0 to 2"):
        loads(Graph([(0, 1)], [0, 1, 2]), [(0, 2, 1.0)])


def test_oversubscription_needs_an_uplink() -> None:
    """There is no ratio without uplinks."""
    for up in ([], [0.0]):
        with pytest.raises(ValueError, match="uplink"):
            oversubscription([1e9], up)


def test_leaves_never_reach_the_max_flow(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of two switches in a ring with a store, and a thousand nodes, only the switches go into a max flow."""
    sizes: list[int] = []
    cut = nx.minimum_cut

    def counted(net: Any, *ends: int) -> Any:
        sizes.append(len(net))
        return cut(net, *ends)

    monkeypatch.setattr(sys.modules["networkx"], "minimum_cut", counted)
    ends = [("store", "a"), ("store", "b"), ("store", "c"), ("a", "b"), ("b", "c"), ("c", "a")]
    ends += [("abc"[i % 3], f"n{i}") for i in range(1000)]
    bits = [10**10] * 6 + [10**9] * 1000
    share = equal_share(Graph(ends), bits, ["store"], [f"n{i}" for i in range(1000)])
    assert share is not None
    assert (share.bits, share.edges, share.count) == (Fraction(30_000_000), [0, 1, 2], 1000)
    assert set(sizes) == {5}
    assert len(sizes) <= 3
