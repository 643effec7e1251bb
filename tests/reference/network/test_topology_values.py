"""Topology against published values, rows in topology.toml."""

import tomllib
from itertools import combinations, pairwise
from math import inf
from pathlib import Path
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.lan.flow import min_cut, oversubscription
from coldcheck.lan.graph import Graph

ROWS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("topology.toml").read_text(encoding="utf-8"))


def _read(edges: list[str]) -> tuple[list[tuple[str, str]], list[int]]:
    """Both ends of "x-a 3", and its speed."""
    split = [(text.split()[0].split("-"), int(text.split()[1])) for text in edges]
    return [(one, other) for (one, other), _ in split], [speed for _, speed in split]


def _cut(edges: list[str], one: str, other: str) -> float:
    ends, bits = _read(edges)
    share = min_cut(Graph(ends), bits, one, other)
    assert share is not None
    assert share.bits == sum(bits[edge] for edge in share.edges)
    return float(share.bits)


def _edges(topology: str, p: int) -> list[tuple[int, int]]:
    ring = [(i, (i + 1) % p) for i in range(p)]
    return {
        "star": [(0, i) for i in range(1, p)],
        "ring": ring,
        "fully connected": list(combinations(range(p), 2)),
        "hypercube": [(i, i ^ bit) for bit in (1, 2, 4) for i in range(p) if not i & bit],
        "binary tree": [((i - 1) // 2, i) for i in range(1, p)],
        # two rows of four, closed both ways: the two cables of a column run side by side
        "torus": [(4 * row + i, 4 * row + (i + 1) % 4) for row in (0, 1) for i in range(4)]
        + [(i, i + 4) for i in range(4)] * 2,
        "bus": list(pairwise(range(p))),
    }[topology]


def _width(edges: list[tuple[int, int]], p: int) -> float:
    """Fewest links between two halves: the smallest cut from one half, tied together, to the other."""
    least = inf
    for half in combinations(range(p), p // 2):
        tied = [("near" if i in half else "far", str(i)) for i in range(p)]
        ends = [*tied, *((str(u), str(v)) for u, v in edges)]
        share = min_cut(Graph(ends), [inf] * p + [1] * len(edges), "near", "far")
        assert share is not None
        least = min(least, float(share.bits))
    return least


def test_oversubscription() -> None:
    """Downlinks over uplinks are the ratios of the course notes and of the design page, which rounds one."""
    row = ROWS["oversubscription"]
    for down, up, ratio, printed in zip(
        row["down_gbps"], row["up_gbps"], row["ratio"], row["printed"], strict=True
    ):
        found = oversubscription([down * 1e9], [up * 1e9 / 2, up * 1e9 / 2])
        assert found == pytest.approx(ratio, rel=1e-12)
        assert round(found, 1) == printed


def test_cut_vertices() -> None:
    """The barbell of the networkx manual has the cut vertices printed there, and none with one edge more."""
    row = ROWS["cut_vertices"]
    ends = list(nx.barbell_graph(*row["barbell"]).edges)
    assert sorted(Graph(ends).cut_vertices()) == row["vertices"]
    assert len(Graph([*ends, row["edge_added"]]).cut_vertices()) == row["vertices_after"]


def test_cut_edges() -> None:
    """Of two full meshes of ten joined by a cable (networkx), that cable alone is a cut edge."""
    row = ROWS["cut_edges"]
    graph = Graph(list(nx.barbell_graph(*row["barbell"]).edges))
    assert [list(graph.ends[edge]) for edge in graph.cut_edges()] == row["edges"]


def test_min_cut_both_ways() -> None:
    """The least cut over all pairs is that of the Stoer-Wagner example in the networkx manual."""
    row = ROWS["min_cut"]
    names = sorted({name for pair in _read(row["edges"])[0] for name in pair})
    least = min(_cut(row["edges"], *pair) for pair in combinations(names, 2))
    assert least == row["both_ways_any_pair"]


def test_min_cut_is_not_that_of_arrows() -> None:
    """Between x and y full-duplex cables carry more than the arrows of the same drawing (networkx manual)."""
    row = ROWS["min_cut"]
    net = nx.DiGraph()
    for (one, other), speed in zip(*_read(row["edges"]), strict=True):
        net.add_edge(one, other, capacity=speed)
    assert nx.maximum_flow_value(net, row["source_node"], row["sink_node"]) == row["one_way"]
    assert _cut(row["edges"], row["source_node"], row["sink_node"]) == 4 > row["one_way"]


def test_min_cut_of_eight() -> None:
    """The least cut over all pairs, and its side, are those of Stoer and Wagner 1997 (from memory)."""
    row = ROWS["min_cut_of_eight"]
    names = [str(i) for i in range(1, 9)]
    cuts = {pair: _cut(row["edges"], *pair) for pair in combinations(names, 2)}
    assert min(cuts.values()) == row["any_pair"]
    for (one, other), value in cuts.items():
        if (one in row["side"]) != (other in row["side"]):
            assert value == row["any_pair"]


@pytest.mark.parametrize("row", ROWS["width"], ids=lambda row: row["topology"])
def test_widths_and_lengths(row: dict[str, Any]) -> None:
    """Smallest cuts between halves, and longest shortest ways, are those of the course answers."""
    edges = _edges(row["topology"], row["p"])
    assert _width(edges, row["p"]) == row["links"]
    if "longest" in row:
        assert len(Graph(edges).longest_row()[1]) == row["longest"]


def test_width_of_a_star_is_not_one() -> None:
    """A star is not cut in halves by one link, whatever the course answers print; its length is right."""
    row = ROWS["wrong_star"]
    edges = _edges("star", row["p"])
    assert _width(edges, row["p"]) == row["links"] != row["printed_links"]
    assert len(Graph(edges).longest_row()[1]) == row["longest"]


def test_cables_side_by_side_are_no_cut_edge() -> None:
    """A simple graph calls two cables side by side a single point of failure (networkx); here they are none."""
    row = ROWS["wrong_simple_graph"]
    assert Graph(row["edges"]).cut_edges() == row["cut_edges"]
    simple = {frozenset(pair) for pair in nx.bridges(nx.Graph(row["edges"]))}
    assert simple == {frozenset(pair) for pair in row["simple_graph_says"]}
