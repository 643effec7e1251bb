"""The first power, step by step in the order of assembly: what the hands do, where the probes go, what they must show,
when to stop.

Three stages: nothing has power; one thing at a time, its plug before it goes in, then the thing by itself, then what
it gives with nothing on it; all together. Nothing is plugged or unplugged under power, so a step says where power is
cut and where it is back. Numbers are those of the lint: sources with their limits, volts that arrive in the worst case,
amps that flow.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.reading import plugs_of

from .guests import Guest
from .harness import Bundle, wire_ohms
from .lead_ends import PAST, LeadEnd, LeadEnds, Side
from .leads import Leads
from .needs import fuse_words
from .pins import PinWire
from .power import Arrival, source_volts
from .webs import contact_ohms

__all__ = ["FirstPower", "Range", "Step", "cut_words", "first_power"]

STAGES = ("no power", "one thing at a time", "all together")
#: What two points that must not be joined show at least, once capacitors are charged [ohm] (common practice).
OPEN = 1000.0
#: What is done before anything is measured without power.
NO_POWER = "no source is connected, every fuse is out, and both ends of what is measured are free"
PASSES = "the return that goes past"
#: From this current on a ring on the finger welds [A] (common practice).
HIGH = 10.0


class Range(msgspec.Struct, frozen=True):
    """What a meter must show: ``nominal``, and no less and no more than; None where it has no bound or is not known."""

    unit: str
    low: float | None = None
    nominal: float | None = None
    high: float | None = None


class Step(msgspec.Struct, frozen=True):
    """One thing to measure. ``red`` and ``black`` are where the probes go; ``missing`` why a number is not known.

    ``before`` is what the hands do first; "" for nothing. ``amps`` is the most that may flow [A], to be read beside the
    volts; None where nothing flows or it is not known.
    """

    stage: str
    what: str
    red: str
    black: str
    expect: Range
    stop: str
    missing: str = ""
    before: str = ""
    amps: float | None = None


class FirstPower(msgspec.Struct):
    """All steps in order, and the cautions that go before them."""

    cautions: list[str]
    steps: list[Step]


@working(reads=("plan", "part"))
def first_power(
    plan: Plan,
    pin_wires: list[PinWire],
    bundles: dict[str, Bundle],
    lead_ends: dict[str, LeadEnds],
    arrivals: list[Arrival],
    leads: Leads,
    guests: list[Guest],
) -> FirstPower:
    """What to measure before and at the first power, in the order of assembly."""
    sheet = _Sheet(plan, pin_wires, bundles, lead_ends, {a.name: a for a in arrivals}, leads, guests)
    dead = list(sheet.dead())
    if dead:
        dead[0] = msgspec.structs.replace(dead[0], before=NO_POWER)
    return FirstPower(list(sheet.cautions()), [*dead, *sheet.one_by_one(), *sheet.together()])


class _Sheet:
    def __init__(
        self,
        plan: Plan,
        wires: list[PinWire],
        bundles: dict[str, Bundle],
        leads: dict[str, LeadEnds],
        arrivals: dict[str, Arrival],
        ways: Leads,
        guests: list[Guest],
    ) -> None:
        self.plan, self.wires, self.bundles, self.leads, self.arrivals = plan, wires, bundles, leads, arrivals
        self.ways = ways
        self.guests: dict[str, list[Guest]] = {}
        for guest in guests:
            self.guests.setdefault(guest.host, []).append(guest)
        self.plug = plugs_of(plan.shelf)

    def cautions(self) -> Iterator[str]:
        """Yield the cautions that this plan asks for."""
        feeds = self.plan.table("feed")
        yield "One hand in the box, no rings, eye protection; someone who can cut the power stands by."
        if feeds:
            yield f"Power is cut like this: {'; '.join(map(cut_words, feeds))}. See that you can before anything is on."
        yield "Nothing is plugged or unplugged under power. Capacitors keep their charge: measure before you touch."
        yield (
            "A hand meter shows the ohms of its own leads, too: touch the probes together first, and take that off. "
            "A good wire then shows 0.0 or 0.1 ohm; only a meter with four leads reads more finely."
        )
        yield (
            "Amps: by a clamp for direct current about the plus, or a supply that shows them. The most that a step "
            "names is that of a thing at its busiest; with nothing to do it takes far less."
        )
        if any(feed.battery for feed in feeds):
            yield (
                "A battery cannot be switched off and melts what shorts it: a fuse at its terminal, insulated tools, "
                "its maker's order of connecting it. Leave what you are not sure of to licensed practice."
            )
        if any(not feed.battery for feed in feeds):
            yield (
                "The mains side of any supply is not part of this sheet: leave it closed, to local codes and licensed "
                "practice."
            )
        if any((arrival.amps or 0.0) > HIGH for arrival in self.arrivals.values()):
            yield "More than 10 A flows in this box: loose terminals burn. Tighten each; a minute later none is warm."

    # --- no power ---------------------------------------------------------------------------------------------------

    def dead(self) -> Iterator[Step]:
        """Yield what is measured with nothing connected to power: each wire, then plus against return of each plug."""
        for wire in self.wires:
            if wire.a.unknown or wire.b.unknown:
                continue
            ohms = wire_ohms(wire, self.plan.head.ambient)
            ends = [self.plug(end.plug) if end.plug else None for end in (wire.a, wire.b) if not end.splice]
            contacts = [contact_ohms(plug) for plug in ends]
            expect = Range("ohm")
            if ohms is not None:
                nominal = ohms[0] + sum(new for new, _ in contacts)
                expect = Range("ohm", None, nominal, ohms[1] + sum(aged for _, aged in contacts))
            yield Step(
                STAGES[0], f"wire {wire.name}", wire.a.ref, wire.b.ref, expect,
                "no continuity, or more than the most: crimp again",
                "" if ohms is not None else "its gauge or its length",
            )  # fmt: skip
        for lead in self.leads.values():
            yield from self._through(lead)
        for inlet in self._inlets():
            red, black = self._points(inlet)
            yield Step(
                STAGES[0], f"plug for {inlet.name}, not plugged in, source not connected", red, black,
                Range("ohm", OPEN),
                "less than that once the reading stands still: a short circuit, or two wires exchanged",
            )  # fmt: skip

    def _through(self, lead: LeadEnds) -> Iterator[Step]:
        """Yield what each pole of a lead must show from end to end, each conductor by itself."""
        run, source = lead.inlet.lead, lead.inlet.source
        assert run is not None
        assert source is not None
        loop = self.ways.run(run)
        contacts = [contact_ohms(self.plug(end.plug) if end.plug else None) for end in (lead.a, lead.b)]
        expect = Range("ohm")
        if loop is not None:
            new, worst = (ohms / 2 * run.parallel for ohms in loop)
            nominal = new + sum(one for one, _ in contacts)
            expect = Range("ohm", None, nominal, worst + sum(aged for _, aged in contacts))
        each = ", each conductor by itself" if run.parallel > 1 else ""
        for pole, a, b in (("plus", lead.a.plus, lead.b.plus), ("return", lead.a.back, lead.b.back)):
            yield Step(
                STAGES[0], f"{pole} of the lead from {source.name} to {lead.inlet.name}{each}",
                _each_pin(a, pole, source), _each_pin(b, pole, lead.inlet), expect,
                "no continuity, or more than the most: crimp again; continuity to any other pin: it sits wrong",
                "" if loop is not None else "its gauge or its length",
            )  # fmt: skip

    def _inlets(self) -> Iterator[InletPoint]:
        """Yield the inlets that a hand connects, what feeds a thing before the thing itself."""
        for thing in self.plan.order:
            if getattr(thing, "bay", None) is not None or getattr(thing, "what", None) == "return":
                continue
            for inlet in thing.inlets:
                if inlet.source is not None:
                    yield inlet

    def _points(self, inlet: InletPoint) -> tuple[str, str]:
        """Return where the probes go at the plug of an inlet: plus and return."""
        bundle = self.bundles.get(inlet.name)
        if bundle is not None and bundle.plus and bundle.minus and not bundle.wrong:
            return bundle.plus, bundle.minus
        ends = self.leads.get(inlet.name)
        return _probes(ends.b if ends else None) or _poles(inlet.name, inlet.spec)

    # --- power ------------------------------------------------------------------------------------------------------

    def one_by_one(self) -> Iterator[Step]:
        """Yield, thing by thing in the order of assembly, its plugs before they go in, itself, and what it gives."""
        by_hand: dict[str, list[InletPoint]] = {}
        for inlet in self._inlets():
            by_hand.setdefault(inlet.thing.id, []).append(inlet)
        for thing in self.plan.order:
            inlets = by_hand.get(thing.id, [])
            for n, inlet in enumerate(inlets):
                yield self._unplugged(inlet, "" if n else _ready(inlets))
            arrived = [(inlet, self.arrivals[inlet.name]) for inlet in inlets if inlet.name in self.arrivals]
            for n, (inlet, arrival) in enumerate(arrived):
                yield self._by_itself(inlet, arrival, "" if n else _goes_in(thing))
            for outlet in thing.outlets:
                if outlet.is_source and outlet.takers:
                    yield self._source(outlet)
            yield from self._with_guests(self.guests.get(thing.id, []))

    def _with_guests(self, guests: list[Guest]) -> Iterator[Step]:
        """Yield what is measured at a thing with each of its guests in turn, none of the others with it."""
        gone = ""
        for guest in guests:
            id, arrival = guest.thing.id, self.arrivals[guest.inlet.name]
            lights = ", whose lights show that it gives power" if guest.by_cable else ""
            where = f"alone {'on' if guest.by_cable else 'in bay'} {guest.place}"
            what = f"{guest.host} at {guest.inlet.name}, with {id} {where}{lights}"
            step = self._loaded(guest.inlet, arrival, *self._points(guest.inlet), STAGES[1], what)
            yield msgspec.structs.replace(
                step,
                expect=msgspec.structs.replace(step.expect, nominal=None),
                before=f"cut the power; {gone}{id} {where}; then power on",
            )
            gone = f"{id} comes off; " if guest.by_cable else f"when it stands still, {id} comes out; "

    def _source(self, outlet: OutletPoint) -> Step:
        volts = source_volts(outlet)
        red, black = self._source_points(outlet)
        spec: Any = outlet.spec
        first = "set it to this, then " if getattr(spec, "kind", None) == "adjustable" else ""
        return Step(
            STAGES[1], f"{outlet.noun} {outlet.name}, with nothing on it", red, black,
            Range("V", volts[1], volts[0], volts[2]) if volts else Range("V"),
            f"{first}a sign that is reversed, or volts outside these limits: nothing goes on it",
            "" if volts else f"{outlet.name} volts",
            _first_on(outlet.thing),
        )  # fmt: skip

    def _source_points(self, outlet: OutletPoint) -> tuple[str, str]:
        ends = [e for w in self.wires for e in (w.a, w.b) if e.thing == outlet.thing.id and not e.unknown]
        red = next((e.ref for e in ends if e.source and e.outlet == outlet.id), "")
        black = next((e.ref for e in ends if e.is_return), "")
        if red and black:
            return red, black
        lead = next((self.leads[taker.name] for taker in outlet.takers if taker.name in self.leads), None)
        return _probes(lead.a if lead else None) or _poles(outlet.name, outlet.spec)

    def _unplugged(self, inlet: InletPoint, before: str) -> Step:
        arrival = self.arrivals.get(inlet.name)
        red, black = self._points(inlet)
        ends = self.leads.get(inlet.name)
        if ends is not None:
            red, black = _in_turn(ends.b.plus, red), _in_turn(ends.b.back, black)
        fed = arrival.fed if arrival is not None else None
        return Step(
            STAGES[1], f"plug for {inlet.name}, not plugged in", red, black,
            Range("V", fed[1], fed[0], fed[2]) if fed else Range("V"),
            "a sign that is reversed, or volts outside these limits: it does not go in",
            "" if fed else f"volts of what feeds {inlet.name}", before,
        )  # fmt: skip

    def _by_itself(self, inlet: InletPoint, arrival: Arrival, before: str) -> Step:
        red, black = self._points(inlet)
        step = self._loaded(inlet, arrival, red, black, STAGES[1], f"{inlet.name}, plugged in, by itself")
        # What is expected about in the middle is known for all on, not for one by itself.
        expect = msgspec.structs.replace(step.expect, nominal=None)
        return msgspec.structs.replace(step, expect=expect, before=before)

    def _loaded(
        self, inlet: InletPoint, arrival: Arrival, red: str, black: str, stage: str, what: str
    ) -> Step:
        read = "volts" if arrival.amps is None else "volts or amps"
        low = arrival.low
        window = inlet.spec.volts
        high = arrival.fed[2] if arrival.fed else None
        if window is not None and high is not None:
            high = min(high, window[1])
        return Step(
            stage, what, red, black, Range("V", low, arrival.nominal, high),
            f"{read} outside these limits, warmth, smell, a fuse that blows: cut the power",
            "" if low is not None else arrival.lacks or f"what {inlet.name} draws",
            amps=arrival.amps,
        )  # fmt: skip

    def together(self) -> Iterator[Step]:
        """Yield, for each source, the inlet where least is expected once all is on."""
        by_source: dict[str, Arrival] = {}
        inlets = {inlet.name: inlet for inlet in self._inlets()}
        for name in inlets:
            arrival = self.arrivals.get(name)
            if arrival is None or arrival.low is None:
                continue
            other = by_source.get(arrival.net.name)
            if other is None or (other.low or 0.0) > arrival.low:
                by_source[arrival.net.name] = arrival
        before = self._everything()
        for source, arrival in by_source.items():
            red, black = self._points(inlets[arrival.name])
            what = f"{arrival.name}, the lowest plug that hangs on {source}, all on and busy"
            step = self._loaded(inlets[arrival.name], arrival, red, black, STAGES[2], what)
            yield msgspec.structs.replace(step, before=before)
            before = ""

    def _everything(self) -> str:
        """Return what is done before all are on together."""
        words = ["everything goes in as the order of assembly has it"]
        if any(getattr(thing, "bay", None) is not None for thing in self.plan.order):
            words.append("drives into their bays")
        if self.plan.links:
            words.append("data cables")
        return f"cut the power; {', '.join(words)}; then power on, and start as the order of starting has it"


def cut_words(feed: Any) -> str:
    """Return how the power of a feed is cut: a battery has no switch, but a fuse."""
    if not feed.battery:
        return f"switch {feed.id} off"
    fuse = fuse_words(feed)
    return f"take the {fuse} fuse of {feed.id} out" if fuse else f"take {feed.id} off, as its maker says"


def _first_on(feed: Any) -> str:
    """Return what is done before a source is measured for the first time; "" for one that has been fed already."""
    if feed.table != "feed":
        fed = any(inlet.source is not None for inlet in feed.inlets)
        return (
            ""
            if fed
            else f"cut the power; connect {feed.id} to what feeds it, which the plan does not say; then power on"
        )
    fuse = fuse_words(feed)
    how = "as its maker says" if feed.battery else "switched off"
    then = f"put its {fuse} fuse in" if fuse else "then power on"
    return f"cut the power; with nothing on it, connect {feed.id} {how}; {then}"


def _ready(inlets: list[InletPoint]) -> str:
    """Return what is done before the plugs of a thing are measured: all the way to them carries power."""
    words = ["cut the power; what was tried before comes off, but not what feeds this"]
    for source in dict.fromkeys(inlet.source for inlet in inlets):
        if source is not None and source.spec is not source.thing and fuse_words(source.spec):
            words.append(f"put the {fuse_words(source.spec)} fuse of {source.name} in")
    return "; ".join([*words, "then power on"])


def _goes_in(thing: Any) -> str:
    """Return what is done before a thing is measured by itself."""
    words = ["its bays empty"] if thing.table == "storage" else []
    if thing.table == "inline" and fuse_words(thing):
        words.append(f"its {fuse_words(thing)} fuse in")
    if getattr(thing, "what", None) == "switch":
        words.append("switched on")
    told = ", ".join([f"connect {thing.id}", *words])
    return f"cut the power; when its plug shows less than 1 V, {told}; then power on"


def _each_pin(side: Side, pole: str, point: InletPoint | OutletPoint) -> str:
    """Return all pins of a pole at one end, or the pole where they are not known."""
    if side.ends:
        return _refs(side)
    return f"{PASSES} {point.thing.id}" if side.words == PAST else f"{side.words or pole} of {point.name}"


def _refs(side: Side) -> str:
    first, *more = (end.ref for end in side.ends)
    return " and ".join([first, *(f".{ref.rpartition('.')[2]}" for ref in more)])


def _in_turn(side: Side, one: str) -> str:
    """Return all pins of a pole to be probed in turn, where it has several."""
    return f"{_refs(side)}, in turn" if len(side.ends) > 1 else one


def _probes(end: LeadEnd | None) -> tuple[str, str] | None:
    """Return the first pin of each pole at an end of a lead, if both are known."""
    if end is None or not end.plus.ends or not (end.back.ends or end.back.words == PAST):
        return None
    back = end.back.ends[0].ref if end.back.ends else f"{PASSES} {end.plus.ends[0].thing}"
    return end.plus.ends[0].ref, back


def _poles(name: str, spec: Any) -> tuple[str, str]:
    """Return the poles of a plug whose pins the plan does not list."""
    plug = getattr(spec, "plug", None)
    if getattr(spec, "centre", None) is not None:
        poles = ("centre", "sleeve")
        first, second = poles if spec.centre == "positive" else poles[::-1]
        return f"{first} of the {plug} of {name}", f"{second} of the {plug} of {name}"
    of = f"the {plug} of {name}" if plug else name
    return f"plus of {of}", f"return of {of}"
