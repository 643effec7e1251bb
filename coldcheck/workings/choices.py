"""What would do instead: another lead for an inlet, another source for it. Numbers and words for remedies."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from operator import itemgetter
from typing import Any

import msgspec

from coldcheck.plan.edit import Put
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint, OutletPoint
from coldcheck.plan.quantities import Measure

from .leads import Leads, fuses_before
from .limits import share_of
from .power import Arrival, Loading, settled, source_volts

__all__ = [
    "GAUGES",
    "SIDE_BY_SIDE",
    "better_lead",
    "contacts_take",
    "fitting_sources",
    "lead_resized",
    "lead_text",
    "plugs_take",
    "room_for",
    "sole_lead",
    "way_told",
]

#: Gauges that a builder can buy, thin to thick.
GAUGES = (28, 26, 24, 22, 20, 18, 16, 14, 12, 10)
#: The most conductors side by side that are proposed.
SIDE_BY_SIDE = 2
#: Volts that are not worth a word [V].
LITTLE = 5e-4


def room_for(arrival: Arrival, least: float) -> float:
    """Return the greatest resistance of the run to an inlet that leaves it ``least`` volts there [ohm].

    A load of constant power draws its most at the least volts, so this is on the safe side for every law of load. The
    runs above are taken as they are now.
    """
    net = arrival.net
    branch = net.branches[arrival.i]
    volts = source_volts(net.root)
    if volts is None or arrival.amps is None:
        return float("-inf")
    above = net.worst.volts[branch.parent] if branch.parent >= 0 else volts[1]
    amps = arrival.amps * max(1.0, net.worst.volts[arrival.i] / least) if least > 0 else arrival.amps
    return (above - least) / amps if amps > 0 else float("inf")


def better_lead(arrival: Arrival, leads: Leads, least: float) -> Run | None:
    """Return the thinnest lead of the same length that leaves ``least`` volts [V] at an inlet and fits its contacts.

    One conductor is tried first, then several side by side; None where none is enough.
    """
    lead = arrival.inlet.lead
    if lead is None or lead.gauge is None or lead.length is None:
        return None
    allowed = room_for(arrival, least)
    thick, thin = contacts_take(arrival, leads)
    for count in range(lead.parallel, SIDE_BY_SIDE + 1):
        for gauge in GAUGES:
            thicker = gauge < lead.gauge if count == lead.parallel else gauge <= lead.gauge
            if not thicker or not thick <= gauge <= thin:
                continue
            run = Run(float(gauge), None, lead.length, count, lead.metal, lead.form)
            if leads.with_run(arrival.inlet, run).worst <= allowed:
                return run
    return None


def contacts_take(arrival: Arrival, leads: Leads) -> tuple[float, float]:
    """Return the thickest and thinnest gauge that the contacts at both ends of the lead to an inlet take."""
    return plugs_take(leads, arrival.inlet)


def plugs_take(leads: Leads, inlet: InletPoint) -> tuple[float, float]:
    """Return the thickest and thinnest gauge that the contacts at both ends of a lead take."""
    source: Any = inlet.source
    thick, thin = -3.0, 40.0
    for name in (inlet.spec.plug, source.spec.plug if source is not None else None):
        plug = leads.plug(name)
        if plug is not None and plug.gauge_from is not None and plug.gauge_to is not None:
            thick, thin = max(thick, plug.gauge_from), min(thin, plug.gauge_to)
    return thick, thin


def lead_text(run: Run) -> str:
    """Return a lead as it is written in a plan."""
    extra = [f"{run.parallel} x"] if run.parallel > 1 else []
    extra += [run.form] if run.form != "stranded" else []
    extra += [run.metal] if run.metal != "copper" else []
    return ", ".join([f"{run.gauge:g} AWG", str(Measure(run.length or 0.0, "m")), *extra])


def sole_lead(thing: Any) -> bool:
    """Say whether a thing states one lead, which is all of its own; one that is moulded to a feed is no choice."""
    return isinstance(thing.lead, (list, tuple)) and "lead" in thing.stated and len(thing.lead) == 1


def lead_resized(inlet: InletPoint, gauge: float, leads: Leads) -> tuple[Put, ...]:
    """Return the edit that gives a lead another gauge; none where it is not the only one of its thing, is one of a
    bundle, or where the contacts at its ends do not take that gauge.
    """
    thing, run = inlet.thing, inlet.lead
    if run is None or run.gauge is None or run.length is None or run.among is not None:
        return ()
    thick, thin = plugs_take(leads, inlet)
    if not thick <= gauge <= thin or not sole_lead(thing):
        return ()
    return (Put((*thing.path, "lead"), lead_text(msgspec.structs.replace(run, gauge=float(gauge)))),)


def way_told(arrival: Arrival) -> str:
    """Return what the source gives at least and what is lost on the way to an inlet, run by run: amps and ohms."""
    net = arrival.net
    if net.group and net.worst.deciding:
        return _both_ways_told(arrival)
    steps = []
    for i in reversed(arrival.numbers):
        branch = net.branches[i]
        fuses = fuses_before(branch.inlet)[1]
        fused = f", {Measure(fuses, 'ohm')} of them a fuse," if fuses else ""
        shared = f"{fused} to {branch.inlet}" if i != arrival.i else fused
        steps.append(f"{Measure(net.worst.amps[i], 'A')} through {Measure(branch.ohms.worst, 'ohm')}{shared}")
    least = Measure(round((source_volts(net.root) or (0.0, 0.0))[1], 3), "V")
    return f"{net} gives at least {least}; " + ", then ".join(steps) + " out and back"


def _both_ways_told(arrival: Arrival) -> str:
    """Return what is lost on the way out and on the way back, where others share a part of it."""
    ways: dict[bool, list[str]] = {False: [], True: []}
    source, gives, pieces = arrival.net.group.way(arrival.net, arrival.i)
    for lost in pieces:
        if abs(lost.volts) < LITTLE:
            continue
        where = "" if lost.where.inlet is arrival.inlet else f" of {lost.where.inlet}"
        amps, ohms, volts = (
            Measure(lost.amps, "A"),
            Measure(lost.ohms, "ohm"),
            Measure(round(lost.volts, 4), "V"),
        )
        diode = f" and a diode of {Measure(lost.drop, 'V')}" if lost.drop else ""
        ways[lost.back].append(f"{volts} ({amps} through {ohms}{diode}{where})")
    out, back = (" and ".join(ways[side]) or "nothing" for side in (False, True))
    setting, _ = arrival.net.worst.deciding[arrival.i]
    corner = setting.told(arrival.net.together)
    return (
        f"{source} gives {Measure(round(gives, 3), 'V')}, with {corner}; {out} is lost on the way out, {back} on the "
        "way back"
    )


def most_lost(arrival: Arrival) -> InletPoint:
    """Return the inlet whose lead, or the wire back whose lead, takes most of the volts on the way."""
    net = arrival.net
    if net.group and net.worst.deciding:
        _, _, pieces = net.group.way(net, arrival.i)
        worst = max(pieces, key=lambda lost: abs(lost.volts))
        found: InletPoint = worst.where.inlet
        return found
    most = max(arrival.numbers, key=lambda i: net.worst.amps[i] * net.branches[i].ohms.worst)
    return net.branches[most].inlet


def fitting_sources(
    arrival: Arrival, sources: list[tuple[float, OutletPoint]], loading: Loading
) -> list[OutletPoint]:
    """Return a few sources that an inlet may be fed from: volts inside its window at their lowest and highest, room
    for what it draws, and nothing that the thing itself feeds.
    """
    low, high = arrival.spec.volts or (0.0, 0.0)
    start = bisect_left(sources, low, key=itemgetter(0))
    stop = min(bisect_right(sources, high, key=itemgetter(0)), start + 20)
    found = []
    for _, outlet in sources[start:stop]:
        volts = source_volts(outlet)
        if volts is None or volts[1] < low or volts[2] > high or _feeds(arrival.thing, outlet):
            continue
        if _has_room(outlet, arrival, volts[0], loading):
            found.append(outlet)
    return found[:4]


def _feeds(thing: Any, outlet: OutletPoint) -> bool:
    """Say whether an outlet hangs on a thing, directly or through others."""
    todo, seen = [outlet.thing], set()
    while todo:
        holder: Any = todo.pop()
        if holder is thing:
            return True
        if id(holder) not in seen:
            seen.add(id(holder))
            todo += [inlet.source.thing for inlet in holder.inlets if inlet.source is not None]
    return False


def _has_room(outlet: OutletPoint, arrival: Arrival, volts: float, loading: Loading) -> bool:
    limit = getattr(outlet.spec, "amps", None)
    if limit is None or arrival.settled is None or not arrival.fed:
        return True
    limit *= share_of(outlet.thing, loading.ambient) or 0.0
    unit = arrival.net.branches[arrival.i].draw.unit
    needed = arrival.settled * arrival.fed[0] / volts if unit == "W" else arrival.settled
    return bool(settled(loading.amps(outlet)) + needed <= limit)
