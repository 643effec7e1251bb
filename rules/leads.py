"""Leads: wire, plug and fuse of every run carry what flows through them; the weakest on the path decides."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import wire
from coldcheck.dc.contact import shared_rating
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.workings.harness import Pair
from coldcheck.workings.leads import Leads
from coldcheck.workings.power import Arrival, Loading

#: The column for short single wires in free air; a thick bundle carries less, and then a thicker gauge is due.
TABLE = "chassis"
#: NEC 210.20(A): a fuse is at least 1.25 times the continuous load, so a load at most 80 % of the fuse.
CONTINUOUS = 0.8


def _gauge(run: Run) -> float:
    return run.gauge if run.gauge is not None else wire.awg_of_area((run.area or 0.0) * 1e-6)


@lru_cache(maxsize=4096)
def _carried(run: Run) -> float | None:
    """Return what all conductors of a copper run carry together [A]; None where its size is not in the table."""
    if (run.gauge is None and not run.area) or run.metal != "copper":
        return None
    each = wire.ampacity(_gauge(run), TABLE)
    return None if each is None else each * run.parallel


@rule(level="error", over="arrivals")
def wire_current(inlet: Arrival, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """The current in a lead stays within what its wire may carry.

    The table is for single short wires in free air; a wire deep in a loaded bundle may carry a third of it. The
    difference between tables is eightfold, so the finding says which one was used.

    Source: Handbook of Electronic Tables and Formulas, AWG table, column for chassis wiring.
    """
    run, amps = inlet.inlet.lead, inlet.amps
    if run is None or amps is None or inlet.name in pairs:
        return
    carried = _carried(run)
    if carried is None or amps <= carried * (1 + 1e-9):
        return
    gauge, limit = _gauge(run), Measure(carried, "A")
    better = next(
        (g for g in range(int(gauge), 9, -1) if (wire.ampacity(g, TABLE) or 0) * run.parallel >= amps), None
    )
    yield Finding(
        "error",
        inlet,
        f"the lead to {inlet} carries {Measure(amps, 'A')}; {gauge:.3g} AWG may carry {limit} in free air",
        found=Measure(amps, "A"),
        allowed=limit,
        remedy=f"use {better} AWG or thicker" if better else "use several conductors in parallel",
        place="lead",
    )


_RUN = """
[[feed]]
id = "b"
volts = "12 V"
[[node]]
id = "n1"
from = "b"
peak = "{amps}"
load = "current"
lead = "{lead}"
"""

cases(
    wire_current,
    clean=[
        _RUN.format(amps="16 A", lead="18 AWG, 100 mm"),
        _RUN.format(amps="30 A", lead="18 AWG, 100 mm, 2 x"),
    ],
    flagged=[
        Case(
            _RUN.format(amps="7.1 A", lead="22 AWG, 100 mm"),
            at="n1",
            found="7.1 A",
            mended=_RUN.format(amps="7.1 A", lead="21 AWG, 100 mm"),
        ),
        Case(_RUN.format(amps="12 A", lead="0.5 mm2, 100 mm"), at="n1"),
    ],
)


@rule(level="error", over="arrivals")
def plug_current(inlet: Arrival, leads: Leads, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """The current through a plug stays within the rating of its contacts.

    Contacts side by side share unequally: each doubling of their number gives a fifth less than twice the rating.

    Formula: n contacts of rating I carry n × I × 0.8^log2(n).

    Source: published derating note for contacts in parallel (3, 4.8 and 7.68 A for 1, 2 and 4 pairs of 3 A); contact
    ratings as stated by each part of the shelf.
    """
    amps, name = inlet.amps, inlet.spec.plug
    part = leads.plug(name)
    if amps is None or part is None or part.amps is None or amps <= part.amps:
        return
    pair, lead = pairs.get(inlet.name), inlet.inlet.lead
    wires = pair.side_by_side if pair else lead.parallel if lead else 1
    count = max(part.contacts or 1, wires)
    limit = shared_rating(part.amps, count)
    if amps > limit * (1 + 1e-9):
        each = f"{count} contacts of {Measure(part.amps, 'A')}" if count > 1 else "one contact for each side"
        yield Finding(
            "error",
            inlet,
            f"{Measure(amps, 'A')} flows through the {name} of {inlet}, which carries {Measure(limit, 'A')}",
            found=Measure(amps, "A"),
            allowed=Measure(limit, "A"),
            because=each,
            remedy="use a plug with a higher rating, or more contacts in parallel",
            place=("plug", "into", "part"),
        )


_PLUG = """
[[part]]
id = "small"
kind = "plug"
amps = "2 A"
contacts = {contacts}
""" + _RUN.replace('lead = "{lead}"', 'lead = "18 AWG, 100 mm"\nplug = "small"')

cases(
    plug_current,
    clean=[_PLUG.format(contacts=1, amps="2 A"), _PLUG.format(contacts=2, amps="3.2 A")],
    flagged=[
        Case(_PLUG.format(contacts=1, amps="2.1 A"), at="n1", found="2.1 A"),
        Case(_PLUG.format(contacts=2, amps="3.3 A"), at="n1"),
    ],
)


@rule(level="error", over="arrivals")
def inlet_current(inlet: Arrival) -> Iterator[Finding]:
    """An inlet takes no more than its own rating.

    The input terminal, the trace behind it or a fuse inside may be the weakest place of the whole path.
    """
    amps, limit = inlet.amps, inlet.spec.amps
    if amps is None or limit is None or amps <= limit * (1 + 1e-9):
        return
    yield Finding(
        "error",
        inlet,
        f"{Measure(amps, 'A')} flows into {inlet}, which may take {Measure(limit, 'A')}",
        found=Measure(amps, "A"),
        allowed=Measure(limit, "A"),
        remedy="feed part of what hangs on it elsewhere, or feed it with more volts if it is a converter",
        place=("amps", "part"),
    )


_INTAKE = _RUN.replace('lead = "{lead}"', 'lead = "14 AWG, 100 mm"\namps = "5 A"')

cases(
    inlet_current,
    clean=[_INTAKE.format(amps="5 A")],
    flagged=[Case(_INTAKE.format(amps="5.1 A"), at="n1", found="5.1 A")],
)


@rule(level="warning", over="inlets")
def wire_fits(inlet: InletPoint, leads: Leads) -> Iterator[Finding]:
    """The wire of a lead is of a size that the contacts at its ends take.

    A crimp closed on a wire too thick breaks its strands; on one too thin it lets go.

    Source: wire ranges of each contact family, as stated by the part of the shelf.
    """
    run = inlet.lead
    if run is None or run.gauge is None or inlet.source is None:
        return
    for name in dict.fromkeys([inlet.spec.plug, inlet.source.spec.plug]):
        plug = leads.plug(name)
        if plug is None or plug.gauge_from is None or plug.gauge_to is None:
            continue
        if not plug.gauge_from <= run.gauge <= plug.gauge_to:
            takes = f"{plug.gauge_from:g} to {plug.gauge_to:g} AWG"
            nearest = plug.gauge_from if run.gauge < plug.gauge_from else plug.gauge_to
            yield Finding(
                "warning",
                inlet,
                f"the lead to {inlet} is {run.gauge:g} AWG; the contacts of its {name} take {takes}",
                found=f"{run.gauge:g} AWG",
                allowed=takes,
                remedy=f'use {nearest:g} AWG, several side by side if the volts need it: "{nearest:g} AWG, ..., 2 x"',
                place="lead",
            )


_FITS = """
[[part]]
id = "jumper"
kind = "plug"
gauge_from = "22 AWG"
gauge_to = "28 AWG"
""" + _RUN.replace('amps}"', 'amps}"\nplug = "jumper"')

cases(
    wire_fits,
    clean=[_FITS.format(amps="1 A", lead="22 AWG, 100 mm"), _FITS.format(amps="1 A", lead="28 AWG, 100 mm")],
    flagged=[
        Case(_FITS.format(amps="1 A", lead="18 AWG, 100 mm"), at="n1", found="18 AWG"),
        Case(_FITS.format(amps="1 A", lead="30 AWG, 100 mm"), at="n1", found="30 AWG"),
    ],
)


@rule(level="error", over="rails")
def source_plug(rail: OutletPoint, loading: Loading, leads: Leads) -> Iterator[Finding]:
    """The plug of an outlet carries all that the outlet gives.

    Source: contact ratings as stated by each part of the shelf.
    """
    part = leads.plug(rail.spec.plug)
    if part is None or part.amps is None or not rail.takers:
        return
    limit = shared_rating(part.amps, part.contacts or 1)
    amps = max(step for _, step in loading.amps(rail))
    if amps > limit * (1 + 1e-9):
        yield Finding(
            "error",
            rail,
            f"{rail.noun} {rail} gives {Measure(amps, 'A')} through its {rail.spec.plug}, "
            f"which carries {Measure(limit, 'A')}",
            found=Measure(amps, "A"),
            allowed=Measure(limit, "A"),
            remedy="spread the load over several outlets, or use a plug with a higher rating",
            place=("plug", "part"),
        )


_SOURCE = _PLUG.replace('\nplug = "small"', "").replace('volts = "12 V"', 'volts = "12 V"\nplug = "small"')

cases(
    source_plug,
    clean=[_SOURCE.format(contacts=1, amps="2 A")],
    flagged=[Case(_SOURCE.format(contacts=1, amps="2.1 A"), at="b", found="2.1 A")],
)


@rule(level="error", over="plan")
def fuse_current(plan: Plan, loading: Loading, arrivals: list[Arrival]) -> Iterator[Finding]:
    """What flows through a fuse without end stays within its rating, and within 80 % of it.

    A fuse at its rating runs hot and opens on a warm day. "5 A" alone says little: an IEC fuse may carry 7.5 A for an
    hour, a UL fuse must open within an hour at 6.75 A. A PTC holds only its hold current, less when warm.

    Formula: fuse >= 1.25 × continuous current.

    Source: NEC 210.20(A).
    """
    for what, fuse, amps, holder in _fused(plan, loading, arrivals):
        if amps <= fuse.amps * CONTINUOUS * (1 + 1e-9):
            continue
        beyond = amps > fuse.amps * (1 + 1e-9)
        yield Finding(
            "error" if beyond else "warning",
            holder,
            f"the {Measure(fuse.amps, 'A')} fuse of {what} carries {Measure(amps, 'A')} without end"
            + ("" if beyond else "; 80 % of its rating is what it is chosen for"),
            found=Measure(amps, "A"),
            allowed=Measure(fuse.amps if beyond else fuse.amps * CONTINUOUS, "A"),
            remedy=f"fit a fuse of at least {Measure(amps / CONTINUOUS, 'A')}, if the wire behind it carries that",
            place=("fuse", "part"),
        )


def _fused(plan: Plan, loading: Loading, arrivals: list[Arrival]) -> Iterator[tuple[str, Any, float, Any]]:
    for arrival in arrivals:
        if arrival.thing.table == "inline" and arrival.thing.fuse and arrival.amps is not None:
            yield arrival.thing.id, arrival.thing.fuse, arrival.amps, arrival.thing
    for thing in plan.order:
        for outlet in thing.outlets:
            fuse = getattr(outlet.spec, "fuse", None)
            if fuse is not None and outlet.takers:
                steps = loading.amps(outlet)
                yield outlet.name, fuse, steps[-1][1], outlet


_FUSED = _RUN.replace('volts = "12 V"', 'volts = "12 V"\nfuse = "{fuse}"').replace("{lead}", "14 AWG, 100 mm")

cases(
    fuse_current,
    clean=[_FUSED.format(fuse="10 A blade", amps="8 A")],
    flagged=[
        Case(_FUSED.format(fuse="10 A blade", amps="8.5 A"), at="b", level="warning"),
        Case(_FUSED.format(fuse="10 A blade", amps="11 A"), at="b", level="error", found="11 A"),
    ],
)


@rule(level="warning", over="wired")
def two_accounts(inlet: InletPoint, pairs: dict[str, Pair], leads: Leads) -> Iterator[Finding]:
    """Where wires are listed pin by pin and a lead is given as well, both say the same.

    The wires count; a lead that says something else is a leftover of an earlier plan.
    """
    pair = pairs[inlet.name]
    if inlet.lead is None or pair.missing:
        return
    run = leads.run(inlet.lead)
    if run is not None and abs(run[0] - pair.nominal) > 0.02 * pair.nominal:
        yield Finding(
            "warning",
            inlet,
            f"the lead of {inlet} makes {Measure(run[0], 'ohm')} out and back, its wires "
            f"{Measure(pair.nominal, 'ohm')}",
            found=Measure(run[0], "ohm"),
            allowed=Measure(pair.nominal, "ohm"),
            remedy="take the lead out: the wires replace it",
            place="lead",
        )


_WIRED = """
[[feed]]
id = "b"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd"}}
[[node]]
id = "n1"
from = "b"
lead = "18 AWG, {lead}"
[[node.inlet]]
id = "in"
pins = {{1 = "+", 2 = "gnd"}}
[[harness]]
id = "h"
[[harness.wire]]
from = "b.out.1"
to = "n1.in.1"
gauge = "18 AWG"
length = "300 mm"
[[harness.wire]]
from = "b.out.2"
to = "n1.in.2"
gauge = "18 AWG"
length = "300 mm"
"""

cases(
    two_accounts,
    clean=[_WIRED.format(lead="300 mm")],
    flagged=[Case(_WIRED.format(lead="500 mm"), at="n1")],
)


@rule(level="error", over="wired")
def wires_incomplete(inlet: InletPoint, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """Wires listed pin by pin make a whole loop: at least one out and one back, each with gauge and length.

    Power that has no way back flows through a data cable or the chassis instead.
    """
    pair = pairs[inlet.name]
    if not pair.missing:
        return
    if pair.missing.startswith("a wire"):
        yield Finding(
            "error",
            inlet,
            f"{inlet} lacks {pair.missing}: its {len(pair.wires)} wire(s) make no loop",
            remedy="add the wire to the harness",
            related=[(w, "its wire") for w in pair.wires[:2]],
        )
    else:
        yield Open(
            "error",
            inlet,
            f"{inlet}: {pair.missing} is not given, so its wires are not judged",
            missing=[f"{inlet} {pair.missing}"],
            remedy="name the plug (its pins are on the shelf) or add pins; give each wire a gauge and a length",
            related=[(w, "its wire") for w in pair.wires[:2]],
        )


cases(
    wires_incomplete,
    clean=[_WIRED.format(lead="300 mm")],
    flagged=[
        Case(_WIRED.format(lead="300 mm").rpartition("[[harness.wire]]")[0], at="n1", level="error"),
        Case(_WIRED.format(lead="300 mm").replace('pins = {1 = "+", 2 = "gnd"}', ""), at="n1", kind="open"),
    ],
)
