"""The cables of a plan, the ports of its switches, and the ports that are offered."""

import datetime
from typing import Any

import pytest

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.plan.model import Plan
from coldcheck.plan.parts import Shelf
from coldcheck.workings import ports

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
    return ports.port_offers(plan, ports.links(plan), ports.switch_ports(plan), ports.uncabled(plan))


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
