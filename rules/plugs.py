"""Plugs: the contacts at both ends of every lead, and the inlet behind them, carry what flows through them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, cases, rule
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Plug
from coldcheck.workings.beyond import Beyond, beyond_limit
from coldcheck.workings.contacts import ends_of, rated, together_carry
from coldcheck.workings.harness import Pair
from coldcheck.workings.lead_ends import LeadEnds
from coldcheck.workings.leads import Leads
from coldcheck.workings.net import source_volts
from coldcheck.workings.pin_amps import Flow, PinAmps
from coldcheck.workings.pins import PinWire
from coldcheck.workings.power import Arrival, Loading, settled
from coldcheck.workings.webs import Web, Webs


@rule(level="error", over="arrivals")
def current(inlet: Arrival, leads: Leads, pairs: dict[str, Pair]) -> Iterator[Finding]:
    """The current through a plug stays within the rating of its contacts.

    Contacts that one plug joins are rated for all of them at once, as in SATA power (3 × 1.5 A). Pins that a builder
    puts in parallel age unequally, and the freshest carries most. Where the ohms of a contact new and aged are stated,
    and those of the conductors follow from the lead, its share is computed and held to the rating of one contact; else
    each doubling gives a fifth less than twice the rating. What exceeds it only in a short surge is a warning, since no
    rating for a short time is stated.

    Formula: share of the new one = (aged + wire) / (aged + wire + (n - 1) × (new + wire)); or n pins of rating I in
    parallel carry n × I × 0.8^log2(n).

    Source: current divider (Kirchhoff); published derating note for contacts in parallel (3, 4.8 and 7.68 A for 1, 2
    and 4 pairs of 3 A); contact ratings as stated by each part of the shelf.
    """
    amps, name, pair = inlet.amps, inlet.spec.plug, pairs.get(inlet.name)
    part = leads.plug(name)
    if amps is None or part is None or part.amps is None or (pair is not None and pair.web):
        return  # `pin` judges the contacts of wires that branch, each by itself
    if part.amps_at is None and amps <= part.amps * (part.contacts or 1):
        return
    ours = ends_of(inlet.inlet, leads, pair).ours
    beyond = beyond_limit(amps, inlet.settled, ours.amps) if ours is not None else None
    if beyond and ours is not None:
        yield Finding(
            beyond.level,
            inlet,
            f"{beyond.amps} flows through the {name} of {inlet}{beyond.surge}; it carries {beyond.limit}",
            found=beyond.amps,
            allowed=beyond.limit,
            because="; ".join(filter(None, (ours.how, beyond.because))),
            remedy="use a plug with a higher rating, or more contacts in parallel",
            place=("plug", "into", "part"),
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
_SMALL = """
[[part]]
id = "small"
kind = "plug"
amps = "2 A"
contacts = {contacts}
"""
_TO_IT = 'lead = "18 AWG, 100 mm"\nplug = "small"'
_PLUG = _SMALL + _RUN.replace('lead = "{lead}"', _TO_IT)
_TWO_PINS = ("contacts = 1", 'contacts = 1\npins = {1 = "5v", 2 = "5v", 3 = "gnd", 4 = "gnd"}')
#: A lead of no resistance, and one of 80 mohm out and back: 40 mohm to each of two pins, and as much back.
_TO_PLAIN = ("18 AWG, 100 mm", "0 ohm, 2 x")
_TO_WIRE = ("18 AWG, 100 mm", "40 mohm, 2 x")
_AGED = ('amps = "2 A"\n', 'amps = "2 A"\nohms = "20 mohm"\naged = "60 mohm"\n')
_PLUG_SURGE = _SMALL + _SURGE.replace('lead = "{lead}"', _TO_IT)

cases(
    current,
    clean=[
        _PLUG.format(contacts=1, amps="2 A"),
        _PLUG.format(contacts=2, amps="4 A"),
        # two pins of 2 A that a builder joins carry 3.2 A
        _PLUG.format(contacts=1, amps="3.2 A").replace("100 mm", "100 mm, 2 x").replace(*_TWO_PINS),
        # 20 mohm new beside 60 mohm aged: three quarters in one; 40 mohm of wire to each: 62.5 %
        _PLUG.format(contacts=1, amps="2.66 A").replace(*_TO_PLAIN).replace(*_TWO_PINS).replace(*_AGED),
        _PLUG.format(contacts=1, amps="3.2 A").replace(*_TO_WIRE).replace(*_TWO_PINS).replace(*_AGED),
        _PLUG_SURGE.format(contacts=1, amps="1 A", surge="2 A for 10 s"),
    ],
    flagged=[
        Case(_PLUG.format(contacts=1, amps="2.1 A"), at="n1", found="2.1 A"),
        Case(_PLUG.format(contacts=2, amps="4.1 A"), at="n1"),
        Case(
            _PLUG.format(contacts=1, amps="3.3 A").replace("100 mm", "100 mm, 2 x").replace(*_TWO_PINS),
            at="n1",
        ),
        Case(
            _PLUG.format(contacts=1, amps="2.67 A").replace(*_TO_PLAIN).replace(*_TWO_PINS).replace(*_AGED),
            at="n1",
            found="2.67 A",
        ),
        Case(
            _PLUG.format(contacts=1, amps="3.21 A").replace(*_TO_WIRE).replace(*_TWO_PINS).replace(*_AGED),
            at="carries 3.2 A",
        ),
        # conductors side by side do not give a socket contacts that it has not
        Case(_PLUG.format(contacts=1, amps="2.1 A").replace("100 mm", "100 mm, 8 x"), at="n1", found="2.1 A"),
        Case(_PLUG_SURGE.format(contacts=1, amps="1 A", surge="2.1 A for 10 s"), at="n1", level="warning"),
        Case(_PLUG_SURGE.format(contacts=1, amps="1 A", surge="2.1 A for 90 s"), at="n1", level="error"),
    ],
)


@rule(level="error", over="arrivals")
def inlet(inlet: Arrival) -> Iterator[Finding]:
    """An inlet takes no more than its own rating.

    The input terminal, the trace behind it or a fuse inside may be the weakest place of the whole path. A short surge
    beyond it is a warning.
    """
    limit = inlet.spec.amps
    beyond = beyond_limit(inlet.amps, inlet.settled, limit) if limit is not None else None
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
    inlet,
    clean=[_INTAKE.format(amps="5 A"), _INTAKE_SURGE.format(amps="1 A", surge="5 A for 10 s")],
    flagged=[
        Case(_INTAKE.format(amps="5.1 A"), at="n1", found="5.1 A"),
        Case(_INTAKE_SURGE.format(amps="1 A", surge="5.1 A for 10 s"), at="n1", level="warning"),
        Case(_INTAKE_SURGE.format(amps="1 A", surge="5.1 A for 90 s"), at="n1", level="error"),
    ],
)


@rule(level="error", over="plan")
def source(
    plan: Plan, rails: list[OutletPoint], arrivals: list[Arrival], loading: Loading, leads: Leads,
    pairs: dict[str, Pair],
) -> Iterator[Finding]:  # fmt: skip
    """Each contact of the plug of an outlet carries what flows through it.

    Every thing that hangs on an outlet has a contact of its own there, and so has each conductor side by side: six
    leads on a terminal block are six contacts, and ``2 x`` makes two of one lead; where wires are listed pin by pin,
    the pins of the outlet count. A lead that is moulded to its source has one plug, and all flows through that. The
    volts are computed in the same way. How contacts share is as in `plugs.current`.

    Source: current divider (Kirchhoff), else a published derating note for contacts in parallel; contact ratings as
    stated by each part of the shelf.
    """
    for rail in rails:
        part = leads.plug(rail.spec.plug)
        # With one taker and one kind of plug it is one mated pair, and `plugs.current` speaks of that.
        one = len(rail.takers) == 1 and rail.takers[0].spec.plug == rail.spec.plug
        if part is None or part.amps is None or not rail.takers or one or not _moulded(rail):
            continue
        steps = loading.amps(rail)
        most = max(amps for _, amps in steps)
        whole = together_carry(part, part.contacts or 1)
        beyond = beyond_limit(most, settled(steps), whole.amps) if whole is not None else None
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
        pair = pairs.get(arrival.name)
        if pair is not None and pair.web:
            continue
        theirs = ends_of(arrival.inlet, leads, pair).theirs
        beyond = beyond_limit(arrival.amps, arrival.settled, theirs.amps) if theirs is not None else None
        if beyond and theirs is not None:
            told = f"{source.noun} {source} gives {arrival} {beyond.amps}{beyond.surge} through its {part.id}"
            yield _through(arrival, source, f"{told}; that carries {beyond.limit}", beyond, theirs.how)


def _moulded(rail: OutletPoint) -> bool:
    return getattr(rail.spec, "lead", None) is not None


def _through(at: Any, source: OutletPoint, says: str, beyond: Beyond, how: str = "") -> Finding:
    return Finding(
        beyond.level,
        at,
        says,
        found=beyond.amps,
        allowed=beyond.limit,
        because="; ".join(filter(None, (how, beyond.because))),
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
    source,
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
def pin(
    plan: Plan, webs: Webs, pin_amps: PinAmps, pin_wires: list[PinWire], leads: Leads
) -> Iterator[Finding]:
    """Each contact of wires that branch carries what flows through it, and so does each joint.

    In a daisy chain the first contact carries what all boards draw; at a joint all of it meets. The current is computed
    contact by contact, the one in question being new and all others aged. There is one finding for each harness and
    kind of contact: that of the contact that is beyond its rating by most.

    Source: Kirchhoff's laws; contact ratings as stated by each part of the shelf, by the gauge of the wire where it
    gives them so.
    """
    for web in webs.all:
        worst: dict[str, tuple[float, Beyond, str, str]] = {}
        for name, plug, gauge, flow in _contacts(web, pin_amps, pin_wires, leads):
            limit = rated(plug, gauge)
            beyond = beyond_limit(flow.most, flow.settled, limit) if limit is not None else None
            if beyond and limit is not None and flow.most / limit > worst.get(plug.id, (0.0,))[0]:
                size = (
                    f" with {gauge:.3g} AWG in it" if gauge is not None and plug.amps_at is not None else ""
                )
                worst[plug.id] = flow.most / limit, beyond, name, size
        for kind, (_, beyond, name, size) in worst.items():
            wire = next(w for w in pin_wires if name in (w.a.ref, w.b.ref))
            yield Finding(
                beyond.level,
                wire,
                f"{beyond.amps} flows through {name}{beyond.surge}; one contact of {kind} carries {beyond.limit}{size}",
                found=beyond.amps,
                allowed=beyond.limit,
                because="; ".join(filter(None, (f"it feeds {listed(web.inlets)}", beyond.because))),
                remedy="feed some of these by wires of their own from the source, or use a plug of a higher rating",
                path=(*wire.path, "from" if wire.a.ref == name else "to") if wire.wire.path else wire.path,
                subjects=(name,),
            )


def _contacts(
    web: Web, amps: PinAmps, wires: list[PinWire], leads: Leads
) -> Iterator[tuple[str, Plug, float | None, Flow]]:
    """Yield the contacts of a web and its joints: name, plug, gauge of the thinnest wire there, and what flows."""
    at: dict[str, list[int]] = {}
    for element in web.elements:
        if element.wire is not None:
            for end in (wires[element.wire].a, wires[element.wire].b):
                at.setdefault(end.ref, []).append(element.wire)
    for name, numbers in at.items():
        own = next(w for i in numbers for w in (wires[i].a, wires[i].b) if w.ref == name)
        gauge = max((g for i in numbers if (g := wires[i].gauge) is not None), default=None)
        flows = [amps.wires[i] for i in numbers if i in amps.wires]
        if own.splice:
            splice = next(s for s in wires[numbers[0]].harness.splice if s.id == own.pin)
            part, flow = leads.plug(splice.plug), max(flows, key=lambda f: f.most, default=None)
        else:
            part, flow = leads.plug(own.plug), amps.contacts.get(name)
        if part is not None and flow is not None:
            yield name, part, gauge, flow


_CHAIN = """
[[part]]
id = "small"
kind = "plug"
amps = "3 A"
amps_at = "3 A at 22 AWG, 2 A at 26 AWG"
ohms = "10 mohm"
keyed = true
[[part]]
id = "joint"
kind = "plug"
amps = "3.5 A"
[[feed]]
id = "b"
volts = "12 V"
[[feed.connector]]
id = "out"
plug = "{source}"
pins = {{1 = "12v", 2 = "gnd"}}
[[node]]
id = "n1 .. n3"
from = "b"
plug = "small"
peak = "{amps}"
load = "current"
pins = {{1 = "+", 2 = "gnd"}}
[[harness]]
id = "h"
gauge = "{gauge}"
length = "100 mm"
[[harness.splice]]
id = "s"
plug = "joint"
[[harness.wire]]
from = "b.out.1"
to = "{first}"
"""
_ON = '[[harness.wire]]\nfrom = "{}"\nto = "{}"\n'
_BACK = "".join(_ON.format(a, b) for a, b in (("b.out.2", "n1.2"), ("n1.2", "n2.2"), ("n2.2", "n3.2")))
_DAISY = "".join(_ON.format(f"n{n}.1", f"n{n + 1}.1") for n in (1, 2)) + _BACK
_JOINT = "".join(_ON.format("s", f"n{n}.1") for n in (1, 2, 3)) + "".join(
    _ON.format("b.out.2", f"n{n}.2") for n in (1, 2, 3)
)


def _chain(
    amps: str, gauge: str = "22 AWG", source: str = "screw-2", first: str = "n1.1", more: str = _DAISY
) -> str:
    return _CHAIN.format(amps=amps, gauge=gauge, source=source, first=first) + more


cases(
    pin,
    clean=[
        # each board has a contact of its own; the wires on to the next do not pass through it
        _chain("1 A"),
        _chain("1 A", source="small"),
        _chain("1.16 A", first="s", more=_JOINT),
        _chain("2 A", gauge="26 AWG", first="s", more=_JOINT).replace('"3.5 A"', '"9 A"'),
    ],
    flagged=[
        # the one contact at the source carries all three
        Case(_chain("1.1 A", source="small"), at="b.out.1", found="3.3 A", mended=_chain("1.1 A")),
        Case(_chain("0.7 A", gauge="26 AWG", source="small"), at="with 26 AWG in it", found="2.1 A"),
        Case(_chain("1.2 A", first="s", more=_JOINT), at="h.s", found="3.6 A"),
        Case(_chain("2.1 A", gauge="26 AWG", first="s", more=_JOINT), at="n1.1", found="2.1 A"),
    ],
)


@rule(level="error", over="plan")
def no_pin(plan: Plan, lead_ends: dict[str, LeadEnds]) -> Iterator[Finding]:
    """The plug at each end of a lead has a pin for the volts there.

    The name of a pin states its volts, so a pin of 5 V is no place for 12 V, even if the plug fits. Either the plug is
    another one, or its pins are used otherwise than its shelf says, and then the plan must list them.
    """
    del plan
    told: set[int] = set()
    for end in (end for ends in lead_ends.values() for end in (ends.a, ends.b)):
        if not end.other or id(end.point.spec) in told:
            continue
        told.add(id(end.point.spec))
        volts = _volts_at(end.point)
        yield Finding(
            "error",
            end.point,
            f"{end.point.name} is of {volts}, and its {end.plug or 'connector'} has no pin for that",
            found=volts,
            allowed=listed(end.other),
            remedy="name another plug, or say what its pins carry here: pins = {...}"
            if hasattr(end.point.spec, "pins")
            else "name another plug",
            place=("plug", "pins", "part"),
        )


def _volts_at(point: InletPoint | OutletPoint) -> str:
    if isinstance(point, OutletPoint):
        return str(Measure((source_volts(point.root) or (0.0,))[0], "V"))
    low, high = (Measure(volts, "V") for volts in point.spec.volts or (0.0, 0.0))
    return f"{low} .. {high}" if low != high else str(low)


_PINNED = (
    '[[feed]]\nid = "f"\nvolts = "{}"\n[[node]]\nid = "n"\nvolts = "{}"\nfrom = "f"\nplug = "{}"\n'
    'lead = "22 AWG, 100 mm"\n'
)
_GIVES = '[[feed]]\nid = "f"\nvolts = "{}"\nplug = "atx-24"\n[[node]]\nid = "n"\nfrom = "f"\nlead = "22 AWG, 1 m"\n'
cases(
    no_pin,
    clean=[
        _PINNED.format("5 V", "4.75 V .. 5.25 V", "header-40"),
        _PINNED.format("12 V", "11 V .. 13 V", "jumper-2.54"),
        _GIVES.format("12 V"),
        _GIVES.format("12.4 V"),  # trimmed
        _PINNED.format("12 V", "11 V .. 13 V", "header-40") + 'pins = {1 = "12v", 2 = "gnd"}\n',
    ],
    flagged=[
        Case(
            _PINNED.format("12 V", "11 V .. 13 V", "header-40"),
            at="n is of 11 V .. 13 V",
            level="error",
            mended=_PINNED.format("12 V", "11 V .. 13 V", "barrel-5.5-2.1"),
        ),
        Case(_GIVES.format("19 V"), at="f is of 19 V", level="error", mended=_GIVES.format("5 V")),
    ],
)
