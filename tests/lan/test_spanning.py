"""Spanning tree against hand-worked cases, networkx, and a simulation of the exchange of messages."""

import subprocess
import sys
from collections.abc import Iterator
from itertools import permutations
from random import Random
from typing import Any

import networkx as nx  # type: ignore[import-untyped]
import pytest

from coldcheck.lan.spanning import Bridge, Link, Tree, trees

SPEEDS = (100e6, 1e9, 10e9)


def _only(bridges: list[Bridge], links: list[Link]) -> Tree:
    (tree,) = trees(bridges, links)
    return tree


def _three(*macs: int | None, last: float | None = 1e9) -> Tree:
    bridges = [Bridge(name, mac=mac) for name, mac in zip("abc", macs, strict=True)]
    return _only(bridges, [Link("a", "b", 1e9), Link("b", "c", 1e9), Link("c", "a", last)])


def test_a_ring_of_three() -> None:
    """The lowest address is the root; the far link blocks at the higher of its two bridges (by hand)."""
    tree = _three(20, 10, 30)
    assert tree.root == "b"
    assert tree.root_cost == {"a": 20000, "b": 0, "c": 20000}
    assert tree.root_port == {"a": 0, "b": None, "c": 1}
    assert (tree.active, tree.blocked, tree.undecided) == ((0, 1), {2: ("c",)}, ())
    assert _three(30, 10, 20).blocked == {2: ("a",)}


def test_a_slow_link_is_not_taken() -> None:
    """Two hops of 1 Gbit/s cost less than one of 100 Mbit/s, so the direct link blocks (by hand)."""
    tree = _three(10, 20, 30, last=100e6)
    assert tree.root_cost == {"a": 0, "b": 20000, "c": 40000}
    assert tree.blocked == {2: ("c",)}


def test_priority_goes_before_the_address() -> None:
    """A bridge of lower priority is the root, whatever the addresses; a cost by hand goes before the speed."""
    bridges = [Bridge("a", mac=1), Bridge("b", 4096), Bridge("c", mac=2)]
    links = [Link("a", "b", 1e9), Link("b", "c", 1e9, cost=50000), Link("c", "a", 1e9)]
    tree = _only(bridges, links)
    assert tree.root == "b"
    assert tree.root_cost == {"a": 20000, "b": 0, "c": 40000}
    assert tree.blocked == {1: ("c",)}


def test_two_cables_side_by_side() -> None:
    """Of two equal cables the one in the lower port of the upper bridge forwards; the order given breaks no numbers."""
    bridges = [Bridge("root", 0), Bridge("leaf")]
    plain = [Link("leaf", "root", 1e9), Link("leaf", "root", 1e9)]
    assert _only(bridges, plain).blocked == {1: ("leaf",)}
    numbered = [Link("leaf", "root", 1e9, a_port=1, b_port=8), Link("leaf", "root", 1e9, a_port=2, b_port=7)]
    assert _only(bridges, numbered).blocked == {0: ("leaf",)}
    faster = [Link("leaf", "root", 1e9), Link("leaf", "root", 10e9)]
    assert _only(bridges, faster).blocked == {0: ("leaf",)}


def test_costs_of_1998() -> None:
    """With the short costs a way of two 10 Gbit/s links, 4, ties with one of 1 Gbit/s, 4 (by hand)."""
    bridges = [Bridge("a", 0), Bridge("b", 4096), Bridge("c", 8192)]
    links = [Link("a", "c", 1e9), Link("a", "b", 10e9), Link("b", "c", 10e9)]
    (short,) = trees(bridges, links, short=True)
    assert short.root_cost == {"a": 0, "b": 2, "c": 4}
    assert short.blocked == {2: ("c",)}
    assert _only(bridges, links).blocked == {0: ("c",)}


def test_a_cable_plugged_back() -> None:
    """A cable between two ports of one bridge blocks at one of them."""
    tree = _only([Bridge("a")], [Link("a", "a", 1e9)])
    assert (tree.root, tree.active, tree.blocked) == ("a", (), {0: ("a",)})


def test_switches_that_take_no_part() -> None:
    """Two cables to a plain switch are one segment: one blocks. A loop of plain switches alone stays (by hand)."""
    bridges = [Bridge("a", mac=1), Bridge("p", takes_part=False), Bridge("q", takes_part=False)]
    links = [Link("a", "p", 1e9), Link("q", "a", 1e9), Link("p", "q", 1e9), Link("p", "q", 1e9)]
    tree = _only(bridges, links)
    assert tree.active == (0, 2, 3)
    assert tree.blocked == {1: ("a",)}
    assert tree.root_cost == {"a": 0}
    nobody = _only(bridges[1:], links[2:])
    assert (nobody.root, nobody.candidates, nobody.active) == (None, (), (0, 1))


def test_unknown_addresses() -> None:
    """Where priorities tie and an address is unknown there is no root, and the ring is undecided, not its branch."""
    bridges = [Bridge("a"), Bridge("b", mac=1), Bridge("c", mac=2), Bridge("leaf", 61440)]
    links = [Link("a", "b", 1e9), Link("b", "c", 1e9), Link("c", "a", 1e9), Link("leaf", "a", 1e9)]
    tree = _only(bridges, links)
    assert tree.root is None
    assert tree.candidates == ("a", "b")
    assert (tree.active, tree.blocked, tree.undecided) == ((3,), {}, (0, 1, 2))
    assert set(tree.root_cost.values()) == {None}


def test_an_unknown_address_that_decides_only_who_blocks() -> None:
    """With the root known by priority, the far link of a ring surely blocks, at an end that is not known."""
    bridges = [Bridge("root", 0), Bridge("a"), Bridge("b")]
    tree = _only(bridges, [Link("root", "a", 1e9), Link("root", "b", 1e9), Link("a", "b", 1e9)])
    assert tree.root == "root"
    assert (tree.active, tree.undecided) == ((0, 1), (2,))
    assert tree.root_cost == {"root": 0, "a": 20000, "b": 20000}


def test_an_unknown_address_that_decides_a_root_port() -> None:
    """Two shared segments that the same two bridges may serve, in other order of ports: the way is open (by hand)."""
    bridges = [Bridge("root", 0), Bridge("x"), Bridge("y"), Bridge("z", 61440)]
    bridges += [Bridge("p", takes_part=False), Bridge("q", takes_part=False)]
    links = [Link("root", "x", 10e9), Link("root", "y", 10e9), Link("z", "p", 1e9), Link("z", "q", 1e9)]
    ports = (("x", "p", 1), ("x", "q", 2), ("y", "p", 4), ("y", "q", 3))
    links += [Link(one, other, 1e9, a_port=number) for one, other, number in ports]
    tree = _only(bridges, links)
    assert tree.root_port == {"root": None, "x": 0, "y": 1, "z": None}
    assert (tree.active, tree.blocked) == ((0, 1), {})
    bridges[1] = Bridge("x", mac=1)
    bridges[2] = Bridge("y", mac=2)
    tree = _only(bridges, links)
    assert tree.root_port["z"] == 2
    assert tree.blocked == {3: ("z",), 6: ("y",), 7: ("y",)}


def test_unknown_speeds() -> None:
    """An unknown speed in a ring leaves the ring undecided; on a branch it leaves only the cost unknown."""
    bridges = [Bridge("a", 0), Bridge("b", mac=1), Bridge("c", mac=2), Bridge("leaf")]
    ring = [Link("a", "b", 1e9), Link("b", "c"), Link("c", "a", 1e9)]
    tree = _only(bridges, [*ring, Link("c", "leaf", 1e9)])
    assert (tree.active, tree.blocked, tree.undecided) == ((3,), {}, (0, 1, 2))
    ring[1] = Link("b", "c", 1e9)
    tree = _only(bridges, [*ring, Link("c", "leaf")])
    assert (tree.active, tree.blocked) == ((0, 2, 3), {1: ("c",)})
    assert tree.root_cost == {"a": 0, "b": 20000, "c": 20000, "leaf": None}
    assert tree.root_port["leaf"] == 3


def test_the_same_address_twice_is_undecided() -> None:
    """Two bridges that show one address have no order between them."""
    assert _three(10, 10, 30).root is None


def test_refused() -> None:
    """A link to nowhere, a bridge twice and a cost below 1 are refused."""
    with pytest.raises(ValueError, match="from a to b names"):
        trees([Bridge("a")], [Link("a", "b", 1e9)])
    with pytest.raises(ValueError, match="given twice"):
        trees([Bridge("a"), Bridge("a")], [])
    with pytest.raises(ValueError, match="below 1"):
        trees([Bridge("a")], [Link("a", "a", cost=0)])


def _network(random: Random, plain: bool) -> tuple[list[Bridge], list[Link]]:
    size = random.randint(1, 9)
    macs = random.sample(range(1000), size)
    bridges = [
        Bridge(name, random.choice((4096, 32768, 32768)), macs[name], not (plain and random.random() < 0.3))
        for name in range(size)
    ]
    links = [
        Link(
            random.randrange(size),
            random.randrange(size),
            random.choice(SPEEDS),
            random.choice((None, None, None, 20000, 7)),
            random.choice((0, 0, 1, 2)),
            random.choice((0, 0, 1, 2)),
        )
        for _ in range(random.randint(0, 2 * size))
    ]
    return bridges, links


def _cost(link: Link) -> int:
    return link.cost if link.cost is not None else round(20e12 / (link.bits or 0.0))


def test_against_dijkstra() -> None:
    """Active links are a spanning forest of the multigraph, of least cost from each root (networkx)."""
    random = Random(1)
    for _ in range(600):
        bridges, links = _network(random, plain=False)
        graph: Any = nx.MultiGraph()
        graph.add_nodes_from(bridge.id for bridge in bridges)
        for place, link in enumerate(links):
            graph.add_edge(link.a, link.b, place, weight=_cost(link))
        found = trees(bridges, links)
        assert set(map(frozenset, nx.connected_components(graph))) == {
            frozenset(tree.bridges) for tree in found
        }
        for tree in found:
            part = [bridge for bridge in bridges if bridge.id in tree.bridges]
            assert tree.root == min(part, key=lambda bridge: (bridge.priority, bridge.mac)).id
            assert tree.root_cost == dict(nx.single_source_dijkstra_path_length(graph, tree.root))
            active = nx.MultiGraph()
            active.add_nodes_from(tree.bridges)
            for place in tree.active:
                active.add_edge(links[place].a, links[place].b, place, weight=_cost(links[place]))
            assert nx.is_tree(active)
            assert tree.root_cost == dict(nx.single_source_dijkstra_path_length(active, tree.root))
            assert not tree.undecided
            inside = {place for place, link in enumerate(links) if link.a in tree.bridges}
            assert set(tree.active) | set(tree.blocked) == inside
            assert not set(tree.active) & set(tree.blocked)


class Exchange:
    """A network in which each bridge knows only what its ports hear; messages pass plain switches."""

    def __init__(self, bridges: list[Bridge], links: list[Link]) -> None:
        self.ids = {b.id: (b.priority, b.mac) for b in bridges if b.takes_part}
        self.links = links
        self.ports: dict[tuple[int, int], tuple[int, int, int]] = {}
        for place, link in enumerate(links):
            for end, (one, number) in enumerate(((link.a, link.a_port), (link.b, link.b_port))):
                if one in self.ids:
                    self.ports[place, end] = (number, place, end)
        self.heard_by = {port: self._heard(port) for port in self.ports}
        self.claims = {one: (key, 0, None) for one, key in self.ids.items()}
        for _ in range(len(bridges) + 1):
            self.claims = {one: self._best(one) for one in self.ids}

    def owner(self, port: tuple[int, int]) -> Any:
        """The bridge of a port."""
        return (self.links[port[0]].a, self.links[port[0]].b)[port[1]]

    def _heard(self, port: tuple[int, int]) -> set[tuple[int, int]]:
        """Ports to which a frame sent out of this one comes, through plain switches only."""
        seen, queue, ends = {port[0]}, [(port[0], 1 - port[1])], set()
        while queue:
            place, end = queue.pop()
            if (place, end) in self.ports:
                ends.add((place, end))
                continue
            for other, link in enumerate(self.links):
                for way, one in enumerate((link.a, link.b)):
                    if other not in seen and one == self.owner((place, end)):
                        seen.add(other)
                        queue.append((other, 1 - way))
        return ends

    def _message(self, port: tuple[int, int]) -> Any:
        one = self.owner(port)
        root, cost, _ = self.claims[one]
        return root, cost, self.ids[one], self.ports[port]

    def _best(self, one: Any) -> Any:
        """What a bridge believes after the messages of one round."""
        best: Any = (self.ids[one], 0, None)
        rank: Any = None
        for port in self.ports:
            if self.owner(port) != one:
                continue
            for sender in self.heard_by:
                if port in self.heard_by[sender] and sender != port and self.owner(sender) != one:
                    root, cost, bridge, number = self._message(sender)
                    offer = (root, cost + _cost(self.links[port[0]]), bridge, number, self.ports[port])
                    if root < self.ids[one] and (rank is None or offer < rank):
                        rank, best = offer, (root, offer[1], port)
        return best

    def blocking(self) -> dict[int, list[Any]]:
        """Links that block, with the bridges that hold them."""
        found: dict[int, list[Any]] = {}
        for port in self.ports:
            own = self._message(port)
            rivals = [s for s in self.heard_by if port in self.heard_by[s] and s != port]
            designated = all(own < self._message(sender) for sender in rivals)
            if not designated and self.claims[self.owner(port)][2] != port:
                found.setdefault(port[0], []).append(self.owner(port))
        return found


def test_against_the_exchange_of_messages() -> None:
    """Roots, costs, root ports and blocked ends are those that bridges end in by telling their neighbours."""
    random = Random(2)
    blocked = 0
    for _ in range(300):
        bridges, links = _network(random, plain=True)
        net = Exchange(bridges, links)
        expected = net.blocking()
        blocked += len(expected)
        for tree in trees(bridges, links):
            for one in tree.root_cost:
                root, cost, port = net.claims[one]
                assert net.ids[tree.root] == root
                assert tree.root_cost[one] == cost
                assert tree.root_port[one] == (port[0] if port else None)
            for place in tree.active:
                assert place not in expected
            for place, holders in tree.blocked.items():
                assert expected.pop(place) == list(holders)
        assert not expected
    assert blocked > 300


def _fillings(bridges: list[Bridge]) -> Iterator[list[Bridge]]:
    """All orders that the unknown addresses may have among the known ones."""
    hidden = [place for place, bridge in enumerate(bridges) if bridge.mac is None]
    values = [10 * step + 1 + offset for step in range(len(bridges) + 1) for offset in range(len(hidden))]
    for macs in permutations(values, len(hidden)):
        filled = list(bridges)
        for place, mac in zip(hidden, macs, strict=True):
            filled[place] = Bridge(bridges[place].id, bridges[place].priority, mac, bridges[place].takes_part)
        yield filled


def test_unknown_addresses_by_brute_force() -> None:
    """What is called active or blocked is so for every address that may be; with a root, few more are open."""
    random = Random(3)
    truly_open = called_open = 0
    for _ in range(150):
        size = random.randint(3, 6)
        top = random.choice((0, 32768))
        bridges = [
            Bridge(
                name,
                top if name == 0 else random.choice((4096, 32768, 32768)),
                None if name in (1, 3) else 10 * (name + 1),
                name in (0, 1) or random.random() < 0.8,
            )
            for name in range(size)
        ]
        links = [
            Link(random.randrange(size), random.randrange(size), random.choice((1e9, 1e9, 10e9)))
            for _ in range(random.randint(size, 2 * size))
        ]
        outcomes = [trees(filled, links) for filled in _fillings(bridges)]
        for number, tree in enumerate(trees(bridges, links)):
            ways = [outcome[number] for outcome in outcomes]
            roots = {way.root for way in ways}
            assert roots == set(tree.candidates) or roots == {None}
            assert all(set(tree.active) <= set(way.active) for way in ways)
            assert all(tree.blocked.items() <= way.blocked.items() for way in ways)
            for one, place in tree.root_port.items():
                assert place is None or {way.root_port[one] for way in ways} == {place}
            if tree.root is not None:
                changing = [p for p in tree.undecided if len({way.blocked.get(p) for way in ways}) > 1]
                truly_open += len(changing)
                called_open += len(tree.undecided)
    assert truly_open >= 5
    assert called_open <= 1.2 * truly_open


def test_the_order_of_bridges_does_not_matter() -> None:
    """Bridges in any order give the same links."""
    random = Random(4)
    for _ in range(100):
        bridges, links = _network(random, plain=True)
        before = trees(bridges, links)
        random.shuffle(bridges)
        after = trees(bridges, links)
        for field in ("active", "undecided"):
            assert sorted(getattr(tree, field) for tree in before) == sorted(
                getattr(tree, field) for tree in after
            )
        assert {k: v for t in before for k, v in t.blocked.items()} == {
            k: v for t in after for k, v in t.blocked.items()
        }


def test_nothing_heavy_is_imported() -> None:
    """Spanning tree needs no library of graphs."""
    script = (
        "import sys; before = set(sys.modules); from coldcheck.lan.spanning import *\n"
        "trees([Bridge(1), Bridge(2)], [Link(1, 2, 1e9), Link(1, 2, 1e9)])\n"
        "heavy = {'networkx', 'numpy', 'scipy', 'netaddr'}\n"
        "print(sorted(heavy & (set(sys.modules) - before)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
