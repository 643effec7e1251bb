"""Harnesses inlet by inlet: which wires bring its power out and back, and the resistance of the pairs they make."""

from __future__ import annotations

import msgspec

from coldcheck.dc import wire as copper
from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, Plan

from .pins import End, PinWire, in_the_plus
from .wiring import Ailment, Knot, Wiring

__all__ = ["RISE", "Bundle", "Pair", "bundles", "pairs", "wire_ohms"]

#: How much warmer than the ambient the copper is in the worst corner [K].
RISE = 30.0


class Pair(msgspec.Struct, frozen=True):
    """The wires between one outlet and one inlet: loop resistance nominal and worst [ohm], or what is missing.

    ``out`` and ``back`` are the wires that carry its power, side by side; ``side_by_side`` counts the pins of the
    inlet that share it, ``at_source`` those of the other end. ``astray``: one of its wires is wrong, or what its pins
    carry is not known; `rules/pins.py` tells that, and there is no lead to fall back on.
    """

    nominal: float
    worst: float
    missing: str
    wires: tuple[PinWire, ...]
    side_by_side: int = 1
    out: tuple[PinWire, ...] = ()
    back: tuple[PinWire, ...] = ()
    at_source: int = 1
    astray: bool = False
    web: bool = False
    at_plug: str | None = None

    @property
    def sides(self) -> list[tuple[PinWire, ...]]:
        """The wires that share the current of each side of the loop; of a web, each carries what it must by itself."""
        return [(wire,) for wire in self.wires] if self.web else [self.out, self.back]


class Bundle:
    """The wires that end at the socket of one inlet: power ``out`` and ``back``, each as (own end, other end, wire).

    ``wrong``: what they join is wrong, and `rules/pins.py` speaks of it; ``blind``: what a pin carries is not known;
    ``branched``: its power does not come by wires of its own straight from pins of what feeds it, but by splices, by
    contacts that hold several wires, or from pin to pin of others: `webs` has that.
    """

    def __init__(
        self, inlet: InletPoint, ends: list[tuple[End, End, PinWire]], wrong: bool, branched: bool
    ) -> None:
        self.inlet = inlet
        self.wires = tuple(wire for _, _, wire in ends)
        self.wrong = wrong
        self.branched = branched
        self.blind = any(mine.blind for mine, _, _ in ends)
        mine = [entry for entry in ends if inlet.name in entry[0].inlets]
        #: where a probe finds its plus and its return, None where no wire ends on such a pin
        self.plus = next((own.ref for own, _, _ in mine if own.is_plus), None)
        self.minus = next((own.ref for own, _, _ in mine if own.is_return), None)
        self.out = [entry for entry in mine if entry[0].is_plus and not entry[1].takes]
        self.back = [entry for entry in mine if entry[0].is_return and not entry[1].takes]

    @property
    def carries(self) -> bool:
        """Whether it is meant to carry power: a plus arrives, or a return leaves to what feeds the inlet."""
        return bool(self.out or self.wrong or self.blind or self.branched)


@working(reads=())
def bundles(plan: Plan, wiring: Wiring) -> dict[str, Bundle]:
    """The wires that end at the socket of each inlet that is fed, by the inlet's name."""
    if not wiring.wires:
        return {}
    found = wiring.ailments()
    wrong = {name for one in found for name in _concerned(one, wiring)}
    sockets: dict[str, list[tuple[End, End, PinWire]]] = {}
    for wire in wiring.wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            sockets.setdefault(mine.place, []).append((mine, other, wire))
            if wire.a.unknown or wire.b.unknown:
                wrong.update(mine.inlets)
    branched = {name for knot in wiring.knots() if not _straight(knot) for name in _fed_by(knot)}
    places = {n: mine.place for ends in sockets.values() for mine, _, _ in ends for n in mine.inlets}
    return {
        name: Bundle(inlet, sockets[places[name]], name in wrong, name in branched)
        for name, inlet in wiring.inlets.items()
    }


def _concerned(ailment: Ailment, wiring: Wiring) -> set[str]:
    """Return the inlets whose power cannot be computed because of an ailment."""
    if ailment.inlet is not None:
        return {ailment.inlet.name}
    if ailment.kind == "useless":
        return set()
    ends = [wiring.state[i][side] for i, side in ailment.slots]
    return {name for end in ends for name in end.inlets}


def _straight(knot: Knot) -> bool:
    """Say whether every wire of a knot of power runs from a pin of what gives it to a contact of its own.

    A ground that goes along with data joins returns of things that have others: it is no way for their power.
    """
    if not _of_power(knot):
        return True
    taken: set[str] = set()
    for i in sorted({i for i, _ in knot.slots}):
        pair = knot.ends[i, 0], knot.ends[i, 1]
        if any(end.splice for end in pair) or sum(end.takes for end in pair) != 1:
            return False
        # A screw terminal clamps each of several wires; a crimp contact holds them all in one.
        held = {end.ref for end in pair if end.takes or not getattr(end.socket.plug, "single", True)}
        if taken & held:
            return False
        taken |= held
    return True


def _of_power(knot: Knot) -> bool:
    return any(end.carries and not end.takes for end in knot.pins.values())


def _fed_by(knot: Knot) -> set[str]:
    return {name for end in knot.ends.values() if end.carries for name in end.inlets}


@working(reads=("plan",))
def pairs(plan: Plan, bundles: dict[str, Bundle], wiring: Wiring) -> dict[str, Pair]:
    """The wires that feed each inlet, by the inlet's name: out in parallel, back in parallel, one after the other.

    Only pins that carry power count. An inlet with a wire that is wrong, or that comes from elsewhere, is told of by
    `rules/pins.py`; it falls back on its lead, so that one slip is one finding.
    """
    found = {}
    for name, bundle in bundles.items():
        if bundle.wrong:
            source = bundle.inlet.source
            if bundle.inlet.lead is None and getattr(source and source.spec, "lead", None) is None:
                found[name] = Pair(0.0, 0.0, "a harness without slips", bundle.wires, astray=True)
        elif bundle.branched and bundle.carries:
            found[name] = _branching(name, bundle, wiring)
        elif bundle.carries:
            found[name] = _pair(plan, bundle)
    return found


def _branching(name: str, bundle: Bundle, wiring: Wiring) -> Pair:
    """Return the wires of an inlet that branch on their way: all that its power may take."""
    knots = [
        knot
        for knot in wiring.knots()
        if _of_power(knot) and any(name in end.inlets and end.carries for end in knot.ends.values())
    ]
    numbers = {i for knot in knots for i in _way(knot, name)}
    every = [wiring.wires[i] for i in sorted({i for knot in knots for i, _ in knot.slots})]
    wires = tuple(wiring.wires[i] for i in sorted(numbers))
    bare = next((w for w in every if w.wire.length is None or w.gauge is None), None)
    missing = f"gauge and length of the wire {bare.name}" if bare is not None else ""
    pins = [len({mine.pin for mine, _, _ in side}) or 1 for side in (bundle.out, bundle.back)]
    return Pair(0.0, 0.0, missing, wires, min(pins), web=True)


def _way(knot: Knot, name: str) -> set[int]:
    """Return the wires from the pins of an inlet to what gives or takes back its power, by the shortest way."""
    near: dict[str, list[tuple[int, str]]] = {}
    for i in {i for i, _ in knot.slots}:
        a, b = knot.ends[i, 0].ref, knot.ends[i, 1].ref
        near.setdefault(a, []).append((i, b))
        near.setdefault(b, []).append((i, a))
    todo = [end.ref for end in knot.pins.values() if end.carries and not end.takes]
    came: dict[str, tuple[int, str] | None] = dict.fromkeys(todo)
    for ref in todo:  # grows as it goes
        for i, other in near[ref]:
            if other not in came:
                came[other] = i, ref
                todo.append(other)
    found = set()
    for end in knot.pins.values():
        step = came.get(end.ref) if name in end.inlets else None
        while step is not None:
            found.add(step[0])
            step = came[step[1]]
    return found


def _pair(plan: Plan, bundle: Bundle) -> Pair:
    wires = bundle.wires
    if bundle.blind:
        return Pair(0.0, 0.0, "what its pins carry", wires, astray=True)
    out, back = (tuple(wire for _, _, wire in side) for side in (bundle.out, bundle.back))
    alone = in_the_plus(bundle.inlet.thing) and not back
    if not out or not (back or alone):
        return Pair(0.0, 0.0, "a wire back" if out else "a wire out", wires)
    both = (bundle.out,) if alone else (bundle.out, bundle.back)
    pins = min(len({mine.pin for mine, _, _ in side}) for side in both)
    at_source = min(len({other.pin for _, other, _ in side}) for side in both)
    sides = [_parallel(plan, side) for side in ((out,) if alone else (out, back))]
    if any(side is None for side in sides):
        return Pair(0.0, 0.0, "gauge and length of each wire", wires, pins, out, back, at_source)
    nominal, worst = (sum(side[i] for side in sides if side) for i in (0, 1))
    at_plug = next((other.plug for _, other, _ in bundle.out if other.plug), None)
    return Pair(nominal, worst, "", wires, pins, out, back, at_source, at_plug=at_plug)


def _parallel(plan: Plan, wires: tuple[PinWire, ...]) -> tuple[float, float] | None:
    """Return the resistance of wires side by side, nominal and worst [ohm]; None where one of them is not described."""
    each = [wire_ohms(wire, plan.head.ambient) for wire in wires]
    known = [ohms for ohms in each if ohms is not None]
    if len(known) < len(each):
        return None
    return 1 / sum(1 / ohms for ohms, _ in known), 1 / sum(1 / ohms for _, ohms in known)


def wire_ohms(pin_wire: PinWire, ambient: float) -> tuple[float, float] | None:
    """Return the resistance of one wire, nominal and worst [ohm]; None where its gauge or length is not known.

    Slack is wire, too.
    """
    wire = pin_wire.wire
    if wire.length is None or (wire.gauge is None and wire.area is None):
        return None
    length = wire.length + (wire.slack or 0.0)
    area = copper.awg_area(wire.gauge) if wire.gauge is not None else (wire.area or 0.0) * 1e-6
    metal = wire.metal or "copper"
    nominal = copper.conductor_ohms(length, area, temperature=ambient, metal=metal)
    worst = copper.worst_ohms(
        length, gauge=wire.gauge, area=None if wire.gauge is not None else area, temperature=ambient + RISE,
        metal=metal,
    )  # fmt: skip
    return nominal, worst
