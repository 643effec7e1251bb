"""What is put on the ends of the wires, by plug and size of wire: contacts, ferrules, terminals, joints."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.tables import Plug

from .lead_ends import PAST, LeadEnd, LeadEnds
from .pins import PinWire, in_the_plus
from .schedule import kind_of, size_of

__all__ = ["Crimp", "crimps", "joins_returns"]


class Crimp(msgspec.Struct, frozen=True):
    """Equal pieces on ends of wires: ``count`` of them, for a ``plug`` (an id of the shelf; "" is not known) and a
    ``size`` of wire ("" is not known, or several).

    ``how``: "contact" in a housing, "ferrule", "itself" (the plug is the terminal on the wire), "joint" of several
    wires, "past" (a joint where returns go past an in-line thing), "clamped" (it is not known what a single wire ends
    in), "whole" (nothing is crimped: it is bought with its wires, or soldered), "unknown". ``strip``: how much
    insulation goes [m], if known.
    """

    how: str
    plug: str
    size: str
    strip: float | None
    count: int


@working(reads=("plan", "part"))
def crimps(plan: Plan, pin_wires: list[PinWire], lead_ends: dict[str, LeadEnds]) -> list[Crimp]:
    """All ends of all wires and leads of the plan, those alike together."""
    plug = plugs_of(plan.shelf)
    found: Counter[tuple[str, str, str]] = Counter()
    for piece in _of_wires(pin_wires, plug):
        found[piece] += 1
    for ends in lead_ends.values():
        for end in (ends.a, ends.b):
            found.update(_of_lead(end, ends, plug))
    found.update(_past(lead_ends, plug))
    made = []
    for (how, name, size), count in sorted(found.items()):
        part = plug(name) if name else None
        made.append(Crimp(how, name, size, part.strip if part is not None else None, count))
    return made


def joins_returns(plug: Plug | None) -> bool:
    """Say whether the plug of an in-line thing is a joint: then another of its kind joins the returns that go past."""
    return _how(plug) == "joint"


def _how(part: Plug | None) -> str:
    if part is None:
        return "unknown"
    if part.end is not None:
        return part.end
    if part.single:
        return "clamped"
    return "contact" if part.pins else "whole"


def _of_wires(wires: list[PinWire], plug: Any) -> Iterator[tuple[str, str, str]]:
    """Yield the pieces of a harness: one for each pin of a plug, however many wires it holds; joints likewise."""
    pieces: dict[tuple[str, str], tuple[str, str, str]] = {}
    for wire in wires:
        size = size_of(wire.wire.gauge, wire.wire.area)
        for end in (wire.a, wire.b):
            if end.unknown:
                continue
            kind = kind_of(end, wire) or ""
            how = "joint" if end.splice else _how(plug(kind) if kind else None)
            how = "contact" if how in ("unknown", "whole") else how
            alone = how in ("ferrule", "itself", "clamped")
            pieces.setdefault(
                (end.ref, wire.name if alone else ""), (how, kind, "" if how == "joint" else size)
            )
    yield from pieces.values()


def _of_lead(end: LeadEnd, ends: LeadEnds, plug: Any) -> Counter[tuple[str, str, str]]:
    """Return what ends the conductors of a lead on one of its sides."""
    run = ends.inlet.lead
    assert run is not None
    part = plug(end.plug) if end.plug else None
    sides = [side for side in (end.plus, end.back) if side.words != PAST]
    how, size = _how(part), size_of(run.gauge, run.area)
    count = len(sides) if how == "joint" else run.parallel * len(sides)
    if how == "contact":
        count = sum(len(side.ends) for side in sides)
    return Counter({(how, end.plug or "", "" if how == "joint" else size): count})


def _past(leads: dict[str, LeadEnds], plug: Any) -> Counter[tuple[str, str, str]]:
    """Return the joints of the returns that go past in-line things: that of the way in with those of the ways out."""
    found: Counter[tuple[str, str, str]] = Counter()
    for ends in leads.values():
        thing = ends.inlet.thing
        out = [one for one in leads.values() if one.a.point.thing is thing]
        if ends.b.back.words != PAST or not out or not in_the_plus(thing):
            continue
        runs = [one.inlet.lead for one in (ends, *out)]
        sizes = [size_of(run.gauge, run.area) for run in runs if run is not None]
        kind = ends.b.plug if ends.b.plug and joins_returns(plug(ends.b.plug)) else ""
        found[
            "joint" if kind else "past", kind, "" if kind else " and ".join(sizes if all(sizes) else ())
        ] += 1
    return found
