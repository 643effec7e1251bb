"""Placing: sources and ports chosen together, since a cable may bring the power that a lead would."""

from __future__ import annotations

from typing import Any

from coldcheck.plan.spans import spanned
from coldcheck.workings.ports import class_of

from .cables import Cables
from .draft import Draft, Entry, Figure
from .program import Program, Solution, Sum, Terms
from .sources import Sources, add

__all__ = ["place"]


def place(draft: Draft) -> None:
    """Put sources and ports where none are written; raises `coldcheck.planner.program.Contradiction`."""
    program = Program(draft.wish.seconds)
    cables, sources = Cables(draft, program), Sources(draft, program)
    unfed = {entry.path: entry for entry in sources.blank()}
    for entry in cables.blank():
        by_lead = entry.path in unfed and bool(entry.things[0].inlets)
        if why := cables.plug(entry, by_lead):
            draft.leave(entry.names, "port", why)
    for counted in cables.counted:
        add(sources.poe_load.setdefault(counted.switch.id, {}), cables.watts(counted.switch.id))
    for entry in unfed.values():
        _feed(draft, cables, sources, entry)
    sources.bound()
    cables.bound()
    if not sources.slots and not cables.plugged:
        return
    aims = _aims(draft, sources, cables)
    found = program.solve([aim for _, _, aim in aims])
    cables.write(found[-1])
    _write(draft, sources, found[-1])
    for (what, unit, _), solution in zip(aims, found, strict=True):
        if what:
            draft.figures.append(Figure(what, solution.value, solution.bound, unit))


def _feed(draft: Draft, cables: Cables, sources: Sources, entry: Entry) -> None:
    first = entry.things[0]
    if not first.inlets and class_of(first) is not None:
        return  # it takes its power by its cable alone
    powered = cables.powered.get(first.id)
    if why := sources.seat(entry, powered):
        if powered:
            cables.program.demand(
                powered, len(entry.things), len(entry.things), f"nothing else feeds {first.id}"
            )
        else:
            draft.leave(entry.names, "from", why)


_Aim = tuple[str, str, Terms]


def _aims(draft: Draft, sources: Sources, cables: Cables) -> list[_Aim]:
    """Return what is made least, one after the other: its name, its unit, its sum. What has no name is tidiness."""
    apart = add(sources.holders(), cables.spread())
    copper: _Aim = "leads, by length and current", "A m", sources.copper()
    metres: _Aim = "data cables", "m", cables.metres()
    balance: _Aim = "greatest share of any limit", "", {sources.utmost: 1.0}
    misuse: _Aim = "", "", sources.misuse()
    together: _Aim = "", "", apart
    unused: _Aim = "", "", sources.unused()
    orders: dict[str, list[_Aim]] = {
        "cost": [misuse, together, unused, copper, metres, balance],
        "short": [misuse, together, unused, metres, copper, balance],
        "kinds": [misuse, together, unused, copper, metres, balance],
        "spare": [misuse, unused, balance, together],
    }
    whole = orders[draft.wish.aim]
    last = add(add(_in_order(sources, cables), cables.waste(), 10.0), sources.through(), 1e-3)
    return [aim for aim in [*whole, ("", "", last)] if set(aim[2]) - {None}]


def _in_order(sources: Sources, cables: Cables) -> Sum:
    """Return a sum that is least where what stands first in the plan hangs on what stands first."""
    found: Sum = {}
    for slot in sources.slots:
        for k, number in enumerate(slot.chosen.values()):
            found[number] = 1e-3 * k
    for plugged in cables.plugged:
        for k, number in enumerate(plugged.chosen.values()):
            found[number] = 1e-3 * k
    return found


def _write(draft: Draft, sources: Sources, found: Solution) -> None:
    """Put the sources that were chosen."""
    dealt: dict[tuple[str, int], str] = {}
    for slot in sources.slots:
        names = [name for name, number in slot.chosen.items() for _ in range(found.of(number))]
        for thing, name in zip(slot.things, names, strict=False):
            dealt[thing.id, slot.place] = name
    for entry in {id(slot.entry): slot.entry for slot in sources.slots}.values():
        _put_sources(draft, entry, dealt)


def _put_sources(draft: Draft, entry: Entry, dealt: dict[tuple[str, int], Any]) -> None:
    places = range(len(entry.things[0].inlets))
    texts = [[dealt.get((thing.id, place), "") for thing in entry.things] for place in places]
    if not all(name for row in texts for name in row):
        return  # it is fed by its data cable
    values = tuple(spanned(row) or "" for row in texts)
    draft.put((*entry.path, "from"), values[0] if len(values) == 1 else values)
