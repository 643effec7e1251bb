"""What flows in every wire of every harness and through every contact at its ends.

Given what each inlet takes at its worst moment, the wires and contacts of its power are a resistive network: out from
the pins of what feeds it, and back. Contacts age unequally, and the freshest carries most, so each is tried as the
only new one among aged ones. What a plug joins by itself, as the three pins of a rail in SATA power, is rated as one.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from coldcheck.dc.contact import rise
from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan
from coldcheck.plan.reading import plugs_of

from .carried import carried
from .harness import Bundle, wire_ohms
from .power import Arrival
from .webs import Element, Node, contact_ohms, device_node, wire_node
from .wiring import Knot, Wiring

__all__ = ["Flow", "PinAmps", "pin_amps"]


class Flow(msgspec.Struct, frozen=True):
    """The current in a wire or through a contact: nominal, the most in a surge and the most that lasts [A].

    ``inlets`` are those that it serves; ``warmer`` is how far the wire is above the air [K], None for a contact.
    """

    nominal: float
    most: float
    settled: float
    inlets: tuple[str, ...]
    warmer: float | None = None


class PinAmps(msgspec.Struct):
    """The flows: of wires by their number in `pin_wires`, of contacts by pin; ``missing``, by inlet, what they lack."""

    wires: dict[int, Flow]
    contacts: dict[str, Flow]
    missing: dict[str, str]


@working(reads=("plan", "part"))
def pin_amps(plan: Plan, wiring: Wiring, bundles: dict[str, Bundle], arrivals: list[Arrival]) -> PinAmps:
    """The current of every wire and contact of every harness [A], where it can be told."""
    found = PinAmps({}, {}, {})
    if not wiring.wires:
        return found
    taken = {arrival.name: arrival for arrival in arrivals}
    sound = {
        n for n, b in bundles.items() if not (b.wrong or b.blind) and n in taken and taken[n].amps is not None
    }
    for side in (True, False):
        for group in _groups(wiring, sound, side):
            _Side(plan, wiring, group, taken, found, side).run()
    return found


def _groups(wiring: Wiring, sound: set[str], plus: bool) -> list[list[Knot]]:
    """Return the knots of plus, or of returns, in groups that hang together by the inlets that they feed."""
    groups: list[tuple[set[str], list[Knot]]] = []
    for knot in wiring.knots():
        ends = [e for e in knot.pins.values() if (e.is_plus if plus else e.is_return)]
        names = {name for end in ends for name in end.inlets}
        if not names or not names <= sound or not any(not end.takes for end in ends):
            continue
        touching = [group for group in groups if group[0] & names]
        merged = names.union(*(g[0] for g in touching)), [k for g in touching for k in g[1]] + [knot]
        groups = [g for g in groups if g not in touching] + [merged]
    return [members for _, members in groups]


class _Side:
    """One side of the loop of inlets that hang together: all of its wires, out or back."""

    def __init__(
        self,
        plan: Plan,
        wiring: Wiring,
        knots: list[Knot],
        taken: dict[str, Arrival],
        found: PinAmps,
        plus: bool,
    ) -> None:
        self.plan, self.wiring, self.knots, self.found = plan, wiring, knots, found
        self.plug = plugs_of(plan.shelf)
        self.inlets = {n: taken[n] for k in knots for e in k.pins.values() for n in e.inlets}
        self.served: dict[Node, list[str]] = {}
        self.sources: set[Node] = set()
        self.elements: list[Element] = []
        self.missing = ""
        for knot in knots:
            self._lay(knot, plus)

    def _lay(self, knot: Knot, plus: bool) -> None:
        for i in sorted({i for i, _ in knot.slots}):
            wire = self.wiring.wires[i]
            ohms = wire_ohms(wire, self.plan.head.ambient)
            if ohms is None:
                self.missing = f"gauge and length of the wire {wire.name}"
                return
            self.elements.append(Element(wire_node(wire.a), wire_node(wire.b), *ohms, wire=i))
        for end in knot.pins.values():
            used = [name for name in end.inlets if name in self.inlets]
            node = device_node(end, used[0] if used and plus and not end.source else "")
            if used and not end.source:
                self.served[node] = used
            else:
                self.sources.add(node)
            new, aged = contact_ohms(self.plug(end.plug) if end.plug else None)
            self.elements.append(
                Element(wire_node(end), node, new, max(new, aged), pin=end.ref, plug=end.plug)
            )

    def run(self) -> None:
        """Solve it for each contact fresh among aged ones, and keep the most of each wire and contact."""
        if self.missing:
            self.found.missing.update(dict.fromkeys(self.inlets, self.missing))
            return
        nominal = self._solve(self._amps("nominal"), None)
        most = self._solve(self._amps("most"), "")
        lasting = self._solve(self._amps("settled"), "")
        for pin in self._side_by_side():
            for worst, kind in ((most, "most"), (lasting, "settled")):
                tried = self._solve(self._amps(kind), pin)
                worst[:] = map(max, worst, tried)
        names = self._names()
        for n, element in enumerate(self.elements):
            flow = Flow(nominal[n], most[n], lasting[n], names)
            if element.wire is None:
                self.found.contacts[element.pin] = flow
            else:
                warmer = self._warmer(element.wire, lasting[n])
                self.found.wires[element.wire] = msgspec.structs.replace(flow, warmer=warmer)

    def _names(self) -> tuple[str, ...]:
        return tuple(self.inlets)

    def _side_by_side(self) -> Iterable[str]:
        """Return the contacts whose share depends on how the others have aged: those of a ring."""
        nodes = {e.a for e in self.elements} | {e.b for e in self.elements}
        sources = len(self.sources) - 1 if self.sources else 0  # all sources are at one potential here
        if len(self.elements) <= len(nodes) - 1 - sources:
            return []
        return [e.pin for e in self.elements if e.pin]

    def _amps(self, kind: str) -> dict[Node, float]:
        """Return what is taken at each node of inlets [A]."""
        return {
            node: sum(_of(self.inlets[name], kind) for name in names) for node, names in self.served.items()
        }

    def _solve(self, amps: dict[Node, float], fresh: str | None) -> list[float]:
        """Return the current of each element [A]: as new (None), or worn but for the contact ``fresh``."""
        from coldcheck.dc.spread import currents

        ohms = [
            (e.nominal if fresh is None or e.pin == fresh or e.wire is not None else e.worst)
            for e in self.elements
        ]
        ends = [(e.a, e.b) for e in self.elements]
        return [abs(x) for x in currents(ends, ohms, amps, self.sources)]

    def _warmer(self, number: int, amps: float) -> float | None:
        wire = self.wiring.wires[number]
        if wire.gauge is None:
            return None
        each = carried(wire.gauge, wire.wire.metal or "copper")
        return None if each.floor else rise(amps, each.amps)


def _of(arrival: Arrival, kind: str) -> float:
    if kind == "nominal":
        net = arrival.net
        return net.nominal.amps[arrival.i] if net.nominal.amps else 0.0
    return (arrival.amps if kind == "most" else arrival.settled) or 0.0
