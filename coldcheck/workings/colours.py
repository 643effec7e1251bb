"""Colours of wires, and what the wires carry by their pins: a colour is held against that, and never read for it."""

from __future__ import annotations

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan

from .pins import NEAR, End, PinWire, volts_of_signal
from .wiring import Knot, Wiring

__all__ = ["Coloured", "carries_of", "colours_of", "means", "wire_colours"]

#: Two words for one colour.
_SAME = {"gray": "grey", "violet": "purple"}


class Coloured(msgspec.Struct, frozen=True):
    """A wire with a colour: what it carries in words, and its volts [V], 0 for a return, None for a signal.

    ``ends`` are all pins that it is joined to; ``plus``: power flows out by it.
    """

    wire: PinWire
    colour: str
    carries: str
    volts: float | None
    plus: bool
    ends: tuple[End, ...]


def colours_of(text: str) -> list[str]:
    """Return the colours of a text, small and in one spelling: "Red or gray" are red and grey."""
    return [_SAME.get(word, word) for part in text.casefold().split(" or ") if (word := part.strip())]


def carries_of(knot: Knot) -> tuple[str, float | None, bool]:
    """Return what a knot carries: in words, its volts [V] if they are known, and whether power flows out by it."""
    ends = sorted(knot.pins.values(), key=lambda end: (not end.is_source, end.takes))
    for end in ends:
        if end.is_return:
            return "ground", 0.0, False
        if end.is_plus and end.volts is not None:
            return f"{end.volts:.3g} V", end.volts, True
    if any(end.is_plus for end in ends):
        return "a plus", None, True
    named = [end.signal for end in ends if end.signal.casefold() != "signal"]
    return (named[0].casefold() if named else "a signal"), None, False


def means(key: str, volts: float | None, carries: str, ends: tuple[End, ...]) -> bool:
    """Say whether a key of a colour code speaks of a wire of these volts [V]: by volts, by rail, or by the name of a
    signal; ``carries`` and ``ends`` are as in `Coloured`."""
    word = key.strip().casefold()
    named = volts_of_signal(word)
    if named is not None and volts is not None:
        return abs(named - volts) <= NEAR * max(abs(named), abs(volts))
    rails = {end.outlet.casefold() for end in ends if end.outlet}
    return word in rails or word == carries or any(end.signal.casefold() == word for end in ends)


@working(reads=())
def wire_colours(plan: Plan, wiring: Wiring) -> list[Coloured]:
    """Every wire that has a colour and of which it is known what it carries."""
    found = []
    for knot in wiring.knots() if wiring.wires else ():
        if knot.odd:
            continue  # what it carries is wrong, and told
        words, volts, plus = carries_of(knot)
        ends = tuple(knot.pins.values())
        for i in sorted({i for i, _ in knot.slots}):
            wire = wiring.wires[i]
            if wire.wire.colour:
                colour = colours_of(wire.wire.colour)[0]
                found.append(Coloured(wire, colour, words, volts, plus, ends))
    return found
