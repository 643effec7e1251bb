"""Clamps: how many wires go under one screw."""

from __future__ import annotations

from collections.abc import Iterator

from coldcheck import Case, Finding, Review, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.spans import listed
from coldcheck.workings.lead_ends import LeadEnds
from coldcheck.workings.leads import Leads
from coldcheck.workings.pins import PinWire

#: So many wires one screw clamps, if its maker does not say more.
MOST = 2


@rule(level="warning", over="plan")
def crowded(
    plan: Plan, pin_wires: list[PinWire], lead_ends: dict[str, LeadEnds], leads: Leads
) -> Iterator[Finding]:
    """No more wires go under one screw than it holds.

    Two of one size in a twin ferrule are held; of three, or of a thick one beside a thin one, the thinnest works loose,
    and what is loose gets hot. Rings on a bolt and joints that have a way for each wire are made for several.

    Source: common practice: two wires to a clamp, unless its maker allows more.
    """
    found: dict[tuple[str, str], list[str]] = {}  # by thing and terminal, what goes there

    def put(thing: str, terminal: str, plug: str | None, to: str) -> None:
        part = leads.plug(plug)
        if part is not None and part.single and part.end in (None, "ferrule"):
            found.setdefault((thing, terminal), []).append(to)

    for wire in pin_wires:
        for end, far in ((wire.a, wire.b), (wire.b, wire.a)):
            if not (end.splice or end.unknown):
                put(end.thing, end.ref, end.plug, far.ref)
    for ends in lead_ends.values():
        many = ends.inlet.lead.parallel if ends.inlet.lead is not None else 1
        for own, other in ((ends.a, ends.b), (ends.b, ends.a)):
            for side in (own.plus, own.back):
                for n in range(many if side.ends else 0):
                    pin = side.ends[min(n, len(side.ends) - 1)]
                    put(own.point.thing.id, pin.ref, own.plug, other.place)
    for name in dict.fromkeys(thing for thing, _ in found):
        full = {at: to for (thing, at), to in found.items() if thing == name and len(to) > MOST}
        if not full:
            continue
        wires = max(map(len, full.values()))
        yield Review(
            plan.things[name],
            f"{wires} wires go under one screw at {listed(list(full))}",
            because=f"to {listed(list(dict.fromkeys(to for several in full.values() for to in several)))}",
            remedy="see that its maker allows so many, or give each a way of its own on a block or a bus bar",
            subjects=(name,),
        )


_FED = '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "{}"\n'
_FED += '[[fan]]\nid = "n1 .. n{}"\nfrom = "f"\nlead = "22 AWG, 100 mm"\n'
_LISTED = (
    '[[feed]]\nid = "f"\nvolts = "12 V"\nplug = "screw-2"\n[[fan]]\nid = "n"\nfrom = "f"\nplug = "fan-3"\n'
    '[[harness]]\nid = "h"\n{}'
)
_WIRE = '[[harness.wire]]\nfrom = "f.1"\nto = "n.2"\n'
cases(
    crowded,
    clean=[
        _FED.format("screw-2", 2),
        _FED.format("ring-m8", 5),
        _FED.format("header-40", 3),
        _LISTED.format(2 * _WIRE),
    ],
    flagged=[
        Case(
            _FED.format("screw-2", 3),
            at="3 wires go under one screw at f.out.1 and f.out.2",
            kind="review",
            mended=_FED.format("screw-2", 2),
        ),
        Case(_FED.format("screw-2", 2).replace("100 mm", "100 mm, 2 x"), at="4 wires", kind="review"),
        Case(_LISTED.format(3 * _WIRE), at="3 wires", kind="review", mended=_LISTED.format(2 * _WIRE)),
    ],
)
