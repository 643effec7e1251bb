"""Pins: where each end of every wire stands, what that pin carries, what it feeds or is fed by, and what it
survives."""

from __future__ import annotations

import functools
import re
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, Plan
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.spans import listed
from coldcheck.plan.tables import Harness, HarnessEnd, Plug, Wire

__all__ = [
    "End",
    "Housing",
    "PinWire",
    "Sockets",
    "agree",
    "housings",
    "in_the_plus",
    "pin_wires",
    "volts_of_signal",
]

#: Words for the return, in any case of letters.
RETURNS = ("gnd", "ground", "return", "-")
#: A signal of which the plan says no more, in any case of letters; it goes with every other signal.
ANY_SIGNAL = "signal"
#: Pins that carry no power, in any case of letters.
SIGNALS = (
    ANY_SIGNAL, "tach", "pwm", "nc", "txd", "rxd", "sda", "scl", "ps_on", "pwr_ok", "sense", "spin_up",
    "way", "blocked",
)  # fmt: skip
#: What one side sends, the other receives: these two go together, and neither with itself.
CROSSED = {"txd": "rxd", "rxd": "txd"}
#: Signals that a wire to ground works: it starts a supply, or lets a disk start with power. Ground does them no harm.
GROUNDED = ("ps_on", "spin_up")
#: How far the volts of two pins may differ that are meant to be the same: a rail is trimmed by as much.
NEAR = 0.05
#: What stands behind the signal of a pin that only gives power.
OUT = " out"
#: In-line things that sit in the plus alone; where no plug says more, each side of them has this one pin.
_IN_THE_PLUS = ("fuse", "switch", "diode")
_ONE_PIN = {"1": "+"}


def in_the_plus(thing: Any) -> bool:
    """Say whether a thing sits in the plus alone, so that the return goes past it."""
    return getattr(thing, "what", None) in _IN_THE_PLUS


Volts3 = tuple[float, float, float]
_VOLTS = re.compile(r"([+-]?)(\d+)(?:\.(\d+) ?v|v(\d*)| v)")


@functools.lru_cache(4096)  # a plan has few signals, and a slip asks for them again at every seat
def volts_of_signal(signal: str) -> float | None:
    """Return the volts that the name of a signal states [V], ``"12v"`` being 12 and ``"3v3"`` 3.3, or None."""
    word = signal.strip().casefold().removesuffix(OUT)
    match = _VOLTS.fullmatch(word)
    if match:
        value = float(f"{match[2]}.{match[3] or match[4] or 0}")
        return -value if match[1] == "-" else value
    return 0.0 if word in RETURNS else None


class End(msgspec.Struct, frozen=True):
    """One end of a wire: a pin of a socket of a thing, or a splice; and what the pin carries, if known.

    ``ref`` names the pin the same way however the plan wrote it. ``pins`` and ``plug`` are those of the socket.
    ``outlet`` is the outlet or rail of the thing that the pin belongs to, ``rail`` the nominal, lowest and highest
    volts behind it [V]; both are empty where the pin does not tell. ``rails`` has both for every pin of the socket
    that tells. ``inlets`` are the names of the inlets that take power by the pin: one for a plus, all of the socket
    for a return. ``takes``: one of them is in use, and fed by a source of ``fed`` volts, if known; ``idle``: none is,
    as the plan has it. ``window``: the volts that the thing takes there [V]. ``pinned``: the table of the point has a
    key for its pins. ``gives``: the pin only gives power. ``stands``: the most volts that a signal pin survives [V],
    if known. ``housing`` and ``way`` say by which end of the harness the wire arrives, if the plan says so.
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
    rail: Volts3 | None = None
    takes: bool = False
    idle: bool = False
    pinned: bool = False
    fed: Volts3 | None = None
    rails: dict[str, tuple[str, Volts3 | None]] = {}
    inlets: tuple[str, ...] = ()
    window: tuple[float, float] | None = None
    source: bool = False
    gives: bool = False
    stands: float | None = None
    splice: bool = False
    housing: str = ""
    way: str = ""
    socket: Any = None

    def at(self, pin: str) -> End:
        """Return the end at another pin of the same socket, which must exist."""
        found: End = self.socket.end(pin)
        return msgspec.structs.replace(found, housing=self.housing, way=self.way)

    @property
    def blind(self) -> bool:
        """Whether the pin exists as far as the plan says, but not what it carries."""
        return not (self.unknown or self.signal or self.splice)

    @property
    def place(self) -> str:
        """The name of the socket."""
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
        return volts > 0 if volts is not None else self.signal.strip() == "+" or self.source

    @property
    def carries(self) -> bool:
        """Whether power flows by this pin, out or back."""
        return self.is_plus or self.is_return or bool(self.volts)

    @property
    def is_source(self) -> bool:
        """Whether power comes out of this pin."""
        return self.is_plus and (self.source or self.gives)


def agree(a: End, b: End) -> bool:
    """Say whether two pins, both known, carry the same: volts by name or by rail, a plus by any volts above zero.

    A battery strays far from its nominal volts, so a rail agrees with all volts that it may have. A plus of volts not
    known goes with those that its thing takes there. A signal of no name goes with every signal; one that is sent
    goes with the one that is received.
    """
    one, other = a.volts, b.volts
    if one is not None and other is not None:
        near = abs(one - other) <= NEAR * max(abs(one), abs(other))
        return near or any(
            end.rail is not None and end.rail[0] == mine and end.rail[1] <= volts <= end.rail[2]
            for end, mine, volts in ((a, one, other), (b, other, one))
        )
    words = [end.signal.strip().casefold() for end in (a, b)]
    if not (a.carries or b.carries):
        return _signals_agree(*words)
    grounded = (a.is_return and words[1] in GROUNDED) or (b.is_return and words[0] in GROUNDED)
    if grounded or words[0] == words[1]:
        return True
    for end, mate, word in ((a, b, words[1]), (b, a, words[0])):
        if end.is_plus and end.volts is None:  # a plus, and nobody says of how many volts
            if mate.volts is not None and end.window is not None:
                return mate.is_plus and end.window[0] * (1 - NEAR) <= mate.volts <= end.window[1] * (1 + NEAR)
            return mate.is_plus or (mate.volts is None and word not in SIGNALS)
    return False


def _signals_agree(one: str, other: str) -> bool:
    """Say whether two pins without power belong together, by the names of their signals."""
    if one in CROSSED or other in CROSSED:
        return CROSSED.get(one) == other or ANY_SIGNAL in (one, other)
    return one == other or (ANY_SIGNAL in (one, other) and "nc" not in (one, other))


class PinWire(msgspec.Struct, frozen=True):
    """A wire with both ends resolved, and what its harness says for all of its wires filled in."""

    wire: Wire
    a: End
    b: End
    harness: Harness

    @property
    def name(self) -> str:
        """The two pins that it joins."""
        return f"{self.a.ref} to {self.b.ref}"

    @property
    def path(self) -> Any:
        """Where it stands in the plan; one of a harness of the shelf stands where that is used."""
        return self.wire.path or self.harness.path

    @property
    def gauge(self) -> float | None:
        """Its gauge; of a metric wire, that of its area."""
        from coldcheck.dc import wire as copper

        if self.wire.gauge is not None or not self.wire.area:
            return self.wire.gauge
        return copper.awg_of_area(self.wire.area * 1e-6)

    @property
    def wrong(self) -> bool:
        """Whether its two pins cannot be joined, and power is in play."""
        a, b = self.a, self.b
        if a.unknown or b.unknown:
            return True
        return bool(a.signal and b.signal) and (a.carries or b.carries) and not agree(a, b)


class Housing(msgspec.Struct, frozen=True):
    """One end of a harness in its socket: by way, the pin that it sits on; or why it cannot be said (``unknown``)."""

    name: str
    end: HarnessEnd
    harness: Harness
    plug: Plug | None
    seat: dict[str, str]
    socket: Any = None
    unknown: str = ""

    @property
    def path(self) -> Any:
        """Where it stands in the plan."""
        return self.end.path or self.harness.path


class _Socket:
    """A connector, inlet or outlet of a thing with what every pin of it carries."""

    def __init__(self, thing: Any, point: str, holder: Any, plug: Plug | None) -> None:
        self.thing, self.point, self.holder, self.plug = thing, point, holder, plug
        self.name = f"{thing.id}.{point}" if point else thing.id
        pins = getattr(holder, "pins", None) or (plug.pins if plug else None) or {}
        if not pins and in_the_plus(thing):
            pins = _ONE_PIN
        self.pins: dict[str, str] = pins
        self.stands = getattr(holder, "stands", None) or (plug.stands if plug else None)
        self.rails = self._rails()
        self.served = self._inlets()
        self._ends: dict[str, End] = {}

    def end(self, pin: str) -> End:
        """Return the end of a wire on one of the pins."""
        found = self._ends.get(pin)
        if found is None:
            found = self._ends[pin] = self._end(pin)
        return found

    def _end(self, pin: str) -> End:
        bare = End(
            f"{self.name}.{pin}", self.thing.id, self.point, pin, "", pins=self.pins,
            plug=getattr(self.holder, "plug", None), pinned=hasattr(self.holder, "pins"), socket=self,
        )  # fmt: skip
        if not self.pins or pin not in self.pins:
            unknown = f"{self.name} has no pin {pin}; it has {listed(self.pins)}" if self.pins else ""
            served = self.served.get("", ())
            return msgspec.structs.replace(
                bare, unknown=unknown, takes=any(i.source is not None for i in served),
                idle=self._idle(served), inlets=tuple(i.name for i in served),
            )  # fmt: skip
        signal = self.pins[pin]
        outlet, rail = self.rails.get(pin, ("", None))
        plus = pin in self.rails or self._is_plus(pin)
        served = self.served.get(pin if plus else "", ())
        used = [inlet for inlet in served if inlet.source is not None]
        return msgspec.structs.replace(
            bare, signal=signal, source=pin in self.rails, outlet=outlet, rail=rail, rails=self.rails,
            gives=signal.strip().casefold().endswith(OUT), stands=self.stands,
            inlets=tuple(inlet.name for inlet in served), takes=bool(used), idle=self._idle(served),
            fed=_volts_behind(used[0].source) if used and plus else None,
            window=served[0].spec.volts if served and plus else None,
        )  # fmt: skip

    @staticmethod
    def _idle(served: tuple[InletPoint, ...]) -> bool:
        """Say whether the inlets at a pin take no power, as the plan has it: the thing takes it by others."""
        return bool(served) and not any(inlet in inlet.thing.inlets for inlet in served)

    def _inlets(self) -> dict[str, tuple[InletPoint, ...]]:
        """Return the inlets that take power by each plus pin; under "" all of them."""
        thing, holder = self.thing, self.holder
        inlets = [*getattr(thing, "inlets", ())]
        known = {inlet.id for inlet in inlets}
        idle = [InletPoint(thing, s.id, s, None) for s in getattr(thing, "inlet", ()) if s.id not in known]
        own = [inlet for inlet in (*inlets, *idle) if inlet.spec is holder]
        if own and not self._several(own[0]):
            plus = {pin: tuple(own) for pin in self.pins if pin not in self.rails and self._is_plus(pin)}
            return {"": tuple(own), **plus}
        if not own and not any(holder is point for point in thing.connector):
            return {}
        found: dict[str, tuple[InletPoint, ...]] = {}
        for pin, signal in self.pins.items():
            if pin in self.rails or not self._is_plus(pin):
                continue
            match = self._fed_by(pin, signal, inlets) or self._fed_by(pin, signal, idle)
            if match is not None:
                found[pin] = (match,)
        every = dict.fromkeys(inlet for several in found.values() for inlet in several)
        return {"": tuple(every), **found} if every else {}

    def _several(self, inlet: InletPoint) -> bool:
        """Say whether several inlets of a thing take power by one socket, as a disk does by its SATA plug."""
        same = [i for i in inlet.thing.inlets if i.spec.plug and i.spec.plug == inlet.spec.plug]
        volts = {v for s in self.pins.values() if (v := volts_of_signal(s)) is not None and v > 0}
        return len(same) > 1 and len(volts) > 1

    def _is_plus(self, pin: str) -> bool:
        signal = self.pins[pin].strip().casefold()
        return not signal.endswith(OUT) and (
            (volts_of_signal(signal) or 0.0) > 0 or signal not in SIGNALS + RETURNS
        )

    def _fed_by(self, pin: str, signal: str, inlets: list[InletPoint]) -> InletPoint | None:
        """Return the inlet that a pin of a shared socket belongs to: of its name, else of its volts, else the
        only one."""
        word = signal.strip().casefold()
        named = [inlet for inlet in inlets if inlet.id.casefold() == word]
        if named:
            return named[0]
        volts = volts_of_signal(signal)
        plug = getattr(self.holder, "plug", None)
        mine = [i for i in inlets if i.spec.plug is None or plug is None or i.spec.plug == plug]
        if volts is not None:
            mine = [i for i in mine if i.spec.volts is None or i.spec.volts[0] <= volts <= i.spec.volts[1]]
        return mine[0] if len(mine) == 1 else None

    def _rails(self) -> dict[str, tuple[str, Volts3 | None]]:
        """Return, by pin, the outlet that a pin is the plus of, and its volts."""
        found: dict[str, tuple[str, Volts3 | None]] = {}
        if any(i.spec is self.holder for i in getattr(self.thing, "inlets", ())):
            return found
        # What a carrier hands on to its bays does not come out by the socket that it comes in by.
        outlets = [outlet for outlet in self.thing.outlets if not outlet.handed_on]
        for pin, signal in self.pins.items():
            outlet = next((o for o in outlets if self._belongs(o, signal)), None)
            if outlet is not None:
                found[pin] = outlet.id, _volts_behind(outlet)
        return found

    def _belongs(self, outlet: Any, signal: str) -> bool:
        """Say whether a pin is the plus of an outlet: of its own plug, of a connector that names the rail, or of the
        connector of a source that has one outlet alone."""
        word, thing = signal.strip().casefold(), outlet.thing
        if outlet.spec is self.holder:
            return word == "+" or (volts_of_signal(word) or 0.0) > 0
        if outlet.id and outlet.id.casefold() == word:
            return True
        alone = thing.table in ("feed", "supply", "inline") and len(thing.outlets) == 1
        if not alone or not any(point is self.holder for point in thing.connector):
            return False
        volts, behind = volts_of_signal(word), _volts_behind(outlet)
        near = volts is not None and behind is not None and abs(volts - behind[0]) <= NEAR * abs(behind[0])
        return word == "+" or near


def _volts_behind(outlet: Any) -> Volts3 | None:
    from .net import source_volts  # which need not be read where no wire is listed

    return source_volts(outlet)


class Sockets:
    """The sockets of all things of a plan by name, each with what every pin of it carries."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.plug = plugs_of(plan.shelf)
        self._holders: dict[str, dict[str, Any]] = {}
        self._sockets: dict[tuple[str, str], _Socket] = {}

    def end(self, ref: str, ends: dict[str, Housing], harness: Harness) -> End:
        """Return the end that a word names; ``unknown`` says what about it cannot be resolved."""
        first, _, rest = ref.partition(".")
        if not rest and any(splice.id == ref for splice in harness.splice):
            return End(f"{harness.id}.{ref}", harness.id, "", ref, "", splice=True)
        housing = ends.get(first)
        if housing is not None and first not in self.plan.things:
            return self._by_housing(ref, rest, housing)
        point, _, pin = rest.rpartition(".")
        socket = self.socket(first, point, rest)
        if isinstance(socket, str):
            return End(ref, first, point, pin, "", socket)
        end = socket.end(pin)
        by = next(
            (
                (h.name, way)
                for h in ends.values()
                if h.socket is socket
                for way, at in h.seat.items()
                if at == pin
            ),
            None,
        )
        return msgspec.structs.replace(end, housing=by[0], way=by[1]) if by else end

    @staticmethod
    def _by_housing(ref: str, way: str, housing: Housing) -> End:
        bare = End(ref, housing.harness.id, housing.end.id, way, "", housing.unknown)
        if housing.unknown:
            return msgspec.structs.replace(bare, housing=housing.name)
        pin = housing.seat.get(way)
        if pin is None:
            unknown = f"end {housing.name} has no way {way}; it has {listed(housing.seat)}"
            return msgspec.structs.replace(bare, unknown=unknown)
        found: End = msgspec.structs.replace(housing.socket.end(pin), housing=housing.name, way=way)
        return found

    def housing(self, harness: Harness, end: HarnessEnd) -> Housing:
        """Return an end of a harness in its socket."""
        name = f"{harness.id}.{end.id}"
        own = self.plug(end.plug) if end.plug else None
        if end.into is None:
            return Housing(
                name, end, harness, own, {}, unknown=f"the plan does not say what end {name} goes into"
            )
        thing, _, point = end.into.partition(".")
        socket = self.socket(thing, point, point)
        if isinstance(socket, str):
            return Housing(name, end, harness, own, {}, unknown=socket)
        ways = list(own.pins) if own and own.pins else [str(i + 1) for i in range(len(end.on))]
        if end.on:
            if len(ways) != len(end.on):
                why = f"end {name} has {len(ways)} ways, but its `on` names {len(end.on)} pins"
                return Housing(name, end, harness, own, {}, socket, why)
            return Housing(name, end, harness, own, dict(zip(ways, end.on, strict=True)), socket)
        seat = {pin: pin for pin in socket.pins} if not own or set(own.pins or ()) == set(socket.pins) else {}
        why = (
            ""
            if seat
            else f"the plan does not say which pins of {end.into} the ways of end {name} sit on (`on`)"
        )
        return Housing(name, end, harness, own, seat, socket, why)

    def socket(self, thing_id: str, point: str, written: str) -> _Socket | str:
        """Return a socket of a thing, or in words why there is none."""
        thing = self.plan.things.get(thing_id)
        if thing is None or not hasattr(thing, "outlets"):
            return f"nothing is called {thing_id}"
        points = self._points(thing)
        holder = points.get(point)
        if holder is None:
            known = ", ".join(filter(None, points)) or "none"
            return f"{thing_id} has no connector, inlet or outlet {point or written}; it has: {known}"
        return self._socket(thing, point, holder)

    def _socket(self, thing: Any, point: str, holder: Any) -> _Socket:
        found = self._sockets.get((thing.id, point))
        if found is None:
            plug = self.plug(holder.plug) if holder.plug else None
            found = _Socket(thing, point, holder, plug)
            shared = self._shared(thing, found)
            found = self._sockets[thing.id, point] = self._socket(*shared) if shared else found
        return found

    @staticmethod
    def _shared(thing: Any, socket: _Socket) -> tuple[Any, str, Any] | None:
        """Return the socket that several inlets share, under the one name it goes by."""
        inlet = next((i for i in getattr(thing, "inlets", ()) if i.spec is socket.holder), None)
        if inlet is None or not socket._several(inlet):
            return None
        connector = next((c for c in thing.connector if c.plug == inlet.spec.plug), None)
        if connector is not None:
            return thing, connector.id, connector
        first = next(i for i in thing.inlets if i.spec.plug == inlet.spec.plug)
        return None if first is inlet else (thing, first.id, first.spec)

    def _points(self, thing: Any) -> dict[str, Any]:
        """Return the points whose pins may be named, by name: connectors first, then inlets, then outlets.

        The only inlet and the only outlet of a thing that gives them no name are ``in`` and ``out``, too.
        """
        known = self._holders.get(thing.id)
        if known is None:
            known = self._holders[thing.id] = {}
            inlets, outlets = list(getattr(thing, "inlets", ())), thing.outlets
            for point in (*thing.connector, *inlets, *getattr(thing, "inlet", ()), *outlets):
                known.setdefault(point.id, getattr(point, "spec", point))
            for name, several in (("in", inlets), ("out", outlets)):
                if len(several) == 1 and not several[0].id:
                    known.setdefault(name, several[0].spec)
        return known


_READS = (
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


class _Wired(msgspec.Struct):
    wires: list[PinWire]
    housings: list[Housing]


@working(reads=_READS)
def wired_up(plan: Plan) -> _Wired:
    """Every wire and every end of every harness, resolved to sockets and pins."""
    found = _Wired([], [])
    if not plan.table("harness"):
        return found
    finder = Sockets(plan)
    for harness in plan.table("harness"):
        ends = {end.id: finder.housing(harness, end) for end in harness.end}
        found.housings += ends.values()
        for wire in harness.wire:
            pins = [finder.end(ref or "", ends, harness) for ref in (wire.from_, wire.to)]
            found.wires.append(PinWire(_filled(wire, harness), pins[0], pins[1], harness))
    return found


def _filled(wire: Wire, harness: Harness) -> Wire:
    """Return a wire with what its harness says for all of them."""
    keys = ["length", "slack"] if wire.area is not None else ["gauge", "length", "slack"]
    missing = {
        key: value
        for key in keys
        if getattr(wire, key) is None and (value := getattr(harness, key)) is not None
    }
    return msgspec.structs.replace(wire, **missing) if missing else wire


@working(reads=())
def pin_wires(wired_up: _Wired) -> list[PinWire]:
    """Every wire of every harness with its ends resolved to pins and signals."""
    return wired_up.wires


@working(reads=())
def housings(wired_up: _Wired) -> list[Housing]:
    """Every end of every harness in its socket."""
    return wired_up.housings
