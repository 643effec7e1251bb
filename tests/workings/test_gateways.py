"""Gateways that things name, judged as `ipaddress` and a plain search would."""

import datetime
import ipaddress
from random import Random

from coldcheck import ours
from coldcheck.engine.running import judge
from coldcheck.plan.parts import Shelf
from coldcheck.workings.addresses import address_book
from coldcheck.workings.gateways import named_gateways

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
