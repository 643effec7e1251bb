"""The tables of what has data ports, of the cables between them, and of addresses: one struct each, one key a line."""

from typing import Annotated

from .keys import (
    ADDRESS,
    CABLE,
    EFFICIENCY,
    HOST,
    MAC,
    OCTETS,
    PREFIX,
    REF,
    SPEED,
    TEXT,
    TIME,
    VLAN,
    VLANS,
    VOLTS,
    VOLTS_RANGE,
    WATTS,
    Key,
    Table,
)  # fmt: skip
from .kinds import Cable, Choice, Count, Flag, Id, Inner, Several, Stretch
from .power_tables import Taker

__all__ = [
    "Appliance", "Flow", "Link", "Networked", "Node", "Outside", "Pool", "Port", "Storage", "Subnet", "Switch",
    "Uplink",
]  # fmt: skip


# How frames pass a data port; said of a thing, it holds for each of its ports that does not say otherwise.
Bond = Annotated[
    str | None,
    Key(Id(), "the bond its cable belongs to: cables of one bond count as one link", part=False),
]
Vlan = Annotated[
    int | None,
    Key(VLAN, "the VLAN of its frames without a tag; a switch counts 1 where none is said", part=False),
]
Tagged = Annotated[
    tuple[int, ...], Key(VLANS, "the VLANs whose frames carry a tag here, like [20, 30]", part=False)
]
Mtu = Annotated[int | None, Key(OCTETS, "the longest IP packet it sends, in octets; unstated means 1500")]


class Port(Table, kw_only=True):
    """A data port."""

    id: Annotated[str, Key(Id(), "its name or number", must=True)] = ""
    to: Annotated[str | None, Key(REF, "the port at the other end of its cable", part=False)] = None
    for_: Annotated[
        str | None,
        Key(
            Choice("data", "management"),
            "what it is for; what enters by a management port of a switch goes nowhere else",
        ),
    ] = None
    speed: Annotated[float | None, Key(SPEED, "its highest speed")] = None
    speeds: Annotated[
        tuple[float, ...],
        Key(Several(SPEED), "every speed it can do, where that is not what is usual below `speed`"),
    ] = ()
    negotiates: Annotated[
        bool | None, Key(Flag(), "whether it settles speed and duplex with the other end; unstated means yes")
    ] = None
    duplex: Annotated[str | None, Key(Choice("full", "half"), "its duplex, where that is fixed")] = None
    media: Annotated[str | None, Key(Choice("copper", "fibre", "sfp"), "what plugs into it")] = None
    module: Annotated[
        str | None,
        Key(Choice("copper", "multi-mode", "single-mode"), "the module in its SFP socket", part=False),
    ] = None
    poe: Annotated[
        str | None,
        Key(
            Choice("type 1", "type 2", "type 3", "type 4", "passive"),
            "the PoE type (IEEE 802.3) it feeds; passive: volts on the pairs without a question asked",
        ),
    ] = None
    poe_watts: Annotated[float | None, Key(WATTS, "the most PoE power of this port")] = None
    poe_volts: Annotated[float | None, Key(VOLTS, "the volts it puts on the pairs, where it is passive")] = (
        None
    )
    poe_pins: Annotated[
        str | None,
        Key(Choice("1,2,3,6", "4,5,7,8", "all"), "the pins that carry its power, where it is passive"),
    ] = None
    poe_priority: Annotated[
        str | None,
        Key(
            Choice("critical", "high", "low"),
            "who is fed first when the budget is short; unstated means low",
            part=False,
        ),
    ] = None
    spanning_tree: Annotated[
        bool | None,
        Key(
            Flag(), "whether it takes part in the spanning tree of its switch; unstated means yes", part=False
        ),
    ] = None
    unused: Annotated[bool | None, Key(Flag(), "whether it stays free on purpose", part=False)] = None
    bond: Bond = None
    vlan: Vlan = None
    tagged: Tagged = ()
    mtu: Mtu = None
    cable: Annotated[Cable | None, Key(CABLE, "the cable in it", part=False)] = None
    address: Annotated[tuple[str, ...], Key(Several(ADDRESS), "its addresses", part=False)] = ()
    mac: Annotated[str | None, Key(MAC, "its hardware address", part=False)] = None


class Networked(Taker, kw_only=True):
    """A thing with data ports of its own."""

    name: Annotated[
        str | None,
        Key(HOST, "its host name, where that is not its id; with or without the domain", part=False),
    ] = None
    port: Annotated[
        tuple[str, ...],
        Key(Several(REF), "the switch ports its cables go to, one for each of its own", part=False),
    ] = ()
    cable: Annotated[Cable | None, Key(CABLE, "the cable from `port`", part=False)] = None
    after: Annotated[
        tuple[str, ...], Key(Several(REF), "the machines that must be up before it starts", part=False)
    ] = ()
    bond: Bond = None
    vlan: Vlan = None
    tagged: Tagged = ()
    mtu: Mtu = None
    address: Annotated[tuple[str, ...], Key(Several(ADDRESS), "its addresses", part=False)] = ()
    gateway: Annotated[
        tuple[str, ...],
        Key(
            Several(ADDRESS),
            "the router it sends to by default, where that is not its subnet's; one, or a list of two: IPv4 and IPv6",
            part=False,
        ),
    ] = ()
    mac: Annotated[str | None, Key(MAC, "its hardware address", part=False)] = None
    serves: Annotated[
        tuple[str, ...], Key(Several(Choice("dhcp")), "what it hands out on its network", part=False)
    ] = ()
    bridges: Annotated[
        bool | None,
        Key(
            Flag(),
            "whether it passes frames on between its ports, as an access point does; unstated means no",
        ),
    ] = None
    poe: Annotated[
        str | None,
        Key(
            Choice(*(f"class {n}" for n in range(9)), "passive"),
            "the PoE class it takes power by (IEEE 802.3); passive: volts on the pairs without a question asked",
        ),
    ] = None
    poe_efficiency: Annotated[
        float | None, Key(EFFICIENCY, "share of its input that reaches the PoE ports")
    ] = None
    poe_volts: Annotated[
        tuple[float, float] | None,
        Key(VOLTS_RANGE, "the volts it takes by its data cable, where that is passive"),
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
    rows: Annotated[int | None, Key(Count(1, 10), "rows its ports stand in, as one looks at its front")] = (
        None
    )
    numbered: Annotated[
        str | None,
        Key(
            Choice("along", "across"),
            "how ports of several rows are numbered: one row after the other, or across the rows, pair by pair",
        ),
    ] = None
    spare_ports: Annotated[
        int | None, Key(Count(0, 1000), "free ports wanted on it, instead of what [plan] says", part=False)
    ] = None
    vlans: Annotated[
        bool | None,
        Key(Flag(), "whether it can keep VLANs apart; unstated: yes where the plan gives its ports any"),
    ] = None
    bonds: Annotated[bool | None, Key(Flag(), "whether it can take several cables for one link")] = None
    spanning_tree: Annotated[
        bool | None, Key(Flag(), "whether it runs a spanning tree, which blocks what would be a loop")
    ] = None
    priority: Annotated[
        int | None,
        Key(
            Count(0, 1_000_000),
            "its priority in the spanning tree: the lowest becomes the root; usually 32768",
            part=False,
        ),
    ] = None
    hello: Annotated[float | None, Key(TIME, "how often the root speaks; usually 2 s", part=False)] = None
    max_age: Annotated[float | None, Key(TIME, "how long its word holds; usually 20 s", part=False)] = None
    forward_delay: Annotated[
        float | None, Key(TIME, "how long a port listens, and then learns; usually 15 s", part=False)
    ] = None
    frame: Annotated[
        int | None,
        Key(OCTETS, "the longest Ethernet frame it passes on, header and check sum included, in octets"),
    ] = None
    fabric: Annotated[
        float | None, Key(SPEED, "what it can pass on in all, each direction of each port counted")
    ] = None
    poe_budget: Annotated[float | None, Key(WATTS, "the most PoE power of all ports together")] = None
    poe_reserves: Annotated[
        str | None,
        Key(Choice("class", "draw"), "whether a port sets aside its class's power, or counts what is drawn"),
    ] = None
    poe_guard: Annotated[
        float | None, Key(WATTS, "the PoE power that must be left for it to feed one thing more")
    ] = None


class Uplink(Table, kw_only=True):
    """A link that leaves the box."""

    from_: Annotated[str | None, Key(REF, "the port it leaves from", must=True)] = None
    to: Annotated[str | None, Key(TEXT, "where it goes, in words, or an `outside`", must=True)] = None
    medium: Annotated[str | None, Key(Choice("wired", "radio", "fibre"), "what carries it")] = None
    speed: Annotated[float | None, Key(SPEED, "its speed")] = None
    cable: Annotated[Cable | None, Key(CABLE, "its cable")] = None
    vlan: Annotated[int | None, Key(VLAN, "the VLAN that the far end takes frames without a tag for")] = None
    tagged: Annotated[tuple[int, ...], Key(VLANS, "the VLANs that the far end takes with a tag")] = ()
    mtu: Annotated[
        int | None, Key(OCTETS, "the longest IP packet it carries, in octets, where that is to be judged")
    ] = None


class Link(Table, kw_only=True):
    """A data cable between two ports."""

    from_: Annotated[str | None, Key(REF, "a port", must=True)] = None
    to: Annotated[str | None, Key(REF, "the port at the other end", must=True)] = None
    cable: Annotated[Cable | None, Key(CABLE, "category and length")] = None
    bond: Annotated[str | None, Key(Id(), "the bond it belongs to: cables of one bond count as one link")] = (
        None
    )


class Flow(Table, kw_only=True):
    """Data that must get through in the worst hour, all flows at once."""

    from_: Annotated[str | None, Key(REF, "the thing it comes from, or an `outside`", must=True)] = None
    to: Annotated[str | None, Key(REF, "the thing it goes to, or an `outside`", must=True)] = None
    speed: Annotated[
        float | None,
        Key(
            SPEED,
            "how much data, headers not counted; where `from` or `to` is a span, each of its flows has it",
            must=True,
        ),
    ] = None
    one: Annotated[
        bool | None,
        Key(
            Flag(),
            "whether it is a single connection, which stays on one cable of a bond; unstated means yes",
        ),
    ] = None


class Subnet(Table, kw_only=True):
    """A prefix of addresses; one without a prefix yet says its `hosts`, and is carved out of the plan's `block`."""

    prefix: Annotated[str, Key(PREFIX, "the prefix")] = ""
    gateway: Annotated[str | None, Key(ADDRESS, "the router's address in it")] = None
    vlan: Annotated[int | None, Key(VLAN, "the VLAN it lives in")] = None
    hosts: Annotated[int | None, Key(Count(1, 1_000_000_000), "how many addresses it must have room for")] = (
        None
    )
    mtu: Annotated[
        int | None,
        Key(OCTETS, "the longest IP packet in it, in octets, where it is not that of its machines"),
    ] = None
    title: Annotated[str | None, Key(TEXT, "what it is for")] = None


class Pool(Table, kw_only=True):
    """A range of addresses set aside."""

    for_: Annotated[
        str | None,
        Key(
            Choice("dhcp", "services", "containers", "overlay", "reserved"),
            "what it is set aside for",
            must=True,
        ),
    ] = None
    range: Annotated[tuple[str, str] | None, Key(Stretch(), "first and last address", must=True)] = None
    by: Annotated[str | None, Key(REF, "what hands it out: a thing, or an `outside`")] = None


class Outside(Table, kw_only=True):
    """A router or network that exists and is not ours."""

    id: Annotated[str, Key(Id(), "the name it goes by", must=True)] = ""
    title: Annotated[str | None, Key(TEXT, "what it is")] = None
    address: Annotated[tuple[str, ...], Key(Several(ADDRESS), "its addresses")] = ()
    prefix: Annotated[tuple[str, ...], Key(Several(PREFIX), "the prefixes in use there")] = ()
    serves: Annotated[
        tuple[str, ...], Key(Several(Choice("dhcp")), "what it hands out on the network of its uplink")
    ] = ()
