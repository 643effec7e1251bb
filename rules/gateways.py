"""Ways out: the router that a thing sends to by default, said where there are several, and one it can reach."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from coldcheck import Case, Finding, Level, Put, cases, rule
from coldcheck.plan.edit import Edit
from coldcheck.plan.model import Plan
from coldcheck.plan.problems import Path
from coldcheck.plan.spans import listed
from coldcheck.workings.addresses import AddressBook, Host
from coldcheck.workings.gateways import NamedGateway, Unowned
from coldcheck.workings.hosts import names_of

_NODE = '[[node]]\nid = "{}"\naddress = {}\n'
_NET = '[[subnet]]\nprefix = "{}"\ngateway = "{}"\n'
_LAN = _NET.format("10.20.0.0/24", "10.20.0.1")
_STORE = _NET.format("10.30.0.0/24", "10.30.0.1")
_OWN = '[[node]]\nid = "{}"\naddress = "{}"\ngateway = "{}"\n'


@rule(level="warning", over="plan")
def unsaid(plan: Plan, address_book: AddressBook, lost_gateways: list[Host]) -> Iterator[Finding]:
    """A thing in two subnets that both name a gateway says which of them it sends to.

    It has one way out by default. Which of the two it takes is decided by the order in which its ports come up, and
    answers that leave by the other one than they came in by are often thrown away. A router, which has the address of
    a gateway itself or an uplink of its own, is not meant.

    Source: common practice.
    """
    book = address_book
    lost = set(map(id, lost_gateways))  # `gateways.nobody` has these
    gates = {host.subnet: host for host in book.gateways if host.subnet is not None and id(host) not in lost}
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
        if gate.level is not None and not gate.told:
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
            remedy="correct the gateway, or add what has it"
            if level == "warning"
            else "write the address of a router in a subnet of its own",
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
        # `addresses.duplicate` has that
        _GONE.format("10.20.0.11") + _NODE.format("n2", '"10.20.0.11"'),
        _GONE.format("10.20.0.2") + _NODE.format("n2 .. n3", '"10.20.0.3"'),
        _OWN.format("n1", "10.20.0.11", "10.30.0.1") + _NODE.format("r", '"10.30.0.1/24"'),  # nor its subnet
        # nor is the address one that may be its neighbour
        _LAN + _STORE + _NODE.format("n1", '["224.0.0.5", "10.30.0.11"]') + 'gateway = "10.20.0.1"\n',
        _LAN + _STORE + _NODE.format("n1", '["10.20.0.300", "10.30.0.11"]') + 'gateway = "10.20.0.1"\n',
    ],
    flagged=[
        Case(_GONE.format("10.30.0.1"), at="n1", found="10.30.0.1", level="error", mended=_GONE.format("10.20.0.1")),
        Case(_GONE.format("10.20.0.11"), at="its own address", level="error"),
        Case(_GONE.format("10.20.0.0"), at="is the network", level="error"),
        Case(_GONE.format("10.20.0.255"), at="broadcast", level="error"),
        Case(_GONE.format("10.20.0.2"), at="nobody's", level="warning"),
        Case(_NET.format("fd00:1::/64", "fe80::1") + _OWN.format("n1", "fd00:1::11", "fd00:1::"), at="anycast",
             level="warning"),
        Case(_OWN.format("n1", "10.20.0.11/24", "10.20.1.1"), at="lies outside 10.20.0.0/24", level="error"),
        Case(_LAN + _OWN.format("n1 .. n3", "10.20.0.11 .. 10.20.0.13", "10.30.0.1"), at="n1 .. n3"),
    ],
)  # fmt: skip


@rule(level="error", over="plan")
def nobody(plan: Plan, address_book: AddressBook, unowned_gateways: list[Unowned]) -> Iterator[Finding]:
    """The gateway of a subnet is the address of somebody.

    Every machine of the subnet sends there what is not for its neighbours, and nobody answers. Where an uplink leads
    from that network to a router of which no address is stated, that may be the one, and nothing is said. Where several
    routers have addresses there, they may share one that is not written.

    Source: RFC 1122 section 3.3.1.1 (a gateway is on a connected network).
    """
    beyond = {(host.family, host.value): host for host in address_book.outside}
    absent: dict[tuple[bool, int, tuple[str, ...]], list[Unowned]] = {}
    for lost in unowned_gateways:
        router = beyond.get((lost.gate.family, lost.gate.value))
        if lost.slip is not None and router is None:
            yield _mistyped(address_book, lost, lost.slip)
        elif lost.here or router is not None:
            yield _other_there(address_book, lost, router)
        else:
            vlan = getattr(lost.gate.thing, "vlan", None)  # subnets of one network lose their router together
            alone = id(lost.gate) if vlan is None else vlan
            absent.setdefault((lost.sure, alone, names_of(lost.elsewhere)), []).append(lost)
    for found in absent.values():
        yield _absent(address_book, found)


def _other_there(book: AddressBook, lost: Unowned, router: Host | None) -> Finding:
    """Return a finding where routers have other addresses in the subnet, or no uplink leads to who has the gateway."""
    gate, here = lost.gate, list(dict.fromkeys(host.text for host in lost.here))
    names = listed(names_of(lost.here))
    why, words = f"{names}, the router there: {listed(here)}", f"write one of {listed(here)}"
    edits: tuple[Edit, ...] = ()
    if router is not None:
        why, words = f"no uplink leads to {router.name}", f'add [[uplink]] to = "{router.name}"'
    elif len(here) == 1:
        words, edits = f'write gateway = "{here[0]}"', (Put(gate.path, here[0]),)
    elif len(names_of(lost.here)) > 1:
        words += "; or, if they share that address, write it at one of them as well"
    level: Level = "error" if lost.sure and router is None else "warning"
    block = book.subnets[gate.subnet or 0]
    says = f"the gateway {gate.text} of {block.text} is nobody's: {why}"
    return Finding(level, block, says, found=gate.text, allowed=listed(here) or None, remedy=words, edits=edits,
                   path=gate.path, subjects=(block.text,), related=[(h.path, h.name) for h in lost.here[:4]]
                   )  # fmt: skip


def _mistyped(book: AddressBook, lost: Unowned, slip: Host) -> Finding:
    """Return a finding where a router outside has an address in no subnet, and all but that of the gateway."""
    gate, tail = lost.gate, "" if slip.length is None else f"/{slip.length}"
    subnet = book.subnets[gate.subnet or 0].text
    says = f"{slip.name} has {slip.text}, in no subnet, and the gateway {gate.text} of {subnet} is nobody's"
    return Finding("error" if lost.sure else "warning", slip.thing, says, found=slip.text, allowed=gate.text,
                   remedy=f'write "{gate.text}{tail}"', edits=(Put(slip.path, gate.text + tail),), path=slip.path,
                   related=[(gate.path, "the gateway")])  # fmt: skip


def _absent(book: AddressBook, found: list[Unowned]) -> Finding:
    """Return one finding for all gateways that one router lacks."""
    gates = [lost.gate for lost in found]
    blocks = [book.subnets[gate.subnet or 0] for gate in gates]
    others = found[0].elsewhere
    names = names_of(others)
    plural = "s" if len(gates) > 1 else ""
    shown = listed(gate.text for gate in gates)
    says = f"the gateway{plural} {shown} of {listed(block.text for block in blocks)}: nobody's"
    says += (
        f"; no address there for {listed(names)}, the router of other subnets"
        if names
        else ": no thing, no router"
    )
    words = f"add {shown} to the addresses of {listed(names)}, or correct the gateway{plural}"
    edits: tuple[Edit, ...] = ()
    if len(names) == 1 and others[0].port is None:
        wanted = (*others[0].thing.address, *(gate.text for gate in gates))
        alone = sum(1 for host in book.every() if host.key == others[0].key) == len(others[0].thing.address)
        words = "add it: address = [" + ", ".join(f'"{text}"' for text in wanted) + f"] at {names[0]}"
        edits = (Put(others[0].key, wanted),) if alone and others[0].role == "outside" else ()
    elif not names:
        words = f"correct the gateway{plural}, or the address of the router"
    return Finding("error" if found[0].sure else "warning", blocks[0], says, found=shown, remedy=words, edits=edits,
                   path=gates[0].path, subjects=tuple(block.text for block in blocks),
                   related=list(dict.fromkeys((host.key, host.name) for host in others))[:4])  # fmt: skip


_UP = '[[switch]]\nid = "sw"\nports = 4\n[[uplink]]\nfrom = "sw.4"\nto = "{}"\n'
_ROUTER = '[[outside]]\nid = "hut"\naddress = "{}"\n'
_SAID = _LAN + _OWN.format("n1", "10.20.0.11", "10.20.0.1").replace("gateway", 'port = "sw.1"\n#') + _UP
_INNER = _LAN + _STORE + '[[node]]\nid = "r"\naddress = ["{}", "10.30.0.1"]\n'

_FAR = _NET.format("10.20.0.0/24", "10.20.0.{}") + _OWN.format("n1", "10.20.0.11", "{}").replace(
    "gateway", "#"
)
_FAR = _FAR.replace("# =", 'port = "sw.1"\n# was') + _UP.format("hut")
_BOTH_LANS = _LAN + _STORE + "vlan = 30\n" + _NET.format("fd00:1::/64", "fd00:1::1") + "vlan = 30\n"
_BOTH_LANS += (
    _NET.format("fd00:2::/64", "fd00:2::1") + _UP.format("hut") + _ROUTER.replace('"{}"\n', '["10.20.0.1", ')
)
# A router with one cable, and an uplink in a VLAN of its own to what states no IPv6 address.
_STICK = '[[switch]]\nid = "sw"\nvlans = true\n[[switch.port]]\nid = "1"\ntagged = [10, 20, 40]\n'
_STICK += '[[switch.port]]\nid = "4"\nvlan = 40\n[[switch.port]]\nid = "2"\nvlan = 10\n'
_STICK += '[[switch.port]]\nid = "3"\nvlan = 20\n'
_STICK += '[[node]]\nid = "r"\nport = "sw.1"\ntagged = [10, 20, 40]\naddress = ["10.20.0.1", "10.30.0.2"{}]\n'
_STICK += _LAN + "vlan = 10\n" + _STORE.replace('gateway = "10.30.0.1"\n', "vlan = 40\n")
_STICK += _NET.format("fd00:1::/64", "fd00:1::1")
_STICK += "vlan = {}\n" + '[[uplink]]\nfrom = "sw.4"\nto = "hut"\n[[outside]]\nid = "hut"\n'

cases(
    nobody,
    clean=[
        # who has the uplink of that very network may have it
        _STICK.format("", 40).replace('gateway = "10.20.0.1"\n', ""),
        _SAID.format("hut") + _ROUTER.format("10.20.0.1"),
        _SAID.format("the hall"),  # whoever is there may have it
        _SAID.format("hut") + '[[outside]]\nid = "hut"\n',
        _INNER.format("10.20.0.1"),
        _LAN + _NODE.format("n1", '"10.20.0.11"'),  # `ports.no_uplink` has that
        _SAID.format("hut").replace('gateway = "10.20.0.1"', 'gateway = "10.30.0.1"') + _ROUTER.format("10.20.0.1"),
    ],
    flagged=[
        Case(_SAID.format("hut") + _ROUTER.format("10.20.0.2"), at="10.20.0.1", found="10.20.0.1", level="error",
             edits=True),
        Case(_FAR.format("9", "10.20.0.1") + _ROUTER.format("10.20.0.1"), at="hut, the router there: 10.20.0.1",
             level="error", edits=True, mended=_FAR.format("1", "10.20.0.1") + _ROUTER.format("10.20.0.1")),
        # a slip in the router's own address, that now lies in no subnet
        Case(_FAR.format("1", "10.20.0.1") + _ROUTER.format("10.2.0.1"), at="hut has 10.2.0.1", found="10.2.0.1",
             level="error", edits=True, mended=_FAR.format("1", "10.20.0.1") + _ROUTER.format("10.20.0.1")),
        # a router that lacks its addresses of one network, of both families: one slip
        Case(_BOTH_LANS + '"fd00:2::1"]\n', at="10.30.0.1 and fd00:1::1", level="error", edits=True,
             mended=_BOTH_LANS + '"fd00:2::1", "10.30.0.1", "fd00:1::1"]\n'),
        # several routers may share an address that is not written
        Case(_FAR.format("9", "10.20.0.1") + _ROUTER.format("10.20.0.1")
             + _ROUTER.format("10.20.0.2").replace("hut", "b") + '[[uplink]]\nfrom = "sw.3"\nto = "b"\n',
             at="hut and b", level="warning"),
        Case(_SAID.format("hut").replace(_UP.format("hut"), _UP.format("mast")) + '[[outside]]\nid = "mast"\n'
             + 'address = "10.20.0.9"\n' + _ROUTER.format("10.20.0.1"), at="no uplink leads to hut"),
        Case(_INNER.format("10.20.0.2"), at="r, the router there: 10.20.0.2", level="warning", edits=True,
             mended=_INNER.format("10.20.0.2").replace('gateway = "10.20.0.1"', 'gateway = "10.20.0.2"')),
        # a router of the plan lacks its IPv6 address, while nothing is said of IPv6 outside
        Case(_STICK.format("", 10), at="fd00:1::1 of fd00:1::/64: nobody's; no address there for r,",
             level="error", mended=_STICK.format(', "fd00:1::1"', 10)),
        Case(_STICK.format(', "fd00:2::1"', 20) + _NET.format("fd00:2::/64", "fd00:2::1") + "vlan = 10\n",
             at="fd00:1::1", level="error", mended=_STICK.format(', "fd00:2::1", "fd00:1::1"', 20)
             + _NET.format("fd00:2::/64", "fd00:2::1") + "vlan = 10\n"),
        # also where the uplink is in that network: the router of its other subnets is known
        Case(_STICK.format("", 10).replace('"sw.4"', '"sw.2"'), at="no address there for r,", level="error"),
        Case(_STICK.format(', "fd00:2::1"', 20).replace('"sw.4"', '"sw.3"') + _NET.format("fd00:2::/64", "fd00:2::1")
             + "vlan = 10\n", at="no address there for r,", level="error"),
        # nobody is known, but the uplink is in another VLAN
        Case(_STICK.format("", 20).replace('gateway = "10.20.0.1"\n', ""), at="no thing, no router", level="warning"),
        # its address there is known, so the gateway is the slip
        Case(_STICK.format(', "fd00:1::11"', 10) + 'address = "10.40.0.1"\n'
             + _NET.format("10.40.0.0/24", "10.40.0.1") + "vlan = 40\n", at="r, the router there: fd00:1::11",
             level="error", edits=True),
        # and a router elsewhere is not meant
        Case(_STICK.format("", 10) + 'address = "10.40.0.1"\n' + _NET.format("10.40.0.0/24", "10.40.0.1")
             + "vlan = 40\n", at="no address there for r,", level="error"),
    ],
)  # fmt: skip
