"""The tables of a plan: one struct each, one key a line, with its kind of value and what it means.

Everything that knows which keys there are comes from here: the reader, the messages, the JSON Schema, the reference
in the documents. To add a key, add a line; `tests/plan/test_schema.py` holds the rest together.
"""

from datetime import date
from typing import Annotated, Any

import msgspec

from . import quantities as q
from .kinds import (
    Cable,
    Choice,
    Count,
    Curve,
    Date,
    Draw,
    Drawn,
    Flag,
    Fuse,
    Id,
    Inner,
    Kind,
    Pins,
    Points,
    Position,
    Quantity,
    Range,
    Rate,
    Ref,
    Run,
    Several,
    Stretch,
    Surge,
    Text,
    read_cable,
    read_draw,
    read_fuse,
    read_rate,
    read_run,
)
from .problems import Path

__all__ = ["PART_KINDS", "TABLES", "Key", "Spec", "spec_of"]


class Key(msgspec.Struct, frozen=True):
    """What one key of a table holds: its kind of value, its meaning, and who may state it.

    ``part``: a part on the shelf may state it. ``must``: it cannot be left out.
    """

    kind: Kind
    about: str
    part: bool = True
    must: bool = False

    def __hash__(self) -> int:
        return id(self)


VOLTS = Quantity(q.VOLTS)
VOLTS_RANGE = Range(q.VOLTS, "4.75 V .. 5.25 V")
RATING = Quantity(q.RATING)
RATE = Kind(
    'a current, with the time it is allowed for if that is limited, like "30 A for 10 s"', read_rate, "30 A"
)
WATTS = Quantity(q.WATTS)
OHMS = Quantity(q.OHMS)
SHARE = Quantity(q.SHARE)
EFFICIENCY = Quantity(q.EFFICIENCY)
EFFICIENCY_CURVE = Curve(q.EFFICIENCY, (q.AMPS, q.WATTS), "84 % at 1 A, 92 % at 10 A", alone=True)
DERATING = Curve(q.SHARE, (q.TEMPERATURE,), "100 % at 50 degC, 60 % at 60 degC", alone=False)
ENERGY = Quantity(q.ENERGY)
SPEED = Quantity(q.SPEED)
TIME = Quantity(q.SECONDS)
DRAW = Kind('what it draws, written like "1.25 A" or "6 W"', read_draw, "1.25 A")
RUN = Kind('a lead, written like "18 AWG, 420 mm"', read_run, "18 AWG, 420 mm")
CABLE = Kind('a data cable, written like "cat 6, 2 m"', read_cable, "cat 6, 2 m")
FUSE = Kind('a fuse, written like "15 A blade"', read_fuse, "15 A blade")
REF = Ref()
TEXT = Text()
WORD = Kind("a word", str)
ADDRESS = Kind('an address, like "10.20.0.11"', str, "10.20.0.11")
PREFIX = Kind('a prefix, like "10.20.0.0/24"', str, "10.20.0.0/24")
MAC = Kind('a hardware address, like "02:00:00:00:00:01"', str, "02:00:00:00:00:01")
PLUG = Kind("a plug of the parts shelf", str, "barrel-5.5-2.1")


class Table(msgspec.Struct, kw_only=True):
    """What every table has: ``path``, where it stands in the plan, and ``stated``, the keys written there."""

    path: Path = ()
    stated: frozenset[str] = frozenset()
    note: Annotated[str | None, Key(TEXT, "a remark for people")] = None


class Intake(Table, kw_only=True):
    """How a thing takes power: what it stands, through which plug."""

    volts: Annotated[tuple[float, float] | None, Key(VOLTS_RANGE, "volts it works at, low .. high")] = None
    survives: Annotated[
        tuple[float, float] | None,
        Key(Range(q.VOLTS, "-0.3 V .. 5.5 V"), "volts it survives; below zero is a reversed plug"),
    ] = None
    backfeed: Annotated[
        str | None,
        Key(Choice("blocked", "open"), "whether power can run out of this inlet; unstated means open"),
    ] = None
    plug: Annotated[str | None, Key(PLUG, "the kind of connector")] = None
    centre: Annotated[
        str | None, Key(Choice("positive", "negative"), "what the centre of a barrel plug carries")
    ] = None
    pins: Annotated[
        dict[str, str] | None,
        Key(
            Pins(),
            'what each pin carries: "+" or volts ("5v") for power out, "gnd" for its return, else "signal"',
        ),
    ] = None
    amps: Annotated[float | None, Key(RATING, "the most current this inlet may take")] = None
    ohms: Annotated[float | None, Key(OHMS, "resistance inside, out and back")] = None
    capacitance: Annotated[
        float | None, Key(Quantity(q.CAPACITANCE), "capacitance behind it that is charged when power comes")
    ] = None


class Measured(Table, kw_only=True):
    """A reading of what a thing draws in one state; in that state it counts before every other figure."""

    state: Annotated[
        str | None,
        Key(Choice("idle", "busy", "start"), "what the thing was doing", part=False, must=True),
    ] = None
    draw: Annotated[Draw | None, Key(DRAW, "what the meter showed", part=False, must=True)] = None
    where: Annotated[str | None, Key(TEXT, "where it was measured", part=False)] = None
    meter: Annotated[str | None, Key(TEXT, "with what", part=False)] = None
    on: Annotated[date | None, Key(Date(), "on which day", part=False)] = None


class Drawing(Intake, kw_only=True):
    """What a thing draws: up to five figures that are never mixed up."""

    load: Annotated[
        str | None,
        Key(
            Choice("power", "current", "resistance"),
            "how the draw follows the volts: constant power (a converter inside), constant current, a resistance",
        ),
    ] = None
    idle: Annotated[Draw | None, Key(DRAW, "draw when on and doing nothing")] = None
    typical: Annotated[Draw | None, Key(DRAW, "draw on average at work")] = None
    peak: Annotated[Draw | None, Key(DRAW, "the most it draws once it is up")] = None
    surge: Annotated[Surge | None, Key(Drawn(), "what it draws at its start, and for how long")] = None
    waiting: Annotated[Draw | None, Key(DRAW, "draw when powered and not started yet")] = None
    stops: Annotated[float | None, Key(VOLTS, "the volts below which it switches off or starts anew")] = None
    asks: Annotated[
        Draw | None, Key(DRAW, "the supply its maker recommends: for buying, never used as a load")
    ] = None
    measured: Annotated[
        tuple[Measured, ...], Key(Inner(Measured), "readings of what this very thing draws", part=False)
    ] = ()


class Inlet(Drawing, kw_only=True):
    """A connector through which a thing takes power."""

    id: Annotated[str, Key(Id(dots=True), "its name", must=True)] = ""
    from_: Annotated[str | None, Key(REF, "the outlet or rail that feeds it", part=False)] = None
    lead: Annotated[Run | None, Key(RUN, "the lead to it")] = None


class Outlet(Table, kw_only=True):
    """A connector or rail through which a thing gives power."""

    id: Annotated[str, Key(Id(dots=True), "its name", must=True)] = ""
    volts: Annotated[float | None, Key(VOLTS, "nominal volts; of an adjustable rail, what it is set to")] = (
        None
    )
    spread: Annotated[float | None, Key(SHARE, "how far the volts may stray, up or down")] = None
    low: Annotated[float | None, Key(VOLTS, "the lowest volts it gives")] = None
    high: Annotated[float | None, Key(VOLTS, "the highest volts it gives")] = None
    amps: Annotated[float | None, Key(RATING, "the most it gives for as long as you like")] = None
    peak: Annotated[Rate | None, Key(RATE, "the most it gives for a time")] = None
    watts: Annotated[float | None, Key(WATTS, "the most power it gives")] = None
    kind: Annotated[
        str | None,
        Key(Choice("regulated", "pass-through", "adjustable"), "how its volts come about"),
    ] = None
    inlet: Annotated[
        str | None, Key(Id(dots=True), "the inlet whose volts a pass-through hands on, by name")
    ] = None
    ohms: Annotated[float | None, Key(OHMS, "its own resistance: how far its volts fall for each ampere")] = (
        None
    )
    rise: Annotated[float | None, Key(TIME, "how long its volts take to come up")] = None
    shares: Annotated[
        bool | None, Key(Flag(), "whether it is made to share a load with others side by side")
    ] = None
    efficiency: Annotated[Points | None, Key(EFFICIENCY_CURVE, "share of the power taken that comes out")] = (
        None
    )
    group: Annotated[str | None, Key(Id(), "the group of outlets that shares a limit")] = None
    fuse: Annotated[Fuse | None, Key(FUSE, "the fuse in this outlet")] = None
    plug: Annotated[str | None, Key(PLUG, "the kind of connector")] = None
    centre: Annotated[
        str | None, Key(Choice("positive", "negative"), "what the centre of a barrel plug carries")
    ] = None


class Group(Table, kw_only=True):
    """Outlets of one thing that share a limit."""

    id: Annotated[str, Key(Id(), "its name", must=True)] = ""
    amps: Annotated[float | None, Key(RATING, "the most amps of all together")] = None
    watts: Annotated[float | None, Key(WATTS, "the most power of all together")] = None


class Connector(Table, kw_only=True):
    """A plug of a thing and what its pins carry: rails by name, ``gnd`` for the return."""

    id: Annotated[str, Key(Id(), "its name", must=True)] = ""
    plug: Annotated[str | None, Key(PLUG, "the kind of connector")] = None
    pins: Annotated[dict[str, str] | None, Key(Pins(), "what each pin carries")] = None


class Port(Table, kw_only=True):
    """A data port."""

    id: Annotated[str, Key(Id(), "its name or number", must=True)] = ""
    to: Annotated[str | None, Key(REF, "the port at the other end of its cable", part=False)] = None
    speed: Annotated[float | None, Key(SPEED, "its highest speed")] = None
    media: Annotated[str | None, Key(Choice("copper", "fibre", "sfp"), "what plugs into it")] = None
    poe: Annotated[
        str | None,
        Key(Choice("type 1", "type 2", "type 3", "type 4"), "the PoE type (IEEE 802.3) it feeds"),
    ] = None
    poe_watts: Annotated[float | None, Key(WATTS, "the most PoE power of this port")] = None
    cable: Annotated[Cable | None, Key(CABLE, "the cable in it", part=False)] = None
    address: Annotated[tuple[str, ...], Key(Several(ADDRESS), "its addresses", part=False)] = ()
    mac: Annotated[str | None, Key(MAC, "its hardware address", part=False)] = None


class Thing(Table, kw_only=True):
    """What every thing of a plan has.

    ``table``, ``inlets``, ``outlets`` and ``way_back`` are no keys: linking sets them (`coldcheck.plan.model`).
    """

    table: str = ""
    inlets: Any = ()
    outlets: Any = ()
    way_back: Any = None
    id: Annotated[str, Key(Id(), "the name it goes by in the plan", part=False, must=True)] = ""
    part: Annotated[str | None, Key(Id(dots=True), "the part of the shelf it is", part=False)] = None
    title: Annotated[str | None, Key(TEXT, "what it is, in words")] = None
    built: Annotated[date | None, Key(Date(), "since when it exists", part=False)] = None
    at: Annotated[tuple[float, ...] | None, Key(Position(), "where it stands in the box", part=False)] = None


class Feed(Thing, kw_only=True):
    """Where power enters: an adapter, a battery bus, a bench supply."""

    volts: Annotated[float | None, Key(VOLTS, "nominal volts")] = None
    spread: Annotated[float | None, Key(SHARE, "how far the volts may stray, up or down")] = None
    low: Annotated[float | None, Key(VOLTS, "the lowest volts it gives")] = None
    high: Annotated[float | None, Key(VOLTS, "the highest volts it gives")] = None
    amps: Annotated[float | None, Key(RATING, "the most it gives for as long as you like")] = None
    peak: Annotated[Rate | None, Key(RATE, "the most it gives for a time")] = None
    watts: Annotated[float | None, Key(WATTS, "the most power it gives, all outlets together")] = None
    fuse: Annotated[Fuse | None, Key(FUSE, "the fuse close to it")] = None
    ohms: Annotated[float | None, Key(OHMS, "its own resistance: how far its volts fall for each ampere")] = (
        None
    )
    rise: Annotated[float | None, Key(TIME, "how long its volts take to come up")] = None
    shares: Annotated[
        bool | None, Key(Flag(), "whether it is made to share a load with others side by side")
    ] = None
    efficiency: Annotated[
        Points | None, Key(EFFICIENCY_CURVE, "share of the power taken from the wall that comes out")
    ] = None
    standing: Annotated[float | None, Key(WATTS, "what it takes from the wall with nothing connected")] = None
    derating: Annotated[Points | None, Key(DERATING, "share of its rating at an ambient temperature")] = None
    battery: Annotated[
        bool | None, Key(Flag(), "whether it gives far more than its rating into a short, as batteries do")
    ] = None
    watt_hours: Annotated[float | None, Key(ENERGY, "the energy of its battery")] = None
    usable: Annotated[float | None, Key(SHARE, "the share of that energy that is used")] = None
    cut_off: Annotated[float | None, Key(VOLTS, "volts at which its battery is taken off, to protect it")] = (
        None
    )
    hold: Annotated[float | None, Key(TIME, "how long it is to carry the box on its own", part=False)] = None
    charger: Annotated[
        float | None, Key(WATTS, "what its charger gives: to the battery, and to the load meanwhile")
    ] = None
    lead: Annotated[Run | None, Key(RUN, "the lead moulded to it, out and back")] = None
    plug: Annotated[str | None, Key(PLUG, "the kind of connector")] = None
    centre: Annotated[
        str | None, Key(Choice("positive", "negative"), "what the centre of a barrel plug carries")
    ] = None
    outlet: Annotated[tuple[Outlet, ...], Key(Inner(Outlet), "outlets with limits of their own")] = ()
    group: Annotated[tuple[Group, ...], Key(Inner(Group), "outlets that share a limit")] = ()
    connector: Annotated[tuple[Connector, ...], Key(Inner(Connector), "plugs whose pins matter")] = ()


class Flat(msgspec.Struct, frozen=True):
    """Keys of another struct that stand in the table itself: the short form for a thing with one inlet."""

    struct: type[Table]

    def __hash__(self) -> int:
        return id(self)


class Fed(Thing, kw_only=True):
    """What every thing that takes power has."""

    back: Annotated[
        str | None,
        Key(
            REF,
            "the wire that its current goes back by, where several share one: an inline `return`",
            part=False,
        ),
    ] = None

    from_: Annotated[
        tuple[str, ...],
        Key(Several(REF), "the rails or outlets that feed it, one for each inlet", part=False),
    ] = ()
    into: Annotated[
        tuple[str, ...], Key(Several(REF), "the inlets used, in the order of `from`", part=False)
    ] = ()
    lead: Annotated[
        tuple[Run, ...], Key(Several(RUN), "the leads, in the order of `from`; one serves all")
    ] = ()
    use: Annotated[
        str | None,
        Key(
            Choice("one", "shared", "or-ed"),
            "how several inlets work together: one is used and the others stay free; joined inside, so that one source "
            "may feed them; or kept apart by diodes inside, so that several may",
        ),
    ] = None
    inlet: Annotated[tuple[Inlet, ...], Key(Inner(Inlet), "inlets, where there are several")] = ()
    outlet: Annotated[tuple[Outlet, ...], Key(Inner(Outlet), "outlets that hand power on")] = ()
    group: Annotated[tuple[Group, ...], Key(Inner(Group), "outlets that share a limit")] = ()
    connector: Annotated[tuple[Connector, ...], Key(Inner(Connector), "plugs whose pins matter")] = ()


class Supply(Fed, kw_only=True):
    """A converter with one or more inputs and rails."""

    intake: Annotated[Intake, Flat(Intake)] = msgspec.field(default_factory=Intake)
    rail: Annotated[tuple[Outlet, ...], Key(Inner(Outlet), "its output voltages, each with its limit")] = ()
    watts: Annotated[float | None, Key(WATTS, "the most power of all rails together")] = None
    efficiency: Annotated[Points | None, Key(EFFICIENCY_CURVE, "share of the power taken that comes out")] = (
        None
    )
    standing: Annotated[float | None, Key(WATTS, "what it takes with nothing connected")] = None
    dropout: Annotated[float | None, Key(VOLTS, "how far its input must lie above its output")] = None
    derating: Annotated[Points | None, Key(DERATING, "share of its rating at an ambient temperature")] = None
    hottest: Annotated[
        float | None, Key(Quantity(q.TEMPERATURE), "the highest temperature its hottest piece may have")
    ] = None
    warms: Annotated[
        float | None,
        Key(Quantity(q.KELVIN_PER_WATT), "how far its hottest piece warms for each watt of heat"),
    ] = None
    warms_with_sink: Annotated[
        float | None, Key(Quantity(q.KELVIN_PER_WATT), "the same, with a heat sink on it")
    ] = None
    sink: Annotated[bool | None, Key(Flag(), "whether a heat sink is on it", part=False)] = None
    isolated: Annotated[
        bool | None,
        Key(Flag(), "whether its output is cut off from its input, ground too; unstated means no"),
    ] = None


class Inline(Fed, kw_only=True):
    """A fuse, switch, diode, splitter, adapter or shared run between an outlet and several inlets."""

    intake: Annotated[Intake, Flat(Intake)] = msgspec.field(default_factory=Intake)
    what: Annotated[
        str | None,
        Key(
            Choice("fuse", "switch", "diode", "splitter", "adapter", "run", "return"),
            "what it is; a fuse states its `fuse`, a diode its `drop` or `ohms`; a return is one wire back to the "
            "ground of what it is `from`, shared by all that go `back` by it",
        ),
    ] = None
    fuse: Annotated[Fuse | None, Key(FUSE, "the fuse in it")] = None
    drop: Annotated[float | None, Key(VOLTS, "volts lost in it at any current: a diode")] = None


class Taker(Fed, kw_only=True):
    """A thing that draws power for its own use."""

    intake: Annotated[Drawing, Flat(Drawing)] = msgspec.field(default_factory=Drawing)
    delay: Annotated[float | None, Key(TIME, "how long its start is held back", part=False)] = None
    kept_by: Annotated[str | None, Key(REF, "the thing that holds it back", part=False)] = None
    in_box: Annotated[
        bool | None, Key(Flag(), "whether its heat stays in the box; unstated means yes", part=False)
    ] = None


class Fan(Taker, kw_only=True):
    """A fan."""

    rated: Annotated[float | None, Key(VOLTS, "the volts that its speed, flow and noise are stated at")] = (
        None
    )
    starts_at: Annotated[float | None, Key(VOLTS, "the least volts at which it starts to turn")] = None
    rpm: Annotated[float | None, Key(Quantity(q.TURNS), "its speed")] = None
    flow: Annotated[float | None, Key(Quantity(q.FLOW), "the air it moves with nothing in its way")] = None
    noise: Annotated[float | None, Key(Quantity(q.NOISE), "its noise")] = None


class Drive(Taker, kw_only=True):
    """A disk, or a solid-state drive."""

    bay: Annotated[str | None, Key(REF, "the bay it sits in, like `store.1`", part=False)] = None
    start: Annotated[
        str | None,
        Key(
            Choice("power", "host", "pin", "standby"),
            "what starts its motor: power alone, or a word from its host",
        ),
    ] = None
    motor: Annotated[bool | None, Key(Flag(), "whether it has a motor to start; unstated means yes")] = None
    sleeps: Annotated[
        bool | None, Key(Flag(), "whether its motor is let stop when idle and start again", part=False)
    ] = None


class Networked(Taker, kw_only=True):
    """A thing with data ports of its own."""

    port: Annotated[
        tuple[str, ...],
        Key(Several(REF), "the switch ports its cables go to, one for each of its own", part=False),
    ] = ()
    cable: Annotated[Cable | None, Key(CABLE, "the cable from `port`", part=False)] = None
    address: Annotated[tuple[str, ...], Key(Several(ADDRESS), "its addresses", part=False)] = ()
    mac: Annotated[str | None, Key(MAC, "its hardware address", part=False)] = None
    poe: Annotated[
        str | None,
        Key(Choice(*(f"class {n}" for n in range(9))), "the PoE class it takes power by (IEEE 802.3)"),
    ] = None
    port_: Annotated[
        tuple[Port, ...], Key(Inner(Port), "its data ports, where more is to be said of them")
    ] = ()


class Node(Networked, kw_only=True):
    """A board or a computer."""


class Appliance(Networked, kw_only=True):
    """Anything else that draws power and may have ports: a camera, a radio, a display."""


class Storage(Networked, kw_only=True):
    """A carrier, board or case with bays for drives."""

    bays: Annotated[int | None, Key(Count(1, 1000), "how many bays it has")] = None
    staggers: Annotated[bool | None, Key(Flag(), "whether it can hold drives back from starting")] = None


class Switch(Networked, kw_only=True):
    """A network switch."""

    ports: Annotated[int | None, Key(Count(1, 1000), "how many ports it has, numbered from 1")] = None
    poe_budget: Annotated[float | None, Key(WATTS, "the most PoE power of all ports together")] = None
    poe_reserves: Annotated[
        str | None,
        Key(Choice("class", "draw"), "whether a port sets aside its class's power, or counts what is drawn"),
    ] = None
    poe_efficiency: Annotated[
        float | None, Key(EFFICIENCY, "share of its input that reaches the PoE ports")
    ] = None


class Uplink(Table, kw_only=True):
    """A link that leaves the box."""

    from_: Annotated[str | None, Key(REF, "the port it leaves from", must=True)] = None
    to: Annotated[str | None, Key(TEXT, "where it goes, in words, or an `outside`", must=True)] = None
    medium: Annotated[str | None, Key(Choice("wired", "radio", "fibre"), "what carries it")] = None
    speed: Annotated[float | None, Key(SPEED, "its speed")] = None
    cable: Annotated[Cable | None, Key(CABLE, "its cable")] = None


class Link(Table, kw_only=True):
    """A data cable between two ports."""

    from_: Annotated[str | None, Key(REF, "a port", must=True)] = None
    to: Annotated[str | None, Key(REF, "the port at the other end", must=True)] = None
    cable: Annotated[Cable | None, Key(CABLE, "category and length")] = None


class Subnet(Table, kw_only=True):
    """A prefix of addresses."""

    prefix: Annotated[str, Key(PREFIX, "the prefix", must=True)] = ""
    gateway: Annotated[str | None, Key(ADDRESS, "the router's address in it")] = None
    title: Annotated[str | None, Key(TEXT, "what it is for")] = None


class Pool(Table, kw_only=True):
    """A range of addresses set aside."""

    for_: Annotated[
        str | None,
        Key(Choice("dhcp", "services", "containers", "reserved"), "what it is set aside for", must=True),
    ] = None
    range: Annotated[tuple[str, str] | None, Key(Stretch(), "first and last address", must=True)] = None


class Outside(Table, kw_only=True):
    """A router or network that exists and is not ours."""

    id: Annotated[str, Key(Id(), "the name it goes by", must=True)] = ""
    title: Annotated[str | None, Key(TEXT, "what it is")] = None
    address: Annotated[tuple[str, ...], Key(Several(ADDRESS), "its addresses")] = ()
    prefix: Annotated[tuple[str, ...], Key(Several(PREFIX), "the prefixes in use there")] = ()


class Wire(Table, kw_only=True):
    """One wire of a harness, pin to pin."""

    from_: Annotated[str | None, Key(REF, "where it starts: `thing.connector.pin`", must=True)] = None
    to: Annotated[str | None, Key(REF, "where it ends: `thing.inlet.pin`", must=True)] = None
    colour: Annotated[str | None, Key(TEXT, "its colour")] = None
    gauge: Annotated[float | None, Key(Quantity(q.GAUGE), "its gauge")] = None
    area: Annotated[float | None, Key(Quantity(q.AREA), "its copper area, instead of a gauge")] = None
    length: Annotated[float | None, Key(Quantity(q.LENGTH), "its length")] = None


class Harness(Table, kw_only=True):
    """A fine power run: wires from pin to pin."""

    id: Annotated[str, Key(Id(), "its name", must=True)] = ""
    title: Annotated[str | None, Key(TEXT, "what it is for")] = None
    wire: Annotated[tuple[Wire, ...], Key(Inner(Wire), "its wires")] = ()


class Waiver(Table, kw_only=True):
    """A finding accepted on purpose, with a reason and a last day."""

    rule: Annotated[str, Key(WORD, "the rule whose finding is accepted", must=True)] = ""
    at: Annotated[str | None, Key(REF, "the thing it is accepted for; unstated: everywhere")] = None
    level: Annotated[str, Key(Choice("error", "warning", "note"), "the gravest level it accepts")] = "warning"
    reason: Annotated[str, Key(TEXT, "why", must=True)] = ""
    until: Annotated[date | None, Key(Date(), "the last day it holds", must=True)] = None


class Head(Table, kw_only=True):
    """What holds for the whole plan."""

    format: Annotated[int, Key(Count(1, 1), "the format of the plan")] = 1
    title: Annotated[str | None, Key(TEXT, "what is built")] = None
    reserve: Annotated[float, Key(SHARE, "head-room asked of every source, rail and PoE total")] = 0.2
    ambient: Annotated[float, Key(Quantity(q.TEMPERATURE), "air temperature in the box")] = 30.0
    air_rise: Annotated[
        float | None, Key(Quantity(q.KELVIN), "how much warmer than the room the air in the box may be")
    ] = None
    height: Annotated[
        float, Key(Quantity(q.HEIGHT), "how high above the sea it stands: thin air cools less")
    ] = 0.0
    busy: Annotated[float | None, Key(SHARE, "the share of the year in which it is busy")] = None
    spare_ports: Annotated[int, Key(Count(0, 1000), "free ports wanted on each switch")] = 0


class Plug(Thing, kw_only=True):
    """A kind of connector (a part only)."""

    amps: Annotated[float | None, Key(RATING, "rating of one contact")] = None
    ohms: Annotated[float | None, Key(OHMS, "resistance of one contact, new")] = None
    aged: Annotated[float | None, Key(OHMS, "resistance of one contact after ageing")] = None
    contacts: Annotated[int | None, Key(Count(1, 100), "contacts in parallel for each of + and -")] = None
    keyed: Annotated[bool | None, Key(Flag(), "whether it can only be plugged in one way")] = None
    family: Annotated[str | None, Key(TEXT, "connectors of one family may go into each other")] = None
    pins: Annotated[dict[str, str] | None, Key(Pins(), "what each pin carries")] = None
    gauge_from: Annotated[float | None, Key(Quantity(q.GAUGE), "thickest wire it takes")] = None
    gauge_to: Annotated[float | None, Key(Quantity(q.GAUGE), "thinnest wire it takes")] = None


#: Every array of tables a plan may hold, in the order people write them.
TABLES: dict[str, type[Table]] = {
    "feed": Feed,
    "supply": Supply,
    "inline": Inline,
    "node": Node,
    "storage": Storage,
    "drive": Drive,
    "switch": Switch,
    "fan": Fan,
    "appliance": Appliance,
    "uplink": Uplink,
    "link": Link,
    "subnet": Subnet,
    "pool": Pool,
    "outside": Outside,
    "harness": Harness,
    "waiver": Waiver,
}

#: What a part can be a kind of.
PART_KINDS: dict[str, type[Thing]] = {
    "feed": Feed,
    "supply": Supply,
    "inline": Inline,
    "node": Node,
    "storage": Storage,
    "drive": Drive,
    "switch": Switch,
    "fan": Fan,
    "appliance": Appliance,
    "plug": Plug,
}

# Words that are keywords of Python carry an underscore as attributes.
_KEYWORDS = {"from_": "from", "for_": "for", "port_": "port"}


class Spec(msgspec.Struct, frozen=True):
    """What the reader needs of one struct: every key with its attribute.

    ``keys`` hold values, ``inner`` hold tables of their own (``port`` may be either), ``flat_keys`` belong to the
    struct in the attribute ``flat``.
    """

    struct: type[Table]
    keys: dict[str, tuple[str, Key]]
    inner: dict[str, tuple[str, Key]]
    flat: tuple[str, type[Table]] | None
    flat_keys: dict[str, tuple[str, Key]]
    must: tuple[str, ...]

    def words(self) -> list[str]:
        """Return every key that may be written in this table, as it is written."""
        return list(dict.fromkeys([*self.keys, *self.inner, *self.flat_keys]))


_specs: dict[type[Table], Spec] = {}


def spec_of(struct: type[Table]) -> Spec:
    """Return the keys of a struct, found once from its annotations."""
    spec = _specs.get(struct)
    if spec is None:
        spec = _specs[struct] = _find(struct)
    return spec


def _find(struct: type[Table]) -> Spec:
    keys: dict[str, tuple[str, Key]] = {}
    inner: dict[str, tuple[str, Key]] = {}
    flat: tuple[str, type[Table]] | None = None
    for base in reversed(struct.__mro__):
        for name, hint in getattr(base, "__annotations__", {}).items():
            extra = getattr(hint, "__metadata__", (None,))[-1]
            if isinstance(extra, Flat):
                flat = name, extra.struct
            elif isinstance(extra, Key):
                shelf = inner if isinstance(extra.kind, Inner) else keys
                shelf[_KEYWORDS.get(name, name)] = name, extra
    flat_keys: dict[str, tuple[str, Key]] = {}
    if flat:
        below = spec_of(flat[1])
        flat_keys = {k: v for k, v in below.keys.items() if k not in keys}
        inner |= {k: (f"{flat[0]}.{attribute}", key) for k, (attribute, key) in below.inner.items()}
    must = tuple(name for name, (_, key) in keys.items() if key.must)
    return Spec(struct, keys, inner, flat, flat_keys, must)
