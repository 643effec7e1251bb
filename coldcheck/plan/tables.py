"""The tables of a plan: one struct each, one key a line, with its kind of value and what it means.

Everything that knows which keys there are comes from here: the reader, the messages, the JSON Schema, the reference
in the documents. To add a key, add a line; `tests/plan/test_schema.py` holds the rest together.
"""

from datetime import date
from typing import Annotated

from . import quantities as q
from .data_tables import (
    Appliance,
    Flow,
    Link,
    Networked,
    Node,
    Outside,
    Pool,
    Port,
    Storage,
    Subnet,
    Switch,
    Uplink,
)
from .keys import FUSE, HOST, PREFIX, REF, SHARE, TEXT, WORD, Key, Spec, Table, spec_of
from .kinds import (
    Amount,
    Bought,
    Choice,
    Count,
    Date,
    Flag,
    Fuse,
    Kind,
    Pins,
    Price,
    Quantity,
    Several,
    read_price,
)
from .power_tables import (
    Connector,
    Drawing,
    Drive,
    Fan,
    Fed,
    Feed,
    Group,
    Harness,
    HarnessEnd,
    Inlet,
    Inline,
    Intake,
    Measured,
    Outlet,
    Plug,
    Splice,
    Supply,
    Taker,
    Thing,
    Wire,
)

__all__ = [
    "PART_KINDS",
    "TABLES",
    "Appliance",
    "Buy",
    "Connector",
    "Drawing",
    "Drive",
    "Fan",
    "Fed",
    "Feed",
    "Flow",
    "Group",
    "Harness",
    "HarnessEnd",
    "Head",
    "Inlet",
    "Inline",
    "Intake",
    "Key",
    "Link",
    "Measured",
    "Networked",
    "Node",
    "Outlet",
    "Outside",
    "Plug",
    "Pool",
    "Port",
    "Spec",
    "Splice",
    "Storage",
    "Subnet",
    "Supply",
    "Switch",
    "Table",
    "Taker",
    "Thing",
    "Uplink",
    "Waiver",
    "Wire",
    "spec_of",
]


class Waiver(Table, kw_only=True):
    """A finding accepted on purpose, with a reason and a last day."""

    rule: Annotated[str, Key(WORD, "the rule whose finding is accepted", must=True)] = ""
    at: Annotated[str | None, Key(REF, "the thing it is accepted for; unstated: everywhere")] = None
    level: Annotated[str, Key(Choice("error", "warning", "note"), "the gravest level it accepts")] = "warning"
    reason: Annotated[str, Key(TEXT, "why", must=True)] = ""
    until: Annotated[date | None, Key(Date(), "the last day it holds", must=True)] = None


class Buy(Table, kw_only=True):
    """How one line of the shopping list is bought; or something to buy that the plan does not show otherwise."""

    what: Annotated[
        str, Key(TEXT, "the line of the shopping list, in its words; or what else is to be bought", must=True)
    ] = ""
    count: Annotated[
        Amount | None, Key(Bought(), "how many are needed that the plan does not show otherwise: stand-offs")
    ] = None
    spare: Annotated[Amount | None, Key(Bought(), "how many are wanted beyond what is needed")] = None
    have: Annotated[Amount | None, Key(Bought(), "how many lie in the drawer already")] = None
    pack: Annotated[Amount | None, Key(Bought(), "how many come in a pack; unstated: they come singly")] = (
        None
    )
    price: Annotated[
        Price | None,
        Key(Kind('a price, written like "4.20 EUR"', read_price, "4.20 EUR"), "of a pack, or of one"),
    ] = None


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
    colours: Annotated[
        dict[str, str] | None,
        Key(Pins("code"), "the colour code of this box: what a wire of each colour carries, by signal"),
    ] = None
    domain: Annotated[str | None, Key(HOST, "the domain of its host names")] = None
    name_server: Annotated[
        str | None,
        Key(
            HOST,
            "what answers for its names: the host name of a machine of the plan, or a full name elsewhere",
        ),
    ] = None
    slack: Annotated[
        float, Key(Quantity(q.LENGTH), "how much longer than the way along the walls a cable must be")
    ] = 0.1
    redundant: Annotated[
        bool | None, Key(Flag(), "whether its network is to outlast the loss of any one switch or cable")
    ] = None
    share: Annotated[
        float | None,
        Key(
            Quantity(q.SPEED),
            "what every node is to get of storage when all read at once, headers not counted",
        ),
    ] = None
    spare_ports: Annotated[int, Key(Count(0, 1000), "free ports wanted on each switch")] = 0
    block: Annotated[
        str | None, Key(PREFIX, "the prefix out of which subnets without one of their own are carved")
    ] = None
    wires: Annotated[
        tuple[float, ...],
        Key(Several(Quantity(q.GAUGE)), "the gauges of wire at hand, which leads left blank are chosen from"),
    ] = ()
    fuses: Annotated[
        tuple[Fuse, ...], Key(Several(FUSE), "the fuses at hand, which fuses left blank are chosen from")
    ] = ()


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
    "flow": Flow,
    "subnet": Subnet,
    "pool": Pool,
    "outside": Outside,
    "harness": Harness,
    "buy": Buy,
    "waiver": Waiver,
}

#: What a part can be a kind of.
PART_KINDS: dict[str, type[Thing] | type[Harness]] = {
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
    "harness": Harness,
}
