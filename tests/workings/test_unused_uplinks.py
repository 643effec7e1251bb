"""Ways out that nobody uses, and sides that no cable joins, found as networkx finds parts of a graph."""

from __future__ import annotations

from random import Random
from typing import Any

import networkx as nx  # type: ignore[import-untyped]

from coldcheck import ours
from coldcheck.engine.running import _Run
from coldcheck.plan.parts import Shelf

BOOK = ours.rulebook(entry_points=False)


def working(text: str, name: str) -> Any:
    """Return one working of a plan."""
    return _Run(ours.read_plan("plan.toml", text.encode(), Shelf()), BOOK).working(name)


def random_plan(random: Random) -> tuple[str, nx.Graph, dict[str, str]]:
    """Return a plan of plain switches, what hangs together by them, and the switch of each way out.

    A machine with two cables passes nothing on, so each of its ports is a vertex of its own.
    """
    graph = nx.Graph()
    names = [f"s{i}" for i in range(random.randint(2, 6))]
    graph.add_nodes_from(names)
    text = "".join(f'[[switch]]\nid = "{n}"\nports = 40\nvlans = false\n' for n in names)
    free = {name: iter(range(1, 41)) for name in names}
    for _ in range(random.randint(0, 5)):
        a, b = random.sample(names, 2)
        graph.add_edge(a, b)
        text += f'[[link]]\nfrom = "{a}.{next(free[a])}"\nto = "{b}.{next(free[b])}"\n'
    for i in range(random.randint(1, 4)):
        text += f'[[node]]\nid = "n{i}"\n'
        for j in range(random.randint(1, 2)):
            at = random.choice(names)
            graph.add_edge(at, f"n{i}.{j}")
            text += f'[[node.port]]\nid = "{j}"\nto = "{at}.{next(free[at])}"\n'
            text += f'address = "10.20.0.{10 * i + j + 1}"\n'
    ways = {f"hall {i}": random.choice(names) for i in range(random.randint(1, 3))}
    for name, at in ways.items():
        text += f'[[uplink]]\nfrom = "{at}.{next(free[at])}"\nto = "{name}"\n'
    return text + '[[subnet]]\nprefix = "10.20.0.0/24"\n', graph, ways


def test_unused_as_networkx_says() -> None:
    """Of random plans the ways out that are told of are those in whose part of the graph no port of a machine is."""
    random = Random(7)
    seen = {True: 0, False: 0}
    for _ in range(300):
        text, graph, ways = random_plan(random)
        found = {line.outside for line in working(text, "unused_uplinks")}
        gone = {thing.id for island in working(text, "cut_offs") for thing in island.things}
        for name, at in ways.items():
            unused = not any("." in door for door in nx.node_connected_component(graph, at))
            if at not in gone:  # `topology.cut_off` speaks of a part that is cut off
                seen[unused] += 1
                assert (name in found) == unused, text
    assert min(seen.values()) > 30


def test_sides_are_wired_as_networkx_says() -> None:
    """A cable leads from one side of a parted subnet to the other where both are in one part of the graph: never here.

    Switches without VLANs pass on all that comes, so sides are parted for want of a cable alone.
    """
    random = Random(8)
    seen = 0
    for _ in range(300):
        text, graph, _ = random_plan(random)
        placement = working(text, "placement")
        for side in placement.sides:
            doors = [[f"{h.thing.id}.{h.port.id}" for h in some] for some in (side.hosts, side.others)]
            joined = nx.has_path(graph, doors[0][0], doors[1][0])
            assert side.wired == joined, text
            seen += 1
    assert seen > 50
