"""Harnesses wire by wire: where each wire goes, what its pins carry, and the resistance of the pairs they make."""

from __future__ import annotations

import re
from typing import Any

import msgspec

from coldcheck.dc import wire as copper
from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Plug, Wire

__all__ = ["Bundle", "End", "Pair", "PinWire", "agree", "bundles", "pairs", "pin_wires", "volts_of_signal"]

#: Words for the return, in any case of letters.
RETURNS = ("gnd", "ground", "return", "-")
#: Words for pins that carry no power, in any case of letters.
SIGNALS = ("signal", "tach", "pwm", "nc")
#: How far the volts of two pins may differ that are meant to be the same: a rail is trimmed by as much.
NEAR = 0.05

_VOLTS = re.compile(r"([+-]?)(\d+)(?:\.(\d+) ?v|v(\d*)| v)")


def volts_of_signal(signal: str) -> float | None:
    """Return the volts that the name of a signal states [V], ``"12v"`` being 12 and ``"3v3"`` 3.3, or None."""
    word = signal.strip().casefold()
    match = _VOLTS.fullmatch(word)
    if match:
        value = float(f"{match[2]}.{match[3] or match[4] or 0}")
        return -value if match[1] == "-" else value
    return 0.0 if word in RETURNS else None


class End(msgspec.Struct, frozen=True):
    """One end of a wire: a thing, one of its points, a pin, and what that pin carries, if known.

    ``pins`` and ``plug`` are those of the point. ``outlet`` is the outlet or rail of the thing that the pin belongs to,
    ``rail`` the nominal, lowest and highest volts behind it [V]; both are empty where the pin does not tell. ``rails``
    has both for every pin of the point that tells. ``takes``: the point is an inlet in use, fed by a source of ``fed``
    volts, if known; ``idle``: it is an inlet that takes no power, as the plan has it. ``pinned``: the
    table of the point has a key for its pins.
    """

    ref: str
    thing: str
    point: str
    pin: str
    signal: str
    unknown: str = ""
    pins: dict[str, str] = {}
    plug: str | None = None
    outlet: str = ""
    rail: tuple[float, float, float] | None = None
    takes: bool = False
    idle: bool = False
    pinned: bool = False
    fed: tuple[float, float, float] | None = None
    rails: dict[str, tuple[str, tuple[float, float, float] | None]] = {}

    def at(self, pin: str) -> End:
        """Return the end at another pin of the same point, which must exist."""
        outlet, rail = self.rails.get(pin, ("", None))
        ref = f"{self.place}.{pin}"
        return msgspec.structs.replace(
            self, ref=ref, pin=pin, signal=self.pins[pin], outlet=outlet, rail=rail, unknown=""
        )

    @property
    def blind(self) -> bool:
        """Whether the pin exists as far as the plan says, but not what it carries."""
        return not self.unknown and not self.signal

    @property
    def place(self) -> str:
        """The name of the point."""
        return f"{self.thing}.{self.point}" if self.point else self.thing

    @property
    def volts(self) -> float | None:
        """The volts of the pin [V], 0 for a return; None for a signal, and where its volts are not known."""
        named = volts_of_signal(self.signal)
        return self.rail[0] if named is None and self.rail is not None else named

    @property
    def is_return(self) -> bool:
        """Whether the pin is a return."""
        return self.volts == 0

    @property
    def is_plus(self) -> bool:
        """Whether the pin carries power out: volts above zero, or a plus of volts not known."""
        volts = self.volts
        return volts > 0 if volts is not None else self.signal.strip() == "+" or bool(self.outlet)

    @property
    def carries(self) -> bool:
        """Whether power flows by this pin, out or back."""
        return self.is_plus or self.is_return


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

    @property
    def gauge(self) -> float | None:
        """Its gauge; of a metric wire, that of its area."""
        if self.wire.gauge is not None or not self.wire.area:
            return self.wire.gauge
        return copper.awg_of_area(self.wire.area * 1e-6)

    @property
    def wrong(self) -> bool:
        """Whether `polarity.pins_agree` speaks of it, and power is in play."""
        a, b = self.a, self.b
        if a.unknown or b.unknown:
            return True
        return bool(a.signal and b.signal) and (a.carries or b.carries) and not agree(a, b)


def agree(a: End, b: End) -> bool:
    """Say whether two pins, both known, carry the same: volts by name or by rail, a plus by any volts above zero.

    A battery strays far from its nominal volts, so a rail agrees with all volts that it may have.
    """
    one, other = a.volts, b.volts
    if one is not None and other is not None:
        near = abs(one - other) <= NEAR * max(abs(one), abs(other))
        return near or any(
            end.rail is not None and end.rail[0] == mine and end.rail[1] <= volts <= end.rail[2]
            for end, mine, volts in ((a, one, other), (b, other, one))
        )
    words = [end.signal.strip().casefold() for end in (a, b)]
    if words[0] == words[1]:
        return True
    for end, mate, word in ((a, b, words[1]), (b, a, words[0])):
        if end.is_plus and end.volts is None:  # a plus, and nobody says of how many volts
            return mate.is_plus or (mate.volts is None and word not in SIGNALS)
    return False


class Pair(msgspec.Struct, frozen=True):
    """The wires between one outlet and one inlet: loop resistance nominal and worst [ohm], or what is missing.

    ``out`` and ``back`` are the wires that carry its power, side by side; ``side_by_side`` counts the pins of the inlet
    that share it, ``at_source`` those of the other end. ``astray``: one of its wires is wrong, or what its pins carry
    is not known; `rules/polarity.py` tells that, and there is no lead to fall back on.
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


class Bundle:
    """The wires that end at one inlet, sorted: power ``out`` and ``back``, each as (own end, other end, wire).

    ``strange`` has the power wires that come from elsewhere than what feeds the inlet; ``wrong`` says that
    `polarity.pins_agree` speaks of one of them, ``blind`` that what the pins of the inlet carry is not known.
    """

    def __init__(self, inlet: InletPoint, ends: list[tuple[End, End, PinWire]]) -> None:
        self.inlet = inlet
        self.wires = tuple(wire for _, _, wire in ends)
        self.wrong = any(wire.wrong for wire in self.wires)
        self.blind = any(mine.blind for mine, _, _ in ends)
        plus = [entry for entry in ends if entry[0].is_plus]
        minus = [entry for entry in ends if entry[0].is_return]
        self.out = [entry for entry in plus if self._ours(entry[1], True)]
        self.back = [entry for entry in minus if self._ours(entry[1], False)]
        self.strange = [] if self.wrong else self._strange(plus, minus)

    def _ours(self, end: End, plus: bool) -> bool:
        source = self.inlet.source
        assert source is not None
        return end.thing == source.thing.id and (not plus or not end.outlet or end.outlet == source.id)

    def _strange(
        self, plus: list[tuple[End, End, PinWire]], minus: list[tuple[End, End, PinWire]]
    ) -> list[tuple[End, End, PinWire]]:
        # A wire on to the next inlet takes power from here; a ground that goes along with data is no way back.
        foreign = [entry for entry in plus if not self._ours(entry[1], True)]
        strange = [entry for entry in foreign if not (self.out and entry[1].takes)]
        if not strange and self.out and not self.back:
            strange = minus
        return strange

    @property
    def carries(self) -> bool:
        """Whether it is meant to carry power: a plus arrives, or a return leaves to what feeds the inlet."""
        return bool(self.out or self.back or self.strange or self.wrong or self.blind)


@working(
    reads=(
        "harness",
        "feed",
        "supply",
        "inline",
        "node",
        "storage",
        "drive",
        "switch",
        "fan",
        "appliance",
        "part",
    )
)
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
        self._known: dict[str, dict[str, Any]] = {}
        self._rails: dict[tuple[str, str], dict[str, tuple[str, tuple[float, float, float] | None]]] = {}

    def end(self, ref: str) -> End:
        """Return the end that ``thing.point.pin`` names; ``unknown`` says what about it cannot be resolved."""
        name, _, rest = ref.partition(".")
        point, _, pin = rest.rpartition(".")
        thing = self.plan.things.get(name)
        if thing is None or not hasattr(thing, "outlets"):
            return End(ref, name, point, pin, "", f"nothing is called {name}")
        points = self._points(thing)
        holder = points.get(point)
        if holder is None:
            known = ", ".join(filter(None, points)) or "none"
            unknown = f"{name} has no connector, inlet or outlet {point or rest}; it has: {known}"
            return End(ref, name, point, pin, "", unknown)
        return self._at(End(ref, name, point, pin, ""), thing, holder)

    def _at(self, end: End, thing: Any, holder: Any) -> End:
        plug: Plug | None = self._plug(holder.plug) if holder.plug else None
        pins = getattr(holder, "pins", None) or (plug.pins if plug else None) or {}
        inlet = next((inlet for inlet in thing.inlets if inlet.spec is holder), None)
        idle = inlet is None and any(spec is holder for spec in getattr(thing, "inlet", ()))
        end = msgspec.structs.replace(
            end,
            pins=pins,
            plug=holder.plug,
            takes=inlet is not None,
            idle=idle,
            pinned=hasattr(holder, "pins"),
        )
        if not pins:
            return end
        if inlet is not None and inlet.source is not None:
            end = msgspec.structs.replace(end, fed=_volts_behind(inlet.source))
        elif inlet is None:
            end = msgspec.structs.replace(end, rails=self._rails_of(thing, end.point, holder, pins))
        if end.pin not in pins:
            unknown = f"{end.place} has no pin {end.pin}; it has {listed(pins)}"
            return msgspec.structs.replace(end, unknown=unknown)
        return end.at(end.pin) if end.rails else msgspec.structs.replace(end, signal=pins[end.pin])

    def _rails_of(
        self, thing: Any, point: str, holder: Any, pins: dict[str, str]
    ) -> dict[str, tuple[str, tuple[float, float, float] | None]]:
        """Return, by pin, the outlet that a pin is the plus of, and its volts."""
        key = thing.id, point
        found = self._rails.get(key)
        if found is None:
            found = self._rails[key] = {}
            for pin, signal in pins.items():
                outlet = next((o for o in thing.outlets if self._belongs(o, signal, holder)), None)
                if outlet is not None:
                    found[pin] = outlet.id, _volts_behind(outlet)
        return found

    @staticmethod
    def _belongs(outlet: Any, signal: str, holder: Any) -> bool:
        """Say whether a pin is the plus of an outlet: of its own plug, of a connector that names the rail, or of the
        connector of a source that has one outlet alone."""
        word, thing = signal.strip().casefold(), outlet.thing
        if word == "+":
            alone = thing.table in ("feed", "supply", "inline") and len(thing.outlets) == 1
            return outlet.spec is holder or (alone and any(point is holder for point in thing.connector))
        return outlet.spec is not holder and bool(outlet.id) and outlet.id.casefold() == word

    def _points(self, thing: Any) -> dict[str, Any]:
        """Return the points whose pins may be named, by name: connectors first, then inlets, then outlets."""
        known = self._known.get(thing.id)
        if known is None:
            known = self._known[thing.id] = {}
            for point in (*thing.connector, *thing.inlets, *getattr(thing, "inlet", ()), *thing.outlets):
                known.setdefault(point.id, getattr(point, "spec", point))
        return known


def _volts_behind(outlet: Any) -> tuple[float, float, float] | None:
    from .power import source_volts  # which knows harnesses itself

    return source_volts(outlet)


@working(
    reads=("harness", "feed", "supply", "inline", "node", "storage", "drive", "switch", "fan", "appliance")
)
def bundles(plan: Plan, pin_wires: list[PinWire]) -> dict[str, Bundle]:
    """The wires that end at each inlet that is fed, by the inlet's name, sorted into out, back and strange ones."""
    if not pin_wires:
        return {}
    there: dict[str, list[tuple[End, End, PinWire]]] = {}
    for wire in pin_wires:
        for mine, other in ((wire.a, wire.b), (wire.b, wire.a)):
            there.setdefault(mine.place, []).append((mine, other, wire))
    return {
        inlet.name: Bundle(inlet, there[inlet.name])
        for thing in plan.things.values()
        for inlet in getattr(thing, "inlets", ())
        if inlet.name in there and inlet.source is not None
    }


@working(reads=("plan",))
def pairs(plan: Plan, bundles: dict[str, Bundle]) -> dict[str, Pair]:
    """The wires that feed each inlet, by the inlet's name: out in parallel, back in parallel, one after the other.

    Only pins that carry power count. An inlet with a wire that is wrong, or that comes from elsewhere, is told of by
    `rules/polarity.py`; it falls back on its lead, so that one slip is one finding.
    """
    found = {}
    for name, bundle in bundles.items():
        if bundle.wrong or bundle.strange:
            source = bundle.inlet.source
            if bundle.inlet.lead is None and getattr(source and source.spec, "lead", None) is None:
                found[name] = Pair(0.0, 0.0, "a harness without slips", bundle.wires, astray=True)
        elif bundle.carries:
            found[name] = _pair(plan, bundle)
    return found


def _pair(plan: Plan, bundle: Bundle) -> Pair:
    wires = bundle.wires
    if bundle.blind:
        return Pair(0.0, 0.0, "what its pins carry", wires, astray=True)
    out, back = (tuple(wire for _, _, wire in side) for side in (bundle.out, bundle.back))
    if not out or not back:
        return Pair(0.0, 0.0, "a wire back" if out else "a wire out", wires)
    both = (bundle.out, bundle.back)
    pins = min(len({mine.pin for mine, _, _ in side}) for side in both)
    at_source = min(len({other.pin for _, other, _ in side}) for side in both)
    sides = [_parallel(plan, side) for side in (out, back)]
    if any(side is None for side in sides):
        return Pair(0.0, 0.0, "gauge and length of each wire", wires, pins, out, back, at_source)
    nominal, worst = (sum(side[i] for side in sides if side) for i in (0, 1))
    return Pair(nominal, worst, "", wires, pins, out, back, at_source)


def _parallel(plan: Plan, wires: tuple[PinWire, ...]) -> tuple[float, float] | None:
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
