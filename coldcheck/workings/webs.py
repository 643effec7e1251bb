"""Webs: harness wires that branch, as the circuit they are: every wire, every contact and every joint by itself.

Where the wires of an inlet run straight from pins of what feeds it, they are one pair (`harness.pairs`). Splices,
contacts that hold several wires, and trunks that several things share make a web: what one thing draws then lowers
the volts of its neighbours, out and back.
"""

from __future__ import annotations

from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan
from coldcheck.plan.reading import plugs_of

from .harness import Bundle, wire_ohms
from .leads import UNKNOWN_CONTACT
from .pins import End
from .wiring import Knot, Wiring

__all__ = ["Element", "Node", "Web", "Webs", "contact_ohms", "device_node", "webs", "wire_node"]

#: A place of a web: ("wire", pin or joint) where wires end; ("plus", thing, outlet), ("ground", thing), ("in", inlet)
#: and ("back", socket) inside things.
Node = tuple[str, ...]


class Element(msgspec.Struct, frozen=True):
    """One resistance of a web: between which nodes, nominal and worst [ohm], and the wire or the pin that it is.

    ``wire`` is the number of the wire in `pin_wires`, None for a contact; ``pin`` the name of the pin, "" for a wire;
    ``plug`` what the contact is of.
    """

    a: Node
    b: Node
    nominal: float
    worst: float
    wire: int | None = None
    pin: str = ""
    plug: str | None = None


class Web(msgspec.Struct):
    """The elements of knots that hang together, the inlets that they feed, the socket of each, and what is missing."""

    elements: list[Element]
    inlets: list[str]
    sockets: dict[str, str] = {}
    missing: str = ""


class Webs:
    """The webs of a plan, and each of them by the name of an inlet that it feeds."""

    def __init__(self, found: list[Web]) -> None:
        self.all = found
        self.of = {name: web for web in found for name in web.inlets}
        self._sockets = {name: place for web in found for name, place in web.sockets.items()}

    def back(self, inlet: str) -> Node:
        """Return where the return of an inlet enters its web."""
        return ("back", self._sockets.get(inlet, inlet))


def wire_node(end: End) -> Node:
    """Return where the wires at a pin or a joint end."""
    return ("wire", end.ref)


def device_node(end: End, inlet: str = "") -> Node:
    """Return what is behind a contact inside the thing: an outlet, a ground, an inlet, or the return of a socket.

    ``inlet`` is the name of the inlet in use that a plus pin feeds.
    """
    if inlet:
        return ("in", inlet)
    if end.is_return:
        return ("back", end.place) if end.takes else ("ground", end.thing)
    return ("plus", end.thing, end.outlet)


def contact_ohms(plug: Any) -> tuple[float, float]:
    """Return the resistance of one contact of a plug, new and aged [ohm]; an unknown one is as good as none
    when new."""
    if plug is None or plug.ohms is None:
        return 0.0, UNKNOWN_CONTACT
    return plug.ohms, plug.aged if plug.aged is not None else 2 * plug.ohms


@working(reads=("plan", "part"))
def webs(plan: Plan, wiring: Wiring, bundles: dict[str, Bundle]) -> Webs:
    """The harness wires that branch, each web with all inlets that it feeds."""
    branched = {name for name, bundle in bundles.items() if bundle.branched and not bundle.wrong}
    if not branched:
        return Webs([])
    return Webs(_Builder(plan, wiring, branched).run())


class _Builder:
    def __init__(self, plan: Plan, wiring: Wiring, branched: set[str]) -> None:
        self.plan, self.wiring, self.branched = plan, wiring, branched
        self.plug = plugs_of(plan.shelf)

    def run(self) -> list[Web]:
        # A ground that goes along with data is no way for power.
        knots = [
            knot
            for knot in self.wiring.knots()
            if any(end.carries and not end.takes for end in knot.pins.values())
        ]
        fed = [
            (knot, {n for end in knot.ends.values() for n in end.inlets} & self.branched) for knot in knots
        ]
        groups: list[tuple[set[str], list[Knot]]] = []
        for knot, names in fed:
            if not names:
                continue
            touching = [group for group in groups if group[0] & names]
            merged = (names.union(*(g[0] for g in touching)), [k for g in touching for k in g[1]] + [knot])
            groups = [g for g in groups if g not in touching] + [merged]
        straps = [knot for knot, names in fed if not names and self._straps(knot)]
        return [self._web(sorted(names), [*members, *straps]) for names, members in groups]

    def _straps(self, knot: Knot) -> bool:
        """Say whether wires join the returns of two sources: what hangs on the one may flow back by the other."""
        ends = [end for end in knot.pins.values() if end.is_return and not end.takes]
        return len({end.thing for end in ends}) > 1 and not knot.odd

    def _web(self, names: list[str], knots: list[Knot]) -> Web:
        web = Web(
            [], names, {n: e.place for k in knots for e in k.ends.values() for n in e.inlets if n in names}
        )
        ambient = self.plan.head.ambient
        for knot in knots:
            for i in sorted({i for i, _ in knot.slots}):
                pin_wire = self.wiring.wires[i]
                ohms = wire_ohms(pin_wire, ambient)
                if ohms is None:
                    web.missing = web.missing or f"gauge and length of the wire {pin_wire.name}"
                    ohms = 0.0, 0.0
                web.elements.append(Element(wire_node(pin_wire.a), wire_node(pin_wire.b), *ohms, wire=i))
            for end in knot.pins.values():
                web.elements += self._contact(end)
        return web

    def _contact(self, end: End) -> list[Element]:
        """Return the contact at a pin; one with a signal alone carries nothing."""
        if not end.carries:
            return []
        new, aged = contact_ohms(self.plug(end.plug) if end.plug else None)
        used = (
            [name for name in end.inlets if name in self.wiring.inlets]
            if end.is_plus and not end.source
            else []
        )
        node = device_node(end, used[0] if used else "")
        return [Element(wire_node(end), node, new, aged, pin=end.ref, plug=end.plug)]
