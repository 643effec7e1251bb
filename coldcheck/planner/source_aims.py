"""What makes one choice of sources better than another, each as a sum that is to be least."""

from __future__ import annotations

from coldcheck.plan.model import InletPoint, OutletPoint
from coldcheck.workings.carried import THICKEST, carried
from coldcheck.workings.choices import SIDE_BY_SIDE
from coldcheck.workings.leads import contacts_for, plug_rating
from coldcheck.workings.power import source_volts
from coldcheck.workings.protection import STANDS

from .outlets import away, fuse_before
from .program import Sum, add
from .sources import Slot, Sources

__all__ = ["copper", "holders", "least_share", "misuse", "through", "unused"]


def misuse(sources: Sources) -> Sum:
    """Return how much is put where it should not be.

    Several things on one outlet of a block count one each, a switch or fuse that nothing hangs on counts one; a
    plug behind a fuse beyond what it carries counts two, and so does one whose wires its source would burn. A thing
    of which no lead is known counts one where the source brings none, and one that has a lead where it does.
    """
    found: Sum = {}
    for thing in sources.plan.table("inline"):
        for outlet in thing.outlets:
            taken = _taken(sources, outlet)
            if taken and len(thing.outlets) > 1:
                over = sources.program.number(whole=False)
                room = float(len(sources.alike[outlet.name]))
                sources.program.demand(add({over: -1.0, None: -room}, taken), high=0.0)
                found[over] = 1.0
            elif taken:
                found[_idle(sources, taken, 1)] = 1.0
    for slot in sources.slots:
        for name, number in slot.chosen.items():
            outlet = sources.by_name[name]
            wrong = _beyond_contacts(sources, slot.inlet, outlet) or _burns(sources, slot.inlet, outlet)
            cost = 2.0 * wrong + _leadless(slot, outlet)
            if cost:
                found[number] = found.get(number, 0.0) + cost
    return found


def unused(sources: Sources) -> Sum:
    """Return how many outlets of blocks stay free: a fused outlet is better than the bare rail in front of it."""
    blocks = [o for thing in sources.plan.table("inline") if len(thing.outlets) > 1 for o in thing.outlets]
    rooms = {outlet.name: len(sources.alike.get(outlet.name, ())) for outlet in blocks}
    return {_idle(sources, taken, rooms[o.name]): 1.0 for o in blocks if (taken := _taken(sources, o))}


def _taken(sources: Sources, outlet: OutletPoint) -> Sum:
    """Return how many things hang on an outlet; empty where nothing may."""
    numbers = [slot.chosen[outlet.name] for slot in sources.slots if outlet.name in slot.chosen]
    taken: Sum = dict.fromkeys(numbers, 1.0)
    return {**taken, None: float(len(outlet.takers))} if numbers else {}


def _idle(sources: Sources, taken: Sum, room: int) -> int:
    """Return a number that is how many outlets of some that are alike stay free."""
    idle = sources.program.number(0, room, whole=False)
    sources.program.demand(add({idle: 1.0}, taken), low=room)
    return idle


def _beyond_contacts(sources: Sources, inlet: InletPoint, outlet: OutletPoint) -> bool:
    """Say whether the smallest fuse in front of an outlet lets more through than the plug of an inlet carries."""
    plug = sources.leads.plug(inlet.spec.plug)
    rated = plug_rating(plug, contacts_for(plug, 1)) if plug is not None else None
    fuse = fuse_before(outlet)
    return rated is not None and fuse is not None and fuse > rated


def _leadless(slot: Slot, outlet: OutletPoint) -> bool:
    """Say whether nobody knows the lead between a thing and an outlet, or both have one."""
    moulded = getattr(outlet.spec, "lead", None) is not None
    known = slot.inlet.lead is not None or away(slot.things[0], outlet.thing) is not None
    return known == moulded


def _burns(sources: Sources, inlet: InletPoint, outlet: OutletPoint) -> bool:
    """Say whether no fuse stands in front of an outlet, and its source burns every wire that fits both ends."""
    limit = getattr(outlet.root.spec, "amps", None)
    if limit is None or fuse_before(outlet) is not None:
        return False
    plugs = [sources.leads.plug(name) for name in (inlet.spec.plug, outlet.spec.plug)]
    thick = max((p.gauge_from for p in plugs if p is not None and p.gauge_from is not None), default=None)
    return thick is not None and STANDS * SIDE_BY_SIDE * carried(max(thick, THICKEST)).amps < limit


def holders(sources: Sources) -> Sum:
    """Return how many different things feed each entry: one for all is told and wired most easily."""
    found: Sum = {}
    groups: dict[tuple[int, str], list[tuple[int, int]]] = {}
    for slot in sources.slots:
        if len(slot.entry.things) == len(slot.entry.things[0].inlets) == 1:
            continue  # it hangs on one thing, whichever that is
        for name, number in slot.chosen.items():
            key = id(slot.entry), sources.by_name[name].root.thing.id
            groups.setdefault(key, []).append((number, slot.count))
    for numbers in groups.values():
        used = sources.program.number(0, 1)
        for number, count in numbers:
            sources.program.demand({number: 1.0, used: -float(count)}, high=0.0)
        found[used] = 1.0
    return found


def copper(sources: Sources) -> Sum:
    """Return metres times amperes of the leads whose ends have places: what copper they need goes with it."""
    found: Sum = {}
    for slot in sources.slots:
        load = sources.load(slot.inlet).get(None, 0.0)
        for name, number in slot.chosen.items():
            outlet = sources.by_name[name]
            way, volts = away(slot.things[0], outlet.thing), source_volts(outlet.root)
            if way is not None and volts:
                found[number] = way * load / volts[0]
    return found


def through(sources: Sources) -> Sum:
    """Return the watts that pass through in-line things: what need not, should not."""
    found: Sum = {}
    for slot in sources.slots:
        for name, number in slot.chosen.items():
            steps, here = 0, sources.by_name[name]
            while here.via is not None and here.via.source is not None:
                steps, here = steps + 1, here.via.source
            if steps:
                add(found, sources.share(slot, sources.by_name[name], number), float(steps))
    return found


def least_share(sources: Sources) -> float:
    """Return what the greatest share of any limit cannot be below: what is asked of all sources of some volts
    together, over all that they give.
    """
    asked: dict[float, float] = {}
    given: dict[float, float] = {}
    for slot in sources.slots:
        at = {source_volts(sources.by_name[name].root) for name in slot.chosen}
        volts = {v[0] for v in at if v is not None}
        if len(volts) == 1:
            (one,) = volts
            asked[one] = asked.get(one, 0.0) + slot.count * sources.load(slot.inlet).get(None, 0.0)
    for outlet in sources.outlets:
        volts_of = source_volts(outlet)
        if outlet.is_source and volts_of is not None and (most := sources.most(outlet)) is not None:
            given[volts_of[0]] = given.get(volts_of[0], 0.0) + most * volts_of[1]
    return max((watts / given[v] for v, watts in asked.items() if given.get(v)), default=0.0)
