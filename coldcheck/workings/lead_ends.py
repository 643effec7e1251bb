"""Where the conductors of a coarse lead go at both of its ends: pins, and colours by the colour code of the box.

A lead says how thick and how long; the bench asks which pin. It follows from the plugs where their pins are known: the
plus pins of that outlet or inlet, and as many of its returns as the lead has conductors, nearest to the plus first, as
a hand would take them. What does not follow is left empty, never guessed.
"""

from __future__ import annotations

from math import inf
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.pins.grid import grid
from coldcheck.plan.model import InletPoint, OutletPoint, Plan

from .colours import colours_of, means
from .harness import Pair
from .net import source_volts
from .pins import NEAR, End, Sockets, in_the_plus, volts_of_signal

__all__ = ["PAST", "LeadEnd", "LeadEnds", "Side", "lead_ends"]

#: At a fuse, switch or diode, which sit in the plus alone, the return has no pin.
PAST = "past it"
#: Its plus has one pin each side, which are told apart by what they are for.
IN, OUT = "its way in", "its way out"


class Side(msgspec.Struct, frozen=True):
    """One pole of one end: the pins that its conductors go on, or words where there are none; "" is not known.

    ``ends`` are the pins as sockets have them; ``others`` counts pins of the same kind that would do as well.
    """

    words: str = ""
    ends: tuple[End, ...] = ()
    others: int = 0


class LeadEnd(msgspec.Struct, frozen=True):
    """One end of a lead: its plus and its return, the connector there and its kind.

    ``other`` are the signals of its pins with power where each of them states other volts than are there.
    """

    point: InletPoint | OutletPoint
    plus: Side
    back: Side
    place: str
    plug: str | None
    other: tuple[str, ...] = ()


class LeadEnds(msgspec.Struct, frozen=True):
    """Both ends of a lead, and the colours of its conductors out and back, "" where the plan's code has none."""

    inlet: InletPoint
    a: LeadEnd
    b: LeadEnd
    colours: tuple[str, str]


@working(reads=("plan", "part"))
def lead_ends(plan: Plan, pairs: dict[str, Pair]) -> dict[str, LeadEnds]:
    """Both ends of every lead that no harness replaces, by the name of the inlet that it feeds."""
    finder = Sockets(plan)
    found: dict[str, LeadEnds] = {}
    for thing in plan.order:
        for inlet in thing.inlets:
            if inlet.source is None or inlet.lead is None or inlet.name in pairs:
                continue
            each_way = inlet.lead.parallel
            a = _end(finder, inlet.source, each_way)
            b = _end(finder, inlet, each_way)
            found[inlet.name] = LeadEnds(inlet, a, b, _colours(plan, inlet, a, b))
    return found


def _end(finder: Sockets, point: InletPoint | OutletPoint, each_way: int) -> LeadEnd:
    giving = isinstance(point, OutletPoint)
    socket = finder.socket(point.thing.id, point.id or ("out" if giving else "in"), point.name)
    plug = getattr(point.spec, "plug", None)
    if giving and plug is None and in_the_plus(point.thing):
        plug = next(
            (inlet.spec.plug for inlet in point.thing.inlets), None
        )  # a holder is alike on both sides
    if isinstance(socket, str):
        return LeadEnd(point, Side(), Side(), point.name, plug)
    if not socket.pins:
        return LeadEnd(point, *_poles(point), point.name, plug)
    pins = [socket.end(pin) for pin in socket.pins]
    plus = [end for end in pins if _is_plus(end, point)]
    back = [end for end in pins if end.is_return]
    if plus and not back and in_the_plus(point.thing):
        side = msgspec.structs.replace(_side(plus, each_way), words=OUT if giving else IN)
        return LeadEnd(point, side, Side(PAST), socket.name, plug)
    other = tuple(dict.fromkeys(end.signal for end in pins if end.is_plus)) if not plus else ()
    near = _nearest(socket, plus, back)
    return LeadEnd(point, _side(plus, each_way), _side(near, each_way), socket.name, plug, other)


def _is_plus(end: End, point: InletPoint | OutletPoint) -> bool:
    """Say whether a pin is the plus of an inlet or outlet; one whose name states other volts is not."""
    named = volts_of_signal(end.signal)
    if isinstance(point, InletPoint):
        low, high = end.window or (0.0, inf)
        mine = end.is_plus and not end.gives and point.name in end.inlets
    else:
        low = high = end.rail[0] if end.rail is not None else named or 0.0
        mine = end.source and end.outlet == point.id
    return mine and (named is None or low * (1 - NEAR) <= named <= high * (1 + NEAR))


def _side(ends: list[End], each_way: int) -> Side:
    taken = tuple(ends[:each_way])
    return Side(_told(taken), taken, len(ends) - len(taken))


def _told(ends: tuple[End, ...]) -> str:
    return " and ".join(f"{end.pin} ({end.signal})" for end in ends)


def _nearest(socket: Any, plus: list[End], back: list[End]) -> list[End]:
    """Return the returns of a socket, those that stand nearest to the plus pins first."""
    plug = socket.plug
    try:
        places = grid(
            list(socket.pins), getattr(plug, "rows", None) or 1, getattr(plug, "numbered", None) or "along"
        )
    except ValueError:
        return back
    spots = [places.at(end.pin) for end in plus]

    def away(end: End) -> float:
        x, y = places.at(end.pin)
        return min(((x - a) ** 2 + (y - b) ** 2 for a, b in spots), default=0.0)

    return sorted(back, key=away)


def _poles(point: InletPoint | OutletPoint) -> tuple[Side, Side]:
    """Return the poles of a plug that has no pins by number: a barrel says which of them is its centre."""
    centre = getattr(point.spec, "centre", None)
    if centre is None:
        return Side("+"), Side("-")
    inner, outer = Side("centre"), Side("sleeve")
    return (inner, outer) if centre == "positive" else (outer, inner)


def _colours(plan: Plan, inlet: InletPoint, a: LeadEnd, b: LeadEnd) -> tuple[str, str]:
    code = plan.head.colours or {}
    assert inlet.source is not None
    root = inlet.source.root
    volts = source_volts(root)
    rail = root.id.casefold()  # a code may speak of a rail by its name, where no pin tells it
    plus = _colour(code, volts[0] if volts else None, rail, (*a.plus.ends, *b.plus.ends))
    return plus, _colour(code, 0.0, "ground", (*a.back.ends, *b.back.ends))


def _colour(code: dict[str, str], volts: float | None, carries: str, ends: tuple[End, ...]) -> str:
    return next((colours_of(said)[0] for key, said in code.items() if means(key, volts, carries, ends)), "")
