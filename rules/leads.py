"""Leads: wire, plug and fuse of every run carry what flows through them; the weakest on the path decides."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from typing import Any, Literal

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.dc import wire
from coldcheck.dc.contact import shared_rating
from coldcheck.plan.kinds import Run
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Plug
from coldcheck.workings.carried import THICKEST, Carried, carried
from coldcheck.workings.harness import Pair, PinWire
from coldcheck.workings.leads import Leads
from coldcheck.workings.power import Arrival, Loading, settled

#: NEC 210.20(A): a fuse is at least 1.25 times the continuous load, so a load at most 80 % of the fuse.
CONTINUOUS = 0.8
#: How far a metric wire may be from a gauge and still be sold as it [gauges]: 0.34 mm2 as 22, 0.08 mm2 as 28 AWG.
METRIC = 0.25
#: How far from the terminal of a battery its fuse may be [m]: 7 in. ABYC E-11, from memory.
CLOSE = 0.178


class _Beyond:
    """What flows, beyond a limit: for good it is an error, in a short surge only a warning."""

    def __init__(self, amps: float, limit: float, short: bool) -> None:
        self.level: Literal["error", "warning"] = "warning" if short else "error"
        self.amps, self.limit = Measure(amps, "A"), Measure(limit, "A")
        self.surge = " in a short surge" if short else ""
        self.because = "nothing says that it stands more for a short time" if short else ""


def _beyond(most: float | None, lasting: float | None, limit: float) -> _Beyond | None:
    """Return by how much a limit is passed: by what lasts, else by a surge, else None."""
    if most is None or lasting is None or most <= limit * (1 + 1e-9):
        return None
    short = lasting <= limit * (1 + 1e-9)
    return _Beyond(most if short else lasting, limit, short)


def _gauge(run: Run) -> float | None:
    if run.gauge is not None or not run.area:
        return run.gauge
    return wire.awg_of_area(run.area * 1e-6)


@rule(level="error", over="arrivals")
def wire_current(inlet: Arrival, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """The current in a lead stays within what its wire may carry.

    The table is for single short wires in free air; a wire deep in a loaded bundle may carry a third of it. The
    difference between tables is eightfold, so the finding says which one was used. Wires listed pin by pin share the
    current equally, and the thinnest of them decides. What exceeds the table only in a short surge is a warning: the
    wire has no rating for it.

    Formula: thinner than 30 AWG by area; aluminium and copper-clad by the root of their conductivity (computed).

    Source: Handbook of Electronic Tables and Formulas, AWG table, column for chassis wiring.
    """
    pair, run = pairs.get(inlet.name), inlet.inlet.lead
    if pair is not None:
        found = (_wire(inlet, w, len(side)) for side in (pair.out, pair.back) for w in _thinnest(side))
        # Out and back carry the same: one finding, of the worse side.
        yield from sorted(filter(None, found), key=_excess)[-1:]
    elif run is not None and (gauge := _gauge(run)) is not None:
        each = carried(gauge, run.metal)
        finding = _carries(inlet, f"the lead to {inlet}", gauge, run.metal, each, run.parallel)
        if finding is not None:
            finding.place = "lead"
            yield finding


def _thinnest(side: tuple[PinWire, ...]) -> list[PinWire]:
    known = [w for w in side if w.gauge is not None]
    return [max(known, key=lambda w: w.gauge or 0.0)] if known else []


def _wire(inlet: Arrival, thin: PinWire, count: int) -> Finding | None:
    gauge = thin.gauge
    assert gauge is not None
    finding = _carries(inlet, f"the wire {thin.name} to {inlet}", gauge, "copper", carried(gauge), 1, count)
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
    inlet: Arrival, what: str, gauge: float, metal: str, each: Carried, parallel: int, shares: int = 1
) -> Finding | None:
    """Return what is wrong with a wire, one of ``shares`` that share the current, of ``parallel`` conductors."""
    if inlet.amps is None or inlet.settled is None:
        return None
    beyond = _beyond(inlet.amps / shares, inlet.settled / shares, each.amps * parallel)
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
    most = inlet.amps / shares / parallel
    better = next((g for g in range(int(gauge), THICKEST - 1, -1) if carried(g, metal).amps >= most), None)
    return Finding(
        beyond.level,
        inlet,
        f"{what} carries {beyond.amps}{beyond.surge}; {size} may carry {beyond.limit} in free air",
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


cases(
    wire_current,
    clean=[
        _RUN.format(amps="16 A", lead="18 AWG, 100 mm"),
        _RUN.format(amps="30 A", lead="18 AWG, 100 mm, 2 x"),
        _RUN.format(amps="0.54 A", lead="32 AWG, 100 mm"),
        _RUN.format(amps="55 A", lead="8 AWG, 100 mm"),
        _RUN.format(amps="12.4 A", lead="18 AWG, 100 mm, aluminium"),
        _SURGE.format(amps="1 A", surge="7 A for 10 s", lead="22 AWG, 100 mm"),
        _wires("0.86 A", p1="30 AWG", p2="30 AWG"),
        _wires("1.72 A", p1="30 AWG", p3="30 AWG", p2="22 AWG", p4="22 AWG"),
        # the third wire is thin, but no power flows in it
        _wires("3 A", p1="22 AWG", p2="22 AWG", p5="30 AWG"),
    ],
    flagged=[
        Case(
            _RUN.format(amps="7.1 A", lead="22 AWG, 100 mm"),
            at="n1",
            found="7.1 A",
            mended=_RUN.format(amps="7.1 A", lead="21 AWG, 100 mm"),
        ),
        Case(_RUN.format(amps="12 A", lead="0.5 mm2, 100 mm"), at="n1"),
        Case(_RUN.format(amps="0.55 A", lead="32 AWG, 100 mm"), at="n1", found="0.55 A"),
        Case(_RUN.format(amps="0.22 A", lead="36 AWG, 100 mm"), at="n1", level="error"),
        Case(_RUN.format(amps="55.1 A", lead="8 AWG, 100 mm"), at="n1", kind="open"),
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


@rule(level="error", over="arrivals")
def plug_current(inlet: Arrival, leads: Leads, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """The current through a plug stays within the rating of its contacts.

    Contacts side by side share unequally: each doubling of their number gives a fifth less than twice the rating. What
    exceeds it only in a short surge is a warning, since no rating for a short time is stated.

    Formula: n contacts of rating I carry n × I × 0.8^log2(n).

    Source: published derating note for contacts in parallel (3, 4.8 and 7.68 A for 1, 2 and 4 pairs of 3 A); contact
    ratings as stated by each part of the shelf.
    """
    amps, name = inlet.amps, inlet.spec.plug
    part = leads.plug(name)
    if amps is None or part is None or part.amps is None or amps <= part.amps:
        return
    pair, lead = pairs.get(inlet.name), inlet.inlet.lead
    count = max(part.contacts or 1, pair.side_by_side if pair else lead.parallel if lead else 1)
    beyond = _beyond(amps, inlet.settled, shared_rating(part.amps, count))
    if beyond:
        each = f"{count} contacts of {Measure(part.amps, 'A')}" if count > 1 else "one contact for each side"
        yield Finding(
            beyond.level,
            inlet,
            f"{beyond.amps} flows through the {name} of {inlet}{beyond.surge}; it carries {beyond.limit}",
            found=beyond.amps,
            allowed=beyond.limit,
            because="; ".join(filter(None, (each, beyond.because))),
            remedy="use a plug with a higher rating, or more contacts in parallel",
            place=("plug", "into", "part"),
        )


_SMALL = """
[[part]]
id = "small"
kind = "plug"
amps = "2 A"
contacts = {contacts}
"""
_TO_IT = 'lead = "18 AWG, 100 mm"\nplug = "small"'
_PLUG = _SMALL + _RUN.replace('lead = "{lead}"', _TO_IT)
_PLUG_SURGE = _SMALL + _SURGE.replace('lead = "{lead}"', _TO_IT)

cases(
    plug_current,
    clean=[
        _PLUG.format(contacts=1, amps="2 A"),
        _PLUG.format(contacts=2, amps="3.2 A"),
        _PLUG_SURGE.format(contacts=1, amps="1 A", surge="2 A for 10 s"),
    ],
    flagged=[
        Case(_PLUG.format(contacts=1, amps="2.1 A"), at="n1", found="2.1 A"),
        Case(_PLUG.format(contacts=2, amps="3.3 A"), at="n1"),
        Case(_PLUG_SURGE.format(contacts=1, amps="1 A", surge="2.1 A for 10 s"), at="n1", level="warning"),
        Case(_PLUG_SURGE.format(contacts=1, amps="1 A", surge="2.1 A for 90 s"), at="n1", level="error"),
    ],
)


@rule(level="error", over="arrivals")
def inlet_current(inlet: Arrival) -> Iterator[Finding]:
    """An inlet takes no more than its own rating.

    The input terminal, the trace behind it or a fuse inside may be the weakest place of the whole path. A short surge
    beyond it is a warning.
    """
    limit = inlet.spec.amps
    beyond = _beyond(inlet.amps, inlet.settled, limit) if limit is not None else None
    if beyond:
        yield Finding(
            beyond.level,
            inlet,
            f"{beyond.amps} flows into {inlet}{beyond.surge}, which may take {beyond.limit}",
            found=beyond.amps,
            allowed=beyond.limit,
            because=beyond.because,
            remedy="feed part of what hangs on it elsewhere, or feed it with more volts if it is a converter",
            place=("amps", "part"),
        )


_INTAKE = _RUN.replace('lead = "{lead}"', 'lead = "14 AWG, 100 mm"\namps = "5 A"')
_INTAKE_SURGE = _SURGE.replace('lead = "{lead}"', 'lead = "14 AWG, 100 mm"\namps = "5 A"')

cases(
    inlet_current,
    clean=[_INTAKE.format(amps="5 A"), _INTAKE_SURGE.format(amps="1 A", surge="5 A for 10 s")],
    flagged=[
        Case(_INTAKE.format(amps="5.1 A"), at="n1", found="5.1 A"),
        Case(_INTAKE_SURGE.format(amps="1 A", surge="5.1 A for 10 s"), at="n1", level="warning"),
        Case(_INTAKE_SURGE.format(amps="1 A", surge="5.1 A for 90 s"), at="n1", level="error"),
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


@rule(level="error", over="plan")
def source_plug(
    plan: Plan, rails: list[OutletPoint], arrivals: list[Arrival], loading: Loading, leads: Leads,
    pairs: dict[str, Pair],
) -> Iterator[Finding]:  # fmt: skip
    """Each contact of the plug of an outlet carries what flows through it.

    Every thing that hangs on an outlet has a contact of its own there, and so has each conductor side by side: six
    leads on a terminal block are six contacts, and ``2 x`` makes two of one lead; where wires are listed pin by pin,
    the pins of the outlet count. A lead that is moulded to its source has one plug, and all flows through that. The
    volts are computed in the same way.

    Formula: n contacts of rating I carry n × I × 0.8^log2(n).

    Source: contact ratings as stated by each part of the shelf.
    """
    for rail in rails:
        part = leads.plug(rail.spec.plug)
        # With one taker and one kind of plug it is one mated pair, and `plug_current` speaks of that.
        one = len(rail.takers) == 1 and rail.takers[0].spec.plug == rail.spec.plug
        if part is None or part.amps is None or not rail.takers or one or not _moulded(rail):
            continue
        steps = loading.amps(rail)
        most = max(amps for _, amps in steps)
        beyond = _beyond(most, settled(steps), shared_rating(part.amps, part.contacts or 1))
        if beyond:
            told = (
                f"{rail.noun} {rail} gives {beyond.amps}{beyond.surge} through the one {part.id} of its lead"
            )
            yield _through(rail, rail, f"{told}, which carries {beyond.limit}", beyond)
    for arrival in arrivals:
        source = arrival.inlet.source
        part = leads.plug(source.spec.plug) if source is not None and not _moulded(source) else None
        if source is None or part is None or part.amps is None:
            continue
        pair, run = pairs.get(arrival.name), arrival.inlet.lead
        count = max(part.contacts or 1, pair.at_source if pair else run.parallel if run else 1)
        beyond = _beyond(arrival.amps, arrival.settled, shared_rating(part.amps, count))
        if beyond:
            each = f"{count} contacts" if count > 1 else "one contact"
            told = f"{source.noun} {source} gives {arrival} {beyond.amps}{beyond.surge} through {each} of its {part.id}"
            yield _through(arrival, source, f"{told}; that carries {beyond.limit}", beyond)


def _moulded(rail: OutletPoint) -> bool:
    return getattr(rail.spec, "lead", None) is not None


def _through(at: Any, source: OutletPoint, says: str, beyond: _Beyond) -> Finding:
    return Finding(
        beyond.level,
        at,
        says,
        found=beyond.amps,
        allowed=beyond.limit,
        because=beyond.because,
        remedy="spread the load over several outlets, or use a plug with a higher rating",
        place=("plug", "part") if at is source else ("lead", "from"),
        related=[] if at is source else [(source, "the outlet")],
    )


_SOURCE = _SMALL + _RUN.replace('volts = "12 V"', 'volts = "12 V"\nplug = "small"')
_MORE = """
[[node]]
id = "n2"
from = "b"
peak = "{amps}"
load = "current"
lead = "18 AWG, 100 mm"
"""
_MOULDED = _SOURCE.replace('volts = "12 V"', 'volts = "12 V"\nlead = "18 AWG, 1 m"') + _MORE

cases(
    source_plug,
    clean=[
        _SOURCE.format(contacts=1, amps="2 A", lead="18 AWG, 100 mm"),
        _SOURCE.format(contacts=1, amps="3.2 A", lead="18 AWG, 100 mm, 2 x"),
        # two leads on one terminal block: a contact each
        _SOURCE.format(contacts=1, amps="2 A", lead="18 AWG, 100 mm") + _MORE.format(amps="2 A"),
        _MOULDED.format(contacts=1, amps="1 A", lead="18 AWG, 100 mm"),
    ],
    flagged=[
        Case(_SOURCE.format(contacts=1, amps="2.1 A", lead="18 AWG, 100 mm"), at="feed b", found="2.1 A"),
        Case(_SOURCE.format(contacts=1, amps="3.3 A", lead="18 AWG, 100 mm, 2 x"), at="n1", found="3.3 A"),
        Case(_MOULDED.format(contacts=1, amps="1.1 A", lead="18 AWG, 100 mm"), at="b", found="2.2 A"),
    ],
)


@rule(level="error", over="plan")
def fuse_current(plan: Plan, loading: Loading, arrivals: list[Arrival]) -> Iterator[Finding]:
    """What flows through a fuse for longer than a short surge stays within its rating, and within 80 % of it.

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
        if arrival.thing.table == "inline" and arrival.thing.fuse and arrival.settled is not None:
            yield arrival.thing.id, arrival.thing.fuse, arrival.settled, arrival.thing
    for thing in plan.order:
        for outlet in thing.outlets:
            fuse = getattr(outlet.spec, "fuse", None)
            if fuse is not None and outlet.takers:
                yield outlet.name, fuse, settled(loading.amps(outlet)), outlet


_FUSED = _RUN.replace('volts = "12 V"', 'volts = "12 V"\nfuse = "{fuse}"').replace("{lead}", "14 AWG, 100 mm")
_FUSED_SURGE = _SURGE.replace('volts = "12 V"', 'volts = "12 V"\nfuse = "{fuse}"').replace(
    "{lead}", "14 AWG, 100 mm"
)

cases(
    fuse_current,
    clean=[
        _FUSED.format(fuse="10 A blade", amps="8 A"),
        _FUSED_SURGE.format(fuse="10 A blade", amps="8 A", surge="12 A for 10 s"),
    ],
    flagged=[
        # what is longer than a short surge counts, and not what is left at the end
        Case(_FUSED_SURGE.format(fuse="10 A blade", amps="1 A", surge="11 A for 90 s"), "b", found="11 A"),
        Case(_FUSED.format(fuse="10 A blade", amps="8.5 A"), at="b", level="warning"),
        Case(_FUSED.format(fuse="10 A blade", amps="11 A"), at="b", level="error", found="11 A"),
    ],
)


@rule(level="note", over="plan")
def fuse_kind(plan: Plan) -> Iterator[Finding]:
    """A fuse says of which kind it is.

    Its rating alone says neither how long it stands a start, nor what it carries for an hour, nor which short circuit
    it can break: a glass fuse breaks 35 A or ten times its rating, a blade fuse a thousand amps.

    Source: IEC 60127-2 (glass cartridges) and ISO 8820-3 (blades), breaking capacity, from memory.
    """
    things = [thing for thing in plan.order if thing.outlets]
    for thing in things:
        fuse = getattr(thing, "fuse", None)
        fuses = [(thing, fuse)] if fuse is not None else []
        fuses += [
            (outlet, outlet.spec.fuse)
            for outlet in thing.outlets
            if outlet.spec is not thing and getattr(outlet.spec, "fuse", None) is not None
        ]
        for holder, fuse in fuses:
            if fuse.kind is None:
                name = getattr(holder, "name", None) or thing.id
                yield Open(
                    "note",
                    holder,
                    f"of which kind the {Measure(fuse.amps, 'A')} fuse of {name} is, is not given",
                    missing=[f"{name} kind of fuse"],
                    remedy=f'write fuse = "{Measure(fuse.amps, "A")} blade", or glass, fast, slow or ptc',
                    place=("fuse", "part"),
                    subjects=(name,),
                )


cases(
    fuse_kind,
    clean=[_FUSED.format(fuse="10 A blade", amps="1 A")],
    flagged=[Case(_FUSED.format(fuse="10 A", amps="1 A"), at="b", kind="open")],
)


@rule(level="warning", over="feed")
def unfused(feed: Any) -> Iterator[Finding]:
    """A battery has a fuse close to its terminal, in each wire that leaves it.

    A bank gives thousands of amps into a short: a wire that is pinched anywhere before the first fuse glows, and
    nothing stops it until the wire has burnt through. The fuse must be made for DC of these volts and break the current
    of the bank. Caution: fit it last, work with insulated tools and no rings on the fingers, and leave a bank that you
    are not sure of to someone who is. An in-line fuse counts where its lead is no longer than 178 mm.

    Source: ABYC E-11, 7 in from the terminal (from memory); common practice.
    """
    if not feed.battery or feed.fuse is not None:
        return
    for outlet in feed.outlets:
        bare = [inlet for inlet in outlet.takers if not _is_fuse(inlet.thing)]
        far = [inlet for inlet in outlet.takers if inlet not in bare and _length(inlet) > CLOSE]
        if outlet.spec.fuse is not None or not (bare or far):
            continue
        wrong = bare or far
        names = listed([inlet.name for inlet in wrong])
        if bare:
            says = f"battery {outlet} feeds {names} without a fuse"
        else:
            says = f"battery {outlet} has its fuse {names} {Measure(_length(far[0]), 'm')} of wire away"
        yield Finding(
            "warning",
            outlet,
            says,
            found="no fuse" if bare else Measure(_length(far[0]), "m"),
            allowed="a fuse" if bare else Measure(CLOSE, "m"),
            because="nothing else ends a short circuit in the wire that leaves it",
            remedy='put a fuse for the thinnest wire behind it within 150 mm of the terminal: fuse = "15 A blade"',
            place=("fuse", "battery", "part"),
            related=[(inlet, "fed here") for inlet in wrong[:1]],
        )


def _is_fuse(thing: Any) -> bool:
    if thing.table != "inline":
        return False
    used = [outlet for outlet in thing.outlets if outlet.takers]
    block = bool(used) and all(outlet.spec.fuse is not None for outlet in used)
    return thing.fuse is not None or thing.what == "fuse" or block


def _length(inlet: InletPoint) -> float:
    return inlet.lead.length or 0.0 if inlet.lead is not None else 0.0


_BANK = """
[[feed]]
id = "bank"
volts = "24 V"
battery = {battery}
{fuse}
[[inline]]
id = "f"
what = "{what}"
from = "bank"
lead = "12 AWG, {far}"
[[node]]
id = "n1"
from = "{source}"
"""

cases(
    unfused,
    clean=[
        _BANK.format(battery="true", fuse='fuse = "15 A blade"', what="switch", far="1 m", source="bank"),
        _BANK.format(battery="false", fuse="", what="switch", far="1 m", source="bank"),
        _BANK.format(battery="true", fuse="", what="fuse", far="178 mm", source="f"),
        '[[feed]]\nid = "spare"\npart = "battery-bus-24v"',
    ],
    flagged=[
        Case(_BANK.format(battery="true", fuse="", what="switch", far="10 mm", source="f"), at="bank"),
        Case(_BANK.format(battery="true", fuse="", what="fuse", far="10 mm", source="bank"), at="n1"),
        Case(_BANK.format(battery="true", fuse="", what="fuse", far="180 mm", source="f"), at="bank"),
        Case('[[feed]]\nid = "b"\npart = "battery-bus-12v-lead"\n[[node]]\nid = "n"\nfrom = "b"', at="b"),
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
    if not pair.missing or pair.astray:
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
