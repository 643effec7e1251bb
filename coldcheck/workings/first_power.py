"""The first power, step by step in the order of assembly: what the hands do, where the probes go, what they must show,
when to stop.

Three stages: nothing has power; one thing at a time, its plug before it goes in, then the thing by itself, then what
it gives with nothing on it; all together. Nothing is plugged or unplugged under power, so a step says where power is
cut and where it is back. Numbers are those of the lint: sources with their limits, volts that arrive in the worst case,
amps that flow.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from coldcheck.engine.rules import working
from coldcheck.plan.model import InletPoint, OutletPoint, Plan
from coldcheck.plan.quantities import Measure
from coldcheck.plan.reading import plugs_of
from coldcheck.plan.spans import listed

from .guests import Guest
from .hands import cautions, first_on, goes_in, ready, set_words
from .harness import Bundle, wire_ohms
from .lead_ends import LeadEnds
from .leads import Leads
from .pins import PinWire
from .power import Arrival, source_volts
from .probes import each_pin, in_turn, poles, probes
from .starts import POWER_KEEPERS, Start
from .webs import contact_ohms

__all__ = ["FirstPower", "Range", "Step", "first_power"]

STAGES = ("no power", "one thing at a time", "all together")
#: What two points that must not be joined show at least, once capacitors are charged [ohm] (common practice).
OPEN = 1000.0
#: The least that a clamp for direct current tells from nothing [A] (common practice): nobody stops at less.
TELLS = 0.1
#: What is done before anything is measured without power.
NO_POWER = (
    "no source is connected, every fuse is out, and both ends of what is measured are free; a name is that of the end "
    "that will go there"
)


class Range(msgspec.Struct, frozen=True):
    """What a meter must show: ``nominal``, and no less and no more than; None where it has no bound or is not known."""

    unit: str
    low: float | None = None
    nominal: float | None = None
    high: float | None = None


class Step(msgspec.Struct, frozen=True):
    """One thing to measure. ``red`` and ``black`` are where the probes go; ``missing`` why a number is not known.

    ``before`` is what the hands do first; "" for nothing. ``amps`` is the most that may flow [A], no less than `TELLS`,
    to be read beside the volts; None where nothing flows or it is not known.
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
    starts: dict[str, Start],
) -> FirstPower:
    """What to measure before and at the first power, in the order of assembly."""
    sheet = _Sheet(plan, pin_wires, bundles, lead_ends, {a.name: a for a in arrivals}, leads, guests, starts)
    dead = list(sheet.dead())
    most = max((arrival.amps or 0.0 for arrival in arrivals), default=0.0)
    if dead:
        dead[0] = msgspec.structs.replace(dead[0], before=NO_POWER)
    return FirstPower(list(cautions(plan, most)), [*dead, *sheet.one_by_one(), *sheet.together()])


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
        starts: dict[str, Start],
    ) -> None:
        self.plan, self.wires, self.bundles, self.leads, self.arrivals = plan, wires, bundles, leads, arrivals
        self.ways, self.starts = ways, starts
        self.guests: dict[str, list[Guest]] = {}
        for guest in guests:
            self.guests.setdefault(guest.host, []).append(guest)
        self.plug = plugs_of(plan.shelf)

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
                "no continuity, or more than the most: crimp again; continuity to any pin that it is not joined to: it "
                "sits wrong",
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
                each_pin(a, pole, source), each_pin(b, pole, lead.inlet), expect,
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
        return probes(ends.b if ends else None) or poles(inlet.name, inlet.spec)

    # --- power ------------------------------------------------------------------------------------------------------

    def one_by_one(self) -> Iterator[Step]:
        """Yield, thing by thing in the order of assembly, its plugs before they go in, itself, and what it gives."""
        by_hand: dict[str, list[InletPoint]] = {}
        for inlet in self._inlets():
            by_hand.setdefault(inlet.thing.id, []).append(inlet)
        for thing in self.plan.order:
            inlets = by_hand.get(thing.id, [])
            for n, inlet in enumerate(inlets):
                yield self._unplugged(inlet, "" if n else ready(self.plan, inlets))
            arrived = [(inlet, self.arrivals[inlet.name]) for inlet in inlets if inlet.name in self.arrivals]
            for n, (inlet, arrival) in enumerate(arrived):
                yield self._by_itself(inlet, arrival, "" if n else goes_in(thing, inlets, self.plug))
            for outlet in thing.outlets:
                if outlet.is_source and outlet.takers:
                    yield self._source(outlet)
            yield from self._with_guests(self.guests.get(thing.id, []))

    def _with_guests(self, guests: list[Guest]) -> Iterator[Step]:
        """Yield what is measured at a thing with each of its guests in turn, then with two that start apart."""
        gone = ""
        for guest in guests:
            id = guest.thing.id
            lights = ", whose lights show that it gives power" if guest.by_cable else ""
            where = f"alone {'on' if guest.by_cable else 'in bay'} {guest.place}"
            step = self._hosted(guest, f"{id} {where}{lights}", f"{gone}{id} {where}")
            yield step if guest.by_cable else msgspec.structs.replace(step, amps=_told(self._with(guest)))
            gone = f"{id} comes off; " if guest.by_cable else f"when it stands still, {id} comes out; "
        for held in self._held(guests)[:1]:
            first = next(
                (one for one in guests if one.host == held.host and self._at(one) < self._at(held)), None
            )
            if first is None:
                continue
            both = f"{first.thing.id} and {held.thing.id} in their bays"
            after = Measure(self._at(held) - self._at(first), "s")
            delays = ", ".join(f"{one.thing.id} {Measure(self._at(one), 's')}" for one in self._held(guests))
            yield self._hosted(
                held, f"{both}, {held.thing.id} to start {after} after the other",
                f"set what holds back: {delays}; {gone}{both}", f"{held.thing.id} starting earlier, ",
            )  # fmt: skip

    def _with(self, guest: Guest) -> float | None:
        """Return the most that a host takes by the inlet of a guest with that guest alone [A]."""
        own = _alone(self.arrivals[guest.inlet.name])
        more = [
            self.arrivals[inlet.name].amps
            for inlet in guest.thing.inlets
            if inlet.source is not None and inlet.source.via is guest.inlet and inlet.name in self.arrivals
        ]
        return None if own is None or None in more else own + sum(filter(None, more))

    def _held(self, guests: list[Guest]) -> list[Guest]:
        """Return the guests that their host or a manager holds back, their power on."""
        found = []
        for guest in guests:
            start = self.starts.get(guest.thing.id)
            if start is not None and start.kept and self.plan.things[start.keeper].table not in POWER_KEEPERS:
                found.append(guest)
        return found

    def _at(self, guest: Guest) -> float:
        start = self.starts.get(guest.thing.id)
        return start.at if start is not None else 0.0

    def _hosted(self, guest: Guest, what: str, first: str, stop: str = "") -> Step:
        """Return what is measured at the plug of a host with some guests."""
        inlet = guest.inlet
        told = f"{guest.host} at {inlet.name}, with {what}"
        step = self._loaded(inlet, self.arrivals[inlet.name], *self._points(inlet), STAGES[1], told)
        expect = msgspec.structs.replace(step.expect, nominal=None)
        before = f"cut the power; {first}; then power on"
        return msgspec.structs.replace(step, expect=expect, before=before, stop=stop + step.stop)

    def _source(self, outlet: OutletPoint) -> Step:
        volts = source_volts(outlet)
        red, black = self._source_points(outlet)
        return Step(
            STAGES[1], f"{outlet.noun} {outlet.name}, with nothing on it", red, black,
            Range("V", volts[1], volts[0], volts[2]) if volts else Range("V"),
            "a sign that is reversed, or volts outside these limits: nothing goes on it",
            "" if volts else f"{outlet.name} volts",
            "; ".join(filter(None, (first_on(outlet.thing), set_words(self.plan, outlet)))),
        )  # fmt: skip

    def _source_points(self, outlet: OutletPoint) -> tuple[str, str]:
        ends = [e for w in self.wires for e in (w.a, w.b) if e.thing == outlet.thing.id and not e.unknown]
        red = next((e.ref for e in ends if e.source and e.outlet == outlet.id), "")
        black = next((e.ref for e in ends if e.is_return), "")
        if red and black:
            return red, black
        lead = next((self.leads[taker.name] for taker in outlet.takers if taker.name in self.leads), None)
        return probes(lead.a if lead else None) or poles(outlet.name, outlet.spec)

    def _unplugged(self, inlet: InletPoint, before: str) -> Step:
        arrival = self.arrivals.get(inlet.name)
        red, black = self._points(inlet)
        ends, bundle = self.leads.get(inlet.name), self.bundles.get(inlet.name)
        if ends is not None:
            red, black = in_turn(ends.b.plus.ends, red), in_turn(ends.b.back.ends, black)
        elif bundle is not None and not bundle.wrong:
            out, back = ([own for own, _, _ in wires] for wires in (bundle.out, bundle.back))
            red, black = in_turn(out, red), in_turn(back, black)
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
        return msgspec.structs.replace(step, expect=expect, before=before, amps=_told(_alone(arrival)))

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
            amps=_told(arrival.amps),
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
            what = f"{arrival.name}, the lowest plug on {source} that a probe reaches, all on and busy"
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
        words.append("each plus and each return rung through once more from its source to where it ends")
        keepers = {start.keeper for start in self.starts.values()}
        switches = [one.id for one in self.plan.table("inline") if one.what == "switch"]
        off = [id for id in switches if id not in keepers]
        words += [f"{listed(off, None)} off"] if off else []
        return f"cut the power; {', '.join(words)}; then power on, and start as the order of starting has it"


def _told(amps: float | None) -> float | None:
    return amps if amps is None else max(amps, TELLS)


def _alone(arrival: Arrival) -> float | None:
    """Return the most amps of a thing that nothing hangs on [A]: what only hands on takes none, a converter its own."""
    thing, fed = arrival.thing, arrival.fed
    if thing.table == "inline":
        return 0.0
    if thing.table not in ("supply", "storage"):
        return arrival.amps
    if fed is None or fed[1] <= 0:
        return None
    if thing.table == "supply":
        return thing.standing / fed[1] if thing.standing else None
    draw = arrival.net.branches[arrival.i].draw
    most = max([draw.value, *(value for value, _ in draw.surge)])
    low = arrival.low or fed[1]
    return None if draw.missing else {"A": most, "W": most / low}.get(draw.unit, arrival.amps)
