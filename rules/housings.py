"""Housings: each end of a harness sits on pins where it can, in a socket that takes it, with the cable made for it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Open, Review, cases, rule
from coldcheck.pins.grid import grid
from coldcheck.pins.seating import fits as sits
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.pins import Housing, PinWire
from coldcheck.workings.wire_slips import grid_of


@rule(level="error", over="plan")
def fits(plan: Plan, housings: list[Housing]) -> Iterator[Finding]:
    """The ways of a housing sit on the pins that the plan names, all of them together, in a socket that takes it.

    A housing is rigid: its ways stand to each other as the pins do, in a row or a block, turned perhaps, mirrored
    never.

    Source: geometry of both, as their plugs on the shelf state it.
    """
    taken: dict[str, Housing] = {}
    for one in housings:
        why = one.unknown if one.end.into is not None else ""
        why = why or _why_not(one)
        if not why:
            for pin in one.seat.values():
                other = taken.setdefault(f"{one.socket.name}.{pin}", one)
                if other is not one:
                    why = f"{other.name} sits on pin {pin} of {one.socket.name}, too"
                    break
        if why:
            yield Finding(
                "error",
                one,
                f"end {one.name} cannot sit there: {why}",
                found=listed(one.end.on) if one.end.on else one.end.into or "",
                remedy="name the pins that its ways sit on, in their order (`on`), or another housing (`plug`)",
                path=(*one.path, "on" if one.end.on else "into") if one.end.path else one.path,
                subjects=(one.name,),
            )


def _why_not(one: Housing) -> str:
    if one.socket is None or not one.seat:
        return ""
    absent = [pin for pin in one.seat.values() if pin not in one.socket.pins]
    if absent:
        return f"{one.socket.name} has no pin {absent[0]}; it has {listed(one.socket.pins)}"
    theirs = one.socket.plug
    if one.plug is None or theirs is None:
        return ""
    a, b = one.plug.family, theirs.family
    if a and b and a != b:
        return f"a {one.plug.id} does not go into a {theirs.id}"
    where = grid_of(one.socket)
    rows = one.plug.rows or 1
    if where is None or theirs.single or one.plug.single or len(one.seat) % rows:
        return ""
    return sits(grid(list(one.seat), rows, one.plug.numbered or "along"), list(one.seat.values()), where)


@rule(level="error", over="plan")
def free(plan: Plan, housings: list[Housing], pin_wires: list[PinWire]) -> Iterator[Finding]:
    """Every end of a harness goes into something, and has wires."""
    wired = {end.housing for wire in pin_wires for end in (wire.a, wire.b) if end.housing}
    for one in housings:
        if one.end.into is None and one.name in wired:
            yield Open(
                "error",
                one,
                f"what end {one.name} goes into is not given, so its wires are not judged",
                missing=[f"{one.name} into"],
                remedy='say the socket: into = "thing.connector", or take its wires out',
                path=(*one.path, "id") if one.end.path else one.path,
                subjects=(one.name,),
            )
        elif one.name not in wired and not one.unknown:
            yield Finding(
                "warning",
                one,
                f"end {one.name} has no wires",
                remedy="add its wires, or take the end out",
                path=(*one.path, "id") if one.end.path else one.path,
                subjects=(one.name,),
            )


@rule(level="error", over="plan")
def modular(plan: Plan, housings: list[Housing], pin_wires: list[PinWire]) -> Iterator[Finding]:
    """A cable goes into the modular supply that it was made for, and into no other.

    The sockets of two supplies look alike and the far ends are standard, but the order of pins at the supply is its
    maker's own: the cable of the one puts 12 V on the 5 V of the other. The harness says what it was made for:
    made_for = the part of that supply.

    Source: common practice (no standard orders the pins of modular supplies).
    """
    parts = {
        t.part for t in plan.things.values() if getattr(t, "part", None) and _own_order(plan, t, pin_wires)
    }
    seen: set[tuple[str, str]] = set()
    for wire in pin_wires:
        for end in (wire.a, wire.b):
            socket = end.socket
            if socket is None or not _makers_own(socket) or (wire.harness.id, socket.name) in seen:
                continue
            seen.add((wire.harness.id, socket.name))
            yield from _made_for(wire, socket, len(parts))


def _own_order(plan: Plan, thing: Any, wires: list[PinWire]) -> bool:
    sockets = [
        end.socket for wire in wires for end in (wire.a, wire.b) if end.thing == thing.id and end.socket
    ]
    return any(_makers_own(socket) for socket in sockets)


def _makers_own(socket: Any) -> bool:
    own = getattr(socket.holder, "makers_own", None)
    return bool(own if own is not None else socket.plug is not None and socket.plug.makers_own)


def _made_for(wire: PinWire, socket: Any, supplies: int) -> Iterator[Finding]:
    thing, harness = socket.thing, wire.harness
    part, made = getattr(thing, "part", None), harness.made_for
    if made is not None and part is not None and made != part:
        yield Finding(
            "error",
            harness,
            f"{harness.id} was made for {made}, but goes into {socket.name}, a {part}",
            found=made,
            allowed=part,
            because="each maker orders the pins of its own sockets; the plug fits all the same",
            remedy=f"use a cable that came with {thing.id}, or one pinned out with a meter, pin by pin",
            path=(*harness.path, "made_for"),
        )
    elif made is None and supplies > 1:
        yield Open(
            "error",
            harness,
            f"{harness.id} goes into {socket.name}, whose order of pins is its maker's own; "
            "what it was made for is not given, and more such supplies are in the box",
            missing=[f"{harness.id} made_for"],
            remedy=f'write made_for = "{part or "the part of its supply"}" where it came with that, and mark the cable',
        )
    elif made is None:
        yield Review(
            harness,
            f"{harness.id} goes into {socket.name}, whose order of pins is its maker's own",
            remedy="see that it came with this very supply, and measure each pin of its far end before it is used",
        )


_SIT = """
[[part]]
id = "block"
kind = "plug"
rows = 2
numbered = "across"
family = "a"
pins = {{1 = "5v", 2 = "5v", 3 = "gnd", 4 = "gnd", 5 = "signal", 6 = "gnd"}}
[[part]]
id = "two"
kind = "plug"
family = "{family}"
pins = {{1 = "way", 2 = "way"}}
[[part]]
id = "one"
kind = "plug"
pins = {{1 = "way"}}
[[part]]
id = "square"
kind = "plug"
rows = 2
numbered = "across"
pins = {{1 = "way", 2 = "way", 3 = "way", 4 = "way"}}
[[feed]]
id = "f"
volts = "5 V"
plug = "screw-2"
[[node]]
id = "n1"
from = "f"
plug = "block"
[[harness]]
id = "h"
[[harness.end]]
id = "b"
plug = "{plug}"
{into}
on = {on}
{wires}
"""
_WIRES = '[[harness.wire]]\nfrom = "f.1"\nto = "b.1"\n[[harness.wire]]\nfrom = "f.2"\nto = "b.2"\n'


def _sit(
    on: str, plug: str = "two", family: str = "a", into: str = 'into = "n1"', wires: str = _WIRES
) -> str:
    return _SIT.format(on=on, plug=plug, family=family, into=into, wires=wires)


_SECOND = '[[harness.end]]\nid = "c"\nplug = "two"\ninto = "n1"\non = ["3", "5"]\n'
_SECOND += '[[harness.wire]]\nfrom = "f.2"\nto = "c.1"\n'

cases(
    fits,
    clean=[
        _sit('["1", "3"]'),
        _sit('["2", "4"]'),
        _sit('"1"', plug="one", wires=_WIRES.replace('"b.2"', '"n1.3"')),
        _sit('["1", "2", "3", "4"]', plug="square", wires=_WIRES.replace('"b.2"', '"b.3"')),
    ],
    flagged=[
        Case(_sit('["1", "6"]'), at="do not stand to each other", mended=_sit('["1", "3"]')),
        Case(_sit('["1"]'), at="has 2 ways, but its `on` names 1 pins"),
        Case(_sit('["1", "9"]'), at="n1 has no pin 9"),
        Case(_sit('["1", "3"]', family="b"), at="a two does not go into a block"),
        Case(_sit('["1", "3"]', into='into = "n2"'), at="nothing is called n2"),
        Case(_sit('["2", "1", "4", "3"]', plug="square"), at="mirrored"),
        Case(_sit('["1", "3"]') + _SECOND, at="sits on pin 3 of n1, too"),
    ],
)

cases(
    free,
    clean=[_sit('["1", "3"]')],
    flagged=[
        Case(_sit('["1", "3"]', into=""), at="what end h.b goes into", kind="open"),
        Case(_sit('["1", "3"]', wires=""), at="has no wires", level="warning"),
    ],
)

_MODULAR = """
[[part]]
id = "quiet"
kind = "supply"
volts = "24 V"
[[part.rail]]
id = "12v"
volts = "12 V"
[[part.connector]]
id = "m"
plug = "modular-6"
pins = {{1 = "12v", 2 = "gnd"}}
[[part]]
id = "loud"
kind = "supply"
volts = "24 V"
[[part.rail]]
id = "12v"
volts = "12 V"
[[part.connector]]
id = "m"
plug = "modular-6"
pins = {{1 = "gnd", 2 = "12v"}}
[[feed]]
id = "f"
volts = "24 V"
[[supply]]
id = "a"
part = "quiet"
from = "f"
[[supply]]
id = "b"
part = "loud"
from = "f"
[[node]]
id = "n1"
from = "a"
pins = {{1 = "12v", 2 = "gnd"}}
[[node]]
id = "n2"
from = "b"
pins = {{1 = "12v", 2 = "gnd"}}
[[harness]]
id = "h"
{made}
[[harness.wire]]
from = "a.m.1"
to = "n1.1"
[[harness.wire]]
from = "a.m.2"
to = "n1.2"
{more}
"""
_OTHER = '[[harness]]\nid = "k"\nmade_for = "loud"\n[[harness.wire]]\nfrom = "b.m.2"\nto = "n2.1"\n'
_OTHER += '[[harness.wire]]\nfrom = "b.m.1"\nto = "n2.2"\n'

cases(
    modular,
    clean=[_MODULAR.format(made='made_for = "quiet"', more=_OTHER)],
    flagged=[
        Case(
            _MODULAR.format(made='made_for = "loud"', more=_OTHER),
            at="h was made for loud",
            level="error",
            mended=_MODULAR.format(made='made_for = "quiet"', more=_OTHER),
        ),
        Case(_MODULAR.format(made="", more=_OTHER), at="h goes into a.m", kind="open"),
        Case(_MODULAR.format(made="", more=""), at="h goes into a.m", kind="review"),
    ],
)
