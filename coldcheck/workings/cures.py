"""What would bring the volts at an inlet up, each proven by solving the changed nets: for nets that hang together, and
for volts that sag in a start."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.edit import Put
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed

from .choices import GAUGES, contacts_take, lead_text
from .leads import Leads
from .net import Branch, Net
from .power import Arrival
from .starts import KEEPERS
from .what_if import variant

__all__ = ["Cure", "Cures", "cures", "starting"]


class Cure(msgspec.Struct, frozen=True):
    """A change in words, as edits where it can be exact, and the lowest volts that arrive then [V]."""

    says: str
    volts: float
    edits: tuple[Put, ...] = ()


def starting(arrival: Arrival, at: float) -> list[Branch]:
    """Return what is in its start at a moment, on all nets that are solved with this one."""
    return [
        branch
        for net in arrival.net.together
        for branch in net.branches
        if branch.draw.surge
        and branch.at <= at < branch.at + sum(seconds for _, seconds in branch.draw.surge)
    ]


class Cures:
    """What brings volts up, by what is written in one place of the plan: a span changes as one, and is tried once."""

    def __init__(self, plan: Plan, leads: Leads) -> None:
        self.plan, self.leads = plan, leads
        self._found: dict[Any, list[Cure]] = {}

    def of(self, arrival: Arrival, least: float) -> list[Cure]:
        """Return the changes that each bring the volts at an inlet to ``least`` [V], the easiest to make first."""
        key = arrival.thing.path, arrival.inlet.id, arrival.net.name, least
        if key not in self._found:
            attempts = (_apart, _thicker_back, _own_back, _thicker_lead)
            tried = (attempt(arrival, self.plan, self.leads, least) for attempt in attempts)
            self._found[key] = [cure for cure in tried if cure is not None]
        return self._found[key]


@working(reads=())
def cures(plan: Plan, leads: Leads) -> Cures:
    """What would bring the volts at an inlet up, proven by solving the changed nets."""
    return Cures(plan, leads)


def _alike(arrival: Arrival) -> Callable[[Branch], bool]:
    """Say which branches are written in the same place of the plan: a span changes as one."""
    path = arrival.thing.path
    return lambda branch: branch.inlet.thing.path == path and branch.inlet.id == arrival.inlet.id


def _lowest(arrival: Arrival, net: Net) -> float:
    """Return the lowest volts at an inlet, and at all that are written with it, in a changed net [V]."""
    alike = _alike(arrival)
    return min(net.worst.volts[i] for i, branch in enumerate(net.branches) if alike(branch))


def _tried(arrival: Arrival, change: Callable[[Branch], None]) -> float:
    return _lowest(arrival, variant(arrival.net, change))


def _apart(arrival: Arrival, plan: Plan, leads: Leads, least: float) -> Cure | None:
    """Start motors one after the other, the closest together that is enough."""
    motors = [
        b
        for net in arrival.net.together
        for b in net.branches
        if b.draw.surge and b.inlet.thing.table == "drive"
    ]
    names = list(dict.fromkeys(b.inlet.thing.id for b in motors))
    if len(names) < 2:
        return None
    longest = max(ceil(sum(s for _, s in b.draw.surge)) for b in motors)

    def spaced(seconds: int) -> float:
        moments = {name: float(n * seconds) for n, name in enumerate(names)}
        return _tried(
            arrival, lambda b: b.start(moments[b.inlet.thing.id]) if b.inlet.thing.id in moments else None
        )

    volts = spaced(longest)
    if volts < least:
        return None
    low, high = 0, longest
    while high - low > 1:
        middle = (low + high) // 2
        tried = spaced(middle)
        low, high, volts = (low, middle, tried) if tried >= least else (middle, high, volts)
    holder = _holder(plan, motors)
    how = f", held back by {holder}" if holder else ", if their host or carrier can hold them back"
    last = high * (len(names) - 1)
    says = f'start {listed(names)} {high} s apart, delay = "0 s .. {last} s by {high} s"{how}'
    return Cure(says, volts)


def _holder(plan: Plan, motors: list[Branch]) -> str:
    """Return the one carrier of these drives, if its part says that it can hold them back."""
    bays: list[Any] = [getattr(b.inlet.thing, "bay", None) for b in motors]
    names = {str(bay).partition(".")[0] for bay in bays if bay}
    holder: Any = plan.things.get(names.pop()) if len(names) == 1 else None
    able = getattr(holder, "table", "") in KEEPERS and getattr(holder, "staggers", None)
    return holder.id if able else ""


def _thicker_back(arrival: Arrival, plan: Plan, leads: Leads, least: float) -> Cure | None:
    """Take a thicker wire for the way back that several share."""
    wire = arrival.net.branches[arrival.i].way_back
    if wire is None or wire.lead is None or wire.lead.gauge is None:
        return None
    lead = wire.lead
    found = _thinnest(
        [g for g in GAUGES if g < (lead.gauge or 0.0)],
        lambda gauge: _with_back(arrival, leads, msgspec.structs.replace(lead, gauge=float(gauge))),
        least,
    )
    if found is None:
        return None
    text = lead_text(msgspec.structs.replace(lead, gauge=float(found[0])))
    edits = (Put((*wire.thing.path, "lead"), text),) if "lead" in wire.thing.stated else ()
    return Cure(f'lead = "{text}" for {wire.thing.id}', found[1], edits)


def _thinnest(
    gauges: list[int], volts_with: Callable[[int], float], least: float
) -> tuple[int, float] | None:
    """Return the thinnest gauge, of some from thin to thick, that is enough, and the volts with it."""
    if not gauges or (best := volts_with(gauges[-1])) < least:
        return None
    low, high = -1, len(gauges) - 1
    while high - low > 1:
        middle = (low + high) // 2
        tried = volts_with(gauges[middle])
        low, high, best = (low, middle, tried) if tried >= least else (middle, high, best)
    return gauges[high], best


def _with_back(arrival: Arrival, leads: Leads, run: Run) -> float:
    wire = arrival.net.branches[arrival.i].way_back
    assert wire is not None
    ohms = leads.one_way_with(wire, run)

    def change(branch: Branch) -> None:
        if branch.inlet is wire:
            branch.ohms = ohms

    return _tried(arrival, change)


def _own_back(arrival: Arrival, plan: Plan, leads: Leads, least: float) -> Cure | None:
    """Give a thing a way back of its own."""
    wire = arrival.net.branches[arrival.i].way_back
    if wire is None:
        return None
    alike = _alike(arrival)

    def change(branch: Branch) -> None:
        if alike(branch):
            branch.way_back = None

    volts = _tried(arrival, change)
    source = arrival.inlet.source
    if volts < least or source is None:
        return None
    return Cure(f"lead its way back to {source.thing.id} itself, and not by {wire.thing.id}", volts)


def _thicker_lead(arrival: Arrival, plan: Plan, leads: Leads, least: float) -> Cure | None:
    """Take a thicker lead to the thing itself."""
    lead, thing = arrival.inlet.lead, arrival.thing
    if lead is None or lead.gauge is None or lead.length is None:
        return None
    alike = _alike(arrival)
    thick, thin = contacts_take(arrival, leads)

    def with_gauge(gauge: int) -> float:
        ohms = leads.with_run(arrival.inlet, msgspec.structs.replace(lead, gauge=float(gauge)))

        def change(branch: Branch) -> None:
            if alike(branch):
                branch.ohms = ohms

        return _tried(arrival, change)

    gauges = [g for g in GAUGES if g < (lead.gauge or 0.0) and thick <= g <= thin]
    found = _thinnest(gauges, with_gauge, least)
    if found is None:
        return None
    text = lead_text(msgspec.structs.replace(lead, gauge=float(found[0])))
    single = "lead" in thing.stated and len(thing.lead) == 1
    edits = (Put((*thing.path, "lead"), text),) if single else ()
    return Cure(f'lead = "{text}"', found[1], edits)
