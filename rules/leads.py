"""Leads: every wire carries what flows in it, fits its contacts, and is described once; what is lost is known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import wire
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Plug
from coldcheck.workings.beyond import beyond_limit
from coldcheck.workings.carried import THICKEST, Carried, carried
from coldcheck.workings.choices import GAUGES, lead_resized
from coldcheck.workings.harness import Pair
from coldcheck.workings.leads import Leads
from coldcheck.workings.pin_amps import Flow, PinAmps
from coldcheck.workings.pins import PinWire
from coldcheck.workings.power import Arrival
from coldcheck.workings.webs import Web, Webs

#: How far a metric wire may be from a gauge and still be sold as it [gauges]: 0.34 mm2 as 22, 0.08 mm2 as 28 AWG.
METRIC = 0.25


def _gauge(run: Run) -> float | None:
    if run.gauge is not None or not run.area:
        return run.gauge
    return wire.awg_of_area(run.area * 1e-6)


@rule(level="error", over="arrivals")
def wire_current(inlet: Arrival, pairs: dict[str, Pair], leads: Leads) -> Iterator[Finding]:
    """The current in a lead stays within what its wire may carry.

    The table is for single short wires in free air; a wire deep in a loaded bundle may carry a third of it: say
    "among 12" in the lead, counting every conductor of the bundle that carries current, returns too. The difference
    between tables is eightfold, so the finding says which one was used. Wires listed pin by pin share the
    current equally, and the thinnest of them decides. What exceeds the table only in a short surge is a warning: the
    wire has no rating for it.

    Formula: thinner than 30 AWG by area; aluminium and copper-clad by the root of their conductivity (computed).

    Source: Handbook of Electronic Tables and Formulas, AWG table, column for chassis wiring; NEC 2014 table
    310.15(B)(3)(a) for bundles.
    """
    pair, run = pairs.get(inlet.name), inlet.inlet.lead
    if pair is not None:
        found = (_wire(inlet, w, len(side)) for side in (pair.out, pair.back) for w in _thinnest(side))
        # Out and back carry the same: one finding, of the worse side.
        yield from sorted(filter(None, found), key=_excess)[-1:]
    elif run is not None and (gauge := _gauge(run)) is not None:
        each = carried(gauge, run.metal, run.among)
        finding = _carries(
            inlet, f"the lead to {inlet}", gauge, run.metal, each, run.parallel, among=run.among
        )
        if finding is not None:
            better = _better(inlet.amps or 0.0, gauge, run.metal, run.parallel, run.among)
            finding.edits = lead_resized(inlet.inlet, better, leads) if better is not None else ()
            finding.place = "lead"
            yield finding


def _better(amps: float, gauge: float, metal: str, parallel: int, among: int | None) -> int | None:
    """Return the thinnest gauge on sale that carries so many amps [A] in so many conductors; None where none does."""
    most = amps / parallel
    return next((g for g in GAUGES if g < gauge and carried(g, metal, among).amps >= most), None)


def _thinnest(side: tuple[PinWire, ...]) -> list[PinWire]:
    known = [w for w in side if w.gauge is not None]
    return [max(known, key=lambda w: w.gauge or 0.0)] if known else []


def _wire(inlet: Arrival, thin: PinWire, count: int) -> Finding | None:
    gauge, metal = thin.gauge, thin.wire.metal or "copper"
    assert gauge is not None
    finding = _carries(
        inlet, f"the wire {thin.name} to {inlet}", gauge, metal, carried(gauge, metal), 1, count
    )
    if finding is not None:
        finding.path = (*thin.path, "gauge" if thin.wire.gauge is not None else "area")
        if count > 1:
            shared = f"{count} wires side by side share the current"
            finding.because = f"{shared}; {finding.because}" if finding.because else shared
    return finding


def _excess(finding: Finding) -> float:
    found, allowed = finding.found, finding.allowed
    assert isinstance(found, Measure)
    assert isinstance(allowed, Measure)
    return found.value / allowed.value


def _carries(
    inlet: Arrival,
    what: str,
    gauge: float,
    metal: str,
    each: Carried,
    parallel: int,
    shares: int = 1,
    among: int | None = None,
) -> Finding | None:
    """Return what is wrong with a wire, one of ``shares`` that share the current, of ``parallel`` conductors."""
    if inlet.amps is None or inlet.settled is None:
        return None
    beyond = beyond_limit(inlet.amps / shares, inlet.settled / shares, each.amps * parallel)
    if beyond is None:
        return None
    size = f"{gauge:.3g} AWG"
    if each.floor:
        return Open(
            beyond.level,
            inlet,
            f"{what} carries {beyond.amps}{beyond.surge}; what {size} may carry stands in no table here: "
            f"it ends at {THICKEST} AWG with {beyond.limit}",
            missing=[f"{inlet} ampacity of {size}"],
            found=beyond.amps,
            allowed=beyond.limit,
            remedy="look up what this very wire may carry in free air, and waive this with the figure as the reason",
        )
    better = _better(inlet.amps / shares, gauge, metal, parallel, among)
    return Finding(
        beyond.level,
        inlet,
        f"{what} carries {beyond.amps}{beyond.surge}; {size} may carry {beyond.limit} "
        + (f"among {among}" if among else "in free air"),
        found=beyond.amps,
        allowed=beyond.limit,
        because="; ".join(filter(None, (each.how, beyond.because))),
        remedy=f"use {better} AWG or thicker" if better is not None else "use several conductors in parallel",
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
_THICK = _RUN.replace("12 V", "400 V")
_SURGE = _RUN.replace("load =", 'surge = "{surge}"\nload =')
_ENDS = """
[[feed]]
id = "b"
volts = "5 V"
plug = "row"
[[feed.connector]]
id = "out"
plug = "row"
pins = {{1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd", 5 = "signal"}}
[[part]]
id = "row"
kind = "plug"
gauge_from = "22 AWG"
gauge_to = "28 AWG"
[[node]]
id = "n1"
from = "b"
peak = "{amps}"
load = "current"
lead = "300 mm"
[[node.inlet]]
id = "in"
pins = {{1 = "+", 2 = "GND", 3 = "+", 4 = "0v", 5 = "signal"}}
[[harness]]
id = "h"
"""


def _wires(amps: str, **gauges: str) -> str:
    """Return a plan with one wire for each pin, ``p1`` to ``p5``, straight through."""
    wires = (
        f'[[harness.wire]]\nfrom = "b.out.{pin[1:]}"\nto = "n1.in.{pin[1:]}"\nlength = "300 mm"\n'
        + (f'area = "{size}"\n' if size.endswith("mm2") else f'gauge = "{size}"\n')
        for pin, size in gauges.items()
    )
    return _ENDS.format(amps=amps) + "".join(wires)


_MOULDED = """
[[feed]]
id = "b"
volts = "12 V"
amps = "30 A"
lead = "24 AWG, 1 m"
[[node]]
id = "n1"
from = "b"
volts = "9 V .. 14 V"
peak = "{}"
load = "current"
"""

cases(
    wire_current,
    clean=[
        _MOULDED.format("1 A"),
        _RUN.format(amps="16 A", lead="18 AWG, 100 mm"),
        _RUN.format(amps="30 A", lead="18 AWG, 100 mm, 2 x"),
        # among 12 conductors half of the 16 A
        _RUN.format(amps="8 A", lead="18 AWG, 100 mm, among 12"),
        _RUN.format(amps="0.54 A", lead="32 AWG, 100 mm"),
        _THICK.format(amps="380 A", lead="120 mm2, 100 mm"),
        _RUN.format(amps="12.4 A", lead="18 AWG, 100 mm, aluminium"),
        _SURGE.format(amps="1 A", surge="7 A for 10 s", lead="22 AWG, 100 mm"),
        _wires("0.86 A", p1="30 AWG", p2="30 AWG"),
        _wires("1.72 A", p1="30 AWG", p3="30 AWG", p2="22 AWG", p4="22 AWG"),
        # the third wire is thin, but no power flows in it
        _wires("3 A", p1="22 AWG", p2="22 AWG", p5="30 AWG"),
    ],
    flagged=[
        Case(
            _RUN.format(amps="8.1 A", lead="18 AWG, 100 mm, among 12"),
            at="n1",
            mended=_RUN.format(amps="8.1 A", lead="16 AWG, 100 mm, among 12"),
        ),
        Case(
            _RUN.format(amps="7.1 A", lead="22 AWG, 100 mm"),
            at="n1",
            found="7.1 A",
            mended=_RUN.format(amps="7.1 A", lead="20 AWG, 100 mm"),
            edits=True,
        ),
        Case(_RUN.format(amps="12 A", lead="0.5 mm2, 100 mm"), at="n1"),
        Case(_MOULDED.format("8 A"), at="b.lead", found="8 A"),
        Case(_RUN.format(amps="0.55 A", lead="32 AWG, 100 mm"), at="n1", found="0.55 A"),
        Case(_RUN.format(amps="0.22 A", lead="36 AWG, 100 mm"), at="n1", level="error"),
        Case(_THICK.format(amps="380.1 A", lead="120 mm2, 100 mm"), at="n1", kind="open"),
        Case(_RUN.format(amps="12.6 A", lead="18 AWG, 100 mm, aluminium"), at="n1", found="12.6 A"),
        Case(_RUN.format(amps="12.8 A", lead="18 AWG, 100 mm, copper-clad"), at="n1"),
        Case(_SURGE.format(amps="1 A", surge="7.1 A for 10 s", lead="22 AWG, 100 mm"), "n1", level="warning"),
        Case(_SURGE.format(amps="1 A", surge="7.1 A for 90 s", lead="22 AWG, 100 mm"), "n1", level="error"),
        Case(_SURGE.format(amps="7.2 A", surge="9 A for 10 s", lead="22 AWG, 100 mm"), "n1", found="7.2 A"),
        Case(
            _wires("0.87 A", p1="30 AWG", p2="30 AWG"),
            at="n1.in",
            found="0.87 A",
            mended=_wires("0.87 A", p1="29 AWG", p2="29 AWG"),
        ),
        Case(_wires("1.74 A", p1="30 AWG", p3="24 AWG", p2="22 AWG", p4="22 AWG"), "n1.in", found="0.87 A"),
        # a wire on a signal pin is no second way for the current
        Case(_wires("3 A", p1="26 AWG", p2="22 AWG", p5="26 AWG"), at="n1.in", found="3 A"),
        Case(_wires("3 A", p1="22 AWG", p2="0.14 mm2"), at="n1.in", found="3 A"),
    ],
)


@rule(level="error", over="plan")
def branch_current(plan: Plan, webs: Webs, pin_amps: PinAmps, pin_wires: list[PinWire]) -> Iterator[Finding]:
    """Each wire of a harness that branches stays within what it may carry: a trunk carries what all behind it draw.

    The current is computed wire by wire, with contacts aged unequally. There is one finding for each harness: that of
    the wire that is beyond its table by most.

    Formula: a wire at its rating is 30 K warmer than the air, and warms with the square of its current.
    Source: Kirchhoff's laws; Handbook of Electronic Tables and Formulas, AWG table, column for chassis wiring.
    """
    for web in webs.all:
        worst: tuple[float, int, Carried] | None = None
        for element in web.elements:
            flow = pin_amps.wires.get(element.wire) if element.wire is not None else None
            gauge = pin_wires[element.wire].gauge if element.wire is not None else None
            if element.wire is None or flow is None or gauge is None:
                continue
            each = carried(gauge, pin_wires[element.wire].wire.metal or "copper")
            if not each.floor and (worst is None or flow.most / each.amps > worst[0]):
                worst = flow.most / each.amps, element.wire, each
        if worst is not None and worst[0] > 1:
            yield from _beyond_in(web, pin_wires[worst[1]], pin_amps.wires[worst[1]], worst[2])


def _beyond_in(web: Web, wire: PinWire, flow: Flow, each: Carried) -> Iterator[Finding]:
    beyond = beyond_limit(flow.most, flow.settled, each.amps)
    if not beyond:
        return
    gauge = wire.gauge or 0.0
    metal = wire.wire.metal or "copper"
    better = next(
        (g for g in range(int(gauge), THICKEST - 1, -1) if carried(g, metal).amps >= flow.most), None
    )
    warm = f"it becomes {Measure(flow.warmer, 'K')} warmer than the air" if flow.warmer is not None else ""
    yield Finding(
        beyond.level,
        wire,
        f"the wire {wire.name} carries {beyond.amps}{beyond.surge}; "
        f"{gauge:.3g} AWG may carry {beyond.limit} in free air",
        found=beyond.amps,
        allowed=beyond.limit,
        because="; ".join(
            filter(None, (f"it leads to {listed(web.inlets)}", warm, each.how, beyond.because))
        ),
        remedy=f"use {better} AWG or thicker"
        if better is not None
        else "lead part of it by wires of its own",
        path=(*wire.path, "gauge" if wire.wire.area is None else "area") if wire.wire.path else wire.path,
        subjects=(wire.name,),
    )


_TRUNK = """
[[feed]]
id = "b"
volts = "12 V"
[[feed.connector]]
id = "out"
plug = "screw-2"
pins = {{1 = "12v", 2 = "gnd"}}
[[node]]
id = "n1 .. n3"
from = "b"
peak = "{amps}"
load = "current"
pins = {{1 = "+", 2 = "gnd"}}
[[harness]]
id = "h"
gauge = "22 AWG"
length = "100 mm"
[[harness.splice]]
id = "p"
[[harness.splice]]
id = "m"
[[harness.wire]]
from = "b.out.1"
to = "p"
gauge = "{trunk}"
[[harness.wire]]
from = "b.out.2"
to = "m"
gauge = "18 AWG"
[[harness.wire]]
from = ["p", "p", "p"]
to = "n1.1 .. n3.1"
[[harness.wire]]
from = ["m", "m", "m"]
to = "n1.2 .. n3.2"
"""

cases(
    branch_current,
    clean=[_TRUNK.format(amps="2.33 A", trunk="22 AWG"), _TRUNK.format(amps="5.3 A", trunk="18 AWG")],
    flagged=[
        Case(
            _TRUNK.format(amps="2.34 A", trunk="22 AWG"),
            at="b.out.1 to h.p",
            found="7.02 A",
            mended=_TRUNK.format(amps="2.34 A", trunk="21 AWG"),
        ),
    ],
)


@rule(level="warning", over="inlets")
def wire_fits(inlet: InletPoint, leads: Leads, pairs: dict[str, Pair]) -> Iterable[Finding]:
    """The wire of a lead is of a size that the contacts at its ends take.

    A crimp closed on a wire too thick breaks its strands; on one too thin it lets go.

    Source: wire ranges of each contact family, as stated by the part of the shelf.
    """
    run, source = inlet.lead, inlet.source
    if run is None or source is None or inlet.name in pairs:
        return ()
    ours, theirs = leads.plug(inlet.spec.plug), leads.plug(source.spec.plug)
    if (ours is None or _fits(run, ours.gauge_from, ours.gauge_to)) and (
        theirs is None or _fits(run, theirs.gauge_from, theirs.gauge_to)
    ):
        return ()
    return _misfits(inlet, leads)


@lru_cache(maxsize=4096)
def _fits(run: Run, thick: float | None, thin: float | None) -> bool:
    """Say whether a lead fits contacts that take these gauges; leads repeat, so the answer is remembered."""
    gauge = _gauge(run)
    return gauge is None or not _misfit(Plug(gauge_from=thick, gauge_to=thin), gauge, run.gauge is None)


def _misfits(inlet: InletPoint, leads: Leads) -> Iterator[Finding]:
    run: Any = inlet.lead
    source: Any = inlet.source
    gauge = _gauge(run)
    assert gauge is not None
    written = f"{run.gauge:g} AWG" if run.gauge is not None else f"{run.area:g} mm2"
    for name in dict.fromkeys([inlet.spec.plug, source.spec.plug]):
        plug = leads.plug(name)
        if plug is not None and (nearest := _misfit(plug, gauge, run.gauge is None)):
            takes = _range(plug)
            yield Finding(
                "warning",
                inlet,
                f"the lead to {inlet} is {written}; the contacts of its {name} take {takes}",
                found=written,
                allowed=takes,
                remedy=f'use {nearest:g} AWG, several side by side if the volts need it: "{nearest:g} AWG, ..., 2 x"',
                place="lead",
            )


def _misfit(plug: Plug, gauge: float, metric: bool) -> float | None:
    """Return the nearest gauge that the contacts of a plug take, or None where this one fits."""
    slack = METRIC if metric else 0.0
    if plug.gauge_from is not None and gauge < plug.gauge_from - slack:
        return plug.gauge_from
    if plug.gauge_to is not None and gauge > plug.gauge_to + slack:
        return plug.gauge_to
    return None


def _range(plug: Plug) -> str:
    if plug.gauge_to is None:
        return f"{plug.gauge_from:g} AWG and thinner"
    if plug.gauge_from is None:
        return f"{plug.gauge_to:g} AWG and thicker"
    return f"{plug.gauge_from:g} to {plug.gauge_to:g} AWG"


_FITS = """
[[part]]
id = "jumper"
kind = "plug"
gauge_from = "22 AWG"
gauge_to = "28 AWG"
""" + _RUN.replace('amps}"', 'amps}"\nplug = "jumper"')

cases(
    wire_fits,
    clean=[
        _FITS.format(amps="1 A", lead="22 AWG, 100 mm"),
        _FITS.format(amps="1 A", lead="28 AWG, 100 mm"),
        _FITS.format(amps="1 A", lead="0.34 mm2, 100 mm"),
        _FITS.format(amps="1 A", lead="18 AWG, 100 mm").replace('gauge_from = "22 AWG"', ""),
    ],
    flagged=[
        Case(_FITS.format(amps="1 A", lead="18 AWG, 100 mm"), at="n1", found="18 AWG"),
        Case(_FITS.format(amps="1 A", lead="30 AWG, 100 mm"), at="n1", found="30 AWG"),
        Case(_FITS.format(amps="1 A", lead="0.5 mm2, 100 mm"), at="n1", found="0.5 mm2"),
        # a contact that states one end of its range only
        Case(
            _FITS.format(amps="1 A", lead="18 AWG, 100 mm").replace('gauge_to = "28 AWG"', ""),
            at="n1",
            found="18 AWG",
        ),
    ],
)


@rule(level="warning", over="plan")
def pin_fits(plan: Plan, pin_wires: list[PinWire], leads: Leads) -> Iterator[Finding]:
    """Every wire listed pin by pin is of a size that the contacts at its ends take, whatever it carries.

    A crimp closed on a wire too thick breaks its strands; on one too thin it lets go. There is one finding for each
    kind of plug and size of wire.

    Source: wire ranges of each contact family, as stated by the part of the shelf.
    """
    groups: dict[tuple[str, str], list[PinWire]] = {}
    nearest: dict[tuple[str, str], float] = {}
    for w in pin_wires:
        if (gauge := w.gauge) is None:
            continue
        metric = w.wire.gauge is None
        written = f"{w.wire.area:g} mm2" if metric else f"{gauge:g} AWG"
        for name in dict.fromkeys([w.a.plug, w.b.plug]):
            plug = leads.plug(name)
            if plug is not None and (near := _misfit(plug, gauge, metric)) is not None:
                groups.setdefault((plug.id, written), []).append(w)
                nearest[plug.id, written] = near
    for (name, written), wires in groups.items():
        first, takes = wires[0], _range(leads.plug(name) or Plug())
        many = f"{len(wires)} wires, {first.name} the first," if len(wires) > 1 else f"the wire {first.name}"
        yield Finding(
            "warning",
            first,
            f"{many} of {written}: the contacts of {name} take {takes}",
            found=written,
            allowed=takes,
            remedy=f"use {nearest[name, written]:g} AWG, on several pins side by side if the volts need it",
            path=(*first.path, "area" if first.wire.gauge is None else "gauge"),
            subjects=tuple(w.name for w in wires),
        )


cases(
    pin_fits,
    clean=[
        _wires("1 A", p1="22 AWG", p2="28 AWG", p5="0.34 mm2"),
    ],
    flagged=[
        Case(_wires("1 A", p1="21 AWG", p2="22 AWG"), at="b.out.1 to n1.in.1", found="21 AWG"),
        Case(_wires("1 A", p1="22 AWG", p2="29 AWG"), at="b.out.2 to n1.in.2", found="29 AWG"),
        Case(_wires("1 A", p1="22 AWG", p2="22 AWG", p5="0.5 mm2"), at="b.out.5", found="0.5 mm2"),
    ],
)


@rule(level="warning", over="wired")
def two_accounts(inlet: InletPoint, pairs: dict[str, Pair], leads: Leads, plan: Plan) -> Iterator[Finding]:
    """Where wires are listed pin by pin and a lead is given as well, both say the same.

    The wires count; a lead that says something else is a leftover of an earlier plan, or is meant for the other things
    of its span alone.
    """
    pair = pairs[inlet.name]
    if inlet.lead is None or pair.missing or pair.web:
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
            remedy=_one_account(plan, inlet, pairs),
            place="lead",
        )


def _one_account(plan: Plan, inlet: InletPoint, pairs: dict[str, Pair]) -> str:
    """Return how to get rid of one account: the lead of a span may be all that its other things have."""
    thing = inlet.thing
    span = [other for other in plan.table(thing.table) if other.path == thing.path]
    bare = [
        other.id
        for other in span
        if any(i.id == inlet.id and i.name not in pairs for i in getattr(other, "inlets", ()))
    ]
    if not bare:
        return "take the lead out: the wires replace it"
    return (
        f"write {thing.id} apart, without a lead (that of the span is for {listed(bare)}), or make both agree"
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
    clean=[_WIRED.format(lead="300 mm"), _WIRED.format(lead="305 mm")],
    flagged=[
        Case(_WIRED.format(lead="500 mm"), at="n1", mended=_WIRED.format(lead="300 mm")),
        Case(_WIRED.format(lead="307 mm"), at="n1"),
        Case(_WIRED.format(lead="500 mm").replace('id = "n1"', 'id = "n1 .. n5"'), at="n1"),
    ],
)


@rule(level="warning", over="plan")
def crowded_pin(plan: Plan, pin_wires: list[PinWire], leads: Leads) -> Iterator[Finding]:
    """Several wires in one crimp contact are together no thicker than what it takes.

    In a daisy chain each contact on the way holds two wires. Their copper together must fit its barrel, or neither is
    held and both work loose; where the contact does not say what it takes, it is taken to be made for one. A screw
    terminal clamps several in one ferrule, so those are left out.

    Formula: the gauge of the sum of their areas.
    Source: common practice; wire ranges of each contact family, as stated by the part of the shelf.
    """
    there: dict[str, list[PinWire]] = {}
    plugs: dict[str, str | None] = {}
    for w in pin_wires:
        for end in (w.a, w.b):
            if (end.takes or end.idle) and not w.wrong:  # a wrong wire is told already
                there.setdefault(end.ref, []).append(w)
                plugs[end.ref] = end.plug
    for ref, wires in there.items():
        part = leads.plug(plugs[ref])
        if len(wires) < 2 or (part is not None and part.single):
            continue
        gauges = [w.gauge for w in wires]
        most = part.gauge_from if part is not None else None
        together = (
            wire.awg_of_area(sum(wire.awg_area(g) for g in gauges if g is not None)) if any(gauges) else None
        )
        if most is not None and together is not None and None not in gauges and together >= most - METRIC:
            continue
        last = wires[-1]
        size = f" that make {together:.1f} AWG together" if together is not None and most is not None else ""
        takes = f"{most:g} AWG at the thickest" if most is not None else "one wire, as far as its part says"
        yield Finding(
            "warning",
            last,
            f"{len(wires)} wires{size} end in one pin, {ref}",
            found=f"{together:.1f} AWG" if size and together is not None else str(len(wires)),
            allowed=f"{most:g} AWG" if most is not None else "1",
            because=f"its contact takes {takes}",
            remedy="use thinner wires, give each a pin of its own, or join them before the plug and run one wire on",
            place="to" if last.b.ref == ref else "from",
            related=[(w, "the other wire") for w in wires[:-1][:4]],
        )


_TWO = _wires("1 A", p1="24 AWG", p3="24 AWG", p2="22 AWG").replace("n1.in.3", "n1.in.1")
_ROW = ('id = "in"', 'id = "in"\nplug = "row"')  # it takes 22 AWG at the thickest

cases(
    crowded_pin,
    clean=[
        _wires("1 A", p1="22 AWG", p2="22 AWG", p3="22 AWG"),
        # two wires on one terminal of the source
        _wires("1 A", p1="22 AWG", p3="22 AWG", p2="22 AWG").replace("b.out.3", "b.out.1"),
        _wires("1 A", p1="22 AWG", p3="22 AWG", p2="22 AWG")
        .replace("n1.in.3", "n1.in.1")
        .replace('id = "in"', 'id = "in"\nplug = "screw-2"'),
        # two of 25 AWG are one of 22
        _TWO.replace("24 AWG", "25 AWG").replace(*_ROW),
    ],
    flagged=[
        Case(
            _wires("1 A", p1="22 AWG", p3="22 AWG", p2="22 AWG").replace("n1.in.3", "n1.in.1"),
            at="n1.in.1",
            found="2",
            mended=_wires("1 A", p1="22 AWG", p3="22 AWG", p2="22 AWG"),
        ),
        Case(_TWO.replace(*_ROW), at="that make 21.0 AWG together", found="21.0 AWG"),
    ],
)


@rule(level="error", over="wired")
def wires_incomplete(inlet: InletPoint, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """Wires listed pin by pin say their gauge and their length.

    Without both, nobody knows how many volts arrive; whether the wires make a loop, `rules/pins.py` judges.
    """
    pair = pairs[inlet.name]
    if pair.missing and not pair.astray:
        yield Open(
            "error",
            inlet,
            f"{inlet}: {pair.missing} is not given, so its wires are not judged",
            missing=[f"{inlet} {pair.missing}"],
            remedy="give each wire a gauge and a length",
            related=[(w, "its wire") for w in pair.wires[:2]],
        )


cases(
    wires_incomplete,
    clean=[_WIRED.format(lead="300 mm")],
    flagged=[
        Case(_WIRED.format(lead="300 mm").replace('gauge = "18 AWG"', "", 1), at="n1", kind="open"),
    ],
)


@rule(level="error", over="inline")
def drop_unknown(inline: Any) -> Iterator[Finding]:
    """A diode states the volts it drops, or an ideal one its ohms.

    A plain diode takes 0.3 V to 1 V: on a 5 V rail that alone is more than all boards allow.
    """
    ohms = inline.intake.ohms is not None or any(inlet.ohms is not None for inlet in inline.inlet)
    if inline.what == "diode" and inline.drop is None and not ohms:
        yield Open(
            "error",
            inline,
            f"{inline.id} is a diode, but what it drops is not given, so the volts behind it are taken too high",
            missing=[f"{inline.id} drop"],
            remedy='add drop = "0.5 V" from its sheet at this current, or ohms = "10 mohm" of an ideal diode',
            place=("what", "part"),
        )


_WHAT = '[[feed]]\nid = "b"\nvolts = "12 V"\n[[inline]]\nid = "x"\nfrom = "b"\n{}\n'

cases(
    drop_unknown,
    clean=[
        _WHAT.format('what = "diode"\ndrop = "0.5 V"'),
        _WHAT.format('part = "diode-ideal-10a"'),
        _WHAT.format('what = "switch"'),
    ],
    flagged=[Case(_WHAT.format('what = "diode"'), at="x", kind="open")],
)
