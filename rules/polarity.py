"""Polarity notes: plugs that can be reversed or swapped, and what to check before power is applied."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Measure, Open, Review, cases, rule
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.harness import End, PinWire, volts_of_signal
from coldcheck.workings.leads import Leads
from coldcheck.workings.power import source_volts


def _is_barrel(plug: str | None) -> bool:
    return bool(plug) and str(plug).startswith("barrel")


@rule(level="error", over="plan")
def unguarded(plan: Plan, inlets: list[InletPoint], leads: Leads) -> Iterator[Finding]:
    """Before power, a person checks every plug that can be connected the wrong way round.

    It concerns the inlets that would not survive it. On a bare row of pins a plug shifted by one puts 5 V on ground or
    on a signal pin, and power fed there bypasses the fuse and the reverse protection of the board. No arithmetic sees
    how a plug is held: measure between the two contacts of the plug, red lead on plus, before it goes in, and one
    board first. There is one finding for each kind of plug and source volts, whatever hangs on it.

    Source: design guide of the 40-pin header (power at pins 2 and 4 joins behind fuse and diode); common practice.
    """
    groups: dict[tuple[str, float, float | None], list[InletPoint]] = {}
    for inlet in inlets:
        plug = leads.plug(inlet.spec.plug)
        if plug is None or plug.keyed is not False:
            continue
        volts = source_volts(inlet.source) if inlet.source is not None else None
        survives = inlet.spec.survives
        if volts is None or (survives is not None and survives[0] <= -volts[2]):
            continue
        key = (plug.id, volts[0], survives[0] if survives else None)
        groups.setdefault(key, []).append(inlet)
    for (name, nominal, least), found in groups.items():
        worst = f"no less than {Measure(least, 'V')} is survived" if least is not None else _UNSURVIVED
        yield Review(
            found[0],
            f"the {name} of {listed([i.name for i in found])} can be connected the wrong way round, and {worst}",
            because=f"{Measure(nominal, 'V')} is on it",
            remedy=f"before power, measure {Measure(nominal, 'V')} between the contacts of each plug, the right way "
            "round; then connect one thing alone",
            place=("into", "plug", "part"),
            subjects=tuple(i.name for i in found),
            related=[(t, "and here") for t in _first_of_each_table(found)[1:4]],
        )


_UNSURVIVED = "nothing says that this is survived"


def _first_of_each_table(inlets: list[InletPoint]) -> list[InletPoint]:
    return list({inlet.thing.path: inlet for inlet in reversed(inlets)}.values())[::-1]


_HEADER = """
[[part]]
id = "row"
kind = "plug"
keyed = {keyed}
[[feed]]
id = "five"
volts = "5 V"
[[node]]
id = "n1"
from = "five"
plug = "row"
survives = "{survives}"
"""

cases(
    unguarded,
    clean=[
        _HEADER.format(keyed="true", survives="-0.3 V .. 5.5 V"),
        _HEADER.format(keyed="false", survives="-6 V .. 6 V"),
    ],
    flagged=[Case(_HEADER.format(keyed="false", survives="-0.3 V .. 5.5 V"), at="n1", kind="review")],
)


@rule(level="error", over="inlets")
def centre(inlet: InletPoint) -> Iterator[Finding]:
    """A barrel plug has the same polarity as the socket it goes into.

    Centre positive is usual, centre negative exists, and no standard settles it: read the sign on both labels.

    Source: maker pages on coaxial DC plugs; common practice.
    """
    source = inlet.source
    barrels = [_is_barrel(inlet.spec.plug), source is not None and _is_barrel(source.spec.plug)]
    if source is None or not any(barrels):
        return
    ours, theirs = inlet.spec.centre, source.spec.centre
    if not barrels[1]:
        theirs = theirs or ours  # a lead of one's own is crimped to suit the socket
    if not barrels[0]:
        ours = ours or theirs
    if ours and theirs and ours != theirs:
        yield Finding(
            "error",
            inlet,
            f"{inlet} wants its centre {ours}, but the plug of {source} has its centre {theirs}",
            found=f"centre {theirs}",
            allowed=f"centre {ours}",
            because="the pair is reversed at the inlet",
            remedy="use a plug of the other polarity, or cross the two wires of the lead and mark it",
            place=("centre", "from"),
            related=[(source, f"{source} is here")],
        )
    elif not (ours and theirs):
        side = inlet if not ours else source
        yield Open(
            "error",
            side,
            f"{side}: which way its barrel plug is poled is not given, so {inlet} may be reversed",
            missing=[f"{side} centre"],
            remedy='read the sign on the label and add centre = "positive" or "negative"',
            place=("plug", "part"),
            subjects=(str(side),),
        )


_BARREL = """
[[feed]]
id = "brick"
volts = "12 V"
plug = "barrel-5.5-2.1"
{theirs}
[[switch]]
id = "sw"
from = "brick"
plug = "barrel-5.5-2.1"
{ours}
"""
_PLUS, _MINUS = 'centre = "positive"', 'centre = "negative"'

cases(
    centre,
    clean=[_BARREL.format(ours=_PLUS, theirs=_PLUS)],
    flagged=[
        Case(
            _BARREL.format(ours=_PLUS, theirs=_MINUS),
            "sw",
            level="error",
            mended=_BARREL.format(ours=_PLUS, theirs=_PLUS),
        ),
        Case(_BARREL.format(ours="", theirs=_PLUS), at="sw", kind="open"),
        Case(_BARREL.format(ours=_PLUS, theirs=""), at="brick", kind="open"),
    ],
)


@rule(level="error", over="inlets")
def plug_mates(inlet: InletPoint) -> Iterator[Finding]:
    """A plug that goes straight into a thing fits its socket.

    A 2.5 mm plug on a 2.1 mm pin makes contact now and then; a 2.1 mm plug does not go on a 2.5 mm pin. Where a lead is
    given, it is crimped to suit both ends.

    Source: note on concentric barrel plugs.
    """
    source = inlet.source
    if source is None or inlet.lead is not None or inlet.thing.table == "drive":
        return
    ours, theirs = inlet.spec.plug, source.spec.plug
    captive = getattr(source.spec, "lead", None) is not None
    if ours and theirs and ours != theirs and captive:
        yield Finding(
            "error",
            inlet,
            f"the {theirs} plug of {source} does not fit the {ours} of {inlet}",
            found=theirs,
            allowed=ours,
            remedy="use an adapter ([[inline]]), another plug, or a lead of your own",
            place=("plug", "from"),
            related=[(source, f"{source} is here")],
        )


_MATES = """
[[feed]]
id = "brick"
volts = "12 V"
plug = "barrel-5.5-2.5"
lead = "18 AWG, 1.5 m"
[[switch]]
id = "sw"
from = "brick"
plug = "barrel-5.5-{}"
"""

cases(plug_mates, clean=[_MATES.format("2.5")], flagged=[Case(_MATES.format("2.1"), at="sw")])


@rule(level="warning", over="plan")
def mixed_plugs(plan: Plan, inlets: list[InletPoint], leads: Leads) -> Iterator[Finding]:
    """Plugs that fit into each other carry the same volts everywhere in the box.

    Plug fit proves nothing about volts: the one slip that a tired hand makes is the right plug in the wrong socket.

    Source: common practice.
    """
    families: dict[str, dict[float, list[InletPoint]]] = {}
    for inlet in inlets:
        plug, volts = leads.plug(inlet.spec.plug), source_volts(inlet.source) if inlet.source else None
        if plug is None or plug.family is None or volts is None:
            continue
        families.setdefault(plug.family, {}).setdefault(round(volts[0], 1), []).append(inlet)
    for family, by_volts in families.items():
        lowest = min(by_volts)
        apart = {v: found for v, found in by_volts.items() if v > lowest * 1.1}
        if not apart:
            continue
        parts = [
            f"{Measure(v, 'V')} at {listed([i.name for i in found])}" for v, found in sorted(by_volts.items())
        ]
        first = apart[max(apart)][0]
        yield Finding(
            "warning",
            first,
            f"plugs of the family {family} carry {' and '.join(parts)}: they fit into each other",
            because="the wrong one goes in without force",
            remedy="use another plug for one of them, or mark both ends with the volts in large figures",
            place=("plug", "part"),
            related=[(by_volts[lowest][0], "the other volts")],
            subjects=tuple(i.name for found in apart.values() for i in found),
        )


_MIXED = """
[[part]]
id = "barrel-x"
kind = "plug"
family = "barrel 5.5 mm"
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "{}"
[[switch]]
id = "s1"
from = "a"
plug = "barrel-x"
[[switch]]
id = "s2"
from = "b"
plug = "barrel-x"
"""

cases(mixed_plugs, clean=[_MIXED.format("5.1 V")], flagged=[Case(_MIXED.format("12 V"), at="s2")])


@rule(level="error", over="pin_wires")
def pins_agree(pin_wire: PinWire) -> Iterator[Finding]:
    """A wire joins pins that carry the same thing: plus to plus of the same volts, return to return.

    One wire on the neighbouring pin destroys a board in a second, and it looks right.
    """
    a, b = pin_wire.a, pin_wire.b
    for end in (a, b):
        if end.unknown:
            yield Finding(
                "error",
                pin_wire,
                f"the wire {pin_wire.name} ends nowhere: {end.unknown}",
                remedy="name an existing pin: thing.connector.pin",
                place=("to" if end is b else "from",),
            )
            return
    if not a.signal or not b.signal or _same(a, b):
        return
    yield Finding(
        "error",
        pin_wire,
        f"the wire {pin_wire.name} joins {a.signal} to {b.signal}",
        found=a.signal,
        allowed=b.signal,
        because=f"{a.ref} carries {a.signal}, {b.ref} carries {b.signal}",
        remedy=f"move one end to a pin that carries the same: {b.ref} is {b.signal}",
        place="to",
    )


def _same(a: End, b: End) -> bool:
    volts = volts_of_signal(a.signal), volts_of_signal(b.signal)
    if None not in volts:
        return volts[0] == volts[1]
    plus = [(end, other) for end, other in ((a, volts[1]), (b, volts[0])) if end.signal == "+"]
    if plus:
        return all(other is None or other > 0 for _, other in plus) and not (a.is_return or b.is_return)
    return a.signal == b.signal


_PINS = """
[[feed]]
id = "b"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd"}}
[[node]]
id = "n1"
from = "b"
[[node.inlet]]
id = "in"
pins = {{4 = "5v", 6 = "gnd", 8 = "signal"}}
[[harness]]
id = "h"
[[harness.wire]]
from = "b.out.1"
to = "n1.in.{plus}"
[[harness.wire]]
from = "b.out.2"
to = "n1.in.{minus}"
"""

cases(
    pins_agree,
    clean=[_PINS.format(plus=4, minus=6), _PINS.format(plus=4, minus=6).replace('4 = "5v"', '4 = "+"')],
    flagged=[
        # a two-way plug shifted by one: 5 V on ground, ground on a signal pin
        Case(_PINS.format(plus=6, minus=8), at="n1.in.6", mended=_PINS.format(plus=4, minus=6)),
        Case(_PINS.format(plus=6, minus=4), at="n1.in.4"),
        Case(_PINS.format(plus=5, minus=6), at="n1.in.5"),
        Case(_PINS.format(plus=4, minus=6).replace("b.out.1", "b.uot.1"), at="uot"),
    ],
)


@rule(level="error", over="plan")
def two_sources(plan: Plan) -> Iterator[Finding]:
    """Two sources never meet on one board without something that keeps them apart.

    Some boards join header and plug with nothing in between: the higher source feeds the lower one backwards.
    An inlet that does not say what it blocks counts as open.

    Source: design guide of the 40-pin header; desktop board manual, section 2.6.1 (never both inputs).
    """
    things: list[Any] = [thing for thing in plan.order if len(thing.inlets) > 1]
    for thing in things:
        fed = [i for i in thing.inlets if i.source is not None]
        if len(fed) < 2 or thing.use == "or-ed":
            continue
        for i, first in enumerate(fed):
            for second in fed[i + 1 :]:
                a, b = first.spec.volts, second.spec.volts
                meet = a is None or b is None or (a[0] <= b[1] and b[0] <= a[1])
                if not meet or first.source is second.source:
                    continue
                if first.spec.backfeed == second.spec.backfeed == "blocked":
                    continue
                yield Finding(
                    "error",
                    second,
                    f"{first} and {second} are fed by {first.source} and {second.source}, and nothing keeps them apart",
                    because='an inlet that does not say backfeed = "blocked" lets power out',
                    remedy='feed it once, put a diode in each lead, or state what blocks: backfeed, use = "or-ed"',
                    place=("from",),
                )


_MEET = """
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "5 V"
[[node]]
id = "n1"
from = ["a", "b"]
{use}
[[node.inlet]]
id = "usb"
volts = "4.75 V .. 5.25 V"
[[node.inlet]]
id = "header"
volts = "{volts}"
"""

cases(
    two_sources,
    clean=[
        _MEET.format(use='use = "or-ed"', volts="4.75 V .. 5.25 V"),
        _MEET.format(use="", volts="11.4 V .. 12.6 V"),
    ],
    flagged=[Case(_MEET.format(use="", volts="4.75 V .. 5.25 V"), at="n1.header")],
)
