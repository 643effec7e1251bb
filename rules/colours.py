"""Colours: one colour has one meaning in a box. What a wire carries is known by its pins, never by its colour."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.colours import Coloured, colours_of, means

#: A pin and its usual colours.
Usual = tuple[str, list[str]]


def _code(plan: Plan) -> dict[str, list[str]]:
    return {key: colours_of(text) for key, text in (plan.head.colours or {}).items()}


def _expected(code: dict[str, list[str]], one: Coloured) -> list[str]:
    """Return the colours that a code gives to what a wire carries, empty where it is silent."""
    return [
        colour
        for key, colours in code.items()
        if means(key, one.volts, one.carries, one.ends)
        for colour in colours
    ]


def _names(found: list[Coloured]) -> str:
    names = [one.wire.name for one in found]
    return f"{names[0]} and {len(names) - 1} more" if len(names) > 1 else names[0]


@rule(level="warning", over="plan")
def house(plan: Plan, wire_colours: list[Coloured]) -> Iterator[Finding]:
    """A wire has the colour that the code of this box gives to what it carries.

    The code stands in [plan.colours]. There is one finding for each colour and what it is on.
    """
    code = _code(plan)
    groups: dict[tuple[str, str], list[Coloured]] = {}
    for one in wire_colours:
        expected = _expected(code, one)
        others = {colour for colours in code.values() for colour in colours}
        if one.colour not in expected and (expected or one.colour in others):
            groups.setdefault((one.colour, one.carries), []).append(one)
    for (colour, carries), found in groups.items():
        first = found[0]
        expected = _expected(code, first)
        other = [key for key, colours in code.items() if colour in colours]
        means_else = f"{colour} is for {listed(other)} in this box" if other else f"the code has no {colour}"
        yield Finding(
            "warning",
            first.wire,
            f"{carries} is on {colour}, in the wire {_names(found)}",
            found=colour,
            allowed=" or ".join(expected) if expected else f"not {colour}",
            because=means_else,
            remedy=f"use {' or '.join(expected)}"
            if expected
            else "use a colour that the code gives to nothing else",
            place="colour",
            subjects=tuple(one.wire.name for one in found),
        )


@rule(level="warning", over="plan")
def code(plan: Plan) -> Iterator[Finding]:
    """The colour code of a box gives each colour to one thing."""
    given: dict[str, list[str]] = {}
    for key, colours in _code(plan).items():
        for colour in colours:
            given.setdefault(colour, []).append(key)
    for colour, keys in given.items():
        if len(keys) > 1:
            yield Finding(
                "warning",
                plan.head,
                f"the colour code gives {colour} to {listed(keys)}",
                found=colour,
                because="two things of one colour get exchanged",
                remedy="give one of them another colour",
                path=("plan", "colours"),
            )


@rule(level="warning", over="plan")
def alike(plan: Plan, wire_colours: list[Coloured]) -> Iterator[Finding]:
    """Wires of one colour carry one voltage, and no colour is on plus and on ground.

    Red is 5 V in a PC and 12 V on a fan; where both are in one box, one of them gets another colour. Where the plan
    has a colour code that speaks of a colour, `colours.house` judges it.

    Source: fan and supply wiring tables; common practice.
    """
    spoken = {colour for colours in _code(plan).values() for colour in colours}
    by_colour: dict[str, dict[str, Coloured]] = {}
    for one in wire_colours:
        if one.colour not in spoken and (one.plus or one.volts == 0):
            by_colour.setdefault(one.colour, {}).setdefault(one.carries, one)
    for colour, carried in by_colour.items():
        volts = [one.volts for one in carried.values() if one.volts is not None]
        if len(volts) > 1 and max(volts) - min(volts) > 0.05 * max(volts):
            found = list(carried.values())
            yield Finding(
                "warning",
                found[1].wire,
                f"{colour} is on {listed(carried)}: {_and(found)}",
                found=listed(carried),
                allowed=found[0].carries,
                because="who follows a wire by its colour meets the wrong volts",
                remedy="give one of them another colour, and write the code into [plan.colours]",
                place="colour",
                related=[(found[0].wire, "the other one")],
            )


def _and(found: list[Coloured]) -> str:
    return listed([one.wire.name for one in found])


@rule(level="note", over="plan")
def trade(plan: Plan, wire_colours: list[Coloured]) -> Iterator[Finding]:
    """A wire in a plug that has colours in the trade has one of them, unless the box has a code of its own.

    Nothing is wrong with another colour, but the next hand expects that of the trade. There are two sets for fans, so
    both are taken: yellow is +12 V in one and tach in the other.

    Source: ATX and SATA pinout pages; fan wiring tables.
    """
    own = _code(plan)
    groups: dict[str, list[tuple[Coloured, Usual]]] = {}
    for one in wire_colours:
        if _expected(own, one):
            continue
        for end in (one.wire.a, one.wire.b):
            plug = end.socket.plug if end.socket is not None else None
            usual = colours_of((plug.colours or {}).get(end.pin, "")) if plug is not None else []
            if plug is not None and usual and one.colour not in usual:
                groups.setdefault(plug.id, []).append((one, (end.pin, usual)))
    for plug, found in groups.items():
        first, (pin, usual) = found[0]
        yield Finding(
            "note",
            first.wire,
            f"pin {pin} of {plug} has {' or '.join(usual)} in the trade; here it is {first.colour}",
            found=first.colour,
            allowed=" or ".join(usual),
            remedy="keep to the trade's colours, or write those of this box into [plan.colours]",
            place="colour",
            subjects=tuple(one.wire.name for one, _ in found),
        )


_BOX = """
[plan]
{code}
[[feed]]
id = "f"
volts = "5.1 V"
[[feed.connector]]
id = "out"
pins = {{1 = "5v", 2 = "gnd"}}
[[feed]]
id = "g"
volts = "12 V"
[[feed.connector]]
id = "out"
pins = {{1 = "12v", 2 = "gnd", 3 = "tach"}}
[[node]]
id = "n1"
from = "f"
pins = {{1 = "5v", 2 = "gnd"}}
[[fan]]
id = "fan"
plug = "fan-3"
from = "g"
[[harness]]
id = "h"
"""
_PAIR = (("f.out.1", "n1.1", "red"), ("f.out.2", "n1.2", "black"))


def _box(*wires: tuple[str, str, str], code: str = "") -> str:
    return _BOX.format(code=f"colours = {{{code}}}" if code else "") + "".join(
        f'[[harness.wire]]\nfrom = "{a}"\nto = "{b}"\ncolour = "{c}"\n' for a, b, c in wires
    )


_CODE = '5v = "red", gnd = "black or gray", 12v = "yellow"'

cases(
    house,
    clean=[
        _box(*_PAIR, code=_CODE),
        _box(_PAIR[0], ("f.out.2", "n1.2", "Grey"), code=_CODE),
        _box(*_PAIR),
        # the code is silent about tach, and gives white to nothing
        _box(*_PAIR, ("g.out.3", "fan.3", "white"), code=_CODE),
    ],
    flagged=[
        Case(
            _box(("f.out.1", "n1.1", "blue"), _PAIR[1], code=_CODE),
            at="5 V is on blue",
            mended=_box(*_PAIR, code=_CODE),
        ),
        Case(_box(*_PAIR, ("g.out.3", "fan.3", "yellow"), code=_CODE), at="tach is on yellow"),
        Case(_box(_PAIR[0], ("f.out.2", "n1.2", "red"), code=_CODE), at="ground is on red"),
    ],
)

cases(
    code,
    clean=[_box(*_PAIR, code=_CODE)],
    flagged=[Case(_box(*_PAIR, code='5v = "red", gnd = "black", 12v = "red"'), at="gives red to 5v and 12v")],
)

_FAN = (("g.out.2", "fan.1", "black"),)

cases(
    alike,
    clean=[
        _box(*_PAIR, *_FAN, ("g.out.1", "fan.2", "yellow")),
        # told by `house`
        _box(*_PAIR, *_FAN, ("g.out.1", "fan.2", "red"), code=_CODE),
    ],
    flagged=[
        Case(
            _box(*_PAIR, *_FAN, ("g.out.1", "fan.2", "red")),
            at="red is on 5 V and 12 V",
            mended=_box(*_PAIR, *_FAN, ("g.out.1", "fan.2", "yellow")),
        ),
        Case(_box(_PAIR[0], ("f.out.2", "n1.2", "red")), at="red is on 5 V and ground"),
    ],
)

cases(
    trade,
    clean=[
        _box(*_FAN, ("g.out.1", "fan.2", "red"), ("g.out.3", "fan.3", "yellow")),
        _box(("g.out.2", "fan.1", "white"), ("g.out.1", "fan.2", "red"), code='gnd = "white"'),
    ],
    flagged=[Case(_box(*_FAN, ("g.out.1", "fan.2", "green")), at="pin 2 of fan-3", level="note")],
)
