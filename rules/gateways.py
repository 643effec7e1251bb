"""Ways out: the router that a thing sends to by default, said where there are several, and one it can reach."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, cases, rule
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, Host
from coldcheck.workings.gateways import NamedGateway
from coldcheck.workings.hosts import names_of

_NODE = '[[node]]\nid = "{}"\naddress = {}\n'
_NET = '[[subnet]]\nprefix = "{}"\ngateway = "{}"\n'
_LAN = _NET.format("10.20.0.0/24", "10.20.0.1")
_STORE = _NET.format("10.30.0.0/24", "10.30.0.1")
_OWN = '[[node]]\nid = "{}"\naddress = "{}"\ngateway = "{}"\n'


@rule(level="warning", over="plan")
def unsaid(plan: Plan, address_book: AddressBook) -> Iterator[Finding]:
    """A thing in two subnets that both name a gateway says which of them it sends to.

    It has one way out by default. Which of the two it takes is decided by the order in which its ports come up, and
    answers that leave by the other one than they came in by are often thrown away. A router, which has the address of
    a gateway itself or an uplink of its own, is not meant.

    Source: common practice.
    """
    book = address_book
    gates = {host.subnet: host for host in book.gateways if host.subnet is not None}
    if len(gates) < 2:
        return
    routers = {(host.family, host.value) for host in book.gateways}
    leaving = {line.a.thing.id for line in plan.links if line.b is None}
    told = {(id(host.thing), host.family) for host in book.defaults}
    homes: dict[tuple[int, int], list[Host]] = {}
    skipped: set[int] = set()
    for host in book.hosts:
        if (host.family, host.value) in routers or host.thing.id in leaving:
            skipped.add(id(host.thing))
        elif host.subnet in gates and not _managed(host):
            homes.setdefault((id(host.thing), host.family), []).append(host)
    groups: dict[tuple[Any, ...], list[Any]] = {}
    for key, hosts in homes.items():
        places = tuple(dict.fromkeys(host.subnet for host in hosts))
        if len(places) > 1 and key not in told and key[0] not in skipped:
            groups.setdefault((hosts[0].thing.path, places), []).append(hosts[0].thing)
    for (_, places), things in groups.items():
        texts = [gates[place].text for place in places]
        nets = listed(book.subnets[place].text for place in places)
        yield Finding(
            "warning",
            things[0],
            f"{listed(thing.id for thing in things)} in {nets}, with a gateway in each: {listed(texts)}",
            found=listed(texts),
            allowed="1 gateway",
            remedy=f'say which one is the way out: gateway = "{texts[0]}"',
            subjects=tuple(thing.id for thing in things),
            related=[(gates[place].path, f"the gateway of {book.subnets[place].text}") for place in places],
        )


def _managed(host: Host) -> bool:
    """Say whether an address is that of a management port: a computer of its own."""
    return host.port is not None and host.port.for_ == "management"


_TWO = '["10.20.0.11", "10.30.0.11"]'

cases(
    unsaid,
    clean=[
        _LAN + _STORE + _NODE.format("n1", _TWO) + 'gateway = "10.20.0.1"\n',
        _LAN + '[[subnet]]\nprefix = "10.30.0.0/24"\n' + _NODE.format("n1", _TWO),
        _LAN + _STORE + _NODE.format("r", '["10.20.0.1", "10.30.0.1"]'),
        _LAN + _NET.format("fd5a:91c3:7e02::/64", "fd5a:91c3:7e02::1")
        + _NODE.format("n1", '["10.20.0.11", "fd5a:91c3:7e02::11"]'),
        _LAN + _STORE + _NODE.format("n1", '["10.20.0.11", "10.20.0.12"]'),
        _LAN + _STORE + _NET.format("10.40.0.0/24", "10.40.0.1")  # a router, if not for all of them
        + _NODE.format("r", '["10.20.0.1", "10.30.0.9", "10.40.0.9"]'),
        _LAN + _STORE + _NODE.format("n1", '"10.20.0.11"')
        + '[[node.port]]\nid = "m"\nfor = "management"\naddress = "10.30.0.11"\n',
    ],
    flagged=[
        Case(_LAN + _STORE + _NODE.format("n1", _TWO), at="n1", found="10.20.0.1 and 10.30.0.1", level="warning",
             mended=_LAN + _STORE + _NODE.format("n1", _TWO) + 'gateway = "10.20.0.1"\n'),
        Case(_LAN + _STORE + _NODE.format("n1 .. n3", '["10.20.0.11 .. 10.20.0.13", "10.30.0.11 .. 10.30.0.13"]'),
             at="n1 .. n3"),
        Case(_LAN + _STORE + _NODE.format("n1", _TWO) + 'gateway = "fe80::1"\n', at="n1"),
    ],
)  # fmt: skip


@rule(level="warning", over="plan")
def several(plan: Plan, named_gateways: list[NamedGateway]) -> Iterator[Finding]:
    """A thing names one gateway for each family of addresses.

    Two ways out by default need a metric that says which comes first; without one they are taken by chance.

    Source: common practice.
    """
    ways: dict[tuple[int, int], list[Host]] = {}
    good = [gate.host for gate in named_gateways if gate.level is None]  # `gateways.stated` has the rest
    for host in good:
        ways.setdefault((id(host.thing), host.family), []).append(host)
    groups: dict[tuple[Path, str], list[Host]] = {}
    for hosts in ways.values():
        values = dict.fromkeys(host.text for host in hosts)
        if len(values) > 1:
            groups.setdefault((hosts[0].key, listed(values)), []).append(hosts[0])
    for (path, shown), hosts in groups.items():
        yield Finding("warning", hosts[0].thing, f"{listed(names_of(hosts))}: more than one gateway, {shown}",
                      found=shown, allowed="1 gateway", remedy="keep the one that is the way out", path=path,
                      subjects=names_of(hosts))  # fmt: skip


_BOTH = _LAN + _NODE.format("r", '"10.20.0.2"') + _NODE.format("n1", '"10.20.0.11"')
_BOTH += 'gateway = ["10.20.0.1", "{}"]\n'

cases(
    several,
    clean=[
        _LAN + _OWN.format("n1", "10.20.0.11", "10.20.0.1"),
        _BOTH.format("fe80::1"),
        _BOTH.format("10.30.0.1"),  # one of them is none, and `gateways.stated` has it
    ],
    flagged=[
        Case(_BOTH.format("10.20.0.2"), at="n1", found="10.20.0.1 and 10.20.0.2",
             mended=_LAN + _OWN.format("n1", "10.20.0.11", "10.20.0.1")),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def stated(plan: Plan, named_gateways: list[NamedGateway]) -> Iterator[Finding]:
    """A gateway that a thing names is its neighbour, another than itself, and somebody.

    A machine reaches its gateway as a neighbour: it lies in a subnet of the machine. An IPv6 gateway may have an
    address that holds on its link alone; of that nothing is judged.

    Source: RFC 1122 section 3.3.1.1 (a gateway is on a connected network); RFC 4861 section 6.3.4 for link-local ones
    (from memory).
    """
    groups: dict[tuple[Any, ...], list[NamedGateway]] = {}
    for gate in named_gateways:
        if gate.level is not None:
            groups.setdefault((gate.host.key, gate.level, gate.why), []).append(gate)
    for (path, level, why), gates in groups.items():
        names = names_of(gate.host for gate in gates)
        shown = listed(dict.fromkeys(gate.host.text for gate in gates))
        yield Finding(
            level,
            gates[0].host.thing,
            f"the gateway of {listed(names)}, {shown}, {why}",
            found=shown,
            allowed=gates[0].allowed or None,
            remedy="correct the gateway, or add what has it",
            path=path,
            subjects=names,
        )


_GONE = _LAN + _OWN.format("n1", "10.20.0.11", "{}")

cases(
    stated,
    clean=[
        _GONE.format("10.20.0.1"),
        _GONE.format("10.20.0.2") + _NODE.format("r", '"10.20.0.2"'),
        _GONE.format("10.20.0.2") + '[[outside]]\nid = "r"\naddress = "10.20.0.2"\n',
        _GONE.format("fe80::1"),
        _LAN + '[[node]]\nid = "n1"\ngateway = "10.20.0.1"\n',  # its own address is not said
        _OWN.format("n1", "10.20.0.11", "10.30.0.1") + _NODE.format("r", '"10.30.0.1/24"'),  # nor its subnet
    ],
    flagged=[
        Case(_GONE.format("10.30.0.1"), at="n1", found="10.30.0.1", level="error", mended=_GONE.format("10.20.0.1")),
        Case(_GONE.format("10.20.0.11"), at="its own address", level="error"),
        Case(_GONE.format("10.20.0.0"), at="is the network", level="error"),
        Case(_GONE.format("10.20.0.255"), at="broadcast", level="error"),
        Case(_GONE.format("10.20.0.2"), at="nobody's", level="warning"),
        Case(_OWN.format("n1", "10.20.0.11/24", "10.20.1.1"), at="lies outside 10.20.0.0/24", level="error"),
        Case(_LAN + _OWN.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13", "10.30.0.1"), at="n1 .. n3"),
    ],
)  # fmt: skip
