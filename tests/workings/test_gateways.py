"""Gateways that things name, judged as `ipaddress` and a plain search would."""

import datetime
import ipaddress
from random import Random

import pytest

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import address_book
from coldcheck.workings.gateways import _one_slip, named_gateways

NET = '[[subnet]]\nprefix = "{}"\n'
OWN = '[[node]]\nid = "{}"\naddress = "{}"\ngateway = "{}"\n'


def expected(interface: str, gate: str, every: set[str]) -> str:
    """Return how grave a gateway is by `ipaddress`: RFC 1122 section 3.3.1.1, and whether anybody has it."""
    own, way = ipaddress.ip_interface(interface), ipaddress.ip_address(gate)
    network = own.network
    ends = {network.network_address, network.broadcast_address} if network.num_addresses > 2 else set()
    if way == own.ip or way not in network or way in ends:
        return "error"
    return "" if gate in every else "warning"


def test_random_gateways() -> None:
    """Of 2000 random things in small subnets, errors and warnings are those of `ipaddress` and a search."""
    random = Random(9)
    seen = {"error": 0, "warning": 0, "": 0}
    for _ in range(100):
        lengths = [random.choice((28, 29, 30, 31)) for _ in range(4)]
        nets = [ipaddress.IPv4Network(((10 << 24) + (i << 4), length)) for i, length in enumerate(lengths)]
        rows = []
        for i in range(20):
            net = random.choice(nets)
            inside = random.choice(list(net.hosts()))
            gate = random.choice(list(random.choice((net, net, net, random.choice(nets)))))
            rows.append((f"n{i}", str(inside), net.prefixlen, str(gate)))
        text = "".join(NET.format(net) for net in nets) + "".join(OWN.format(n, a, g) for n, a, _, g in rows)
        plan = ours.read_plan("plan.toml", text.encode(), Shelf())
        every = {address for _, address, _, _ in rows}
        found = named_gateways(plan, address_book(plan))
        for (_, address, length, way), named in zip(rows, found, strict=True):
            grave = expected(f"{address}/{length}", way, every)
            assert (named.level or "") == grave, (address, length, way, named.why)
            seen[grave] += 1
    assert min(seen.values()) > 200


def test_what_cannot_be_judged_is_left() -> None:
    """A link-local gateway, a thing of unknown subnet and a plan with unreadable addresses get no false word."""
    for text in (
        NET.format("fd5a:91c3:7e02::/64") + OWN.format("n1", "fd5a:91c3:7e02::5", "fe80::1"),
        OWN.format("n1", "10.20.0.5", "10.30.0.1") + OWN.format("n2", "10.30.0.1", "fe80::1"),
        NET.format("10.20.0.0/24")
        + OWN.format("n1", "10.20.0.5", "10.20.0.1")
        + OWN.format("n2", "10.20.0.300", "fe80::1"),
    ):
        plan = ours.read_plan("plan.toml", text.encode(), Shelf())
        assert [gate.level for gate in named_gateways(plan, address_book(plan))] == [None] * text.count(
            "gateway"
        )


def test_one_slip_is_one_finding() -> None:
    """A wrong gateway is told once, whichever rule it belongs to, for a whole span."""
    net = '[[subnet]]\nprefix = "10.20.0.0/24"\ngateway = "10.20.0.1"\n'
    span = net + OWN.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13", "{}")
    two = '[[node]]\nid = "n1"\naddress = "10.20.0.11"\ngateway = ["10.20.0.1", "10.30.0.1"]\n'
    slips = {
        "gateways.stated": [span.format("10.30.0.1"), span.format("10.20.0.255"), net + two],
        "subnets.gateway": [net + OWN.format("n1", "10.20.0.1", "fe80::1")],
        "gateways.unsaid": [
            net
            + net.replace("10.20", "10.30")
            + '[[node]]\nid = "n1"\naddress = ["10.20.0.5", "10.30.0.5"]\n'
        ],
    }
    book = ours.rulebook(entry_points=False)
    areas = ["addresses", "subnets", "sizes", "gateways", "pools", "macs", "names"]
    for rule, texts in slips.items():
        for text in texts:
            plan = ours.read_plan("plan.toml", text.encode(), Shelf())
            found = judge(plan, book, datetime.date(2026, 1, 1), only=areas).findings
            assert [finding.rule for finding in found] == [rule], text


def test_a_slip_is_one_letter_or_a_swap() -> None:
    """Two texts differ by a slip exactly if one comes from the other by one edit, all edits written out."""
    random = Random(3)
    letters = "0123456789."

    def edited(text: str) -> set[str]:
        cuts = [(text[:i], text[i:]) for i in range(len(text) + 1)]
        found = {a + b[1:] for a, b in cuts if b} | {a + x + b for a, b in cuts for x in letters}
        found |= {a + x + b[1:] for a, b in cuts if b for x in letters}
        return (found | {a + b[1] + b[0] + b[2:] for a, b in cuts if len(b) > 1}) - {text}

    assert not _one_slip("10.21.0.3", "10.23.0.1"), "these change places, but they are no neighbours"
    for _ in range(200):
        text = f"10.{random.randrange(30)}.{random.randrange(30)}.1"
        near = edited(text)
        for other in (
            *random.sample(sorted(near), 20),
            *(f"10.{random.randrange(30)}.{random.randrange(30)}.1",) * 5,
        ):
            assert _one_slip(text, other) == (other in near), (text, other)


LAN = (
    '[[switch]]\nid = "sw"\nvlans = false\nports = 8\naddress = "10.20.0.2"\n[[node]]\nid = "n1 .. n3"\n'
    'port = "sw.1 .. sw.3"\naddress = "10.20.0.11 .. 10.20.0.13"\n[[uplink]]\nfrom = "sw.8"\nto = "router"\n'
    '[[outside]]\nid = "router"\naddress = "10.20.0.1"\n[[subnet]]\nprefix = "10.20.0.0/24"\ngateway = "10.20.0.1"\n'
)
ROUTER, GATE = 'router"\naddress = "10.20.0.1"', 'gateway = "10.20.0.1"'


@pytest.mark.parametrize(
    ("old", "new", "rule"),
    [
        (GATE, 'gateway = "10.20.0.9"', "gateways.nobody"),
        (ROUTER, 'router"\naddress = "10.20.0.9"', "gateways.nobody"),
        (ROUTER, 'router"\naddress = "10.2.0.1"', "gateways.nobody"),
        (GATE, 'gateway = "10.20.0.2"', "subnets.gateway"),
        (GATE, 'gateway = "10.20.0.12"', "subnets.gateway"),
        ("10.20.0.13", '10.20.0.13"\ngateway = "10.20.0.2', "subnets.gateway"),
        ('to = "router"', 'to = "ruoter"', "references.outside_astray"),
        (ROUTER, 'router"\naddress = "10.20.0.11"', "addresses.duplicate"),
    ],
)
def test_one_slip_about_the_router_is_told_once(old: str, new: str, rule: str) -> None:
    """A slip in the gateway, the address of the router or the uplink to it is one finding of all network rules."""
    assert not told(LAN)
    assert told(LAN.replace(old, new)) == [rule]


def test_where_no_router_has_an_address_nothing_is_said() -> None:
    """A gateway that nobody has is in order where the uplink leads to the house, as its router may have it."""
    house = LAN.replace('to = "router"', 'to = "the house"')
    assert not told(house[: house.index("[[outside]]")] + house[house.index("[[subnet]]") :])


def told(text: str) -> list[str]:
    """Return the rules about the network that say something of a plan."""
    areas = [
        "addresses",
        "subnets",
        "sizes",
        "gateways",
        "pools",
        "segments",
        "ports",
        "topology",
        "references",
    ]
    areas += ["throughput", "vlans", "dhcp"]
    plan = ours.read_plan("plan.toml", text.encode(), Shelf())
    book = ours.rulebook(entry_points=False)
    return [finding.rule for finding in judge(plan, book, datetime.date(2026, 1, 1), only=areas).findings]
