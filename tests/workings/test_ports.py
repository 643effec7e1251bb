"""The cables of a plan, the ports of its switches, and the ports that are offered."""

import datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.workings import ports
from coldcheck.workings.addresses import address_book

DAY = datetime.date(2026, 1, 1)
SWITCH = '[[switch]]\nid = "sw"\nports = {}\n'
NODE = '[[node]]\nid = "{}"\nport = "{}"\n'
POE = """
[[switch]]
id = "sw"
[[switch.port]]
id = "1 .. 2"
[[switch.port]]
id = "3 .. 6"
poe = "type 1"
[[switch.port]]
id = "7"
poe = "type 2"
media = "sfp"
[[switch.port]]
id = "8"
poe = "type 2"
"""


def read(text: str) -> Plan:
    """Return a plan without the parts shelf."""
    return ours.read_plan("plan.toml", text.encode(), Shelf())


def offers_of(plan: Plan) -> ports.PortOffers:
    """Return the offers, by way of the workings they ask for."""
    book = address_book(plan)
    return ports.port_offers(plan, ports.links(plan), ports.switch_ports(plan), ports.uncabled(plan), book)


def test_every_port_is_counted_once() -> None:
    """Ports with a cable, by what it leads to, and free ports add up to the ports of the switch."""
    text = SWITCH.format(8) + NODE.format("n1 .. n3", "sw.1 .. sw.3")
    text += '[[storage]]\nid = "store"\nport = "sw.4"\n[[switch]]\nid = "s2"\nports = 2\n'
    text += '[[link]]\nfrom = "sw.5"\nto = "s2.1"\n[[uplink]]\nfrom = "sw.6"\nto = "the hall"\n'
    first, second = ports.switch_ports(read(text))
    assert first.used == {"node": 3, "storage": 1, "switch": 1, "uplink": 1}
    assert [name for name, _ in first.free] == ["sw.7", "sw.8"]
    assert first.total == first.taken + len(first.free) == 8
    assert second.used == {"switch": 1}


def test_a_port_with_two_cables_is_one_port() -> None:
    """A port that two entries name is counted as one."""
    (counted,) = ports.switch_ports(read(SWITCH.format(4) + NODE.format("n1 .. n3", "sw.1")))
    assert counted.taken == 1
    assert len(counted.free) == 3


@pytest.mark.parametrize(("ports_key", "total"), [("", None), ("ports = 5\n", 5)])
def test_a_switch_without_cables(ports_key: str, total: int | None) -> None:
    """A switch with nothing plugged in has as many free ports as the plan says, and says so where it says none."""
    (counted,) = ports.switch_ports(read(f'[[switch]]\nid = "sw"\n{ports_key}'))
    assert counted.total == total
    assert len(counted.free) == (total or 0)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ('[[node]]\nid = "n1 .. n2"\n', [["n1", "n2"]]),
        ('[[appliance]]\nid = "lamp"\n', []),
        ('[[appliance]]\nid = "cam"\npoe = "class 3"\n', [["cam"]]),
        ('[[storage]]\nid = "bay"\nbays = 2\n', []),
        ('[[storage]]\nid = "store"\naddress = "10.0.0.1"\n', [["store"]]),
        (NODE.format("n1", "sw.9"), []),  # its port does not exist: that is the slip
        ('[[node]]\nid = "n1"\n[[link]]\nfrom = "m1"\nto = "sw.1"\n', []),  # the slip may be in the link
        ('[[node]]\nid = "n1"\n[[link]]\nfrom = "n1"\nto = "sw.1"\n', []),
        ('[[node]]\nid = "n1"\n[[uplink]]\nfrom = "n1"\nto = "the hill"\nmedium = "radio"\n', []),
    ],
)
def test_what_has_no_cable(text: str, names: list[list[str]]) -> None:
    """Nodes without a cable are listed by entry, other things where they speak of a network, slips not at all."""
    entries = ports.uncabled(read(SWITCH.format(4) + text))
    assert [[thing.id for thing in entry.things] for entry in entries] == names


def test_no_port_is_offered_twice() -> None:
    """Two crowded ports and two entries without cables get four different ports, none of them in use."""
    text = SWITCH.format(12) + NODE.format("a", "sw.1") + NODE.format("b", "sw.1") + NODE.format("c", "sw.3")
    text += NODE.format("d", "sw.3") + '[[node]]\nid = "e"\n[[node]]\nid = "f1 .. f3"\n'
    offers = offers_of(read(text))
    assert sorted(offers.moves.values()) == [(("node", 1, "port"), "sw.2"), (("node", 3, "port"), "sw.4")]
    assert offers.entries == {("node", 4): "sw.5", ("node", 5): "sw.6 .. sw.8"}


def test_a_run_of_ports_is_whole() -> None:
    """A span is offered ports that count on, or none where no such run is free."""
    text = SWITCH.format(6) + NODE.format("a", "sw.2") + NODE.format("b", "sw.4")
    assert offers_of(read(text + '[[node]]\nid = "f1 .. f2"\n')).entries == {("node", 2): "sw.5 .. sw.6"}
    assert offers_of(read(text + '[[node]]\nid = "f1 .. f3"\n')).entries == {}


@pytest.mark.parametrize(
    ("klass", "port", "offer"),
    [(3, "sw.1", "sw.3"), (4, "sw.3", "sw.8"), (4, "sw.8", None), (5, "sw.8", None), (0, "sw.2", "sw.3")],
)
def test_a_port_that_powers_is_offered(klass: int, port: str, offer: str | None) -> None:
    """A thing on a port that cannot power it is offered the first free one that can, and whose plug is the same."""
    text = POE + f'[[appliance]]\nid = "cam"\npoe = "class {klass}"\nport = "{port}"\n'
    moves = list(offers_of(read(text)).moves.values())
    assert moves == ([] if offer is None else [(("appliance", 0, "port"), offer)])


@pytest.mark.parametrize(
    ("text", "key"),
    [
        (NODE.format("n1", "sw.2"), ("node", 0, "port")),
        (NODE.format("n1 .. n2", "sw.2 .. sw.3"), None),
        (
            '[[node]]\nid = "n1"\n[[node.port]]\nid = "a"\n[[node.port]]\nid = "b"\nto = "sw.2"\n',
            ("node", 0, "port", 1, "to"),
        ),
        ('[[node]]\nid = "n1"\n[[link]]\nfrom = "n1"\nto = "sw.2"\n', ("link", 0, "to")),
        ('[[uplink]]\nfrom = "sw.2"\nto = "the hall"\n', ("uplink", 0, "from")),
    ],
)
def test_the_key_of_one_end(text: str, key: Any) -> None:
    """The key that says where a cable is plugged is found, unless a span says it for several things."""
    plan = read(SWITCH.format(4) + text)
    point = next(point for point in plan.ports["sw"] if point.id == "2")
    assert ports.Written(plan).key(plan.links[0], point) == key


def test_the_key_of_a_list() -> None:
    """Of several ports in one list the very one is found."""
    text = '[[node]]\nid = "n1"\npart = "two"\nport = ["sw.1", "sw.2"]\n'
    part = '[[part]]\nid = "two"\nkind = "node"\n[[part.port]]\nid = "a"\n[[part.port]]\nid = "b"\n'
    plan = read(part + SWITCH.format(4) + text)
    line = plan.links[1]
    assert line.b is not None
    assert ports.Written(plan).key(line, line.b) == ("node", 0, "port", 1)


def test_a_span_on_one_port_is_dealt_out() -> None:
    """Things of one span that are all plugged into one port get a run of ports that takes it in."""
    text = SWITCH.format(4) + NODE.format("n1 .. n3", "sw.1") + NODE.format("n4", "sw.4")
    moves = set(offers_of(read(text)).moves.values())
    assert moves == {(("node", 0, "port"), "sw.1 .. sw.3")}
    with_a_guest = text.replace('"sw.4"', '"sw.1"')  # then one text for the span would not be enough
    assert (("node", 0, "port"), "sw.1 .. sw.3") not in offers_of(read(with_a_guest)).moves.values()


@pytest.mark.parametrize(
    ("text", "path"),
    [
        (NODE.format("n1", "sw.1"), ("node", 0, "port")),
        (NODE.format("n1", "sw.1") + 'cable = "cat 5"\n', ("node", 0, "cable")),
        ('[[node]]\nid = "n1"\ncable = "cat 5"\n[[node.port]]\nid = "1"\nto = "sw.1"\n', ("node", 0, "port", 0, "to")),
        ('[[node]]\nid = "n1"\n[[node.port]]\nid = "1"\nto = "sw.1"\ncable = "cat 5"\n',
         ("node", 0, "port", 0, "cable")),
        ('[[node]]\nid = "n1"\n[[link]]\nfrom = "n1"\nto = "sw.1"\n', ("link", 0, "from")),
        ('[[node]]\nid = "n1"\n[[link]]\nfrom = "n1"\nto = "sw.1"\ncable = "cat 5"\n', ("link", 0, "cable")),
        ('[[uplink]]\nfrom = "sw.1"\nto = "the hall"\ncable = "cat 5"\n', ("uplink", 0, "cable")),
    ],
)  # fmt: skip
def test_place_of_a_cable(text: str, path: tuple[str | int, ...]) -> None:
    """What is wrong with a cable is told where the cable is written, and at its end where it is not."""
    (line,) = read(SWITCH.format(4) + text).links
    assert ports.cable_path(line) == path


def test_a_cable_that_cannot_carry_its_speed_is_told_at_the_cable() -> None:
    """The rules on cables point at the key that says which cable it is."""
    text = POE.replace('id = "1 .. 2"\n', 'id = "1 .. 2"\nspeed = "1 Gbit/s"\n')
    text += NODE.format("n1", "sw.1") + 'cable = "cat 3, 2 m"\n'
    text += '[[appliance]]\nid = "c"\npoe = "class 4"\nport = "sw.8"\ncable = "cat 5, 300 m"\n'
    found = judge(
        read(text), ours.rulebook(entry_points=False), DAY, only=["ports.cable_speed", "poe.cable_loss"]
    )
    assert [(f.rule, f.path) for f in found.findings] == [
        ("ports.cable_speed", ("node", 0, "cable")),
        ("poe.cable_loss", ("appliance", 0, "cable")),
    ]


def test_ports_that_do_not_exist() -> None:
    """Every port that is named and does not exist is known by its switch, with who names it and where."""
    text = SWITCH.format(2) + NODE.format("n1 .. n4", "sw.1 .. sw.4")
    text += '[[node]]\nid = "m"\n[[node.port]]\nid = "1"\nto = "sw.9"\n[[uplink]]\nfrom = "sw.7"\nto = "the hall"\n'
    lost = ports.lost_ports(read(text))
    assert [(ref.name, ref.who, ref.path[:2]) for ref in lost["sw"]] == [
        ("sw.3", "n3", ("node", 0)),
        ("sw.4", "n4", ("node", 0)),
        ("sw.9", "m.1", ("node", 1)),
        ("sw.7", "the uplink to the hall", ("uplink", 0)),
    ]
    found = judge(read(text), ours.rulebook(entry_points=False), DAY, only=["ports.unknown"]).findings
    assert [(f.says, len(f.related)) for f in found] == [("sw has no data port 3, 4, 7 and 9", 2)]
    assert ports.lost_ports(read(SWITCH.format(2) + NODE.format("n1", "sw.2"))) == {}


# --- management, VLANs and plugs -----------------------------------------------------------------------------------

MANAGED = '[[switch]]\nid = "sw"\nports = 4\n[[switch.port]]\nid = "{}"\nfor = "management"\n'
VLANS = """
[[switch]]
id = "sw"
[[switch.port]]
id = "1 .. 2"
vlan = 10
[[switch.port]]
id = "3 .. 4"
vlan = 20
tagged = [30]
[[switch.port]]
id = "5 .. 6"
vlan = 20
"""


@pytest.mark.parametrize(("port", "total"), [("2", 3), ("m", 4)])
@pytest.mark.parametrize("cabled", [True, False])
def test_a_management_port_is_no_port_for_data(port: str, total: int, cabled: bool) -> None:
    """It is neither counted, nor free, nor offered, whether anything is plugged into the switch or not."""
    text = MANAGED.format(port) + '[[node]]\nid = "n1"\n'
    text += NODE.format("n2", "sw.1") + f'[[uplink]]\nfrom = "sw.{port}"\nto = "the hall"\n' if cabled else ""
    plan = read(text)
    (counted,) = ports.switch_ports(plan)
    assert counted.total == counted.taken + len(counted.free) == total
    assert f"sw.{port}" not in dict(counted.free)
    assert offers_of(plan).entries == {("node", 0): ("sw.3" if port == "2" else "sw.2") if cabled else "sw.1"}


def test_a_cable_for_management_is_none_for_data() -> None:
    """A node whose management port alone has a cable is without one; what has no other port wants none."""
    port = '[[node.port]]\nid = "{}"\n'
    only = '[[node]]\nid = "n1"\n' + port.format("m") + 'for = "management"\nto = "sw.1"\n'
    assert ports.uncabled(read(SWITCH.format(4) + only)) == []
    (entry,) = ports.uncabled(read(SWITCH.format(4) + only + port.format("e")))
    assert [thing.id for thing in entry.things] == ["n1"]


@pytest.mark.parametrize(
    ("port", "offer"), [("1", "sw.2"), ("3", "sw.4"), ("5", "sw.6")], ids=["untagged", "tagged", "the other"]
)
def test_a_port_of_the_same_vlans_is_offered(port: str, offer: str) -> None:
    """Who must leave a crowded port is offered one that has its VLANs, with a tag and without."""
    plan = read(VLANS + NODE.format("a", f"sw.{port}") + NODE.format("b", f"sw.{port}"))
    assert list(offers_of(plan).moves.values()) == [(("node", 1, "port"), offer)]


@pytest.mark.parametrize(("vlan", "offer"), [("", None), ("vlan = 20\n", "sw.5"), ("vlan = 10\n", "sw.1")])
def test_who_has_no_cable_is_offered_a_port_of_its_vlan(vlan: str, offer: str | None) -> None:
    """A node without a cable gets a port of the VLAN that it states, and none where it states none."""
    entries = offers_of(read(VLANS + '[[node]]\nid = "a"\n' + vlan)).entries
    assert entries == ({} if offer is None else {("node", 0): offer})


# --- speeds of cables ----------------------------------------------------------------------------------------------

TWO = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\n{}[[node]]\nid = "n"\n[[node.port]]\nid = "e"\nto = "sw.1"\n{}'
HALF, FULL, HAND = 'duplex = "half"\n', 'duplex = "full"\n', "negotiates = false\n"
SFP = 'media = "sfp"\n'


def speed(text: str) -> str:
    """Return the key of a port's speed."""
    return f'speed = "{text}bit/s"\n'


def speed_of(switch_end: str, node_end: str) -> ports.LinkSpeed:
    """Return what one cable settles on, by what is written for the ports at its ends."""
    plan = read(TWO.format(switch_end, node_end))
    (found,) = ports.link_speeds(ports.links(plan)).values()
    return found


@pytest.mark.parametrize(
    ("one", "other", "bits", "full", "trouble"),
    [
        (speed("1 G"), speed("100 M"), 1e8, True, ""),
        (speed("1 G"), speed("2.5 G"), 1e9, True, ""),
        (speed("10 G"), speed("1 G"), 1e9, True, ""),
        # The side that negotiates picks half duplex and the link stays up: mailing list and encyclopaedia, read
        # (secondary).
        (speed("100 M") + HAND + FULL, speed("100 M"), 1e8, None, "duplex mismatch"),
        (speed("100 M") + HAND + HALF, speed("100 M"), 1e8, False, ""),
        (speed("100 M") + HAND, speed("100 M"), 1e8, None, "duplex not said"),
        (speed("100 M") + HAND + FULL, speed("100 M") + HAND + FULL, 1e8, True, ""),
        (speed("100 M") + HAND, speed("100 M") + HAND, 1e8, None, "duplex not said"),
        # Autonegotiation is mandatory for 1000BASE-T: IEEE 802.3 clauses 28 and 40, read in an encyclopaedia.
        (speed("1 G") + HAND, speed("1 G"), None, None, "must negotiate"),
        (speed("1 G") + HAND + SFP, speed("1 G") + SFP, 1e9, True, ""),
        (speed("10 G") + SFP, speed("1 G") + SFP, None, True, ""),
        (speed("25 G"), speed("100 M"), None, None, "no common speed"),
        (speed("10 G"), speed("2.5 G"), None, True, ""),
        (speed("10 G"), "", None, None, ""),
        (speed("10 G"), speed("1 G") + SFP, None, None, ""),
    ],
)
def test_what_a_cable_settles_on(
    one: str, other: str, bits: float | None, full: bool | None, trouble: str
) -> None:
    """Speed and duplex follow from both ends, whichever is which, and are unknown where one does not say enough."""
    for found in (speed_of(one, other), speed_of(other, one)):
        assert (found.speed, found.full, found.trouble) == (bits, full, trouble)
        assert found.settled == (bits is not None)


def test_bounds_of_what_is_not_settled() -> None:
    """An end without a speed leaves the other's as the most; a port of 10 Gbit/s does 1 surely and 2.5 perhaps."""
    found = speed_of(speed("10 G"), "")
    assert (found.least, found.most) == (None, 1e10)
    found = speed_of(speed("10 G"), speed("2.5 G"))
    assert (found.least, found.most) == (1e9, 2.5e9)


@given(st.sets(st.sampled_from([0.01, 0.1, 1.0, 2.5, 5.0, 10.0]), min_size=1),
       st.sets(st.sampled_from([0.01, 0.1, 1.0, 2.5, 5.0, 10.0]), min_size=1))  # fmt: skip
def test_stated_speeds_settle_on_the_highest_in_common(one: set[float], other: set[float]) -> None:
    """Where both ends list their speeds, the link runs at the highest in both lists: the intersection of two sets."""
    texts = ["speeds = [" + ", ".join(f'"{x:g} Gbit/s"' for x in sorted(s)) + "]\n" for s in (one, other)]
    found = speed_of(*texts)
    both = one & other
    assert (found.speed or 0.0) == pytest.approx(max(both, default=0.0) * 1e9)
    assert (found.trouble == "no common speed") == (not both)


@pytest.mark.parametrize(
    ("port", "uplink", "bits", "most"),
    [
        (speed("1 G"), speed("2.5 G"), 1e9, 1e9),
        (speed("1 G"), speed("50 M"), 5e7, 5e7),
        ("", speed("1 G"), 1e9, 1e9),
        (speed("1 G"), "", None, 1e9),
        ("", "", None, None),
    ],
)
def test_speed_of_an_uplink(port: str, uplink: str, bits: float | None, most: float | None) -> None:
    """An uplink has the speed it states and no more than its port does; without a statement it is unknown."""
    text = f'[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1"\n{port}[[uplink]]\nfrom = "sw.1"\nto = "the hall"\n'
    (found,) = ports.link_speeds(ports.links(read(text + uplink))).values()
    assert (found.speed, found.most, found.settled) == (bits, most, bits is not None)


#: What goes into each socket, by what may be written of one: twisted pair, multi-mode, single-mode, direct.
GOES_IN = {
    "": "tmsd",
    'media = "copper"\n': "t",
    'media = "fibre"\n': "ms",
    SFP: "msd",
    SFP + 'module = "copper"\n': "t",
    SFP + 'module = "multi-mode"\n': "m",
    'module = "single-mode"\n': "s",
}
CABLES = {"": "tmsd", "2 m": "tmsd", "cat 6": "t", "OM3": "m", "OS2, 5 m": "s", "direct": "d"}
LETTERS = {"t": ports.TWISTED, "m": ports.MULTI_MODE, "s": ports.SINGLE_MODE, "d": ports.DIRECT}


@pytest.mark.parametrize("one", GOES_IN)
@pytest.mark.parametrize("other", GOES_IN)
@pytest.mark.parametrize("cable", CABLES)
def test_kinds_of_cable_that_fit(one: str, other: str, cable: str) -> None:
    """A kind of cable fits where it goes into both sockets and is what the cable is said to be: a table by hand."""
    found = speed_of(one, other + (f'cable = "{cable}"\n' if cable else ""))
    letters = set(GOES_IN[one]) & set(GOES_IN[other]) & set(CABLES[cable])
    assert set(found.kinds) == {LETTERS[letter] for letter in letters}


def test_cables_alike_are_computed_once() -> None:
    """A thousand boards of one kind cost one computation: their answers are one object."""
    text = '[[switch]]\nid = "sw"\n[[switch.port]]\nid = "1 .. 9"\n' + speed("1 G")
    text += NODE.format("n1 .. n9", "sw.1 .. sw.9")
    found = ports.link_speeds(ports.links(read(text)))
    assert len(found) == 9
    assert len({id(answer) for answer in found.values()}) == 1
