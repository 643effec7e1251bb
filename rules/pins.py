"""Pins: every wire of a harness joins pins that carry the same, brings power out and back, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any, Literal

import msgspec

from coldcheck import Case, Finding, Measure, Open, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.pins import End, PinWire, agree
from coldcheck.workings.wire_slips import Slip, WireSlips
from coldcheck.workings.wiring import Ailment, Wiring

Level = Literal["error", "warning", "note"]
#: From the gravest on.
_LEVELS = ("error", "warning")


def _harm(a: End, b: End) -> tuple[Level, str]:
    """Return how grave it is, and what two pins do to each other that do not carry the same."""
    plus, other = (a, b) if a.is_plus else (b, a)
    words = {end.signal.strip().casefold() for end in (a, b)}
    if "nc" in words:
        return "warning", "nothing is behind a pin that is not connected"
    if plus.is_plus:
        return _harm_of_plus(plus, other)
    if a.is_return or b.is_return:
        return "error", "the return has no way back, and that pin is held at ground"
    return "warning", "both ends send, or both listen" if len(words) == 1 else "neither end does its work"


def _harm_of_plus(plus: End, other: End) -> tuple[Level, str]:
    volts = str(Measure(plus.volts, "V")) if plus.volts is not None else "a plus"
    most = plus.rail[2] if plus.rail is not None else plus.volts
    if other.is_return:
        return "error", f"{volts} into ground is a short circuit"
    if other.volts is not None:
        met = f"two sources of {volts} and {Measure(other.volts, 'V')} meet"
        return "error", f"{met}, or a part made for one gets the other"
    if other.is_plus:
        return "error", "two sources meet, or a part gets volts that it is not made for"
    if other.stands is not None and most is not None and most <= other.stands:
        return "warning", f"that pin is held at {volts}, which it survives, and tells nothing"
    return "error", f"{volts} on a pin that is no power pin destroys what is behind it"


def _worst_harm(found: tuple[Ailment, ...]) -> tuple[Level, str]:
    """Return level and harm of the gravest of several ailments."""
    joined = [_harm(one.a, one.b) for one in found if one.kind == "joined" and one.a and one.b]
    if joined:
        return min(joined, key=lambda harm: (_LEVELS.index(harm[0]), "short circuit" not in harm[1]))
    kinds = {one.kind for one in found}
    inlets = list(dict.fromkeys(one.inlet.name for one in found if one.inlet is not None))
    if kinds & {"elsewhere", "meeting"}:
        return "error", "power comes from the wrong source"
    if inlets:
        what = "power" if "unfed" in kinds else "a way back"
        return "error", f"{listed(inlets)} would be without {what}"
    return "warning", "a wire does nothing"


def _side(slot: tuple[int, int]) -> str:
    return "to" if slot[1] else "from"


@rule(level="error", over="pin_wires")
def nowhere(pin_wire: PinWire) -> Iterator[Finding]:
    """Both ends of a wire are on pins that exist."""
    for end, key in ((pin_wire.a, "from"), (pin_wire.b, "to")):
        if end.unknown and not end.housing:  # what is wrong with a whole housing, `rules/housings.py` tells
            yield Finding(
                "error",
                pin_wire,
                f"the wire {pin_wire.name} ends nowhere: {end.unknown}",
                remedy="name an existing pin: thing.connector.pin, or a way of an end of this harness: end.way",
                place=(key,),
            )
            return


@rule(level="error", over="plan")
def unknown(plan: Plan, pin_wires: list[PinWire]) -> Iterator[Finding]:
    """What a pin carries is known at both ends of every wire.

    A terminal block without a list of its pins hides plus on ground as well as a plug does. There is one finding for
    each connector. Where a single pin of it goes to pins that carry different things, that is wrong whatever it is, and
    `pins.joined` tells it.
    """
    places: dict[str, dict[str, list[tuple[End, End, PinWire]]]] = {}
    for wire in pin_wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            if mine.blind and not other.unknown:
                places.setdefault(mine.place, {}).setdefault(mine.ref, []).append((mine, other, wire))
    for place, by_pin in places.items():
        open_ends = []
        for ends in by_pin.values():
            if not _clash(ends):  # told by `joined`
                open_ends += ends
        if open_ends:
            yield _not_given(plan, place, open_ends)


def _clash(ends: list[tuple[End, End, PinWire]]) -> bool:
    """Say whether one pin joins two others that must not meet."""
    known = [other for _, other, _ in ends if other.signal]
    return any(
        (first.carries or second.carries) and not agree(first, second)
        for first, second in combinations(known, 2)
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
    unknown,
    clean=[
        _blind(_GIVEN),
        _blind().replace('"f.', '"f.out.').replace("[[node]]", _CONNECTOR + "[[node]]"),
        # told by `nowhere`: there is no such thing
        _blind(_GIVEN).replace('"f.1"', '"g.1"'),
    ],
    flagged=[
        Case(_blind(), at="what f.1 and f.2 carry", kind="open", mended=_blind(_GIVEN)),
        Case(_blind().replace('plug = "terminal-5.08"\n', ""), at="f", kind="open"),
        Case(_blind(_GIVEN, mine=""), at="n1.in", kind="open", mended=_blind(_GIVEN)),
        Case(_blind(mine=""), at="n1.in", kind="open"),
        # one pin that goes to two of plus is no short circuit, but still not known
        Case(_blind(minus=1, to=3), at="what f.1 carries is not given", kind="open"),
    ],
)


@rule(level="error", over="plan")
def moved_plug(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """No plug sits beside its place, turned round, or as seen from its other side.

    On an unkeyed row nothing stops a hand from setting a plug one pin off or the wrong way round, and whoever counts
    pins on the wire side of a connector counts them backwards. All wires of the plug are wrong then in the same way,
    so this is one slip. Until it is mended, the wires of that inlet are left out of every computation, and its lead
    counts.

    Source: geometry of the socket, as its plug on the shelf states it; common practice.
    """
    for slip in wire_slips.slips:
        if slip.move is None:
            continue
        slot = slip.slots[0]
        wire = wiring.wires[slot[0]]
        now = [wiring.state[i][side] for i, side in slip.slots]
        right = [slip.right[s] for s in slip.slots]
        level, harm = _worst_harm(slip.healed)
        yield Finding(
            level,
            wire,
            f"{_what_sits(now[0])} {slip.move.words()}: {harm}",
            found=listed([end.pin for end in now]),
            allowed=listed([end.pin for end in right]),
            because="moved back, each of its wires is right",
            remedy="; ".join(
                f"{b.signal} on pin {b.pin}, not {a.pin}"
                for a, b in zip(now, right, strict=True)
                if a.pin != b.pin
            ),
            path=(*wire.path, _side(slot)) if wire.wire.path else wire.path,
            subjects=(now[0].place,),
            related=[(wiring.wires[i], "a wire of it") for i, _ in slip.slots[1:3]],
        )


def _what_sits(end: End) -> str:
    """Return what of a plug is wrong: a keyed one cannot sit wrongly, but its wires can."""
    keyed = getattr(end.socket.plug, "keyed", None)
    return f"the wires in the plug at {end.place} are set" if keyed else f"the plug at {end.place} sits"


@rule(level="error", over="plan")
def exchanged(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """No two wire ends, and no two plugs, have changed places.

    It is the commonest slip at the bench: two contacts pushed into each other's chamber. Both wires are wrong then,
    and it is one slip. Until it is mended, the wires of these inlets are left out of every computation, and their
    leads count.

    Source: common practice.
    """
    for slip in wire_slips.slips:
        if slip.move is not None or len(slip.slots) < 2:
            continue
        last = slip.slots[-1]
        wire = wiring.wires[last[0]]
        level, harm = _worst_harm(slip.healed)
        ends = [wiring.state[i][side] for i, side in slip.slots]
        if slip.plugs:
            places = list(dict.fromkeys(end.place for end in ends))
            says = f"the plugs at {listed(places)} have changed places: {harm}"
            remedy = "put each plug into the socket of the other"
        else:
            says = f"the wires at {ends[0].ref} and {ends[1].ref} have changed places: {harm}"
            remedy = f"exchange the two ends: {ends[0].ref} and {ends[1].ref}"
        yield Finding(
            level,
            wire,
            says,
            found=f"{ends[-1].ref} {ends[-1].signal}".strip(),
            allowed=f"{slip.right[last].ref} {slip.right[last].signal}".strip(),
            because="exchanged, all of these wires are right",
            remedy=remedy,
            path=(*wire.path, _side(last)) if wire.wire.path else wire.path,
            subjects=tuple(end.ref for end in ends),
            related=[(wiring.wires[i], "the other one") for i, _ in slip.slots[:1]],
        )


@rule(level="error", over="plan")
def joined(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """Wires join pins that carry the same: plus to plus of the same volts, return to return, signal to its signal.

    One wire on the neighbouring pin destroys a board in a second, and it looks right. What wires and splices join is
    looked at as a whole, so a wrong wire is seen through every joint. Until this is mended, the wires of that inlet
    are left out of every computation, and its lead counts.
    """
    for slip in wire_slips.slips:
        if len(slip.slots) == 1:
            yield _on_a_wrong_pin(slip, wiring)
    for one in wire_slips.left:
        if one.kind != "joined" or one.a is None or one.b is None:
            continue
        slot = one.slots[0]
        wire, a, b = wiring.wires[slot[0]], one.a, one.b
        level, harm = _harm(a, b)
        remedies = [_pins_for(b, a), _pins_for(a, b)]
        yield Finding(
            level,
            wire,
            f"{b.ref} ({b.signal}) is joined to {a.ref} ({a.signal}): {harm}",
            found=a.signal,
            allowed=b.signal,
            because=f"{_by(wiring, one)}{b.ref} carries {b.signal}, {a.ref} carries {a.signal}",
            remedy=", or ".join(filter(None, remedies)) or _NEITHER,
            path=(*wire.path, _side(slot)) if wire.wire.path else wire.path,
            subjects=(a.ref, b.ref),
        )


def _on_a_wrong_pin(slip: Slip, wiring: Wiring) -> Finding:
    slot = slip.slots[0]
    wire = wiring.wires[slot[0]]
    now, right = wiring.state[slot[0]][slot[1]], slip.right[slot]
    mate = wiring.state[slot[0]][1 - slot[1]]
    level, harm = _worst_harm(slip.healed)
    same_socket = now.place == right.place
    remedies = [_pins_for(mate, now), _pins_for(now, mate)] if same_socket and not mate.splice else []
    belongs = f"where {right.signal} belongs" if same_socket else f"and belongs at {right.place}"
    return Finding(
        level,
        wire,
        f"the wire {wire.name} has its end on {now.ref} ({now.signal}), {belongs}: {harm}",
        found=now.signal,
        allowed=right.signal,
        because=f"on {right.ref} it is right",
        remedy=", or ".join(filter(None, remedies)) or f"put its end on {right.ref}",
        path=(*wire.path, _side(slot)) if wire.wire.path else wire.path,
        subjects=(now.ref, mate.ref),
    )


_NEITHER = "take the wire out: neither connector has a pin for the other end of it"


def _by(wiring: Wiring, one: Ailment) -> str:
    """Return by how many wires two pins are joined, where it is more than one."""
    knot = next(k for k in wiring.knots() if one.slots[0] in k.ends)
    wires = {i for i, _ in knot.slots}
    return f"by {len(wires)} wires; " if len(wires) > 1 else ""


def _pins_for(kept: End, moved: End) -> str:
    """Return which pins of the connector at one end carry what the other end carries; empty where none does."""
    if kept.takes and kept.is_plus and kept.volts is None and kept.fed is not None:
        kept = msgspec.structs.replace(kept, rail=kept.fed)  # a plus takes the volts of what feeds it
    fitting = [pin for pin in moved.pins if agree(kept, moved.at(pin)) and not moved.at(pin).gives]
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
    joined,
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
        Case(_pins(6, 6), at="n1.in.6", mended=_pins(4, 6)),
        Case(_pins(6, 6), at="5 V into ground is a short circuit"),
        Case(_pins(8, 6, 3), at="n1.in.8"),  # "+" on a signal
        Case(_pins(4, 6).replace('4 = "5v"', '4 = "-5v"'), at="n1.in.4"),
        Case(_RAILS.format(volts="12 V"), at="n1.1"),
    ],
)


@rule(level="error", over="plan")
def elsewhere(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """Wires listed pin by pin come from what the plan says feeds the inlet, and go back to it.

    Either the wire is in the wrong plug, and then the volts may be wrong as well, or ``from`` is, and then every
    computation is of another rail. Until this is mended, the wires of that inlet are left out, and its lead counts.
    """
    for one in wire_slips.left:
        if one.kind not in ("elsewhere", "strange return") or one.inlet is None or one.b is None:
            continue
        inlet, source, end = one.inlet, one.inlet.source, one.b
        comes = f"{end.thing}.{end.outlet}" if end.outlet else end.thing
        wire = wiring.wires[one.slots[0][0]]
        verb = (
            f"its wire comes from {comes}" if one.kind == "elsewhere" else f"its return goes to {end.thing}"
        )
        yield Finding(
            "error",
            inlet,
            f"{inlet} is fed from {source}, but {verb}",
            found=comes,
            allowed=str(source),
            remedy=f"move the wire to a pin of {source}, or write what feeds {inlet} in its from",
            path=(*wire.path, _side(one.slots[0])) if wire.wire.path else wire.path,
            related=[(inlet, "what feeds it")],
        )
    yield from _to_idle_inlets(plan, wiring)


def _to_idle_inlets(plan: Plan, wiring: Wiring) -> Iterator[Finding]:
    """Yield the inlets that get a plus by wire though their thing takes power by others. A board may also give power
    out by such pins, so a wire on to an inlet in use is none of these."""
    seen: set[str] = set()
    for wire in wiring.wires:
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
    elsewhere,
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
def unfed(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """The plus of what feeds an inlet arrives there by wire.

    A pin that hangs on nothing is not seen by the eye: the plug is full, and the board stays dark.
    """
    for one in wire_slips.left:
        if one.kind == "unfed" and one.inlet is not None:
            yield _incomplete(wiring, one, f"no wire brings {one.inlet} the plus of {one.inlet.source}")


@rule(level="error", over="plan")
def no_return(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """Every inlet that gets its plus by wire has a wire back to what feeds it.

    Power that has no way back finds one through a data cable, a shield or nothing at all.
    """
    for one in wire_slips.left:
        if one.kind == "no return" and one.inlet is not None:
            yield _incomplete(wiring, one, f"no wire leads back from {one.inlet} to {one.inlet.source}")


def _incomplete(wiring: Wiring, one: Ailment, says: str) -> Finding:
    inlet: Any = one.inlet
    return Finding(
        "error",
        inlet,
        says,
        remedy="add the wire to the harness",
        related=[(wiring.wires[i], "its wire") for i in dict.fromkeys(i for i, _ in one.slots[:2])],
        subjects=(inlet.name,),
    )


@rule(level="error", over="plan")
def borrowed_return(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """What an inlet draws flows back by wires of its own, not through the ground of a neighbour or the box.

    A ground that goes along with data is as thin as the data, and a chassis is no conductor: the whole current of the
    board then flows where nobody counted on it, and it lifts the ground that signals are measured against.

    Source: common practice.
    """
    for one in wire_slips.left:
        if one.kind != "borrowed return" or one.inlet is None:
            continue
        inlet = one.inlet
        by = f"the ground of {one.b.thing}, at {one.b.ref}" if one.b is not None else "the metal of the box"
        wire = wiring.wires[one.slots[0][0]]
        yield Finding(
            "error",
            inlet,
            f"what {inlet} draws has no wire back to {inlet.source}: it returns through {by}",
            found=one.b.ref if one.b is not None else "chassis",
            allowed=str(inlet.source),
            remedy=f"add a wire from a return of {inlet} to one of {inlet.source}",
            related=[(wire, "the wire it takes instead")] if one.b is not None else [],
            subjects=(inlet.name,),
        )


@rule(level="error", over="plan")
def sources_meet(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """Wires join no two sources, not even of the same volts, and no two fused outlets of one source.

    The higher one feeds the lower one backwards, through wires that were counted for one load. Where sources are
    meant to share a load, the plan says so in ``from``, and `supplies.side_by_side` judges it.
    """
    for one in wire_slips.left:
        if one.kind == "meeting" and one.a is not None and one.b is not None:
            wire = wiring.wires[one.slots[0][0]]
            one_source = wiring.ground_of(plan.things[one.a.thing]) == wiring.ground_of(
                plan.things[one.b.thing]
            )
            harm = "what fuses, switches or diodes keep apart" if one_source else "two sources"
            yield Finding(
                "error",
                wire,
                f"wires join {one.a.ref} to {one.b.ref}: {harm} meet with nothing in between",
                found=one.a.ref,
                allowed=one.b.ref,
                remedy="take out the wire that joins them, or feed one thing by each",
                path=(*wire.path, _side(one.slots[0])) if wire.wire.path else wire.path,
                related=[(wiring.wires[one.slots[1][0]], "the other source")],
            )


@rule(level="warning", over="plan")
def useless(plan: Plan, wire_slips: WireSlips, wiring: Wiring) -> Iterator[Finding]:
    """Every wire joins two things.

    One that runs from a pin to its own neighbour of the same kind, or into a joint where nothing else ends, was meant
    to go elsewhere.
    """
    for one in wire_slips.left:
        if one.kind != "useless" or one.a is None:
            continue
        wire = wiring.wires[one.slots[0][0]]
        if one.b is not None:
            says = f"the wire {wire.name} joins two pins of {one.a.thing} itself: it does nothing"
        else:
            says = f"the joint {one.a.ref} has one wire, {wire.name}: it leads nowhere"
        yield Finding(
            "warning", wire, says, remedy="move its end to where it was meant to go, or take it out"
        )


# --- cases of several rules, on one small plan ------------------------------------------------------------------------

_BOX = """
[[part]]
id = "row"
kind = "plug"
keyed = false
rows = 2
numbered = "across"
[part.pins]
1 = "3.3v out"
2 = "5v"
3 = "signal"
4 = "5v"
5 = "signal"
6 = "gnd"
7 = "signal"
8 = "txd"
9 = "gnd"
10 = "rxd"
[[feed]]
id = "f"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {1 = "5v", 2 = "gnd", 3 = "5v", 4 = "gnd"}
[[feed]]
id = "g"
volts = "5 V"
[[feed.connector]]
id = "out"
pins = {1 = "5v", 2 = "gnd"}
[[node]]
id = "n1"
from = "f"
[[node.inlet]]
id = "in"
plug = "row"
[[node]]
id = "n2"
from = "f"
[[node.inlet]]
id = "in"
plug = "row"
[[harness]]
id = "h"
[[harness.splice]]
id = "s"
"""


def _box(*wires: str, box: str = _BOX) -> str:
    """Return a plan with wires, each written ``f.out.1 n1.in.4``."""
    ends = (wire.split() for wire in wires)
    return box + "".join(f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\n' for a, b in ends)


_FIRST = ("f.out.1 n1.in.4", "f.out.2 n1.in.6")
_SECOND = ("f.out.3 n2.in.4", "f.out.4 n2.in.6")
_BOTH = (*_FIRST, *_SECOND)

cases(
    nowhere,
    clean=[_box(*_FIRST)],
    flagged=[
        Case(_box("f.out.1 n1.in.11", _FIRST[1]), at="n1.in has no pin 11", mended=_box(*_FIRST)),
        Case(_box("f.out.1 n1.on.4", _FIRST[1]), at="n1 has no connector", mended=_box(*_FIRST)),
        Case(_box("f.out.1 n3.in.4", _FIRST[1]), at="nothing is called n3", mended=_box(*_FIRST)),
    ],
)

cases(
    moved_plug,
    clean=[
        _box(*_BOTH),
        # any 5 V pin and any ground will do
        _box("f.out.1 n1.in.2", "f.out.2 n1.in.9"),
        _box(*_BOTH, "n1.in.8 n2.in.10", "n1.in.10 n2.in.8", "n1.in.9 n2.in.9"),
    ],
    flagged=[
        # 5 V on ground and ground on a signal
        Case(
            _box("f.out.1 n1.in.6", "f.out.2 n1.in.8", *_SECOND),
            at="n1.in",
            level="error",
            mended=_box(*_BOTH),
        ),
        Case(
            _box("f.out.1 n1.in.3", "f.out.2 n1.in.5", *_SECOND),
            at="n1.in",
            level="error",
            mended=_box(*_BOTH),
        ),
    ],
)

cases(
    exchanged,
    clean=[
        _box(*_BOTH),
        # exchanged at the source, where all plus pins are one and all returns are one
        _box("f.out.3 n1.in.4", "f.out.4 n1.in.6", "f.out.1 n2.in.4", "f.out.2 n2.in.6"),
    ],
    flagged=[
        # the plus of one board and the return of the other
        Case(
            _box("f.out.1 n2.in.6", _FIRST[1], _SECOND[0], "f.out.4 n1.in.4"),
            at="changed places: 5 V into ground",
            level="error",
            mended=_box(*_BOTH),
        ),
        # what is sent goes to what is sent: nothing is destroyed
        Case(
            _box(*_BOTH, "n1.in.8 n2.in.8", "n1.in.10 n2.in.10"),
            at="changed places",
            level="warning",
            mended=_box(*_BOTH, "n1.in.8 n2.in.10", "n1.in.10 n2.in.8"),
        ),
        # a plus that runs from board to board, and one from the source to itself
        Case(
            _box("n2.in.4 n1.in.4", _FIRST[1], "f.out.1 f.out.3", _SECOND[1]),
            at="changed places",
            level="error",
        ),
    ],
)

cases(
    unfed,
    clean=[_box(*_FIRST)],
    flagged=[Case(_box(*_FIRST[1:]), at="no wire brings n1.in the plus of f", mended=_box(*_FIRST))],
)

cases(
    no_return,
    clean=[
        _box(*_FIRST),
        # a ground that comes with data, beside a lead for the power
        _box("n1.in.9 n2.in.9"),
    ],
    flagged=[Case(_box(*_FIRST[:1]), at="no wire leads back from n1.in to f", mended=_box(*_FIRST))],
)

_CHASSIS = _BOX.replace('id = "f"\n', 'id = "f"\nchassis = true\n').replace(
    'id = "n1"\n', 'id = "n1"\nchassis = true\n'
)

cases(
    borrowed_return,
    clean=[_box(*_BOTH, "n1.in.9 n2.in.9"), _box(*_FIRST, box=_CHASSIS)],
    flagged=[
        Case(
            _box(*_FIRST, *_SECOND[:1], "n1.in.9 n2.in.9"),
            at="what n2.in draws has no wire back to f: it returns through the ground of n1",
            mended=_box(*_BOTH, "n1.in.9 n2.in.9"),
        ),
        Case(_box(*_FIRST[:1], box=_CHASSIS), at="the metal of the box", mended=_box(*_FIRST, box=_CHASSIS)),
    ],
)

cases(
    sources_meet,
    clean=[_box(*_FIRST, "f.out.3 n1.in.2")],
    flagged=[
        Case(_box(*_FIRST, "g.out.1 f.out.3"), at="g.out.1", level="error", mended=_box(*_FIRST)),
    ],
)

cases(
    useless,
    clean=[_box("f.out.1 s", "s n1.in.4", "s n1.in.2", _FIRST[1])],
    flagged=[
        Case(_box(*_FIRST, "n1.in.2 n1.in.4"), at="does nothing", level="warning", mended=_box(*_FIRST)),
        Case(_box(*_FIRST, "n1.in.2 s"), at="leads nowhere", level="warning", mended=_box(*_FIRST)),
    ],
)
