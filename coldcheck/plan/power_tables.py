"""The tables of what gives, hands on and takes power, and of what it flows through: one struct each, one key a line."""

from datetime import date
from typing import Annotated, Any

import msgspec

from . import quantities as q
from .keys import (
    DERATING,
    DRAW,
    EFFICIENCY_CURVE,
    ENERGY,
    FUSE,
    OHMS,
    PIN,
    PLUG,
    RATE,
    RATING,
    RATING_BY_GAUGE,
    REF,
    RUN,
    SHARE,
    TEXT,
    TIME,
    VOLTS,
    VOLTS_RANGE,
    WATTS,
    Flat,
    Key,
    Table,
)
from .kinds import (
    Choice,
    Count,
    Date,
    Draw,
    Drawn,
    Flag,
    Fuse,
    Id,
    Inner,
    Pins,
    Points,
    Position,
    Quantity,
    Range,
    Rate,
    Run,
    Several,
    Surge,
)

__all__ = [
    "Connector",
    "Drawing",
    "Drive",
    "Fan",
    "Fed",
    "Feed",
    "Group",
    "Harness",
    "HarnessEnd",
    "Inlet",
    "Inline",
    "Intake",
    "Measured",
    "Outlet",
    "Plug",
    "Splice",
    "Supply",
    "Taker",
    "Thing",
    "Wire",
]


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
    stands: Annotated[float | None, Key(VOLTS, "the most volts that the signal pins beside it survive")] = (
        None
    )
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
    """A socket of a thing and what its pins carry: rails or inlets by name, ``gnd`` for the return."""

    id: Annotated[str, Key(Id(), "its name", must=True)] = ""
    plug: Annotated[str | None, Key(PLUG, "the kind of connector")] = None
    pins: Annotated[dict[str, str] | None, Key(Pins(), "what each pin carries")] = None
    stands: Annotated[float | None, Key(VOLTS, "the most volts that its signal pins survive")] = None
    makers_own: Annotated[
        bool | None,
        Key(
            Flag(),
            "whether the order of its pins is its maker's own, as on modular supplies: only its own cables fit it",
        ),
    ] = None


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
    chassis: Annotated[
        bool | None,
        Key(
            Flag(),
            "whether its ground is joined to the metal of the box, as by stand-offs; unstated means no",
        ),
    ] = None


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
    own_power: Annotated[
        bool | None,
        Key(
            Flag(),
            "whether it brings its own power, a battery or a mains plug of its own, so that nothing here feeds it; "
            "its heat then counts only where `in_box` says so",
        ),
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
    reads: Annotated[
        float | None, Key(Quantity(q.BYTES_PER_SECOND), "how fast it reads one large file from end to end")
    ] = None
    motor: Annotated[bool | None, Key(Flag(), "whether it has a motor to start; unstated means yes")] = None
    sleeps: Annotated[
        bool | None, Key(Flag(), "whether its motor is let stop when idle and start again", part=False)
    ] = None


class Wire(Table, kw_only=True):
    """One wire of a harness, pin to pin.

    An end is a pin of a thing, ``thing.connector.pin``; a way of an end of its harness, ``end.way``; or a splice.
    """

    from_: Annotated[
        str | None, Key(REF, "where it starts: `thing.connector.pin`, `end.way` or a splice", must=True)
    ] = None
    to: Annotated[str | None, Key(REF, "where it ends, in the same words", must=True)] = None
    colour: Annotated[str | None, Key(TEXT, "its colour")] = None
    gauge: Annotated[float | None, Key(Quantity(q.GAUGE), "its gauge")] = None
    area: Annotated[float | None, Key(Quantity(q.AREA), "its copper area, instead of a gauge")] = None
    length: Annotated[float | None, Key(Quantity(q.LENGTH), "its length between the two contacts")] = None
    slack: Annotated[
        float | None, Key(Quantity(q.LENGTH), "how much longer it is cut, to be dressed and crimped again")
    ] = None
    metal: Annotated[
        str | None,
        Key(Choice("copper", "aluminium", "copper-clad"), "what it is made of; unstated means copper"),
    ] = None


class HarnessEnd(Table, kw_only=True):
    """One housing of a harness: its ways, and the pins of the socket that they sit on."""

    id: Annotated[str, Key(Id(), "its name within the harness", must=True)] = ""
    plug: Annotated[str | None, Key(PLUG, "the kind of housing; unstated: that of the socket")] = None
    into: Annotated[
        str | None, Key(REF, "the socket it goes into: `thing.connector`, `thing.inlet`", part=False)
    ] = None
    on: Annotated[
        tuple[str, ...],
        Key(
            Several(PIN),
            "the pins of the socket that its ways sit on, in their order; unstated: each on its own",
        ),
    ] = ()


class Splice(Table, kw_only=True):
    """A joint of several wires of one harness."""

    id: Annotated[str, Key(Id(), "its name within the harness", must=True)] = ""
    plug: Annotated[str | None, Key(PLUG, "the kind of joint, of the parts shelf")] = None


class Harness(Table, kw_only=True):
    """A fine power run: wires from pin to pin. What its wires do not say, it says for all of them."""

    id: Annotated[str, Key(Id(), "its name", part=False, must=True)] = ""
    part: Annotated[
        str | None, Key(Id(dots=True), "the harness of the parts shelf that it is cut to", part=False)
    ] = None
    title: Annotated[str | None, Key(TEXT, "what it is for")] = None
    made_for: Annotated[
        str | None, Key(Id(dots=True), "the part whose own cable it is: one that came with a modular supply")
    ] = None
    gauge: Annotated[float | None, Key(Quantity(q.GAUGE), "gauge of its wires")] = None
    length: Annotated[float | None, Key(Quantity(q.LENGTH), "length of its wires")] = None
    slack: Annotated[float | None, Key(Quantity(q.LENGTH), "how much longer its wires are cut")] = None
    end: Annotated[tuple[HarnessEnd, ...], Key(Inner(HarnessEnd), "its housings")] = ()
    splice: Annotated[tuple[Splice, ...], Key(Inner(Splice), "joints of several of its wires")] = ()
    wire: Annotated[tuple[Wire, ...], Key(Inner(Wire), "its wires")] = ()


class Plug(Thing, kw_only=True):
    """A kind of connector (a part only)."""

    amps: Annotated[float | None, Key(RATING, "rating of one contact")] = None
    amps_at: Annotated[
        Points | None, Key(RATING_BY_GAUGE, "rating of one contact by the wire in it, thickest first")
    ] = None
    ohms: Annotated[float | None, Key(OHMS, "resistance of one contact, new")] = None
    aged: Annotated[float | None, Key(OHMS, "resistance of one contact after ageing")] = None
    contacts: Annotated[int | None, Key(Count(1, 100), "contacts in parallel for each of + and -")] = None
    keyed: Annotated[bool | None, Key(Flag(), "whether it can only be plugged in one way")] = None
    family: Annotated[str | None, Key(TEXT, "connectors of one family may go into each other")] = None
    pins: Annotated[dict[str, str] | None, Key(Pins(), "what each pin carries")] = None
    gauge_from: Annotated[float | None, Key(Quantity(q.GAUGE), "thickest wire it takes")] = None
    gauge_to: Annotated[float | None, Key(Quantity(q.GAUGE), "thinnest wire it takes")] = None
    rows: Annotated[int | None, Key(Count(1, 10), "rows its pins stand in")] = None
    numbered: Annotated[
        str | None,
        Key(
            Choice("along", "across"),
            "how the pins of several rows are numbered: one row after the other, or across the rows, pair by pair",
        ),
    ] = None
    pitch: Annotated[float | None, Key(Quantity(q.LENGTH), "how far its pins stand apart")] = None
    seen: Annotated[
        str | None,
        Key(
            Choice("mating", "wires"),
            "how one looks at it where its pins count from the left: onto the mating face, where the row of pin 1 "
            "stands below if they are numbered across, or onto the wires behind",
        ),
    ] = None
    single: Annotated[
        bool | None,
        Key(Flag(), "whether each wire goes in by itself: screw terminals, rings, push-on blades"),
    ] = None
    colours: Annotated[
        dict[str, str] | None,
        Key(Pins("colour"), 'the colours the trade gives the wire of a pin: "red", "red or yellow"'),
    ] = None
    stands: Annotated[float | None, Key(VOLTS, "the most volts that its signal pins survive")] = None
    makers_own: Annotated[
        bool | None,
        Key(Flag(), "whether the order of its pins is its maker's own: only that maker's cables fit it"),
    ] = None
    end: Annotated[
        str | None,
        Key(
            Choice("contact", "ferrule", "itself", "joint"),
            "what is put on a wire that goes in: a contact, a ferrule, the plug itself, or a joint of several wires",
        ),
    ] = None
    strip: Annotated[
        float | None, Key(Quantity(q.LENGTH), "how much insulation is taken off the wire for its contact")
    ] = None
