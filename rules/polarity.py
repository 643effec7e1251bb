"""Polarity notes: plugs that can be reversed or swapped, and what to check before power is applied."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck import Case, Finding, Measure, Open, Review, cases, rule
from coldcheck.plan.model import InletPoint, Plan, joined
from coldcheck.plan.spans import listed
from coldcheck.workings.harness import Bundle, End, PinWire, agree
from coldcheck.workings.leads import Leads
from coldcheck.workings.power import Arrival, Loading, Net, source_volts


def _is_barrel(plug: str | None) -> bool:
    return bool(plug) and str(plug).startswith("barrel")


@rule(level="error", over="plan")
def unguarded(plan: Plan, arrivals: list[Arrival], leads: Leads) -> Iterator[Finding]:
    """Before power, a person checks every plug that can be connected the wrong way round.

    It concerns the inlets that would not survive it. On a bare row of pins a plug shifted by one puts 5 V on ground or
    on a signal pin, and power fed there bypasses the fuse and the reverse protection of the board. No arithmetic sees
    how a plug is held: measure between the two contacts of the plug, red lead on plus, before it goes in, and one
    board first. There is one finding for each kind of plug and source volts, whatever hangs on it. In-line things are
    left out: a fuse or a switch works either way round.

    Source: design guide of the 40-pin header (power at pins 2 and 4 joins behind fuse and diode); common practice.
    """
    groups: dict[tuple[str, float, float | None], list[InletPoint]] = {}
    for arrival in arrivals:
        inlet, volts = arrival.inlet, arrival.fed
        plug = leads.plug(inlet.spec.plug)
        if plug is None or plug.keyed is not False or volts is None or inlet.thing.table == "inline":
            continue
        survives = inlet.spec.survives
        if survives is not None and survives[0] <= -volts[2]:
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
_BEHIND = """
[[part]]
id = "row"
kind = "plug"
keyed = false
[[feed]]
id = "five"
volts = "5 V"
[[inline]]
id = "f"
what = "fuse"
from = "five"
{its}
[[node]]
id = "n1"
from = "f"
plug = "{plug}"
"""

cases(
    unguarded,
    clean=[
        _HEADER.format(keyed="true", survives="-0.3 V .. 5.5 V"),
        _HEADER.format(keyed="false", survives="-6 V .. 6 V"),
        _BEHIND.format(its='plug = "row"', plug="other"),
    ],
    flagged=[
        Case(_HEADER.format(keyed="false", survives="-0.3 V .. 5.5 V"), at="n1", kind="review"),
        # the volts come through an in-line thing
        Case(_BEHIND.format(its="", plug="row"), at="n1", kind="review"),
    ],
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
def mixed_plugs(plan: Plan, arrivals: list[Arrival], leads: Leads) -> Iterator[Finding]:
    """Plugs that may go into each other carry the same volts everywhere in the box.

    Plug fit proves nothing about volts: the one slip that a tired hand makes is the right plug in the wrong socket.

    Source: common practice.
    """
    families: dict[str, dict[float, list[InletPoint]]] = {}
    for arrival in arrivals:
        plug, volts = leads.plug(arrival.spec.plug), arrival.fed
        if plug is None or plug.family is None or volts is None:
            continue
        families.setdefault(plug.family, {}).setdefault(round(volts[0], 1), []).append(arrival.inlet)
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
            f"plugs of the family {family} carry {' and '.join(parts)}: they may go into each other",
            because="plugs of one family look alike, and the wrong one may go in without force",
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

_SWITCHED = _MIXED.replace('from = "b"', 'from = "f"') + '[[inline]]\nid = "f"\nwhat = "switch"\nfrom = "b"\n'

cases(
    mixed_plugs,
    clean=[_MIXED.format("5.1 V")],
    flagged=[Case(_MIXED.format("12 V"), at="s2"), Case(_SWITCHED.format("12 V"), at="s2")],
)


@rule(level="error", over="pin_wires")
def pins_agree(pin_wire: PinWire) -> Iterator[Finding]:
    """A wire joins pins that carry the same thing: plus to plus of the same volts, return to return.

    One wire on the neighbouring pin destroys a board in a second, and it looks right. Until this is mended, the wires
    of that inlet are left out of every computation, and its lead counts.
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
    if not a.signal or not b.signal or agree(a, b):
        return
    yield Finding(
        "error",
        pin_wire,
        f"the wire {pin_wire.name} joins {a.signal} to {b.signal}: {_harm(a, b)}",
        found=a.signal,
        allowed=b.signal,
        because=f"{a.ref} carries {a.signal}, {b.ref} carries {b.signal}",
        remedy=", or ".join(filter(None, (_pins_for(a, b), _pins_for(b, a)))) or _NEITHER,
        place="to",
    )


_NEITHER = "take the wire out: neither connector has a pin for the other end of it"


def _harm(a: End, b: End) -> str:
    """Return what two pins do to each other that do not carry the same."""
    plus, other = (a, b) if a.is_plus else (b, a)
    volts = str(Measure(plus.volts, "V")) if plus.volts is not None else "a plus"
    if plus.is_plus and other.is_return:
        return f"{volts} into ground is a short circuit"
    if plus.is_plus and other.volts is not None:
        return f"two sources of {volts} and {Measure(other.volts, 'V')} meet, or a part made for one gets the other"
    if plus.is_plus:
        return f"{volts} on a pin that is no power pin destroys what is behind it"
    if a.is_return or b.is_return:
        return "the return has no way back, and that pin is held at ground"
    return "neither end does its work"


def _pins_for(kept: End, moved: End) -> str:
    """Return which pins of the connector at one end carry what the other end carries; empty where none does."""
    if kept.takes and kept.is_plus and kept.volts is None and kept.fed is not None:
        kept = msgspec.structs.replace(kept, rail=kept.fed)  # a plus takes the volts of what feeds it
    fitting = [pin for pin in moved.pins if agree(kept, moved.at(pin))]
    if not fitting:
        return ""
    some = (
        " or ".join(fitting) if len(fitting) < 3 else ", ".join(fitting[:4]) + (" ..." if fitting[4:] else "")
    )
    return f"put its end at {moved.place} on pin {some} for {kept.signal}"


_PINS = """
[[feed]]
id = "b"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd", 3 = "+"}}
[[node]]
id = "n1"
from = "b"
[[node.inlet]]
id = "in"
pins = {{4 = "5v", 6 = "gnd", 8 = "signal"}}
[[harness]]
id = "h"
[[harness.wire]]
from = "b.out.{source}"
to = "n1.in.{plus}"
[[harness.wire]]
from = "b.out.2"
to = "n1.in.{minus}"
"""


def _pins(plus: int, minus: int, source: int = 1) -> str:
    return _PINS.format(plus=plus, minus=minus, source=source)


_RAILS = """
[[supply]]
id = "b"
[[supply.rail]]
id = "out"
volts = "{volts}"
[[supply.connector]]
id = "c"
pins = {{1 = "out"}}
[[node]]
id = "n1"
from = "b"
pins = {{1 = "5v"}}
[[harness]]
id = "h"
[[harness.wire]]
from = "b.c.1"
to = "n1.1"
"""

cases(
    pins_agree,
    clean=[
        _pins(4, 6),
        _pins(4, 6, 3),
        _pins(4, 6).replace('4 = "5v"', '4 = "+"'),
        _pins(4, 6).replace('6 = "gnd"', '6 = "GND"'),
        _pins(4, 6).replace('6 = "gnd"', '6 = "0 V"'),
        _pins(4, 6).replace('6 = "gnd"', '6 = "ground"').replace('4 = "5v"', '4 = "+5V"'),
        # a pin that is called by its rail carries the volts of that rail
        _RAILS.format(volts="5.1 V"),
    ],
    flagged=[
        # a two-way plug shifted by one: 5 V on ground, ground on a signal pin
        Case(_pins(6, 8), at="n1.in.6", mended=_pins(4, 6)),
        Case(_pins(6, 8), at="5 V into ground is a short circuit"),
        Case(_pins(6, 4), at="n1.in.4"),
        Case(_pins(5, 6), at="n1.in.5"),
        Case(_pins(4, 6).replace("b.out.1", "b.uot.1"), at="uot"),
        Case(_pins(8, 6, 3), at="n1.in.8"),  # "+" on a signal
        Case(_pins(4, 6).replace('4 = "5v"', '4 = "-5v"'), at="n1.in.4"),
        Case(_RAILS.format(volts="12 V"), at="n1.1"),
    ],
)


@rule(level="error", over="plan")
def pins_unknown(plan: Plan, pin_wires: list[PinWire]) -> Iterator[Finding]:
    """What a pin carries is known at both ends of every wire.

    A terminal block without a list of its pins hides plus on ground as well as a plug does. There is one finding for
    each connector. Where a single pin of it goes to pins that carry different things, that is wrong whatever it is.
    """
    places: dict[str, dict[str, list[tuple[End, End, PinWire]]]] = {}
    for wire in pin_wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            if mine.blind and not other.unknown:
                places.setdefault(mine.place, {}).setdefault(mine.ref, []).append((mine, other, wire))
    for place, by_pin in places.items():
        unknown = []
        for ref, ends in by_pin.items():
            clash = _clash(ends)
            if clash is None:
                unknown += ends
            else:
                yield _joined(ref, *clash)
        if unknown:
            yield _not_given(plan, place, unknown)


def _clash(ends: list[tuple[End, End, PinWire]]) -> tuple[End, End, PinWire] | None:
    """Return two ends that one pin joins and must not, and the wire of the second."""
    known = [(other, wire) for _, other, wire in ends if other.signal]
    for i, (first, _) in enumerate(known):
        for second, wire in known[i + 1 :]:
            if (first.carries or second.carries) and not agree(first, second):
                return first, second, wire
    return None


def _joined(ref: str, first: End, second: End, wire: PinWire) -> Finding:
    return Finding(
        "error",
        wire,
        f"{ref} is wired to {first.ref} and {second.ref}, {first.signal} and {second.signal}: {_harm(first, second)}",
        found=second.signal,
        allowed=first.signal,
        because=f"whatever {ref} carries, it joins the two",
        remedy=f"move one of the two wires to another pin than {ref}",
        place="to" if second is wire.b else "from",
    )


def _not_given(plan: Plan, place: str, ends: list[tuple[End, End, PinWire]]) -> Finding:
    mine, _, first = ends[0]
    refs = list(dict.fromkeys(own.ref for own, _, _ in ends))
    far = list(dict.fromkeys(other.ref for _, other, _ in ends))
    wires = "wire" if len(ends) == 1 else "wires"
    carries = "carries" if len(refs) == 1 else "carry"
    are = "is" if len(ends) == 1 else "are"
    return Open(
        "error",
        first,
        f"what {listed(refs)} {carries} is not given, so the {wires} to {listed(far)} {are} not judged",
        missing=[f"{place} pins"],
        remedy=_how_to_give(plan.things[mine.thing], mine),
        place="from" if mine is first.a else "to",
        subjects=(place,),
    )


def _how_to_give(thing: Any, end: End) -> str:
    """Return how to say what the pins of a point carry: an outlet has no pins of its own, but a connector may."""
    listing = next((point for point in thing.connector if point.pins), None)
    if listing is not None and not end.pinned:
        known = ", ".join(f"{pin} = {signal}" for pin, signal in list(listing.pins.items())[:4])
        return f"write a pin of its connector: {thing.id}.{listing.id}.{next(iter(listing.pins))} ({known})"
    table, pins = thing.table, 'pins = {1 = "5v", 2 = "gnd"}'
    plug = 'or name a plug whose pins are on the shelf, like plug = "screw-2"'
    if end.pinned:
        inner = "" if not end.point else ".inlet" if end.takes or end.idle else ".connector"
        return f"add {pins} under the [[{table}{inner}]] of {end.place}, {plug}"
    return (
        f'describe its connector: [[{table}.connector]] with id = "out" and {pins}, '
        f"and write {end.thing}.out.{end.pin}; {plug}"
    )


_BLIND = """
[[feed]]
id = "f"
volts = "5 V"
plug = "{plug}"
[[node]]
id = "n1"
from = "f"
[[node.inlet]]
id = "in"
{mine}
[[harness]]
id = "h"
[[harness.wire]]
from = "f.1"
to = "n1.in.1"
[[harness.wire]]
from = "f.{minus}"
to = "n1.in.{to}"
"""
_GIVEN = "screw-2"  # its pins are on the shelf
_CONNECTOR = '[[feed.connector]]\nid = "out"\npins = {1 = "5v", 2 = "gnd"}\n'
_OURS = 'pins = {1 = "5v", 2 = "gnd", 3 = "5v", 4 = "signal"}'


def _blind(plug: str = "terminal-5.08", mine: str = _OURS, minus: int = 2, to: int = 2) -> str:
    return _BLIND.format(plug=plug, mine=mine, minus=minus, to=to)


cases(
    pins_unknown,
    clean=[
        _blind(_GIVEN),
        _blind().replace('"f.', '"f.out.').replace("[[node]]", _CONNECTOR + "[[node]]"),
        # told by `pins_agree`: there is no such thing
        _blind(_GIVEN).replace('"f.1"', '"g.1"'),
    ],
    flagged=[
        Case(_blind(), at="what f.1 and f.2 carry", kind="open", mended=_blind(_GIVEN)),
        Case(_blind().replace('plug = "terminal-5.08"\n', ""), at="f", kind="open"),
        Case(_blind(_GIVEN, mine=""), at="n1.in", kind="open", mended=_blind(_GIVEN)),
        Case(_blind(mine=""), at="n1.in", kind="open"),
        # one pin that goes to two of plus is no short circuit, but still not known
        Case(_blind(minus=1, to=3), at="what f.1 carries is not given", kind="open"),
        Case(_blind(minus=1), at="is a short circuit", level="error", mended=_blind(_GIVEN)),
        Case(_blind(minus=1, to=4), at="5v and signal", level="error"),
    ],
)


@rule(level="error", over="plan")
def wired_elsewhere(plan: Plan, bundles: dict[str, Bundle], pin_wires: list[PinWire]) -> Iterator[Finding]:
    """Wires listed pin by pin come from what the plan says feeds the inlet.

    Either the wire is in the wrong plug, and then the volts may be wrong as well, or ``from`` is, and then every
    computation is of another rail. Until this is mended, the wires of that inlet are left out, and its lead counts.
    """
    for bundle in bundles.values():
        if not bundle.strange:
            continue
        inlet, source = bundle.inlet, bundle.inlet.source
        _, end, wire = bundle.strange[0]
        comes = f"{end.thing}.{end.outlet}" if end.outlet else end.thing
        plus = end.is_plus or not end.is_return
        verb = f"its wire comes from {comes}" if plus else f"its return goes to {end.thing}"
        yield Finding(
            "error",
            inlet,
            f"{inlet} is fed from {source}, but {verb}",
            found=comes,
            allowed=str(source),
            remedy=f"move the wire to a pin of {source}, or write what feeds {inlet} in its from",
            path=(*wire.path, "from"),
            related=[(inlet, "what feeds it")],
        )
    yield from _to_idle_inlets(plan, pin_wires)


def _to_idle_inlets(plan: Plan, pin_wires: list[PinWire]) -> Iterator[Finding]:
    """Yield the inlets that get a plus by wire though their thing takes power by others. A board may also give power
    out by such pins, so a wire on to an inlet in use is none of these."""
    seen: set[str] = set()
    for wire in pin_wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            if not mine.idle or other.takes or mine.place in seen or not (mine.is_plus or other.is_plus):
                continue
            thing = plan.things[mine.thing]
            used = [inlet for inlet in getattr(thing, "inlets", ()) if inlet.source is not None]
            if not used or wire.wrong:
                continue  # what feeds it is told already, and so is the wire
            seen.add(mine.place)
            names = listed([inlet.id for inlet in used])
            yield Finding(
                "error",
                thing,
                f"{mine.thing} takes power by {names}, but wires go to {mine.place}",
                found=mine.place,
                allowed=listed([inlet.name for inlet in used]),
                because="every computation is of the other inlet, and power on both meets on the board",
                remedy=f'write into = "{mine.point}", or move the wires to {listed([i.name for i in used])}',
                path=(*wire.path, "to" if mine is wire.b else "from"),
                related=[(used[0], "how it takes power")],
            )


_IDLE = """
[[feed]]
id = "five"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd", 3 = "signal"}}
[[node]]
id = "n1"
part = "board-4core-5v-3a"
from = "five"
into = "{into}"
[[harness]]
id = "h"
[[harness.wire]]
from = "five.out.{pin}"
to = "n1.header.{to}"
[[harness.wire]]
from = "five.out.2"
to = "n1.header.6"
"""


_ELSEWHERE = """
[[supply]]
id = "five"
[[supply.rail]]
id = "5v"
volts = "5 V"
[[supply.rail]]
id = "5vsb"
volts = "5 V"
[[supply.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd", 3 = "5vsb"}}
[[supply]]
id = "disks"
[[supply.rail]]
id = "5v"
volts = "5 V"
[[supply.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd"}}
[[node]]
id = "n1 .. n2"
from = "five.5v"
pins = {{1 = "5v", 2 = "gnd", 3 = "gnd", 4 = "signal", 5 = "5v"}}
[[harness]]
id = "h"
[[harness.wire]]
from = "{plus}"
to = "n1.1"
[[harness.wire]]
from = "{minus}"
to = "n1.2"
"""
_ON = '[[harness.wire]]\nfrom = "n1.{}"\nto = "n2.{}"\n'

cases(
    wired_elsewhere,
    clean=[
        _ELSEWHERE.format(plus="five.out.1", minus="five.out.2"),
        # a console: a signal between two boards, and a ground that goes with it
        _ELSEWHERE.format(plus="five.out.1", minus="five.out.2") + _ON.format(4, 4) + _ON.format(3, 3),
        _IDLE.format(into="header", pin=1, to=2),
        # a signal and the ground that goes with it feed nothing
        _IDLE.format(into="usb", pin=3, to=8),
    ],
    flagged=[
        Case(_IDLE.format(into="usb", pin=1, to=2), at="n1", found="n1.header", level="error"),
        Case(_ELSEWHERE.format(plus="disks.out.1", minus="disks.out.2"), at="n1", found="disks.5v"),
        Case(_ELSEWHERE.format(plus="five.out.3", minus="five.out.2"), at="n1", found="five.5vsb"),
        Case(_ELSEWHERE.format(plus="five.out.1", minus="disks.out.2"), at="its return goes to disks"),
        # power handed on from board to board, though the plan feeds each from the rail
        Case(
            _ELSEWHERE.format(plus="five.out.1", minus="five.out.2") + _ON.format(5, 5) + _ON.format(3, 3),
            at="n2",
            found="n1",
        ),
    ],
)


@rule(level="error", over="plan")
def two_sources(plan: Plan, loading: Loading) -> Iterator[Finding]:
    """Two sources never meet on one board without something that keeps them apart.

    Some boards join header and plug with nothing in between: the higher source feeds the lower one backwards. An inlet
    that does not say what it blocks counts as open. Inlets of different volts do not meet, nor do those that a splitter
    hands on by outlets of their own. A thing whose inlets work one at a time (``use = "one"``) is fed by one, whatever
    the source; how sources share the load where they are meant to meet, `supplies.side_by_side` judges.

    Source: design guide of the 40-pin header; desktop board manual, section 2.6.1 (never both inputs).
    """
    for thing in plan.order:
        if len(thing.inlets) < 2 or getattr(thing, "use", None) == "or-ed":
            continue
        if joined(thing):
            continue  # sources are meant to meet there: supplies.side_by_side judges how they share
        fed: list[InletPoint] = [i for i in thing.inlets if i.source is not None]
        if len(fed) > 1 and getattr(thing, "use", None) == "one":
            yield _both_fed(thing, fed)
            continue
        for i, first in enumerate(fed):
            for second in fed[i + 1 :]:
                if _meet(thing, first, second, loading):
                    yield Finding(
                        "error",
                        second,
                        f"{first} and {second} are fed by {first.source} and {second.source}, "
                        "and nothing keeps them apart",
                        because='an inlet that does not say backfeed = "blocked" lets power out',
                        remedy='feed it once, put a diode in each lead, or state what blocks: backfeed, use = "or-ed"',
                        place=("from",),
                    )


def _both_fed(thing: Any, fed: list[InletPoint]) -> Finding:
    return Finding(
        "error",
        fed[1],
        f"{thing.id} takes power by one inlet at a time, but {listed([i.name for i in fed])} are fed",
        because="what the free inlet carries then comes out of it, past fuse and diode of the board",
        remedy=f'feed one of them: into = "{fed[0].id}"',
        place=("into", "from"),
    )


def _meet(thing: Any, first: InletPoint, second: InletPoint, loading: Loading) -> bool:
    if first.source is second.source or first.spec.backfeed == second.spec.backfeed == "blocked":
        return False
    a, b = first.spec.volts, second.spec.volts
    if a is not None and b is not None and not (a[0] <= b[1] and b[0] <= a[1]):
        return False
    nets = [place[0] for inlet in (first, second) if (place := loading.branch(inlet)) is not None]
    if len(nets) == 2 and nets[0] is nets[1]:
        return False  # two outlets of one source
    return not (_handed_on(thing, first, second) or ((a is None or b is None) and _unlike(nets)))


def _handed_on(thing: Any, first: InletPoint, second: InletPoint) -> bool:
    """Say whether a splitter or supply hands each of two inlets on by outlets of its own."""
    handed = {id(outlet.via) for outlet in thing.outlets}
    return thing.table in ("supply", "inline") and id(first) in handed and id(second) in handed


def _unlike(nets: list[Net]) -> bool:
    """Say whether two sources differ so much in volts that nobody would join them."""
    volts = [found[0] for net in nets if (found := source_volts(net.root)) is not None]
    return len(volts) == 2 and abs(volts[0] - volts[1]) > 0.1 * max(map(abs, volts))


_MEET = """
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "{b}"
[[node]]
id = "n1"
from = ["a", "b"]
{use}
[[node.inlet]]
id = "usb"
{ours}
[[node.inlet]]
id = "header"
{volts}
"""


def _two(
    use: str = "", volts: str = "4.75 V .. 5.25 V", b: str = "5 V", ours: str = "4.75 V .. 5.25 V"
) -> str:
    ours, volts = (f'volts = "{text}"' if text else "" for text in (ours, volts))
    return _MEET.format(use=use, volts=volts, b=b, ours=ours)


_SPLIT = """
[[feed]]
id = "a"
volts = "5 V"
[[feed]]
id = "b"
volts = "12 V"
[[inline]]
id = "y"
from = ["a", "b"]
part = "splitter-sata-1-to-2"
"""
_BAR = """
[[feed]]
id = "a"
volts = "5 V"
[[inline]]
id = "bar"
part = "run-bus-bar"
from = "a"
[[node]]
id = "n1"
from = ["bar.1", "bar.2"]
[[node.inlet]]
id = "one"
[[node.inlet]]
id = "two"
"""
_ONE = 'use = "one"\ninto = ["usb", "header"]'

cases(
    two_sources,
    clean=[
        _two('use = "or-ed"'),
        _two(volts="11.4 V .. 12.6 V"),
        _two(volts="", ours="", b="12 V"),
        _two(_ONE).replace('["a", "b"]', '"a"').replace('["usb", "header"]', '"usb"'),
        _two('use = "shared"').replace('["a", "b"]', '["a", "a"]'),
        _SPLIT,
        _SPLIT.replace('"12 V"', '"5 V"'),  # each inlet has outlets of its own, whatever is fed to it
        _BAR,
    ],
    flagged=[
        Case(_two(), at="n1.header"),
        Case(_two(volts="", ours="", b="5.2 V"), at="n1.header"),
        Case(_two(_ONE), at="n1"),
        Case(_two(_ONE).replace('["a", "b"]', '["a", "a"]'), at="one inlet at a time"),
    ],
)
