"""The network, drawn from what lies outside to the last machine: who hangs on whom, by which ports and cables.

The tree is the shortest way to each thing; a cable beside it stands as a dashed box at the end where it comes first, so
that no line crosses another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import msgspec

from coldcheck.plan.model import LinkLine, Plan
from coldcheck.plan.quantities import Measure
from coldcheck.plan.spans import listed
from coldcheck.workings.needs import cable_kind

from .drawing import Box, Drawing, Knot, in_few_words, tree
from .network import addresses
from .table import as_rows

__all__ = ["networks"]

#: What tells a place outside from a thing of the same name.
_OUTSIDE = "outside "


class _Branch(msgspec.Struct):
    """Things that hang alike on one thing: names, and for each cable its port there, its own port and what it is."""

    names: list[str]
    above: list[str]
    below: list[str]
    cable: str
    addresses: list[str]
    again: bool
    sign: tuple[Any, ...]
    branches: list[_Branch] = []


def networks(plan: Plan, get: Callable[[str], Any]) -> list[Drawing]:
    """Draw each part of the network that hangs together."""
    import networkx as nx  # type: ignore[import-untyped]

    graph = _graph(plan)
    order = {name: n for n, name in enumerate(graph)}
    known: dict[str, list[str]] = {}
    for row in as_rows(addresses(plan, get)[0]):
        if row["address"]:
            known.setdefault(str(row["thing"]), []).append(str(row["address"]))
    found: list[Drawing] = []
    for names in nx.connected_components(graph):
        root = min(names, key=lambda name: (*_far_from_root(plan, graph, name), order[name]))
        top = Knot(Box([root.removeprefix(_OUTSIDE), *known.get(root, [])[:2]], used=True))
        top.below = [_knot(branch) for branch in _gathered(_branches(plan, graph, order, root, known))]
        title = f"network from {root.removeprefix(_OUTSIDE)}: ports, cables, addresses"
        found.append(tree(f"network-{len(found) + 1}", title, top))
    return found


def _graph(plan: Plan) -> Any:
    """Return the network as a graph of things, each pair with all its cables."""
    import networkx as nx

    graph = nx.Graph()
    for line in plan.links:
        a, b = line.a.thing.id, line.b.thing.id if line.b is not None else f"{_OUTSIDE}{line.outside}"
        if not graph.has_edge(a, b):
            graph.add_edge(a, b, lines=[])
        graph.edges[a, b]["lines"].append(line)
    return graph


def _far_from_root(plan: Plan, graph: Any, name: str) -> tuple[bool, int, int]:
    """Return what orders things by how little they are in the middle: outside, then many switches, many cables."""
    switches = sum(getattr(plan.things.get(other), "table", "") == "switch" for other in graph[name])
    return not name.startswith(_OUTSIDE), -switches, -graph.degree(name)


def _branches(
    plan: Plan, graph: Any, order: dict[str, int], root: str, known: dict[str, list[str]]
) -> list[_Branch]:
    """Return what hangs on a root: the shortest ways, and at each thing the cables that are on none of them."""
    import networkx as nx

    ways = list(nx.bfs_edges(graph, root, sort_neighbors=lambda names: sorted(names, key=order.__getitem__)))
    at: dict[str, list[_Branch]] = {root: []}
    first = {name: n for n, name in enumerate([root, *(below for _, below in ways)])}
    for above, below in ways:
        branch = _branch(plan, graph, above, below, known, again=False)
        at[above].append(branch)
        at[below] = branch.branches
    taken = {frozenset(way) for way in ways}
    for pair in graph.subgraph(first).edges:
        if frozenset(pair) not in taken and pair[0] != pair[1]:
            above, below = sorted(pair, key=first.__getitem__)
            at[above].append(_branch(plan, graph, above, below, known, again=True))
    return at[root]


def _branch(
    plan: Plan, graph: Any, above: str, below: str, known: dict[str, list[str]], again: bool
) -> _Branch:
    lines: list[LinkLine] = graph.edges[above, below]["lines"]
    ports = [(line.a.name, line.b.name if line.b is not None else "") for line in lines]
    here = [a if line.a.thing.id == above else b for line, (a, b) in zip(lines, ports, strict=True)]
    there = [b if line.a.thing.id == above else a for line, (a, b) in zip(lines, ports, strict=True)]
    thing = plan.things.get(below)
    what = getattr(thing, "table", ""), getattr(thing, "part", None)
    cable = "; ".join(dict.fromkeys(_cable(line) for line in lines))
    return _Branch(
        [below.removeprefix(_OUTSIDE)], [name for name in here if name], [name for name in there if name], cable,
        [] if again else known.get(below, [])[:1], again, (*what, cable, len(lines), again),
        [],
    )  # fmt: skip


def _cable(line: LinkLine) -> str:
    medium = getattr(line.entry, "medium", None)
    length = line.cable.length if line.cable is not None else None
    words = [
        cable_kind(line.cable) or medium or "cable?",
        str(Measure(length, "m")) if length is not None else "",
        str(Measure(line.speed, "bit/s")) if line.speed is not None else "",
        f"bond {line.bond}" if line.bond else "",
    ]
    return ", ".join(filter(None, words))


def _gathered(branches: list[_Branch]) -> list[_Branch]:
    """Put those into one that hang alike and have nothing on them."""
    found: dict[tuple[Any, ...], _Branch] = {}
    for n, branch in enumerate(branches):
        branch.branches = _gathered(branch.branches)
        key = (*branch.sign, n) if branch.branches or branch.again else branch.sign
        same = found.setdefault(key, branch)
        if same is not branch:
            same.names += branch.names
            same.above += branch.above
            same.below += branch.below
            same.addresses += branch.addresses
    return list(found.values())


def _knot(branch: _Branch) -> Knot:
    return Knot(Box(list(_words(branch)), used=not branch.again), [_knot(one) for one in branch.branches])


def _words(branch: _Branch) -> Iterator[str]:
    alone = len(branch.names) == 1
    told = (
        listed if alone else in_few_words
    )  # all the cables of one thing are told, of many the first and the last
    yield in_few_words(branch.names) + (" again" if branch.again else "")
    if branch.above:
        yield f"at {told(branch.above)}"
    if branch.below and alone:
        yield f"by {told(branch.below)}"
    yield branch.cable
    if branch.addresses:
        yield in_few_words(branch.addresses)
