"""Harnesses wire by wire: where each wire goes, what its pins carry, and the resistance of the pairs they make."""

from __future__ import annotations

import re
from typing import Any

import msgspec

from coldcheck.dc import wire as copper
from coldcheck.engine.rules import working
from coldcheck.plan.model import Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.tables import Wire

__all__ = ["End", "Pair", "PinWire", "pairs", "pin_wires", "volts_of_signal"]


class End(msgspec.Struct, frozen=True):
    """One end of a wire: a thing, one of its connectors or inlets, a pin, and what that pin carries, if known."""

    ref: str
    thing: str
    point: str
    pin: str
    signal: str
    unknown: str = ""

    @property
    def is_return(self) -> bool:
        """Whether the pin is a return."""
        return self.signal in ("gnd", "-")


class PinWire(msgspec.Struct, frozen=True):
    """A wire with both ends resolved. ``name`` is how a finding calls it."""

    wire: Wire
    a: End
    b: End

    @property
    def name(self) -> str:
        """The two ends, as written."""
        return f"{self.wire.from_} to {self.wire.to}"

    @property
    def path(self) -> Any:
        """Where it stands in the plan."""
        return self.wire.path


class Pair(msgspec.Struct, frozen=True):
    """The wires between one outlet and one inlet: loop resistance nominal and worst [ohm], or what is missing."""

    nominal: float
    worst: float
    missing: str
    wires: tuple[PinWire, ...]
    side_by_side: int = 1


_VOLTS = re.compile(r"\+?(\d+(?:\.\d+)?) ?v", re.IGNORECASE)


def volts_of_signal(signal: str) -> float | None:
    """Return the volts that the name of a signal states, ``"12v"`` being 12, or None."""
    match = _VOLTS.fullmatch(signal)
    return float(match[1]) if match else 0.0 if signal in ("gnd", "-") else None


@working(reads=("harness", "supply", "node", "storage", "drive", "switch", "fan", "appliance", "part"))
def pin_wires(plan: Plan) -> list[PinWire]:
    """Every wire of every harness with its ends resolved to pins and signals."""
    if not plan.table("harness"):
        return []
    finder = _Finder(plan)
    return [
        PinWire(wire, finder.end(wire.from_ or ""), finder.end(wire.to or ""))
        for harness in plan.table("harness")
        for wire in harness.wire
    ]


class _Finder:
    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._plug = plugs_of(plan.shelf)

    def end(self, ref: str) -> End:
        """Return the end that ``thing.point.pin`` names; ``unknown`` says what about it cannot be resolved."""
        name, _, rest = ref.partition(".")
        point, _, pin = rest.rpartition(".")
        thing = self.plan.things.get(name)
        if thing is None or not hasattr(thing, "stated"):
            return End(ref, name, point, pin, "", f"nothing is called {name}")
        holder = self._holder(thing, point)
        if holder is None:
            known = ", ".join(self._points(thing)) or "none"
            return End(
                ref,
                name,
                point,
                pin,
                "",
                f"{name} has no connector or inlet {point or rest}; it has: {known}",
            )
        plug = self._plug(holder.plug) if holder.plug else None
        pins = holder.pins or (plug.pins if plug else None)
        if not pins:
            return End(ref, name, point, pin, "")
        if pin not in pins:
            return End(
                ref, name, point, pin, "", f"{name}.{point} has no pin {pin}; it has {', '.join(pins)}"
            )
        return End(ref, name, point, pin, pins[pin])

    def _holder(self, thing: Any, point: str) -> Any:
        for connector in getattr(thing, "connector", ()):
            if connector.id == point:
                return connector
        for inlet in getattr(thing, "inlets", ()):
            if inlet.id == point:
                return inlet.spec
        return next((i for i in getattr(thing, "inlet", ()) if i.id == point), None)

    @staticmethod
    def _points(thing: Any) -> list[str]:
        return [x.id for x in (*getattr(thing, "connector", ()), *getattr(thing, "inlet", ()))]


@working(reads=("plan", "harness"))
def pairs(plan: Plan, pin_wires: list[PinWire]) -> dict[str, Pair]:
    """The wires that feed each inlet, by the inlet's name: out in parallel, back in parallel, one after the other."""
    there: dict[str, list[tuple[End, PinWire]]] = {}
    for wire in pin_wires:
        for end in (wire.a, wire.b):
            there.setdefault(f"{end.thing}.{end.point}" if end.point else end.thing, []).append((end, wire))
    found = {}
    for thing in plan.things.values():
        for inlet in getattr(thing, "inlets", ()):
            if inlet.name in there and inlet.source is not None:
                found[inlet.name] = _pair(plan, there[inlet.name])
    return found


def _pair(plan: Plan, ends: list[tuple[End, PinWire]]) -> Pair:
    wires = tuple(wire for _, wire in ends)
    if any(end.unknown or not end.signal for end, _ in ends):
        return Pair(0.0, 0.0, "what its pins carry", wires)
    out = [wire for end, wire in ends if not end.is_return]
    back = [wire for end, wire in ends if end.is_return]
    if not out or not back:
        return Pair(0.0, 0.0, "a wire back" if out else "a wire out", wires)
    sides = [_parallel(plan, side) for side in (out, back)]
    if any(side is None for side in sides):
        return Pair(0.0, 0.0, "gauge and length of each wire", wires)
    nominal, worst = (sum(side[i] for side in sides if side) for i in (0, 1))
    return Pair(nominal, worst, "", wires, min(len(out), len(back)))


def _parallel(plan: Plan, wires: list[PinWire]) -> tuple[float, float] | None:
    sums = [0.0, 0.0]
    for pin_wire in wires:
        wire = pin_wire.wire
        if wire.length is None or (wire.gauge is None and wire.area is None):
            return None
        area = copper.awg_area(wire.gauge) if wire.gauge is not None else (wire.area or 0.0) * 1e-6
        ambient = plan.head.ambient
        sums[0] += 1 / copper.conductor_ohms(wire.length, area, temperature=ambient)
        sums[1] += 1 / copper.worst_ohms(
            wire.length,
            gauge=wire.gauge,
            area=None if wire.gauge is not None else area,
            temperature=ambient + 30.0,
        )
    return 1 / sums[0], 1 / sums[1]
