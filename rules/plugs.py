"""Plugs: the contacts at both ends of every lead, and the inlet behind them, carry what flows through them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, cases, rule
from coldcheck.plan.model import OutletPoint, Plan
from coldcheck.workings.beyond import Beyond, beyond_limit
from coldcheck.workings.contacts import ends_of, together_carry
from coldcheck.workings.harness import Pair
from coldcheck.workings.leads import Leads
from coldcheck.workings.power import Arrival, Loading, settled


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
    amps, name = inlet.amps, inlet.spec.plug
    part = leads.plug(name)
    if amps is None or part is None or part.amps is None or amps <= part.amps * (part.contacts or 1):
        return
    ours = ends_of(inlet.inlet, leads, pairs.get(inlet.name)).ours
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
        theirs = ends_of(arrival.inlet, leads, pairs.get(arrival.name)).theirs
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
