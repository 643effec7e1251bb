"""Placing: sources and ports chosen together where a cable may bring the power that a lead would, else one by one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from coldcheck.plan.spans import listed, spanned

from . import source_aims
from .cables import Cables
from .draft import Draft, Entry, Figure
from .program import Contradiction, Program, Solution, Sum, add
from .seats import deal_out
from .sources import Sources

__all__ = ["place"]

#: One aim: what it is called, its unit, its sum. What has no name is tidiness, and is not told.
_Aim = tuple[str, str, Sum]
_SHARE = "greatest share of any limit"
_LEADS = "leads, by length and current"
_CABLES = "data cables"
_MOVES = "cables moved, those of what is built counted ten times"


def place(draft: Draft) -> None:
    """Put sources and ports where none are written; raises `coldcheck.planner.program.Contradiction`.

    In a large plan each thing is offered the nearest outlets first; where those do not do, all. Where no choice does,
    cables that are plugged in already move, as few as can be, and those of what is not built before others.
    """
    kept = list(draft.figures), list(draft.left)
    first: Contradiction | None = None
    for narrow, moving in ((True, False), (False, False), (False, True)):
        draft.figures, draft.left = list(kept[0]), list(kept[1])
        try:
            _placed(draft, narrow, moving)
        except Contradiction as error:
            first = first or error
        except TimeoutError:
            if not narrow:
                raise
        else:
            return
    assert first is not None
    raise first


def _placed(draft: Draft, narrow: bool, moving: bool) -> None:
    program = Program(draft.wish.seconds)
    cables = Cables(draft, program, moving)
    leads = program if _plug(draft, cables) else Program(draft.wish.seconds)
    cables.plug_held()
    sources = Sources(draft, leads, narrow)
    for counted in cables.counted:
        add(sources.poe_load.setdefault(counted.switch.id, {}), cables.watts(counted.switch.id))
    blank = Sources.blank(draft)
    like = Counter(entry.path[0] for entry in blank)
    seen: Counter[object] = Counter()
    for entry in blank:
        _feed(draft, cables, sources, entry, seen[entry.path[0]] / like[entry.path[0]])
        seen[entry.path[0]] += 1
    sources.bound()
    cables.bound()
    floor = source_aims.least_share(sources) if sources.narrowed else None
    if leads is program:
        found = both = _solved(draft, program, _both(draft, sources, cables), floor)
    else:
        found = _solved(draft, program, _of_cables(cables))
        both = _solved(draft, leads, _of_sources(draft, sources), floor)
    if found is not None and cables.plugged:
        cables.write(found)
    if both is not None and sources.slots:
        _write(draft, sources, both)


def _plug(draft: Draft, cables: Cables) -> bool:
    """Add what wants a port; returns whether any of it may take its power by its cable, so that leads depend on it."""
    unfed = {entry.path: entry for entry in Sources.blank(draft)}
    for entry in cables.blank():
        by_lead = entry.path in unfed and bool(entry.things[0].inlets)
        if why := cables.plug(entry, by_lead):
            draft.leave(entry.names, "port", why)
    return any(plugged.fed for plugged in cables.plugged)


def _feed(draft: Draft, cables: Cables, sources: Sources, entry: Entry, early: float) -> None:
    first = entry.things[0]
    powered = cables.powered.get(first.id)
    by_cable = getattr(first, "poe", None) and not any(inlet.spec.volts for inlet in first.inlets)
    if by_cable and not powered:
        return  # it has a cable already, or none that it could have
    if why := sources.seat(entry, powered, early):
        if powered:
            says = f"{listed(entry.names)} take their power by their cables, since nothing else feeds them"
            cables.program.demand(powered, len(entry.things), len(entry.things), says)
        else:
            draft.leave(entry.names, "from", why)


def _solved(draft: Draft, program: Program, aims: list[_Aim], floor: float | None = None) -> Solution | None:
    """Return the best choice, and note what it came to; None where there is nothing to choose.

    ``floor``: not all choices were looked at, so that the bounds found are none, and this is the one of the share.
    """
    if not aims:
        return None
    found = program.solve([aim for _, _, aim in aims])
    for (what, unit, _), solution in zip(aims, found, strict=True):
        if what:
            figure = Figure.of(what, solution, unit)
            draft.figures.append(
                figure if floor is None else replace(figure, bound=floor if what == _SHARE else None)
            )
    return found[-1]


# --- what is made least, one after the other ------------------------------------------------------------------------


def _of_sources(draft: Draft, sources: Sources) -> list[_Aim]:
    if not sources.slots:
        return []
    misuse: _Aim = "", "", source_aims.misuse(sources)
    together: _Aim = "", "", source_aims.holders(sources)
    balance: _Aim = _SHARE, "", {sources.utmost: 1.0}
    copper: _Aim = _LEADS, "A m", source_aims.copper(sources)
    if sources.narrowed:  # none but fused outlets are looked at, and `_uncrossed` puts them in order
        return _worth(
            [misuse, together, balance] if draft.wish.aim != "spare" else [misuse, balance, together]
        )
    unused: _Aim = "", "", source_aims.unused(sources)
    order = _in_order([slot.chosen for slot in sources.slots], list(sources.alike))
    last: _Aim = "", "", add(order, source_aims.through(sources), 1e-3)
    if draft.wish.aim == "spare" and not draft.near:
        draft.far = bool(copper[2])
        return _worth([misuse, unused, balance, together, copper, last])
    return _worth([misuse, together, unused, copper, balance, last])


def _of_cables(cables: Cables) -> list[_Aim]:
    order = _in_order([plugged.chosen for plugged in cables.plugged], range(len(cables.groups)))
    last = add(order, cables.waste(), 10.0)
    moves: _Aim = _MOVES, "", cables.moves()
    return _worth([moves, ("", "", cables.spread()), (_CABLES, "m", cables.metres()), ("", "", last)])


def _both(draft: Draft, sources: Sources, cables: Cables) -> list[_Aim]:
    """Return the aims of leads and of cables in one row, the tidiness of both first."""
    leads, wires = _of_sources(draft, sources), _of_cables(cables)
    moves = [aim for aim in wires if aim[0] == _MOVES]
    wires = wires[len(moves) :]
    tidy: Sum = {}
    for aim in (leads, wires):
        add(tidy, next((sums for name, _, sums in aim if not name), {}))
    rest = [aim for aim in [*leads[1:-1], *wires[1:-1]] if aim[2]]
    if draft.wish.aim == "short":
        rest.sort(key=lambda aim: aim[0] != _CABLES)
    last = add(add({}, leads[-1][2] if leads else {}), wires[-1][2] if wires else {})
    return _worth([*moves, ("", "", tidy), *rest, ("", "", last)])


def _worth(aims: list[_Aim]) -> list[_Aim]:
    return [aim for aim in aims if set(aim[2]) - {None}]


def _in_order(rows: Sequence[Mapping[Any, int]], every: Sequence[Any]) -> Sum:
    """Return a sum that is least where what stands first in the plan hangs on what stands first.

    Each pair counts the place of the outlet, less the more the later the thing stands: of two things and two outlets,
    crossed pairs add up to more than straight ones (the rearrangement inequality).
    """
    places = {name: k for k, name in enumerate(every)}
    found: Sum = {}
    for i, chosen in enumerate(rows):
        late = 1 - i / len(rows)
        found |= {number: 1e-3 * places[name] * late for name, number in chosen.items()}
    return found


# --- what is written -----------------------------------------------------------------------------------------------


def _write(draft: Draft, sources: Sources, found: Solution) -> None:
    """Put the sources that were chosen."""
    chosen = _uncrossed(sources, found)
    names: dict[int, list[str]] = {i: [] for i in range(len(chosen))}
    for first, alike in sources.alike.items():
        counts = [(str(i), row[first]) for i, row in enumerate(chosen) if row.get(first)]
        over = max(
            1, -(-sum(count for _, count in counts) // len(alike))
        )  # things on each, where they are too few
        for i, seats in deal_out(counts, alike * over).items():
            names[int(i)] += seats
    dealt = {
        (thing.id, slot.place): name
        for i, slot in enumerate(sources.slots)
        for thing, name in zip(slot.things, names[i], strict=False)
    }
    for entry in {id(slot.entry): slot.entry for slot in sources.slots}.values():
        _put_sources(draft, entry, dealt)


def _uncrossed(sources: Sources, found: Solution) -> list[dict[str, int]]:
    """Return how many of each slot hang on which outlet, with equal slots in the order of their outlets.

    Slots of as many things that ask as much may change places without any sum being another.
    """
    places = {name: k for k, name in enumerate(sources.alike)}
    rows = [
        {n: count for n, number in slot.chosen.items() if (count := found.of(number))}
        for slot in sources.slots
    ]
    groups: dict[Any, list[int]] = {}
    for i, slot in enumerate(sources.slots):
        load = round(found.sum(sources.load(slot.inlet)), 3)
        first = slot.things[0]
        held = first.id in sources.wired or first.id in sources.ranked or first.at is not None
        bound = first.id if held else ""
        key = slot.count, load, slot.inlet.spec.volts, slot.inlet.spec.plug, slot.place, bound
        groups.setdefault(key, []).append(i)
    for several in groups.values():
        if len({frozenset(sources.slots[i].entry.stated) for i in several}) == 1 or len(several) == 1:
            in_order = sorted(
                (rows[i] for i in several), key=lambda row: sorted(places[name] for name in row)
            )
            for i, row in zip(several, in_order, strict=True):
                rows[i] = row
    return rows


def _put_sources(draft: Draft, entry: Entry, dealt: dict[tuple[str, int], str]) -> None:
    places = range(len(entry.things[0].inlets))
    texts = [[dealt.get((thing.id, place), "") for thing in entry.things] for place in places]
    if not all(name for row in texts for name in row):
        return  # it is fed by its data cable
    values = tuple(spanned(row) or "" for row in texts)
    draft.put((*entry.path, "from"), values[0] if len(values) == 1 else values)
