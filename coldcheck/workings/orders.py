"""In which order machines are brought up by hand, and brought down: what serves others first, and what ``after`` says.

Without a word of the plan: switches, then storage, then what uses both (common practice).
"""

from __future__ import annotations

from collections.abc import Iterable
from graphlib import CycleError, TopologicalSorter
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan

from .starts import feeders

__all__ = ["Orders", "Waiting", "orders"]

#: How early each kind of thing comes, where nothing else is said (common practice).
RANKS = {"switch": 0, "storage": 1, "drive": 1, "node": 2, "appliance": 2}


class Waiting(msgspec.Struct, frozen=True):
    """One word of an ``after``: the thing that waits, the word, and the thing that it names, None for none."""

    thing: Any
    word: str
    first: Any | None


class Orders(msgspec.Struct):
    """The steps of bringing up, each the things that may start together; down is the way back.

    ``waits`` are all words of ``after``; ``circles`` the things that wait for each other, round and round, whose words
    do not count among themselves. ``switched`` are the in-line switches that a hand puts on just before each step: the
    first that they feed something of, or the first of all.
    """

    steps: list[list[Any]]
    waits: list[Waiting]
    circles: list[list[Any]]
    switched: list[list[Any]]


@working(reads=("node", "storage", "drive", "switch", "appliance", "inline"))
def orders(plan: Plan) -> Orders:
    """The order of bringing machines up: the longest chain of what must be up before decides the step."""
    things = [thing for thing in plan.order if thing.table in RANKS]
    known = {thing.id: thing for thing in things}
    waits = [
        Waiting(thing, word, known.get(word)) for thing in things for word in getattr(thing, "after", ())
    ]
    first: dict[str, list[str]] = {}
    for wait in waits:
        if wait.first is not None:
            first.setdefault(wait.thing.id, []).append(wait.first.id)
    circles = _circles(first)
    round_of = {id: n for n, circle in enumerate(circles) for id in circle}
    # what the way out goes through serves the others, as a switch does
    outward = {point.thing.id for line in plan.links if line.b is None for point in (line.a,)}
    levels: dict[str, int] = {}
    for id in _sorted(known, first, round_of):
        above = [levels[one] for one in first.get(id, ()) if not _same(one, id, round_of)]
        rank = 0 if id in outward else RANKS[known[id].table]
        levels[id] = max([rank, *(level + 1 for level in above)])
    steps = [[t for t in things if levels[t.id] == level] for level in sorted(set(levels.values()))]
    return Orders(steps, waits, [[known[id] for id in circle] for circle in circles], _switched(plan, steps))


def _switched(plan: Plan, steps: list[list[Any]]) -> list[list[Any]]:
    """Return the switches of each step; one that holds something back by itself is no hand's work."""
    keepers = {(getattr(thing, "kept_by", None) or "").partition(".")[0] for thing in plan.order}
    switches = [thing for thing in plan.table("inline") if thing.what == "switch" and thing.id not in keepers]
    on_the_way = [set().union(*(feeders(thing) for thing in things)) for things in steps] if switches else []
    found: list[list[Any]] = [[] for _ in steps or switches[:1]]
    for switch in switches:
        found[next((n for n, ids in enumerate(on_the_way) if switch.id in ids), 0)].append(switch)
    return found


def _same(one: str, other: str, round_of: dict[str, int]) -> bool:
    return one == other or round_of.get(one, -1) == round_of.get(other, -2)


def _circles(first: dict[str, list[str]]) -> list[list[str]]:
    """Return the sets of ids that wait for each other; the graph library is loaded only where there is one."""
    try:
        TopologicalSorter(first).prepare()
    except CycleError:
        pass
    else:
        return []
    import networkx as nx  # type: ignore[import-untyped]

    graph = nx.DiGraph([(before, id) for id, several in first.items() for before in several])
    found = nx.strongly_connected_components(graph)
    return sorted(sorted(ids) for ids in found if len(ids) > 1 or graph.has_edge(*(2 * list(ids))[:2]))


def _sorted(known: Iterable[str], first: dict[str, list[str]], round_of: dict[str, int]) -> Iterable[str]:
    """Return the ids so that each comes behind those that must be up before it."""
    waits = {id: [one for one in first.get(id, ()) if not _same(one, id, round_of)] for id in known}
    return TopologicalSorter(waits).static_order()
