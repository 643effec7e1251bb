"""Units: things whose rails must be solved together, in an order in which what is fed comes before what feeds it.

In most plans each thing is a unit of its own. Sources whose power meets, and things that share a wire back with what
hangs on another source, are solved as one.
"""

from __future__ import annotations

from typing import Any

from coldcheck.plan.model import InletPoint, OutletPoint, Plan, joined

from .webs import Webs

__all__ = ["units"]


def units(plan: Plan, webs: Webs | None = None) -> list[list[Any]]:
    """Return the things of a plan in units, last rails first."""
    pairs = [*_pairs(plan), *(_webbed(plan, webs) if webs is not None else ())]
    if not pairs:
        return [[thing] for thing in reversed(plan.order)]
    head = {thing.id: thing.id for thing in plan.order}
    for one, other in pairs:
        _unite(head, one, other)
    return _ordered(plan, head)


def _pairs(plan: Plan) -> Any:
    """Yield the ids of sources that must be solved together."""
    for thing in plan.order:
        if len(thing.inlets) < 2 and thing.way_back is None:
            continue
        meeting: list[InletPoint] = joined(thing)
        if thing.way_back is not None:
            meeting = [*(i for i in thing.inlets if i.source is not None), thing.way_back]
        ids = [inlet.source.root.thing.id for inlet in meeting if inlet.source is not None]
        yield from ((ids[0], other) for other in ids[1:])


def _webbed(plan: Plan, webs: Webs) -> Any:
    """Yield the ids of sources whose harness wires branch into each other."""
    for web in webs.all:
        ids = [
            inlet.source.root.thing.id
            for name in web.inlets
            for inlet in plan.things[name.partition(".")[0]].inlets
            if inlet.name == name and inlet.source is not None
        ]
        yield from ((ids[0], other) for other in ids[1:])


def _find(head: dict[str, str], name: str) -> str:
    while head[name] != name:
        head[name] = name = head[head[name]]
    return name


def _unite(head: dict[str, str], one: str, other: str) -> None:
    head[_find(head, one)] = _find(head, other)


def _ordered(plan: Plan, head: dict[str, str]) -> list[list[Any]]:
    """Return the units, each behind all that it feeds; units that feed each other in a ring become one."""
    from graphlib import CycleError, TopologicalSorter

    fed = {thing.id: _fed(thing) for thing in plan.order}
    while True:
        members: dict[str, list[Any]] = {}
        for thing in reversed(plan.order):
            members.setdefault(_find(head, thing.id), []).append(thing)
        graph = {
            name: [n for n in dict.fromkeys(_find(head, o) for t in things for o in fed[t.id]) if n != name]
            for name, things in members.items()
        }
        try:
            return [members[name] for name in TopologicalSorter(graph).static_order()]
        except CycleError as error:
            ring = error.args[1]
            for other in ring[1:]:
                _unite(head, ring[0], other)


def _fed(thing: Any) -> list[str]:
    """Return the ids of the converters that hang on the rails of a thing."""
    found = []
    todo: list[OutletPoint] = [outlet for outlet in thing.outlets if outlet.is_source]
    while todo:
        for inlet in todo.pop().takers:
            if any(outlet.is_source for outlet in inlet.thing.outlets):
                found.append(inlet.thing.id)
            todo += [outlet for outlet in inlet.thing.outlets if outlet.via is inlet]
    return found
